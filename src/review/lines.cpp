// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cctype>
#include <cmath>
#include <nlohmann/json.hpp>

#include "records_json.h"
#include "review/counts.h"
#include "shimsight/advice_words.h"
#include "shimsight/records.h"
#include "shimsight/review.h"
#include "shimsight/review_words.h"
#include "shimsight/text.h"
#include "shimsight/units.h"
#include "shimsight/words.h"

namespace shimsight {
namespace {

using Json = nlohmann::ordered_json;

constexpr const char* kSchema = "shimsight/review/1";
constexpr std::size_t kColumnGap = 2;
/// Widest a cell of the terminal's table gets before its text goes on below, by column.
constexpr std::array<std::size_t, 9> kWidest{5, 12, 12, 12, 9, 20, 7, 18, 8};

double tidy(double value) { return std::round(value * 1e6) / 1e6 + 0.0; }
Json orNull(const std::optional<double>& value) { return value ? Json(tidy(*value)) : Json(); }
Json textOrNull(const std::string& text) { return text.empty() ? Json() : Json(text); }
std::string line(const Json& document) { return document.dump(-1, ' ', false, Json::error_handler_t::replace) + "\n"; }

Json photoJson(const KeptPhoto& photo) {
    return {{"file", photo.file},
            {"original_name", textOrNull(photo.originalName)},
            {"taken_at", photo.takenAt ? Json(*photo.takenAt) : Json()},
            {"refused", photo.refused ? Json{{"reason", text(photo.refused->reason)},
                                             {"why", std::string(name(photo.refused->why))},
                                             {"what_to_do", text(photo.refused->whatToDo)}}
                                      : Json()},
            {"flanks", {{"drive", photo.flanks[0]}, {"coast", photo.flanks[1]}}},
            {"not_counted", photo.notCounted},
            {"left_out", textOrNull(photo.leftOut)}};
}

Json findingsJson(const std::vector<Finding>& findings, bool wrong) {
    Json list = Json::array();
    for (const Finding& finding : findings)
        if (finding.looksWrong == wrong)
            list.push_back({{"kind", std::string(name(finding.kind))}, {"text", finding.text}});
    return list;
}

Json trialJson(const ReviewedJob& job, const ReviewedTrial& trial, std::size_t place) {
    const auto pattern = [&](Side side) {
        const auto& read = trial.kept.sides[index(side)];
        return read ? Json(toJson(read->pattern)) : Json();
    };
    Json photos = Json::array();
    for (const KeptPhoto& photo : trial.kept.photos) photos.push_back(photoJson(photo));
    Json next;
    if (trial.next)
        next = {{"shim_change_mm", orNull(trial.next->shimChangeMm)},
                {"backlash_mm", orNull(trial.next->backlashMm)},
                {"words", trial.next->words},
                {"note", textOrNull(trial.next->note)},
                {"against_advice", trial.next->as ? Json(std::string(name(*trial.next->as))) : Json()}};
    return {{"schema", kSchema},
            {"kind", "trial"},
            {"job", job.name},
            {"trial", trial.id},
            {"place", place},
            {"of", job.trials.size()},
            {"at", textOrNull(trial.at)},
            {"grouped_by", std::string(name(job.groupedBy))},
            {"gear_set", textOrNull(job.gearSetName)},
            {"photos", std::move(photos)},
            {"drawn", {{"drive", trial.drawn[0]}, {"coast", trial.drawn[1]}}},
            {"backlash_mm", orNull(trial.backlashMm)},
            {"shim_stack_mm", orNull(trial.shimStackMm)},
            {"pattern", {{"drive", pattern(Side::Drive)}, {"coast", pattern(Side::Coast)}}},
            {"advice", trial.advice ? Json(toJson(*trial.advice)) : Json()},
            {"done_next", std::move(next)},
            {"helped", trial.helped ? Json(std::string(name(*trial.helped))) : Json()},
            {"looks_wrong", findingsJson(trial.findings, true)},
            {"to_know", findingsJson(trial.findings, false)},
            {"job_looks_wrong", findingsJson(job.findings, true)},
            {"finished", job.finished}};
}

std::string mmField(std::optional<double> mm) { return mm ? formatted("%.3f", *mm + 0.0) : ""; }
std::string inchField(std::optional<double> mm) {
    return mm ? formatted("%.4f", Length::fromMm(*mm).inch() + 0.0) : "";
}

/// A number stays with its unit: such spaces are written as this until the lines are broken.
constexpr char kTied = '\x1F';

std::string tiedForTerminal(std::string text) {
    for (const std::string_view unit : {" in", " mm)", " %"})
        for (std::size_t at = text.find(unit); at != std::string::npos; at = text.find(unit, at + 1))
            if (at > 0 && std::isdigit(static_cast<unsigned char>(text[at - 1])) != 0) text[at] = kTied;
    return text;
}

std::vector<std::string> wrapCell(const std::string& plainText, std::size_t width) {
    const std::string text = tiedForTerminal(plainText);
    std::vector<std::string> lines;
    std::string current;
    std::size_t start = 0;
    while (start < text.size()) {
        const std::size_t end = std::min(text.find_first_of(" \n", start), text.size());
        const std::string word = text.substr(start, end - start);
        if (!current.empty() && current.size() + 1 + word.size() > width) {
            lines.push_back(current);
            current.clear();
        }
        current += (current.empty() ? "" : " ") + word;
        if (end < text.size() && text[end] == '\n') {
            lines.push_back(current);
            current.clear();
        }
        start = end + 1;
    }
    if (!current.empty() || lines.empty()) lines.push_back(current);
    for (std::string& one : lines) std::replace(one.begin(), one.end(), kTied, ' ');
    return lines;
}

/// Text for a terminal: control characters of file names must not reach it.
std::string plain(std::string text) {
    for (char& c : text)
        if (static_cast<unsigned char>(c) < 0x20 && c != '\n') c = '?';
    return text;
}

using Row = std::array<std::string, 9>;

std::string rowText(const Row& row, Units units) {
    std::array<std::vector<std::string>, 9> cells;
    std::size_t height = 0;
    for (std::size_t c = 0; c < row.size(); ++c) {
        cells[c] = wrapCell(plain(inUnits(row[c], units)), kWidest[c]);
        height = std::max(height, cells[c].size());
    }
    std::string text;
    for (std::size_t l = 0; l < height; ++l) {
        std::string printedLine = "  ";
        for (std::size_t c = 0; c < row.size(); ++c) {
            const std::string cell = l < cells[c].size() ? cells[c][l] : "";
            printedLine += cell;
            if (c + 1 < row.size())
                printedLine +=
                    std::string(cell.size() < kWidest[c] ? kWidest[c] - cell.size() + kColumnGap : kColumnGap, ' ');
        }
        printedLine.erase(printedLine.find_last_not_of(' ') + 1);
        text += printedLine + "\n";
    }
    return text;
}

std::string sideCell(const ReviewedTrial& trial, Side side) {
    const auto& read = trial.kept.sides[index(side)];
    if (!read) return "-";
    const Pattern& p = read->pattern;
    // As in the table of `read`: give or take two standard errors.
    const auto part = [](double value, double sigma) {
        const std::string middle = formatted("%.0f", 100 * value);
        return sigma > 0 ? say("review.percent-give-or-take", middle, formatted("%.0f", 200 * sigma))
                         : say("common.percent", middle);
    };
    return part(p.toeHeel, p.sigmaToeHeel) + "\n" + part(p.rootTip, p.sigmaRootTip) + "\n" + placeText(p) +
           (trial.drawn[index(side)] ? "\n" + say("review.cell-drawn") : "");
}

std::string chanceCell(const ReviewedTrial& trial) {
    if (!trial.advice) return "-";
    switch (trial.advice->verdict) {
        case Verdict::Accept:
            return chanceWords(trial.advice->chanceAcceptableNow);
        case Verdict::MeasureAgain:
            return hasMove(*trial.advice) ? chanceWords(trial.advice->chanceAcceptableNext) : "-";
        default:
            return chanceWords(trial.advice->chanceAcceptableNext);
    }
}

const char* groupedKey(GroupedBy by) {
    return by == GroupedBy::TimeAndSide ? "review.table-grouped-by-time" : "review.table-grouped-by-name";
}

/// In the cell of a table, where it was not as advised.
const char* doneKey(DoneAs done) {
    switch (done) {
        case DoneAs::LessThanAdvised:
            return "review.cell-less";
        case DoneAs::MoreThanAdvised:
            return "review.cell-more";
        case DoneAs::OtherWayRound:
            return "review.cell-other-way-round";
        case DoneAs::NotAdvised:
            return "review.cell-not-advised";
        case DoneAs::OtherThanAdvised:
        case DoneAs::AsAdvised:
            break;
    }
    return "review.cell-other";
}

std::string helpedText(const ReviewedTrial& trial) {
    if (!trial.helped) return "-";
    switch (*trial.helped) {
        case Helped::Yes:
            return say("review.cell-helped");
        case Helped::No:
            return say("review.cell-worse");
        case Helped::NoClearChange:
            return say("review.cell-no-clear-change");
    }
    return "-";
}

}  // namespace

std::string reviewLines(const ReviewedJob& job) {
    std::string lines;
    for (std::size_t k = 0; k < job.trials.size(); ++k) lines += line(trialJson(job, job.trials[k], k + 1));
    for (const LeftOut& out : job.leftOut) lines += leftOutLine(out);
    return lines;
}

std::string leftOutLine(const LeftOut& leftOut) {
    return line({{"schema", kSchema}, {"kind", "left-out"}, {"file", leftOut.file}, {"reason", leftOut.reason}});
}

std::string reviewCsvHeader() {
    return "job,trial,at,grouped_by,gear_set,photos,drive_toe_heel,drive_toe_heel_sigma,drive_root_tip,drive_root_tip_"
           "sigma,"
           "coast_toe_heel,coast_toe_heel_sigma,coast_root_tip,coast_root_tip_sigma,"
           "depth_error_mm,depth_error_low90_mm,depth_error_high90_mm,depth_error_in,backlash_mm,backlash_in,"
           "backlash_target_mm,backlash_target_in,verdict,shim_change_mm,shim_change_in,chance_acceptable_next,"
           "chance_acceptable_now,done_shim_change_mm,done_shim_change_in,done_backlash_mm,done_backlash_in,"
           "done_against_advice,helped,looks_wrong\n";
}

std::string reviewCsvRows(const ReviewedJob& job) {
    std::string rows;
    for (const ReviewedTrial& trial : job.trials) {
        std::vector<std::string> fields{job.name,        trial.id,
                                        trial.at,        std::string(name(job.groupedBy)),
                                        job.gearSetName, std::to_string(trial.kept.photos.size())};
        for (const Side side : kSides) {
            const auto& read = trial.kept.sides[index(side)];
            const auto add = [&](double value, bool known) { fields.push_back(known ? formatted("%.3f", value) : ""); };
            const Pattern p = read ? read->pattern : Pattern{};
            add(p.toeHeel, read.has_value());
            add(p.sigmaToeHeel, read && p.sigmaToeHeel > 0);
            add(p.rootTip, read.has_value());
            add(p.sigmaRootTip, read && p.sigmaRootTip > 0);
        }
        const auto& advice = trial.advice;
        const bool told = advice && (advice->verdict != Verdict::MeasureAgain || hasMove(*advice));
        const auto ifTold = [&](double value) { return told ? std::optional(value) : std::nullopt; };
        const bool change = advice && hasMove(*advice);
        const auto ifChange = [&](double value) { return change ? std::optional(value) : std::nullopt; };
        const Estimate error = advice ? advice->depthErrorMm : Estimate{};
        fields.push_back(mmField(ifTold(error.best)));
        fields.push_back(mmField(ifTold(error.low90)));
        fields.push_back(mmField(ifTold(error.high90)));
        fields.push_back(inchField(ifTold(error.best)));
        fields.push_back(mmField(trial.backlashMm));
        fields.push_back(inchField(trial.backlashMm));
        const double target = advice ? advice->backlashTargetMm : 0;
        fields.push_back(mmField(ifChange(target)));
        fields.push_back(inchField(ifChange(target)));
        fields.push_back(advice ? std::string(name(advice->verdict)) : "");
        const double shim = advice ? advice->shim.thicknessChangeMm : 0;
        // Without a known place the sign of a shim means nothing.
        const bool placed = change && advice->shim.placeKnown;
        fields.push_back(placed ? mmField(shim) : "");
        fields.push_back(placed ? inchField(shim) : "");
        fields.push_back(told ? formatted("%.2f", advice->chanceAcceptableNext) : "");
        fields.push_back(told ? formatted("%.2f", advice->chanceAcceptableNow) : "");
        const DoneNext done = trial.next.value_or(DoneNext{});
        fields.push_back(mmField(done.shimChangeMm));
        fields.push_back(inchField(done.shimChangeMm));
        fields.push_back(mmField(done.backlashMm));
        fields.push_back(inchField(done.backlashMm));
        fields.push_back(done.as ? std::string(name(*done.as)) : "");
        fields.push_back(trial.helped ? std::string(name(*trial.helped)) : "");
        std::string wrong;
        for (const Finding& finding : trial.findings)
            if (finding.looksWrong) wrong += (wrong.empty() ? "" : " ") + finding.text;
        fields.push_back(wrong);
        for (std::size_t i = 0; i < fields.size(); ++i) rows += (i > 0 ? "," : "") + csvField(fields[i]);
        rows += "\n";
    }
    return rows;
}

std::string reviewTable(const ReviewedJob& job, Units units) {
    std::string text = plain(job.name);
    if (!job.gearSetName.empty()) text += "  (" + plain(job.gearSetName) + ")";
    if (!job.hasRecord) {
        text += "  " + say(groupedKey(job.groupedBy));
        for (const KeptPhoto& photo : job.trials.front().kept.photos)
            text += " " + plain(std::filesystem::path(photo.file).filename().string());
    }
    text +=
        "\n" + rowText({say("review.column-trial"), say("common.drive-side"), say("common.coast-side"),
                        say("review.column-depth-error"), say("review.column-backlash"), say("review.column-advice"),
                        say("review.column-chance"), say("review.column-done"), say("review.column-helped")},
                       units);
    for (const ReviewedTrial& trial : job.trials) {
        const bool told = trial.advice && (trial.advice->verdict != Verdict::MeasureAgain || hasMove(*trial.advice));
        std::string done = trial.next ? trial.next->words : "-";
        if (trial.next && trial.next->as && *trial.next->as != DoneAs::AsAdvised)
            done += "\n" + say(doneKey(*trial.next->as));
        text += rowText({job.hasRecord ? trial.label : "-", sideCell(trial, Side::Drive), sideCell(trial, Side::Coast),
                         told ? depthErrorText(trial.advice->depthErrorMm) + " (" +
                                    depthIntervalText(trial.advice->depthErrorMm) + ")"
                              : "-",
                         trial.backlashMm ? lengthText(*trial.backlashMm) : "-",
                         trial.advice ? leadInShort(*trial.advice) : "-", chanceCell(trial), done, helpedText(trial)},
                        units);
        for (const Finding& finding : trial.findings)
            if (finding.looksWrong)
                for (const std::string& part : wrapCell("! " + plain(finding.text), 112))
                    text += "        " + part + "\n";
    }
    for (const Finding& finding : job.findings)
        for (const std::string& part : wrapCell("! " + plain(finding.text), 112)) text += "        " + part + "\n";
    return text + "\n";
}

std::string summaryText(const ReviewSummary& summary) {
    const std::string wrong =
        summary.looksWrong == 0 ? say("review.nothing-wrong") : say("review.some-wrong", summary.looksWrong);
    std::string text = say("review.summary", review::jobsCounted(summary.jobs), review::trialsCounted(summary.trials),
                           review::photosCounted(summary.photos), summary.fromCache, wrong) +
                       "\n";
    if (summary.leftOut.empty()) return text + say("review.nothing-left-out") + "\n";
    text += say("review.left-out-count", summary.leftOut.size()) + "\n";
    for (const LeftOut& out : summary.leftOut) {
        const auto lines = wrapCell(plain(out.file + ": " + out.reason), 108);
        for (std::size_t i = 0; i < lines.size(); ++i) text += (i == 0 ? "  - " : "    ") + lines[i] + "\n";
    }
    return text;
}

}  // namespace shimsight
