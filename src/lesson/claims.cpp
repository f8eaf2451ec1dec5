// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "lesson/claims.h"

#include <array>
#include <charconv>
#include <cmath>
#include <map>
#include <numbers>
#include <sstream>

#include "shimsight/advice_start.h"
#include "shimsight/core.h"
#include "shimsight/words.h"

namespace shimsight::lesson {
namespace {

std::vector<std::string> wordsOf(std::string_view text) {
    std::istringstream stream{std::string(text)};
    std::vector<std::string> words;
    for (std::string word; stream >> word;) words.push_back(word);
    return words;
}

double factorOf(const std::string& word) {
    double value = 0;
    const auto [end, error] = std::from_chars(word.data(), word.data() + word.size(), value);
    check(error == std::errc() && end == word.data() + word.size(), "a lesson's set-up: \"" + word + "\" is no number");
    return value;
}

/// One side of a set-up beside the right setting.
struct Seen {
    std::optional<Pattern> before, after;
    bool good = false;
};

/// Ids of entries, by the words of the language of claims.
using Said = std::map<std::string_view, const char*>;

std::string saidFor(const Said& said, std::string_view word) {
    const auto found = said.find(word);
    check(found != said.end(), "a lesson's claim: \"" + std::string(word) + "\" is no word of claims");
    return say(found->second);
}

const Said& claimWords() {
    static const Said said{{"toe", "lesson.claim-toe"},
                           {"heel", "lesson.claim-heel"},
                           {"flank", "lesson.claim-flank"},
                           {"face", "lesson.claim-face"},
                           {"toe-heel-stays", "lesson.claim-toe-heel-stays"},
                           {"height-stays", "lesson.claim-height-stays"},
                           {"longer", "lesson.claim-longer"},
                           {"shorter", "lesson.claim-shorter"},
                           {"larger", "lesson.claim-larger"},
                           {"smaller", "lesson.claim-smaller"},
                           {"tilts-up", "lesson.claim-tilts-up"},
                           {"tilts-down", "lesson.claim-tilts-down"},
                           {"tip-edge", "lesson.claim-tip-edge"},
                           {"root-edge", "lesson.claim-root-edge"},
                           {"toe-edge", "lesson.claim-toe-edge"},
                           {"heel-edge", "lesson.claim-heel-edge"},
                           {"no-edge", "lesson.claim-no-edge"},
                           {"good", "lesson.claim-good"},
                           {"not-good", "lesson.claim-not-good"},
                           {"backlash-falls", "lesson.claim-backlash-falls"},
                           {"backlash-rises", "lesson.claim-backlash-rises"},
                           {"backlash-held", "lesson.claim-backlash-held"},
                           {"shim-helps", "lesson.claim-shim-helps"},
                           {"no-shim", "lesson.claim-no-shim"},
                           {"deeper", "lesson.claim-shim-deeper"},
                           {"shallower", "lesson.claim-shim-shallower"}};
    return said;
}

/// "pinion 0.005 in (0.13 mm) deeper"; the sign of a value is told in words.
std::string changeWords(const std::string& word, const std::string& value) {
    static const std::map<std::string_view, std::array<const char*, 2>> said{
        {"deeper", {"lesson.change-deeper", "lesson.change-shallower"}},
        {"shallower", {"lesson.change-shallower", "lesson.change-deeper"}},
        {"deeper-alone", {"lesson.change-deeper-alone", "lesson.change-shallower-alone"}},
        {"more", {"lesson.change-more", "lesson.change-less"}},
        {"less", {"lesson.change-less", "lesson.change-more"}},
        {"offset", {"lesson.change-offset-larger", "lesson.change-offset-smaller"}},
        {"shaft", {"lesson.change-shaft-larger", "lesson.change-shaft-smaller"}},
        {"bias", {"lesson.change-bias-more", "lesson.change-bias-less"}},
        {"film", {"lesson.change-film", "lesson.change-film"}},
        {"crown", {"lesson.change-crown", "lesson.change-crown"}}};
    const auto found = said.find(word);
    check(found != said.end(), "a lesson's set-up: \"" + word + "\" is not known");
    const bool minus = value.starts_with('-');
    const std::string amount = minus ? value.substr(1) : value;
    const bool plain = word == "shaft" || word == "bias" || word == "film" || word == "crown";
    return say(found->second[minus ? 1 : 0], plain ? amount : formatLength(parseLength(amount, "claim")));
}

/// The part of a claim before its colon, in words.
std::string setUpWords(const std::vector<std::string>& words) {
    static const Said sets{{"milled", "lesson.claim-milled"},
                           {"hobbed", "lesson.claim-hobbed"},
                           {"small-cutter", "lesson.claim-small-cutter"},
                           {"spiral-bevel", "lesson.claim-spiral-bevel"}};
    std::string text = saidFor(sets, words[0]);
    bool changed = false, side = false;
    std::string changes;
    for (std::size_t k = 1; k < words.size(); ++k) {
        if (words[k] == "drive" || words[k] == "coast") {
            text += ", " + say(words[k] == "drive" ? "common.drive-side" : "common.coast-side");
            side = true;
            continue;
        }
        changes += ", " + changeWords(words[k], words[k + 1]);
        changed = true;
        ++k;
    }
    if (!side) text += ", " + say("lesson.claim-both-sides");
    return text + (changed ? changes : ", " + say("lesson.claim-right-setting"));
}

bool holds(const std::string& word, const SetUp& now, const std::vector<Seen>& seen, double lashChange) {
    constexpr double kClearShare = 0.10, kHeldMm = 0.002, kClearTiltDeg = 2;
    const auto all = [&](auto&& test) {
        return std::all_of(seen.begin(), seen.end(),
                           [&](const Seen& s) { return s.before && s.after && test(*s.before, *s.after); });
    };
    if (word == "toe") return all([](auto& a, auto& b) { return b.toeHeel < a.toeHeel - kClearMove; });
    if (word == "heel") return all([](auto& a, auto& b) { return b.toeHeel > a.toeHeel + kClearMove; });
    if (word == "flank") return all([](auto& a, auto& b) { return b.rootTip < a.rootTip - kClearMove; });
    if (word == "face") return all([](auto& a, auto& b) { return b.rootTip > a.rootTip + kClearMove; });
    if (word == "toe-heel-stays")
        return all([](auto& a, auto& b) { return std::abs(b.toeHeel - a.toeHeel) < kClearMove; });
    if (word == "height-stays")
        return all([](auto& a, auto& b) { return std::abs(b.rootTip - a.rootTip) < kClearMove; });
    if (word == "longer") return all([](auto& a, auto& b) { return b.length > (1 + kClearShare) * a.length; });
    if (word == "shorter") return all([](auto& a, auto& b) { return b.length < (1 - kClearShare) * a.length; });
    if (word == "larger") return all([](auto& a, auto& b) { return b.area > (1 + kClearShare) * a.area; });
    if (word == "smaller") return all([](auto& a, auto& b) { return b.area < (1 - kClearShare) * a.area; });
    if (word == "tilts-up") return all([](auto& a, auto& b) { return b.tiltDeg > a.tiltDeg + kClearTiltDeg; });
    if (word == "tilts-down") return all([](auto& a, auto& b) { return b.tiltDeg < a.tiltDeg - kClearTiltDeg; });
    if (word == "tip-edge") return all([](auto&, auto& b) { return b.runsOff.tip; });
    if (word == "root-edge") return all([](auto&, auto& b) { return b.runsOff.root; });
    if (word == "toe-edge") return all([](auto&, auto& b) { return b.runsOff.toe; });
    if (word == "heel-edge") return all([](auto&, auto& b) { return b.runsOff.heel; });
    if (word == "no-edge") return all([](auto&, auto& b) { return !b.runsOff.any(); });
    if (word == "good") return std::all_of(seen.begin(), seen.end(), [](const Seen& s) { return s.good; });
    if (word == "not-good") return std::none_of(seen.begin(), seen.end(), [](const Seen& s) { return s.good; });
    if (word == "backlash-falls") return lashChange < -kHeldMm;
    if (word == "backlash-rises") return lashChange > kHeldMm;
    if (word == "backlash-held") return std::abs(lashChange) < kHeldMm;
    if (word == "shim-helps") return bestMove(*now.contact, now.bench).goodness > 0;
    if (word == "no-shim") return bestMove(*now.contact, now.bench).goodness < 0;
    check(false, "a lesson's claim: \"" + word + "\" is no word of claims");
    return false;
}

ClaimResult checkShimClaim(std::string_view claim, const std::vector<std::string>& words, const std::string& wanted) {
    check(words.size() == 3 && words[2] == "thicker", "a lesson's claim on a shim is \"shim PLACE thicker: WAY\"");
    const PinionShim place = words[1] == "behind-pinion-head"  ? PinionShim::BehindPinionHead
                             : words[1] == "under-bearing-cup" ? PinionShim::UnderBearingCup
                                                               : PinionShim::UnderPinionSupport;
    check(place != PinionShim::UnderPinionSupport || words[1] == "under-pinion-support", "no such shim place");
    // A pinion with a smaller mark goes deeper; the shim that does it tells the sign.
    const StartShim start = startShim(0, -0.1, place);
    const bool deeperWhenThicker = start.depthChangeMm * start.thicknessChangeMm > 0;
    const std::string is = deeperWhenThicker ? "deeper" : "shallower";
    const std::string told = say(place == PinionShim::BehindPinionHead  ? "lesson.claim-shim-behind-head"
                                 : place == PinionShim::UnderBearingCup ? "lesson.claim-shim-under-cup"
                                                                        : "lesson.claim-shim-under-support");
    return {std::string(claim), told + ": " + saidFor(claimWords(), wanted),
            say(deeperWhenThicker ? "lesson.thicker-shim-deeper" : "lesson.thicker-shim-shallower"), is == wanted};
}

/// nullptr: there is none of this name.
const ToothContact* setCalled(std::string_view word) {
    if (word == "milled" || word == "hobbed") return &lessonSet(word == "milled" ? Cut::FaceMilled : Cut::FaceHobbed);
    if (word == "small-cutter") return &smallCutterSet();
    return word == "spiral-bevel" ? &spiralBevelSet() : nullptr;
}

}  // namespace

SetUp parseSetUp(std::string_view text) {
    const std::vector<std::string> words = wordsOf(text);
    check(!words.empty(), "a lesson's set-up begins with its set: " + std::string(text));
    SetUp now;
    now.contact = setCalled(words[0]);
    check(now.contact != nullptr, "a lesson's set-up begins with its set: " + std::string(text));
    now.bench = rightBench(*now.contact);
    for (std::size_t k = 1; k < words.size(); ++k) {
        const std::string& word = words[k];
        if (word == "drive" || word == "coast") {
            now.side = word == "drive" ? Side::Drive : Side::Coast;
            continue;
        }
        check(++k < words.size(), "a lesson's set-up: \"" + word + "\" needs a value");
        const std::string& value = words[k];
        now.changed = true;
        if (word == "film") {
            now.bench.filmMm *= factorOf(value);
        } else if (word == "crown") {
            for (Modification& m : now.bench.modification) {
                m.lengthCrownUm *= factorOf(value);
                m.profileCrownUm *= factorOf(value);
            }
        } else if (word == "bias") {
            for (Modification& m : now.bench.modification) m.biasUm += factorOf(value);
        } else if (word == "shaft") {
            SetupError shaft;
            shaft.shaftAngleRad = factorOf(value) * std::numbers::pi / 180;
            now.bench.error.shaftAngleRad += shaft.shaftAngleRad;
            now.bench.error.ringMm += now.contact->backlashChangeMm(shaft) / now.contact->backlashRates().perRingMove;
        } else {
            const double mm = parseLength(value, "claim").mm();
            if (word == "deeper") {
                now.bench = moved(*now.contact, now.bench, {mm, 0});
            } else if (word == "shallower") {
                now.bench = moved(*now.contact, now.bench, {-mm, 0});
            } else if (word == "more") {
                now.bench = moved(*now.contact, now.bench, {0, mm});
            } else if (word == "less") {
                now.bench = moved(*now.contact, now.bench, {0, -mm});
            } else if (word == "deeper-alone") {
                now.bench.error.depthMm += mm;
            } else {
                check(word == "offset", "a lesson's set-up: \"" + word + "\" is not known");
                SetupError offset;
                offset.offsetMm = mm;
                now.bench.error.offsetMm += mm;
                now.bench.error.ringMm +=
                    now.contact->backlashChangeMm(offset) / now.contact->backlashRates().perRingMove;
            }
        }
    }
    return now;
}

ClaimResult checkClaim(std::string_view claim) {
    const std::size_t colon = claim.find(':');
    check(colon != std::string_view::npos, "a lesson's claim needs a colon: " + std::string(claim));
    const std::vector<std::string> left = wordsOf(claim.substr(0, colon)), right = wordsOf(claim.substr(colon + 1));
    check(!left.empty() && !right.empty(), "a lesson's claim needs words on both sides: " + std::string(claim));
    if (left[0] == "shim") return checkShimClaim(claim, left, right[0]);

    const SetUp now = parseSetUp(claim.substr(0, colon));
    const BenchMarks before = marksOf(*now.contact, rightBench(*now.contact)), after = marksOf(*now.contact, now.bench);
    std::vector<Seen> seen;
    ClaimResult result{std::string(claim), setUpWords(left) + ": ", "", true};
    for (const std::string& word : right)
        result.words += (&word == &right[0] ? "" : ", ") + saidFor(claimWords(), word);
    for (const Side side : kSides) {
        if (now.side && *now.side != side) continue;
        const std::size_t k = index(side);
        Seen one{before.pattern[k], after.pattern[k], false};
        one.good = one.after && isAcceptable(*one.after, now.contact->gearSet().limits.acceptance);
        result.measured += result.measured.empty() ? "" : "; ";
        const std::string found =
            one.before && one.after
                ? say("lesson.centre-goes", formatted("%.0f", 100 * one.before->toeHeel),
                      formatted("%.0f", 100 * one.after->toeHeel), formatted("%.0f", 100 * one.before->rootTip),
                      formatted("%.0f", 100 * one.after->rootTip))
                : say("common.no-mark");
        result.measured += say(side == Side::Drive ? "lesson.drive-measured" : "lesson.coast-measured", found);
        seen.push_back(one);
    }
    const double backlash = backlashMm(*now.contact, now.bench) - backlashMm(*now.contact, rightBench(*now.contact));
    for (const std::string& word : right) {
        if (word == "backlash-held" && holds(word, now, seen, backlash))
            result.measured += "; " + say("lesson.claim-backlash-held");
        else if (word.starts_with("backlash"))
            result.measured += "; " + say("lesson.backlash-changes", formatLength(Length::fromMm(backlash), true));
        if (word == "longer" || word == "shorter")
            result.measured += "; " + say("lesson.length-is", formatted("%.0f", 100 * seen[0].before->length),
                                          formatted("%.0f", seen[0].after ? 100 * seen[0].after->length : 0.0));
        if (word == "larger" || word == "smaller")
            result.measured += "; " + say("lesson.area-is", formatted("%.0f", 100 * seen[0].before->area),
                                          formatted("%.0f", seen[0].after ? 100 * seen[0].after->area : 0.0));
        if (word.starts_with("tilts"))
            result.measured += "; " + say("lesson.tilt-is", formatted("%.0f", seen[0].before->tiltDeg),
                                          formatted("%.0f", seen[0].after ? seen[0].after->tiltDeg : 0.0));
        result.holds = result.holds && holds(word, now, seen, backlash);
    }
    return result;
}

}  // namespace shimsight::lesson
