// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include <algorithm>
#include <array>
#include <cmath>
#include <initializer_list>
#include <string_view>

#include "job/words.h"
#include "shimsight/advice_start.h"
#include "shimsight/advice_used.h"
#include "shimsight/blank.h"
#include "shimsight/job.h"
#include "shimsight/words.h"

namespace shimsight {
namespace {

using job::kSameMm;

/// The reading with the sentence that no limit is known; `field`: that of the gear-set file which would hold it.
void withoutLimit(Judgement& result, const std::string& read, std::string field) {
    result.sentence = say("job.limit-missing", read);
    result.missingField = std::move(field);
}

/// The same of a reading that should be small; what is usual is told where it is more.
void withoutLimit(Judgement& result, const std::string& read, std::string field, double mm, double usualMm) {
    withoutLimit(result, read, std::move(field));
    if (mm > usualMm + kSameMm) result.sentence = say("job.limit-missing-unusual", read, lengthWords(usualMm));
}

/// The sentence, and where the reading lies so close to a limit that the dial's error decides, also that.
std::string besideLimit(std::string sentence, double mm, std::initializer_list<double> limits) {
    for (const double limit : limits)
        if (std::abs(mm - limit) < kDialSigmaMm + kSameMm)
            return say("job.near-limit", sentence, lengthWords(kDialSigmaMm));
    return sentence;
}

Message dialWords(DialReading dial) {
    return message(dial == DialReading::SquareToTooth  ? "job.dial-square"
                   : dial == DialReading::SquareAtHeel ? "job.dial-at-heel"
                                                       : "job.dial-along-circle");
}

/// Used gears are set to the backlash that they had; limits are for new ones. `mm`: by the sheet's dial.
Judgement judgeUsedBacklashMm(const JobRecord& job, Judgement result, double mm, const std::string& read) {
    const std::optional<TrialObservation> before = beforeOf(job);
    if (!before || !before->backlashMm) {
        result.sentence = say("job.used-backlash-unknown", read);
        return result;
    }
    const double wanted = job::bySheetsDial(job, *before->backlashMm, before->dial);
    const bool low = mm<wanted - kUsedBacklashMm, high = mm> wanted + kUsedBacklashMm;
    result.result = low || high ? JudgedAs::Fail : JudgedAs::Pass;
    if (low || high)
        result.sentence = say(low ? "job.used-backlash-low" : "job.used-backlash-high", read, lengthWords(wanted));
    else
        result.sentence = say("job.used-backlash-good", read, lengthWords(kUsedBacklashMm), lengthWords(wanted));
    result.source = say("job.used-backlash-source");
    return result;
}

/// `read`: the beginning of the sentence, which tells what was read.
Judgement judgeBacklashMm(const JobRecord& job, const std::string& id, double readMm, DialReading dial,
                          std::string read) {
    Judgement result{id, Judged::Backlash};
    if (job::isJammed(readMm)) {
        result.result = JudgedAs::Fail;
        result.sentence = say("job.jammed", read);
        result.source = say("job.jammed-source");
        return result;
    }
    const double mm = job::bySheetsDial(job, readMm, dial);
    if (const DialReading sheets = job::sheetsDial(job); dial != sheets)
        read = say("job.read-at-dial", read, dialWords(dial), lengthWords(mm), dialWords(sheets));
    if (job.build == BuildKind::UsedGears) return judgeUsedBacklashMm(job, std::move(result), mm, read);
    if (!job.gearSet.data.limits.backlashMm) {
        withoutLimit(result, read, "limits.backlash_mm");
        return result;
    }
    const Interval limits = *job.gearSet.data.limits.backlashMm;
    const bool low = mm<limits.low - kSameMm, high = mm> limits.high + kSameMm;
    result.result = low || high ? JudgedAs::Fail : JudgedAs::Pass;
    const char* where = low ? "job.backlash-low" : high ? "job.backlash-high" : "job.backlash-inside";
    result.sentence =
        besideLimit(say(where, read, lengthWords(limits.low), lengthWords(limits.high)), mm, {limits.low, limits.high});
    result.source = job::sourceOf(job.gearSet, "limits.backlash_mm");
    return result;
}

/// `differenceMm`: by the sheet's dial.
Judgement judgeVariation(const JobRecord& job, const std::string& id, double differenceMm, std::size_t places) {
    Judgement variation{id, Judged::BacklashVariation};
    const std::string read = say("job.variation-read", lengthWords(differenceMm), places);
    if (!job.gearSet.data.limits.backlashVariationMm) {
        withoutLimit(variation, read, "limits.backlash_variation_mm", differenceMm, Limits{}.backlashVariationMm);
        return variation;
    }
    const double limit = *job.gearSet.data.limits.backlashVariationMm;
    const bool fails = differenceMm > limit + kSameMm;
    variation.result = fails ? JudgedAs::Fail : JudgedAs::Pass;
    variation.sentence =
        besideLimit(say(fails ? "job.variation-too-large" : "job.variation-allowed", read, lengthWords(limit)),
                    differenceMm, {limit});
    if (fails) variation.sentence = say("job.variation-what-to-do", variation.sentence);
    variation.source = job::sourceOf(job.gearSet, "limits.backlash_variation_mm");
    return variation;
}

std::vector<Judgement> judgePoints(const JobRecord& job, const std::string& id, std::span<const BacklashPoint> points,
                                   DialReading dial, bool alsoMean) {
    std::vector<Judgement> results;
    const auto [least, most] = std::minmax_element(
        points.begin(), points.end(), [](const BacklashPoint& a, const BacklashPoint& b) { return a.mm < b.mm; });
    // The tightest place counts at the lower limit, the loosest at the upper one; the worse of the two is told.
    if (points.size() == 1) {
        if (alsoMean)
            results.push_back(judgeBacklashMm(job, id, points.front().mm, dial,
                                              say("job.backlash-read", lengthWords(points.front().mm))));
        return results;
    }
    if (alsoMean) {
        const auto read = [](const char* key, const BacklashPoint& point) {
            return say(key, std::lround(point.positionDeg), lengthWords(point.mm));
        };
        Judgement tight = judgeBacklashMm(job, id, least->mm, dial, read("job.smallest-backlash-read", *least));
        Judgement loose = judgeBacklashMm(job, id, most->mm, dial, read("job.largest-backlash-read", *most));
        results.push_back(tight.result == JudgedAs::Fail || loose.result != JudgedAs::Fail ? std::move(tight)
                                                                                           : std::move(loose));
    }
    results.push_back(judgeVariation(job, id, job::bySheetsDial(job, most->mm - least->mm, dial), points.size()));
    return results;
}

/// What is wrong with a pattern that may not be left, at least one clause.
std::vector<std::string> patternFaults(const Pattern& pattern, const AcceptanceRule& rule) {
    std::vector<std::string> faults;
    const auto fault = [&](bool is, const char* key) {
        if (is) faults.push_back(say(key));
    };
    fault(pattern.toeHeel < rule.toeHeel.low, "job.pattern-too-near-toe");
    fault(pattern.toeHeel > rule.toeHeel.high, "job.pattern-too-near-heel");
    fault(pattern.rootTip < rule.rootTip.low, "job.pattern-too-near-root");
    fault(pattern.rootTip > rule.rootTip.high, "job.pattern-too-near-tip");
    fault(pattern.length < rule.length.low, "job.pattern-too-short");
    fault(pattern.length > rule.length.high, "job.pattern-too-long");
    fault(faults.empty(), "job.pattern-off-edge");
    return faults;
}

std::string liesWords(Side side, const Pattern& pattern, const std::string& verdict) {
    const Message sideName = wordFor(side);
    const std::string toeHeel = percent(pattern.toeHeel), rootTip = percent(pattern.rootTip);
    if (pattern.sigmaToeHeel > 0 || pattern.sigmaRootTip > 0)
        return say("job.pattern-lies-within", sideName, toeHeel, rootTip, percent(2 * pattern.sigmaToeHeel),
                   percent(2 * pattern.sigmaRootTip), verdict);
    return say("job.pattern-lies", sideName, toeHeel, rootTip, verdict);
}

/// Used gears go back to the marks that they had; the rule is for new ones.
Judgement judgeUsedPattern(const JobRecord& job, Judgement result, Side side, const Pattern& pattern) {
    const std::optional<AcceptanceRule> rule = patternRuleOf(job, side);
    if (!rule) {
        result.sentence = liesWords(side, pattern, say("job.used-pattern-unknown"));
        return result;
    }
    const bool good = isAcceptable(pattern, *rule);
    result.result = good ? JudgedAs::Pass : JudgedAs::Fail;
    // The middle of the rule is where the mark was.
    result.sentence =
        liesWords(side, pattern,
                  say(good ? "job.used-pattern-good" : "job.used-pattern-off", percent(rule->toeHeel.middle()),
                      percent(rule->rootTip.middle()), percent(kUsedPatternShare)));
    result.source = say("job.used-backlash-source");
    return result;
}

Judgement judgePattern(const JobRecord& job, const TrialEntry& trial, Side side) {
    const std::optional<Pattern>& found = side == Side::Drive ? trial.measurement->drive : trial.measurement->coast;
    const GearSet gearSet = completeGearSet(job.gearSet.data);
    const AcceptanceRule& rule = gearSet.limits.acceptance;
    Judgement result{trial.stamp.id, side == Side::Drive ? Judged::DrivePattern : Judged::CoastPattern};
    const Pattern& pattern = *found;
    if (job.build == BuildKind::UsedGears) return judgeUsedPattern(job, std::move(result), side, pattern);
    const bool good = isAcceptable(pattern, rule);
    result.result = good ? JudgedAs::Pass : JudgedAs::Fail;
    const std::string verdict = good ? say("job.pattern-may-be-left")
                                     : say("job.pattern-faults", job::joined(patternFaults(pattern, rule), ", "));
    result.sentence = liesWords(side, pattern, verdict);
    result.source =
        gearSet.given.acceptance ? job::sourceOf(job.gearSet, "limits.acceptance") : say("job.published-rule");
    return result;
}

}  // namespace

namespace {

/// Fields of the gear-set file that its lines of sources name, and what they are called: id of an entry.
struct FieldWords {
    std::string_view field;
    const char* said;
};
constexpr auto kFieldWords = std::to_array<FieldWords>({
    {"limits.acceptance", "job.field-acceptance"},
    {"limits.backlash_dial", "job.field-backlash-dial"},
    {"limits.backlash_mm", "job.field-backlash"},
    {"limits.backlash_variation_mm", "job.field-backlash-variation"},
    {"limits.carrier_flange_runout_mm", "job.field-carrier-flange-runout"},
    {"limits.carrier_preload_nm", "job.field-carrier-preload"},
    {"limits.carrier_spread_mm", "job.field-carrier-spread"},
    {"limits.pinion_flange_runout_mm", "job.field-pinion-flange-runout"},
    {"limits.pinion_preload_nm", "job.field-pinion-preload"},
    {"limits.pinion_preload_with_seal_nm", "job.field-pinion-preload-with-seal"},
    {"limits.ring_runout_mm", "job.field-ring-runout"},
    {"limits.torques_nm", "job.field-torques"},
    {"limits.total_turning_nm", "job.field-total-turning"},
    {"limits.total_turning_with_seal_nm", "job.field-total-turning-with-seal"},
});

/// A line of sources names the fields that it speaks of; people are told what these are.
std::string inWords(const std::string& line) {
    std::string told;
    for (std::size_t at = 0; at < line.size();) {
        const auto named = std::find_if(kFieldWords.begin(), kFieldWords.end(), [&](const FieldWords& one) {
            return line.compare(at, one.field.size(), one.field) == 0;
        });
        if (named == kFieldWords.end()) {
            told += line[at++];
        } else {
            told += say(named->said);
            at += named->field.size();
        }
    }
    return told;
}

}  // namespace

std::optional<AcceptanceRule> patternRuleOf(const JobRecord& job, Side side) {
    if (job.build != BuildKind::UsedGears) return completeGearSet(job.gearSet.data).limits.acceptance;
    const std::optional<TrialObservation> before = beforeOf(job);
    const std::optional<Pattern> none, &was = !before ? none : side == Side::Drive ? before->drive : before->coast;
    if (!was) return std::nullopt;
    const auto about = [](double middle) { return Interval{middle - kUsedPatternShare, middle + kUsedPatternShare}; };
    AcceptanceRule rule;
    rule.toeHeel = about(was->toeHeel);
    rule.rootTip = about(was->rootTip);
    // How long it is and which edge it reaches is the wear's affair.
    rule.length = {0, 1};
    rule.mayRunOff = true;
    return rule;
}

std::string job::sourceOf(const JobGearSet& gearSet, const std::string& field) {
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
        if (!found.empty()) return say("job.source-of-limit", inWords(found));
    }
    return say("job.source-not-said");
}

