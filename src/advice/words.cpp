// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "advice/words.h"

#include <algorithm>
#include <cmath>

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

const std::optional<Pattern>& patternOf(const TrialObservation& trial, Side side) {
    return side == Side::Drive ? trial.drive : trial.coast;
}

Message lengthwisePlace(const Pattern& pattern) {
    switch (pattern.lengthPosition()) {
        case LengthPosition::Toe:
            return message("advice.toward-toe");
        case LengthPosition::Centre:
            return message("advice.at-centre");
        case LengthPosition::Heel:
            break;
    }
    return message("advice.toward-heel");
}

Message placeInHeight(const Pattern& pattern) {
    switch (pattern.depthPosition()) {
        case DepthPosition::Face:
            return message("advice.high");
        case DepthPosition::Centre:
            return message("advice.mid-height");
        case DepthPosition::Flank:
            break;
    }
    return message("advice.low");
}

/// Whether the middle of the mark may lie where it lies.
Message placeAllowed(const Pattern& pattern, const AcceptanceRule& rule) {
    const bool along = rule.toeHeel.holds(pattern.toeHeel), up = rule.rootTip.holds(pattern.rootTip);
    if (along) return message(up ? "advice.may-lie-there" : "advice.off-in-height");
    return message(up ? "advice.off-lengthwise" : "advice.off-both-ways");
}

/// Where the mark lies, in the words of the table of its numbers, and whether its middle may lie there.
Message markSentence(Side side, const Pattern& pattern, const AcceptanceRule& rule) {
    const Message along = lengthwisePlace(pattern), up = placeInHeight(pattern), allowed = placeAllowed(pattern, rule);
    const std::string fromToe = percent(pattern.toeHeel), fromRoot = percent(pattern.rootTip);
    std::vector<std::string> edges;
    if (pattern.runsOff.toe) edges.push_back(say("advice.edge-toe"));
    if (pattern.runsOff.heel) edges.push_back(say("advice.edge-heel"));
    if (pattern.runsOff.tip) edges.push_back(say("advice.edge-tip"));
    if (pattern.runsOff.root) edges.push_back(say("advice.edge-root"));
    if (edges.empty()) return message("advice.mark-lies", wordFor(side), along, up, allowed, fromToe, fromRoot);
    return message("advice.mark-lies-and-runs-off", wordFor(side), along, up, allowed, listed(edges), fromToe,
                   fromRoot);
}

/// The same of gears that ran together, which no rule for new ones judges. `was`: where it lay before they came apart.
Message usedMarkSentence(Side side, const Pattern& pattern, const std::optional<Pattern>& was) {
    const Message along = lengthwisePlace(pattern), up = placeInHeight(pattern);
    const std::string fromToe = percent(pattern.toeHeel), fromRoot = percent(pattern.rootTip);
    if (!was) return message("advice.used-mark-lies", wordFor(side), along, up, fromToe, fromRoot);
    return message("advice.used-mark-lies-and-lay", wordFor(side), along, up, fromToe, fromRoot, percent(was->toeHeel),
                   percent(was->rootTip));
}

/// "0.020 in (0.51 mm) toward the root and 0.031 in (0.79 mm) toward the toe"
Message movementWords(const Movement& m) {
    std::vector<Message> parts;
    if (std::abs(m.towardTipMm) >= kNoMovementMm)
        parts.push_back(message(m.towardTipMm > 0 ? "advice.to-tip" : "advice.to-root", whole(m.towardTipMm)));
    if (std::abs(m.towardHeelMm) >= kNoMovementMm)
        parts.push_back(message(m.towardHeelMm > 0 ? "advice.to-heel" : "advice.to-toe", whole(m.towardHeelMm)));
    if (parts.empty()) return message("advice.hardly-at-all");
    return parts.size() == 1 ? parts[0] : message("advice.both-moves", parts[0], parts[1]);
}

