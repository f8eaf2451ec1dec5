// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "shimsight/core.h"

#include <algorithm>
#include <charconv>
#include <cmath>

#include "shimsight/units.h"
#include "shimsight/words.h"

namespace shimsight {

void check(bool holds, std::string_view sentence) {
    if (!holds) throw std::logic_error(std::string(sentence));
}

namespace {

/// Nothing on a bench is longer; a longer value is a typing error.
constexpr double kMaxMm = 10'000;

/// Half thousandths are written below this: shims, backlash and moves; a working depth needs none.
constexpr double kHalvesBelowInch = 0.1;

std::string_view trimmed(std::string_view text) {
    while (!text.empty() && (text.front() == ' ' || text.front() == '\t')) text.remove_prefix(1);
    while (!text.empty() && (text.back() == ' ' || text.back() == '\t')) text.remove_suffix(1);
    return text;
}

/// A value that would print as "-0.000" is printed as zero.
double withoutNegativeZero(double value, double half) { return std::abs(value) < half ? 0.0 : value; }

}  // namespace

Length parseLength(std::string_view text, std::string_view what) {
    const auto refuse = [&](const char* why) {
        throw InputError(message("core.length-as-written", what, text.substr(0, 40), message(why)));
    };
    std::string_view body = trimmed(text);
    if (!body.empty() && body.front() == '+') {
        body.remove_prefix(1);
        if (!body.empty() && (body.front() == '+' || body.front() == '-')) refuse("core.no-length");
    }
    double value = 0;
    const auto [end, status] = std::from_chars(body.data(), body.data() + body.size(), value);
    if (status == std::errc::result_out_of_range) refuse("core.out-of-range");
    if (status != std::errc()) refuse("core.no-length");
    const std::string_view unit =
        trimmed(std::string_view(end, static_cast<std::size_t>(body.data() + body.size() - end)));
    if (unit.empty()) refuse("core.no-unit");
    if (!std::isfinite(value)) refuse("core.no-length");
    Length length;
    if (unit == "mm") {
        length = Length::fromMm(value);
    } else if (unit == "in") {
        length = Length::fromInch(value);
    } else if (unit == "thou") {
        length = Length::fromThou(value);
    } else {
        refuse("core.unknown-unit");
    }
    if (std::abs(length.mm()) > kMaxMm) refuse("core.out-of-range");
    return length;
}

namespace {

/// A length as it was given: in hundredths of a millimetre, or in half thousandths of an inch, to this part of a step.
constexpr double kSameStep = 1e-3;
constexpr double kMetricStepMm = 0.01;
/// Sizes are given in whole millimetres, or in tenths of them.
constexpr double kSizeStepMm = 0.1;

bool isWhole(double steps) { return std::abs(steps - std::round(steps)) < kSameStep; }

/// Of an amount in inches, thousandths or halves of them: "0.004 in", "0.0045 in".
std::string inchText(double inch, bool sign) {
    const bool half = std::fmod(std::round(inch * 2000), 2) != 0;
    return formatted(half ? (sign ? "%+.4f in" : "%.4f in") : (sign ? "%+.3f in" : "%.3f in"),
                     withoutNegativeZero(inch, 0.00005));
}

std::string metricText(double mm, bool sign) {
    return formatted(sign ? "%+.2f mm" : "%.2f mm", withoutNegativeZero(mm, 0.5 * kMetricStepMm));
}

/// The pair of a metric figure: of thousandths and halves of them the coarsest that convert back to it, else the
/// nearest thousandth.
LengthPair pairOfMetric(double mm, bool sign) {
    for (const double perInch : {1000.0, 2000.0}) {
        const double inch = std::round(mm / 25.4 * perInch) / perInch;
        if (std::abs(inch * 25.4 - mm) <= 0.5 * kMetricStepMm)
            return {inchText(inch, sign), metricText(mm, sign), false};
    }
    return {inchText(std::round(mm / 25.4 * 1000) / 1000, sign), metricText(mm, sign), true};
}

}  // namespace

LengthPair lengthPair(Length value, bool sign) {
    const double halves = 2 * value.thou();
    if (isWhole(value.mm() / kMetricStepMm) && !isWhole(halves)) return pairOfMetric(value.mm(), sign);
    // Rounded once, to the step of the inches that are shown; the millimetres are those of these inches.
    const bool showsHalves = std::abs(value.inch()) < kHalvesBelowInch;
    const double thou = showsHalves ? std::round(halves) / 2 : std::round(value.thou());
    return {inchText(thou / 1000, sign), metricText(thou * 0.0254, sign), false};
}

LengthPair sizePair(Length value) {
    const double mm = value.mm(), inch = std::round(value.thou()) / 1000;
    const std::string inches = formatted("%.3f in", withoutNegativeZero(inch, 0.0005));
    if (isWhole(mm / kSizeStepMm)) return {inches, formatted("%.1f mm", withoutNegativeZero(mm, 0.05)), false};
    const bool given = isWhole(mm / kMetricStepMm) && !isWhole(value.thou());
    if (given && std::abs(inch * 25.4 - mm) > 0.5 * kMetricStepMm) return {inches, metricText(mm, false), true};
    return {inches, metricText(inch * 25.4, false), false};
}

namespace {

std::string pairText(const LengthPair& pair) {
    if (pair.inchesAbout) return pair.metric + " (" + std::string(kAboutInches) + pair.inch + ")";
    return pair.inch + " (" + pair.metric + ")";
}

}  // namespace

std::string formatLength(Length value, bool sign) { return pairText(lengthPair(value, sign)); }

std::string sizeWords(double mm) { return pairText(sizePair(Length::fromMm(mm))); }

std::string lengthWords(double mm) { return formatLength(Length::fromMm(std::abs(mm))); }

std::string_view name(Refusal why) {
    switch (why) {
        case Refusal::NoToothFound:
            return "no-tooth-found";
        case Refusal::FlankTooSmall:
            return "flank-too-small";
        case Refusal::FlankOutsidePicture:
            return "flank-outside-picture";
        case Refusal::OutlineUnusable:
            return "outline-unusable";
        case Refusal::TooDark:
            return "too-dark";
        case Refusal::Glare:
            return "glare";
        case Refusal::OutOfFocus:
            return "out-of-focus";
        case Refusal::NoCompound:
            return "no-compound";
        case Refusal::NotRolled:
            return "not-rolled";
        case Refusal::Smeared:
            return "smeared";
        case Refusal::SideUnknown:
            return "side-unknown";
        case Refusal::UnreadablePhoto:
            return "unreadable-photo";
    }
    throw std::logic_error("a refusal without a name");
}

namespace {

/// SplitMix64: one addition and a mix; passes the usual batteries and is the same everywhere.
constexpr std::uint64_t kGolden = 0x9E3779B97F4A7C15ULL;

}  // namespace

Random::Random(std::uint64_t seed) : state_(splitMix(seed + kGolden)), seed_(seed) {}

std::uint64_t Random::bits() {
    state_ += kGolden;
    return splitMix(state_);
}

double Random::uniform() { return static_cast<double>(bits() >> 11) * 0x1.0p-53; }

double Random::uniform(double low, double high) { return low + (high - low) * uniform(); }

double Random::normal() {
    if (spare_) {
        const double value = *spare_;
        spare_.reset();
        return value;
    }
    // Box-Muller; 1 - uniform() is never zero.
    const double radius = std::sqrt(-2.0 * std::log(1.0 - uniform()));
    const double angle = 2.0 * kPi * uniform();
    spare_ = radius * std::sin(angle);
    return radius * std::cos(angle);
}

int Random::integer(int low, int high) {
    check(low <= high, "Random::integer needs low <= high");
    const double span = static_cast<double>(high) - static_cast<double>(low) + 1.0;
    return static_cast<int>(static_cast<double>(low) + std::floor(uniform() * span));
}

Random Random::fork(std::uint64_t stream) const {
    return Random(splitMix(seed_ * 0xD1342543DE82EF95ULL + splitMix(stream + 1)));
}

}  // namespace shimsight
