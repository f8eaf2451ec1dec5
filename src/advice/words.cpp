#include "advice/words.h"

#include <algorithm>
#include <cmath>
#include <cstdio>

#include "shimsight/advice_words.h"
#include "shimsight/core.h"

namespace shimsight::advice {

namespace {

/// Movements of a mark under this (mm on the tooth for kMovementStepMm) are not worth a word.
constexpr double kNoMovementMm = 0.10;

/// A mark this far from the wanted middle is off it, in fractions of the face width.
constexpr double kOffLength = 0.06;
/// A mark whose middle lies this far under or over the middle of the height is low or high, of the working depth.
constexpr double kOffHeight = 0.06;

/// Lengthwise curvature over cone distance under which a tooth behaves as hobbed sets in print do, and over which as
/// large-cutter milled ones do (contact model, section 5).
constexpr double kHobbedCurvature = 0.75, kLargeCutterCurvature = 1.20;

/// A change with less chance than this comes with a warning.
constexpr double kSmallChance = 0.35;

/// A backlash beyond its limits by this factor is pointed at.
constexpr double kFarOutside = 1.5;
/// The less likely cut is given its own estimate from this chance on.
constexpr double kWorthAWord = 0.05;

/// The move and the depth error are explained apart when they differ by more than this: one and a half thousandths.
constexpr double kSplitMm = 0.0381;
/// A pull on the depth under this decides nothing: a quarter of a thousandth of an inch.
constexpr double kNoPullMm = 0.0064;
/// Causes of the housing from this chance on are held against what charts say.
constexpr double kLikelyCause = 0.5;

std::string size(double mm) { return lengthWords(mm); }

/// What marks tell of, in whole thousandths of an inch: they tell no finer.
std::string whole(double mm) { return lengthWords(stepped(mm)); }

std::string percent(double share) {
    char buffer[16];
    std::snprintf(buffer, sizeof buffer, "%d %%", static_cast<int>(std::lround(100 * share)));
    return buffer;
}

std::string chance(double share) { return chanceWords(share); }

std::string sideWord(Side side) { return side == Side::Drive ? "drive" : "coast"; }

const std::optional<Pattern>& patternOf(const TrialObservation& trial, Side side) {
    return side == Side::Drive ? trial.drive : trial.coast;
}

/// Where the mark lies, in the words of the table of its numbers, and whether its middle may lie there.
std::string whereMark(const Pattern& p, const AcceptanceRule& rule) {
    std::string text = "lies ";
    switch (p.lengthPosition()) {
        case LengthPosition::Toe:
            text += "toward the toe";
            break;
        case LengthPosition::Centre:
            text += "at the centre lengthwise";
            break;
        case LengthPosition::Heel:
            text += "toward the heel";
            break;
    }
    switch (p.depthPosition()) {
        case DepthPosition::Face:
            text += " and high, toward the tip (face)";
            break;
        case DepthPosition::Centre:
            text += " and at mid-height";
            break;
        case DepthPosition::Flank:
            text += " and low, toward the root (flank)";
            break;
    }
    const bool along = rule.toeHeel.holds(p.toeHeel), up = rule.rootTip.holds(p.rootTip);
    text += along && up ? ", where its middle may lie"
            : along     ? ", too far off in height"
            : up        ? ", too far off lengthwise"
                        : ", too far off both ways";
    std::vector<std::string> edges;
    if (p.runsOff.toe) edges.emplace_back("the toe");
    if (p.runsOff.heel) edges.emplace_back("the heel");
    if (p.runsOff.tip) edges.emplace_back("the tip");
    if (p.runsOff.root) edges.emplace_back("the root");
    for (std::size_t i = 0; i < edges.size(); ++i)
        text += (i == 0 ? ", and runs off " : i + 1 == edges.size() ? " and " : ", ") + edges[i];
    return text;
}

/// "0.020 in (0.51 mm) toward the root and 0.031 in (0.79 mm) toward the toe"
std::string movementWords(const Movement& m) {
    std::vector<std::string> parts;
    if (std::abs(m.towardTipMm) >= kNoMovementMm)
        parts.push_back(whole(m.towardTipMm) + (m.towardTipMm > 0 ? " toward the tip" : " toward the root"));
    if (std::abs(m.towardHeelMm) >= kNoMovementMm)
        parts.push_back(whole(m.towardHeelMm) + (m.towardHeelMm > 0 ? " toward the heel" : " toward the toe"));
    if (parts.empty()) return "hardly at all";
    return parts.size() == 1 ? parts[0] : parts[0] + " and " + parts[1];
}

/// Why the teeth of this set behave as they do, and what of it is assumed only.
std::string toothWords(const ToothContact& contact) {
    const double curvature = lengthwiseCurvature(contact);
    const GearSet& set = contact.gearSet();
    std::string text = std::string(set.given.cut ? "This set is " : "This set is taken as ") +
                       (set.cut == Cut::FaceHobbed ? "face-hobbed" : "face-milled");
    if (curvature < kHobbedCurvature) {
        text += ", its teeth strongly curved along their length";
    } else if (curvature > kLargeCutterCurvature) {
        text += " with a large cutter, its teeth only slightly curved along their length";
    } else {
        text += ", its teeth curved between what charts for hobbed and for milled sets are drawn for";
    }
    text += " (curvature radius " + number(curvature, "%.2f") + " of the cone distance";
    if (!set.given.cut && !set.given.cutter) return text + "; cut and cutter are assumed, not given)";
    if (!set.given.cut) return text + "; the cut is assumed, not given)";
    if (!set.given.cutter) return text + "; the cutter is assumed, not given)";
    return text + ")";
}

/// What the chart for the drive mark's place along the tooth says, and whether this set agrees.
std::optional<std::string> chartSentence(const Findings& f) {
    const auto& drive = f.trial->drive;
    if (!drive) return std::nullopt;
    const double along = drive->toeHeel - f.model->contact->gearSet().limits.acceptance.toeHeel.middle();
    if (std::abs(along) <= kOffLength) return std::nullopt;
    const bool heel = along > 0;
    const double moves = f.movements.deeper[index(Side::Drive)].towardHeelMm;
    std::string text = std::string("Charts for hobbed sets read a drive mark at the ") +
                       (heel ? "heel as a pinion too close" : "toe as a pinion too far") + ". ";
    if (std::abs(moves) < kNoMovementMm) {
        text +=
            "In this set depth hardly moves the drive mark along the tooth, so that decides nothing here; the "
            "height of the marks has to.";
    } else if (moves > 0) {
        text += "This set agrees: going deeper moves its drive mark toward the heel.";
    } else {
        text +=
            "In this set it does not hold: going deeper moves its drive mark toward the toe, so a drive mark at the ";
        text += heel ? "heel does not say too close" : "toe does not say too far";
        const double away = f.movements.ringAway[index(Side::Drive)].towardHeelMm;
        if (std::abs(away) >= kNoMovementMm) {
            text += "; a ring gear moved away from the pinion carries it toward the ";
            text += away > 0 ? "heel, one moved closer toward the toe" : "toe, one moved closer toward the heel";
        }
        text += ".";
    }
    return text;
}

/// What decided: the pulls of height and of length, both sides.
std::optional<std::string> decidedSentence(const Findings& f) {
    double height = 0, along = 0, shape = 0;
    for (const Side side : kSides) {
        const Features& pull = f.pulls[index(side)];
        height += pull[kRootTip] + pull[kHeight] + pull[kEdgeTip] + pull[kEdgeRoot];
        along += pull[kToeHeel] + pull[kLength] + pull[kEdgeToe] + pull[kEdgeHeel];
        shape += pull[kTilt] + pull[kArea];
    }
    const double total = height + along + shape;
    if (std::abs(total) < kFreeStepMm && std::abs(height) < kFreeStepMm && std::abs(along) < kFreeStepMm)
        return std::nullopt;
    const bool heightLeads = std::abs(height) >= std::abs(along);
    const double leads = heightLeads ? height : along, other = heightLeads ? along : height;
    std::string text = std::string("What decided: ") +
                       (heightLeads ? "the height of the marks (face or flank)"
                                    : "the place of the marks along the tooth (toe or heel, both sides together)") +
                       ", which by itself says too " + (leads > 0 ? "deep" : "shallow");
    const std::string otherName = heightLeads ? "their place along the tooth" : "their height";
    if (std::abs(other) < kNoPullMm) return text + "; " + otherName + " adds next to nothing.";
    if ((other > 0) == (leads > 0)) return text + "; " + otherName + " says the same.";
    return text + ". " + (heightLeads ? "Their place along the tooth" : "Their height") +
           " by itself would say the opposite; both were weighed together.";
}

std::string estimateSentence(const Findings& f, const Advice& advice) {
    const Estimate& e = advice.depthErrorMm;
    std::string text = stepped(e.best) == 0
                           ? "Best estimate: the pinion depth is right"
                           : "Best estimate: the pinion is " + depthErrorWords(e) +
                                 (e.best > 0 ? " (too close to the ring gear)" : " (too far from the ring gear)");
    text += "; in nine jobs of ten the truth lies between " + depthIntervalWords(e, " and ") + ".";
    if (e.low90 < 0 && e.high90 > 0 && advice.verdict == Verdict::Change && advice.shim.thicknessChangeMm != 0)
        text += " Even the direction is not certain (" + chance(f.chanceOfSign) + "): no shim change is certain here.";
    return text;
}

/// Why the move is as large as it is.
std::string moveSentence(const Advice& advice) {
    const double depth = advice.shim.depthChangeMm;
    if (advice.shim.thicknessChangeMm == 0) return "Leave the shims as they are; the backlash alone is changed.";
    std::string text = "So the pinion goes " + size(depth) + (depth > 0 ? " deeper." : " shallower.");
    // Right depth and best chance may differ: the place of the marks depends on how this set was cut, too.
    const double alone = -advice.depthErrorMm.best;
    if (std::abs(alone - depth) > kSplitMm) {
        text +=
            " Depth alone would ask for " +
            (stepped(alone) == 0 ? std::string("no change") : whole(alone) + (alone > 0 ? " deeper" : " shallower")) +
            "; of the changes that can be stacked, this one has the better chance to bring both marks right.";
    }
    return text;
}

/// What the dial shows at another place than the limits are meant for.
std::optional<std::string> dialSentence(const Findings& f, const Advice& advice) {
    if (f.trial->dial != DialReading::OuterCircumference) return std::nullopt;
    const double factor = f.model->contact->toSquareReading(DialReading::OuterCircumference);
    return "The backlash to set, " + size(advice.backlashTargetMm) +
           ", is told square to the tooth; along the outer edge of the ring gear, as read here, the dial then shows " +
           whole(advice.backlashTargetMm / factor) + ".";
}

/// The other move that saves work and is nearly as good.
std::optional<std::string> runnerUpSentence(const Advice& advice) {
    if (!runnerUpSavesWork(advice)) return std::nullopt;
    return "Nearly as good: leave the pinion shims alone and set the backlash to " +
           size(advice.runnerUp->backlashTargetMm) + ", with a chance of " +
           chance(advice.runnerUp->chanceAcceptableNext) + " in place of " + chance(advice.chanceAcceptableNext) +
           ". The pinion then stays in, which saves work.";
}

/// A cause of the housing against what a manual's row says of the same marks.
std::optional<std::string> housingAgainstChart(const Findings& f, const Advice& advice) {
    const bool housing = std::any_of(advice.diagnoses.begin(), advice.diagnoses.end(), [](const Diagnosis& one) {
        return (one.kind == DiagnosisKind::HousingOffset || one.kind == DiagnosisKind::ShaftAngle) &&
               one.chance >= kLikelyCause;
    });
    const auto& drive = f.trial->drive;
    const auto& coast = f.trial->coast;
    if (!housing || !drive || !coast) return std::nullopt;
    const double middle = f.model->contact->gearSet().limits.acceptance.rootTip.middle();
    const double up = drive->rootTip - middle, upCoast = coast->rootTip - middle;
    if (std::min(std::abs(up), std::abs(upCoast)) < kOffHeight || (up > 0) != (upCoast > 0)) return std::nullopt;
    return std::string("A chart reads two ") + (up > 0 ? "high" : "low") + " marks as a pinion too " +
           (up > 0 ? "shallow" : "deep") +
           ". What speaks against it here is how far the marks stand from each other along the tooth and in height: " +
           "taking the pinion " + size(kMovementStepMm) + " deeper moves this set's drive mark " +
           movementWords(f.movements.deeper[0]) + " and its coast mark " + movementWords(f.movements.deeper[1]) +
           ", and no depth brings both to where they are.";
}

/// No setting brings both sides right: what was ruled out, by what, and what to measure next.
std::vector<std::string> noShimSentences(const Findings& f, const Advice& advice, const Limits& limits) {
    const auto& drive = f.trial->drive;
    const auto& coast = f.trial->coast;
    std::string why = "No shim and no backlash brings both sides right: ";
    if (drive && coast && isAcceptable(*drive, limits.acceptance) != isAcceptable(*coast, limits.acceptance))
        why += isAcceptable(*drive, limits.acceptance) ? "what the coast side needs would spoil the drive side."
                                                       : "what the drive side needs would spoil the coast side.";
    else
        why += "they ask for different things.";

    std::string out;
    if (advice.changesNothing) {
        out = "Ruled out: depth, whose error by the marks lies between " +
              depthIntervalWords(advice.depthErrorMm, " and ") + " in nine jobs of ten";
        if (advice.backlashNowMm) out += "; backlash, " + size(*advice.backlashNowMm) + " by the dial";
        out += ". Both are as good as a shim step and the dial allow, and the marks are bad all the same.";
    } else {
        out = "Ruled out: depth and backlash alone. The best setting known has a chance of " +
              chance(advice.chanceAcceptableNext) + " to bring both sides right.";
    }

    std::string cause;
    if (f.offsetMm.certain())
        cause = "The marks point to a pinion axis out of place by about " + whole(f.offsetMm.mean) +
                (f.offsetMm.mean > 0 ? " (offset too large). " : " (offset too small). ");
    if (f.shaftAngleRad.certain())
        cause += "The marks point to axes not square by about " +
                 number(std::abs(degrees(f.shaftAngleRad.mean)) * 60, "%.0f") + " minutes of arc. ";
    cause +=
        "Next: measure the runout of the ring gear's back face, measure the housing bores and look at the bearing "
        "seats and cups, and compare the set numbers on pinion and ring gear. New gears in the same housing mark the "
        "same, so the housing comes first.";
    return {why, out, cause};
}

/// Why a trial does not settle it by itself.
std::string doubtReason(const Findings& f) {
    switch (f.doubt) {
        case Doubt::None:
            break;
        case Doubt::NoPattern:
            return "No usable mark on either side.";
        case Doubt::SidesSwapped:
            return "These marks do not fit together as named, but they fit well with drive and coast exchanged.";
        case Doubt::EntryOdd:
            return "One entry of this trial does not fit its marks.";
        case Doubt::NotThisSet:
            return "No set-up of this gear set makes marks like these.";
        case Doubt::Wandering:
            return "The mark wanders from tooth to tooth.";
        case Doubt::ReadingNoise:
            return "The marks were read too roughly to be sure of a shim.";
        case Doubt::MissingBacklash:
            return "Without the backlash the marks leave much open.";
        case Doubt::MissingSide:
            return "With one side only the marks leave much open.";
        case Doubt::OneMoreReading:
            return "As far as these marks tell, nothing is to be changed; one more reading makes sure.";
        case Doubt::NothingStacks:
            return "Neither the present shims nor any stack from the shims on hand has a good chance.";
    }
    return {};
}

/// What to do about it; empty where a diagnosis asks it.
std::string doubtAction(const Findings& f, const Advice& advice) {
    const auto asks = [&](std::initializer_list<DiagnosisKind> kinds) {
        return std::any_of(advice.diagnoses.begin(), advice.diagnoses.end(), [&](const Diagnosis& one) {
            return one.question && std::find(kinds.begin(), kinds.end(), one.kind) != kinds.end();
        });
    };
    switch (f.doubt) {
        case Doubt::None:
            break;
        case Doubt::NoPattern:
            return "Paint 3 to 4 teeth at 3 to 4 places, hold the ring gear back a little, turn it a few times each "
                   "way and read the marks again.";
        case Doubt::SidesSwapped:
            if (asks({DiagnosisKind::SidesSwapped})) break;
            return "Is the side called drive the convex one? These marks fit with drive and coast exchanged. Check "
                   "it on the gear.";
        case Doubt::EntryOdd:
            if (asks({DiagnosisKind::EntryChange, DiagnosisKind::EntryBacklash})) break;
            return "One entry of this trial does not fit its marks; see why below. Settle it before the axle comes "
                   "apart again.";
        case Doubt::NotThisSet:
            if (asks({DiagnosisKind::WrongGearData})) break;
            return "Check that the gear-set file is the right one (tooth counts, ring gear diameter, offset, hand, "
                   "cut), that drive and coast are named right, that toe and heel are not exchanged on the photo, and "
                   "that the backlash was read in this trial.";
        case Doubt::Wandering:
            return "The mark wanders from tooth to tooth. Check the runout of the ring gear's back face and its bolts "
                   "before any shim is changed.";
        case Doubt::ReadingNoise:
            return "The marks were read roughly. Use a thin, even coat, roll it a few turns under light drag, and take "
                   "sharper photos square to the tooth.";
        case Doubt::MissingBacklash:
            return "Read the backlash on a dial, square to the tooth, at 3 or 4 places, and go on with the tightest.";
        case Doubt::MissingSide:
            return std::string("Read the ") + (f.trial->drive ? "coast" : "drive") + " side too.";
        case Doubt::OneMoreReading:
            return "Wipe the teeth, paint and roll them once more, and read the same setting again: that costs "
                   "minutes, "
                   "and a setting left too soon comes back.";
        case Doubt::NothingStacks:
            return "Get more shim sizes, or read the marks again to be sure.";
    }
    return {};
}

}  // namespace

std::string number(double value, const char* format) {
    char buffer[32];
    std::snprintf(buffer, sizeof buffer, format, value);
    return buffer;
}

std::string lengthWords(double mm) { return formatLength(Length::fromMm(std::abs(mm))); }

bool Belief::certain() const { return std::abs(mean) > 2 * sigma; }

double lengthwiseCurvature(const ToothContact& contact) {
    return contact.blank().lengthwiseRadius / contact.blank().coneDistanceM2;
}

Movements movementsOf(const Model& model, const SetUp& found) {
    const ToothContact& contact = *model.contact;
    const GearSet& set = contact.gearSet();
    const auto moved = [&](Side side, const SetupError& plus, const SetupError& minus) {
        const auto a = measurePattern(contact.predict(side, plus, found.modification[index(side)], found.filmMm));
        const auto b = measurePattern(contact.predict(side, minus, found.modification[index(side)], found.filmMm));
        if (!a || !b) return Movement{};
        return Movement{(a->toeHeel - b->toeHeel) * set.faceWidthMm,
                        (a->rootTip - b->rootTip) * contact.blank().workingDepth};
    };
    Movements movements;
    const double half = 0.5 * kMovementStepMm;
    const double ring = contact.ringMoveForConstantBacklashMm(half);
    for (const Side side : kSides) {
        movements.deeper[index(side)] = moved(side, {half, ring, 0, 0}, {-half, -ring, 0, 0});
        movements.ringAway[index(side)] = moved(side, {0, -half, 0, 0}, {0, half, 0, 0});
    }
    return movements;
}

std::vector<Message> lookFirstOf(const Findings& f, const Advice& advice) {
    std::string action = doubtAction(f, advice);
    if (action.empty()) return {};
    return {std::move(action)};
}

std::vector<Message> becauseOf(const Findings& f, const Advice& advice) {
    std::vector<Message> text;
    const ToothContact& contact = *f.model->contact;
    const GearSet& set = contact.gearSet();
    const AcceptanceRule& rule = set.limits.acceptance;
    if (f.doubt == Doubt::NoPattern) return {doubtReason(f)};

    for (const Side side : kSides) {
        const auto& pattern = patternOf(*f.trial, side);
        if (!pattern) {
            text.push_back("The " + sideWord(side) +
                           " side was not read; what it will show is worked out from the other side and is less sure.");
            continue;
        }
        const std::string line = "The " + sideWord(side) + " mark " + whereMark(*pattern, rule) + " (middle at " +
                                 percent(pattern->toeHeel) + " of the face from the toe, " + percent(pattern->rootTip) +
                                 " of the height from the root).";
        text.push_back(line);
    }
    if (const auto& backlash = advice.backlashNowMm) {
        const Interval& limits = set.limits.backlashMm;
        const bool asked =
            std::any_of(advice.diagnoses.begin(), advice.diagnoses.end(),
                        [](const Diagnosis& diagnosis) { return diagnosis.kind == DiagnosisKind::EntryBacklash; });
        if (!asked && (*backlash < limits.low / kFarOutside || *backlash > limits.high * kFarOutside))
            text.push_back("The backlash read, " + size(*backlash) + ", is far from " +
                           (set.given.backlashLimits ? "the limits" : "what is usual") + " (" + size(limits.low) +
                           " to " + size(limits.high) +
                           "): make sure that it is typed right and in the right unit, since the marks of one trial "
                           "do not tell half of it or twice it.");
    }
    // What is asked as a question stands with what to look at first.
    for (const Diagnosis& diagnosis : advice.diagnoses)
        if (!diagnosis.question)
            text.push_back(shimsight::text(diagnosis.evidence) + " (Chance of this: " + chance(diagnosis.chance) +
                           (diagnosis.shown || f.trials > 1 ? ".)" : ", by one painting.)"));
    if (const auto against = housingAgainstChart(f, advice)) text.push_back(*against);
    if (f.doubt == Doubt::SidesSwapped || f.doubt == Doubt::NotThisSet || f.doubt == Doubt::Wandering ||
        f.doubt == Doubt::EntryOdd) {
        text.push_back(doubtReason(f));
        if (f.doubt == Doubt::NotThisSet)
            if (const auto chart = chartSentence(f)) text.push_back(*chart);
        return text;
    }

    if (f.trials > 1)
        text.push_back(std::to_string(f.trials) +
                       " trials of this job were put together: what the earlier ones taught about this gear set and "
                       "housing counts here.");
    if (f.cutWeighed) {
        const double milled = advice.chanceFaceMilled;
        text.push_back("How the teeth were cut is not known, so both ways were weighed: by these marks face-milled " +
                       chance(milled) + ", face-hobbed " + chance(1 - milled) +
                       ". To be sure, look at the tooth: the same height from toe to heel means hobbed, lower at the "
                       "toe means milled. What follows is for " +
                       (set.cut == Cut::FaceMilled ? "milled" : "hobbed") + " teeth.");
        if (milled > kWorthAWord && milled < 1 - kWorthAWord) {
            const auto says = [](double error) {
                return stepped(error) == 0 ? std::string("right in depth")
                                           : whole(error) + (error > 0 ? " too deep" : " too shallow");
            };
            text.push_back("As milled teeth the marks say the pinion is " + says(f.depthIfMilledMm) +
                           ", as hobbed teeth " + says(f.depthIfHobbedMm) + ".");
        }
    }
    text.push_back(toothWords(contact) + ": taking the pinion " + size(kMovementStepMm) +
                   " deeper with the backlash held moves the drive mark " + movementWords(f.movements.deeper[0]) +
                   ", the coast mark " + movementWords(f.movements.deeper[1]) + ".");
    if (const auto chart = chartSentence(f)) text.push_back(*chart);
    if (advice.verdict != Verdict::Accept)
        if (const auto decided = decidedSentence(f)) text.push_back(*decided);
    text.push_back(estimateSentence(f, advice));
    if (!f.trial->backlashMm && f.doubt != Doubt::MissingBacklash)
        text.push_back(
            "No backlash was given, so the place of the ring gear is guessed from the marks; a reading would narrow "
            "this down.");

    switch (advice.verdict) {
        case Verdict::Accept:
            text.push_back(
                "Leave the shims and the backlash as they are: the chance that both sides and the backlash are right "
                "now is " +
                chance(advice.chanceAcceptableNow) + ", and no change promises clearly more.");
            break;
        case Verdict::Change:
            text.push_back(moveSentence(advice));
            if (const auto dial = dialSentence(f, advice)) text.push_back(*dial);
            if (const auto other = runnerUpSentence(advice)) text.push_back(*other);
            if (f.usedGears)
                text.emplace_back(
                    "These gears have run together: where their old wear is seen, a mark that matches it comes before "
                    "one in the middle of the tooth.");
            if (advice.chanceAcceptableNext < kSmallChance)
                text.push_back(
                    "That is a small chance: before the axle comes apart, read the marks and the backlash once more, "
                    "and check the housing and the bearing seats.");
            break;
        case Verdict::NoShimWillHelp:
            for (std::string& sentence : noShimSentences(f, advice, set.limits)) text.push_back(std::move(sentence));
            break;
        case Verdict::MeasureAgain:
            break;
    }
    if (f.doubt != Doubt::None) text.push_back(doubtReason(f));
    return text;
}

std::vector<Message> cautionsFor(const GearSet& gearSet, const Advice& advice) {
    std::vector<Message> text;
    text.emplace_back(
        "Support the axle on stands, and keep fingers out of the teeth and the bearings while anyone turns the gears.");
    if (advice.stop && advice.stop->kind == StopKind::Jammed)
        text.emplace_back(
            "Do not force jammed gears round, by hand or with a bar: teeth chip and bearings are marked.");
    if (advice.verdict == Verdict::Change || advice.verdict == Verdict::NoShimWillHelp || hasMove(advice) ||
        advice.stop) {
        text.push_back("The maker's sheet for this axle comes first for torque, preload and limits.");
        std::string caps = gearSet.build.carrier == CarrierSetting::OutboardShims
                               ? "Support the case with the ring gear before it comes free: it is heavy."
                               : "Mark the bearing caps and put each back on its own side; keep one loosely fitted "
                                 "until the case is held: it is heavy and can slide out.";
        text.push_back(caps);
        if (advice.shim.thicknessChangeMm != 0 && gearSet.build.preloadSpacer != PreloadSpacer::SolidSpacer)
            text.emplace_back(
                "Where a crush sleeve sets the pinion preload: set-up bearings and the old sleeve for the trials, one "
                "new sleeve when the pattern is right. Tighten it in small steps; a sleeve tightened too far must be "
                "replaced.");
    }
    text.emplace_back("Turn the bearings several times before each reading of backlash or pattern.");
    text.emplace_back(
        "Wear eye protection and gloves. Use a lead-free compound and wipe it off afterwards; solvent burns and its "
        "fumes harm: fresh air, no flame.");
    return text;
}

}  // namespace shimsight::advice
