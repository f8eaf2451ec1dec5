/// The photo of a scene: light carried to the sensor and developed as a phone does it.
#pragma once

#include "render/scene.h"

namespace shimsight::render {

struct Shot {
    Picture picture;
    int jpegQuality = 90;
};

/// Traces and develops. `mirrored` turns left and right, as for a left-hand gear set.
Shot takeShot(const Scene& scene, const RenderRequest& request, bool mirrored, int threads);

/// A bench with things that are no ring gear.
Scene sceneWithoutGear(const RenderRequest& request);

/// The same with more kinds of things: bevel gears with straight teeth, bearings, fan wheels, springs, tools, trays of
/// small parts; restyled.
Scene sceneOfOtherParts(const RenderRequest& request);

/// What each pixel of that photo shows; one ray through the middle of each pixel.
LabelPicture labelScene(const RingFlank& drive, const RingFlank& coast, const Scene& scene, bool mirrored, int threads);

}  // namespace shimsight::render
