#include <algorithm>
#include <cmath>
#include <initializer_list>

#include "job/words.h"
#include "shimsight/advice_start.h"
#include "shimsight/job.h"

namespace shimsight {
namespace {

using job::kSameMm;
using job::lengthWords;

/// Used gears are back where they were within this: as much as new ones may vary round the ring gear, 0.002 in.
constexpr double kUsedBacklashMm = 0.05;

/// Where the rule for patterns comes from when the file has none (AcceptanceRule in gear_set.h).
constexpr const char* kPublishedRule =
    "published descriptions (axle makers' manuals 1997 to 2009, US Army TM 9-2320-273-34 p. 10-29) with the usual "
    "margins: common practice, no source";

std::string nameOf(const JobGearSet& gearSet) {
    return gearSet.fileName.empty() ? "the gear-set file" : "the gear-set file " + gearSet.fileName;
}

/// What the gear-set file says about where it has `field` from.
std::string sourceOf(const JobGearSet& gearSet, const std::string& field) {
    for (const std::string& source : gearSet.data.sources) {
        // A line may tell of several limits, with a semicolon between; what follows without a limit of its own belongs
        // to the one before.
        std::string found;
        std::size_t start = 0;
        while (start < source.size()) {
            const std::size_t end = std::min(source.find(';', start), source.size());
            std::string part = source.substr(start, end - start);
            part.erase(0, part.find_first_not_of(' '));
            if (part.find(field) != std::string::npos)
                found = part;
            else if (!found.empty() && part.find("limits.") != std::string::npos)
                break;
            else if (!found.empty())
                found += "; " + part;
            start = end + 1;
        }
        if (!found.empty()) return nameOf(gearSet) + ": " + found;
    }
    return nameOf(gearSet) + ", which does not say where it has this limit from";
}

std::string missingLimit(const std::string& field) {
    return "The gear-set file gives no limit (\"" + field + "\"): compare it with the maker's sheet.";
}

/// ", so close to the limit that the dial's error of about 0.0005 in (0.01 mm) decides"; empty away from it.
std::string nearLimit(double mm, std::initializer_list<double> limits) {
    for (const double limit : limits)
        if (std::abs(mm - limit) < kDialSigmaMm + kSameMm)
            return " That is as close to the limit as a dial can be read, about " + lengthWords(kDialSigmaMm) +
                   " either way.";
    return {};
}

double squareBacklashMm(const JobRecord& job, double readMm, DialReading dial) {
    if (dial == DialReading::SquareToTooth) return readMm;
    return readMm * ToothContact(completeGearSet(job.gearSet.data)).toSquareReading(dial);
}

/// Used gears are set to the backlash that they had; limits are for new ones. `mm`: square to the tooth.
Judgement judgeUsedBacklashMm(const JobRecord& job, Judgement result, double mm, const std::string& read) {
    const std::optional<TrialObservation> before = beforeOf(job);
    if (!before || !before->backlashMm) {
        result.sentence = read +
                          ". Used gears are set to the backlash that they had, not to the limits for new ones, and "
                          "what they had is not entered.";
        return result;
    }
    const double wanted = squareBacklashMm(job, *before->backlashMm, before->dial);
    const bool low = mm<wanted - kUsedBacklashMm, high = mm> wanted + kUsedBacklashMm;
    result.result = low || high ? JudgedAs::Fail : JudgedAs::Pass;
    result.sentence = read +
                      (low    ? " is less than the "
                       : high ? " is more than the "
                              : " is within " + lengthWords(kUsedBacklashMm) + " of the ") +
                      lengthWords(wanted) + " that these gears had before they came apart.";
    result.source = "read before the gears came apart; margin: common practice, no source";
    return result;
}

Judgement judgeBacklashMm(const JobRecord& job, const std::string& id, double readMm, DialReading dial,
                          const std::string& subject) {
    Judgement result{id, "backlash", JudgedAs::NoLimitKnown, {}, {}};
    if (job::isJammed(readMm)) {
        result.result = JudgedAs::Fail;
        result.sentence =
            subject + " " + lengthWords(readMm) + ": no play, the teeth are jammed. Do not force them round.";
        result.source = "no set of gears runs without play, whatever the sheet says";
        return result;
    }
    const double mm = squareBacklashMm(job, readMm, dial);
    std::string read = subject + " " + lengthWords(readMm);
    if (dial == DialReading::OuterCircumference)
        read += " along the circle at the heel, which is " + lengthWords(mm) + " square to the tooth";
    if (job.build == BuildKind::UsedGears) return judgeUsedBacklashMm(job, std::move(result), mm, read);
    if (!job.gearSet.data.limits.backlashMm) {
        result.sentence = read + ". " + missingLimit("limits.backlash_mm");
        return result;
    }
    const Interval limits = *job.gearSet.data.limits.backlashMm;
    const bool low = mm<limits.low - kSameMm, high = mm> limits.high + kSameMm;
    result.result = low || high ? JudgedAs::Fail : JudgedAs::Pass;
    result.sentence = read +
                      (low    ? " is below the limits "
                       : high ? " is above the limits "
                              : " is inside the limits ") +
                      lengthWords(limits.low) + " to " + lengthWords(limits.high) + "." +
                      nearLimit(mm, {limits.low, limits.high});
    result.source = sourceOf(job.gearSet, "limits.backlash_mm");
    return result;
}

std::vector<Judgement> judgePoints(const JobRecord& job, const std::string& id, std::span<const BacklashPoint> points,
                                   DialReading dial, bool alsoMean) {
    std::vector<Judgement> results;
    const auto [least, most] = std::minmax_element(
        points.begin(), points.end(), [](const BacklashPoint& a, const BacklashPoint& b) { return a.mm < b.mm; });
    // The tightest place counts at the lower limit, the loosest at the upper one; the worse of the two is told.
    if (points.size() == 1) {
        if (alsoMean) results.push_back(judgeBacklashMm(job, id, points.front().mm, dial, "Backlash"));
        return results;
    }
    if (alsoMean) {
        const auto place = [](const BacklashPoint& point) {
            return " at " + std::to_string(static_cast<int>(std::lround(point.positionDeg))) + " degrees,";
        };
        Judgement tight = judgeBacklashMm(job, id, least->mm, dial, "The smallest backlash," + place(*least));
        Judgement loose = judgeBacklashMm(job, id, most->mm, dial, "The largest backlash," + place(*most));
        results.push_back(tight.result == JudgedAs::Fail || loose.result != JudgedAs::Fail ? std::move(tight)
                                                                                           : std::move(loose));
    }
    Judgement variation{id, "backlash variation", JudgedAs::NoLimitKnown, {}, {}};
    const double difference = most->mm - least->mm;
    const std::string read = "Backlash varies by " + lengthWords(difference) + " over " +
                             std::to_string(points.size()) + " places round the ring gear";
    if (!job.gearSet.data.limits.backlashVariationMm) {
        variation.sentence = read + ". " + missingLimit("limits.backlash_variation_mm");
    } else {
        const double limit = *job.gearSet.data.limits.backlashVariationMm;
        const bool fails = difference > limit + kSameMm;
        variation.result = fails ? JudgedAs::Fail : JudgedAs::Pass;
        variation.sentence = read + (fails ? ", more than the " : ", not more than the ") + lengthWords(limit) +
                             " allowed." + nearLimit(difference, {limit}) +
                             (fails ? " Clean the faces, check the bolts and the runout, and read again." : "");
        variation.source = sourceOf(job.gearSet, "limits.backlash_variation_mm");
    }
    results.push_back(std::move(variation));
    return results;
}

std::string percentWords(double share) { return std::to_string(static_cast<int>(std::lround(100 * share))) + " %"; }

Judgement judgePattern(const JobRecord& job, const TrialEntry& trial, Side side) {
    const std::optional<Pattern>& found = side == Side::Drive ? trial.reading->drive : trial.reading->coast;
    const GearSet gearSet = completeGearSet(job.gearSet.data);
    const AcceptanceRule& rule = gearSet.limits.acceptance;
    const std::string sideName(name(side));
    Judgement result{trial.stamp.id, sideName + " pattern", JudgedAs::Pass, {}, {}};
    const Pattern& pattern = *found;
    std::string faults;
    const auto fault = [&](bool is, const std::string& words) {
        if (is) faults += (faults.empty() ? "" : ", ") + words;
    };
    fault(pattern.toeHeel < rule.toeHeel.low, "too near the toe");
    fault(pattern.toeHeel > rule.toeHeel.high, "too near the heel");
    fault(pattern.rootTip < rule.rootTip.low, "too near the root");
    fault(pattern.rootTip > rule.rootTip.high, "too near the tip");
    fault(pattern.length < rule.length.low, "too short");
    fault(pattern.length > rule.length.high, "too long");
    const bool good = isAcceptable(pattern, rule);
    if (!good && faults.empty()) faults = "it runs off an edge";
    const std::string sigma =
        pattern.sigmaToeHeel > 0 || pattern.sigmaRootTip > 0
            ? " (+/- " + percentWords(2 * pattern.sigmaToeHeel) + " and " + percentWords(2 * pattern.sigmaRootTip) + ")"
            : "";
    result.result = good ? JudgedAs::Pass : JudgedAs::Fail;
    result.sentence = "The " + sideName + " pattern lies " + percentWords(pattern.toeHeel) +
                      " of the way from toe to heel and " + percentWords(pattern.rootTip) + " from root to tip" +
                      sigma + ": " + (good ? "where it may be left." : faults + ".");
    result.source = gearSet.given.acceptance ? sourceOf(job.gearSet, "limits.acceptance") : kPublishedRule;
    return result;
}

}  // namespace

std::string_view name(JudgedAs result) {
    switch (result) {
        case JudgedAs::Pass:
            return "pass";
        case JudgedAs::Fail:
            return "fail";
        case JudgedAs::NoLimitKnown:
            return "no-limit-known";
    }
    throw std::logic_error("a judgement without a name");
}

Judgement judgePreload(const JobRecord& job, const PreloadEntry& entry) {
    Judgement result{entry.stamp.id, "pinion preload", JudgedAs::NoLimitKnown, {}, {}};
    const bool used = job.bearings == Bearings::Used;
    const char* word = used ? "used" : "new";
    const std::string read = "The turning torque of the pinion, " + formatTorque(entry.torqueNm);
    if (entry.withOilSeal) {
        result.sentence = read +
                          ", was read with the oil seal in, whose drag counts too; the limits are for the bearings "
                          "alone. Read it without the seal.";
        return result;
    }
    const std::string field = std::string("limits.pinion_preload_nm.") + word;
    const LimitsData& given = job.gearSet.data.limits;
    const std::optional<Interval>& limits = used ? given.preloadUsedNm : given.preloadNewNm;
    if (!limits) {
        result.sentence = read + ", with " + word + " bearings. " + missingLimit(field);
        return result;
    }
    const PreloadAdvice judged = crushSleevePreload(entry.torqueNm, *limits);
    result.result = judged.verdict == PreloadVerdict::Pass ? JudgedAs::Pass : JudgedAs::Fail;
    result.sentence = text(judged.because.front());
    if (!result.sentence.empty() && result.sentence.back() == '.') result.sentence.pop_back();
    result.sentence += std::string(" (") + word + " bearings).";
    result.source = sourceOf(job.gearSet, "limits.pinion_preload_nm");
    return result;
}

std::vector<Judgement> judgeBacklash(const JobRecord& job, const BacklashEntry& entry) {
    return judgePoints(job, entry.stamp.id, entry.points, entry.dial, true);
}

Judgement judgeRunout(const JobRecord& job, const RunoutEntry& entry) {
    Judgement result{entry.stamp.id, {}, JudgedAs::NoLimitKnown, {}, {}};
    const char* place = entry.place == RunoutPlace::RingGear        ? "ring gear"
                        : entry.place == RunoutPlace::CarrierFlange ? "carrier flange"
                                                                    : "pinion flange";
    result.what = std::string(place) + " runout";
    const std::string read = std::string("Runout of the ") + place + " " + lengthWords(entry.mm);
    if (entry.place != RunoutPlace::RingGear || !job.gearSet.data.limits.ringRunoutMm) {
        result.sentence = read + ". " +
                          (entry.place == RunoutPlace::RingGear
                               ? missingLimit("limits.ring_runout_mm")
                               : "A gear-set file holds no limit for it: compare it with the maker's sheet.");
        return result;
    }
    const double limit = *job.gearSet.data.limits.ringRunoutMm;
    const bool fails = entry.mm > limit + kSameMm;
    result.result = fails ? JudgedAs::Fail : JudgedAs::Pass;
    result.sentence =
        read + (fails ? " is more than the " : " is not more than the ") + lengthWords(limit) + " allowed." +
        nearLimit(entry.mm, {limit}) +
        (fails ? " Clean the faces and read the carrier flange alone to tell which of the two it is." : "");
    result.source = sourceOf(job.gearSet, "limits.ring_runout_mm");
    return result;
}

Judgement judgeCarrier(const JobRecord& /*job*/, const CarrierEntry& entry) {
    std::string read;
    const auto add = [&](const std::string& words) { read += (read.empty() ? "" : ", ") + words; };
    const auto notches = [](double n) {
        const std::string text = std::to_string(static_cast<double>(std::lround(10 * n)) / 10);
        return (n > 0 ? "+" : "") + text.substr(0, text.find('.') + 2);
    };
    if (entry.torqueNm) add("turning torque " + formatTorque(*entry.torqueNm));
    if (entry.leftNotches) add("left adjuster " + notches(*entry.leftNotches) + " notches past zero play");
    if (entry.rightNotches) add("right adjuster " + notches(*entry.rightNotches) + " notches past zero play");
    if (entry.leftShimsMm) add("left shims " + lengthWords(*entry.leftShimsMm));
    if (entry.rightShimsMm) add("right shims " + lengthWords(*entry.rightShimsMm));
    if (entry.spreadMm) add("spread " + lengthWords(*entry.spreadMm));
    return {entry.stamp.id,
            "carrier preload",
            JudgedAs::NoLimitKnown,
            "Carrier: " + read + ". A gear-set file holds no limit for it: compare it with the maker's sheet.",
            {}};
}

std::vector<Judgement> judgeBacklash(const JobRecord& job, const TrialEntry& trial) {
    std::vector<Judgement> results;
    if (trial.backlashMm)
        results.push_back(judgeBacklashMm(job, trial.stamp.id, *trial.backlashMm, trial.dial, "Backlash"));
    if (!trial.backlashRound.empty())
        for (Judgement& one : judgePoints(job, trial.stamp.id, trial.backlashRound, trial.dial, !trial.backlashMm))
            results.push_back(std::move(one));
    return results;
}

std::vector<Judgement> judgeTrial(const JobRecord& job, const TrialEntry& trial) {
    std::vector<Judgement> results = judgeBacklash(job, trial);
    if (trial.reading) {
        if (trial.reading->drive) results.push_back(judgePattern(job, trial, Side::Drive));
        if (trial.reading->coast) results.push_back(judgePattern(job, trial, Side::Coast));
    }
    return results;
}

Judgement judgeTorque(const CheckItem& item) {
    Judgement result{item.key, "torque", JudgedAs::NoLimitKnown, {}, {}};
    if (!item.torqueNm) {
        result.sentence = item.text + ": no torque was written down.";
        return result;
    }
    const std::string read = item.text + ": " + formatBoltTorque(*item.torqueNm);
    if (!item.wantedNm) {
        result.sentence = read + ". No wanted torque was given: compare it with the maker's sheet.";
        return result;
    }
    // Wrenches and rounding of units: half a percent decides nothing.
    constexpr double kSameShare = 0.005;
    const bool low = *item.torqueNm < item.wantedNm->low * (1 - kSameShare);
    const bool high = *item.torqueNm > item.wantedNm->high * (1 + kSameShare);
    result.result = low || high ? JudgedAs::Fail : JudgedAs::Pass;
    const std::string wanted =
        item.wantedNm->low == item.wantedNm->high
            ? formatBoltTorque(item.wantedNm->low)
            : formatBoltTorque(item.wantedNm->low) + " to " + formatBoltTorque(item.wantedNm->high);
    result.sentence = read +
                      (low    ? " is less than the "
                       : high ? " is more than the "
                              : ", as wanted: ") +
                      wanted + (low || high ? " wanted." : ".");
    result.source = item.wantedFrom.empty() ? "entered by hand, no source given" : item.wantedFrom;
    return result;
}

std::vector<Judgement> judgeAll(const JobRecord& job) {
    std::vector<Judgement> all;
    const auto addMany = [&](std::vector<Judgement> some) {
        for (Judgement& one : some) all.push_back(std::move(one));
    };
    for (const RunoutEntry& entry : job.runouts)
        if (entry.stamp.counts()) all.push_back(judgeRunout(job, entry));
    for (const PreloadEntry& entry : job.preloads)
        if (entry.stamp.counts()) all.push_back(judgePreload(job, entry));
    for (const TrialEntry& trial : job.trials)
        if (trial.stamp.counts()) addMany(judgeTrial(job, trial));
    for (const BacklashEntry& entry : job.backlashes)
        if (entry.stamp.counts()) addMany(judgeBacklash(job, entry));
    for (const CarrierEntry& entry : job.carriers)
        if (entry.stamp.counts()) all.push_back(judgeCarrier(job, entry));
    for (const CheckItem& item : job.checks)
        if (item.state == CheckState::Done && (item.list == CheckList::Torque || item.torqueNm))
            all.push_back(judgeTorque(item));
    return all;
}

}  // namespace shimsight
