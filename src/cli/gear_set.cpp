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
    throw UsageError("\"" + word + "\" is not a known word here.");
}

std::string interval(const Interval& value) {
    return formatLength(Length::fromMm(value.low)) + " to " + formatLength(Length::fromMm(value.high));
}

std::string torque(const Interval& value) {
    constexpr double kInchPoundNm = 0.112984829;  // by definition of inch and pound-force
    return printed("%.0f to %.0f in-lb (%.1f to %.1f Nm)", value.low / kInchPoundNm, value.high / kInchPoundNm,
                   value.low, value.high);
}

std::string shownSet(const GearSet& set, const ToothContact& contact) {
    const Blank& blank = contact.blank();
    const BacklashRates rates = contact.backlashRates();
    const auto mm = [](double value) { return formatLength(Length::fromMm(value)); };
    std::string text = set.name + "\nThe file is in order.\n\nGear set\n";
    text += printed("  teeth: pinion %d, ring gear %d (ratio %.3f)\n", set.pinionTeeth, set.ringTeeth,
                    static_cast<double>(set.ringTeeth) / set.pinionTeeth);
    text += "  ring gear diameter " + mm(set.ringGearDiameterMm) + ", offset " + mm(set.offsetMm) + ", face width " +
            mm(set.faceWidthMm) + "\n";
    text +=
        printed("  cut: %s%s\n",
                set.cut == Cut::FaceMilled ? "face-milled (tapered tooth depth)" : "face-hobbed (uniform tooth depth)",
                set.cutKnown ? "" : ", not given: both are weighed");
    text += printed("  %s-hand ring gear; going forward the %s side carries the load\n",
                    set.hand == Hand::Right ? "right" : "left", name(set.forwardLoadSide).data());
    text += "\nGeometry\n";
    text += printed("  pitch angles: ring gear %.2f, pinion %.2f degrees\n", degrees(blank.pitchAngle2),
                    degrees(blank.pitchAngle1));
    text += printed("  spiral angles: ring gear %.2f, pinion %.2f degrees; offset angle %.2f degrees\n",
                    degrees(blank.spiralM2), degrees(blank.spiralM1), degrees(blank.offsetAnglePitch));
    text += printed("  pressure angles: drive %.2f, coast %.2f degrees; limit pressure angle %.2f degrees\n",
                    degrees(blank.pressureAngleDrive), degrees(blank.pressureAngleCoast),
                    degrees(blank.limitPressureAngle));
    text += "  working depth " + mm(blank.workingDepth) + ", mean cone distance of the ring gear " +
            mm(blank.coneDistanceM2) + "\n";
    text += printed("  lengthwise tooth curvature over mean cone distance %.2f\n",
                    blank.lengthwiseRadius / blank.coneDistanceM2);
    const auto usual = [](bool given) { return given ? "" : " (usual; the file gives no limit)"; };
    text += "\nBacklash\n  " +
            (set.given.backlashLimits ? "limits " + interval(set.limits.backlashMm)
                                      : "usual " + interval(set.limits.backlashMm) + "; the file gives no limits") +
            "\n  variation at most " + mm(set.limits.backlashVariationMm) + usual(set.given.backlashVariation) + "\n";
    text += wrapped(printed("falls %.3f for each unit that the ring gear moves toward the pinion, and %.3f for each "
                            "unit of pinion depth "
                            "(dial square to the tooth at mid-face)",
                            rates.perRingMove, rates.perDepth),
                    "  ", "  ");
    text += "  to hold the backlash when the pinion goes 0.004 in (0.10 mm) deeper, the ring gear goes away by " +
            mm(-contact.ringMoveForConstantBacklashMm(Length::fromThou(4).mm())) + "\n";
    text += "  ring gear runout at most " + mm(set.limits.ringRunoutMm) + usual(set.given.ringRunout) + "\n";
    if (set.limits.preloadNewNm)
        text += "  pinion turning torque, new bearings: " + torque(*set.limits.preloadNewNm) + "\n";
    if (set.limits.preloadUsedNm)
        text += "  pinion turning torque, used bearings: " + torque(*set.limits.preloadUsedNm) + "\n";
    text += "\nBuild\n";
    const auto assumedPlace = [](bool given) { return given ? "" : " (assumed, not from the file)"; };
    const std::string shims =
        set.build.pinionShim == PinionShim::UnderPinionSupport
            ? "pinion shims under the pinion support: a thicker shim moves the pinion away from the ring gear"
        : set.build.pinionShim == PinionShim::UnderBearingCup
            ? "pinion shims under the inner bearing cup: a thicker shim moves the pinion deeper, toward the ring gear"
            : "pinion shims behind the pinion head: a thicker shim moves the pinion deeper, toward the ring gear";
    text += wrapped(shims + assumedPlace(set.given.pinionShim), "  ", "  ");
    text += std::string(set.build.carrier == CarrierSetting::ThreadedAdjusters ? "  backlash set by threaded adjusters"
                        : set.build.carrier == CarrierSetting::CarrierShims
                            ? "  backlash set by shims beside the carrier bearings"
                            : "  backlash set by shims outboard of the carrier bearings") +
            assumedPlace(set.given.carrier) + "\n";
    if (set.build.pinionPosition)
        text += *set.build.pinionPosition == PinionPosition::Below ? "  pinion below the middle of the ring gear\n"
                                                                   : "  pinion above the middle of the ring gear\n";
    if (set.build.preloadSpacer)
        text += *set.build.preloadSpacer == PreloadSpacer::CrushSleeve
                    ? "  a crush sleeve sets the preload of the pinion bearings\n"
                    : "  a solid spacer with shims sets the preload of the pinion bearings\n";
    if (set.build.spacerSeat)
        text += wrapped(*set.build.spacerSeat == SpacerSeat::OnBearing
                            ? "the spacer stands on the inner pinion bearing"
                            : "the spacer stands on a shoulder of the pinion shaft",
                        "  ", "  ");
    if (!set.assumed.empty()) text += "\n" + bulletList("Assumed, not given in the file", texts(set.assumed));
    if (!set.sources.empty()) text += "\n" + bulletList("Sources", set.sources);
    text += "\n" + wrapped("The maker's sheet for this axle comes first: put its limits into the file.", "", "");
    return text;
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
        if (!std::getline(std::cin, answer)) throw UsageError("the answers ended before the questions did.");
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
        throw InputError("\"" + text.substr(0, 40) + "\" is not two tooth counts such as 11/43 (pinion/ring gear).");
    data.pinionTeeth = std::min(pinion, ring);
    data.ringTeeth = std::max(pinion, ring);
}

