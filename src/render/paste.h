// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// Marking compound on one flank: how thick it lies, where, after painting and rolling.
#pragma once

#include <string>
#include <vector>

#include "render/paste_mess.h"
#include "render/vec.h"
#include "shimsight/flank_map.h"
#include "shimsight/render.h"

namespace shimsight::render {

struct PasteColour {
    std::string name;
    Vec albedo;      ///< linear, of a thick layer
    float hidingUm;  ///< thickness that hides all but 1/e of the ground
};

/// Everything that the photo's teeth share: one pot, one brush, one hand.
struct PasteStyle {
    PasteColour colour;
    float coatUm = 60;         ///< mean thickness as painted
    float strokeMm = 1.0f;     ///< width of the brush's bristle tracks
    float strokeAngle = 0;     ///< rad against the tooth's length
    float strokeDepth = 0.5f;  ///< 0..1: how uneven the strokes are
    float featherMm = 0.25f;   ///< half width of the border between wiped and painted
    float borderNoiseMm = 0.2f;
    float remnantUm = 2;  ///< left inside the contact
    float rim = 0.6f;     ///< bulge at the border, times the coat
    float patchiness = 0.3f;
    float filmUm = 8;      ///< transferred: thickness of the print
    float smear = 0.2f;    ///< faint paste where there was no contact
    float margin = 0.02f;  ///< unpainted share at the ends
    float dryRoot = 0;     ///< share of the height at the root that the brush does not reach
    float gloss = 0.5f;    ///< 0 dry, 1 wet
    PasteMess mess;        ///< off unless asked for
};

PasteStyle drawPasteStyle(Random& random, PasteMarking marking, const std::string& colourName, double variety);
const std::vector<PasteColour>& pasteColours();

/// Thickness over one flank, u 0..1 and v kPasteLowV..1; square cells in millimetres at mid-flank.
class PasteLayer {
public:
    static constexpr float kPasteLowV = -0.22f;

    struct Grid {
        double lengthMm = 0, heightMm = 0;  ///< of the flank
        int columns = 0;
    };
    PasteLayer(const FlankMap& contact, ToothState state, PasteMarking marking, const PasteStyle& style,
               const Grid& grid, std::uint64_t seed);

    struct Sample {
        float thicknessUm = 0;
        float slopeU = 0, slopeV = 0;  ///< mm per mm along the length and the height
    };
    Sample at(float u, float v) const;
    bool isRolled() const { return isRolled_; }

private:
    bool isRolled_ = false;
    float value(int x, int y) const;
    int columns_ = 0, rows_ = 0;
    float cellMm_ = 1;
    std::vector<float> thickness_;
};

}  // namespace shimsight::render