std::string wantedSource(const JobRecord& job, const CheckItem& item) {
    return item.wantedByGearSet ? job::sourceOf(job.gearSet, job::kTorquesField) : item.wantedFrom;
}

DialReading job::sheetsDial(const JobRecord& job) {
    return job.gearSet.data.limits.dial.value_or(DialReading::SquareToTooth);
}

double job::bySheetsDial(const JobRecord& job, double readMm, DialReading dial) {
    const DialReading sheets = sheetsDial(job);
    if (dial == sheets) return readMm;
    const Blank blank = designBlank(completeGearSet(job.gearSet.data));
    return readMm * toSquareReading(blank, dial) / toSquareReading(blank, sheets);
}

std::string_view name(Judged what) {
    switch (what) {
        case Judged::PinionPreload:
            return "pinion preload";
        case Judged::Backlash:
            return "backlash";
        case Judged::BacklashVariation:
            return "backlash variation";
        case Judged::RingGearRunout:
            return "ring gear runout";
        case Judged::CarrierFlangeRunout:
            return "carrier flange runout";
        case Judged::PinionFlangeRunout:
            return "pinion flange runout";
        case Judged::DrivePattern:
            return "drive pattern";
        case Judged::CoastPattern:
            return "coast pattern";
        case Judged::CarrierPreload:
            return "carrier preload";
        case Judged::Torque:
            return "torque";
    }
    throw std::logic_error("something judged without a name");
}

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

