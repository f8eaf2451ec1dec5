#include "advice/words.h"

#include <algorithm>
#include <cmath>
#include <cstdio>

#include "shimsight/core.h"

namespace shimsight::advice {

namespace {

/// Movements of a mark under this (mm on the tooth for kMovementStepMm) are not worth a word.
constexpr double kNoMovementMm = 0.10;

/// A mark this far from the wanted middle is off it, in fractions of the face width and working depth.
constexpr double kOffLength = 0.06, kOffHeight = 0.06;

/// Lengthwise curvature over cone distance under which a tooth behaves as hobbed sets in print do, and over which as
/// large-cutter milled ones do (contact model, section 5).
constexpr double kHobbedCurvature = 0.75, kLargeCutterCurvature = 1.20;

/// A change with less chance than this comes with a warning.
constexpr double kSmallChance = 0.35;

/// A backlash beyond its limits by this factor is pointed at.
constexpr double kFarOutside = 1.5;
/// The less likely cut is given its own estimate from this chance on.
constexpr double kWorthAWord = 0.05;

/// Depth under this is not called an error in words: a quarter of a thousandth of an inch.
constexpr double kNoDepthMm = 0.00635;

/// The move and the depth error are explained apart when they differ by more than this: three quarters of a thousandth.
constexpr double kSplitMm = 0.019;

std::string size(double mm) { return lengthWords(mm); }

/// Depths to a tenth of a thousandth: "0.0034 in (0.086 mm)".
std::string fine(double mm) {
    char buffer[64];
    std::snprintf(buffer, sizeof buffer, "%.4f in (%.3f mm)", std::abs(mm) / 25.4, std::abs(mm));
    return buffer;
}

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

/// "deep" / "shallow" in the trade's words.
std::string tooWord(double depthErrorMm) {
    return depthErrorMm > 0 ? "too deep (too close to the ring gear)" : "too shallow (too far from the ring gear)";
}

std::string whereMark(const Pattern& p, const AcceptanceRule& rule) {
    const double along = p.toeHeel - rule.toeHeel.middle(), up = p.rootTip - rule.rootTip.middle();
    std::string text;
    if (std::abs(along) <= kOffLength && std::abs(up) <= kOffHeight) {
        text = "sits where it should, lengthwise and in height";
    } else {
        if (std::abs(along) > kOffLength) text += along > 0 ? "sits toward the heel" : "sits toward the toe";
        if (std::abs(up) > kOffHeight) {
            text += text.empty() ? "sits " : " and ";
            text += up > 0 ? "high, toward the tip (face)" : "low, toward the root (flank)";
        }
    }
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
        parts.push_back(size(m.towardTipMm) + (m.towardTipMm > 0 ? " toward the tip" : " toward the root"));
    if (std::abs(m.towardHeelMm) >= kNoMovementMm)
        parts.push_back(size(m.towardHeelMm) + (m.towardHeelMm > 0 ? " toward the heel" : " toward the toe"));
    if (parts.empty()) return "hardly at all";
    return parts.size() == 1 ? parts[0] : parts[0] + " and " + parts[1];
}

/// Why the teeth of this set behave as they do.
std::string toothWords(const ToothContact& contact) {
    const double curvature = lengthwiseCurvature(contact);
    const bool hobbed = contact.gearSet().cut == Cut::FaceHobbed;
    std::string text = hobbed ? "This set is face-hobbed" : "This set is face-milled";
    if (curvature < kHobbedCurvature) {
        text += ", its teeth strongly curved along their length";
    } else if (curvature > kLargeCutterCurvature) {
        text += " with a large cutter, its teeth only slightly curved along their length";
    } else {
        text += ", its teeth curved between what charts for hobbed and for milled sets are drawn for";
    }
    return text + " (curvature radius " + number(curvature, "%.2f") + " of the cone distance)";
}

/// What the chart for the drive mark's place along the tooth says, and whether this set agrees.
std::optional<std::string> chartSentence(const Findings& f) {
    const auto& drive = f.trial->drive;
    if (!drive) return std::nullopt;
    const double along = drive->toeHeel - f.model->contact->gearSet().limits.acceptance.toeHeel.middle();
    if (std::abs(along) <= kOffLength) return std::nullopt;
    const bool heel = along > 0;
    const double moves = f.movements.deeper[index(Side::Drive)].towardHeelMm;
    std::string text = std::string("A rule often heard reads a drive mark at the ") +
                       (heel ? "heel as a pinion too close" : "toe as a pinion too far") + ". ";
    if (std::abs(moves) < kNoMovementMm) {
        text +=
            "In this set depth hardly moves the drive mark along the tooth, so the rule decides nothing here; the "
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
    if (std::abs(total) < 0.0254 && std::abs(height) < 0.0254 && std::abs(along) < 0.0254) return std::nullopt;
    const auto says = [](double pull) { return fine(pull) + (pull > 0 ? " too deep" : " too shallow"); };
    const bool heightLeads = std::abs(height) >= std::abs(along);
    std::string text =
        std::string("What decided: ") +
        (heightLeads
             ? "the height of the marks (face or flank), which by itself says "
             : "the place of the marks along the tooth (toe or heel, both sides together), which by itself says ") +
        says(heightLeads ? height : along) + "; ";
    const double other = heightLeads ? along : height;
    const std::string otherName = heightLeads ? "toe and heel" : "the height";
    if (std::abs(other) < 0.0064)
        text += otherName + " adds next to nothing.";
    else if ((other > 0) == ((heightLeads ? height : along) > 0))
        text += otherName + (heightLeads ? " agree, with " : " agrees, with ") + fine(other) + ".";
    else
        text +=
            otherName + (heightLeads ? " speak against it, with " : " speaks against it, with ") + fine(other) + ".";
    return text;
}

std::string estimateSentence(const Findings& f, const Advice& advice) {
    const Estimate& e = advice.depthErrorMm;
    std::string text;
    if (std::abs(e.best) < kNoDepthMm) {
        text = "Best estimate: the pinion depth is right";
    } else {
        text = "Best estimate: the pinion is " + fine(e.best) + " " + tooWord(e.best);
    }
    const auto end = [](double v) { return fine(v) + (v >= 0 ? " too deep" : " too shallow"); };
    text += "; in nine jobs of ten the truth lies between " + end(e.low90) + " and " + end(e.high90) + ".";
    if (e.low90 < 0 && e.high90 > 0 && advice.verdict == Verdict::Change && advice.shim.thicknessChangeMm != 0)
        text += " Even the direction is not certain (" + chance(f.chanceOfSign) + "): no shim change is certain here.";
    return text;
}

std::string ringWords(const Findings& f, const Advice& advice) {
    const GearSet& set = f.model->contact->gearSet();
    const double move = advice.ringGearMoveMm;
    if (std::abs(move) < 0.005) return "The ring gear stays where it is.";
    const bool toward = move > 0;
    std::string text =
        "Move the ring gear about " + size(move) + (toward ? " toward the pinion" : " away from the pinion") + ": ";
    if (set.build.carrier == CarrierSetting::ThreadedAdjusters) {
        const double turns = std::abs(adjusterTurns(set.build, move));
        const std::string first = toward ? "the adjuster on the tooth side" : "the adjuster at the ring gear's back";
        const std::string second = toward ? "the one at the ring gear's back" : "the one on the tooth side";
        std::string amount;
        if (set.build.adjusterNotches > 0) {
            const double notches = std::max(0.5, std::round(2 * turns * set.build.adjusterNotches) / 2);
            amount = number(notches, notches == std::floor(notches) ? "%.0f" : "%.1f") +
                     (notches <= 1 ? " notch" : " notches");
        } else {
            amount = number(turns, "%.2f") + " of a turn";
        }
        text += "loosen " + first + " by " + amount + ", then tighten " + second +
                " by the same, so that the preload stays. ";
        text += std::string(
                    "Seen from behind the axle, with the pinion pointing away from you and below the middle of the "
                    "ring gear, the back is at the ") +
                (backAtLeft(set) ? "left." : "right.");
    } else {
        const std::string from = toward ? "the tooth side" : "the ring gear's back side";
        const std::string to = toward ? "the ring gear's back side" : "the tooth side";
        text +=
            "take " + size(move) + " of " +
            (set.build.carrier == CarrierSetting::CarrierShims ? "carrier shims" : "shims outside the bearing cups") +
            " from " + from + " and put the same thickness on " + to + ", so that the preload stays.";
    }
    return text;
}

std::string moveSentence(const Findings& f, const Advice& advice) {
    const Build& build = f.model->contact->gearSet().build;
    const std::string place(shimPlaceInWords(build.pinionShim));
    const double t = advice.shim.thicknessChangeMm;
    if (t == 0) return "Leave the shims " + place + " as they are.";
    const bool deeper = f.choice.best.depthChangeMm > 0;
    std::string text = (t > 0 ? "Add " : "Take out ") + size(t) + " of shim " + place + ": " +
                       (t > 0 ? "thicker" : "thinner") + " there puts the pinion " +
                       (deeper ? "deeper." : "shallower (away from the ring gear).");
    if (!advice.shim.stackMm.empty()) {
        text += " The stack to fit: ";
        for (std::size_t i = 0; i < advice.shim.stackMm.size(); ++i)
            text += (i == 0 ? "" : " + ") + size(advice.shim.stackMm[i]);
        text += ".";
    }
    // Right depth and best chance may differ: the place of the marks depends on how this set was cut, too.
    const double alone = -advice.depthErrorMm.best;
    if (std::abs(alone - f.choice.best.depthChangeMm) > kSplitMm) {
        text += " Depth alone would ask for " +
                (std::abs(alone) < kNoDepthMm ? std::string("no change")
                                              : fine(alone) + (alone > 0 ? " deeper" : " shallower")) +
                "; of the changes that can be stacked, this one has the better chance to bring both marks right.";
    }
    return text;
}

std::string backlashSentence(const Findings& f, const Advice& advice) {
    const Limits& limits = f.model->contact->gearSet().limits;
    std::string text = "Set the backlash to " + size(advice.backlashTargetMm) + " (limits " +
                       size(limits.backlashMm.low) + " to " + size(limits.backlashMm.high) + ")";
    if (f.trial->dial == DialReading::OuterCircumference) {
        const double factor = f.model->contact->toSquareReading(DialReading::OuterCircumference);
        text += ", square to the tooth; along the outer edge of the ring gear, as read here, the dial then shows " +
                size(advice.backlashTargetMm / factor);
    }
    return text + ".";
}

/// The other move that is nearly as good.
std::optional<std::string> runnerUpSentence(const Findings& f, const Advice& advice) {
    if (!advice.runnerUp) return std::nullopt;
    const RunnerUp& other = *advice.runnerUp;
    std::string text = "Nearly as good: ";
    if (other.thicknessChangeMm == 0)
        text += "leave the pinion shims alone";
    else
        text += (other.thicknessChangeMm > 0 ? "add " : "take out ") + size(other.thicknessChangeMm) + " of shim " +
                std::string(shimPlaceInWords(f.model->contact->gearSet().build.pinionShim));
    text += " and set the backlash to " + size(other.backlashTargetMm) + ", with a chance of " +
            chance(other.chanceAcceptableNext) + ".";
    if (other.thicknessChangeMm == 0) text += " The pinion then stays in, which saves work.";
    return text;
}

/// The two sides ask for opposite things: what it may be.
std::string conflictSentence(const Findings& f, const Limits& limits) {
    std::string text = "No shim and no backlash brings both sides right: ";
    const auto& drive = f.trial->drive;
    const auto& coast = f.trial->coast;
    if (drive && coast && isAcceptable(*drive, limits.acceptance) != isAcceptable(*coast, limits.acceptance)) {
        text += isAcceptable(*drive, limits.acceptance) ? "what the coast side needs would spoil the drive side. "
                                                        : "what the drive side needs would spoil the coast side. ";
    } else {
        text += "they ask for different things. ";
    }
    bool named = false;
    if (f.offsetMm.certain()) {
        text += "The marks point to a pinion axis out of place by about " + size(f.offsetMm.mean) +
                (f.offsetMm.mean > 0 ? " (offset too large)" : " (offset too small)") +
                ": check the housing bores and the bearing seats. ";
        named = true;
    }
    if (f.shaftAngleRad.certain()) {
        text += "The marks point to axes not square by about " +
                number(std::abs(degrees(f.shaftAngleRad.mean)) * 60, "%.1f") +
                " minutes of arc: check for a bent housing or a cup not seated. ";
        named = true;
    }
    if (!named)
        text +=
            "Look for a bent housing, a bearing cup not seated, worn teeth, or a ring and pinion that are not a "
            "matched pair. ";
    return text + "A set that no setting cures is replaced, ring gear and pinion together.";
}

/// The best move of a trial that no shim helps.
std::string foundWords(const Findings& f) {
    const std::string backlash = "backlash " + size(f.choice.best.backlashTargetMm);
    if (f.choice.best.depthChangeMm == 0) return "shims as they are, " + backlash;
    return "pinion " + size(f.choice.best.depthChangeMm) +
           (f.choice.best.depthChangeMm > 0 ? " deeper, " : " shallower, ") + backlash;
}

std::string doubtSentence(const Findings& f) {
    switch (f.doubt) {
        case Doubt::None:
            break;
        case Doubt::NoPattern:
            return "No usable mark on either side. Paint 3 to 4 teeth at 3 to 4 places, hold the ring gear back a "
                   "little, turn it a few times each way and take the photos again.";
        case Doubt::SidesSwapped:
            return "These marks do not fit together as named, but they fit well with drive and coast exchanged. Check "
                   "which side is the convex (drive) side on the photos, then measure again.";
        case Doubt::EntryOdd:
            return "One entry of this trial does not fit its marks; the question stands in the diagnoses. Settle it "
                   "before the axle comes apart again.";
        case Doubt::NotThisSet:
            return "No set-up of this gear set makes marks like these. Check that the gear-set file is the right one "
                   "(tooth counts, ring gear diameter, offset, hand, cut), that drive and coast are named right, that "
                   "toe and heel are not exchanged on the photo, and that the backlash was read in this trial; then "
                   "measure again.";
        case Doubt::Wandering:
            return "The mark wanders from tooth to tooth. Check the runout of the ring gear's back face and its bolts "
                   "before any shim is changed; then measure again.";
        case Doubt::ReadingNoise:
            return "The marks were read too roughly to decide on a shim. Use a thin, even coat, roll it a few turns "
                   "under light drag, and take sharper photos square to the tooth.";
        case Doubt::MissingBacklash:
            return "Without the backlash the marks leave too much open. Read it on a dial, square to the tooth, at 3 "
                   "or 4 places, and go on with the tightest.";
        case Doubt::MissingSide:
            return std::string("With one side only the marks leave too much open. Photograph the ") +
                   (f.trial->drive ? "coast" : "drive") + " side too.";
        case Doubt::NothingStacks:
            return "Neither the present shims nor any stack from the shims on hand has a good chance. Get more shim "
                   "sizes, or measure again to be sure.";
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

std::string chanceWords(double share) { return percent(std::clamp(share, 0.01, 0.99)); }

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

std::vector<std::string> becauseOf(const Findings& f, const Advice& advice) {
    std::vector<std::string> text;
    const ToothContact& contact = *f.model->contact;
    const GearSet& set = contact.gearSet();
    const AcceptanceRule& rule = set.limits.acceptance;
    if (f.doubt == Doubt::NoPattern) return {doubtSentence(f)};

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
            text.push_back("The backlash read, " + size(*backlash) + ", is far from the limits (" + size(limits.low) +
                           " to " + size(limits.high) +
                           "): make sure that it is typed right and in the right unit, since the marks of one trial "
                           "do not tell half of it or twice it.");
    }
    for (const Diagnosis& diagnosis : advice.diagnoses)
        text.push_back(diagnosis.evidence + " (Chance of this: " + chance(diagnosis.chance) + ".)");
    if (f.doubt == Doubt::SidesSwapped || f.doubt == Doubt::NotThisSet || f.doubt == Doubt::Wandering ||
        f.doubt == Doubt::EntryOdd) {
        text.push_back(doubtSentence(f));
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
                return std::abs(error) < kNoDepthMm ? std::string("right in depth")
                                                    : fine(error) + (error > 0 ? " too deep" : " too shallow");
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

    if (f.readAgainFirst)
        text.emplace_back(
            "Before anything is taken apart, a second reading pays: wipe the teeth, paint and roll them afresh, read "
            "the same setting again and give both trials.");
    switch (advice.verdict) {
        case Verdict::Accept:
            text.push_back(
                "Leave the shims and the backlash as they are: the chance that both sides and the backlash are right "
                "now is " +
                chance(advice.chanceAcceptableNow) + ", and no change promises clearly more.");
            break;
        case Verdict::Change:
            text.push_back(moveSentence(f, advice));
            text.push_back(backlashSentence(f, advice) + " " + ringWords(f, advice));
            text.push_back("The chance that the next pattern is acceptable: " + chance(advice.chanceAcceptableNext) +
                           " (left as it is: " + chance(advice.chanceAcceptableNow) + ").");
            if (const auto other = runnerUpSentence(f, advice)) text.push_back(*other);
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
            text.push_back(conflictSentence(f, set.limits));
            text.push_back("The best move found (" + foundWords(f) + ") has a chance of only " +
                           chance(advice.chanceAcceptableNext) + ".");
            break;
        case Verdict::MeasureAgain:
            text.push_back(doubtSentence(f));
            break;
    }
    return text;
}

std::vector<std::string> cautionsFor(const GearSet& gearSet, const Advice& advice) {
    std::vector<std::string> text;
    text.emplace_back(
        "Support the axle on stands, and keep fingers out of the teeth and the bearings while anyone turns the gears.");
    if (advice.verdict == Verdict::Change || advice.verdict == Verdict::NoShimWillHelp) {
        text.push_back("The maker's sheet for this axle comes first for torque, preload and limits.");
        std::string caps = gearSet.build.carrier == CarrierSetting::OutboardShims
                               ? "Support the case with the ring gear before it comes free: it is heavy."
                               : "Mark the bearing caps and put each back on its own side; keep one loosely fitted "
                                 "until the case is held: it is heavy and can slide out.";
        text.push_back(caps);
        if (advice.shim.thicknessChangeMm != 0)
            text.emplace_back(
                "If a crush sleeve sets the pinion preload, fit a new one, and tighten in small steps: a sleeve "
                "tightened too far must be replaced.");
    }
    text.emplace_back("Turn the bearings several times before each reading of backlash or pattern.");
    text.emplace_back(
        "Wear eye protection and gloves. Use a lead-free compound and wipe it off afterwards; solvent burns and its "
        "fumes harm: fresh air, no flame.");
    return text;
}

}  // namespace shimsight::advice