/// Why the teeth of this set behave as they do, what of it is assumed only, and how a deeper pinion moves the marks.
Message behaviourSentence(const Findings& f) {
    const ToothContact& contact = *f.model->contact;
    const GearSet& set = contact.gearSet();
    const double curvature = lengthwiseCurvature(contact);
    const Message teeth = message(curvature < kHobbedCurvature        ? "advice.strongly-curved"
                                  : curvature > kLargeCutterCurvature ? "advice.slightly-curved"
                                                                      : "advice.curved-between",
                                  wordFor(set.cut));
    const char* const id = set.given.cut
                               ? (set.given.cutter ? "advice.set-behaves" : "advice.set-behaves-cutter-assumed")
                           : set.given.cutter ? "advice.set-behaves-cut-assumed"
                                              : "advice.set-behaves-both-assumed";
    return message(id, teeth, formatted("%.2f", curvature), size(kMovementStepMm), movementWords(f.movements.deeper[0]),
                   movementWords(f.movements.deeper[1]));
}

/// What the chart for the drive mark's place along the tooth says, and whether this set agrees.
std::optional<Message> chartSentence(const Findings& f) {
    const auto& drive = f.trial->drive;
    if (!drive) return std::nullopt;
    const double along = drive->toeHeel - f.model->contact->gearSet().limits.acceptance.toeHeel.middle();
    if (std::abs(along) <= kOffLength) return std::nullopt;
    const bool heel = along > 0;
    const double moves = f.movements.deeper[index(Side::Drive)].towardHeelMm;
    if (std::abs(moves) < kNoMovementMm)
        return message(heel ? "advice.chart-heel-undecided" : "advice.chart-toe-undecided");
    if (moves > 0) return message(heel ? "advice.chart-heel-agrees" : "advice.chart-toe-agrees");
    const double away = f.movements.ringAway[index(Side::Drive)].towardHeelMm;
    if (std::abs(away) < kNoMovementMm) return message(heel ? "advice.chart-heel-fails" : "advice.chart-toe-fails");
    if (away > 0) return message(heel ? "advice.chart-heel-fails-ring-to-heel" : "advice.chart-toe-fails-ring-to-heel");
    return message(heel ? "advice.chart-heel-fails-ring-to-toe" : "advice.chart-toe-fails-ring-to-toe");
}

/// What decided: the pulls of height and of length, both sides.
std::optional<Message> decidedSentence(const Findings& f) {
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
    const Message says = message(leads > 0 ? "advice.deep" : "advice.shallow");
    if (std::abs(other) < kNoPullMm)
        return message(heightLeads ? "advice.decided-by-height" : "advice.decided-by-place", says);
    if ((other > 0) == (leads > 0))
        return message(heightLeads ? "advice.decided-by-height-both-say" : "advice.decided-by-place-both-say", says);
    return message(heightLeads ? "advice.decided-by-height-against" : "advice.decided-by-place-against", says);
}

Message estimateSentence(const Findings& f, const Advice& advice) {
    const Estimate& e = advice.depthErrorMm;
    const Message between = depthBetween(e);
    Message estimate =
        stepped(e.best) == 0
            ? message("advice.estimate-right", between)
            : message(e.best > 0 ? "advice.estimate-too-close" : "advice.estimate-too-far", depthErrorOf(e), between);
    if (e.low90 < 0 && e.high90 > 0 && advice.verdict == Verdict::Change && advice.shim.thicknessChangeMm != 0)
        return message("advice.direction-not-certain", estimate, chanceWords(f.chanceOfSign));
    return estimate;
}

/// Why the move is as large as it is.
Message moveSentence(const Advice& advice) {
    const double depth = advice.shim.depthChangeMm;
    if (advice.shim.thicknessChangeMm == 0) return message("advice.backlash-alone");
    Message move = message(depth > 0 ? "advice.goes-deeper" : "advice.goes-shallower", size(depth));
    // Right depth and best chance may differ: the place of the marks depends on how this set was cut, too.
    const double alone = -advice.depthErrorMm.best;
    if (std::abs(alone - depth) <= kSplitMm) return move;
    if (stepped(alone) == 0) return message("advice.depth-alone-nothing", move);
    return message(alone > 0 ? "advice.depth-alone-deeper" : "advice.depth-alone-shallower", move, whole(alone));
}