namespace {

std::optional<Interval> ofBearings(const JobRecord& job, const TurningLimits& limits) {
    return job.bearings == Bearings::Used ? limits.usedNm : limits.newNm;
}

/// "limits.total_turning_nm.new".
std::string fieldOf(const JobRecord& job, const char* object) {
    return std::string("limits.") + object + (job.bearings == Bearings::Used ? ".used" : ".new");
}

/// A turning torque inside, above or below limits, with the bearings it is for.
void judgeTurning(const JobRecord& job, double nm, const Interval& limits, Judgement& result) {
    const PreloadAdvice judged = crushSleevePreload(nm, limits);
    result.result = judged.verdict == PreloadVerdict::Pass ? JudgedAs::Pass : JudgedAs::Fail;
    result.sentence =
        say(job.bearings == Bearings::Used ? "job.with-used-bearings" : "job.with-new-bearings", judged.judged);
    if (!judged.nearLimit.empty()) result.sentence = say("job.two-sentences", result.sentence, judged.nearLimit);
}

/// The seal's drag is in the reading. Where the sheet gives no figure with the seal, one thing can be told: a reading
/// below the figure without it is too loose, for the bearings alone turn more freely still.
Judgement judgeWithSeal(const JobRecord& job, const PreloadEntry& entry) {
    Judgement result{entry.stamp.id, Judged::PinionPreload};
    const LimitsData& given = job.gearSet.data.limits;
    if (const std::optional<Interval> limits = ofBearings(job, given.preloadWithSeal)) {
        judgeTurning(job, entry.torqueNm, *limits, result);
        result.sentence = say("job.read-with-seal", result.sentence);
        result.source = job::sourceOf(job.gearSet, "limits.pinion_preload_with_seal_nm");
        return result;
    }
    const std::string read = formatTorque(entry.torqueNm);
    const std::optional<Interval> bare = ofBearings(job, {given.preloadNewNm, given.preloadUsedNm});
    if (!bare) {
        result.sentence = say("job.preload-with-seal-no-limit", read);
        result.missingField = fieldOf(job, "pinion_preload_with_seal_nm");
    } else if (entry.torqueNm < bare->low) {
        result.result = JudgedAs::Fail;
        result.sentence = say("job.preload-with-seal-too-loose", read, formatTorque(bare->low));
        result.source = job::sourceOf(job.gearSet, "limits.pinion_preload_nm");
    } else {
        result.sentence = say("job.preload-with-seal", read, formatTorque(bare->low), formatTorque(bare->high));
    }
    return result;
}

}  // namespace

