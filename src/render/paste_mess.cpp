// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "render/paste_mess.h"

namespace shimsight::render {
namespace {

/// Share of a map's cell, between cells as a line.
float mapAt(const FlankMap& map, float u, float v) {
    const float x = std::clamp(u * kMapWidth - 0.5f, 0.0f, kMapWidth - 1.001f),
                y = std::clamp((1 - v) * kMapHeight - 0.5f, 0.0f, kMapHeight - 1.001f);
    const int i = static_cast<int>(x), j = static_cast<int>(y);
    const float fx = x - static_cast<float>(i), fy = y - static_cast<float>(j);
    const auto at = [&](int di, int dj) { return static_cast<float>(map.at(i + di, j + dj)) / 255.0f; };
    return mix(mix(at(0, 0), at(1, 0), fx), mix(at(0, 1), at(1, 1), fx), fy);
}

struct Turned {
    float along, across;
};
Turned turned(const PasteSpot& spot, float angle) {
    const float c = std::cos(angle), s = std::sin(angle);
    return {c * spot.px + s * spot.py, c * spot.py - s * spot.px};
}

}  // namespace

bool PasteMess::isOn() const {
    return comb + crossing + holes + skips + wipe + printBack + remnant + thick + earlierDepth > 0;
}

FlankMess::FlankMess(const PasteMess& mess, const FlankGround& ground, std::uint64_t seed)
    : mess_(mess), ground_(ground) {
    const auto draw = [&](std::uint64_t k) { return unitFloat(splitMix(seed + 104729 * (k + 1))); };
    own_ = {64 * draw(1), 64 * draw(2), 64 * draw(3)};
    wipeX_ = draw(4) * ground.lengthMm;
    wipeY_ = (0.3f + 0.8f * draw(5)) * ground.heightMm;
    wipeAngle_ = draw(6) < 0.6f ? 0.5f * (draw(7) - 0.5f) : 3 * draw(7);
    wipeHalfMm_ = 0.8f + 3.5f * draw(8);
    // Some flanks took all strokes, some lost half of them.
    skipLevel_ = draw(9);
}

float FlankMess::brushed(const PasteSpot& spot, float thickness) const {
    if (mess_.skips > 0) {
        const Turned t = turned(spot, ground_.stroke);
        const float stroke = noise(own_ + Vec{t.along * 0.05f, t.across * 0.55f, 3}) +
                             0.3f * noise(own_ + Vec{t.along * 0.15f, t.across * 2.2f, 5});
        const float level = 0.8f - 0.9f * mess_.skips * skipLevel_;
        thickness *= 1 - 0.97f * smoothstep(level, level + 0.08f, stroke);
    }
    if (mess_.holes > 0) {
        const float spots = noise(own_ + Vec{spot.px * 0.7f, spot.py * 0.7f, 11}) +
                            0.4f * noise(own_ + Vec{spot.px * 1.9f, spot.py * 1.9f, 13});
        const float level = 0.95f - 0.75f * mess_.holes;
        thickness *= 1 - 0.95f * smoothstep(level, level + 0.06f, spots);
    }
    return thickness;
}

float FlankMess::combed(const PasteSpot& spot, float thickness, float strength, float slide) const {
    const Turned t = turned(spot, slide);
    const float pitch = 1 / mess_.combMm;
    const float lines = noise(own_ + Vec{t.along * 0.07f, t.across * 0.5f * pitch, 21}) +
                        0.6f * noise(own_ + Vec{t.along * 0.11f, t.across * 1.3f * pitch, 24});
    const float outside = std::max(0.0f, spot.distanceMm), reach = 0.5f + 1.8f * strength;
    const float drawnThrough = strength * std::exp(-outside / reach) * (1 - spot.inside);
    thickness *= 1 - 0.9f * drawnThrough * smoothstep(0.05f, 0.3f, -lines);
    thickness *= std::exp(0.7f * strength * (1 - spot.inside) * lines);
    return thickness + spot.inside * strength * 0.4f * ground_.coatUm * smoothstep(0.15f, 0.5f, lines);
}

float FlankMess::printed(const PasteSpot& spot, float thickness) const {
    const auto ridge = [&](float perMm, float z) {
        return 1 - 2.2f * std::abs(noise(own_ + Vec{spot.px * perMm, spot.py * perMm * 1.2f, z}));
    };
    const float ridges = 0.6f * ridge(1.0f, 31) + 0.4f * ridge(2.3f, 33);
    const float about = mess_.printBack * std::exp(-std::max(0.0f, spot.distanceMm) / 1.3f) * (1 - spot.inside);
    thickness = mix(thickness, ground_.coatUm * std::max(0.05f, 0.25f + 1.3f * ridges), about);
    return thickness + spot.inside * mess_.printBack * 0.3f * ground_.coatUm * smoothstep(0.35f, 0.9f, ridges);
}

float FlankMess::wiped(const PasteSpot& spot, float thickness) const {
    PasteSpot from = spot;
    from.px -= wipeX_;
    from.py -= wipeY_;
    const Turned t = turned(from, wipeAngle_);
    const float bent = t.across + 0.8f * noise(own_ + Vec{t.along * 0.08f, 0, 41});
    const float share = mess_.wipe * smoothstep(wipeHalfMm_, 0.7f * wipeHalfMm_, std::abs(bent));
    const float lines = noise(own_ + Vec{t.along * 0.05f, bent * 2.2f, 43});
    const float left = 0.06f * ground_.coatUm + 0.3f * thickness * std::max(0.0f, 0.4f + 1.6f * lines);
    const float edge = (std::abs(bent) - wipeHalfMm_) / 0.35f;
    return mix(thickness, std::min(left, thickness + 0.05f * ground_.coatUm), share) +
           0.4f * mess_.wipe * std::min(ground_.coatUm, thickness) * std::exp(-edge * edge);
}

float FlankMess::thinnedBefore(const PasteSpot& spot, float thickness) const {
    const float mark = spot.v > 0 ? mapAt(*mess_.earlier, spot.u, spot.v) : 0;
    const Turned t = turned(spot, ground_.slide);
    const float streak = noise(own_ + Vec{t.along * 0.15f, t.across * 1.4f, 51});
    return thickness * (1 - clamp01(mess_.earlierDepth * mark * (0.7f + 0.9f * streak)));
}

float FlankMess::thickness(const PasteSpot& spot) const {
    float thickness = brushed(spot, spot.thicknessUm);
    if (mess_.earlier && mess_.earlierDepth > 0) thickness = thinnedBefore(spot, thickness);
    if (mess_.comb > 0) thickness = combed(spot, thickness, mess_.comb, ground_.slide);
    if (mess_.crossing > 0) thickness = combed(spot, thickness, mess_.crossing, -ground_.slide + 0.3f);
    if (mess_.printBack > 0) thickness = printed(spot, thickness);
    if (mess_.remnant > 0) {
        const float film = 0.5f + 0.8f * noise(own_ + Vec{spot.px * 0.4f, spot.py * 0.5f, 61});
        thickness += spot.inside * mess_.remnant * ground_.hidingUm * std::max(0.0f, film);
    }
    return mess_.wipe > 0 ? wiped(spot, thickness) : thickness;
}

float FlankMess::freshThickness(const PasteSpot& spot) const {
    float thickness = brushed(spot, spot.thicknessUm);
    const float lumps = noise(own_ + Vec{spot.px * 0.3f, spot.py * 0.3f, 71}) +
                        0.5f * noise(own_ + Vec{spot.px * 0.8f, spot.py * 0.8f, 73});
    thickness *= (1 + 2.5f * mess_.thick) * std::exp(1.1f * mess_.thick * lumps);
    // A mark of an earlier trial shows through one coat, hardly through several.
    if (mess_.earlier && mess_.earlierDepth > 0 && mess_.thick < 0.5f)
        thickness = mix(thickness, thinnedBefore(spot, thickness), 0.6f);
    return mess_.wipe > 0 ? wiped(spot, thickness) : thickness;
}

}  // namespace shimsight::render
