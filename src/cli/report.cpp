// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "cli/report.h"

#include <algorithm>
#include <array>
#include <cctype>
#include <cmath>
#include <cstdarg>
#include <cstdio>
#include <functional>

#include "cli/output.h"
#include "shimsight/advice_words.h"
#include "shimsight/review_words.h"
#include "shimsight/words.h"

namespace shimsight::cli {
namespace {

constexpr std::size_t kLineLength = 96;

/// Two standard errors: about 95 % of measurements lie inside.
constexpr double kShownSigmas = 2;

}  // namespace

std::string mm(double value) { return formatLength(Length::fromMm(value)); }

namespace {

bool startsWithUnit(std::string_view text) {
    for (const std::string_view unit : {"in", "mm", "%"})
        if (text.starts_with(unit) &&
            (text.size() == unit.size() || std::isalpha(static_cast<unsigned char>(text[unit.size()])) == 0))
            return true;
    return false;
}

}  // namespace

std::string wrapped(const std::string& words, const std::string& first, const std::string& rest) {
    // Before lines are broken: a pair of units may stand across one.
    const std::string text = inUnits(words, shownUnits());
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
    const auto addRow = [&](const std::string& label, const std::string& first, const std::string& second) {
        text += formatted("  %-34s %-24s %s\n", label.c_str(), first.c_str(), second.c_str());
    };
    addRow("", say("common.drive-side"), say("common.coast-side"));
    const auto line = [&](const char* label, const std::function<std::string(const Pattern&)>& value) {
        addRow(say(label), drive ? value(*drive) : "-", coast ? value(*coast) : "-");
    };
    const auto withError = [](double value, double sigma) {
        return sigma > 0 ? formatted("%.2f +/- %.2f", value, kShownSigmas * sigma) : formatted("%.2f", value);
    };
    line("cli.row-lies-at", [](const Pattern& p) {
        return say(p.depthPosition() == DepthPosition::Face    ? "cli.on-the-face"
                   : p.depthPosition() == DepthPosition::Flank ? "cli.on-the-flank"
                                                               : "cli.at-mid-height",
                   placeAlong(p));
    });
    line("cli.row-toe-heel", [&](const Pattern& p) { return withError(p.toeHeel, p.sigmaToeHeel); });
    line("cli.row-root-tip", [&](const Pattern& p) { return withError(p.rootTip, p.sigmaRootTip); });
    line("cli.row-length", [](const Pattern& p) { return percent(p.length); });
    line("cli.row-height", [](const Pattern& p) { return percent(p.height); });
    line("cli.row-area", [](const Pattern& p) { return percent(p.area); });
    line("cli.row-tilt",
         [](const Pattern& p) { return say("cli.degrees", formatted("%+.0f", std::round(p.tiltDeg) + 0.0)); });
    line("cli.row-runs-off", [](const Pattern& p) { return runsOffText(p.runsOff); });
    if ((drive && drive->teeth > 1) || (coast && coast->teeth > 1)) {
        line("cli.row-teeth", [](const Pattern& p) { return std::to_string(p.teeth); });
        line("cli.row-spread", [](const Pattern& p) { return formatted("%.2f", p.toothSpread); });
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
    if (!headline.lookFirst.empty()) text += "\n" + say("cli.look-at-this-first") + "\n" + list(headline.lookFirst);
    if (!headline.steps.empty()) text += "\n" + say("cli.how") + "\n" + list(headline.steps);
    text += "\n" + say("cli.how-sure") + "\n" + list({headline.howSure});
    if (!gearSet.cutKnown) text += list({say("cli.cut-not-known", chanceWords(advice.chanceFaceMilled))});
    if (const std::string table = patternTable(drive, coast); !table.empty())
        text += "\n" + say("cli.pattern-measured") + "\n" + table;
    if (hasMove(advice)) {
        if (const std::string table = patternTable(advice.expectedDrive, advice.expectedCoast); !table.empty())
            text += "\n" + say("cli.pattern-to-expect") + "\n" + table;
    }
    if (!advice.because.empty()) text += "\n" + bulletList(say("cli.why"), texts(advice.because));
    if (!advice.cautions.empty()) text += "\n" + bulletList(say("cli.take-care"), texts(advice.cautions));
    return text;
}

namespace {

/// The errors of a set-up, or that there are none.
std::string setupWords(const SetupError& error) {
    std::string setup;
    const auto add = [&](const std::string& part) { setup += (setup.empty() ? "" : ", ") + part; };
    const auto addLength = [&](double value, const char* plus, const char* minus) {
        if (std::abs(value) >= 5e-5) add(say(value > 0 ? plus : minus, mm(std::abs(value))));
    };
    addLength(error.depthMm, "cli.pinion-too-deep", "cli.pinion-too-shallow");
    addLength(error.ringMm, "cli.ring-gear-toward-pinion", "cli.ring-gear-away-from-pinion");
    addLength(error.offsetMm, "cli.offset-too-large", "cli.offset-too-small");
    if (error.shaftAngleRad != 0) add(say("cli.shaft-angle", formatted("%+.3f", degrees(error.shaftAngleRad))));
    return setup.empty() ? say("cli.nominal-set-up") : setup;
}

std::string geometryText(const Blank& blank) {
    const auto angle = [](double radians) { return formatted("%.2f", degrees(radians)); };
    const std::array lines{
        say("cli.pitch-angles", angle(blank.pitchAngle2), angle(blank.pitchAngle1)),
        say("cli.spiral-angles", angle(blank.spiralM2), angle(blank.spiralM1), angle(blank.offsetAnglePitch)),
        say("cli.limit-pressure-angle", angle(blank.limitPressureAngle)),
        say("cli.working-depth", mm(blank.workingDepth)),
        say("cli.tooth-curvature", formatted("%.2f", blank.lengthwiseRadius / blank.coneDistanceM2))};
    std::string text = say("cli.geometry") + "\n";
    for (const std::string& line : lines) text += "  " + line + "\n";
    return text;
}

}  // namespace

std::string predictionText(const Prediction& prediction) {
    const SetupError& error = prediction.error;
    std::string text = prediction.gearSet + "\n";
    text += wrapped(say("cli.set-up", setupWords(error)), "", "  ");
    text += wrapped(
        say("cli.backlash-against-nominal", formatLength(Length::fromMm(prediction.backlashChangeMm), true)), "", "  ");
    text += "\n" + say(prediction.exact ? "cli.pattern-by-exact-solver" : "cli.pattern-by-fast-model") + "\n";
    if (const std::string table = patternTable(prediction.drive, prediction.coast); !table.empty()) text += table;
    if (!prediction.drive) text += "  " + say("cli.no-contact-drive") + "\n";
    if (!prediction.coast) text += "  " + say("cli.no-contact-coast") + "\n";
    text += wrapped(say("cli.unloaded-set"), "  ", "  ");
    text += "\n" + say("cli.backlash-heading") + "\n";
    text += wrapped(say("cli.backlash-rates", formatted("%.3f", prediction.rates.perRingMove),
                        formatted("%.3f", prediction.rates.perDepth)),
                    "  ", "  ");
    text += "\n" + geometryText(prediction.blank);
    if (!prediction.assumed.empty()) text += "\n" + bulletList(say("cli.assumed"), texts(prediction.assumed));
    return text;
}

}  // namespace shimsight::cli