Judgement judgePreload(const JobRecord& job, const PreloadEntry& entry) {
    Judgement result{entry.stamp.id, Judged::PinionPreload};
    const bool used = job.bearings == Bearings::Used;
    if (entry.forTrial) {
        result.sentence = say("job.preload-for-trial", formatTorque(entry.torqueNm));
        return result;
    }
    if (entry.withOilSeal) return judgeWithSeal(job, entry);
    const LimitsData& given = job.gearSet.data.limits;
    const std::optional<Interval>& limits = used ? given.preloadUsedNm : given.preloadNewNm;
    if (!limits) {
        withoutLimit(result, say(used ? "job.preload-read-used" : "job.preload-read-new", formatTorque(entry.torqueNm)),
                     fieldOf(job, "pinion_preload_nm"));
        return result;
    }
    judgeTurning(job, entry.torqueNm, *limits, result);
    result.source = job::sourceOf(job.gearSet, "limits.pinion_preload_nm");
    return result;
}

std::vector<Judgement> judgeBacklash(const JobRecord& job, const BacklashEntry& entry) {
    return judgePoints(job, entry.stamp.id, entry.points, entry.dial, true);
}

namespace {

Judgement judgeFlange(const JobRecord& job, const RunoutEntry& entry) {
    const bool carrier = entry.place == RunoutPlace::CarrierFlange;
    const LimitsData& given = job.gearSet.data.limits;
    const std::string field = carrier ? "limits.carrier_flange_runout_mm" : "limits.pinion_flange_runout_mm";
    const std::optional<double>& limit = carrier ? given.carrierFlangeRunoutMm : given.pinionFlangeRunoutMm;
    Judgement result{entry.stamp.id, carrier ? Judged::CarrierFlangeRunout : Judged::PinionFlangeRunout};
    const std::string read = say(carrier ? "job.carrier-runout-read" : "job.pinion-runout-read", lengthWords(entry.mm));
    if (!limit) {
        withoutLimit(result, read, field);
        return result;
    }
    const bool fails = entry.mm > *limit + kSameMm;
    result.result = fails ? JudgedAs::Fail : JudgedAs::Pass;
    result.sentence =
        besideLimit(say(fails ? "job.ring-runout-too-large" : "job.ring-runout-allowed", read, lengthWords(*limit)),
                    entry.mm, {*limit});
    result.source = job::sourceOf(job.gearSet, field);
    return result;
}

}  // namespace

