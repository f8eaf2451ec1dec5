// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// Lessons, charts and a live tooth: what each pattern means, for apprentices and their teachers. Module `lesson`.
///
/// Everything that is shown is computed from the gear set by the engine that gives the advice. Nothing reads a clock, a
/// network or the environment; the same request gives the same bytes.
#pragma once

#include <array>
#include <cstdint>
#include <filesystem>
#include <functional>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "shimsight/advice.h"
#include "shimsight/core.h"
#include "shimsight/pattern.h"
#include "shimsight/tooth_contact.h"
#include "shimsight/units.h"

namespace shimsight {

/// Stands on every page and behind every drill.
std::string makersSheet();

// ---- A gear set on the bench ----

/// How a gear set stands and was cut, and how thick the compound is.
struct Bench {
    SetupError error;
    std::array<Modification, 2> modification;  ///< by index(side)
    double filmMm = kFilmMm;
};

/// Set up as it should be: no error, backlash in the middle of the limits.
Bench rightBench(const ToothContact& contact);

/// What a mechanic changes. The pinion goes deeper with the backlash held by the ring gear; then the ring gear moves.
struct BenchMove {
    double deeperMm = 0;
    double moreBacklashMm = 0;  ///< dial square to the tooth
};
Bench moved(const ToothContact& contact, Bench bench, const BenchMove& move);

/// As a dial square to the tooth reads it.
double backlashMm(const ToothContact& contact, const Bench& bench);

struct BenchMarks {
    std::array<FlankMap, 2> map;                    ///< by index(side)
    std::array<std::optional<Pattern>, 2> pattern;  ///< nullopt: no mark
};
BenchMarks marksOf(const ToothContact& contact, const Bench& bench);

/// How far the setting lies inside the gear set's rule: 1 in the middle of all of it, 0 at its border, below 0 outside.
/// Both patterns and the backlash count, the worst of them rules.
double goodness(const ToothContact& contact, const Bench& bench);

/// A setting this far inside the rule is clearly good: nothing more is changed for it.
inline constexpr double kClearlyGood = 0.25;
/// Less depth than this does not show in a mark (0.002 in; common practice, no source), and no pinion is pulled for it.
inline constexpr double kMinPinionMoveMm = 0.05;
/// Hobbed teeth are as high at the toe as at the heel, and are drawn so.
bool isEvenHeight(const ToothContact& contact);
/// What pinion shims change by: the common measure of what the shims on hand differ by; without a list a thousandth of
/// an inch.
double shimStepMm(const GearSet& gearSet);

/// The move that ends deepest inside the rule, and how deep that is: by the ring gear alone where that is clearly good,
/// else with a depth that shims make. Below 0: no shim and no backlash make it good.
struct BestMove {
    BenchMove move;
    double goodness = 0;
};
BestMove bestMove(const ToothContact& contact, const Bench& bench);

/// What a change costs at the bench.
double benchHours(const BenchMove& move, const Costs& costs = {});

/// "toe, flank", "centre" (both), "toe" (at mid-height), "toe side" (where a good mark may lie), "no
/// mark".
std::string placeWords(const std::optional<Pattern>& pattern);
/// "toward the toe and the root", "hardly moves".
std::string wayWords(const Pattern& from, const Pattern& to);
/// "deeper 0.004 in (0.10 mm), backlash more 0.002 in (0.05 mm)", "no change".
std::string moveWords(const BenchMove& move);

/// A rendered photo of the setting as a JPEG, about 800 x 500 pixels; takes about six seconds of one processor core.
std::vector<std::uint8_t> benchPhoto(const ToothContact& contact, const Bench& bench, Side faced, std::uint64_t seed);

/// Flanks drawn with characters, side by side, 80 columns at most for two: toe at the left, tip at the top.
struct CharacterFlank {
    std::string title;
    const FlankMap* map = nullptr;
};
std::string characterFlanks(std::span<const CharacterFlank> flanks);

// ---- The chart of a set ----

struct ChartOptions {
    double depthStepMm = 0.1016;     ///< 0.004 in
    double backlashStepMm = 0.0762;  ///< 0.003 in
    Units units = Units::Both;
};
/// Three by three of depth and backlash for drive and coast, with the way that each mark took from the right setting;
/// one or two gear sets. A picture of its own, or a page for screen and print.
std::string chartSvg(std::span<const ToothContact* const> sets, const ChartOptions& options = {});
std::string chartPage(std::span<const ToothContact* const> sets, const ChartOptions& options = {});

// ---- Lessons ----

/// The gear sets that come with the program: a milled and a hobbed one.
const ToothContact& lessonSet(Cut cut);

struct LessonInfo {
    std::string name;     ///< as on the command line: "depth"
    std::string title;    ///< "Pinion depth"
    std::string summary;  ///< one line
};
const std::vector<LessonInfo>& lessons();
/// The one of that name, an element of lessons(); null: there is none.
const LessonInfo* lessonNamed(std::string_view name);

/// A sentence of a lesson that is simulated: a set-up and what it does. The language: src/lesson/claims.h.
struct ClaimResult {
    std::string claim;     ///< "milled drive deeper 0.004in: toe flank"
    std::string words;     ///< "Milled, drive side, pinion 0.004 in (0.10 mm) deeper: toward the toe, lower"
    std::string measured;  ///< "drive: 29 % from the toe (was 45 %), 36 % from the root (was 51 %)"
    bool holds = false;
};
/// Throws InputError when there is no such lesson.
std::vector<ClaimResult> checkedClaims(std::string_view lesson);

/// For a terminal, 80 columns, flanks drawn with characters.
std::string lessonText(std::string_view lesson, Units units = Units::Both);

/// Called before each photo is rendered or taken in: its number from 1 on, and how many there are.
using PhotoProgress = std::function<void(int number, int of)>;

struct LessonPageOptions {
    bool photos = false;  ///< rendered photos too: seconds each, see benchPhoto
    PhotoProgress beforePhoto = {};
    Units units = Units::Both;
};
/// One page of one file for one lesson, or for all of them when `lesson` is "all".
std::string lessonPage(std::string_view lesson, const LessonPageOptions& options = {});

// ---- The live tooth ----

/// Four of them stay under 2 MB.
inline constexpr std::size_t kMaxLiveSets = 4;
/// A page of one file without outside requests: sliders, both flanks drawn at once by the fast model in JavaScript, and
/// the gear pair in three dimensions. One to kMaxLiveSets gear sets.
std::string livePage(std::span<const ToothContact* const> sets, Units units = Units::Both);

}  // namespace shimsight
