// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "shimsight/units.h"

#include <algorithm>
#include <array>
#include <cctype>

namespace shimsight {
namespace {

constexpr std::string_view kNoBreak = "\xC2\xA0";

bool isSpace(char c) { return c == ' ' || c == '\n'; }

/// The length of the space that ends, or begins, there; 0: none. A line may end in it, with the next one set in.
std::size_t spaceBefore(std::string_view text, std::size_t end) {
    std::size_t start = end;
    while (start > 0 && isSpace(text[start - 1])) --start;
    if (start < end) return end - start;
    return end >= 2 && text.substr(end - 2, 2) == kNoBreak ? 2 : 0;
}
std::size_t spaceAt(std::string_view text, std::size_t at) {
    std::size_t end = at;
    while (end < text.size() && isSpace(text[end])) ++end;
    if (end > at) return end - at;
    return text.substr(at).starts_with(kNoBreak) ? 2 : 0;
}

bool isOfNumber(char c) { return std::isdigit(static_cast<unsigned char>(c)) != 0 || c == '.' || c == ','; }

/// Where the number that ends before `end` begins; `end`: there is none.
std::size_t numberBefore(std::string_view text, std::size_t end) {
    std::size_t start = end;
    while (start > 0 && isOfNumber(text[start - 1])) --start;
    while (start < end && text[start] == ',') ++start;
    if (start < end && start > 0 && (text[start - 1] == '-' || text[start - 1] == '+')) --start;
    return start;
}
std::size_t numberAt(std::string_view text, std::size_t at) {
    std::size_t end = at;
    if (end < text.size() && (text[end] == '-' || text[end] == '+')) ++end;
    const std::size_t digits = end;
    while (end < text.size() && isOfNumber(text[end])) ++end;
    return end > digits ? end : at;
}

constexpr std::array<std::string_view, 2> kBetween{"to", "and"};

/// "to" or "and" between two numbers, with its spaces; 0: none.
std::size_t betweenAt(std::string_view text, std::size_t at) {
    const std::size_t first = spaceAt(text, at);
    for (const std::string_view word : kBetween) {
        if (first == 0 || !text.substr(at + first).starts_with(word)) continue;
        const std::size_t second = spaceAt(text, at + first + word.size());
        if (second > 0) return first + word.size() + second;
    }
    return 0;
}
std::size_t betweenBefore(std::string_view text, std::size_t end) {
    const std::size_t second = spaceBefore(text, end);
    for (const std::string_view word : kBetween) {
        if (second == 0 || !text.substr(0, end - second).ends_with(word)) continue;
        const std::size_t first = spaceBefore(text, end - second - word.size());
        if (first > 0) return first + word.size() + second;
    }
    return 0;
}

/// Units that stand in one pair, a longer name before one that it ends with. With a plain hyphen, and with the one that
/// breaks no line (see tied in words.h).
struct UnitPair {
    std::string_view inch, metric;
};
constexpr std::array<UnitPair, 11> kUnitPairs{{{"in-lb", "Nm"},
                                               {"ft-lb", "Nm"},
                                               {"in\xE2\x80\x91lb", "Nm"},
                                               {"ft\xE2\x80\x91lb", "Nm"},
                                               {"lb-ft", "Nm"},
                                               {"lb", "kg"},
                                               {"ft", "m"},
                                               {"psi", "bar"},
                                               {"mph", "km/h"},
                                               {"miles", "km"},
                                               {"in", "mm"}}};

struct Pair {
    std::size_t start = 0, inchStart = 0, inchEnd = 0, metricStart = 0, metricEnd = 0, end = 0;
};

/// The pair "C mm (about D in)" whose bracket opens at `open`.
std::optional<Pair> aboutPairAt(std::string_view text, std::size_t open) {
    // A line may end after the word.
    const std::string_view word = kAboutInches.substr(0, kAboutInches.size() - 1);
    Pair pair;
    pair.inchStart = open + 1;
    if (!text.substr(pair.inchStart).starts_with(word)) return std::nullopt;
    const std::size_t number = pair.inchStart + word.size() + spaceAt(text, pair.inchStart + word.size());
    std::size_t end = numberAt(text, number);
    if (end == number) return std::nullopt;
    end += spaceAt(text, end);
    if (!text.substr(end).starts_with("in)")) return std::nullopt;
    pair.inchEnd = end + 2;
    pair.end = pair.inchEnd + 1;

    pair.metricEnd = open - spaceBefore(text, open);
    if (pair.metricEnd == open || !text.substr(0, pair.metricEnd).ends_with("mm")) return std::nullopt;
    end = pair.metricEnd - 2;
    const std::size_t gap = spaceBefore(text, end);
    end -= gap;
    pair.start = pair.metricStart = numberBefore(text, end);
    if (gap == 0 || pair.start == end) return std::nullopt;
    return pair;
}

/// The pair whose bracket opens at `open`; nullopt: it is another bracket.
std::optional<Pair> pairAt(std::string_view text, std::size_t open) {
    if (const std::optional<Pair> about = aboutPairAt(text, open)) return about;
    Pair pair;
    pair.metricStart = open + 1;
    std::size_t at = numberAt(text, open + 1);
    if (at == open + 1) return std::nullopt;
    bool isRange = false;
    if (const std::size_t to = betweenAt(text, at); to > 0) {
        const std::size_t second = numberAt(text, at + to);
        isRange = second > at + to;
        if (isRange) at = second;
    }
    const std::size_t space = spaceAt(text, at);
    constexpr std::size_t kMaxMetric = 4;  // "km/h"
    const std::size_t close = text.substr(0, at + space + kMaxMetric + 1).find(')', at);
    if (space == 0 || close == std::string_view::npos) return std::nullopt;
    const std::string_view metric = text.substr(at + space, close - at - space);
    pair.metricEnd = close;
    pair.end = close + 1;

    pair.inchEnd = open - spaceBefore(text, open);
    if (pair.inchEnd == open) return std::nullopt;
    for (const UnitPair& one : kUnitPairs) {
        if (metric != one.metric || !text.substr(0, pair.inchEnd).ends_with(one.inch)) continue;
        std::size_t end = pair.inchEnd - one.inch.size();
        const std::size_t gap = spaceBefore(text, end);
        end -= gap;
        pair.start = numberBefore(text, end);
        if (gap == 0 || pair.start == end) return std::nullopt;
        if (const std::size_t to = betweenBefore(text, pair.start); isRange && to > 0) {
            // A range in one pair, "14 to 16 in-lb (1.6 to 1.8 Nm)", not two pairs with "to" between.
            const std::size_t first = numberBefore(text, pair.start - to);
            if (first < pair.start - to) pair.start = first;
        }
        pair.inchStart = pair.start;
        return pair;
    }
    return std::nullopt;
}

}  // namespace

std::string_view name(Units units) {
    switch (units) {
        case Units::Inch:
            return "in";
        case Units::Metric:
            return "mm";
        case Units::Both:
            break;
    }
    return "both";
}

std::optional<Units> unitsOf(std::string_view word) {
    for (const Units units : {Units::Both, Units::Inch, Units::Metric})
        if (word == name(units)) return units;
    return std::nullopt;
}

std::string inUnits(std::string_view text, Units units) {
    if (units == Units::Both) return std::string(text);
    std::string result;
    result.reserve(text.size());
    std::size_t copied = 0;
    for (std::size_t open = text.find('('); open != std::string_view::npos; open = text.find('(', open + 1)) {
        const std::optional<Pair> pair = pairAt(text, open);
        if (!pair || pair->start < copied) continue;
        const std::size_t keepStart = units == Units::Inch ? pair->inchStart : pair->metricStart;
        const std::size_t keepEnd = units == Units::Inch ? pair->inchEnd : pair->metricEnd;
        result.append(text, copied, pair->start - copied);
        result.append(text, keepStart, keepEnd - keepStart);
        copied = pair->end;
        open = pair->end - 1;
    }
    return result.append(text, copied);
}

}  // namespace shimsight
