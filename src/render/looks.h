// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// What every surface of the scene is made of and how used it is.
#pragma once

#include <array>
#include <memory>
#include <vector>

#include "render/bsdf.h"
#include "render/paste.h"
#include "render/world.h"

namespace shimsight::render {

/// A finger or rag drawn over the teeth, in the ring gear's own plane (its X and Y), mm.
struct Swipe {
    float x = 0, y = 0, directionX = 1, directionY = 0;
    float halfWidth = 6, halfLength = 40;
    float strength = 0.5f;  ///< of what is there it takes this share, and leaves a film
};

struct Looks {
    // The ring gear's steel.
    float darkCoat = 0;  ///< 0 bright machined or lapped, 1 dark phosphate
    float steelTone = 0.9f;
    float roughAlong = 0.2f, roughAcross = 0.35f;
    float toolLinesDepth = 0.05f;  ///< tilt by the lines that a cutter leaves
    float toolLinesPerMm = 2;
    float wear = 0;    ///< polished band where the teeth ran
    float oil = 0.3f;  ///< cover of the oil film
    float rust = 0, dirt = 0.3f;
    Vec oilTint{0.9f, 0.75f, 0.5f};
    Vec steelTint{1, 1, 1};
    float matte = 0;  ///< 1: no metal at all but plain matteColour, as in a drawing or a painted model
    Vec matteColour{0.3f, 0.3f, 0.3f};

    Vec castColour{0.1f, 0.1f, 0.1f}, housingColour{0.05f, 0.05f, 0.05f}, ragColour{0.3f, 0.05f, 0.04f},
        woodColour{0.4f, 0.25f, 0.13f}, tubeColour{0.3f, 0.3f, 0.6f};
    float benchStain = 0.5f;
    float plainGround = 0;  ///< 1: bench, cloth and cardboard without any texture, of groundColour
    Vec groundColour{0.3f, 0.3f, 0.3f};
    Vec stainOffset;

    // Compound.
    PasteStyle paste;
    int teeth = 0;
    std::vector<std::array<std::shared_ptr<const PasteLayer>, 2>> layer;  ///< by tooth and index(side); null = bare
    float landSmear = 0.3f;  ///< how much of the lands and bottoms of painted teeth is dirty with compound
    float thickLands = 0, thickRoots = 0, thickEnds = 0;  ///< 0..1: paste piled where no brush should go
    std::vector<Swipe> swipes;
    float drops = 0;  ///< 0..1: drops of oil on the teeth
    float flankLengthMm = 34, flankHeightMm = 9;
};

/// The surface at a hit. `footprintMm`: what one pixel spans there; texture finer than that is left to the roughness,
/// else it would only be noise. kReflected when seen in another surface.
inline constexpr float kReflected = 2.5f;
Surface surfaceAt(const Hit& hit, const Looks& looks, float footprintMm);

}  // namespace shimsight::render
