#include <algorithm>
#include <cmath>
#include <sstream>

#include "shimsight/advice_words.h"
#include "shimsight/core.h"
#include "shimsight/lesson.h"
#include "shimsight/training.h"
#include "shimsight/words.h"

namespace shimsight {
namespace {

constexpr double kCloseMm = 0.03;  ///< an amount this near to the needed one is right

/// Depth and backlash errors of a level are drawn between these, either way, mm.
struct Level {
    const char* words;  ///< id of an entry
    Interval depthMm, backlashMm;
    double scatter = 0;  ///< of crowns and bias, share of the gear set's own
    bool hobbedToo = false, trick = false;
};
constexpr std::array<Level, kDrillLevels> kLevels{{
    {"training.level-one", {0.15, 0.28}, {0.08, 0.14}, 0, false, false},
    {"training.level-two", {0.10, 0.26}, {0.06, 0.12}, 0, false, false},
    {"training.level-three", {0.08, 0.24}, {0.04, 0.10}, 0.15, true, false},
    {"training.level-four", {0.06, 0.22}, {0.03, 0.10}, 0.20, true, true},
}};

double either(Random& random, const Interval& size) {
    const double value = random.uniform(size.low, size.high);
    return random.chance(0.5) ? value : -value;
}

/// A set-up error of the wished kind, or none when the dice gave another one.
std::optional<Exercise> tryExercise(Random random, const Level& level, Remedy wish, int levelNumber,
                                    const ToothContact& contact) {
    Exercise exercise;
    exercise.contact = &contact;
    Bench bench = rightBench(contact);
    for (Modification& m : bench.modification) {
        m.lengthCrownUm *= std::exp(level.scatter * random.normal());
        m.profileCrownUm *= std::exp(level.scatter * random.normal());
        m.biasUm += level.scatter * std::sqrt(m.lengthCrownUm * m.profileCrownUm) * random.normal();
    }
    const Interval& limits = contact.gearSet().limits.backlashMm;
    // A tight set cannot lose more backlash than it has.
    constexpr double kMinBacklashMm = 0.02;
    const auto backlash = [&](const Interval& size) {
        return std::max(either(random, size), kMinBacklashMm - limits.middle());
    };
    if (wish == Remedy::Change) {
        const bool depthToo = levelNumber > 1 || random.chance(0.6);
        const bool backlashToo = levelNumber > 1 || !depthToo;
        bench = moved(contact, bench,
                      {depthToo ? either(random, level.depthMm) : 0, backlashToo ? backlash(level.backlashMm) : 0});
    } else if (wish == Remedy::NoShim) {
        constexpr Interval kOffsetMm{0.22, 0.40};
        SetupError offset;
        offset.offsetMm = either(random, kOffsetMm);
        bench.error = offset;
        bench.error.ringMm = contact.backlashChangeMm(offset) / contact.backlashRates().perRingMove;
        bench = moved(contact, bench, {either(random, {0.0, 0.1}), backlash({0.0, 0.05})});
    } else {
        bench = moved(contact, bench, {either(random, {0.0, 0.03}), backlash({0.0, 0.03})});
    }
    exercise.bench = bench;
    exercise.marks = marksOf(contact, bench);
    exercise.backlashMm = backlashMm(contact, bench);
    exercise.best = bestMove(contact, bench);
    exercise.remedy = wish;
    // Nothing on the border: a learner is asked only what has one answer.
    constexpr double kClearlyBad = -0.10;
    const double now = goodness(contact, bench);
    const bool bothSeen = exercise.marks.pattern[0] && exercise.marks.pattern[1];
    const bool clear = wish == Remedy::Accept   ? now > kClearlyGood
                       : wish == Remedy::Change ? now < kClearlyBad && exercise.best.goodness > kClearlyGood
                                                : exercise.best.goodness < kClearlyBad;
    if (!clear || !bothSeen) return std::nullopt;
    return exercise;
}

/// On a limit is inside, whatever the last digits of a sum say.
bool insideLimits(const Interval& limits, double mm) {
    constexpr double kRoundingMm = 1e-6;
    return limits.low - kRoundingMm <= mm && mm <= limits.high + kRoundingMm;
}

std::vector<std::string> wordsOf(std::string_view text) {
    std::string spaced;
    for (const char c : text.substr(0, 200))
        spaced += c == ',' || c == ';' ? ' ' : static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
    std::istringstream stream(spaced);
    std::vector<std::string> words;
    for (std::string word; stream >> word;) words.push_back(word);
    return words;
}

std::string lengthWords(double mm) { return formatLength(Length::fromMm(std::abs(mm))); }

/// Points for one of the two words of a place; near a border of the zones both neighbours count.
bool sameLength(const std::optional<LengthPosition>& said, const std::optional<Pattern>& truth) {
    if (!said || !truth) return !said && !truth;
    constexpr double kNear = 0.03;
    Pattern low = *truth, high = *truth;
    low.toeHeel -= kNear;
    high.toeHeel += kNear;
    return *said == truth->lengthPosition() || *said == low.lengthPosition() || *said == high.lengthPosition();
}

bool sameDepth(const std::optional<DepthPosition>& said, const std::optional<Pattern>& truth) {
    if (!said || !truth) return !said && !truth;
    constexpr double kNear = 0.03;
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

}  // namespace

std::string drillLevelWords(int level) {
    check(level >= 1 && level <= kDrillLevels, "a level of the drill");
    return say(kLevels[static_cast<std::size_t>(level - 1)].words);
}

Exercise drawExercise(std::uint64_t seed, int level, int number, const ToothContact* contact) {
    check(level >= 1 && level <= kDrillLevels && number >= 1, "a level and number of the drill");
    const Level& rules = kLevels[static_cast<std::size_t>(level - 1)];
    Random random = Random(seed).fork(static_cast<std::uint64_t>(level) * 100'000 + static_cast<std::uint64_t>(number));
    const ToothContact& set =
        contact != nullptr ? *contact
                           : lessonSet(rules.hobbedToo && random.chance(0.5) ? Cut::FaceHobbed : Cut::FaceMilled);
    const double kind = random.uniform();
    constexpr double kNoShimShare = 0.25, kGoodShare = 0.2;
    Remedy wish = Remedy::Change;
    if (rules.trick && kind < kNoShimShare) wish = Remedy::NoShim;
    if (rules.trick && kind > 1 - kGoodShare) wish = Remedy::Accept;
    constexpr int kTries = 200;
    // A set with narrow or wide limits may not have every kind of exercise.
    for (const Remedy remedy : {wish, Remedy::Change, Remedy::NoShim, Remedy::Accept}) {
        for (int k = 0; k < kTries; ++k) {
            std::optional<Exercise> exercise =
                tryExercise(random.fork(static_cast<std::uint64_t>(k)), rules, remedy, level, set);
            if (!exercise) continue;
            exercise->seed = seed;
            exercise->level = level;
            exercise->number = number;
            return *exercise;
        }
    }
    throw InputError(say("training.no-exercise-for-set", set.gearSet().name));
}

SeenPlace parseSeenPlace(std::string_view text) {
    const std::vector<std::string> words = wordsOf(text);
    const std::string howToSay = say("training.how-to-say-a-place");
    SeenPlace place;
    if (words.size() == 1 && (words[0] == "none" || words[0] == "no-mark")) return place;
    bool centre = false;
    for (const std::string& word : words) {
        if (word == "toe" || word == "heel") {
            if (place.length) throw InputError(say("training.two-words-for-one-direction", howToSay));
            place.length = word == "toe" ? LengthPosition::Toe : LengthPosition::Heel;
        } else if (word == "face" || word == "flank" || word == "tip" || word == "root" || word == "high" ||
                   word == "low") {
            if (place.depth) throw InputError(say("training.two-words-for-one-direction", howToSay));
            place.depth =
                word == "face" || word == "tip" || word == "high" ? DepthPosition::Face : DepthPosition::Flank;
        } else if (word == "centre" || word == "center" || word == "middle") {
            centre = true;
        } else if (word != "and") {
            throw InputError(say("training.no-place-on-a-tooth", word.substr(0, 30), howToSay));
        }
    }
    if (!centre && !place.length && !place.depth) throw InputError(howToSay);
    if (!place.length) place.length = LengthPosition::Centre;
    if (!place.depth) place.depth = DepthPosition::Centre;
    return place;
}

Correction parseCorrection(std::string_view text) {
    const std::vector<std::string> words = wordsOf(text);
    const std::string howToSay = say("training.how-to-say-a-correction");
    Correction correction;
    if (words.empty()) throw InputError(howToSay);
    if (words.size() == 1 && (words[0] == "accept" || words[0] == "leave" || words[0] == "good")) return correction;
    if (words[0] == "no" && words.size() >= 2 && words[1].starts_with("shim")) {
        correction.remedy = Remedy::NoShim;
        return correction;
    }
    // To look for another cause is to set nothing: what the advice asks about counts the same.
    if (words[0] == "check" || words[0] == "look") {
        correction.remedy = Remedy::NoShim;
        return correction;
    }
    correction.remedy = Remedy::Change;
    bool depth = false, backlash = false;
    for (std::size_t k = 0; k < words.size(); ++k) {
        const std::string& word = words[k];
        if (word == "and" || word == "pinion" || word == "backlash" || word == "ring") continue;
        const bool isDepth = word == "deeper" || word == "shallower", isLash = word == "more" || word == "less";
        if (!isDepth && !isLash) throw InputError(say("training.not-understood", word.substr(0, 30), howToSay));
        // "more backlash 3thou" too, and lengths written apart: "4 thou".
        if (k + 1 < words.size() && words[k + 1] == "backlash") ++k;
        if (++k >= words.size()) throw InputError(say("training.how-much", word, howToSay));
        std::string length = words[k];
        if (k + 1 < words.size() && (words[k + 1] == "thou" || words[k + 1] == "in" || words[k + 1] == "mm"))
            length += words[++k];
        const double mm = parseLength(length, word).mm();
        constexpr double kMaxMm = 2;
        if (!(mm > 0 && mm <= kMaxMm)) throw InputError(say("training.amount-out-of-range", word, lengthWords(kMaxMm)));
        bool& given = isDepth ? depth : backlash;
        if (given) throw InputError(say("training.one-change-of-each", howToSay));
        given = true;
        (isDepth ? correction.move.deeperMm : correction.move.moreBacklashMm) =
            word == "deeper" || word == "more" ? mm : -mm;
    }
    return correction;
}

std::string correctionWords(const Correction& correction) {
    if (correction.remedy == Remedy::Accept) return say("training.accept");
    return correction.remedy == Remedy::NoShim ? say("training.no-shim-will-help") : moveWords(correction.move);
}

namespace {

/// Whether the plain rule of depth would have told this one.
bool isTheRule(const Exercise& exercise) {
    double up = 0;
    for (const auto& pattern : exercise.marks.pattern)
        if (pattern) up += pattern->rootTip - 0.5;
    return up * exercise.best.move.deeperMm > 0;
}

MarkedAnswer markedAnswer(const Exercise& exercise, const DrillAnswer& answer) {
    MarkedAnswer marked;
    const ToothContact& contact = *exercise.contact;
    const int worth = exercise.asked[0] && exercise.asked[1] ? 1 : 2;  // of each word
    for (const Side side : kSides) {
        if (!exercise.asked[index(side)]) continue;
        const auto& truth = exercise.marks.pattern[index(side)];
        const SeenPlace& said = answer.seen[index(side)];
        const bool length = sameLength(said.length, truth), depth = sameDepth(said.depth, truth);
        marked.placePoints += worth * (static_cast<int>(length) + static_cast<int>(depth));
        if (!length || !depth) marked.words.push_back(placeTold(side, truth));
    }
    const BenchMove& chosen = answer.correction.move;
    const Bench after = moved(contact, exercise.bench, chosen);
    marked.expected = marksOf(contact, after);
    marked.backlashMm = backlashMm(contact, after);
    const BenchMove& needed = exercise.best.move;
    marked.ended = goodness(contact, after) > 0 ||
                   (std::abs(chosen.deeperMm - needed.deeperMm) < exercise.depthSureMm &&
                    std::abs(chosen.moreBacklashMm - needed.moreBacklashMm) < exercise.backlashSureMm);

    constexpr int kMaxCorrection = 6;
    const Remedy said = answer.correction.remedy;
    if (exercise.remedy == Remedy::Accept) {
        if (said == Remedy::Accept) {
            marked.correctionPoints = kMaxCorrection;
            marked.words.push_back(say("training.right-to-leave-it"));
        } else if (said == Remedy::Change && marked.ended) {
            marked.correctionPoints = 2;
            marked.words.push_back(say("training.was-good-and-still-is"));
        } else {
            marked.words.push_back(say("training.setting-is-good"));
        }
        return marked;
    }
    if (exercise.remedy == Remedy::NoShim) {
        if (said == Remedy::NoShim) marked.correctionPoints = kMaxCorrection;
        marked.words.push_back(
            say(said == Remedy::NoShim ? "training.right-no-setting-helps" : "training.no-setting-helps"));
        // One painting does not tell these apart, and the advice asks the same.
        marked.words.push_back(say(
            exercise.bench.error.offsetMm > 0 ? "training.made-with-offset-large" : "training.made-with-offset-small",
            lengthWords(exercise.bench.error.offsetMm)));
        return marked;
    }
    if (said != Remedy::Change) {
        marked.words.push_back(
            say(said == Remedy::Accept ? "training.not-good-yet" : "training.shims-do-help", moveWords(needed)));
        return marked;
    }
    constexpr double kLittleDepthMm = 0.03, kLittleLashMm = 0.03;
    const bool depthWay = rightWay(chosen.deeperMm, needed.deeperMm, kLittleDepthMm);
    // Backlash may end anywhere inside its limits; past them on the other side it is no better than before.
    const bool lashWay = insideLimits(contact.gearSet().limits.backlashMm, marked.backlashMm) ||
                         (rightWay(chosen.moreBacklashMm, needed.moreBacklashMm, kLittleLashMm) &&
                          std::abs(chosen.moreBacklashMm) <= std::abs(needed.moreBacklashMm) + kLittleLashMm);
    // As far off on the other side as before, or worse than before.
    const double beyond = std::abs(chosen.deeperMm) - std::abs(needed.deeperMm);
    const bool overshot =
        !marked.ended && chosen.deeperMm * needed.deeperMm > 0 && beyond > 0 &&
        (beyond >= std::abs(needed.deeperMm) || goodness(contact, after) <= goodness(contact, exercise.bench));
    marked.correctionPoints = overshot ? 0 : 2 * static_cast<int>(depthWay) + 2 * static_cast<int>(lashWay);
    if (marked.ended)
        marked.correctionPoints = kMaxCorrection;
    else if (!overshot && goodness(contact, after) > goodness(contact, exercise.bench) && depthWay && lashWay)
        ++marked.correctionPoints;
    tellAmount(marked.words, kDepth, chosen.deeperMm, needed.deeperMm, exercise.depthSureMm);
    if (overshot) marked.words.push_back(say("training.overshot"));
    if (chosen.deeperMm * needed.deeperMm < 0 && isTheRule(exercise)) marked.words.push_back(say("training.the-rule"));
    if (!insideLimits(contact.gearSet().limits.backlashMm, marked.backlashMm))
        tellAmount(marked.words, kLash, chosen.moreBacklashMm, needed.moreBacklashMm, exercise.backlashSureMm);
    marked.words.push_back(marked.ended ? say("training.ends-good") : say("training.ends-bad", moveWords(needed)));
    return marked;
}

}  // namespace

MarkedAnswer markAnswer(const Exercise& exercise, const DrillAnswer& answer) {
    MarkedAnswer marked = markedAnswer(exercise, answer);
    marked.words.insert(marked.words.end(), exercise.told.begin(), exercise.told.end());
    return marked;
}

namespace {

/// Answers the likeliest question of the advice that a look at this bench finds right; false: none.
bool closeQuestion(const Advice& advice, AdviceOptions& options) {
    for (const Diagnosis& one : advice.diagnoses) {
        const bool right = one.kind == DiagnosisKind::SidesSwapped || one.kind == DiagnosisKind::WrongGearData ||
                           one.kind == DiagnosisKind::MismatchedOrWorn || one.kind == DiagnosisKind::EntryChange ||
                           one.kind == DiagnosisKind::EntryBacklash;
        if (!right || std::find(options.checked.begin(), options.checked.end(), one.kind) != options.checked.end())
            continue;
        options.checked.push_back(one.kind);
        return true;
    }
    return false;
}

}  // namespace

std::vector<PathStep> advisedPath(const Exercise& exercise, int most) {
    const ToothContact& contact = *exercise.contact;
    const Costs costs;
    AdviceOptions options;
    constexpr int kMaxLooks = 4;
    std::vector<JobTrial> history;
    std::vector<PathStep> path;
    Bench bench = exercise.bench;
    double shimChangeMm = 0;
    for (int k = 0; k <= most; ++k) {
        const BenchMarks marks = marksOf(contact, bench);
        JobTrial trial;
        // As well as a careful reading of a photo knows them.
        constexpr double kSigmaToeHeel = 0.012, kSigmaRootTip = 0.02;
        for (const Side side : kSides) {
            auto& pattern = side == Side::Drive ? trial.seen.drive : trial.seen.coast;
            pattern = marks.pattern[index(side)];
            if (!pattern) continue;
            pattern->sigmaToeHeel = kSigmaToeHeel;
            pattern->sigmaRootTip = kSigmaRootTip;
        }
        trial.seen.backlashMm = backlashMm(contact, bench);
        if (k > 0) trial.shimChangeMm = shimChangeMm;
        history.push_back(trial);
        const std::array models{&contact};
        PathStep step;
        step.advice = advise({models.begin(), models.end()}, history, options);
        // Who stands at this bench looks when asked: sides, cut and entries are right here.
        for (int looks = 0; looks < kMaxLooks && step.advice.verdict == Verdict::MeasureAgain; ++looks) {
            if (!closeQuestion(step.advice, options)) break;
            step.advice = advise({models.begin(), models.end()}, history, options);
        }
        step.after = bench;
        step.backlashMm = *trial.seen.backlashMm;
        if (step.advice.verdict != Verdict::Change || k == most) {
            path.push_back(std::move(step));
            break;
        }
        shimChangeMm = step.advice.shim.thicknessChangeMm;
        const bool thickerIsShallower = contact.gearSet().build.pinionShim == PinionShim::UnderPinionSupport;
        step.move.deeperMm = thickerIsShallower ? -shimChangeMm : shimChangeMm;
        step.move.moreBacklashMm = step.advice.backlashTargetMm - step.backlashMm;
        bench = moved(contact, bench, step.move);
        step.after = bench;
        step.backlashMm = backlashMm(contact, bench);
        step.hours = benchHours(step.move, costs);
        path.push_back(std::move(step));
    }
    return path;
}

}  // namespace shimsight
