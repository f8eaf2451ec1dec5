// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// What only the training of the networks and its scoring need: labels of each pixel, pictures without a gear, paint as
/// shops have it, other looks. No part of the program.
#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <vector>

#include "render/scene.h"
#include "shimsight/render.h"

namespace shimsight {

/// What a pixel shows. Tooth ends and all else are background.
enum class PixelClass : std::uint8_t { Background, Convex, Concave, TopLand, Root };

/// What every pixel of a photo shows, row-major, for training and scoring. Convex is the drive side.
struct LabelPicture {
    int width = 0, height = 0;
    std::vector<PixelClass> kind;
    std::vector<std::int16_t> tooth;  ///< index of the tooth; the root belongs to the tooth before it; -1: no tooth
    std::vector<bool> painted;        ///< on flanks: somebody painted this tooth, whatever is left of it here
    std::vector<bool> ground;         ///< bench, cloth, and the room behind: nothing of the gear or what holds it
    std::vector<float> u, v;          ///< on flanks: 0 toe .. 1 heel, 0 root .. 1 tip, a little below 0 at the fillet
    std::vector<std::array<std::optional<PixelPoint>, 2>> centres;  ///< by tooth and index(side): where (0.5, 0.5) lies
};

/// The labels of the photo that renderPhoto gives for the same request (sharp: without blur, shake and noise).
LabelPicture renderLabels(const ToothContact& contact, const RenderRequest& request);

/// A photo of a bench, floor or wall with other things than a ring gear: spur gears, discs, bolts, blades, boxes,
/// cloth. Of the request only size, samples, variety, seed and threads are used. Same request, same bytes.
Picture renderWithoutGear(const RenderRequest& request);

namespace render {

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

/// A bench with things that are no ring gear.
Scene sceneWithoutGear(const RenderRequest& request);

/// The same with more kinds of things: bevel gears with straight teeth, bearings, fan wheels, springs, tools, trays of
/// small parts; restyled.
Scene sceneOfOtherParts(const RenderRequest& request);

/// What each pixel of that photo shows; one ray through the middle of each pixel.
LabelPicture labelScene(const RingFlank& drive, const RingFlank& coast, const Scene& scene, bool mirrored, int threads);

}  // namespace render
}  // namespace shimsight