Judgement judgeRunout(const JobRecord& job, const RunoutEntry& entry) {
    if (entry.place != RunoutPlace::RingGear) return judgeFlange(job, entry);
    Judgement result{entry.stamp.id, Judged::RingGearRunout};
    const std::string read = say("job.ring-runout-read", lengthWords(entry.mm));
    if (!job.gearSet.data.limits.ringRunoutMm) {
        withoutLimit(result, read, "limits.ring_runout_mm", entry.mm, Limits{}.ringRunoutMm);
        return result;
    }
    const double limit = *job.gearSet.data.limits.ringRunoutMm;
    const bool fails = entry.mm > limit + kSameMm;
    result.result = fails ? JudgedAs::Fail : JudgedAs::Pass;
    result.sentence =
        besideLimit(say(fails ? "job.ring-runout-too-large" : "job.ring-runout-allowed", read, lengthWords(limit)),
                    entry.mm, {limit});
    if (fails) result.sentence = say("job.ring-runout-what-to-do", result.sentence);
    result.source = job::sourceOf(job.gearSet, "limits.ring_runout_mm");
    return result;
}

namespace {

/// What was entered of the carrier, in words.
std::string carrierWords(const CarrierEntry& entry) {
    std::vector<std::string> parts;
    const auto add = [&](const char* key, const std::string& value) { parts.push_back(say(key, value)); };
    const auto notches = [](double n) {
        const std::string text = std::to_string(static_cast<double>(std::lround(10 * n)) / 10);
        return (n > 0 ? "+" : "") + text.substr(0, text.find('.') + 2);
    };
    if (entry.torqueNm)
        add(entry.withOilSeal ? "job.carrier-torque-with-seal" : "job.carrier-torque", formatTorque(*entry.torqueNm));
    if (entry.leftNotches) add("job.left-adjuster", notches(*entry.leftNotches));
    if (entry.rightNotches) add("job.right-adjuster", notches(*entry.rightNotches));
    if (entry.leftShimsMm) add("job.left-shims", lengthWords(*entry.leftShimsMm));
    if (entry.rightShimsMm) add("job.right-shims", lengthWords(*entry.rightShimsMm));
    if (entry.spreadMm) add("job.spread", lengthWords(*entry.spreadMm));
    return say("job.carrier-read", job::joined(parts, ", "));
}

/// The pinion's own torque under which the carrier went in: the last that was read in the same way; null: none.
const PreloadEntry* pinionAlone(const JobRecord& job, const CarrierEntry& entry) {
    const PreloadEntry* found = nullptr;
    for (const PreloadEntry& preload : job.preloads)
        if (preload.stamp.counts() && preload.withOilSeal == entry.withOilSeal &&
            secondsOf(preload.stamp.at) <= secondsOf(entry.stamp.at))
            found = &preload;
    return found;
}

/// One figure of the carrier against its limit.
void judgePart(Judgement& result, const std::string& sentence, bool fails, const std::string& source) {
    result.sentence = say("job.two-sentences", result.sentence, sentence);
    if (fails || result.result == JudgedAs::NoLimitKnown) {
        result.result = fails ? JudgedAs::Fail : JudgedAs::Pass;
        result.source = source;
    }
}

void judgeTotal(const JobRecord& job, const CarrierEntry& entry, Judgement& result) {
    const LimitsData& given = job.gearSet.data.limits;
    const double total = *entry.torqueNm;
    if (const std::optional<Interval> limits = ofBearings(job, entry.withOilSeal ? given.totalWithSeal : given.total)) {
        const bool low = total<limits->low, high = total> limits->high;
        judgePart(result,
                  say(low    ? "job.total-low"
                      : high ? "job.total-high"
                             : "job.total-inside",
                      formatTorque(total), formatTorque(limits->low), formatTorque(limits->high)),
                  low || high,
                  job::sourceOf(job.gearSet,
                                entry.withOilSeal ? "limits.total_turning_with_seal_nm" : "limits.total_turning_nm"));
    }
    const std::optional<Interval> added = ofBearings(job, given.carrierPreload);
    const PreloadEntry* alone = pinionAlone(job, entry);
    if (!added || alone == nullptr) return;
    const double more = std::max(0.0, total - alone->torqueNm);
    const bool low = more<added->low, high = more> added->high;
    judgePart(result,
              say(low    ? "job.carrier-adds-low"
                  : high ? "job.carrier-adds-high"
                         : "job.carrier-adds-inside",
                  formatTorque(more), formatTorque(added->low), formatTorque(added->high)),
              low || high, job::sourceOf(job.gearSet, "limits.carrier_preload_nm"));
}

}  // namespace

