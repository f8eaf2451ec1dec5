// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// How an advice is told. Its lead, steps, certainty and questions are put into words here and nowhere else: terminal,
/// phone card, build sheet, review, job and drawings show these sentences, so that the same amount stands in every
/// place. Amounts are said as Advice holds them (fitToShop has put them into steps that exist); no place rounds again.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "shimsight/advice.h"

namespace shimsight {

/// Movements smaller than this are none: a tenth of a thousandth of an inch.
inline constexpr double kNoMoveMm = 0.0025;

struct Headline {
    std::string lead;                    ///< what has to be put right first, or the best move with its size
    std::vector<std::string> steps;      ///< how the move is made, in the order of the work
    std::string howSure;                 ///< how sure it is, with the depth error found
    std::vector<std::string> lookFirst;  ///< what to look at or to answer before anything is taken apart
};
Headline headlineOf(const Advice& advice, const GearSet& gearSet);

/// The lead alone. Sure, likely and not sure begin differently; a Stop leads whatever else holds.
std::string leadOf(const Advice& advice);
/// The lead for the cell of a table: "Take out 0.006 in (0.15 mm) behind the pinion head, backlash 0.007 in (0.18 mm)".
std::string leadInShort(const Advice& advice);
/// The same of a change to make, as a clause: without a capital.
std::string changeInShort(const Advice& advice);
/// What a Stop asks for, as a sentence: "Stop: the ring gear runs out. ..."
std::string stopLead(StopKind kind);

/// Whether the advice holds a move that may be shown as one: not with StopKind::Jammed or WearNotKnown, and not where
/// shims and backlash stay.
bool hasMove(const Advice& advice);

/// "Sure", "Likely", "Not sure: try this first" of a change; "Not sure" where nothing is tried; "Stop".
std::string certaintyWords(const Advice& advice);
/// Certainty by a chance alone, where nothing else is known: of advice written before Certainty was.
Certainty certaintyOf(double chance);

/// Where a mark lies along the tooth: "toe", "toe side", "centre", "heel". A good mark lies a little toward the toe: it
/// is not called "toe" for that.
std::string placeAlong(const Pattern& pattern);
/// The edges that it runs off: "toe, tip"; empty where it runs off none.
std::string edgesOff(const RunsOff& off);

/// "behind the pinion head".
std::string placeWords(PinionShim place);
/// "Behind the pinion head or under the inner bearing cup: take out 0.006 in (0.15 mm). Under a removable pinion
/// support: add 0.006 in (0.15 mm)."
std::string shimInEachPlace(double depthChangeMm);
/// "This moves the pinion deeper, toward the ring gear." Empty where the pinion stays.
std::string directionWords(double depthChangeMm);

/// Errors found are told in whole thousandths of an inch, in words, without signs: marks tell no finer.
/// "0.006 in (0.15 mm) too deep", "none found".
std::string depthErrorWords(const Estimate& error);
/// "0.004 in (0.10 mm) to 0.008 in (0.20 mm) too deep": the 90 % interval.
std::string depthIntervalWords(const Estimate& error);

/// Whether the second choice is worth a word: it leaves the pinion in, and the first one does not.
bool runnerUpSavesWork(const Advice& advice);

}  // namespace shimsight
