#include <unistd.h>

#include <algorithm>
#include <array>
#include <cstdio>
#include <filesystem>
#include <iostream>
#include <nlohmann/json.hpp>

#include "cli/args.h"
#include "cli/commands.h"
#include "cli/output.h"
#include "cli/report.h"
#include "shimsight/files.h"
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
    return printed("%.0f to %.0f in-lb (%.1f to %.1f Nm)", value.low / kInchPoundNm, value.high / kInchPoundNm,
                   value.low, value.high);
}

/// An entry with a line end, set in as the parts of the answer are.
template <typename... Values>
std::string setLine(const char* key, Values&&... values) {
    return "  " + say(key, std::forward<Values>(values)...) + "\n";
}

std::string partsText(const GearSet& set) {
    std::string text = say("cli.gear-set-heading") + "\n";
    text += setLine("cli.set-teeth", set.pinionTeeth, set.ringTeeth,
                    printed("%.3f", static_cast<double>(set.ringTeeth) / set.pinionTeeth));
    text += setLine("cli.set-sizes", mm(set.ringGearDiameterMm), mm(set.offsetMm), mm(set.faceWidthMm));
    const std::string cut = say(set.cut == Cut::FaceMilled ? "cli.set-milled" : "cli.set-hobbed");
    text += setLine(set.cutKnown ? "cli.set-cut" : "cli.set-cut-not-given", cut);
    const bool right = set.hand == Hand::Right, drive = set.forwardLoadSide == Side::Drive;
    text += setLine(right ? (drive ? "cli.set-right-drive" : "cli.set-right-coast")
                          : (drive ? "cli.set-left-drive" : "cli.set-left-coast"));
    return text;
}

std::string shapeText(const Blank& blank) {
    const auto angle = [](double radians) { return printed("%.2f", degrees(radians)); };
    std::string text = say("cli.geometry") + "\n";
    text += setLine("cli.pitch-angles", angle(blank.pitchAngle2), angle(blank.pitchAngle1));
    text += setLine("cli.spiral-angles", angle(blank.spiralM2), angle(blank.spiralM1), angle(blank.offsetAnglePitch));
    text += setLine("cli.pressure-angles", angle(blank.pressureAngleDrive), angle(blank.pressureAngleCoast),
                    angle(blank.limitPressureAngle));
    text += setLine("cli.depth-and-cone-distance", mm(blank.workingDepth), mm(blank.coneDistanceM2));
    text += setLine("cli.tooth-curvature", printed("%.2f", blank.lengthwiseRadius / blank.coneDistanceM2));
    return text;
}

std::string limitsText(const GearSet& set, const ToothContact& contact) {
    const BacklashRates rates = contact.backlashRates();
    std::string text = say("cli.backlash-heading") + "\n";
    text += setLine(set.given.backlashLimits ? "cli.set-backlash" : "cli.set-backlash-usual",
                    interval(set.limits.backlashMm));
    text += setLine(set.given.backlashVariation ? "cli.set-variation" : "cli.set-variation-usual",
                    mm(set.limits.backlashVariationMm));
    text += wrapped(say("cli.set-backlash-rates", printed("%.3f", rates.perRingMove), printed("%.3f", rates.perDepth)),
                    "  ", "  ");
    text += setLine("cli.set-ring-move", mm(-contact.ringMoveForConstantBacklashMm(Length::fromThou(4).mm())));
    text += setLine(set.given.ringRunout ? "cli.set-runout" : "cli.set-runout-usual", mm(set.limits.ringRunoutMm));
    if (set.limits.preloadNewNm) text += setLine("cli.set-preload-new", torque(*set.limits.preloadNewNm));
    if (set.limits.preloadUsedNm) text += setLine("cli.set-preload-used", torque(*set.limits.preloadUsedNm));
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
    return text;
}

std::string shownSet(const GearSet& set, const ToothContact& contact) {
    std::string text = set.name + "\n" + say("cli.file-in-order") + "\n\n" + partsText(set) + "\n" +
                       shapeText(contact.blank()) + "\n" + limitsText(set, contact) + "\n" + buildText(set);
    if (!set.assumed.empty()) text += "\n" + bulletList(say("cli.assumed"), texts(set.assumed));
    if (!set.sources.empty()) text += "\n" + bulletList(say("cli.sources"), set.sources);
    return text + "\n" + wrapped(say("cli.put-limits-into-the-file"), "", "");
}