Judgement judgeCarrier(const JobRecord& job, const CarrierEntry& entry) {
    Judgement result{entry.stamp.id, Judged::CarrierPreload};
    const std::string read = carrierWords(entry);
    result.sentence = say("job.sentence", read);
    if (entry.torqueNm) judgeTotal(job, entry, result);
    if (const std::optional<Interval>& limits = job.gearSet.data.limits.carrierSpreadMm; limits && entry.spreadMm) {
        const bool low = *entry.spreadMm<limits->low - kSameMm, high = *entry.spreadMm> limits->high + kSameMm;
        judgePart(result,
                  say(low    ? "job.spread-low"
                      : high ? "job.spread-high"
                             : "job.spread-inside",
                      lengthWords(*entry.spreadMm), lengthWords(limits->low), lengthWords(limits->high)),
                  low || high, job::sourceOf(job.gearSet, "limits.carrier_spread_mm"));
    }
    if (result.result == JudgedAs::NoLimitKnown) result.sentence = say("job.carrier-limit-missing", read);
    return result;
}

std::vector<Judgement> judgeBacklash(const JobRecord& job, const TrialEntry& trial) {
    std::vector<Judgement> results;
    if (trial.backlashMm)
        results.push_back(judgeBacklashMm(job, trial.stamp.id, *trial.backlashMm, trial.dial,
                                          say("job.backlash-read", lengthWords(*trial.backlashMm))));
    if (!trial.backlashRound.empty())
        for (Judgement& one : judgePoints(job, trial.stamp.id, trial.backlashRound, trial.dial, !trial.backlashMm))
            results.push_back(std::move(one));
    return results;
}

