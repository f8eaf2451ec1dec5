// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>

#include "shimsight/advice_words.h"
#include "shimsight/core.h"
#include "shimsight/lesson.h"
#include "shimsight/training.h"
#include "shimsight/words.h"

namespace shimsight {
namespace {

constexpr double kCloseMm = 0.03;  ///< an amount this near to the needed one is right
constexpr int kMaxCorrection = kMaxPoints - kMaxPlacePoints, kDepthPoints = 2;

/// On a limit is inside, whatever the last digits of a sum say.
bool insideLimits(const Interval& limits, double mm) {
    constexpr double kRoundingMm = 1e-6;
    return limits.low - kRoundingMm <= mm && mm <= limits.high + kRoundingMm;
}

/// Points for one of the two words of a place; near a border of the zones both neighbours count.
constexpr double kNear = 0.03;

bool sameLength(const std::optional<LengthPosition>& said, const std::optional<Pattern>& truth) {
    if (!said || !truth) return !said && !truth;
    Pattern low = *truth, high = *truth;
    low.toeHeel -= kNear;
    high.toeHeel += kNear;
    return *said == truth->lengthPosition() || *said == low.lengthPosition() || *said == high.lengthPosition();
}

bool sameDepth(const std::optional<DepthPosition>& said, const std::optional<Pattern>& truth) {
    if (!said || !truth) return !said && !truth;
    Pattern low = *truth, high = *truth;
    low.rootTip -= kNear;
    high.rootTip += kNear;
    return *said == truth->depthPosition() || *said == low.depthPosition() || *said == high.depthPosition();
}

/// Whether a choice goes the needed way: any small step will do where next to nothing is needed.
bool rightWay(double chosen, double needed, double littleMm) {
    if (std::abs(needed) < littleMm) return std::abs(chosen - needed) < 2 * littleMm;
    return chosen * needed > 0 && std::abs(chosen) > kNoMoveMm;
}

/// What an amount is one of, with the ids of its entries.
struct Amount {
    const char *more, *less;  ///< "{0} deeper"
    const char *leftAlone, *notNeeded;
};
constexpr Amount kDepth{"training.deeper", "training.shallower", "training.left-depth-alone",
                        "training.depth-not-needed"};
constexpr Amount kLash{"training.more-backlash", "training.less-backlash", "training.left-backlash-alone",
                       "training.backlash-not-needed"};

/// `sureMm`: how well the needed amount is known.
void tellAmount(std::vector<std::string>& words, const Amount& of, double chosen, double needed, double sureMm) {
    const double closeMm = std::max(kCloseMm, sureMm);
    const auto amount = [&](double mm) { return say(mm > 0 ? of.more : of.less, lengthWords(mm)); };
    if (std::abs(chosen) < kNoMoveMm) {
        if (std::abs(needed) >= closeMm) words.push_back(say(of.leftAlone, amount(needed)));
        return;
    }
    const double beyond = chosen - needed;
    if (std::abs(beyond) <= closeMm)
        words.push_back(say("training.amount-right", amount(chosen), lengthWords(closeMm)));
    else if (std::abs(needed) < closeMm)
        words.push_back(say(of.notNeeded, amount(chosen)));
    else if (chosen * needed < 0)
        words.push_back(say("training.amount-wrong-way", amount(chosen), amount(needed)));
    else if (std::abs(chosen) > std::abs(needed))
        words.push_back(say("training.amount-too-much", amount(chosen), lengthWords(beyond)));
    else
        words.push_back(say("training.amount-too-little", amount(chosen), lengthWords(beyond)));
}

/// Where the mark of a side lies, told to who saw it elsewhere.
std::string placeTold(Side side, const std::optional<Pattern>& truth) {
    const bool drive = side == Side::Drive;
    if (!truth) return say(drive ? "training.drive-mark-is" : "training.coast-mark-is", placeWords(truth));
    return say(drive ? "training.drive-mark-is-at" : "training.coast-mark-is-at", placeWords(truth),
               percent(truth->toeHeel), percent(truth->rootTip));
}

/// How far the marks lie above mid-height on the mean; what the rule of depth goes by.
double heightOfMarks(const Exercise& exercise) {
    double sum = 0;
    int count = 0;
    for (const auto& pattern : exercise.marks.pattern)
        if (pattern) {
            sum += pattern->rootTip - 0.5;
            ++count;
        }
    return count > 0 ? sum / count : 0;
}

bool depthIsRight(const Exercise& exercise) { return std::abs(exercise.best.move.deeperMm) < kNoMoveMm; }

std::string shimRuleOf(PinionShim place) {
    return say(place == PinionShim::UnderPinionSupport ? "training.shim-rule-away" : "training.shim-rule-deeper",
               text(wordFor(place)));
}

GradedCorrection gradedStory(const Exercise& exercise, const Correction& correction) {
    const Story& story = *exercise.story;
    GradedCorrection graded;
    graded.after = exercise.bench;
    graded.backlashMm = exercise.backlashMm;
    const bool right = correction.check == story.right;
    graded.points = right ? kMaxCorrection : 0;
    graded.ended = right;
    if (!right) {
        graded.words.push_back(say("training.check-first", story.checks.at(story.right)));
        graded.lesson = story.lesson;
    }
    graded.words.push_back(story.why);
    return graded;
}

/// Whether the shims of the bench make it; what was on hand in a job is not known.
bool shimsMake(const Exercise& exercise, double depthMm) {
    return exercise.level == 0 || !shimFault(exercise.contact->gearSet(), depthMm);
}

/// A change is asked and one was made.
void gradeChange(const Exercise& exercise, const BenchMove& chosen, GradedCorrection& graded) {
    const ToothContact& contact = *exercise.contact;
    const BenchMove& needed = exercise.best.move;
    const Interval& limits = contact.gearSet().limits.backlashMm;
    constexpr double kLittleMm = 0.03;
    const bool inside = insideLimits(limits, graded.backlashMm);
    const bool pulledForNothing = depthIsRight(exercise) && std::abs(chosen.deeperMm) > kNoMoveMm;
    // A pinion that comes out for nothing, or for a shim that does not exist, earns nothing for its depth.
    const bool depthCounts = !pulledForNothing && shimsMake(exercise, chosen.deeperMm);
    const bool depthWay = depthCounts && rightWay(chosen.deeperMm, needed.deeperMm, kLittleMm);
    // Backlash may end anywhere inside its limits; past them on the other side it is no better than before.
    const bool lashWay = inside || (rightWay(chosen.moreBacklashMm, needed.moreBacklashMm, kLittleMm) &&
                                    std::abs(chosen.moreBacklashMm) <= std::abs(needed.moreBacklashMm) + kLittleMm);
    // As far off on the other side as before, or worse than before.
    const double beyond = std::abs(chosen.deeperMm) - std::abs(needed.deeperMm);
    const bool better = goodness(contact, graded.after) > goodness(contact, exercise.bench);
    const bool overshot = !graded.ended && chosen.deeperMm * needed.deeperMm > 0 && beyond > 0 &&
                          (beyond >= std::abs(needed.deeperMm) || !better);
    const bool jammed = graded.backlashMm <= 0;
    const bool wrongWay = !graded.ended && std::abs(needed.deeperMm) >= kLittleMm &&
                          chosen.deeperMm * needed.deeperMm < 0 && std::abs(chosen.deeperMm) > kNoMoveMm;
    if (overshot || jammed || wrongWay)
        graded.points = 0;
    else if (graded.ended)
        graded.points = depthCounts ? kMaxCorrection : kMaxCorrection - kDepthPoints;
    else
        graded.points = kDepthPoints * static_cast<int>(depthWay) + 2 * static_cast<int>(lashWay) +
                        static_cast<int>(better && depthWay && lashWay);
    // What is right within the shims is still a pinion pulled for nothing.
    if (!pulledForNothing || std::abs(chosen.deeperMm - needed.deeperMm) > kCloseMm)
        tellAmount(graded.words, kDepth, chosen.deeperMm, needed.deeperMm, exercise.depthSureMm);
    if (pulledForNothing) graded.words.push_back(say("training.pulled-for-nothing"));
    if (overshot) graded.words.push_back(say("training.overshot"));
    if (wrongWay) graded.words.push_back(say("training.wrong-way-fails"));
    if (!inside) tellAmount(graded.words, kLash, chosen.moreBacklashMm, needed.moreBacklashMm, exercise.backlashSureMm);
    if (jammed) graded.words.push_back(say("training.jams"));
    graded.words.push_back(graded.ended ? say("training.ends-good") : say("training.ends-bad", truthWords(exercise)));
    if (graded.points == kMaxCorrection) return;
    graded.lesson = pulledForNothing || depthWay ? "backlash" : "depth";
    if (graded.ended && !pulledForNothing) graded.lesson = "shims";
    if (!pulledForNothing && depthWay && lashWay) graded.lesson = "both";
}

}  // namespace

std::optional<std::string> shimFault(const GearSet& gearSet, double depthMm) {
    const double step = shimStepMm(gearSet), steps = std::round(depthMm / step);
    constexpr double kSameMm = 0.004;  // a length typed in the other unit
    if (std::abs(depthMm) < kNoMoveMm || std::abs(depthMm - steps * step) < kSameMm) return std::nullopt;
    // A metric shim as its inches are told: 5 thousandths are the shim of 0.12 mm, about 0.005 in.
    const auto toldInches = [](double mm) { return lengthPair(Length::fromMm(std::abs(mm))).inch; };
    if (steps != 0 && toldInches(depthMm) == toldInches(steps * step)) return std::nullopt;
    return steps == 0 ? say("training.no-shim-so-thin", lengthWords(step))
                      : say("training.no-such-shim", lengthWords(step), lengthWords(steps * step));
}

std::string ruleWords(const Exercise& exercise) {
    if (exercise.remedy == Remedy::Accept) return say("training.rule-leave");
    if (exercise.remedy == Remedy::NoShim) return say("training.rule-no-shim");
    if (depthIsRight(exercise)) return say("training.rule-dial");
    const double up = heightOfMarks(exercise);
    constexpr double kClearlyOff = 0.03;
    // Where the height does not tell it, depth was found by what is left along the tooth.
    if (up * exercise.best.move.deeperMm < 0 || std::abs(up) < kClearlyOff) return say("training.rule-along");
    const bool dialToo = !insideLimits(exercise.contact->gearSet().limits.backlashMm, exercise.backlashMm);
    if (up < 0) return say(dialToo ? "training.rule-low-and-dial" : "training.rule-low");
    return say(dialToo ? "training.rule-high-and-dial" : "training.rule-high");
}

GradedPlace gradePlace(const Exercise& exercise, Side side, const SeenPlace& seen) {
    GradedPlace graded;
    if (!exercise.asked[index(side)]) return graded;
    const int worth = exercise.asked[0] && exercise.asked[1] ? 1 : 2;  // of each word
    const auto& truth = exercise.marks.pattern[index(side)];
    const bool length = sameLength(seen.length, truth), depth = sameDepth(seen.depth, truth);
    graded.points = worth * (static_cast<int>(length) + static_cast<int>(depth));
    if (!length || !depth) graded.words = placeTold(side, truth);
    return graded;
}

GradedCorrection gradeCorrection(const Exercise& exercise, const Correction& correction) {
    if (exercise.story) return gradedStory(exercise, correction);
    const ToothContact& contact = *exercise.contact;
    BenchMove chosen = correction.move;
    if (exercise.shimAsked)
        chosen.deeperMm =
            *exercise.shimAsked == PinionShim::UnderPinionSupport ? -correction.thickerMm : correction.thickerMm;
    const BenchMove& needed = exercise.best.move;
    GradedCorrection graded;
    graded.after = moved(contact, exercise.bench, chosen);
    graded.backlashMm = backlashMm(contact, graded.after);
    graded.ended = goodness(contact, graded.after) > 0 ||
                   (std::abs(chosen.deeperMm - needed.deeperMm) < exercise.depthSureMm &&
                    std::abs(chosen.moreBacklashMm - needed.moreBacklashMm) < exercise.backlashSureMm);
    const Remedy said = correction.remedy;
    if (exercise.remedy == Remedy::Accept) {
        const bool pulled = said == Remedy::Change && std::abs(chosen.deeperMm) > kNoMoveMm;
        const bool stillGood = said == Remedy::Change && graded.ended;
        graded.points = said == Remedy::Accept ? kMaxCorrection : stillGood && !pulled ? 2 : 0;
        graded.words.push_back(say(said == Remedy::Accept ? "training.right-to-leave-it"
                                   : stillGood            ? "training.was-good-and-still-is"
                                                          : "training.setting-is-good"));
        if (pulled) graded.words.push_back(say("training.pulled-for-nothing"));
        if (said != Remedy::Accept) graded.lesson = "good";
    } else if (exercise.remedy == Remedy::NoShim) {
        graded.points = said == Remedy::NoShim ? kMaxCorrection : 0;
        graded.words.push_back(
            say(said == Remedy::NoShim ? "training.right-no-setting-helps" : "training.no-setting-helps"));
        // One painting does not tell these apart, and the advice asks the same.
        graded.words.push_back(say(
            exercise.bench.error.offsetMm > 0 ? "training.made-with-offset-large" : "training.made-with-offset-small",
            lengthWords(exercise.bench.error.offsetMm)));
        if (said != Remedy::NoShim) graded.lesson = "no-shim";
    } else if (said != Remedy::Change) {
        graded.words.push_back(
            say(said == Remedy::Accept ? "training.not-good-yet" : "training.shims-do-help", truthWords(exercise)));
        graded.lesson = said == Remedy::Accept ? "good" : "no-shim";
    } else {
        if (!shimsMake(exercise, chosen.deeperMm))
            graded.words.push_back(*shimFault(exercise.contact->gearSet(), chosen.deeperMm) + " " +
                                   say("training.no-points-for-it"));
        gradeChange(exercise, chosen, graded);
        if (exercise.shimAsked) {
            graded.words.push_back(shimRuleOf(*exercise.shimAsked));
            if (chosen.deeperMm * needed.deeperMm < 0) graded.lesson = "shims";
        }
    }
    // What was done to a trial of a job is known, not why.
    if (exercise.level > 0) graded.words.push_back(ruleWords(exercise));
    return graded;
}

std::string readAgainWords(std::string_view lesson) {
    const LessonInfo* found = lessonNamed(lesson);
    check(found != nullptr, "a lesson to read again");
    return say("training.read-again", found->title);
}

GradedAnswer gradeAnswer(const Exercise& exercise, const DrillAnswer& answer) {
    GradedAnswer graded;
    bool placesRight = true;
    for (const Side side : kSides) {
        GradedPlace place = gradePlace(exercise, side, answer.seen[index(side)]);
        graded.placePoints += place.points;
        if (place.words.empty()) continue;
        placesRight = false;
        graded.words.push_back(std::move(place.words));
    }
    GradedCorrection correction = gradeCorrection(exercise, answer.correction);
    graded.correctionPoints = correction.points;
    graded.expected = marksOf(*exercise.contact, correction.after);
    graded.backlashMm = correction.backlashMm;
    graded.ended = correction.ended;
    graded.words.insert(graded.words.end(), correction.words.begin(), correction.words.end());
    graded.lesson = !correction.lesson.empty() ? correction.lesson : placesRight ? "" : "tooth";
    if (!graded.lesson.empty()) graded.words.push_back(readAgainWords(graded.lesson));
    graded.words.insert(graded.words.end(), exercise.told.begin(), exercise.told.end());
    return graded;
}

std::vector<LessonToRead> lessonsToRead(std::span<const ScoreEntry> entries, std::size_t last) {
    std::vector<LessonToRead> found;
    for (const ScoreEntry& entry : entries.subspan(entries.size() - std::min(entries.size(), last))) {
        if (entry.lesson.empty()) continue;
        const auto same = std::find_if(found.begin(), found.end(),
                                       [&](const LessonToRead& one) { return one.lesson == entry.lesson; });
        if (same == found.end())
            found.push_back({entry.lesson, 1});
        else
            ++same->mistakes;
    }
    std::stable_sort(found.begin(), found.end(),
                     [](const LessonToRead& a, const LessonToRead& b) { return a.mistakes > b.mistakes; });
    return found;
}

}  // namespace shimsight