/// What the dial shows at another place than the limits are meant for.
std::optional<Message> dialSentence(const Findings& f, const Advice& advice) {
    if (f.trial->dial == DialReading::SquareToTooth) return std::nullopt;
    const double factor = f.model->contact->toSquareReading(f.trial->dial);
    return message(f.trial->dial == DialReading::SquareAtHeel ? "advice.dial-at-heel" : "advice.dial-at-edge",
                   size(advice.backlashTargetMm), whole(advice.backlashTargetMm / factor));
}

/// The other move that saves work and is nearly as good.
std::optional<Message> runnerUpSentence(const Advice& advice) {
    if (!runnerUpSavesWork(advice)) return std::nullopt;
    return message("advice.nearly-as-good", size(advice.runnerUp->backlashTargetMm),
                   chanceWords(advice.runnerUp->chanceAcceptableNext), chanceWords(advice.chanceAcceptableNext));
}

/// A cause of the housing against what a manual's row says of the same marks.
std::optional<Message> housingAgainstChart(const Findings& f, const Advice& advice) {
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
    return message(up > 0 ? "advice.chart-against-high" : "advice.chart-against-low", size(kMovementStepMm),
                   movementWords(f.movements.deeper[0]), movementWords(f.movements.deeper[1]));
}

/// Why no setting brings both sides right.
Message sidesSpoilEachOther(const TrialObservation& trial, const AcceptanceRule& rule) {
    if (!trial.drive || !trial.coast) return message("advice.sides-differ");
    const bool drive = isAcceptable(*trial.drive, rule), coast = isAcceptable(*trial.coast, rule);
    if (drive == coast) return message("advice.sides-differ");
    return message(drive ? "advice.coast-spoils-drive" : "advice.drive-spoils-coast");
}

/// What was ruled out, and by what.
Message ruledOut(const Advice& advice) {
    if (!advice.changesNothing) return message("advice.ruled-out-alone", chanceWords(advice.chanceAcceptableNext));
    const Message between = depthBetween(advice.depthErrorMm);
    if (!advice.backlashNowMm) return message("advice.ruled-out-depth", between);
    return message("advice.ruled-out-depth-and-backlash", between, size(*advice.backlashNowMm));
}

/// What the marks point to beyond shims, and what to measure next.
Message causeAndNext(const Findings& f) {
    Message next = message("advice.measure-housing");
    if (f.shaftAngleRad.certain())
        next = twoSentences(
            message("advice.points-to-angle", formatted("%.0f", std::abs(degrees(f.shaftAngleRad.mean)) * 60)), next);
    if (f.offsetMm.certain())
        next = twoSentences(
            message(f.offsetMm.mean > 0 ? "advice.points-to-large-offset" : "advice.points-to-small-offset",
                    whole(f.offsetMm.mean)),
            next);
    return next;
}

/// Why a trial does not settle it by itself; not for Doubt::None.
Message doubtReason(Doubt doubt) {
    switch (doubt) {
        case Doubt::None:
            break;
        case Doubt::NoPattern:
            return message("advice.no-mark");
        case Doubt::SidesSwapped:
            return message("advice.fits-exchanged");
        case Doubt::EntryOdd:
            return message("advice.entry-does-not-fit");
        case Doubt::NotThisSet:
            return message("advice.no-set-up-fits");
        case Doubt::Wandering:
            return message("advice.wanders");
        case Doubt::PatternNoise:
            return message("advice.read-roughly");
        case Doubt::MissingBacklash:
            return message("advice.open-without-backlash");
        case Doubt::MissingSide:
            return message("advice.open-with-one-side");
        case Doubt::OneMoreObservation:
            return message("advice.nothing-to-change-yet");
        case Doubt::NothingStacks:
            return message("advice.nothing-stacks");
    }
    return {};
}