std::vector<Judgement> judgeTrial(const JobRecord& job, const TrialEntry& trial) {
    std::vector<Judgement> results = judgeBacklash(job, trial);
    if (trial.measurement) {
        if (trial.measurement->drive) results.push_back(judgePattern(job, trial, Side::Drive));
        if (trial.measurement->coast) results.push_back(judgePattern(job, trial, Side::Coast));
    }
    return results;
}

Judgement judgeTorque(const JobRecord& job, const CheckItem& item) {
    Judgement result{item.key, Judged::Torque};
    if (!item.torqueNm) {
        result.sentence = say("job.torque-missing", item.text);
        return result;
    }
    const std::string read = formatBoltTorque(*item.torqueNm);
    if (!item.wantedNm) {
        result.sentence = say("job.torque-wanted-unknown", item.text, read);
        if (const std::optional<Message> odd = oddTorque(item, *item.torqueNm))
            result.sentence = say("job.two-sentences", result.sentence, *odd);
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
            : say("job.torque-from-to", formatBoltTorque(item.wantedNm->low), formatBoltTorque(item.wantedNm->high));
    result.sentence = say(low    ? "job.torque-low"
                          : high ? "job.torque-high"
                                 : "job.torque-as-wanted",
                          item.text, read, wanted);
    result.source = wantedSource(job, item);
    if (result.source.empty()) result.source = say("job.torque-source-unknown");
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
            all.push_back(judgeTorque(job, item));
    return all;
}

}  // namespace shimsight
