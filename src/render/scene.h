/// Chooses and builds what is photographed: gear, bench or axle around it, lamps, paint on the teeth, the camera's
/// place.
#pragma once

#include <memory>
#include <string>
#include <vector>

#include "render/camera.h"
#include "render/gear_mesh.h"
#include "render/looks.h"
#include "render/world.h"
#include "shimsight/render.h"

namespace shimsight::render {

struct Scene {
    std::unique_ptr<World> world;
    Looks looks;
    Camera camera;
    GearShape shape;
    double gearAngle = 0;            ///< rad, the ring gear turned about Z
    std::vector<ToothState> states;  ///< by tooth
    /// The contact on each painted tooth, by tooth and index(side); null = bare.
    std::vector<std::array<std::shared_ptr<const FlankMap>, 2>> marks;
    int centreTooth = 0;
    double wavePhase = 0;     ///< rad, of the once-per-turn runout of the ring gear
    double keyStops = 0;      ///< exposure wished by the photographer, in stops from the meter's
    Vec lampColour{1, 1, 1};  ///< of the strongest lamp, for the white balance
    std::string note;
};

/// Position in the picture's world (housing frame) of a flank point of tooth k.
Eigen::Vector3d flankPosition(const RingFlank& flank, double u, double v, int tooth, const Scene& scene);

/// Soft dark and bright shapes all around: what polished steel mirrors and what stands out of focus behind. Needs the
/// room's `up` and `wall`.
void addPatches(Surroundings& room, int count, Random& random);

/// Another look for a finished scene, as other cameras, lamps and renderers would give it: flat or harsh light, plain
/// grounds, coloured, dark, rusty, spotless or matte steel, other compound. About a third of the scenes stay as they
/// are.
void restyle(Scene& scene, Random& random);

/// Paints the teeth anew as they are in shops: half the ring or all of it, fresh thick teeth beside rolled ones,
/// streaks, holes, paste over lands, roots and ends, swipes of fingers and rag, films and drops of old oil. A scene
/// without painted teeth gets the oil only. The scene's states and marks go along; call it when the camera stands.
void messUp(Scene& scene, const ToothContact& contact, const RingFlank& drive, const RingFlank& coast,
            const RenderRequest& request, Random& random);

/// One lamp instead of the scene's own: a torch in the dark, the phone's flash, or the sun through a door.
void shopLight(Scene& scene, Random& random);

Scene buildScene(const ToothContact& contact, const RingFlank& drive, const RingFlank& coast,
                 const RenderRequest& request, int threads);

}  // namespace shimsight::render
