#include "shimsight/advice_words.h"

#include <algorithm>
#include <cmath>
#include <cstdio>

#include "advice/shims.h"
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

std::string length(double mm) { return formatLength(Length::fromMm(std::abs(mm))); }

std::string capital(std::string text) {
    if (!text.empty() && text[0] >= 'a' && text[0] <= 'z') text[0] = static_cast<char>(text[0] - 'a' + 'A');
    return text;
}

bool shimStays(const AdviceShim& shim) { return std::abs(shim.thicknessChangeMm) < kNoMoveMm; }

bool backlashStays(const Advice& advice) {
    return advice.backlashNowMm && std::abs(advice.backlashTargetMm - *advice.backlashNowMm) < kNoRingMoveMm;
}

/// "take out 0.006 in (0.15 mm)", "add ...".
std::string shimVerb(double thicknessChangeMm) {
    return (thicknessChangeMm > 0 ? "add " : "take out ") + length(thicknessChangeMm);
}

/// "0.006 in (0.15 mm) deeper, toward the ring gear".
std::string depthMove(double depthChangeMm) {
    return length(depthChangeMm) + (depthChangeMm > 0 ? " deeper, toward the ring gear" : " away from the ring gear");
}

/// What is done to the pinion, without a capital and a full stop. `ofShim`: what is put between amount and place.
std::string shimClause(const AdviceShim& shim, const char* ofShim) {
    if (shimStays(shim)) return "leave the pinion shims as they are";
    if (!shim.placeKnown) return "move the pinion " + depthMove(shim.depthChangeMm);
    return shimVerb(shim.thicknessChangeMm) + ofShim + placeWords(shim.where);
}

/// The whole move in one clause.
std::string moveClause(const Advice& advice) {
    if (advice.changesNothing) return "leave shims and backlash as they are";
    const std::string shim = shimClause(advice.shim, " of shim ");
    if (shimStays(advice.shim)) return shim + " and set the backlash to " + length(advice.backlashTargetMm);
    return shim + ", then set the backlash to " + length(advice.backlashTargetMm);
}

std::string howToBegin(Certainty certainty) {
    switch (certainty) {
        case Certainty::Sure:
            return {};
        case Certainty::Likely:
            return "Likely: ";
        case Certainty::NotSure:
            break;
    }
    return "Not sure, try this first: ";
}

/// Whether anything was read that a move could come from.
bool somethingRead(const Advice& advice) {
    return advice.expectedDrive || advice.expectedCoast || !advice.changesNothing;
}

std::string usualLimits(const GearSet& gearSet) {
    const Interval& limits = gearSet.limits.backlashMm;
    return "No limits were given for this set: " + length(limits.low) + " to " + length(limits.high) +
           " is usual, and the maker's sheet comes first.";
}

std::string shimStep(const Advice& advice) {
    const AdviceShim& shim = advice.shim;
    std::string text;
    if (!shim.placeKnown) {
        text = "Where do the pinion shims of this axle sit? " + shimInEachPlace(shim.depthChangeMm);
    } else {
        text = directionWords(shim.depthChangeMm);
    }
    if (!shim.stackMm.empty()) {
        double sum = 0;
        text += " Shims to fit: ";
        for (std::size_t i = 0; i < shim.stackMm.size(); ++i) {
            text += (i == 0 ? "" : " + ") + length(shim.stackMm[i]);
            sum += shim.stackMm[i];
        }
        text += shim.stackMm.size() > 1 ? "; together " + length(sum) + "." : ".";
    }
    return text;
}

