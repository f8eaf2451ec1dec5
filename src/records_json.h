// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// JSON inside the program, for the modules that keep records of their own. Strict reading of objects: bounds before
/// parsing, one plain sentence for each fault, warnings for misspelled keys. The objects that several records hold,
/// read and written. Module `records`.
#pragma once

#include <array>
#include <cstddef>
#include <nlohmann/json.hpp>
#include <optional>
#include <set>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "shimsight/core.h"
#include "shimsight/gear_set.h"
#include "shimsight/pattern.h"
#include "shimsight/records.h"
#include "shimsight/rectify.h"

namespace shimsight {

/// A field that cannot be used. `path()` is its dotted place in the file, "trials[2].backlash_mm".
class FieldError : public InputError {
public:
    FieldError(const std::string& fileName, std::string path, const std::string& fault)
        : InputError(message("records.field-fault", path, fault), fileName), path_(std::move(path)) {}
    const std::string& path() const { return path_; }

private:
    std::string path_;
};

/// Parses `text`, which must be one JSON object of at most `maxBytes` and kMaxRecordDepth, without a repeated key.
/// Throws InputError beginning with `fileName`; faults of grammar name line and column.
nlohmann::json parseJsonObject(std::string_view text, const std::string& fileName,
                               std::int64_t maxBytes = kMaxRecordBytes);

/// The line, from 1, on which the value of the field at `path` begins in `text`, which must be valid JSON; for a field
/// that is not there the line of the innermost object that is.
std::size_t lineOfField(std::string_view text, std::string_view path);

/// `text` fit to stand in a message: at most 60 characters, control characters and broken UTF-8 replaced.
std::string shown(std::string_view text);

/// The values of an enumeration with their words in records, by its own name().
template <typename T, std::size_t N>
std::array<std::pair<std::string_view, T>, N> wordsOf(const std::array<T, N>& values) {
    std::array<std::pair<std::string_view, T>, N> result;
    for (std::size_t i = 0; i < N; ++i) result[i] = {name(values[i]), values[i]};
    return result;
}

inline const auto kSideWords = wordsOf(std::array{Side::Drive, Side::Coast});
inline const auto kDialWords =
    wordsOf(std::array{DialReading::SquareToTooth, DialReading::SquareAtHeel, DialReading::OuterCircumference});
inline const auto kPinionShimWords =
    wordsOf(std::array{PinionShim::BehindPinionHead, PinionShim::UnderBearingCup, PinionShim::UnderPinionSupport});
inline const auto kMarkingWords = wordsOf(std::array{Marking::Wiped, Marking::Transferred});

/// Farther from the corner, in pixels, than any place in a picture that is read.
inline constexpr double kFarthestPx = 100'000;

/// Allowed values of a number, both ends included.
struct Range {
    double low = 0, high = 0;
};

/// One object of a record while it is read. Optional fields give nullopt when missing or null.
class ObjectReader {
public:
    /// `path`: dotted place of the object in the file, "" at the top. `warnings` collects for the whole file.
    ObjectReader(const nlohmann::json& object, std::string fileName, std::string path,
                 std::vector<std::string>& warnings);

    std::optional<double> number(std::string_view key, Range range);
    double requiredNumber(std::string_view key, Range range);
    std::optional<int> integer(std::string_view key, Range range);
    int requiredInteger(std::string_view key, Range range);
    std::optional<std::string> text(std::string_view key);
    std::optional<bool> boolean(std::string_view key);
    std::optional<Interval> interval(std::string_view key, Range range);
    std::vector<double> numbers(std::string_view key, Range range, std::size_t most);
    std::vector<std::string> texts(std::string_view key, std::size_t most);
    std::optional<ObjectReader> object(std::string_view key);
    ObjectReader requiredObject(std::string_view key);
    /// The list at `key`, null when missing; its items are read with item().
    const nlohmann::json* list(std::string_view key, std::size_t most);
    const nlohmann::json* requiredList(std::string_view key, std::size_t most);
    ObjectReader item(std::string_view key, const nlohmann::json& list, std::size_t number);

    /// One of the words; `choices` holds word and value.
    template <typename T, std::size_t N>
    std::optional<T> choice(std::string_view key, const std::array<std::pair<std::string_view, T>, N>& choices) {
        const std::optional<std::string> word = text(key);
        if (!word) return std::nullopt;
        std::string words;
        for (const auto& [name, value] : choices) {
            if (*word == name) return value;
            words += (words.empty() ? "\"" : ", \"") + std::string(name) + "\"";
        }
        fail(key, say("records.one-of", shown(*word), words));
    }

    const std::string& fileName() const { return fileName_; }
    std::vector<std::string>& warnings() const { return *warnings_; }

    /// Checks that "schema" is `wanted`.
    void expectSchema(std::string_view wanted);

    /// Warns about fields that were not asked for and look like one that was. Call when everything has been read.
    void finish();

    /// Throws FieldError: FILE: "PATH.KEY" SENTENCE.
    [[noreturn]] void fail(std::string_view key, const std::string& sentence) const;

private:
    const nlohmann::json* find(std::string_view key);
    [[noreturn]] void missing(std::string_view key) const;
    double numberIn(const nlohmann::json& value, std::string_view key, Range range) const;
    std::string pathOf(std::string_view key) const;

    const nlohmann::json* object_;
    std::string fileName_;
    std::string path_;
    std::vector<std::string>* warnings_;
    std::vector<std::string> asked_;
};

// ---- Objects that several records hold ----

/// The pattern at `key`; nullopt when it is missing or null. Edge shares that are not given follow from "runs_off".
std::optional<Pattern> readPattern(ObjectReader& parent, std::string_view key);

/// The reading that `reader` stands on, its "schema" included.
MeasurementRecord readMeasurement(ObjectReader& reader);
Advice readAdvice(ObjectReader& reader);

/// Parts of the records, for those who write JSON of their own around them.
nlohmann::json toJson(const Pattern& pattern);            ///< PATTERN
nlohmann::json toJson(const Advice& advice);              ///< ADVICE, without a schema
nlohmann::json toJson(const Modification& modification);  ///< as in a gear-set file

// ---- Writing ----

/// `value` rounded to six decimals, so that files stay readable (1e-6 mm or 1e-6 of a flank is below everything that is
/// measured). A value that is not finite is a bug and throws std::logic_error.
double tidy(double value);

nlohmann::json pointJson(const PixelPoint& point);  ///< [x, y], rounded to a hundredth of a pixel
nlohmann::json refusedJson(const Refused& refused);

/// The text of a whole file. Broken UTF-8 (file names) is replaced.
std::string fileText(const nlohmann::json& document);
std::string fileText(const nlohmann::ordered_json& document);  ///< fields in the order they were put

}  // namespace shimsight
