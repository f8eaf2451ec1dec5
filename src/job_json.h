// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// What every place that reads entries of a job shares, the record and the bench page: the words of the enumerations,
/// and readings round the ring gear. Module `job`.
#pragma once

#include <array>
#include <string_view>
#include <vector>

#include "records_json.h"
#include "shimsight/job.h"

namespace shimsight::job {

inline const auto kBuildWords = wordsOf(std::array{BuildKind::NewGears, BuildKind::UsedGears, BuildKind::CheckOnly});
inline const auto kBearingWords = wordsOf(std::array{Bearings::New, Bearings::Used});
inline const auto kSpacerWords =
    wordsOf(std::array{PinionSpacer::NotSaid, PinionSpacer::CrushSleeve, PinionSpacer::SolidSpacer});
inline const auto kPlaceWords =
    wordsOf(std::array{RunoutPlace::RingGear, RunoutPlace::CarrierFlange, RunoutPlace::PinionFlange});
inline const auto kOriginWords =
    wordsOf(std::array{PatternOrigin::None, PatternOrigin::Found, PatternOrigin::Outlined, PatternOrigin::Drawn});
inline const auto kListWords =
    wordsOf(std::array{CheckList::Parts, CheckList::Pinion, CheckList::Torque, CheckList::FinalAssembly});
inline const auto kStateWords = wordsOf(std::array{CheckState::Open, CheckState::Done, CheckState::NotNeeded});

/// The readings of the list at `key`, at most one for each tooth; empty where there is none. The ranges are the
/// caller's.
std::vector<BacklashPoint> backlashPointsAt(ObjectReader& reader, std::string_view key, Range positionDeg,
                                            Range backlashMm);

}  // namespace shimsight::job