struct Wanted {
    std::optional<std::string> name, teeth, cut, pinionShim, carrier, hand, forward, pinion, spacer, seat;
    std::optional<Length> diameter, offset, faceWidth, backlashLow, backlashHigh;
};

void askForMissing(Wanted& wanted, GearSetData& data) {
    std::cout << "A few questions; press Enter alone to skip one in [brackets].\n";
    if (!wanted.name) ask("[Name of the axle]:", true, [&](const std::string& answer) { wanted.name = answer; });
    if (!wanted.teeth)
        ask("Teeth, pinion/ring gear (such as 11/43):", false, [&](const std::string& answer) {
            readTeeth(answer, data);
            wanted.teeth = answer;
        });
    const auto askLength = [](const char* question, bool mayBeEmpty, std::optional<Length>& into) {
        if (!into)
            ask(question, mayBeEmpty, [&](const std::string& answer) { into = parseLength(answer, "the length"); });
    };
    askLength("Ring gear diameter (such as 8.75in or 222mm):", false, wanted.diameter);
    askLength("Offset of the pinion below or above the ring gear's centre (0mm for none):", false, wanted.offset);
    askLength("[Face width of the ring gear teeth]:", true, wanted.faceWidth);
    const auto askWord = [](const std::string& question, const std::vector<std::string>& words,
                            std::optional<std::string>& into) {
        if (into) return;
        ask(question, true, [&](const std::string& answer) {
            if (std::find(words.begin(), words.end(), answer) == words.end())
                throw InputError("Write one of the words exactly, or press Enter.");
            into = answer;
        });
    };
    askWord("[Tooth depth: face-milled = lower at the toe, face-hobbed = the same all along]:",
            {"face-milled", "face-hobbed"}, wanted.cut);
    askWord("[Pinion shims: behind-pinion-head, under-bearing-cup or under-pinion-support]:", wordsOf(kShimWords),
            wanted.pinionShim);
    askWord("[Backlash set by: threaded-adjusters, carrier-shims or outboard-shims]:", wordsOf(kCarrierWords),
            wanted.carrier);
    askWord("[Pinion below or above the middle of the ring gear: below or above]:", wordsOf(kPinionWords),
            wanted.pinion);
    askWord("[Preload of the pinion bearings set by: crush-sleeve or solid-spacer]:", wordsOf(kSpacerWords),
            wanted.spacer);
    if (wanted.spacer == "solid-spacer")
        askWord("[The spacer stands: on-bearing or on-pinion-shoulder]:", wordsOf(kSeatWords), wanted.seat);
    askLength("[Lowest backlash on the maker's sheet]:", true, wanted.backlashLow);
    askLength("[Highest backlash on the maker's sheet]:", true, wanted.backlashHigh);
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
        throw InputError(target + ": this file is there already; give another name, or --replace.");
    if (!complete) {
        if (isatty(STDIN_FILENO) == 0 || isatty(STDOUT_FILENO) == 0 || json)
            throw UsageError("--new needs --teeth, --ring-gear-diameter and --offset (or a terminal to ask on).");
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
        throw UsageError("--backlash-low and --backlash-high go together; one of them is missing.");
    if (wanted.backlashLow) data.limits.backlashMm = {wanted.backlashLow->mm(), wanted.backlashHigh->mm()};
    data.sources.emplace_back("teeth, ring gear diameter and offset: as given when the file was made");
    if (wanted.backlashLow) data.sources.emplace_back("limits.backlash_mm: as given when the file was made");

    GearSet set;
    try {
        set = completeGearSet(data);
    } catch (const InputError& error) {
        throw InputError("No file was written. " + std::string(error.what()));
    }
    const ToothContact contact = contactOf(set, "No file was written");
    const std::string text = writeGearSet(data);
    const auto* bytes = reinterpret_cast<const std::uint8_t*>(text.data());
    writeOutput(target, {bytes, text.size()});
    if (json) return checkFile(target, true);
    printText(target + ": written.\n\n" + shownSet(set, contact));
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
        if (!files.empty()) throw UsageError("Give a file to check, or --new, not both.");
        return writeNewFile(*newFile, std::move(wanted), replace, json);
    }
    if (files.size() != 1) throw UsageError("Name one gear-set file to check, or --new FILE.");
    return checkFile(files.front(), json);
}

}  // namespace shimsight::cli
