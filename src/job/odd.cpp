// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// Readings that are far from what an axle gives: read in another unit, or a figure too many.
#include <algorithm>
#include <array>
#include <cmath>

#include "job/words.h"
#include "shimsight/advice_start.h"
#include "shimsight/job.h"
#include "shimsight/words.h"

namespace shimsight {
namespace {

/// What such a joint takes on cars, vans and trucks: common practice, no source.
struct UsualTorque {
    Joint joint;
    double leastNm, mostNm;
    const char* said;
};
constexpr std::array kUsualTorques{UsualTorque{Joint::RingGearBolts, 40, 600, "job.joint-ring-gear-bolts"},
                                   UsualTorque{Joint::PinionSupportBolts, 20, 300, "job.joint-pinion-support-bolts"},
                                   UsualTorque{Joint::PinionNut, 120, 1800, "job.joint-pinion-nut"},
                                   UsualTorque{Joint::BearingCaps, 40, 700, "job.joint-bearing-caps"},
                                   UsualTorque{Joint::AdjusterLocks, 5, 100, "job.joint-adjuster-locks"},
                                   UsualTorque{Joint::Cover, 12, 150, "job.joint-cover"},
                                   UsualTorque{Joint::ShaftBolts, 15, 400, "job.joint-shaft-bolts"}};

// The most that is usual, of cars, vans and trucks: common practice, no source.
constexpr double kUsualTurningNm = 12;      ///< about 106 in-lb: five times what new bearings ask for
constexpr double kUsualBacklashMm = 0.762;  ///< 0.030 in
constexpr double kUsualRunoutMm = 0.508;    ///< 0.020 in
constexpr double kUsualSideShimsMm = 12.7;  ///< 0.500 in at one side
constexpr double kUsualSpreadMm = 0.762;    ///< 0.030 in
constexpr int kUsualNotches = 24;           ///< a turn, where the gear-set file does not say how many that is

/// "0.030 in (0.76 mm) is much for ...". `called`: id of an entry.
Message muchFor(const char* called, const std::string& read, const std::string& most) {
    return message("job.odd-reading-high", message(called), read, most);
}

/// A reading beyond what is usual, unless the sheet's own figure is as high.
std::optional<Message> oddAbove(double value, double usual, const std::optional<Interval>& sheet, const char* called,
                                std::string (*words)(double)) {
    const double most = std::max(usual, sheet ? sheet->high : 0.0);
    if (value <= most + job::kSameMm) return std::nullopt;
    return muchFor(called, words(value), words(most));
}

std::optional<Interval> upTo(const std::optional<double>& limit) {
    return limit ? std::optional(Interval{0, *limit}) : std::nullopt;
}

/// The widest of some limits.
std::optional<Interval> widest(std::initializer_list<std::optional<Interval>> limits) {
    std::optional<Interval> found;
    for (const std::optional<Interval>& one : limits)
        if (one && (!found || one->high > found->high)) found = one;
    return found;
}

std::optional<Message> oddNotches(const JobRecord& job, const std::optional<double>& left,
                                  const std::optional<double>& right) {
    const int most = job.gearSet.data.build.adjusterNotches.value_or(kUsualNotches);
    const auto words = [](double notches) { return say("job.notches", std::lround(notches)); };
    for (const std::optional<double>& notches : {left, right})
        if (notches && std::abs(*notches) > most)
            return muchFor("job.of-adjusters", words(std::abs(*notches)), words(most));
    return std::nullopt;
}

}  // namespace

std::optional<Message> oddTorque(const CheckItem& item, double nm) {
    if (item.wantedNm && item.wantedNm->holds(nm)) return std::nullopt;
    for (const UsualTorque& usual : kUsualTorques)
        if (name(usual.joint) == item.key && (nm < usual.leastNm || nm > usual.mostNm))
            return message(nm < usual.leastNm ? "job.odd-torque-low" : "job.odd-torque-high", message(usual.said),
                           formatBoltTorque(nm), formatBoltTorque(usual.leastNm), formatBoltTorque(usual.mostNm));
    return std::nullopt;
}

std::optional<Message> oddTurning(double nm) {
    return oddAbove(nm, kUsualTurningNm, std::nullopt, "job.of-bearings", formatTorque);
}

std::optional<Message> oddReading(const JobRecord& job, const PreloadEntry& entry) {
    const LimitsData& limits = job.gearSet.data.limits;
    return oddAbove(entry.torqueNm, kUsualTurningNm,
                    widest({limits.preloadNewNm, limits.preloadUsedNm, limits.preloadWithSeal.newNm,
                            limits.preloadWithSeal.usedNm}),
                    "job.of-pinion", formatTorque);
}

std::optional<Message> oddReading(const JobRecord& job, const BacklashEntry& entry) {
    for (const BacklashPoint& point : entry.points)
        if (std::optional<Message> odd = oddAbove(point.mm, kUsualBacklashMm, job.gearSet.data.limits.backlashMm,
                                                  "job.of-backlash", lengthWords))
            return odd;
    return std::nullopt;
}

std::optional<Message> oddReading(const JobRecord& job, const RunoutEntry& entry) {
    const LimitsData& limits = job.gearSet.data.limits;
    const bool ring = entry.place == RunoutPlace::RingGear, carrier = entry.place == RunoutPlace::CarrierFlange;
    return oddAbove(entry.mm, kUsualRunoutMm,
                    upTo(ring      ? limits.ringRunoutMm
                         : carrier ? limits.carrierFlangeRunoutMm
                                   : limits.pinionFlangeRunoutMm),
                    ring      ? "job.of-ring-runout"
                    : carrier ? "job.of-carrier-runout"
                              : "job.of-pinion-runout",
                    lengthWords);
}

std::optional<Message> oddReading(const JobRecord& job, const CarrierEntry& entry) {
    const LimitsData& limits = job.gearSet.data.limits;
    if (entry.torqueNm)
        if (std::optional<Message> odd = oddAbove(*entry.torqueNm, kUsualTurningNm,
                                                  widest({limits.total.newNm, limits.total.usedNm,
                                                          limits.totalWithSeal.newNm, limits.totalWithSeal.usedNm}),
                                                  "job.of-bearings", formatTorque))
            return odd;
    if (std::optional<Message> odd = oddNotches(job, entry.leftNotches, entry.rightNotches)) return odd;
    for (const std::optional<double>& shims : {entry.leftShimsMm, entry.rightShimsMm})
        if (shims)
            if (std::optional<Message> odd =
                    oddAbove(*shims, kUsualSideShimsMm, std::nullopt, "job.of-side-shims", lengthWords))
                return odd;
    if (!entry.spreadMm) return std::nullopt;
    return oddAbove(*entry.spreadMm, kUsualSpreadMm, limits.carrierSpreadMm, "job.of-spread", lengthWords);
}

std::optional<Message> oddReading(const JobRecord& job, const WorkEntry& entry) {
    return oddNotches(job, entry.leftNotches, entry.rightNotches);
}

}  // namespace shimsight
