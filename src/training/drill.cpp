// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>
#include <sstream>

#include "shimsight/advice_words.h"
#include "shimsight/core.h"
#include "shimsight/lesson.h"
#include "shimsight/training.h"
#include "shimsight/words.h"
#include "training/stories.h"

namespace shimsight {
namespace {

/// Depth and backlash errors of a level are drawn between these, either way, mm.
struct Level {
    const char* words = nullptr;  ///< id of an entry
    Interval depthMm{}, backlashMm{};
    double scatter = 0;  ///< of crowns and bias, share of the gear set's own
    bool hobbedToo = false, trick = false, onPhotos = false, shims = false, stories = false;
};
constexpr std::array<Level, kDrillLevels> kLevels{
    {{.words = "training.level-one", .depthMm = {0.15, 0.28}, .backlashMm = {0.08, 0.14}},
     {.words = "training.level-two", .depthMm = {0.10, 0.26}, .backlashMm = {0.06, 0.12}},
     {.words = "training.level-three",
      .depthMm = {0.08, 0.24},
      .backlashMm = {0.04, 0.10},
      .scatter = 0.15,
      .hobbedToo = true},
     {.words = "training.level-four",
      .depthMm = {0.06, 0.22},
      .backlashMm = {0.03, 0.10},
      .scatter = 0.20,
      .hobbedToo = true,
      .trick = true},
     {.words = "training.level-five",
      .depthMm = {0.08, 0.24},
      .backlashMm = {0.04, 0.10},
      .scatter = 0.15,
      .hobbedToo = true,
      .onPhotos = true},
     {.words = "training.level-six",
      .depthMm = {0.08, 0.24},
      .backlashMm = {0.04, 0.10},
      .scatter = 0.10,
      .hobbedToo = true,
      .shims = true},
     {.words = "training.level-seven", .stories = true}}};

const Level& rulesOf(int level) {
    check(level >= 1 && level <= kDrillLevels, "a level of the drill");
    return kLevels[static_cast<std::size_t>(level - 1)];
}

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

std::vector<std::string> wordsOf(std::string_view text) {
    std::string spaced;
    for (const char c : text.substr(0, 200))
        spaced += c == ',' || c == ';' ? ' ' : static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
    std::istringstream stream(spaced);
    std::vector<std::string> words;
    for (std::string word; stream >> word;) words.push_back(word);
    return words;
}

}  // namespace

std::string drillLevelWords(int level) { return say(rulesOf(level).words); }

bool isPhotoLevel(int level) { return rulesOf(level).onPhotos; }

Exercise drawExercise(std::uint64_t seed, int level, int number, const ToothContact* contact) {
    check(number >= 1, "a number of the drill");
    const Level& rules = rulesOf(level);
    if (rules.stories) return training::drawStory(seed, number);
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
            if (rules.shims) {
                // The three places take turns, in an order of the seed's.
                constexpr std::array kPlaces{PinionShim::BehindPinionHead, PinionShim::UnderPinionSupport,
                                             PinionShim::UnderBearingCup};
                exercise->shimAsked = kPlaces.at((seed + static_cast<std::uint64_t>(number)) % kPlaces.size());
            }
            return *exercise;
        }
    }
    throw InputError(message("training.no-exercise-for-set", set.gearSet().name));
}

SeenPlace parseSeenPlace(std::string_view text) {
    const std::vector<std::string> words = wordsOf(text);
    const Message howToSay = message("training.how-to-say-a-place");
    SeenPlace place;
    if (words.size() == 1 && (words[0] == "none" || words[0] == "no-mark")) return place;
    bool centre = false;
    for (const std::string& word : words) {
        if (word == "toe" || word == "heel") {
            if (place.length) throw InputError(message("training.two-words-for-one-direction", howToSay));
            place.length = word == "toe" ? LengthPosition::Toe : LengthPosition::Heel;
        } else if (word == "face" || word == "flank" || word == "tip" || word == "root" || word == "high" ||
                   word == "low") {
            if (place.depth) throw InputError(message("training.two-words-for-one-direction", howToSay));
            place.depth =
                word == "face" || word == "tip" || word == "high" ? DepthPosition::Face : DepthPosition::Flank;
        } else if (word == "centre" || word == "center" || word == "middle") {
            centre = true;
        } else if (word != "and") {
            throw InputError(message("training.no-place-on-a-tooth", word.substr(0, 30), howToSay));
        }
    }
    if (!centre && !place.length && !place.depth) throw InputError(howToSay);
    if (!place.length) place.length = LengthPosition::Centre;
    if (!place.depth) place.depth = DepthPosition::Centre;
    return place;
}