/// The shims beside the spacer, and how each trial is rolled.
std::string preloadStep(const Advice& advice, const GearSet& gearSet) {
    const PreloadShim& preload = advice.preloadShim;
    const std::string sleeve = "set-up bearings and the old sleeve until the pattern is right, then one new sleeve";
    const std::string asMuch =
        (preload.thicknessChangeMm > 0 ? "add " : "take out ") + length(preload.thicknessChangeMm);
    const char* const forgotten = preload.thicknessChangeMm > 0 ? "tighter" : "looser";
    std::string text = "Pinion preload: ";
    switch (preload.effect) {
        case PreloadEffect::None:
            text += advice.shim.where == shimPlace(PinionShim::UnderPinionSupport)
                        ? "its shims stay as they are, since bearings, cups and spacer move with the support."
                        : "its shims stay as they are, since the spacer stands on the bearing.";
            break;
        case PreloadEffect::Follows:
            text += asMuch + " beside the solid spacer too" +
                    (advice.shim.where == shimPlace(PinionShim::UnderBearingCup)
                         ? ", since the cup moves"
                         : ", since the spacer stands on the pinion's shoulder and moves with it") +
                    "; forgotten, it leaves the bearings that much " + forgotten + ".";
            break;
        case PreloadEffect::Sleeve:
            text += "it is set by a crush sleeve. Use " + sleeve + ".";
            break;
        case PreloadEffect::AskSpacer:
            if (!advice.shim.placeKnown)
                text +=
                    "under a removable pinion support it stays. Elsewhere: what sets it? With a solid spacer under "
                    "whose bearing cup the shims sit, " +
                    asMuch +
                    " beside the spacer too; with the shims behind the head the same where the spacer "
                    "stands on a shoulder of the pinion, nothing where it stands on the bearing. With a "
                    "crush sleeve: " +
                    sleeve + ".";
            else if (advice.shim.where == shimPlace(PinionShim::UnderBearingCup))
                text += "what sets it? With a solid spacer, " + asMuch +
                        " beside the spacer too, since the cup moves. With a crush sleeve: " + sleeve + ".";
            else if (gearSet.build.preloadSpacer == PreloadSpacer::SolidSpacer)
                text +=
                    "where does the solid spacer stand? On the bearing: its shims stay. On a shoulder of the "
                    "pinion: " +
                    asMuch + " beside the spacer too.";
            else
                text += "what sets it? With a solid spacer that stands on a shoulder of the pinion, " + asMuch +
                        " beside the spacer too; with one that stands on the bearing, nothing. With a crush sleeve: " +
                        sleeve + ".";
            break;
    }
    return text + " Roll each trial with the preload set.";
}

std::string backlashStep(const Advice& advice, const GearSet& gearSet) {
    const Interval& limits = gearSet.limits.backlashMm;
    std::string text = backlashStays(advice) ? "Set the backlash to " + length(advice.backlashTargetMm) + " again"
                                             : "Set the backlash to " + length(advice.backlashTargetMm);
    if (advice.limitsKnown && limits.low - kOnLimitMm <= advice.backlashTargetMm &&
        advice.backlashTargetMm <= limits.high + kOnLimitMm)
        text += ", inside the limits " + length(limits.low) + " to " + length(limits.high);
    if (advice.backlashNowMm && !backlashStays(advice)) text += "; it is " + length(*advice.backlashNowMm) + " now";
    text += ".";
    return advice.limitsKnown ? text : text + " " + usualLimits(gearSet);
}

/// Notches of one adjuster in words.
std::string notches(int count) {
    return std::to_string(std::abs(count)) + (std::abs(count) == 1 ? " notch" : " notches");
}

