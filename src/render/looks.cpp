// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "render/looks.h"

namespace shimsight::render {
namespace {

Vec grey(float v) { return {v, v, v}; }

/// Iron's reflectance at normal incidence, slightly warm.
Vec steelF0(float tone) { return Vec{0.56f, 0.55f, 0.53f} * tone; }

/// How much of a texture of `perMm` grains a millimetre is left at this footprint.
float seen(float perMm, float footprint) { return smoothstep(1.1f, 0.35f, perMm * footprint); }

/// The tilt that is too fine to be seen widens the highlights instead.
void roughen(Surface& s, float along, float across) {
    s.alphaAlong = std::sqrt(s.alphaAlong * s.alphaAlong + along * along);
    s.alphaAcross = std::sqrt(s.alphaAcross * s.alphaAcross + across * across);
}

Vec tilt(const Surface& s, float along, float across) {
    const Vec b = cross(s.normal, s.tangent);
    Vec n = normalize(s.normal + s.tangent * along + b * across);
    // Never lean a normal away from the face itself.
    if (dot(n, s.geometric) < 0.08f) n = normalize(n + s.geometric * 0.3f);
    return n;
}

void addOil(Surface& s, const Looks& looks, Vec p, float amount) {
    if (amount <= 0) return;
    const float patches =
        0.35f + 0.65f * smoothstep(-0.5f, 0.45f, fractalNoise(p * 0.06f + Vec{9, 4, 2}, 2) + 0.6f * (amount - 0.5f));
    const float cover = clamp01(amount * 1.3f) * patches;
    const float ripple = 0.03f, swell = noise(p * 0.9f);
    s.coatNormal = normalize(s.coatNormal + Vec{swell, noise(p * 0.8f + Vec{11, 0, 0}), -swell} * ripple);
    s.coat = std::max(s.coat, cover);
    s.coatAlpha = 0.06f + 0.08f * clamp01(0.5f + swell);
    const Vec through = mix(Vec{1, 1, 1}, looks.oilTint, cover);
    s.f0 *= through;
    s.diffuse *= through * (1 - 0.3f * cover);
}

/// Compound over whatever lies below. `thickness` um; slopes tilt the layer's skin.
void addPaste(Surface& s, const Looks& looks, const PasteLayer::Sample& paste, Vec skin, Vec p) {
    if (paste.thicknessUm < 0.05f) return;
    const float hides = 1 - std::exp(-paste.thicknessUm / looks.paste.colour.hidingUm);
    const float body = 1 - std::exp(-paste.thicknessUm / 14.0f);  // enough depth for a skin of its own
    Vec albedo = looks.paste.colour.albedo;
    // Picked-up metal and old oil grey the compound where it is thin.
    albedo = mix(albedo * 0.75f, albedo, body) * (1 + 0.12f * noise(p * 1.1f));
    const Vec stain = mix(Vec{1, 1, 1}, albedo / std::max(0.05f, maxOf(albedo)), clamp01(1.5f * hides));
    s.diffuse = mix(s.diffuse * stain, albedo, hides);
    s.f0 = mix(s.f0 * stain, grey(0.035f), hides);
    s.alphaAlong = mix(s.alphaAlong, 0.5f, hides);
    s.alphaAcross = mix(s.alphaAcross, 0.5f, hides);
    s.normal = normalize(mix(s.normal, skin, body));
    const float wet = looks.paste.gloss;
    s.coat = mix(s.coat, 0.45f + 0.55f * wet, body);
    s.coatAlpha = mix(s.coatAlpha, 0.32f - 0.22f * wet, body);
    s.coatNormal = normalize(mix(s.coatNormal, skin, body));
}

/// How much of the paste the swipes took (0..1) and how thick a film they left, at a place of the ring gear; `raised`:
/// 0 in the bottom, 1 where a hand reaches.
struct Swiped {
    float taken = 0, filmUm = 0;
};
Swiped swipedAt(const Looks& looks, const Hit& hit, float raised) {
    Swiped sum;
    if (looks.swipes.empty() || looks.teeth == 0) return sum;
    const float angle = 2 * kPiF * static_cast<float>(hit.place) / static_cast<float>(looks.teeth);
    const float c = std::cos(angle), s = std::sin(angle);
    const float x = c * hit.local.x - s * hit.local.y, y = s * hit.local.x + c * hit.local.y;
    for (const Swipe& swipe : looks.swipes) {
        const float dx = x - swipe.x, dy = y - swipe.y;
        const float along = dx * swipe.directionX + dy * swipe.directionY;
        const float across = dy * swipe.directionX - dx * swipe.directionY + 1.2f * noise({along * 0.05f, swipe.x, 3});
        const float share = swipe.strength * raised *
                            smoothstep(swipe.halfWidth, 0.65f * swipe.halfWidth, std::abs(across)) *
                            smoothstep(swipe.halfLength, 0.7f * swipe.halfLength, std::abs(along));
        if (share <= 0) continue;
        const float lines = noise({along * 0.04f, across * 1.3f, swipe.y});
        sum.taken = std::max(sum.taken, share * clamp01(0.8f + 1.2f * lines));
        sum.filmUm += share * looks.paste.coatUm * 0.22f * smoothstep(-0.1f, 0.5f, lines + 0.4f * noise({x, y, 7}));
    }
    return sum;
}

/// Old drops of oil: little lenses.
void addDrops(Surface& s, const Looks& looks, Vec at) {
    constexpr float kCellMm = 3.2f;
    const Vec cell{std::floor(at.x / kCellMm), std::floor(at.y / kCellMm), std::floor(at.z / kCellMm)};
    const std::uint64_t own = splitMix(static_cast<std::uint64_t>(static_cast<std::int64_t>(cell.x) * 73856093) ^
                                       static_cast<std::uint64_t>(static_cast<std::int64_t>(cell.y) * 19349663) ^
                                       static_cast<std::uint64_t>(static_cast<std::int64_t>(cell.z) * 83492791));
    if (unitFloat(own) > looks.drops) return;
    const auto place = [&](std::uint64_t k) { return 0.35f + 0.3f * unitFloat(splitMix(own + k)); };
    const Vec off = at - (cell + Vec{place(1), place(2), place(3)}) * kCellMm;
    const float radius = kCellMm * (0.08f + 0.26f * unitFloat(splitMix(own + 4)));
    const float r = length(off) / radius;
    if (r >= 1) return;
    s.coat = 1;
    s.coatAlpha = 0.04f;
    s.coatNormal = normalize(s.coatNormal + off * (0.7f / radius) * smoothstep(0, 0.6f, r));
    const Vec through = mix(Vec{1, 1, 1}, looks.oilTint, 0.7f);
    s.f0 *= through;
    s.diffuse *= through * (0.75f + 0.25f * r);
}

void ringSteel(Surface& s, const Looks& looks, Vec p, float worn, bool detail) {
    const float cloud = detail ? fractalNoise(p * 0.08f, 2) : 0.0f;
    const float coated = clamp01(looks.darkCoat * (1 - worn) * (1 + 0.25f * cloud));
    const float tone = looks.steelTone * (1 + 0.12f * cloud);
    s.f0 = mix(mix(steelF0(tone) * looks.steelTint, grey(0.07f), coated), grey(0.04f), looks.matte);
    s.diffuse = mix(mix(grey(0.025f), Vec{0.045f, 0.045f, 0.047f} * (1 + 0.4f * cloud), coated), looks.matteColour,
                    looks.matte);
    s.alphaAlong = mix(looks.roughAlong, 0.42f, coated) * (1 - 0.35f * worn);
    s.alphaAcross = mix(looks.roughAcross, 0.46f, coated) * (1 - 0.35f * worn);
    if (!detail) return;
    if (looks.rust > 0) {
        const float rust =
            smoothstep(0.55f - 0.5f * looks.rust, 0.75f, fractalNoise(p * 0.35f + Vec{3, 50, 8}, 4) + 0.3f) *
            looks.rust;
        s.diffuse = mix(s.diffuse, Vec{0.16f, 0.06f, 0.025f}, rust);
        s.f0 = mix(s.f0, grey(0.04f), rust);
        s.alphaAlong = mix(s.alphaAlong, 0.6f, rust);
        s.alphaAcross = mix(s.alphaAcross, 0.6f, rust);
    }
}

Surface flank(const Hit& hit, const Looks& looks, Surface s, float footprint) {
    const bool detail = footprint < kReflected;
    const float u = hit.coord.u, v = hit.coord.v;
    const Vec p = hit.local + Vec{static_cast<float>(hit.place) * 13.7f,
                                  static_cast<float>(hit.material == Material::CoastFlank) * 31, 0};
    const float x = u * looks.flankLengthMm, y = v * looks.flankHeightMm;
    const float band = looks.wear * smoothstep(0.0f, 0.25f, v) * smoothstep(1.0f, 0.8f, v) *
                       smoothstep(0.02f, 0.2f, u) * smoothstep(1.0f, 0.75f, u);
    ringSteel(s, looks, p, band, detail);
    Vec skin = s.normal;
    if (detail) {
        // Cutter marks run along the tooth; scratches cross them.
        const float ripple = noise({x * 0.35f, y * 0.5f, static_cast<float>(hit.place) * 5.1f});
        const float sharp = seen(looks.toolLinesPerMm * 1.3f, footprint),
                    depth = looks.toolLinesDepth * (1 - 0.5f * band);
        float lines = 0;
        if (sharp > 0) {
            lines = noise({x * 0.05f, y * looks.toolLinesPerMm, p.z * 0.01f + static_cast<float>(hit.place) * 3.3f}) +
                    0.7f * noise({x * 0.09f, y * looks.toolLinesPerMm * 2.7f, 8 + static_cast<float>(hit.place)});
        }
        s.normal = tilt(s, 0.015f * ripple, depth * sharp * lines + 0.012f * ripple);
        roughen(s, 0, 0.5f * depth * (1 - sharp));
        const float scratch =
            noise({(x + 2.2f * y) * 0.9f, (y - 0.35f * x) * 0.12f, 77 + static_cast<float>(hit.place)});
        const float fine = 1 + 0.2f * sharp * lines + 0.3f * seen(0.9f, footprint) * smoothstep(0.45f, 0.75f, scratch);
        s.f0 *= std::min(fine, 1.5f);
        // Dirt keeps to the root and the ends.
        const float low = smoothstep(0.22f, -0.15f, v), ends = smoothstep(0.05f, 0.0f, std::min(u, 1 - u));
        const float dirt =
            looks.dirt * clamp01(low + 0.4f * ends + 0.5f * std::max(0.0f, fractalNoise(p * 0.5f, 2) - 0.1f));
        s.f0 = s.f0 * (1 - 0.7f * dirt);
        s.diffuse = mix(s.diffuse, Vec{0.035f, 0.028f, 0.02f}, dirt);
        addOil(s, looks, p, looks.oil);
    }
    const std::size_t side = hit.material == Material::DriveFlank ? 0 : 1;
    const Swiped swiped = detail ? swipedAt(looks, hit, smoothstep(0.15f, 0.8f, v)) : Swiped{};
    bool isPainted = false;
    if (hit.place < static_cast<int>(looks.layer.size())) {
        if (const auto& layer = looks.layer[static_cast<std::size_t>(hit.place)][side]) {
            PasteLayer::Sample sample = layer->at(u, v);
            const float left = 1 - swiped.taken;
            sample.slopeU *= left;
            sample.slopeV *= left;
            sample.thicknessUm = sample.thicknessUm * left + swiped.filmUm;
            const Vec across = cross(skin, s.tangent);
            // Drive and coast meshes run their v in opposite turning senses; take the direction that rises in v.
            const float rise = hit.material == Material::DriveFlank ? 1.0f : -1.0f;
            constexpr float kLimit = 0.8f,
                            kRelief =
                                4;  // greater than life: what the eye takes for relief is mostly finer than the grid
            const float du = std::clamp(kRelief * sample.slopeU, -kLimit, kLimit),
                        dv = std::clamp(kRelief * sample.slopeV, -kLimit, kLimit);
            if (sample.thicknessUm < 4 && layer->isRolled()) {
                // Pressed metal in the contact is burnished.
                s.alphaAlong *= 0.8f;
                s.alphaAcross *= 0.8f;
            }
            skin = normalize(skin - s.tangent * du - across * (dv * rise));
            if (dot(skin, s.geometric) < 0.08f) skin = normalize(skin + s.geometric * 0.3f);
            addPaste(s, looks, sample, skin, p);
            isPainted = true;
        }
    }
    if (!isPainted && swiped.filmUm > 0) {
        PasteLayer::Sample film;
        film.thicknessUm = 0.4f * swiped.filmUm;
        addPaste(s, looks, film, s.normal, p);
    }
    if (detail && looks.drops > 0) addDrops(s, looks, hit.position);
    return s;
}

/// Whether tooth k or its neighbour across the bottom land is painted: the brush strays.
bool painted(const Looks& looks, int tooth) {
    if (looks.teeth == 0) return false;
    const auto& pair = looks.layer[static_cast<std::size_t>((tooth % looks.teeth + looks.teeth) % looks.teeth)];
    return pair[0] || pair[1];
}

void straySmear(Surface& s, const Hit& hit, const Looks& looks, Vec p, float amount) {
    // Drawn out along the tooth, thin, thickest at the borders toward the painted flanks.
    const float own = static_cast<float>(hit.place) * 9.1f, x = hit.coord.u * looks.flankLengthMm;
    const float field =
        fractalNoise({x * 0.10f, hit.coord.v * 1.6f, own}, 4) + 0.5f * noise({x * 0.25f, hit.coord.v * 7.0f, own + 3});
    const float edge = smoothstep(0.35f, 0.0f, std::min(hit.coord.v, 1 - hit.coord.v));
    PasteLayer::Sample sample;
    const float cover = smoothstep(0.75f - 0.8f * amount - 0.5f * amount * edge, 1.15f, field + 0.3f);
    sample.thicknessUm = looks.paste.coatUm * 1.5f * cover * cover;
    addPaste(s, looks, sample, s.normal, p);
}

/// Paste piled on lands, roots and ends, and what swipes took of it or left on bare steel.
void pileUp(Surface& s, const Hit& hit, const Looks& looks, Vec p, float amount) {
    const Swiped swiped = swipedAt(looks, hit,
                                   hit.material == Material::TopLand ? 1.0f
                                   : hit.material == Material::Root  ? 0.0f
                                                                     : 0.5f);
    PasteLayer::Sample sample;
    if (amount > 0) {
        const float field = fractalNoise(p * 0.16f + Vec{5, 1, 8}, 3) + 0.35f * noise(p * 0.7f);
        const float level = 0.55f - 1.2f * amount;
        const float cover = smoothstep(level, level + 0.15f, field);
        sample.thicknessUm = looks.paste.coatUm * cover * (1.6f + 1.8f * std::max(-0.5f, noise(p * 0.35f)));
    }
    sample.thicknessUm = sample.thicknessUm * (1 - swiped.taken) + swiped.filmUm;
    if (sample.thicknessUm <= 0) return;
    const float relief = 0.28f * clamp01(sample.thicknessUm / 30);
    const Vec skin = tilt(s, relief * noise(p * 0.6f), relief * noise(p * 0.6f + Vec{7, 7, 7}));
    addPaste(s, looks, sample, skin, p);
}

Surface gearOther(const Hit& hit, const Looks& looks, Surface s, float footprint) {
    const bool detail = footprint < kReflected;
    const Vec p = hit.local + Vec{static_cast<float>(hit.place) * 7.3f, 0, 0};
    switch (hit.material) {
        case Material::TopLand: {
            ringSteel(s, looks, p, 0.35f * looks.wear, detail);
            if (detail) {
                // Turned before the teeth were cut: fine rings across the land.
                const float radius = std::hypot(hit.local.x, hit.local.y);
                const float lines =
                    seen(5.5f, footprint) * noise({radius * 5.5f, 3, static_cast<float>(hit.place) * 0.37f}) +
                    0.6f * seen(1.5f, footprint) * noise({radius * 1.5f, 9, 1});
                s.normal = tilt(s, 0.05f * lines, 0);
                roughen(s, 0.03f, 0);
                s.f0 *= 1 + 0.2f * lines;
                const float edge = std::min(hit.coord.v, 1 - hit.coord.v);
                s.f0 *= 1 + 0.25f * smoothstep(0.12f, 0.0f, edge);  // rubbed edges
                addOil(s, looks, p, looks.oil * 0.8f);
                if (painted(looks, hit.place)) straySmear(s, hit, looks, hit.local, looks.landSmear);
                pileUp(s, hit, looks, p, painted(looks, hit.place) ? looks.thickLands : 0);
            }
            break;
        }
        case Material::Root: {
            ringSteel(s, looks, p, 0, detail);
            const float dirt = clamp01(looks.dirt * (0.9f + 0.5f * fractalNoise(p * 0.4f, 3)));
            s.f0 = s.f0 * (1 - 0.75f * dirt);
            s.diffuse = mix(s.diffuse, Vec{0.03f, 0.024f, 0.018f}, dirt);
            if (detail) {
                addOil(s, looks, p, std::min(1.0f, looks.oil * 1.5f));
                const bool left = painted(looks, hit.place), right = painted(looks, hit.place + 1);
                if (left || right) {
                    const float near = left && right ? 1.0f
                                       : left        ? smoothstep(1.0f, 0.3f, hit.coord.v)
                                                     : smoothstep(0.0f, 0.7f, hit.coord.v);
                    straySmear(s, hit, looks, hit.local, looks.landSmear * 1.3f * near);
                }
                pileUp(s, hit, looks, p,
                       left && right   ? looks.thickRoots
                       : left || right ? 0.5f * looks.thickRoots
                                       : 0);
            }
            break;
        }
        case Material::ToothEnd:
            ringSteel(s, looks, p, 0, detail);
            if (detail) {
                const float sharp = 0.04f * seen(3, footprint);
                s.normal = tilt(s, sharp * noise(p * 3.0f), sharp * noise(p * 3.0f + Vec{7, 7, 7}));
                addOil(s, looks, p, looks.oil);
                if (painted(looks, hit.place)) straySmear(s, hit, looks, hit.local, 0.6f * looks.landSmear);
                pileUp(s, hit, looks, p, painted(looks, hit.place) ? looks.thickEnds : 0);
            }
            break;
        default: {
            ringSteel(s, looks, hit.local, 0, detail);
            if (detail) {
                const float lines = seen(4, footprint) * noise({hit.coord.v * 4.0f, 5, 5}) +
                                    0.7f * seen(1.2f, footprint) * noise({hit.coord.v * 1.2f, 9, 2});
                s.normal = tilt(s, 0, 0.06f * lines);
                s.f0 *= 1 + 0.15f * lines;
                s.alphaAcross = std::min(0.6f, s.alphaAcross * 1.3f);
                addOil(s, looks, hit.local, looks.oil);
            }
        }
    }
    return s;
}

Surface iron(const Hit& hit, const Looks& looks, Surface s, Vec colour, float dirt, float footprint) {
    const Vec p = hit.local;
    if (footprint >= kReflected) {
        s.diffuse = mix(colour, Vec{0.03f, 0.022f, 0.015f}, 0.5f * dirt);
        s.f0 = grey(0.06f);
        s.alphaAlong = s.alphaAcross = 0.42f;
        return s;
    }
    const float grain = seen(0.9f, footprint) * noise(p * 0.9f), cloud = fractalNoise(p * 0.05f, 3);
    s.diffuse = colour * (1 + 0.35f * cloud + 0.15f * grain);
    s.f0 = grey(0.05f + 0.03f * clamp01(0.5f + cloud));
    s.alphaAlong = s.alphaAcross = 0.42f;
    const float coarse = 0.13f * seen(1.3f, footprint), fine = 0.07f * seen(4, footprint);
    float a = 0, b = 0;
    if (coarse > 0) {
        a += coarse * noise(p * 1.3f);
        b += coarse * noise(p * 1.3f + Vec{9, 9, 9});
    }
    if (fine > 0) {
        a += fine * noise(p * 4.0f);
        b += fine * noise(p * 4.0f + Vec{1, 2, 3});
    }
    s.normal = tilt(s, a, b);
    s.diffuse = mix(s.diffuse, Vec{0.03f, 0.022f, 0.015f}, clamp01(dirt * (0.6f + cloud)));
    addOil(s, looks, p, looks.oil * 0.9f);
    return s;
}

/// How a bare metal looks: brightness, roughness along its marks of machining, and how deep these are.
struct Finish {
    float tone, rough, marks;
};

Surface metal(const Hit& hit, const Looks& looks, Surface s, const Finish& finish, float footprint) {
    const auto [tone, rough, marks] = finish;
    const Vec p = hit.local;
    s.alphaAlong = rough;
    s.alphaAcross = rough * 1.5f;
    if (footprint >= kReflected) {
        s.f0 = steelF0(tone) * (1 - 0.3f * looks.dirt);
        s.diffuse = grey(0.03f);
        return s;
    }
    const float cloud = noise(p * 0.1f + Vec{4, 4, 4});
    s.f0 = steelF0(tone) * (1 + 0.2f * cloud);
    s.diffuse = grey(0.03f);
    s.normal = tilt(s, 0, marks * seen(3, footprint) * noise({hit.coord.v * 3.0f, hit.coord.u * 0.02f, 5}));
    const float dirt = looks.dirt * 0.7f * smoothstep(-0.2f, 0.6f, fractalNoise(p * 0.11f + Vec{8, 1, 1}, 3));
    s.f0 = s.f0 * (1 - 0.7f * dirt);
    s.diffuse = mix(s.diffuse, Vec{0.03f, 0.025f, 0.02f}, dirt);
    addOil(s, looks, p, looks.oil * 0.7f);
    return s;
}

float benchStains(const Looks& looks, Vec p) {
    return looks.benchStain * smoothstep(0.02f, 0.35f, fractalNoise(p * 0.012f + looks.stainOffset, 4));
}

/// Planks with grain, stains and gaps.
Surface wood(const Hit& hit, const Looks& looks, Surface s, float footprint) {
    const Vec p = hit.local;
    const float rings = p.y * 0.16f + 1.6f * fractalNoise({p.x * 0.008f, p.y * 0.05f, 4}, 3);
    const float grain =
        noise({p.x * 0.02f, rings * 3.1f, 2}) + 0.5f * seen(2.2f, footprint) * noise({p.x * 0.05f, p.y * 2.2f, 9});
    const float plank = std::floor(p.y / 95.0f);
    const float tone = 1 + 0.25f * noise({plank * 7.7f, 3, 3}) + 0.28f * grain;
    s.diffuse = looks.woodColour * tone;
    const float stain = benchStains(looks, p);
    s.diffuse = mix(s.diffuse, Vec{0.03f, 0.022f, 0.016f}, 0.85f * stain);
    const float gap = std::abs(p.y / 95.0f - plank - 0.5f);
    if (gap > 0.488f) s.diffuse = s.diffuse * 0.15f;
    s.alphaAlong = s.alphaAcross = 0.5f - 0.2f * stain;
    s.normal = tilt(s, 0.04f * noise(p * 0.7f), 0.10f * grain);
    return s;
}

/// Rolled sheet, scratched and stained.
Surface sheetSteel(const Hit& hit, const Looks& looks, Surface s, float footprint) {
    const Vec p = hit.local;
    const float stain = benchStains(looks, p), cloud = fractalNoise(p * 0.01f + Vec{1, 9, 4}, 4);
    s.f0 = steelF0(0.62f + 0.25f * cloud);
    s.diffuse = grey(0.06f);
    s.alphaAlong = 0.22f;
    s.alphaAcross = 0.34f;
    const float fine = seen(1.4f, footprint);
    const float scratch =
        fine * smoothstep(0.68f, 0.85f, noise({(p.x + 0.4f * p.y) * 0.02f, (p.y - 0.4f * p.x) * 1.4f, 3}));
    const float other =
        fine * smoothstep(0.74f, 0.88f, noise({(p.x - 1.3f * p.y) * 0.015f, (p.y + 1.3f * p.x) * 1.1f, 30}));
    s.f0 *= 1 + 0.35f * std::max(scratch, other);
    s.f0 = mix(s.f0, grey(0.04f), 0.8f * stain);
    s.diffuse = mix(s.diffuse, Vec{0.05f, 0.036f, 0.024f}, stain);
    s.normal = tilt(s, 0.02f * noise(p * 0.06f), 0.03f * seen(2, footprint) * noise({p.x * 0.05f, p.y * 2.0f, 1}));
    return s;
}

/// Woven cloth.
Surface rag(const Hit& hit, const Looks& looks, Surface s, float footprint) {
    const Vec p = hit.local;
    const float woven = seen(1.6f, footprint);
    const float warp = woven * std::sin(hit.coord.u * 5.2f), weft = woven * std::sin(hit.coord.v * 5.2f);
    const float thread = 0.5f + 0.25f * (warp * weft) + 0.3f * noise({hit.coord.u * 1.3f, hit.coord.v * 1.3f, 0});
    const float stain = benchStains(looks, p * 1.4f);
    s.diffuse = looks.ragColour * (0.7f + 0.6f * thread);
    s.diffuse = mix(s.diffuse, Vec{0.04f, 0.03f, 0.02f}, 0.8f * stain);
    s.f0 = grey(0.02f);
    s.alphaAlong = s.alphaAcross = 0.7f;
    s.normal = tilt(s, 0.25f * warp, 0.25f * weft);
    return s;
}

/// Corrugated board.
Surface cardboard(const Hit& hit, const Looks& looks, Surface s) {
    const Vec p = hit.local;
    const float flute = std::sin(p.x * 0.95f), stain = benchStains(looks, p);
    s.diffuse = Vec{0.36f, 0.24f, 0.135f} * (1 + 0.05f * flute + 0.12f * fractalNoise(p * 0.06f, 3));
    s.diffuse = mix(s.diffuse, Vec{0.07f, 0.05f, 0.03f}, 0.8f * stain);
    s.f0 = grey(0.03f);
    s.alphaAlong = s.alphaAcross = 0.6f;
    s.normal = tilt(s, 0.05f * flute, 0.02f * noise(p * 0.6f));
    return s;
}

/// A machined face with remains of the old gasket.
Surface gasketFace(const Hit& hit, const Looks& looks, Surface s, float footprint) {
    s = metal(hit, looks, s, {0.55f, 0.36f, 0.04f}, footprint);
    if (footprint >= kReflected) return s;
    const float old = 0.8f * smoothstep(0.15f, 0.35f, fractalNoise(hit.local * 0.08f + Vec{2, 7, 1}, 5));
    s.diffuse = mix(s.diffuse, Vec{0.09f, 0.065f, 0.045f}, old);
    s.f0 = mix(s.f0, grey(0.04f), old);
    return s;
}

/// Hair of a brush, its tip full of compound.
Surface brushHair(const Hit& hit, const Looks& looks, Surface s) {
    PasteLayer::Sample sample;
    sample.thicknessUm = 40;
    s.diffuse = Vec{0.12f, 0.08f, 0.05f} * (1 + 0.8f * noise({hit.coord.u * 3.0f, 2, 2}));
    s.alphaAlong = s.alphaAcross = 0.5f;
    if (hit.coord.v > 14) addPaste(s, looks, sample, s.normal, hit.local);
    return s;
}

/// The ground with its own structure faded into one plain colour, as far as the looks ask for.
Surface plainGround(const Hit& hit, const Looks& looks, Surface s) {
    if (looks.plainGround <= 0) return s;
    s.diffuse = mix(s.diffuse, looks.groundColour, looks.plainGround);
    s.f0 = mix(s.f0, grey(0.03f), looks.plainGround);
    s.normal = s.coatNormal = normalize(mix(s.normal, hit.normal, looks.plainGround));
    s.alphaAlong = s.alphaAcross = mix(s.alphaAcross, 0.6f, looks.plainGround);
    return s;
}

}  // namespace

Surface surfaceAt(const Hit& hit, const Looks& looks, float footprint) {
    Surface s;
    s.position = hit.position;
    s.geometric = hit.geometric;
    s.normal = s.coatNormal = hit.normal;
    s.tangent = hit.tangent;
    switch (hit.material) {
        case Material::DriveFlank:
        case Material::CoastFlank:
            s = flank(hit, looks, s, footprint);
            break;
        case Material::Root:
        case Material::TopLand:
        case Material::ToothEnd:
        case Material::GearTurned:
            s = gearOther(hit, looks, s, footprint);
            break;
        case Material::CastIron:
            s = iron(hit, looks, s, looks.castColour, 0.5f * looks.dirt, footprint);
            break;
        case Material::HousingOutside:
        case Material::HousingInside:
            s = iron(hit, looks, s, looks.housingColour, looks.dirt, footprint);
            break;
        case Material::MachinedIron:
            s = metal(hit, looks, s, {0.62f, 0.3f, 0.06f}, footprint);
            break;
        case Material::GasketFace:
            s = gasketFace(hit, looks, s, footprint);
            break;
        case Material::BoltSteel:
            s = metal(hit, looks, s, {0.42f, 0.28f, 0.03f}, footprint);
            break;
        case Material::BearingSteel:
            s = metal(hit, looks, s, {0.95f, 0.12f, 0.01f}, footprint);
            break;
        case Material::Pinion:
            s = metal(hit, looks, s, {0.75f * (1 - 0.6f * looks.darkCoat), 0.26f, 0.03f}, footprint);
            break;
        case Material::Wood:
            return plainGround(hit, looks, wood(hit, looks, s, footprint));
        case Material::SheetSteel:
            return plainGround(hit, looks, sheetSteel(hit, looks, s, footprint));
        case Material::Rag:
            return plainGround(hit, looks, rag(hit, looks, s, footprint));
        case Material::Cardboard:
            return plainGround(hit, looks, cardboard(hit, looks, s));
        case Material::Rubber:
            s.diffuse = grey(0.02f);
            s.alphaAlong = s.alphaAcross = 0.5f;
            break;
        case Material::PaintedTube:
            s.diffuse = looks.tubeColour;
            s.coat = 0.8f;
            s.coatAlpha = 0.12f;
            break;
        case Material::BrushHair:
            s = brushHair(hit, looks, s);
            break;
        default:
            break;
    }
    return s;
}

}  // namespace shimsight::render