Correction parseCorrection(std::string_view text) {
    const std::vector<std::string> words = wordsOf(text);
    const Message howToSay = message("training.how-to-say-a-correction");
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
        if (word == "and" || word == "pinion" || word == "backlash" || word == "ring" || word == "shim") continue;
        const bool isDepth = word == "deeper" || word == "shallower", isLash = word == "more" || word == "less",
                   isShim = word == "thicker" || word == "thinner" || word == "add" || word == "take";
        if (!isDepth && !isLash && !isShim)
            throw InputError(message("training.not-understood", word.substr(0, 30), howToSay));
        // "more backlash 3thou" and "take out 3thou" too, and lengths written apart: "4 thou".
        if (k + 1 < words.size() && (words[k + 1] == "backlash" || words[k + 1] == "out")) ++k;
        if (++k >= words.size()) throw InputError(message("training.how-much", word, howToSay));
        std::string length = words[k];
        if (k + 1 < words.size() && (words[k + 1] == "thou" || words[k + 1] == "in" || words[k + 1] == "mm"))
            length += words[++k];
        const double mm = parseLength(length, word).mm();
        constexpr double kMaxMm = 2;
        if (!(mm > 0 && mm <= kMaxMm))
            throw InputError(message("training.amount-out-of-range", word, lengthWords(kMaxMm)));
        bool& given = isLash ? backlash : depth;
        if (given) throw InputError(message("training.one-change-of-each", howToSay));
        given = true;
        double& amount = isDepth  ? correction.move.deeperMm
                         : isLash ? correction.move.moreBacklashMm
                                  : correction.thickerMm;
        amount = word == "deeper" || word == "more" || word == "thicker" || word == "add" ? mm : -mm;
    }
    return correction;
}

Correction parseCheck(std::string_view text, std::size_t checks) {
    const std::vector<std::string> words = wordsOf(text);
    if (words.size() != 1 || words[0].size() != 1 || words[0][0] < '1' || words[0][0] >= '1' + static_cast<int>(checks))
        throw InputError(message("training.how-to-say-a-check", checks));
    Correction correction;
    correction.check = static_cast<std::size_t>(words[0][0] - '1');
    return correction;
}

std::string correctionWords(const Correction& correction) {
    if (correction.remedy == Remedy::Accept) return say("training.accept");
    return correction.remedy == Remedy::NoShim ? say("training.no-shim-will-help") : moveWords(correction.move);
}

std::string correctionWords(const Exercise& exercise, const Correction& correction) {
    if (exercise.story) return exercise.story->checks.at(correction.check.value_or(0));
    if (correction.remedy != Remedy::Change) return correctionWords(correction);
    if (exercise.shimAsked && std::abs(correction.move.deeperMm) > 0)
        throw InputError(message("training.say-the-shim", text(wordFor(*exercise.shimAsked))));
    if (!exercise.shimAsked && std::abs(correction.thickerMm) > 0) throw InputError(message("training.say-the-depth"));
    const double thicker = correction.thickerMm;
    if (std::abs(thicker) <= kNoMoveMm) return correctionWords(correction);
    std::string words = say(thicker > 0 ? "training.shim-thicker" : "training.shim-thinner",
                            text(wordFor(*exercise.shimAsked)), lengthWords(thicker));
    if (std::abs(correction.move.moreBacklashMm) > kNoMoveMm) words += ", " + moveWords(correction.move);
    return words;
}

std::string truthWords(const Exercise& exercise) {
    Correction truth;
    truth.remedy = exercise.remedy;
    if (exercise.story) truth.check = exercise.story->right;
    if (exercise.remedy == Remedy::Change) truth.move = exercise.best.move;
    if (exercise.shimAsked) {
        const bool away = *exercise.shimAsked == PinionShim::UnderPinionSupport;
        truth.thickerMm = away ? -truth.move.deeperMm : truth.move.deeperMm;
        truth.move.deeperMm = 0;
    }
    return correctionWords(exercise, truth);
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
