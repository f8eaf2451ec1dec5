// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cstdio>
#include <filesystem>
#include <iostream>
#include <nlohmann/json.hpp>
#include <utility>

#include "cli/args.h"
#include "cli/commands.h"
#include "cli/output.h"
#include "cli/report.h"
#include "shimsight/advice_start.h"
#include "shimsight/files.h"
#include "shimsight/job.h"
#include "shimsight/tooth_contact.h"
#include "shimsight/words.h"

namespace shimsight::cli {
namespace {

constexpr std::array kShimWords{std::pair{"behind-pinion-head", PinionShim::BehindPinionHead},
                                std::pair{"under-bearing-cup", PinionShim::UnderBearingCup},
                                std::pair{"under-pinion-support", PinionShim::UnderPinionSupport}};
constexpr std::array kPinionWords{std::pair{"below", PinionPosition::Below}, std::pair{"above", PinionPosition::Above}};
constexpr std::array kSpacerWords{std::pair{"crush-sleeve", PreloadSpacer::CrushSleeve},
                                  std::pair{"solid-spacer", PreloadSpacer::SolidSpacer}};
constexpr std::array kSeatWords{std::pair{"on-bearing", SpacerSeat::OnBearing},
                                std::pair{"on-pinion-shoulder", SpacerSeat::OnPinionShoulder}};
constexpr std::array kCarrierWords{std::pair{"threaded-adjusters", CarrierSetting::ThreadedAdjusters},
                                   std::pair{"carrier-shims", CarrierSetting::CarrierShims},
                                   std::pair{"outboard-shims", CarrierSetting::OutboardShims}};

template <typename T, std::size_t N>
std::vector<std::string> wordsOf(const std::array<std::pair<const char*, T>, N>& pairs) {
    std::vector<std::string> words;
    words.reserve(N);
    for (const auto& [word, value] : pairs) words.emplace_back(word);
    return words;
}

template <typename T, std::size_t N>
T valueOf(const std::string& word, const std::array<std::pair<const char*, T>, N>& pairs) {
    for (const auto& [name, value] : pairs)
        if (word == name) return value;
    throw UsageError(say("cli.not-a-known-word", word));
}

std::string interval(const Interval& value) { return say("cli.from-to", mm(value.low), mm(value.high)); }

std::string torque(const Interval& value) {
    constexpr double kInchPoundNm = 0.112984829;  // by definition of inch and pound-force
    return say("cli.torque-from-to", formatted("%.0f", value.low / kInchPoundNm),
               formatted("%.0f", value.high / kInchPoundNm), formatted("%.1f", value.low),
               formatted("%.1f", value.high));
}

std::string boltTorque(const Interval& value) {
    return value.low == value.high ? formatBoltTorque(value.low)
                                   : say("cli.from-to", formatBoltTorque(value.low), formatBoltTorque(value.high));
}

enum class RangeKind { Turning, Bolt, Span };
/// A limit of the maker's sheet that is one figure or two: how it is given, asked, shown and kept.
struct RangeField {
    const char *option, *help, *asked, *shown;
    RangeKind kind;
    std::optional<Interval>& (*of)(LimitsData&);
};
constexpr std::array kRanges{
    RangeField{.option = "--pinion-preload",
               .help = "cli.help-range-pinion-preload",
               .asked = "cli.ask-preload-new",
               .shown = "cli.set-preload-new",
               .kind = RangeKind::Turning,
               .of = [](LimitsData& l) -> std::optional<Interval>& { return l.preloadNewNm; }},
    RangeField{.option = "--pinion-preload-used",
               .help = "cli.help-range-pinion-preload-used",
               .asked = "cli.ask-preload-used",
               .shown = "cli.set-preload-used",
               .kind = RangeKind::Turning,
               .of = [](LimitsData& l) -> std::optional<Interval>& { return l.preloadUsedNm; }},
    RangeField{.option = "--pinion-preload-with-seal",
               .help = "cli.help-range-pinion-preload-with-seal",
               .asked = "cli.ask-seal-new",
               .shown = "cli.set-seal-new",
               .kind = RangeKind::Turning,
               .of = [](LimitsData& l) -> std::optional<Interval>& { return l.preloadWithSeal.newNm; }},
    RangeField{.option = "--pinion-preload-with-seal-used",
               .help = "cli.help-range-pinion-preload-with-seal-used",
               .asked = "cli.ask-seal-used",
               .shown = "cli.set-seal-used",
               .kind = RangeKind::Turning,
               .of = [](LimitsData& l) -> std::optional<Interval>& { return l.preloadWithSeal.usedNm; }},
    RangeField{.option = "--carrier-preload",
               .help = "cli.help-range-carrier-preload",
               .asked = "cli.ask-carrier-new",
               .shown = "cli.set-carrier-new",
               .kind = RangeKind::Turning,
               .of = [](LimitsData& l) -> std::optional<Interval>& { return l.carrierPreload.newNm; }},
    RangeField{.option = "--carrier-preload-used",
               .help = "cli.help-range-carrier-preload-used",
               .asked = "cli.ask-carrier-used",
               .shown = "cli.set-carrier-used",
               .kind = RangeKind::Turning,
               .of = [](LimitsData& l) -> std::optional<Interval>& { return l.carrierPreload.usedNm; }},
    RangeField{.option = "--total-turning",
               .help = "cli.help-range-total-turning",
               .asked = "cli.ask-total-new",
               .shown = "cli.set-total-new",
               .kind = RangeKind::Turning,
               .of = [](LimitsData& l) -> std::optional<Interval>& { return l.total.newNm; }},
    RangeField{.option = "--total-turning-used",
               .help = "cli.help-range-total-turning-used",
               .asked = "cli.ask-total-used",
               .shown = "cli.set-total-used",
               .kind = RangeKind::Turning,
               .of = [](LimitsData& l) -> std::optional<Interval>& { return l.total.usedNm; }},
    RangeField{.option = "--total-turning-with-seal",
               .help = "cli.help-range-total-turning-with-seal",
               .asked = "cli.ask-total-seal",
               .shown = "cli.set-total-seal",
               .kind = RangeKind::Turning,
               .of = [](LimitsData& l) -> std::optional<Interval>& { return l.totalWithSeal.newNm; }},
    RangeField{.option = "--carrier-spread",
               .help = "cli.help-range-carrier-spread",
               .asked = "cli.ask-spread",
               .shown = "cli.set-spread",
               .kind = RangeKind::Span,
               .of = [](LimitsData& l) -> std::optional<Interval>& { return l.carrierSpreadMm; }},
    RangeField{.option = "--pinion-nut",
               .help = "cli.help-range-pinion-nut",
               .asked = "cli.ask-pinion-nut",
               .shown = "cli.set-pinion-nut",
               .kind = RangeKind::Bolt,
               .of = [](LimitsData& l) -> std::optional<Interval>& { return l.torquesNm[index(Joint::PinionNut)]; }},
    RangeField{
        .option = "--ring-gear-bolts",
        .help = "cli.help-range-ring-gear-bolts",
        .asked = "cli.ask-ring-bolts",
        .shown = "cli.set-ring-bolts",
        .kind = RangeKind::Bolt,
        .of = [](LimitsData& l) -> std::optional<Interval>& { return l.torquesNm[index(Joint::RingGearBolts)]; }},
    RangeField{.option = "--bearing-caps",
               .help = "cli.help-range-bearing-caps",
               .asked = "cli.ask-caps",
               .shown = "cli.set-caps",
               .kind = RangeKind::Bolt,
               .of = [](LimitsData& l) -> std::optional<Interval>& { return l.torquesNm[index(Joint::BearingCaps)]; }},
    RangeField{
        .option = "--pinion-support-bolts",
        .help = "cli.help-range-pinion-support-bolts",
        .asked = "cli.ask-support-bolts",
        .shown = "cli.set-support-bolts",
        .kind = RangeKind::Bolt,
        .of = [](LimitsData& l) -> std::optional<Interval>& { return l.torquesNm[index(Joint::PinionSupportBolts)]; }},
    RangeField{
        .option = "--adjuster-locks",
        .help = "cli.help-range-adjuster-locks",
        .asked = "cli.ask-locks",
        .shown = "cli.set-locks",
        .kind = RangeKind::Bolt,
        .of = [](LimitsData& l) -> std::optional<Interval>& { return l.torquesNm[index(Joint::AdjusterLocks)]; }},
    RangeField{.option = "--cover",
               .help = "cli.help-range-cover",
               .asked = "cli.ask-cover",
               .shown = "cli.set-cover",
               .kind = RangeKind::Bolt,
               .of = [](LimitsData& l) -> std::optional<Interval>& { return l.torquesNm[index(Joint::Cover)]; }},
    RangeField{.option = "--shaft-bolts",
               .help = "cli.help-range-shaft-bolts",
               .asked = "cli.ask-shaft-bolts",
               .shown = "cli.set-shaft-bolts",
               .kind = RangeKind::Bolt,
               .of = [](LimitsData& l) -> std::optional<Interval>& { return l.torquesNm[index(Joint::ShaftBolts)]; }}};

std::string shownRange(const RangeField& field, const Interval& value) {
    switch (field.kind) {
        case RangeKind::Turning:
            return torque(value);
        case RangeKind::Bolt:
            return boltTorque(value);
        case RangeKind::Span:
            break;
    }
    return interval(value);
}

/// "14in-lb:19in-lb", or one figure. Throws InputError.
Interval rangeOf(const RangeField& field, const std::string& text, const std::string& what) {
    const auto one = [&](const std::string& part) {
        switch (field.kind) {
            case RangeKind::Turning:
                return parseTorqueNm(part, what);
            case RangeKind::Bolt:
                return parseBoltTorqueNm(part, what);
            case RangeKind::Span:
                break;
        }
        return parseLength(part, what).mm();
    };
    const std::size_t colon = text.find(':');
    const double low = one(text.substr(0, colon));
    return {low, colon == std::string::npos ? low : one(text.substr(colon + 1))};
}

/// A question about a torque that such a joint, or a pinion, does not have; nullopt: nothing odd.
std::optional<std::string> oddIn(const RangeField& field, const Interval& value) {
    if (field.kind == RangeKind::Span) return std::nullopt;
    CheckItem joint;
    joint.key = std::string_view(field.option).substr(2);  // the options are called as the joints
    for (const double nm : {value.low, value.high})
        if (const std::optional<Message> odd = field.kind == RangeKind::Bolt ? oddTorque(joint, nm) : oddTurning(nm))
            return text(*odd);
    return std::nullopt;
}

/// "2thou,3thou,0.010in". Throws InputError.
std::vector<double> lengthsOf(const std::string& text, const std::string& what) {
    std::vector<double> lengths;
    for (std::size_t start = 0; start <= text.size();) {
        const std::size_t end = std::min(text.find(',', start), text.size());
        std::string part = text.substr(start, end - start);
        part.erase(0, part.find_first_not_of(' '));
        lengths.push_back(parseLength(part, what).mm());
        start = end + 1;
    }
    return lengths;
}

std::string listedLengths(const std::vector<double>& lengths) {
    std::string text;
    for (const double one : lengths) text += (text.empty() ? "" : ", ") + mm(one);
    return text;
}

/// An entry with a line end, set in as the parts of the answer are.
template <typename... Values>
std::string setLine(const char* key, Values&&... values) {
    return "  " + say(key, std::forward<Values>(values)...) + "\n";
}

std::string partsText(const GearSet& set) {
    std::string text = say("cli.gear-set-heading") + "\n";
    text += setLine("cli.set-teeth", set.pinionTeeth, set.ringTeeth,
                    formatted("%.3f", static_cast<double>(set.ringTeeth) / set.pinionTeeth));
    text += setLine("cli.set-sizes", sizeWords(set.ringGearDiameterMm), sizeWords(set.offsetMm),
                    sizeWords(set.faceWidthMm));
    const std::string cut = say(set.cut == Cut::FaceMilled ? "cli.set-milled" : "cli.set-hobbed");
    text += setLine(set.cutKnown ? "cli.set-cut" : "cli.set-cut-not-given", cut);
    const bool right = set.hand == Hand::Right, drive = set.forwardLoadSide == Side::Drive;
    text += setLine(right ? (drive ? "cli.set-right-drive" : "cli.set-right-coast")
                          : (drive ? "cli.set-left-drive" : "cli.set-left-coast"));
    return text;
}

std::string shapeText(const Blank& blank) {
    const auto angle = [](double radians) { return formatted("%.2f", degrees(radians)); };
    std::string text = say("cli.geometry") + "\n";
    text += setLine("cli.pitch-angles", angle(blank.pitchAngle2), angle(blank.pitchAngle1));
    text += setLine("cli.spiral-angles", angle(blank.spiralM2), angle(blank.spiralM1), angle(blank.offsetAnglePitch));
    text += setLine("cli.pressure-angles", angle(blank.pressureAngleDrive), angle(blank.pressureAngleCoast),
                    angle(blank.limitPressureAngle));
    text += setLine("cli.depth-and-cone-distance", sizeWords(blank.workingDepth), sizeWords(blank.coneDistanceM2));
    text += setLine("cli.tooth-curvature", formatted("%.2f", blank.lengthwiseRadius / blank.coneDistanceM2));
    return text;
}

std::string limitsText(const GearSet& set, LimitsData given, const ToothContact& contact) {
    const BacklashRates rates = contact.backlashRates();
    std::string text = say("cli.backlash-heading") + "\n";
    text += setLine(set.given.backlashLimits ? "cli.set-backlash" : "cli.set-backlash-usual",
                    interval(set.limits.backlashMm));
    text += setLine(set.given.backlashVariation ? "cli.set-variation" : "cli.set-variation-usual",
                    mm(set.limits.backlashVariationMm));
    text +=
        wrapped(say("cli.set-backlash-rates", formatted("%.3f", rates.perRingMove), formatted("%.3f", rates.perDepth)),
                "  ", "  ");
    text += setLine("cli.set-ring-move", mm(-contact.ringMoveForConstantBacklashMm(Length::fromThou(4).mm())));
    text += setLine(set.given.ringRunout ? "cli.set-runout" : "cli.set-runout-usual", mm(set.limits.ringRunoutMm));
    if (given.dial && *given.dial != DialReading::SquareToTooth && given.backlashMm)
        text += wrapped(say(*given.dial == DialReading::SquareAtHeel ? "cli.set-dial-at-heel" : "cli.set-dial-along",
                            interval(*given.backlashMm)),
                        "  ", "  ");
    if (given.carrierFlangeRunoutMm) text += setLine("cli.set-carrier-flange", mm(*given.carrierFlangeRunoutMm));
    if (given.pinionFlangeRunoutMm) text += setLine("cli.set-pinion-flange", mm(*given.pinionFlangeRunoutMm));
    for (const RangeField& field : kRanges)
        if (const std::optional<Interval>& value = field.of(given))
            text += wrapped(say(field.shown, shownRange(field, *value)), "  ", "  ");
    return text;
}

std::string buildText(const GearSet& set) {
    std::string text = say("cli.build") + "\n";
    const auto orAssumed = [](const char* key, bool given) {
        return given ? say(key) : say("cli.set-assumed-place", say(key));
    };
    const char* shims = set.build.pinionShim == PinionShim::UnderPinionSupport ? "cli.set-shims-under-support"
                        : set.build.pinionShim == PinionShim::UnderBearingCup  ? "cli.set-shims-under-cup"
                                                                               : "cli.set-shims-behind-head";
    text += wrapped(orAssumed(shims, set.given.pinionShim), "  ", "  ");
    const char* carrier = set.build.carrier == CarrierSetting::ThreadedAdjusters ? "cli.set-by-adjusters"
                          : set.build.carrier == CarrierSetting::CarrierShims    ? "cli.set-by-carrier-shims"
                                                                                 : "cli.set-by-outboard-shims";
    text += "  " + orAssumed(carrier, set.given.carrier) + "\n";
    if (set.build.pinionPosition)
        text += setLine(*set.build.pinionPosition == PinionPosition::Below ? "cli.set-pinion-below"
                                                                           : "cli.set-pinion-above");
    if (set.build.preloadSpacer)
        text += setLine(*set.build.preloadSpacer == PreloadSpacer::CrushSleeve ? "cli.set-crush-sleeve"
                                                                               : "cli.set-solid-spacer");
    if (set.build.spacerSeat)
        text += wrapped(say(*set.build.spacerSeat == SpacerSeat::OnBearing ? "cli.set-spacer-on-bearing"
                                                                           : "cli.set-spacer-on-shoulder"),
                        "  ", "  ");
    if (set.build.axle)
        text += setLine(*set.build.axle == AxlePlace::Front ? "cli.set-front-axle" : "cli.set-rear-axle");
    if (set.build.pinionDepthMm) text += setLine("cli.set-pinion-depth", mm(*set.build.pinionDepthMm));
    if (!set.build.shimsMm.empty())
        text += wrapped(say("cli.set-shims-on-hand", listedLengths(set.build.shimsMm)), "  ", "    ");
    if (!set.build.sideShimsMm.empty())
        text += wrapped(say("cli.set-side-shims", listedLengths(set.build.sideShimsMm)), "  ", "    ");
    return text;
}

std::string shownSet(const GearSet& set, const LimitsData& given, const ToothContact& contact) {
    std::string text = set.name + "\n" + say("cli.file-in-order") + "\n\n" + partsText(set) + "\n" +
                       shapeText(contact.blank()) + "\n" + limitsText(set, given, contact) + "\n" + buildText(set);
    if (!set.assumed.empty()) text += "\n" + bulletList(say("cli.assumed"), texts(set.assumed));
    if (!set.sources.empty()) text += "\n" + bulletList(say("cli.sources"), set.sources);
    return text + "\n" + wrapped(say("cli.put-limits-into-the-file"), "", "");
}

int checkFile(const std::string& name, bool json) {
    const GearSetFile file = openGearSet(name);
    const GearSet set = completeGearSet(file.data);
    const ToothContact contact = contactOf(set, file.fileName);
    if (!json) {
        printText(shownSet(set, file.data.limits, contact));
        return kDone;
    }
    Prediction prediction;
    prediction.gearSet = set.name;
    prediction.rates = contact.backlashRates();
    prediction.blank = contact.blank();
    const nlohmann::json computed = nlohmann::json::parse(writePrediction(prediction));
    const nlohmann::json document = {{"schema", "shimsight/gear-set-check/1"},
                                     {"file", name},
                                     {"gear_set", nlohmann::json::parse(writeGearSet(file.data))},
                                     {"geometry", computed["geometry"]},
                                     {"rates", computed["rates"]},
                                     {"assumed", texts(set.assumed)},
                                     {"warnings", file.warnings}};
    printText(document.dump(2, ' ', false, nlohmann::json::error_handler_t::replace) + "\n");
    return kDone;
}

/// Asks on the terminal until `use` takes the answer; an empty answer gives false when `mayBeEmpty`.
template <typename Use>
bool ask(const std::string& question, bool mayBeEmpty, const Use& use) {
    while (true) {
        std::cout << question << ' ' << std::flush;
        std::string answer;
        if (!std::getline(std::cin, answer)) throw UsageError(say("cli.answers-ended"));
        if (answer.empty() && mayBeEmpty) return false;
        try {
            use(answer);
            return true;
        } catch (const InputError& error) {
            std::cout << "  " << error.what() << '\n';
        }
    }
}

/// "11/43"
void readTeeth(const std::string& text, GearSetData& data) {
    int pinion = 0, ring = 0, used = 0;
    if (text.size() > 20 || std::sscanf(text.c_str(), "%d/%d%n", &pinion, &ring, &used) != 2 ||
        static_cast<std::size_t>(used) != text.size())
        throw InputError(message("cli.not-two-tooth-counts", text.substr(0, 40)));
    data.pinionTeeth = std::min(pinion, ring);
    data.ringTeeth = std::max(pinion, ring);
}

struct Wanted {
    std::optional<std::string> name, teeth, cut, pinionShim, carrier, hand, forward, pinion, spacer, seat, axle, dial,
        shims, sideShims;
    std::optional<Length> diameter, offset, faceWidth, backlashLow, backlashHigh, variation, ringRunout, carrierRunout,
        pinionRunout, pinionDepth;
    std::array<std::optional<std::string>, kRanges.size()> ranges;
};

/// A length of the maker's sheet: how it is asked for, what it is called (ids of entries), and between what such
/// figures lie; beyond that a unit or a digit is more likely wrong than the axle (common practice, no source).
struct LengthField {
    std::optional<Length> Wanted::*of;
    const char *asked, *called;
    double lowMm, highMm;
};
constexpr auto kLengths = std::to_array<LengthField>({
    {&Wanted::backlashLow, "cli.ask-backlash-low", "cli.called-backlash", 0.0254, 0.762},
    {&Wanted::backlashHigh, "cli.ask-backlash-high", "cli.called-backlash", 0.0254, 0.762},
    {&Wanted::variation, "cli.ask-variation", "cli.called-variation", 0.0127, 0.254},
    {&Wanted::ringRunout, "cli.ask-ring-runout", "cli.called-ring-runout", 0.0127, 0.381},
    {&Wanted::carrierRunout, "cli.ask-carrier-runout", "cli.called-carrier-runout", 0.0127, 0.381},
    {&Wanted::pinionRunout, "cli.ask-pinion-runout", "cli.called-pinion-runout", 0.0127, 0.381},
});

std::optional<std::string> oddIn(const LengthField& field, Length value) {
    constexpr double kSameMm = 1e-6;
    if (value.mm() > field.lowMm - kSameMm && value.mm() < field.highMm + kSameMm) return std::nullopt;
    return say("cli.odd-length", mm(value.mm()), say(field.called), mm(field.lowMm), mm(field.highMm));
}

/// The maker's sheet: nothing is invented for what is skipped.
void askLimits(Wanted& wanted) {
    std::cout << say("cli.ask-sheet") << '\n';
    for (const LengthField& field : kLengths) {
        if (wanted.*field.of) continue;
        std::string former;
        ask(say(field.asked), true, [&](const std::string& answer) {
            const Length value = parseLength(answer, say("cli.the-length"));
            const std::optional<std::string> odd = oddIn(field, value);
            // The same once more: it is meant.
            if (odd && answer != std::exchange(former, answer)) throw InputError(message("cli.odd-figure", *odd));
            wanted.*field.of = value;
        });
    }
    for (std::size_t i = 0; i < kRanges.size(); ++i) {
        if (wanted.ranges[i]) continue;
        std::string former;
        ask(say(kRanges[i].asked), true, [&](const std::string& answer) {
            const std::optional<std::string> odd =
                oddIn(kRanges[i], rangeOf(kRanges[i], answer, say("cli.the-figure")));
            // The same once more: it is meant.
            if (odd && answer != std::exchange(former, answer)) throw InputError(message("cli.odd-figure", *odd));
            wanted.ranges[i] = answer;
        });
    }
    const auto askSizes = [](const char* question, std::optional<std::string>& into) {
        if (into) return;
        ask(say(question), true, [&](const std::string& answer) {
            (void)lengthsOf(answer, say("cli.the-length"));
            into = answer;
        });
    };
    askSizes("cli.ask-shims", wanted.shims);
    if (wanted.carrier == "carrier-shims" || wanted.carrier == "outboard-shims")
        askSizes("cli.ask-side-shims", wanted.sideShims);
}

void askForMissing(Wanted& wanted, GearSetData& data) {
    std::cout << say("cli.ask-some") << '\n';
    if (!wanted.name) ask(say("cli.ask-name"), true, [&](const std::string& answer) { wanted.name = answer; });
    if (!wanted.teeth)
        ask(say("cli.ask-teeth"), false, [&](const std::string& answer) {
            readTeeth(answer, data);
            wanted.teeth = answer;
        });
    const auto askLength = [](const char* question, bool mayBeEmpty, std::optional<Length>& into) {
        if (!into)
            ask(say(question), mayBeEmpty,
                [&](const std::string& answer) { into = parseLength(answer, say("cli.the-length")); });
    };
    askLength("cli.ask-diameter", false, wanted.diameter);
    askLength("cli.ask-offset", false, wanted.offset);
    askLength("cli.ask-face-width", true, wanted.faceWidth);
    const auto askWord = [](const char* question, const std::vector<std::string>& words,
                            std::optional<std::string>& into) {
        if (into) return;
        ask(say(question), true, [&](const std::string& answer) {
            if (std::find(words.begin(), words.end(), answer) == words.end())
                throw InputError(message("cli.write-one-of-the-words"));
            into = answer;
        });
    };
    askWord("cli.ask-cut", {"face-milled", "face-hobbed"}, wanted.cut);
    askWord("cli.ask-pinion-shims", wordsOf(kShimWords), wanted.pinionShim);
    askWord("cli.ask-carrier", wordsOf(kCarrierWords), wanted.carrier);
    askWord("cli.ask-pinion", wordsOf(kPinionWords), wanted.pinion);
    askWord("cli.ask-spacer", wordsOf(kSpacerWords), wanted.spacer);
    if (wanted.spacer == "solid-spacer") askWord("cli.ask-seat", wordsOf(kSeatWords), wanted.seat);
    askWord("cli.ask-axle", {"rear", "front"}, wanted.axle);
    askWord("cli.ask-forward", {"drive", "coast"}, wanted.forward);
    askLimits(wanted);
}

/// What the maker's sheet and the shelf say, into the file's data, each with where it is from.
void takeLimits(const Wanted& wanted, GearSetData& data) {
    LimitsData& limits = data.limits;
    if (wanted.backlashLow.has_value() != wanted.backlashHigh.has_value())
        throw UsageError(say("cli.backlash-limit-alone"));
    if (wanted.backlashLow) limits.backlashMm = {wanted.backlashLow->mm(), wanted.backlashHigh->mm()};
    if (wanted.variation) limits.backlashVariationMm = wanted.variation->mm();
    if (wanted.ringRunout) limits.ringRunoutMm = wanted.ringRunout->mm();
    if (wanted.carrierRunout) limits.carrierFlangeRunoutMm = wanted.carrierRunout->mm();
    if (wanted.pinionRunout) limits.pinionFlangeRunoutMm = wanted.pinionRunout->mm();
    if (wanted.dial) limits.dial = dialOf(wanted.dial, std::nullopt);
    if (wanted.axle) data.build.axle = *wanted.axle == "front" ? AxlePlace::Front : AxlePlace::Rear;
    if (wanted.pinionDepth) data.build.pinionDepthMm = wanted.pinionDepth->mm();
    try {
        for (std::size_t i = 0; i < kRanges.size(); ++i)
            if (wanted.ranges[i]) kRanges[i].of(limits) = rangeOf(kRanges[i], *wanted.ranges[i], kRanges[i].option);
        if (wanted.shims) data.build.shimsMm = lengthsOf(*wanted.shims, "--shims");
        if (wanted.sideShims) data.build.sideShimsMm = lengthsOf(*wanted.sideShims, "--side-shims");
    } catch (const InputError& error) {
        throw UsageError(error.what());
    }
    data.sources.push_back(say("cli.source-sizes"));
    if (wanted.backlashLow) data.sources.push_back(say("cli.source-backlash"));
    if (limits != LimitsData{}) data.sources.push_back(say("cli.source-limits"));
}

/// What options say is taken as it is, but not without a word.
void askAboutOdd(const Wanted& wanted) {
    for (const LengthField& field : kLengths)
        if (wanted.*field.of)
            if (const std::optional<std::string> odd = oddIn(field, *(wanted.*field.of))) note(*odd);
    for (std::size_t i = 0; i < kRanges.size(); ++i) {
        if (!wanted.ranges[i]) continue;
        try {
            const Interval value = rangeOf(kRanges[i], *wanted.ranges[i], kRanges[i].option);
            if (const std::optional<std::string> odd = oddIn(kRanges[i], value)) note(*odd);
        } catch (const InputError& error) {
            throw UsageError(error.what());
        }
    }
}

int writeNewFile(const std::string& target, Wanted wanted, bool replace, bool json) {
    GearSetData data;
    const bool complete = wanted.teeth && wanted.diameter && wanted.offset;
    if (wanted.teeth) {
        try {
            readTeeth(*wanted.teeth, data);
        } catch (const InputError& error) {
            throw UsageError("--teeth: " + std::string(error.what()));
        }
    }
    std::error_code ignored;
    if (!replace && std::filesystem::exists(target, ignored))
        throw InputError(message("cli.file-there-already", target));
    askAboutOdd(wanted);
    if (!complete) {
        if (isatty(STDIN_FILENO) == 0 || isatty(STDOUT_FILENO) == 0 || json)
            throw UsageError(say("cli.new-without-sizes"));
        askForMissing(wanted, data);
    }
    data.name = wanted.name.value_or("");
    data.ringGearDiameterMm = wanted.diameter->mm();
    data.offsetMm = wanted.offset->mm();
    if (wanted.faceWidth) data.faceWidthMm = wanted.faceWidth->mm();
    if (wanted.cut) data.cut = *wanted.cut == "face-milled" ? Cut::FaceMilled : Cut::FaceHobbed;
    if (wanted.hand) data.hand = *wanted.hand == "right" ? Hand::Right : Hand::Left;
    if (wanted.forward) data.forwardLoadSide = *wanted.forward == "drive" ? Side::Drive : Side::Coast;
    if (wanted.pinionShim) data.build.pinionShim = valueOf(*wanted.pinionShim, kShimWords);
    if (wanted.carrier) data.build.carrier = valueOf(*wanted.carrier, kCarrierWords);
    if (wanted.pinion) data.build.pinionPosition = valueOf(*wanted.pinion, kPinionWords);
    if (wanted.spacer) data.build.preloadSpacer = valueOf(*wanted.spacer, kSpacerWords);
    if (wanted.seat) data.build.spacerSeat = valueOf(*wanted.seat, kSeatWords);
    takeLimits(wanted, data);

    GearSet set;
    try {
        set = completeGearSet(data);
    } catch (const InputError& error) {
        throw InputError(message("cli.no-file-written-because", error.what()));
    }
    const ToothContact contact = contactOf(set, say("cli.no-file-written"));
    const std::string text = writeGearSet(data);
    const auto* bytes = reinterpret_cast<const std::uint8_t*>(text.data());
    writeOutput(target, {bytes, text.size()});
    if (json) return checkFile(target, true);
    printText(say("cli.file-written", target) + "\n\n" + shownSet(set, data.limits, contact));
    return kDone;
}

/// The options that describe a new file.
void addNewOptions(Args& args, Wanted& wanted) {
    args.text("--name", wanted.name, "TEXT", "with --new: name of the axle");
    args.text("--teeth", wanted.teeth, "P/R", "with --new: tooth counts of pinion and ring gear, such as 11/43");
    args.length("--ring-gear-diameter", wanted.diameter, "with --new: outer diameter of the ring gear");
    args.length("--offset", wanted.offset, "with --new: hypoid offset; 0mm for none");
    args.length("--face-width", wanted.faceWidth, "with --new: length of the ring gear teeth");
    args.choice("--cut", wanted.cut, {"face-milled", "face-hobbed"},
                "with --new: teeth lower at the toe (face-milled) or of uniform depth (face-hobbed)");
    args.choice("--hand", wanted.hand, {"right", "left"}, "with --new: hand of the ring gear");
    args.choice("--forward-load-side", wanted.forward, {"drive", "coast"},
                "with --new: side that carries the load going forward");
    args.choice("--axle", wanted.axle, {"rear", "front"}, "with --new: which axle of the vehicle");
    args.choice("--pinion-shim", wanted.pinionShim, wordsOf(kShimWords), "with --new: where the pinion shims sit");
    args.choice("--carrier", wanted.carrier, wordsOf(kCarrierWords), "with --new: how the backlash is set");
    args.choice("--pinion", wanted.pinion, wordsOf(kPinionWords),
                "with --new: pinion below or above the middle of the ring gear");
    args.choice("--preload-spacer", wanted.spacer, wordsOf(kSpacerWords),
                "with --new: what sets the preload of the pinion bearings");
    args.choice("--spacer-seat", wanted.seat, wordsOf(kSeatWords),
                "with --new: what the spacer stands on, the bearing or a shoulder of the pinion");
    args.length("--pinion-depth", wanted.pinionDepth,
                "with --new: nominal, from the axle's centre line to the face of the pinion head");
    args.text("--shims", wanted.shims, "LEN,LEN", "with --new: pinion shims on hand");
    args.text("--side-shims", wanted.sideShims, "LEN,LEN", "with --new: side shims on hand");
}

/// The options that hold a maker's sheet.
void addSheetOptions(Args& args, Wanted& wanted) {
    args.length("--backlash-low", wanted.backlashLow, "with --new: lowest backlash on the maker's sheet");
    args.length("--backlash-high", wanted.backlashHigh, "with --new: highest backlash on the maker's sheet");
    args.choice("--dial", wanted.dial, {"square-to-tooth", "square-at-heel", "outer-circumference"},
                "with --new: where the sheet has the dial for these");
    args.length("--backlash-variation", wanted.variation, "with --new: most that the backlash may vary once round");
    args.length("--ring-runout", wanted.ringRunout, "with --new: most runout of the ring gear's back face");
    args.length("--carrier-flange-runout", wanted.carrierRunout,
                "with --new: most runout of the case's flange that the ring gear sits on");
    args.length("--pinion-flange-runout", wanted.pinionRunout, "with --new: most runout of the pinion's drive flange");
    for (std::size_t i = 0; i < kRanges.size(); ++i)
        args.text(kRanges[i].option, wanted.ranges[i], "LOW:HIGH", say("cli.help-of-new", say(kRanges[i].help)));
}

}  // namespace

int runGearSet(const std::vector<std::string>& words) {
    std::vector<std::string> files;
    std::optional<std::string> newFile;
    Wanted wanted;
    bool replace = false, json = false;
    Args args(
        "gear-set",
        "Checks a gear-set file and shows its geometry, its backlash rates and what was assumed; or writes a new one.");
    args.words("FILE", files, 0, "the gear-set file to check");
    args.text("--new", newFile, "FILE", "write a new gear-set file; what is missing is asked for on the terminal");
    args.flag("--replace", replace, "with --new: replace a file that is there already");
    addNewOptions(args, wanted);
    addSheetOptions(args, wanted);
    args.flag("--json", json, "write JSON");
    args.footer(
        "LEN is a length with its unit: 4thou, 0.004in or 0.10mm. LOW:HIGH is two figures with their units, "
        "14in-lb:19in-lb, 60ft-lb:70ft-lb, or one.\nThe fields of the file: "
        "models/schemas/gear-set-1.schema.json.");
    if (!args.parse(words)) return kDone;
    if (newFile) {
        if (!files.empty()) throw UsageError(say("cli.check-or-new"));
        return writeNewFile(*newFile, std::move(wanted), replace, json);
    }
    if (files.size() != 1) throw UsageError(say("cli.gear-set-missing"));
    return checkFile(files.front(), json);
}

}  // namespace shimsight::cli
