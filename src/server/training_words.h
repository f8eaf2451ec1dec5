/// What the page gets of exercises, marks and answers, as JSON.
#pragma once

#include <array>
#include <nlohmann/json.hpp>
#include <optional>
#include <string>

#include "server/requests.h"
#include "shimsight/lesson.h"

namespace shimsight::server {

/// One mark as it lies on the tooth, nothing told of it: {"drive": sketch, "coast": sketch}.
nlohmann::json bareSketches(const BenchMarks& marks);
/// The marks with their middle, where it should lie, and the way from `before` when there is one.
nlohmann::json toldSketches(const BenchMarks& marks, const AcceptanceRule& rule, const BenchMarks* before = nullptr,
                            const std::array<bool, 2>& sides = {true, true});

/// Gear set, cut, limits and backlash now: what a mechanic knows beside the mark.
nlohmann::json benchFacts(const ToothContact& contact, double backlashMm);

/// "deeper 0.004 in (0.10 mm)", "accept", "no shim will help": what was right.
std::string truthWords(const Exercise& exercise);

/// A drill answer as it was sent.
struct SentAnswer {
    bool exam = false;
    std::optional<std::uint64_t> seed;
    int level = 1, number = 1;
    std::string set;         ///< empty: one of the program's own
    std::string job, trial;  ///< instead of seed, level and number
    std::string name;        ///< empty: not kept
    DrillAnswer answer;
};
/// Throws InputError.
SentAnswer parseSentAnswer(const std::string& body);

std::string seenWords(const SeenPlace& place);  ///< "toe, flank", "none"

/// Points, sentences, what was right, and what the learner's own choice would have given.
nlohmann::json markedJson(const Exercise& exercise, const SentAnswer& sent, const MarkedAnswer& marked);

/// The set-up game: the moves so far are replayed from the start. Throws InputError.
struct SentGame {
    std::uint64_t seed = 0;
    int level = 3;
    std::string set;
    std::vector<BenchMove> moves;
    std::optional<Remedy> verdict;  ///< Accept or NoShim: the game ends
};
SentGame parseSentGame(const std::string& body);
nlohmann::json gameJson(const Exercise& exercise, const SentGame& game);

}  // namespace shimsight::server