/// The ring gear's move, by the sides of the gear.
std::string ringStep(const Advice& advice, const GearSet& gearSet) {
    const double move = advice.ringGearMoveMm;
    if (std::abs(move) < kNoRingMoveMm) return "The ring gear stays where it is.";
    const bool toward = move > 0;
    const Build& build = gearSet.build;
    std::string text =
        "For this the ring gear moves " + length(move) + (toward ? " toward the pinion: " : " away from the pinion: ");
    if (!gearSet.given.carrier)
        return text + "with threaded adjusters, loosen the one on the " + (toward ? "tooth" : "back") +
               " side, then tighten the one on the " + (toward ? "back" : "tooth") +
               " side by the same; with side "
               "shims, take " +
               length(move) + " from the " + (toward ? "tooth" : "back") + " side and put as much on the " +
               (toward ? "back" : "tooth") + " side. Either way the preload stays, and the dial decides.";
    if (build.carrier != CarrierSetting::ThreadedAdjusters) {
        const std::string tooth = "the tooth side", back = "the back side of the ring gear";
        return text + "take " + length(move) + " of " +
               (build.carrier == CarrierSetting::CarrierShims ? "carrier shims" : "shims outside the bearing cups") +
               " from " + (toward ? tooth : back) + " and put as much on " + (toward ? back : tooth) +
               ", so that the preload stays. Take the sizes on hand that come nearest; the dial decides.";
    }
    const std::string tooth = "the adjuster on the tooth side", back = "the adjuster on the back side";
    const std::string& first = toward ? tooth : back;
    const std::string& second = toward ? back : tooth;
    if (advice.adjusters && advice.adjusters->backSideNotches == 0) {
        text += std::string("less than half a notch of the adjusters") +
                (gearSet.given.adjusterPitch ? "" : " (the pitch of their thread is assumed)") +
                ". Leave them where the dial reads inside the limits.";
    } else if (advice.adjusters) {
        const std::string amount = notches(advice.adjusters->backSideNotches);
        text += "loosen " + first + " by " + amount + ", then tighten " + second + " by " + amount +
                ", so that the preload stays. Trust the dial, not the notches" +
                (gearSet.given.adjusterPitch ? "." : ": the pitch of the thread is assumed.");
    } else {
        text += "loosen " + first + ", then tighten " + second +
                " by the same, so that the preload stays, until the dial shows it.";
    }
    if (build.pinionPosition && gearSet.offsetMm > 0)
        text += std::string(
                    " Seen from behind the axle, looking along the pinion toward its flange, the back side is "
                    "at the ") +
                (backAtLeft(gearSet) ? "left." : "right.");
    return text;
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

std::string howSureWords(const Advice& advice) {
    if (advice.stop && (advice.stop->kind == StopKind::Jammed || advice.stop->kind == StopKind::WearNotKnown))
        return "No numbers are given.";
    if (!somethingRead(advice)) return "No mark was read, so nothing is known of the depth.";
    std::string text = std::string(certaintyWords(advice)) + ". ";
    if (hasMove(advice))
        text += "Chance that the next pattern is right: " + chanceWords(advice.chanceAcceptableNext) +
                " (left as it is: " + chanceWords(advice.chanceAcceptableNow) + "). ";
    else
        text += "Chance that the pattern is right as it is: " + chanceWords(advice.chanceAcceptableNow) + ". ";
    return text + "Depth error found: " + depthErrorWords(advice.depthErrorMm) +
           "; in nine jobs of ten it lies between " + depthIntervalWords(advice.depthErrorMm, " and ") + ".";
}

}  // namespace

bool hasMove(const Advice& advice) {
    if (advice.stop && (advice.stop->kind == StopKind::Jammed || advice.stop->kind == StopKind::WearNotKnown))
        return false;
    return advice.verdict != Verdict::Accept && !advice.changesNothing;
}

std::string_view certaintyWords(const Advice& advice) {
    if (advice.stop) return "Stop";
    switch (advice.certainty) {
        case Certainty::Sure:
            return "Sure";
        case Certainty::Likely:
            return "Likely";
        case Certainty::NotSure:
            break;
    }
    return advice.verdict == Verdict::Change ? "Not sure: try this first" : "Not sure";
}

Certainty certaintyOf(double chance) {
    return chance >= kSureChance ? Certainty::Sure : chance >= kLikelyChance ? Certainty::Likely : Certainty::NotSure;
}

std::string_view placeWords(PinionShim place) {
    switch (place) {
        case PinionShim::BehindPinionHead:
            return "behind the pinion head";
        case PinionShim::UnderBearingCup:
            return "under the inner bearing cup of the pinion";
        case PinionShim::UnderPinionSupport:
            break;
    }
    return "under the pinion support";
}

std::string placeWords(std::string_view where) {
    const std::optional<PinionShim> place = shimPlaceNamed(where);
    return place ? std::string(placeWords(*place)) : "at the pinion";
}

std::string shimInEachPlace(double depthChangeMm) {
    return "Behind the pinion head or under the inner bearing cup: " + shimVerb(depthChangeMm) +
           ". Under a removable pinion support: " + shimVerb(-depthChangeMm) + ".";
}

std::string directionWords(double depthChangeMm) {
    if (std::abs(depthChangeMm) < kNoMoveMm) return {};
    return depthChangeMm > 0 ? "This moves the pinion deeper, toward the ring gear."
                             : "This moves the pinion away from the ring gear.";
}

std::string chanceWords(double chance) {
    if (chance < 0.01) return "under 1 %";
    if (chance > 0.99) return "over 99 %";
    return std::to_string(std::lround(100 * chance)) + " %";
}

std::string depthErrorWords(const Estimate& error) {
    const double best = stepped(error.best);
    if (best == 0) return "none found";
    return length(best) + (best > 0 ? " too deep" : " too shallow");
}

std::string depthIntervalWords(const Estimate& error, std::string_view join) {
    const double low = stepped(error.low90), high = stepped(error.high90);
    const std::string between(join);
    if (low >= 0) return length(low) + between + length(high) + " too deep";
    if (high <= 0) return length(high) + between + length(low) + " too shallow";
    return length(low) + " too shallow" + between + length(high) + " too deep";
}

