/// Words that the parts of the job module share.
#pragma once

#include <array>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <utility>

#include "shimsight/job.h"

namespace shimsight::job {

/// "0.004 in (0.10 mm)".
inline std::string lengthWords(double mm) { return formatLength(Length::fromMm(mm)); }
inline std::string signedLengthWords(double mm) { return formatLength(Length::fromMm(mm), true); }

/// The words of an enumeration, for reading.
template <typename T, std::size_t N>
std::array<std::pair<std::string_view, T>, N> wordsOf(const std::array<T, N>& values) {
    std::array<std::pair<std::string_view, T>, N> result;
    for (std::size_t i = 0; i < N; ++i) result[i] = {name(values[i]), values[i]};
    return result;
}

/// Readings of a dial that differ by less are the same: what is left of rounding in files and units.
inline constexpr double kSameMm = 2e-6;

/// A backlash that is none: below a tenth of a thousandth of an inch, which no dial of a bench shows.
inline bool isJammed(double backlashMm) { return backlashMm < 0.0025; }

/// The lists that the build of the gear set asks for.
std::vector<CheckItem> checkLists(const GearSetData& gearSet);

}  // namespace shimsight::job
