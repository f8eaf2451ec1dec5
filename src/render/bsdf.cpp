// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "render/bsdf.h"

namespace shimsight::render {
namespace {

float schlick(float cosine) {
    const float m = clamp01(1 - cosine);
    return m * m * m * m * m;
}

float ggxD(Vec h, float ax, float ay) {
    const float e = (h.x / ax) * (h.x / ax) + (h.y / ay) * (h.y / ay) + h.z * h.z;
    return 1 / (kPiF * ax * ay * e * e);
}

float lambda(Vec w, float ax, float ay) {
    const float a = (w.x * ax) * (w.x * ax) + (w.y * ay) * (w.y * ay);
    return 0.5f * (std::sqrt(1 + a / (w.z * w.z)) - 1);
}

/// Visible normal of the GGX distribution (Heitz, JCGT 7(4), 2018).
Vec sampleVisibleNormal(Vec wo, float ax, float ay, float r1, float r2) {
    const Vec vh = normalize(Vec{ax * wo.x, ay * wo.y, wo.z});
    const float lensq = vh.x * vh.x + vh.y * vh.y;
    const Vec t1 = lensq > 0 ? Vec{-vh.y, vh.x, 0} / std::sqrt(lensq) : Vec{1, 0, 0};
    const Vec t2 = cross(vh, t1);
    const float r = std::sqrt(r1), phi = 2 * kPiF * r2;
    const float p1 = r * std::cos(phi), s = 0.5f * (1 + vh.z);
    const float p2 = (1 - s) * std::sqrt(std::max(0.0f, 1 - p1 * p1)) + s * r * std::sin(phi);
    const Vec nh = t1 * p1 + t2 * p2 + vh * std::sqrt(std::max(0.0f, 1 - p1 * p1 - p2 * p2));
    return normalize(Vec{ax * nh.x, ay * nh.y, std::max(1e-6f, nh.z)});
}

struct Lobe {
    float value = 0;  // D G2 / (4 cos_o), times the cosine of the light
    float pdf = 0;
    float cosineH = 0;
};

Lobe ggx(Vec wo, Vec wi, float ax, float ay) {
    if (wi.z <= 0 || wo.z <= 0) return {};
    const Vec h = normalize(wo + wi);
    const float d = ggxD(h, ax, ay), lo = lambda(wo, ax, ay), li = lambda(wi, ax, ay);
    Lobe lobe;
    lobe.cosineH = dot(wo, h);
    lobe.value = d / (1 + lo + li) / (4 * wo.z);
    lobe.pdf = d / (1 + lo) / (4 * wo.z);
    return lobe;
}

}  // namespace

Bsdf::Bsdf(const Surface& surface, Vec toViewer) : s_(surface) {
    const Vec n = s_.normal;
    t_ = normalize(s_.tangent - n * dot(n, s_.tangent));
    b_ = cross(n, t_);
    wo_ = {dot(toViewer, t_), dot(toViewer, b_), std::max(0.02f, dot(toViewer, n))};
    wo_ = normalize(wo_);
    float coatFresnel = 0;
    if (s_.coat > 0) {
        const Vec cn = s_.coatNormal;
        coatT_ = normalize(t_ - cn * dot(cn, t_));
        coatB_ = cross(cn, coatT_);
        coatWo_ = normalize(Vec{dot(toViewer, coatT_), dot(toViewer, coatB_), std::max(0.02f, dot(toViewer, cn))});
        coatFresnel = s_.coat * (0.04f + 0.96f * schlick(coatWo_.z));
    }
    under_ = 1 - coatFresnel;
    const float specular = luminance(s_.f0) + (1 - luminance(s_.f0)) * schlick(wo_.z), diffuse = luminance(s_.diffuse);
    const float wCoat = std::min(1.0f, 3 * coatFresnel), wSpecular = under_ * specular, wDiffuse = under_ * diffuse;
    const float sum = wCoat + wSpecular + wDiffuse + 1e-6f;
    pickCoat_ = wCoat / sum;
    pickSpecular_ = wSpecular / sum;
}

BsdfValue Bsdf::evaluate(Vec toLight) const {
    if (dot(toLight, s_.geometric) <= 0) return {};
    const Vec wi{dot(toLight, t_), dot(toLight, b_), dot(toLight, s_.normal)};
    BsdfValue result;
    if (wi.z > 0) {
        const Lobe lobe = ggx(wo_, wi, s_.alphaAlong, s_.alphaAcross);
        const float f = schlick(lobe.cosineH);
        result.value += (s_.f0 + (Vec{1, 1, 1} - s_.f0) * f) * (under_ * lobe.value);
        result.value += s_.diffuse * (under_ * wi.z / kPiF);
        result.pdf += pickSpecular_ * lobe.pdf + (1 - pickCoat_ - pickSpecular_) * wi.z / kPiF;
    }
    if (s_.coat > 0) {
        const Vec ci{dot(toLight, coatT_), dot(toLight, coatB_), dot(toLight, s_.coatNormal)};
        const Lobe lobe = ggx(coatWo_, ci, s_.coatAlpha, s_.coatAlpha);
        const float f = s_.coat * (0.04f + 0.96f * schlick(lobe.cosineH)) * lobe.value;
        result.value += Vec{f, f, f};
        result.pdf += pickCoat_ * lobe.pdf;
    }
    return result;
}

Vec Bsdf::sample(float pick, float r1, float r2) const {
    Vec world;
    if (pick < pickCoat_ + pickSpecular_) {
        const bool coat = pick < pickCoat_;
        const Vec wo = coat ? coatWo_ : wo_;
        const Vec h = coat ? sampleVisibleNormal(wo, s_.coatAlpha, s_.coatAlpha, r1, r2)
                           : sampleVisibleNormal(wo, s_.alphaAlong, s_.alphaAcross, r1, r2);
        const Vec wi = h * (2 * dot(wo, h)) - wo;
        world = coat ? coatT_ * wi.x + coatB_ * wi.y + s_.coatNormal * wi.z : t_ * wi.x + b_ * wi.y + s_.normal * wi.z;
    } else {
        const float r = std::sqrt(r1), phi = 2 * kPiF * r2;
        world = t_ * (r * std::cos(phi)) + b_ * (r * std::sin(phi)) + s_.normal * std::sqrt(std::max(0.0f, 1 - r1));
    }
    return normalize(world);
}

}  // namespace shimsight::render