int checkFile(const std::string& name, bool json) {
    const GearSetFile file = openGearSet(name);
    const GearSet set = completeGearSet(file.data);
    const ToothContact contact = contactOf(set, file.fileName);
    if (!json) {
        printText(shownSet(set, contact));
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
        throw InputError(say("cli.not-two-tooth-counts", text.substr(0, 40)));
    data.pinionTeeth = std::min(pinion, ring);
    data.ringTeeth = std::max(pinion, ring);
}

struct Wanted {
    std::optional<std::string> name, teeth, cut, pinionShim, carrier, hand, forward, pinion, spacer, seat;
    std::optional<Length> diameter, offset, faceWidth, backlashLow, backlashHigh;
};

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
                throw InputError(say("cli.write-one-of-the-words"));
            into = answer;
        });
    };
    askWord("cli.ask-cut", {"face-milled", "face-hobbed"}, wanted.cut);
    askWord("cli.ask-pinion-shims", wordsOf(kShimWords), wanted.pinionShim);
    askWord("cli.ask-carrier", wordsOf(kCarrierWords), wanted.carrier);
    askWord("cli.ask-pinion", wordsOf(kPinionWords), wanted.pinion);
    askWord("cli.ask-spacer", wordsOf(kSpacerWords), wanted.spacer);
    if (wanted.spacer == "solid-spacer") askWord("cli.ask-seat", wordsOf(kSeatWords), wanted.seat);
    askLength("cli.ask-backlash-low", true, wanted.backlashLow);
    askLength("cli.ask-backlash-high", true, wanted.backlashHigh);
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
    if (!replace && std::filesystem::exists(target, ignored)) throw InputError(say("cli.file-there-already", target));
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
    if (wanted.backlashLow.has_value() != wanted.backlashHigh.has_value())
        throw UsageError(say("cli.backlash-limit-alone"));
    if (wanted.backlashLow) data.limits.backlashMm = {wanted.backlashLow->mm(), wanted.backlashHigh->mm()};
    data.sources.push_back(say("cli.source-sizes"));
    if (wanted.backlashLow) data.sources.push_back(say("cli.source-backlash"));

    GearSet set;
    try {
        set = completeGearSet(data);
    } catch (const InputError& error) {
        throw InputError(say("cli.no-file-written-because", error.what()));
    }
    const ToothContact contact = contactOf(set, say("cli.no-file-written"));
    const std::string text = writeGearSet(data);
    const auto* bytes = reinterpret_cast<const std::uint8_t*>(text.data());
    writeOutput(target, {bytes, text.size()});
    if (json) return checkFile(target, true);
    printText(say("cli.file-written", target) + "\n\n" + shownSet(set, contact));
    return kDone;
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
    args.choice("--pinion-shim", wanted.pinionShim, wordsOf(kShimWords), "with --new: where the pinion shims sit");
    args.choice("--carrier", wanted.carrier, wordsOf(kCarrierWords), "with --new: how the backlash is set");
    args.choice("--pinion", wanted.pinion, wordsOf(kPinionWords),
                "with --new: pinion below or above the middle of the ring gear");
    args.choice("--preload-spacer", wanted.spacer, wordsOf(kSpacerWords),
                "with --new: what sets the preload of the pinion bearings");
    args.choice("--spacer-seat", wanted.seat, wordsOf(kSeatWords),
                "with --new: what the spacer stands on, the bearing or a shoulder of the pinion");
    args.length("--backlash-low", wanted.backlashLow, "with --new: lowest backlash on the maker's sheet");
    args.length("--backlash-high", wanted.backlashHigh, "with --new: highest backlash on the maker's sheet");
    args.flag("--json", json, "write JSON");
    args.footer(
        "LEN is a length with its unit: 4thou, 0.004in or 0.10mm.\nThe fields of the file: "
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