std::string stopLead(StopKind kind) {
    switch (kind) {
        case StopKind::Jammed:
            return "Stop: there is no backlash, the teeth are jammed. Do not force the gears round.";
        case StopKind::Runout:
            return "Stop: the ring gear runs out. Find that first; until then no setting is right.";
        case StopKind::UnevenBacklash:
            return "Stop: the backlash is uneven round the ring gear. Find out why first; until then no setting is "
                   "right.";
        case StopKind::TightOrLoosePlace:
            return "Stop: the backlash is outside its limits at a place of the ring gear. Find out why first; until "
                   "then no setting is right.";
        case StopKind::WearNotKnown:
            break;
    }
    return "No numbers: these gears ran together, and their marks and backlash from before they came apart are not "
           "known.";
}

std::string leadOf(const Advice& advice) {
    if (advice.stop) return stopLead(advice.stop->kind);
    switch (advice.verdict) {
        case Verdict::Accept:
            switch (advice.certainty) {
                case Certainty::Sure:
                    return "Leave it. The pattern is good.";
                case Certainty::Likely:
                    return "Leave it. The pattern is good, most likely.";
                case Certainty::NotSure:
                    break;
            }
            return "Leave it for now. It is not sure that the pattern is good, but no change promises more.";
        case Verdict::Change:
            return capital(howToBegin(advice.certainty) + moveClause(advice)) + ".";
        case Verdict::NoShimWillHelp:
            if (advice.changesNothing)
                return "No shim will put this right: depth and backlash are already as good as they can be set.";
            return "No shim alone will put this right. The best setting known: " + moveClause(advice) + ".";
        case Verdict::MeasureAgain:
            break;
    }
    if (!hasMove(advice)) return "Measure again before you change anything.";
    return "Measure again first. What the marks ask for so far: " + moveClause(advice) + ".";
}

std::string leadInShort(const Advice& advice) {
    if (advice.stop) {
        switch (advice.stop->kind) {
            case StopKind::Jammed:
                return "Stop: no backlash, jammed";
            case StopKind::Runout:
                return "Stop: find the runout first";
            case StopKind::UnevenBacklash:
                return "Stop: backlash uneven, find out why first";
            case StopKind::TightOrLoosePlace:
                return "Stop: backlash outside its limits at a place, find out why first";
            case StopKind::WearNotKnown:
                return "No numbers: old wear not known";
        }
    }
    const std::string move = advice.changesNothing
                                 ? "leave shims and backlash"
                                 : shimClause(advice.shim, " ") + ", backlash " + length(advice.backlashTargetMm);
    switch (advice.verdict) {
        case Verdict::Accept:
            return advice.certainty == Certainty::NotSure ? "Leave it for now" : "Leave it";
        case Verdict::NoShimWillHelp:
            return "No shim will help; best: " + move;
        case Verdict::MeasureAgain:
            return hasMove(advice) ? "Measure again; so far: " + move : "Measure again";
        case Verdict::Change:
            break;
    }
    return capital((advice.certainty == Certainty::Sure     ? ""
                    : advice.certainty == Certainty::Likely ? "likely: "
                                                            : "not sure, try: ") +
                   move);
}

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
        look.emplace_back(
            "Before anything is taken apart, wipe the teeth, paint and roll them afresh and read the same setting once "
            "more: the marks leave something open that a second reading can tell.");

    if (!advice.stop) {
        addMove(advice, gearSet, headline.steps);
    } else if (advice.stop->kind == StopKind::Jammed) {
        headline.steps.push_back("Once the gears turn freely by hand, set a backlash " +
                                 std::string(advice.limitsKnown ? "inside the limits " : "that is usual, ") +
                                 length(gearSet.limits.backlashMm.low) + " to " +
                                 length(gearSet.limits.backlashMm.high) + ". Then paint, roll and read again.");
    } else if (hasMove(advice)) {
        headline.steps.push_back("What the marks ask for, once that is put right: " + moveClause(advice) + ".");
        if (!advice.shim.placeKnown && !shimStays(advice.shim))
            headline.steps.push_back(shimInEachPlace(advice.shim.depthChangeMm));
        if (!advice.limitsKnown) headline.steps.push_back(usualLimits(gearSet));
    }
    return headline;
}

}  // namespace shimsight