/// What to do about it; nullopt where a diagnosis asks it.
std::optional<Message> doubtAction(const Findings& f, const Advice& advice) {
    const auto asks = [&](std::initializer_list<DiagnosisKind> kinds) {
        return std::any_of(advice.diagnoses.begin(), advice.diagnoses.end(), [&](const Diagnosis& one) {
            return one.question && std::find(kinds.begin(), kinds.end(), one.kind) != kinds.end();
        });
    };
    switch (f.doubt) {
        case Doubt::None:
            break;
        case Doubt::NoPattern:
            return message("advice.paint-and-read");
        case Doubt::SidesSwapped:
            if (asks({DiagnosisKind::SidesSwapped})) break;
            return message("advice.is-drive-convex");
        case Doubt::EntryOdd:
            if (asks({DiagnosisKind::EntryChange, DiagnosisKind::EntryBacklash})) break;
            return message("advice.settle-entry");
        case Doubt::NotThisSet:
            if (asks({DiagnosisKind::WrongGearData})) break;
            return message("advice.check-gear-set");
        case Doubt::Wandering:
            return message("advice.check-runout");
        case Doubt::PatternNoise:
            return message("advice.paint-thinner");
        case Doubt::MissingBacklash:
            return message("advice.read-backlash");
        case Doubt::MissingSide:
            return message("advice.read-other-side", wordFor(f.trial->drive ? Side::Coast : Side::Drive));
        case Doubt::OneMoreObservation:
            return message("advice.read-once-more");
        case Doubt::NothingStacks:
            return message("advice.get-shims");
    }
    return std::nullopt;
}

void addIf(std::vector<Message>& sentences, const std::optional<Message>& sentence) {
    if (sentence) sentences.push_back(*sentence);
}

void addMarks(const Findings& f, const AcceptanceRule& rule, std::vector<Message>& because) {
    for (const Side side : kSides) {
        const auto& pattern = patternOf(*f.trial, side);
        if (!pattern)
            because.push_back(message("advice.side-not-read", wordFor(side)));
        else if (f.was != nullptr)
            because.push_back(usedMarkSentence(side, *pattern, patternOf(*f.was, side)));
        else
            because.push_back(markSentence(side, *pattern, rule));
    }
}

/// What is special about this axle: which flank carries it forward, where its pinion lies (common practice, no source).
/// The names of the flanks stay: drive is the convex one, on a reverse-cut set too.
void addThisAxle(const GearSet& set, std::vector<Message>& because) {
    if (set.forwardLoadSide == Side::Coast) because.push_back(message("advice.axle-forward-on-coast"));
    if (set.build.pinionPosition == PinionPosition::Above && set.offsetMm > 0)
        because.push_back(message("advice.axle-pinion-above", wordFor(set.forwardLoadSide)));
    if (set.offsetMm == 0) because.push_back(message("advice.axle-spiral-bevel"));
}

/// Points at a backlash far outside its limits, unless a question asks after it.
void addFarBacklash(const GearSet& set, const Advice& advice, std::vector<Message>& because) {
    if (!advice.backlashNowMm) return;
    const double backlash = *advice.backlashNowMm;
    const Interval& limits = set.limits.backlashMm;
    const bool asked = std::any_of(advice.diagnoses.begin(), advice.diagnoses.end(), [](const Diagnosis& diagnosis) {
        return diagnosis.kind == DiagnosisKind::EntryBacklash;
    });
    if (asked || (backlash >= limits.low / kFarOutside && backlash <= limits.high * kFarOutside)) return;
    because.push_back(message(set.given.backlashLimits ? "advice.far-from-limits" : "advice.far-from-usual",
                              size(backlash), size(limits.low), size(limits.high)));
}

/// The causes found; what is asked as a question stands with what to look at first.
void addCauses(const Findings& f, const Advice& advice, std::vector<Message>& because) {
    for (const Diagnosis& diagnosis : advice.diagnoses) {
        if (diagnosis.question) continue;
        const bool once = !diagnosis.shown && f.trials <= 1;
        because.push_back(message(once ? "advice.chance-by-one-painting" : "advice.chance-of-this", diagnosis.evidence,
                                  chanceWords(diagnosis.chance)));
    }
    addIf(because, housingAgainstChart(f, advice));
}

/// Both cuts, where neither is known.
void addCuts(const Findings& f, const Advice& advice, std::vector<Message>& because) {
    if (!f.cutWeighed) return;
    const double milled = advice.chanceFaceMilled;
    const bool forMilled = f.model->contact->gearSet().cut == Cut::FaceMilled;
    because.push_back(message(forMilled ? "advice.cut-weighed-milled" : "advice.cut-weighed-hobbed",
                              chanceWords(milled), chanceWords(1 - milled)));
    if (milled <= kWorthAWord || milled >= 1 - kWorthAWord) return;
    const auto says = [](double error) {
        if (stepped(error) == 0) return message("advice.right-in-depth");
        return message(error > 0 ? "advice.too-deep" : "advice.too-shallow", whole(error));
    };
    because.push_back(message("advice.depth-by-cut", says(f.depthIfMilledMm), says(f.depthIfHobbedMm)));
}

