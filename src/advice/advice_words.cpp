// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "shimsight/advice_words.h"

#include <algorithm>
#include <cmath>
#include <utility>

#include "advice/shims.h"
#include "advice/words.h"
#include "shimsight/core.h"

namespace shimsight {

using namespace advice;

namespace {

/// A ring gear move under half a step is left to the dial.
constexpr double kNoRingMoveMm = 0.5 * kFreeStepMm;
/// Targets this near to a limit count as on it.
constexpr double kOnLimitMm = 1e-6;
/// Certainty by a chance alone (certaintyOf).
constexpr double kSureChance = 0.80, kLikelyChance = 0.50;

bool shimStays(const AdviceShim& shim) { return std::abs(shim.thicknessChangeMm) < kNoMoveMm; }

bool backlashStays(const Advice& advice) {
    return advice.backlashNowMm && std::abs(advice.backlashTargetMm - *advice.backlashNowMm) < kNoRingMoveMm;
}

/// What is done to the pinion, without a capital and a full stop.
Message shimClause(const AdviceShim& shim) {
    if (shimStays(shim)) return message("advice.leave-pinion-shims");
    if (!shim.placeKnown)
        return message(shim.depthChangeMm > 0 ? "advice.move-pinion-deeper" : "advice.move-pinion-away",
                       lengthWords(shim.depthChangeMm));
    return message(shim.thicknessChangeMm > 0 ? "advice.add-shim" : "advice.take-out-shim",
                   lengthWords(shim.thicknessChangeMm), wordFor(shim.where));
}

/// The same in fewer words.
Message shortShimClause(const AdviceShim& shim) {
    if (shimStays(shim) || !shim.placeKnown) return shimClause(shim);
    return message(shim.thicknessChangeMm > 0 ? "advice.add-at" : "advice.take-out-at",
                   lengthWords(shim.thicknessChangeMm), wordFor(shim.where));
}

/// The whole move in one clause.
Message moveClause(const Advice& advice) {
    if (advice.changesNothing) return message("advice.change-nothing");
    const std::string backlash = lengthWords(advice.backlashTargetMm);
    if (shimStays(advice.shim)) return message("advice.set-backlash-alone", backlash);
    return message("advice.shim-then-backlash", shimClause(advice.shim), backlash);
}

/// Whether anything was read that a move could come from.
bool somethingRead(const Advice& advice) {
    return advice.expectedDrive || advice.expectedCoast || !advice.changesNothing;
}

std::string usualLimits(const GearSet& gearSet) {
    const Interval& limits = gearSet.limits.backlashMm;
    return say("advice.usual-limits", lengthWords(limits.low), lengthWords(limits.high));
}

std::string shimStep(const Advice& advice) {
    const AdviceShim& shim = advice.shim;
    std::string move = shim.placeKnown ? directionWords(shim.depthChangeMm)
                                       : say("advice.where-do-shims-sit", shimInEachPlace(shim.depthChangeMm));
    if (shim.stackMm.empty()) return move;
    std::string stack;
    double sum = 0;
    for (const double mm : shim.stackMm) {
        stack += (stack.empty() ? "" : " + ") + lengthWords(mm);
        sum += mm;
    }
    return shim.stackMm.size() > 1 ? say("advice.fit-shims", move, stack, lengthWords(sum))
                                   : say("advice.fit-one-shim", move, stack);
}

/// What to ask where it is not known what sets the preload, or where the spacer stands.
std::string askSpacer(const Advice& advice, const GearSet& gearSet) {
    const Message asMuch = shimVerb(advice.preloadShim.thicknessChangeMm),
                  sleeve = message("advice.sleeve-until-right");
    if (!advice.shim.placeKnown) return say("advice.preload-place-not-known", asMuch, sleeve);
    if (advice.shim.where == PinionShim::UnderBearingCup) return say("advice.preload-cup-ask", asMuch, sleeve);
    if (gearSet.build.preloadSpacer == PreloadSpacer::SolidSpacer) return say("advice.preload-spacer-ask-seat", asMuch);
    return say("advice.preload-head-ask", asMuch, sleeve);
}

/// The shims beside the spacer, and how each trial is rolled.
std::string preloadStep(const Advice& advice, const GearSet& gearSet) {
    const double added = advice.preloadShim.thicknessChangeMm;
    switch (advice.preloadShim.effect) {
        case PreloadEffect::None:
            return say(advice.shim.where == PinionShim::UnderPinionSupport ? "advice.preload-support"
                                                                           : "advice.preload-on-bearing");
        case PreloadEffect::Follows:
            if (advice.shim.where == PinionShim::UnderBearingCup)
                return say(added > 0 ? "advice.preload-cup-tighter" : "advice.preload-cup-looser", shimVerb(added));
            return say(added > 0 ? "advice.preload-shoulder-tighter" : "advice.preload-shoulder-looser",
                       shimVerb(added));
        case PreloadEffect::Sleeve:
            return say("advice.preload-sleeve", message("advice.sleeve-until-right"));
        case PreloadEffect::AskSpacer:
            break;
    }
    return askSpacer(advice, gearSet);
}

std::string backlashStep(const Advice& advice, const GearSet& gearSet) {
    const Interval& limits = gearSet.limits.backlashMm;
    const std::string low = lengthWords(limits.low), high = lengthWords(limits.high);
    const Message set = message(backlashStays(advice) ? "advice.set-backlash-again" : "advice.set-backlash",
                                lengthWords(advice.backlashTargetMm));
    const bool inside = advice.limitsKnown && limits.low - kOnLimitMm <= advice.backlashTargetMm &&
                        advice.backlashTargetMm <= limits.high + kOnLimitMm;
    std::string step;
    if (advice.backlashNowMm && !backlashStays(advice)) {
        const std::string now = lengthWords(*advice.backlashNowMm);
        step = inside ? say("advice.backlash-inside-now", set, low, high, now) : say("advice.backlash-now", set, now);
    } else {
        step = inside ? say("advice.backlash-inside", set, low, high) : say("advice.backlash-plain", set);
    }
    return advice.limitsKnown ? step : text(twoSentences(step, usualLimits(gearSet)));
}

/// Notches of one adjuster in words.
Message notches(int count) {
    return message(std::abs(count) == 1 ? "advice.one-notch" : "advice.notches", std::abs(count));
}

/// What is done to threaded adjusters.
Message adjusterClause(const Advice& advice, const GearSet& gearSet) {
    const bool toward = advice.ringGearMoveMm > 0, pitchKnown = gearSet.given.adjusterPitch;
    if (!advice.adjusters) return message(toward ? "advice.adjusters-toward-by-dial" : "advice.adjusters-away-by-dial");
    if (advice.adjusters->backSideNotches == 0)
        return message(pitchKnown ? "advice.under-half-notch" : "advice.under-half-notch-assumed");
    const Message by = notches(advice.adjusters->backSideNotches);
    if (pitchKnown) return message(toward ? "advice.adjusters-toward" : "advice.adjusters-away", by);
    return message(toward ? "advice.adjusters-toward-assumed" : "advice.adjusters-away-assumed", by);
}

/// How the side shims are changed, by sizes that there are.
Message sideShimClause(const Advice& advice, const Build& build, const Message& shims) {
    const bool toward = advice.ringGearMoveMm > 0;
    const double wanted = std::abs(advice.ringGearMoveMm);
    if (build.sideShimsMm.empty())
        return message(toward ? "advice.side-shims-toward" : "advice.side-shims-away", lengthWords(wanted), shims);
    const double made = nearestSideMove(build.sideShimsMm, wanted);
    if (made == 0) return message("advice.side-shims-none-so-small");
    return message(toward ? "advice.side-shims-on-hand-toward" : "advice.side-shims-on-hand-away", lengthWords(made),
                   shims);
}

/// How the ring gear is moved, by the sides of the gear.
Message ringClause(const Advice& advice, const GearSet& gearSet) {
    const bool toward = advice.ringGearMoveMm > 0;
    const std::string by = lengthWords(advice.ringGearMoveMm);
    if (!gearSet.given.carrier)
        return message(toward ? "advice.either-carrier-toward" : "advice.either-carrier-away", by);
    const CarrierSetting carrier = gearSet.build.carrier;
    if (carrier == CarrierSetting::ThreadedAdjusters) return adjusterClause(advice, gearSet);
    return sideShimClause(
        advice, gearSet.build,
        message(carrier == CarrierSetting::CarrierShims ? "advice.carrier-shims" : "advice.outboard-shims"));
}

std::string ringStep(const Advice& advice, const GearSet& gearSet) {
    const double move = advice.ringGearMoveMm;
    if (std::abs(move) < kNoRingMoveMm) return say("advice.ring-stays");
    const Message step =
        message(move > 0 ? "advice.ring-toward" : "advice.ring-away", lengthWords(move), ringClause(advice, gearSet));
    const Build& build = gearSet.build;
    if (gearSet.given.carrier && build.carrier == CarrierSetting::ThreadedAdjusters && build.pinionPosition &&
        gearSet.offsetMm > 0)
        return say(backAtLeft(gearSet) ? "advice.back-at-left" : "advice.back-at-right", step);
    return text(step);
}

void addMove(const Advice& advice, const GearSet& gearSet, std::vector<std::string>& steps) {
    if (!hasMove(advice)) return;
    if (!shimStays(advice.shim)) {
        steps.push_back(shimStep(advice));
        steps.push_back(preloadStep(advice, gearSet));
    }
    steps.push_back(backlashStep(advice, gearSet));
    steps.push_back(ringStep(advice, gearSet));
}

/// Whether the stop leaves no move to tell.
bool hasNoNumbers(const Advice& advice) {
    return advice.stop && (advice.stop->kind == StopKind::Jammed || advice.stop->kind == StopKind::WearNotKnown);
}

std::string howSureWords(const Advice& advice) {
    if (hasNoNumbers(advice)) return say("advice.no-numbers");
    if (!somethingRead(advice)) return say("advice.no-mark-no-depth");
    const std::string sure = certaintyWords(advice), asIs = chanceWords(advice.chanceAcceptableNow);
    const Message error = depthErrorOf(advice.depthErrorMm), between = depthBetween(advice.depthErrorMm);
    if (hasMove(advice))
        return say("advice.how-sure-of-move", sure, chanceWords(advice.chanceAcceptableNext), asIs, error, between);
    return say("advice.how-sure-as-is", sure, asIs, error, between);
}

/// What to do once the reason of a stop is gone.
void addAfterStop(const Advice& advice, const GearSet& gearSet, std::vector<std::string>& steps) {
    const Interval& limits = gearSet.limits.backlashMm;
    if (advice.stop->kind == StopKind::Jammed) {
        steps.push_back(say(advice.limitsKnown ? "advice.once-free-limits" : "advice.once-free-usual",
                            lengthWords(limits.low), lengthWords(limits.high)));
    } else if (hasMove(advice)) {
        steps.push_back(say("advice.once-put-right", moveClause(advice)));
        if (!advice.shim.placeKnown && !shimStays(advice.shim))
            steps.push_back(shimInEachPlace(advice.shim.depthChangeMm));
        if (!advice.limitsKnown) steps.push_back(usualLimits(gearSet));
    }
}

}  // namespace

bool hasMove(const Advice& advice) {
    return !hasNoNumbers(advice) && advice.verdict != Verdict::Accept && !advice.changesNothing;
}

std::string certaintyWords(const Advice& advice) {
    if (advice.stop) return say("advice.certainty-stop");
    switch (advice.certainty) {
        case Certainty::Sure:
            return say("advice.certainty-sure");
        case Certainty::Likely:
            return say("advice.certainty-likely");
        case Certainty::NotSure:
            break;
    }
    return say(advice.verdict == Verdict::Change ? "advice.certainty-try" : "advice.certainty-not-sure");
}

Certainty certaintyOf(double chance) {
    return chance >= kSureChance ? Certainty::Sure : chance >= kLikelyChance ? Certainty::Likely : Certainty::NotSure;
}

std::string placeAlong(const Pattern& pattern) {
    constexpr double kStillGood = 0.30;
    const LengthPosition position = pattern.lengthPosition();
    if (position == LengthPosition::Toe && pattern.toeHeel >= kStillGood) return say("advice.toe-side");
    return say(position == LengthPosition::Toe    ? "common.toe"
               : position == LengthPosition::Heel ? "common.heel"
                                                  : "common.centre");
}

std::string edgesOff(const RunsOff& off) {
    std::string edges;
    for (const auto& [runs, word] : {std::pair{off.toe, "common.toe"},
                                     {off.heel, "common.heel"},
                                     {off.tip, "common.tip"},
                                     {off.root, "common.root"}})
        if (runs) edges += (edges.empty() ? "" : ", ") + say(word);
    return edges;
}

std::string placeWords(PinionShim place) { return text(wordFor(place)); }

std::string shimInEachPlace(double depthChangeMm) {
    return say("advice.each-place", shimVerb(depthChangeMm), shimVerb(-depthChangeMm));
}

std::string directionWords(double depthChangeMm) {
    if (std::abs(depthChangeMm) < kNoMoveMm) return {};
    return say(depthChangeMm > 0 ? "advice.moves-deeper" : "advice.moves-away");
}

Message advice::shimVerb(double thicknessChangeMm) {
    return message(thicknessChangeMm > 0 ? "advice.add" : "advice.take-out", lengthWords(thicknessChangeMm));
}

Message advice::depthErrorOf(const Estimate& error) {
    const double best = stepped(error.best);
    if (best == 0) return message("advice.none-found");
    return message(best > 0 ? "advice.too-deep" : "advice.too-shallow", lengthWords(best));
}

Message advice::depthBetween(const Estimate& error) {
    const double low = stepped(error.low90), high = stepped(error.high90);
    if (low >= 0) return message("advice.between-deep-and-deep", lengthWords(low), lengthWords(high));
    if (high <= 0) return message("advice.between-shallow-and-shallow", lengthWords(high), lengthWords(low));
    return message("advice.between-shallow-and-deep", lengthWords(low), lengthWords(high));
}

std::string depthErrorWords(const Estimate& error) { return text(depthErrorOf(error)); }

std::string depthIntervalWords(const Estimate& error) {
    const double low = stepped(error.low90), high = stepped(error.high90);
    if (low >= 0) return say("advice.from-deep-to-deep", lengthWords(low), lengthWords(high));
    if (high <= 0) return say("advice.from-shallow-to-shallow", lengthWords(high), lengthWords(low));
    return say("advice.from-shallow-to-deep", lengthWords(low), lengthWords(high));
}

std::string stopLead(StopKind kind) {
    switch (kind) {
        case StopKind::Jammed:
            return say("advice.stop-jammed");
        case StopKind::Runout:
            return say("advice.stop-runout");
        case StopKind::UnevenBacklash:
            return say("advice.stop-uneven-backlash");
        case StopKind::TightOrLoosePlace:
            return say("advice.stop-place-outside");
        case StopKind::WearNotKnown:
            break;
    }
    return say("advice.stop-wear-not-known");
}

namespace {

std::string leadOfLeaving(Certainty certainty) {
    switch (certainty) {
        case Certainty::Sure:
            return say("advice.leave-it");
        case Certainty::Likely:
            return say("advice.leave-it-likely");
        case Certainty::NotSure:
            break;
    }
    return say("advice.leave-it-for-now");
}

std::string leadOfMove(const Advice& advice) {
    const Message move = moveClause(advice);
    switch (advice.certainty) {
        case Certainty::Sure:
            return capital(say("advice.move-sure", move));
        case Certainty::Likely:
            return say("advice.move-likely", move);
        case Certainty::NotSure:
            break;
    }
    return say("advice.move-not-sure", move);
}

std::string shortStop(StopKind kind) {
    switch (kind) {
        case StopKind::Jammed:
            return say("advice.short-jammed");
        case StopKind::Runout:
            return say("advice.short-runout");
        case StopKind::UnevenBacklash:
            return say("advice.short-uneven-backlash");
        case StopKind::TightOrLoosePlace:
            return say("advice.short-place-outside");
        case StopKind::WearNotKnown:
            break;
    }
    return say("advice.short-wear-not-known");
}

std::string shortMove(Certainty certainty, const Message& move) {
    switch (certainty) {
        case Certainty::Sure:
            return text(move);
        case Certainty::Likely:
            return say("advice.short-likely", move);
        case Certainty::NotSure:
            break;
    }
    return say("advice.short-not-sure", move);
}

Message moveInShort(const Advice& advice) {
    if (advice.changesNothing) return message("advice.short-change-nothing");
    return message("advice.short-move", shortShimClause(advice.shim), lengthWords(advice.backlashTargetMm));
}

}  // namespace

std::string leadOf(const Advice& advice) {
    if (advice.stop) return stopLead(advice.stop->kind);
    switch (advice.verdict) {
        case Verdict::Accept:
            return leadOfLeaving(advice.certainty);
        case Verdict::Change:
            return leadOfMove(advice);
        case Verdict::NoShimWillHelp:
            return advice.changesNothing ? say("advice.no-shim-helps")
                                         : say("advice.no-shim-alone-helps", moveClause(advice));
        case Verdict::MeasureAgain:
            break;
    }
    return hasMove(advice) ? say("advice.measure-again-so-far", moveClause(advice)) : say("advice.measure-again");
}

std::string leadInShort(const Advice& advice) {
    if (advice.stop) return shortStop(advice.stop->kind);
    const Message move = moveInShort(advice);
    switch (advice.verdict) {
        case Verdict::Accept:
            return say(advice.certainty == Certainty::NotSure ? "advice.short-leave-it-for-now"
                                                              : "advice.short-leave-it");
        case Verdict::NoShimWillHelp:
            return say("advice.short-no-shim-helps", move);
        case Verdict::MeasureAgain:
            return hasMove(advice) ? say("advice.short-measure-again-so-far", move) : say("advice.short-measure-again");
        case Verdict::Change:
            break;
    }
    return capital(shortMove(advice.certainty, move));
}

std::string changeInShort(const Advice& advice) { return shortMove(advice.certainty, moveInShort(advice)); }

bool runnerUpSavesWork(const Advice& advice) {
    return advice.runnerUp && !shimStays(advice.shim) && std::abs(advice.runnerUp->thicknessChangeMm) < kNoMoveMm;
}

Headline headlineOf(const Advice& advice, const GearSet& gearSet) {
    Headline headline;
    headline.lead = leadOf(advice);
    headline.howSure = howSureWords(advice);

    std::vector<std::string>& look = headline.lookFirst;
    if (advice.stop && !advice.stop->evidence.empty()) look.push_back(text(advice.stop->evidence));
    for (const Diagnosis& diagnosis : advice.diagnoses)
        if (diagnosis.question) look.push_back(text(diagnosis.evidence));
    for (const Message& sentence : advice.lookFirst) look.push_back(text(sentence));
    // A trial that is to be measured again says so itself.
    if (advice.readAgainFirst && !advice.stop && advice.verdict != Verdict::MeasureAgain)
        look.push_back(say("advice.read-again-first"));

    if (advice.stop)
        addAfterStop(advice, gearSet, headline.steps);
    else
        addMove(advice, gearSet, headline.steps);
    return headline;
}

}  // namespace shimsight
