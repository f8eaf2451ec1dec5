#include "cli/report.h"

#include <algorithm>
#include <array>
#include <cctype>
#include <cmath>
#include <cstdarg>
#include <cstdio>
#include <functional>

#include "shimsight/advice_words.h"
#include "shimsight/review_words.h"

namespace shimsight::cli {
namespace {

constexpr std::size_t kLineLength = 96;

/// Two standard errors: about 95 % of readings lie inside.
constexpr double kShownSigmas = 2;

}  // namespace

std::string mm(double value) { return formatLength(Length::fromMm(value)); }

std::string printed(const char* format, ...) {
    std::array<char, 512> buffer{};
    va_list arguments;
    va_start(arguments, format);
    std::vsnprintf(buffer.data(), buffer.size(), format, arguments);
    va_end(arguments);
    return buffer.data();
}

namespace {

bool startsWithUnit(std::string_view text) {
    for (const std::string_view unit : {"in", "mm", "%"})
        if (text.starts_with(unit) &&
            (text.size() == unit.size() || std::isalpha(static_cast<unsigned char>(text[unit.size()])) == 0))
            return true;
    return false;
}

}  // namespace

std::string wrapped(const std::string& text, const std::string& first, const std::string& rest) {
    std::string result;
    std::string line = first;
    bool empty = true;
    std::size_t start = 0;
    while (start < text.size()) {
        std::size_t end = std::min(text.find(' ', start), text.size());
        // A number stays with its unit.
        while (end < text.size() && std::isdigit(static_cast<unsigned char>(text[end - 1])) != 0 &&
               startsWithUnit(std::string_view(text).substr(end + 1)))
            end = std::min(text.find(' ', end + 1), text.size());
        const std::string word = text.substr(start, end - start);
        if (!empty && line.size() + 1 + word.size() > kLineLength) {
            result += line + "\n";
            line = rest;
            empty = true;
        }
        if (!empty) line += ' ';
        line += word;
        empty = false;
        start = end + 1;
    }
    return result + line + "\n";
}

std::string bulletList(const std::string& title, const std::vector<std::string>& items) {
    if (items.empty()) return {};
    std::string text = title + "\n";
    for (const std::string& item : items) text += wrapped(item, "  - ", "    ");
    return text;
}

std::string patternTable(const std::optional<Pattern>& drive, const std::optional<Pattern>& coast) {
    if (!drive && !coast) return {};
    std::string text;
    const auto addRow = [&](const char* label, const std::string& first, const std::string& second) {
        text += printed("  %-34s %-24s %s\n", label, first.c_str(), second.c_str());
    };
    addRow("", "drive side", "coast side");
    const auto line = [&](const char* label, const std::function<std::string(const Pattern&)>& value) {
        addRow(label, drive ? value(*drive) : "-", coast ? value(*coast) : "-");
    };
    const auto withError = [](double value, double sigma) {
        return sigma > 0 ? printed("%.2f +/- %.2f", value, kShownSigmas * sigma) : printed("%.2f", value);
    };
    line("lies at", [](const Pattern& p) {
        return std::string(name(p.lengthPosition())) + ", " +
               (p.depthPosition() == DepthPosition::Face    ? "face (tip half)"
                : p.depthPosition() == DepthPosition::Flank ? "flank (root half)"
                                                            : "mid-height");
    });
    line("centre, 0 = toe .. 1 = heel", [&](const Pattern& p) { return withError(p.toeHeel, p.sigmaToeHeel); });
    line("centre, 0 = root .. 1 = tip", [&](const Pattern& p) { return withError(p.rootTip, p.sigmaRootTip); });
    line("length, share of the face width", [](const Pattern& p) { return printed("%.0f %%", 100 * p.length); });
    line("height, share of the tooth depth", [](const Pattern& p) { return printed("%.0f %%", 100 * p.height); });
    line("marked area", [](const Pattern& p) { return printed("%.0f %%", 100 * p.area); });
    line("tilt, + heel end nearer the tip",
         [](const Pattern& p) { return printed("%+.0f degrees", std::round(p.tiltDeg) + 0.0); });
    line("runs off", [](const Pattern& p) { return runsOffText(p.runsOff); });
    if ((drive && drive->teeth > 1) || (coast && coast->teeth > 1)) {
        line("teeth read", [](const Pattern& p) { return std::to_string(p.teeth); });
        line("spread from tooth to tooth", [](const Pattern& p) { return printed("%.2f", p.toothSpread); });
    }
    return text;
}

std::string adviceText(const Advice& advice, const GearSet& gearSet, const std::optional<Pattern>& drive,
                       const std::optional<Pattern>& coast) {
    const Headline headline = headlineOf(advice, gearSet);
    std::string text = wrapped(headline.lead, "", "  ");
    const auto list = [](const std::vector<std::string>& sentences) {
        std::string lines;
        for (const std::string& sentence : sentences) lines += wrapped(sentence, "  ", "    ");
        return lines;
    };
    if (!headline.lookFirst.empty()) text += "\nLook at this first\n" + list(headline.lookFirst);
    if (!headline.steps.empty()) text += "\nHow\n" + list(headline.steps);
    text += "\nHow sure\n" + list({headline.howSure});
    if (!gearSet.cutKnown)
        text += list({"Cut of the teeth: face-milled with a chance of " + chanceWords(advice.chanceFaceMilled) +
                      ", else face-hobbed. It is not in the gear-set file."});
    if (const std::string table = patternTable(drive, coast); !table.empty()) text += "\nPattern measured\n" + table;
    if (hasMove(advice)) {
        if (const std::string table = patternTable(advice.expectedDrive, advice.expectedCoast); !table.empty())
            text += "\nPattern to expect after the change\n" + table;
    }
    if (!advice.because.empty()) text += "\n" + bulletList("Why", texts(advice.because));
    if (!advice.cautions.empty()) text += "\n" + bulletList("Take care", texts(advice.cautions));
    return text;
}

std::string predictionText(const Prediction& prediction) {
    const SetupError& error = prediction.error;
    std::string setup;
    const auto part = [&](double value, const char* plus, const char* minus) {
        if (std::abs(value) < 5e-5) return;
        setup += (setup.empty() ? "" : ", ") + mm(std::abs(value)) + " " + (value > 0 ? plus : minus);
    };
    part(error.depthMm, "pinion too deep", "pinion too shallow");
    part(error.ringMm, "ring gear toward the pinion", "ring gear away from the pinion");
    part(error.offsetMm, "offset too large", "offset too small");
    if (error.shaftAngleRad != 0)
        setup += (setup.empty() ? "" : ", ") + printed("shaft angle %+.3f degrees", degrees(error.shaftAngleRad));
    std::string text = prediction.gearSet + "\n";
    text += wrapped("Set-up: " + (setup.empty() ? "nominal, no error" : setup) + ".", "", "  ");
    text += wrapped(
        "Backlash against the nominal setting: " + formatLength(Length::fromMm(prediction.backlashChangeMm), true) +
            " (dial square to the tooth).",
        "", "  ");
    text += std::string("\nPattern on the ring gear, ") + (prediction.exact ? "exact solver" : "fast model") + "\n";
    if (const std::string table = patternTable(prediction.drive, prediction.coast); !table.empty()) text += table;
    if (!prediction.drive) text += "  drive side: no contact on the working flank\n";
    if (!prediction.coast) text += "  coast side: no contact on the working flank\n";
    text += wrapped(
        "A calculation for an unloaded set with the crowning of the gear-set file. A real set differs by its own "
        "crowning.",
        "  ", "  ");
    text += "\nBacklash\n";
    text +=
        wrapped(printed("Falls %.3f for each unit that the ring gear moves toward the pinion, and %.3f for each unit "
                        "of pinion depth (dial square to the tooth at mid-face).",
                        prediction.rates.perRingMove, prediction.rates.perDepth),
                "  ", "  ");
    const Blank& blank = prediction.blank;
    text += "\nGeometry\n";
    text += printed("  pitch angles: ring gear %.2f, pinion %.2f degrees\n", degrees(blank.pitchAngle2),
                    degrees(blank.pitchAngle1));
    text += printed("  spiral angles: ring gear %.2f, pinion %.2f degrees; offset angle %.2f degrees\n",
                    degrees(blank.spiralM2), degrees(blank.spiralM1), degrees(blank.offsetAnglePitch));
    text += printed("  limit pressure angle %.2f degrees\n", degrees(blank.limitPressureAngle));
    text += "  working depth " + mm(blank.workingDepth) + "\n";
    text += printed("  lengthwise tooth curvature over mean cone distance %.2f\n",
                    blank.lengthwiseRadius / blank.coneDistanceM2);
    if (!prediction.assumed.empty())
        text += "\n" + bulletList("Assumed, not given in the file", texts(prediction.assumed));
    return text;
}

}  // namespace shimsight::cli
