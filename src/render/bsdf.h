// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// Light scattered by a surface: diffuse ground, brushed microfacets, a clear coat (oil or wet paste).
#pragma once

#include "render/vec.h"

namespace shimsight::render {

struct Surface {
    Vec position, geometric, normal, tangent;  ///< both normals on the viewer's side; tangent along the brushing
    Vec diffuse{0.2f, 0.2f, 0.2f};
    Vec f0{0.04f, 0.04f, 0.04f};
    float alphaAlong = 0.3f, alphaAcross = 0.3f;
    float coat = 0, coatAlpha = 0.1f;
    Vec coatNormal{0, 0, 1};  ///< an oil film lies smoother than the metal under it
};

struct BsdfValue {
    Vec value;  ///< times the cosine
    float pdf = 0;
};

class Bsdf {
public:
    Bsdf(const Surface& surface, Vec toViewer);
    BsdfValue evaluate(Vec toLight) const;
    /// A direction for three random numbers; zero vector when it fails.
    Vec sample(float pick, float r1, float r2) const;

private:
    const Surface& s_;
    Vec t_, b_, wo_;  // wo_ in the shading frame
    Vec coatT_, coatB_, coatWo_;
    float pickCoat_ = 0, pickSpecular_ = 0, under_ = 1;
};

}  // namespace shimsight::render
