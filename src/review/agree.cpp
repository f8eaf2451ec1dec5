// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include <algorithm>
#include <array>
#include <cmath>
#include <optional>

#include "review/merge.h"
#include "shimsight/words.h"

namespace shimsight::review {
namespace {

/// Teeth counted from a photo have a standard error of about one: two counts of one gear differ by less than this.
constexpr double kCountsApart = 4.5;
/// A photo's way of marking is sure from here on.
constexpr double kMarkingSure = 0.95;
/// A compound has a colour when its saturation reaches the first of these, none below the second; lamps tint, so hues
/// must differ by this angle.
constexpr double kColoured = 0.40, kColourless = 0.15, kHueApartDeg = 60;

struct Colour {
    double hueDeg = 0, saturation = 0;
};

/// Hue and saturation as in HSV (A. R. Smith, Color gamut transform pairs, SIGGRAPH 1978).
Colour colourOf(const std::array<float, 3>& rgb) {
    const double most = *std::max_element(rgb.begin(), rgb.end()), least = *std::min_element(rgb.begin(), rgb.end());
    const double range = most - least;
    if (most <= 0 || range <= 0) return {};
    const auto [r, g, b] = rgb;
    const double sixth = most == r ? (g - b) / range : most == g ? 2 + (b - r) / range : 4 + (r - g) / range;
    return {std::fmod(60 * sixth + 360, 360), range / most};
}

/// The colour over all flanks of a photo; nullopt: hardly any compound is seen.
std::optional<Colour> compoundOf(const MeasuredPhoto& photo) {
    std::array<float, 3> sum{};
    for (const MeasuredFlank& flank : photo.flanks)
        for (std::size_t k = 0; k < 3; ++k) sum[k] += flank.contact.compound[k];
    if (sum == std::array<float, 3>{}) return std::nullopt;
    return colourOf(sum);
}

bool otherColour(const Colour& a, const Colour& b) {
    const bool bothColoured = a.saturation >= kColoured && b.saturation >= kColoured;
    const double turn = std::abs(std::remainder(a.hueDeg - b.hueDeg, 360.0));
    return (bothColoured && turn > kHueApartDeg) || (a.saturation >= kColoured && b.saturation < kColourless) ||
           (b.saturation >= kColoured && a.saturation < kColourless);
}

std::optional<Marking> markingOf(const MeasuredPhoto& photo) {
    if (photo.flanks.empty() || photo.flanks.front().contact.markingCertainty < kMarkingSure) return std::nullopt;
    return photo.flanks.front().contact.marking;
}

bool otherGear(const MeasuredPhoto& a, const MeasuredPhoto& b) {
    if (a.hand && b.hand && *a.hand != *b.hand) return true;
    return a.setFit && b.setFit && a.setFit->ringTeeth && b.setFit->ringTeeth &&
           std::abs(*a.setFit->ringTeeth - *b.setFit->ringTeeth) > kCountsApart;
}

bool otherCompound(const MeasuredPhoto& a, const MeasuredPhoto& b) {
    const auto first = markingOf(a), second = markingOf(b);
    if (first && second && *first != *second) return true;
    const auto one = compoundOf(a), other = compoundOf(b);
    return one && other && otherColour(*one, *other);
}

}  // namespace

Apart whyApart(const MeasuredPhoto& first, const MeasuredPhoto& second) {
    if (otherGear(first, second)) return Apart::OtherGear;
    return otherCompound(first, second) ? Apart::OtherCompound : Apart::No;
}

}  // namespace shimsight::review
