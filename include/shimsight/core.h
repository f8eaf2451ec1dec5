// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// Lengths with units, ordinary refusals, input errors and repeatable random numbers: what every module shares.
#pragma once

#include <cmath>
#include <cstdint>
#include <optional>
#include <stdexcept>
#include <string>
#include <string_view>
#include <utility>
#include <variant>

#include "shimsight/words.h"

namespace shimsight {

inline constexpr double kPi = 3.14159265358979323846;
inline constexpr double degrees(double radians) { return radians * 180.0 / kPi; }
inline constexpr double radians(double degrees) { return degrees * kPi / 180.0; }

/// Something from outside (a file, a value a person typed) cannot be used. what() is one plain sentence that names the
/// file and the field; `sentence` is the same as a code, without the file where that stands in front. Caught once in
/// main.
class InputError : public std::runtime_error {
public:
    InputError(Message sentence, std::string file = {})
        : std::runtime_error(file.empty() ? text(sentence) : file + ": " + text(sentence)),
          sentence_(std::move(sentence)),
          file_(std::move(file)) {}
    const Message& sentence() const { return sentence_; }
    const std::string& file() const { return file_; }  ///< that what() names in front; empty: none

private:
    Message sentence_;
    std::string file_;
};

/// A bug in the program: throws std::logic_error with the sentence. Use for broken invariants only.
void check(bool holds, std::string_view sentence);

/// A length. Millimetres and thousandths of an inch convert exactly (25.4 mm to the inch by definition).
class Length {
public:
    constexpr Length() = default;
    static constexpr Length fromMm(double value) { return Length(value); }
    static constexpr Length fromThou(double value) { return Length(value * 0.0254); }
    static constexpr Length fromInch(double value) { return Length(value * 25.4); }
    constexpr double mm() const { return mm_; }
    constexpr double thou() const { return mm_ / 0.0254; }
    constexpr double inch() const { return mm_ / 25.4; }
    constexpr Length operator-() const { return Length(-mm_); }
    friend constexpr Length operator+(Length a, Length b) { return Length(a.mm_ + b.mm_); }
    friend constexpr Length operator-(Length a, Length b) { return Length(a.mm_ - b.mm_); }
    friend constexpr auto operator<=>(Length a, Length b) = default;

private:
    explicit constexpr Length(double mm) : mm_(mm) {}
    double mm_ = 0;
};

/// Reads "0.004in", "4thou", "0.10mm" (a space before the unit and a sign are allowed; "inch" and "\"" are not units
/// here). Throws InputError beginning with `what` (for example "--backlash"); a bare number is refused with the two
/// ways to write it; so are values that are not finite or longer than 10 m.
Length parseLength(std::string_view text, std::string_view what);

/// A length as people read it, in both units.
struct LengthPair {
    std::string inch, metric;  ///< "0.005 in", "0.12 mm"
    bool inchesAbout = false;  ///< the inches are the nearest thousandth only; else the pair converts
};
/// Three decimals of an inch, two of a millimetre, rounded once, so that the pair converts. Under a tenth of an inch a
/// half thousandth is written where it is nearer, "0.0035 in": shims and backlash are told apart by it. A length in
/// hundredths of a millimetre stays itself, and where no half thousandth converts to it its inches are told as about so
/// many: no shim and no dial has a tenth of a thousandth. With `sign`, "+" is written.
/// src/lesson/page/lengths.js does the same on pages; tests/support/lengths.txt holds both to one table.
LengthPair lengthPair(Length value, bool sign = false);
/// "0.004 in (0.10 mm)", thousandths first; "0.12 mm (about 0.005 in)" where the inches are about so many.
std::string formatLength(Length value, bool sign = false);
/// The same of an amount, whose direction is told in words: "0.004 in (0.10 mm)" for -0.1016.
std::string lengthWords(double mm);
/// A diameter, an offset, a face width, as a drawing has it: never finer than a thousandth, in tenths of a millimetre
/// where it was given so, and the pair converts. src/lesson/page/lengths.js does the same (tests/support/sizes.txt).
LengthPair sizePair(Length value);
std::string sizeWords(double mm);  ///< "15.354 in (390.0 mm)"

/// Why a photo, or a part of one, gives no measurement: an ordinary answer, not an error.
enum class Refusal : std::uint8_t {
    NoToothFound,
    FlankTooSmall,
    FlankOutsidePicture,
    OutlineUnusable,
    TooDark,
    Glare,
    OutOfFocus,
    NoCompound,
    NotRolled,
    Smeared,
    SideUnknown,
    UnreadablePhoto
};

/// Refusal as a short stable word for JSON, for example "no-compound".
std::string_view name(Refusal why);

struct Refused {
    Refusal why = Refusal::NoToothFound;
    Message reason;    ///< one plain sentence: what was seen
    Message whatToDo;  ///< one plain sentence to the mechanic: "Wipe the flank and turn the lamp away."
};

/// A value, or the reason why there is none.
template <typename T>
class Outcome {
public:
    Outcome(T value) : state_(std::move(value)) {}
    Outcome(Refused refused) : state_(std::move(refused)) {}
    explicit operator bool() const { return std::holds_alternative<T>(state_); }
    const T& value() const { return std::get<T>(state_); }
    T& value() { return std::get<T>(state_); }
    const Refused& refused() const { return std::get<Refused>(state_); }

private:
    std::variant<T, Refused> state_;
};

/// The mix of SplitMix64 (Steele, Lea, Flood 2014): bits that look random from bits that do not.
inline constexpr std::uint64_t splitMix(std::uint64_t bits) {
    bits = (bits ^ bits >> 30) * 0xBF58476D1CE4E5B9ULL;
    bits = (bits ^ bits >> 27) * 0x94D049BB133111EBULL;
    return bits ^ bits >> 31;
}

/// Repeatable random numbers: the same seed gives the same sequence on every machine and compiler.
class Random {
public:
    explicit Random(std::uint64_t seed);
    std::uint64_t bits();
    double uniform();                         ///< [0, 1)
    double uniform(double low, double high);  ///< [low, high)
    double normal();                          ///< mean 0, standard deviation 1
    double normal(double mean, double sigma) { return mean + sigma * normal(); }
    int integer(int low, int high);  ///< low..high, both included
    bool chance(double probability) { return uniform() < probability; }
    Random fork(std::uint64_t stream) const;  ///< an independent sequence

private:
    std::uint64_t state_;
    std::uint64_t seed_;
    std::optional<double> spare_;
};

}  // namespace shimsight