void addEstimate(const Findings& f, const Advice& advice, std::vector<Message>& because) {
    if (f.trials > 1) because.push_back(message("advice.trials-together", f.trials));
    addCuts(f, advice, because);
    because.push_back(behaviourSentence(f));
    addIf(because, chartSentence(f));
    if (advice.verdict != Verdict::Accept) addIf(because, decidedSentence(f));
    because.push_back(estimateSentence(f, advice));
    if (!f.trial->backlashMm && f.doubt != Doubt::MissingBacklash)
        because.push_back(message("advice.no-backlash-given"));
}

void addVerdict(const Findings& f, const Advice& advice, std::vector<Message>& because) {
    switch (advice.verdict) {
        case Verdict::Accept:
            because.push_back(message("advice.leave-as-they-are", chanceWords(advice.chanceAcceptableNow)));
            break;
        case Verdict::Change:
            because.push_back(moveSentence(advice));
            addIf(because, dialSentence(f, advice));
            addIf(because, runnerUpSentence(advice));
            if (f.usedGears) because.push_back(message("advice.old-wear-first"));
            if (advice.chanceAcceptableNext < kSmallChance) because.push_back(message("advice.small-chance"));
            break;
        case Verdict::NoShimWillHelp:
            because.push_back(sidesSpoilEachOther(*f.trial, f.model->contact->gearSet().limits.acceptance));
            because.push_back(ruledOut(advice));
            because.push_back(causeAndNext(f));
            break;
        case Verdict::MeasureAgain:
            break;
    }
}

}  // namespace

bool Marginal::certain() const { return std::abs(mean) > 2 * sigma; }

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
    std::vector<Message> look;
    addIf(look, doubtAction(f, advice));
    return look;
}

std::vector<Message> becauseOf(const Findings& f, const Advice& advice) {
    if (f.doubt == Doubt::NoPattern) return {doubtReason(f.doubt)};
    const GearSet& set = f.model->contact->gearSet();
    std::vector<Message> because;
    addMarks(f, set.limits.acceptance, because);
    addThisAxle(set, because);
    addFarBacklash(set, advice, because);
    addCauses(f, advice, because);
    if (f.doubt == Doubt::SidesSwapped || f.doubt == Doubt::NotThisSet || f.doubt == Doubt::Wandering ||
        f.doubt == Doubt::EntryOdd) {
        because.push_back(doubtReason(f.doubt));
        if (f.doubt == Doubt::NotThisSet) addIf(because, chartSentence(f));
        return because;
    }
    addEstimate(f, advice, because);
    addVerdict(f, advice, because);
    if (f.doubt != Doubt::None) because.push_back(doubtReason(f.doubt));
    return because;
}

std::vector<Message> cautionsFor(const GearSet& gearSet, const Advice& advice) {
    std::vector<Message> cautions{message("advice.on-stands")};
    if (advice.stop && advice.stop->kind == StopKind::Jammed) cautions.push_back(message("advice.do-not-force"));
    if (advice.verdict == Verdict::Change || advice.verdict == Verdict::NoShimWillHelp || hasMove(advice) ||
        advice.stop) {
        cautions.push_back(message("advice.makers-sheet"));
        cautions.push_back(message(gearSet.build.carrier == CarrierSetting::OutboardShims ? "advice.support-case"
                                                                                          : "advice.mark-caps"));
        if (advice.shim.thicknessChangeMm != 0 && gearSet.build.preloadSpacer != PreloadSpacer::SolidSpacer)
            cautions.push_back(message("advice.crush-sleeve"));
    }
    cautions.push_back(message("advice.turn-bearings"));
    cautions.push_back(message("advice.eyes-and-hands"));
    return cautions;
}

}  // namespace shimsight::advice
