// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include <algorithm>
#include <array>
#include <cctype>
#include <cmath>

#include "review/counts.h"
#include "review/embedded.h"
#include "shimsight/advice_words.h"
#include "shimsight/draw_svg.h"
#include "shimsight/files.h"
#include "shimsight/html.h"
#include "shimsight/review.h"
#include "shimsight/review_words.h"
#include "shimsight/text.h"
#include "shimsight/units.h"
#include "shimsight/words.h"

namespace shimsight {
namespace {

/// Small sketches of a job's last trials in the overview.
constexpr std::size_t kStripTrials = 5;

std::string baseName(const std::string& file) { return std::filesystem::path(file).filename().string(); }

std::string photoName(const KeptPhoto& photo) {
    return photo.originalName.empty() ? baseName(photo.file) : photo.originalName;
}

std::string lowered(std::string text) {
    std::transform(text.begin(), text.end(), text.begin(), [](unsigned char c) { return std::tolower(c); });
    return text;
}

std::string titleOf(const ReviewedJob& job) {
    if (!job.axle.empty()) return job.axle;
    const std::string folder = baseName(job.name);
    return job.hasRecord || job.trials.front().at.empty() ? folder : folder + ", " + timeWords(job.trials.front().at);
}

/// By which a page allows its own style or script and no other (W3C, "Content Security Policy Level 3"): SHA-256 in
/// base64.
std::string hashOf(std::string_view text) {
    const std::string digits = sha256Of(text);
    std::vector<std::uint8_t> bytes;
    for (std::size_t k = 0; k + 1 < digits.size(); k += 2)
        bytes.push_back(static_cast<std::uint8_t>(std::stoi(digits.substr(k, 2), nullptr, 16)));
    return base64(bytes);
}

struct Pill {
    const char* tone;
    std::string text;
};

Html pillHtml(const Pill& pill) { return Html("<span class=\"pill ") + pill.tone + "\">" + (pill.text) + "</span>"; }

bool anythingRead(const ReviewedJob& job) {
    return std::any_of(job.trials.begin(), job.trials.end(),
                       [](const ReviewedTrial& trial) { return trial.kept.anythingRead(); });
}

std::vector<Pill> pillsOf(const ReviewedJob& job) {
    std::vector<Pill> pills;
    if (job.finished)
        pills.push_back({"good", say("review.pill-right")});
    else if (job.hasRecord)
        pills.push_back({"", say("review.pill-not-finished")});
    else if (!job.trials.back().advice)
        pills.push_back({"", say(anythingRead(job) ? "review.pill-pattern-only" : "review.pill-not-read")});
    else
        pills.push_back({"", say("review.pill-to-be-changed")});
    if (job.looksWrong()) pills.push_back({"bad", say("review.pill-looks-wrong")});
    if (job.againstAdvice()) pills.push_back({"warn", say("review.pill-against-advice")});
    if (job.sideMissing()) pills.push_back({"warn", say("review.pill-side-missing")});
    return pills;
}

std::string flagsOf(const ReviewedJob& job) {
    std::string flags;
    const auto add = [&](bool is, const char* flag) {
        if (is) flags += (flags.empty() ? "" : " ") + std::string(flag);
    };
    add(job.looksWrong(), "wrong");
    add(job.againstAdvice(), "against");
    add(job.sideMissing(), "missing");
    add(!job.finished, "open");
    return flags;
}

std::optional<AcceptanceRule> zoneOf(const ReviewedJob& job) {
    return job.gearSet ? std::optional(job.gearSet->limits.acceptance) : std::nullopt;
}

Html pillsHtml(const ReviewedJob& job) {
    Html html = "<div class=\"pills\">";
    for (const Pill& pill : pillsOf(job)) html += pillHtml(pill);
    return html + "</div>";
}

/// What a search looks in.
std::string searchText(const ReviewedJob& job) {
    return lowered(titleOf(job) + " " + job.name + " " + job.gearSetName + " " + job.customer + " " + job.setUpBy);
}

Html cardHtml(const ReviewedJob& job, const std::string& id) {
    Html html = Html("<li class=\"card\" data-flags=\"") + flagsOf(job) + "\" data-text=\"" + searchText(job) +
                "\"><a href=\"#" + id + "\"><div class=\"thumbs\">";
    // The newest trial stands for the job; the first photo of each side, else whatever there is.
    const auto& photos = job.trials.back().kept.photos;
    std::vector<const KeptPhoto*> shown;
    for (const Side side : kSides) {
        const auto found = std::find_if(photos.begin(), photos.end(), [&](const KeptPhoto& photo) {
            return photo.side() == side && !photo.thumbnail.empty();
        });
        if (found != photos.end()) shown.push_back(&*found);
    }
    for (const KeptPhoto& photo : photos)
        if (shown.size() < 2 && !photo.thumbnail.empty() &&
            std::find(shown.begin(), shown.end(), &photo) == shown.end())
            shown.push_back(&photo);
    for (const KeptPhoto* photo : shown) html += Html("<img src=\"") + jpegDataUri(photo->thumbnail) + "\" alt=\"\">";
    for (std::size_t k = shown.size(); k < 2; ++k)
        html += Html("<div class=\"none\">") + say("review.no-photo") + "</div>";
    html += Html("</div><div class=\"text\"><h3>") + titleOf(job) + "</h3><p class=\"dim small\">" +
            (job.hasRecord ? baseName(job.name) + " \xC2\xB7 " + review::trialsCounted(job.trials.size())
             : job.groupedBy == GroupedBy::TimeAndSide ? say("review.photos-grouped-by-time")
                                                       : say("review.photos-grouped-by-name")) +
            "</p>" + pillsHtml(job) + "<div class=\"strip\" aria-hidden=\"true\">";
    const std::size_t first = job.trials.size() > kStripTrials ? job.trials.size() - kStripTrials : 0;
    for (std::size_t k = first; k < job.trials.size(); ++k) {
        const ReviewedTrial& trial = job.trials[k];
        html += "<div>";
        for (const Side side : kSides) {
            const auto& read = trial.kept.sides[index(side)];
            SvgSketch sketch;
            sketch.words = false;
            sketch.map = read ? &read->map : nullptr;
            html += read ? flankSvg(sketch) : Html("<span class=\"unread\">") + flankSvg(sketch) + "</span>";
        }
        if (job.hasRecord) html += trial.label;
        html += "</div>";
    }
    return html + "</div></div></a></li>\n";
}

const char* headingOf(FindingKind kind) {
    switch (kind) {
        case FindingKind::OtherSide:
            return "review.heading-other-side";
        case FindingKind::WrongGearSet:
            return "review.heading-wrong-gear-set";
        case FindingKind::RecordDiffers:
            return "review.heading-record-differs";
        case FindingKind::SamePhoto:
            return "review.heading-same-photo";
        case FindingKind::Order:
            return "review.heading-order";
        case FindingKind::Entry:
            return "review.heading-entry";
        case FindingKind::Record:
            return "review.heading-record";
        case FindingKind::SideMissing:
            return "review.heading-side-missing";
        case FindingKind::NotRead:
            return "review.heading-not-read";
        case FindingKind::Apart:
            return "review.heading-apart";
        case FindingKind::AgainstAdvice:
            return "review.heading-against-advice";
        case FindingKind::Cause:
            break;
    }
    return "review.heading-cause";
}

Html findingsHtml(const std::vector<Finding>& findings) {
    Html html;
    for (const bool wrong : {true, false})
        for (const Finding& finding : findings)
            // What was done against the advice stands beside the advice.
            if (finding.looksWrong == wrong && finding.kind != FindingKind::AgainstAdvice)
                html += Html("<li class=\"") + (wrong ? "bad" : "warn") + "\"><b>" + say(headingOf(finding.kind)) +
                        "</b>" + tied(finding.text) + "</li>";
    return html.empty() ? html : Html("<ul class=\"notes\">") + html + "</ul>";
}

/// "3 drive flanks, 1 coast flank"; empty: none.
std::string flanksRead(const KeptPhoto& photo) {
    std::string seen;
    for (const Side side : kSides) {
        const int count = photo.flanks[index(side)];
        if (count == 0) continue;
        const char* key = side == Side::Drive ? (count == 1 ? "review.drive-flank" : "review.drive-flanks")
                                              : (count == 1 ? "review.coast-flank" : "review.coast-flanks");
        seen += (seen.empty() ? "" : ", ") + say(key, count);
    }
    return seen;
}

Html photoHtml(const KeptPhoto& photo, const std::string& trialName) {
    Html html = "<figure>";
    const std::string seen = flanksRead(photo);
    if (!photo.picture.empty())
        html += Html("<img loading=\"lazy\" width=\"") + std::to_string(photo.width) + "\" height=\"" +
                std::to_string(photo.height) + "\" alt=\"" +
                (seen.empty() ? say("review.alt-nothing-read", trialName) : say("review.alt-read", trialName, seen)) +
                "\" src=\"" + jpegDataUri(photo.picture) + "\">";
    html += Html("<figcaption><b>") + photoName(photo) + "</b> ";
    if (photo.refused)
        html += tied(say("review.photo-refused", photo.refused->reason, photo.refused->whatToDo));
    else
        html += say("review.photo-read", seen);
    if (photo.notCounted > 0) html += Html(" ") + say("review.photo-not-counted", photo.notCounted);
    if (!photo.refused && !photo.leftOut.empty()) html += Html(" ") + say("review.photo-left-out", photo.leftOut);
    return html + "</figcaption></figure>";
}

Html sketchHtml(const ReviewedJob& job, const ReviewedTrial& trial, Side side) {
    const auto& read = trial.kept.sides[index(side)];
    const std::string name = text(titleOf(side));
    if (!read)
        return Html("<figure><figcaption><b>") + name + "</b></figcaption><div class=\"none\">" +
               say(side == Side::Drive ? "review.drive-not-read" : "review.coast-not-read") + "</div></figure>";
    SvgSketch sketch;
    sketch.title = say("review.sketch-title", name, trial.label, placeText(read->pattern));
    sketch.map = &read->map;
    sketch.pattern = read->pattern;
    sketch.goodZone = zoneOf(job);
    if (trial.advice && hasMove(*trial.advice))
        sketch.expected = side == Side::Drive ? trial.advice->expectedDrive : trial.advice->expectedCoast;
    return Html("<figure><figcaption><b>") + name + ":</b> " + placeText(read->pattern) +
           (trial.drawn[index(side)] ? " " + say("review.drawn-by-hand") : std::string()) + "<br><span class=\"dim\">" +
           say("review.centre", tied(centreWithErrorText(read->pattern))) + "</span></figcaption>" + flankSvg(sketch) +
           "</figure>";
}

/// How sure the advice is, by shape, colour and word.
Pill certaintyPill(const Advice& advice) {
    if (advice.stop) return {"bad", std::string(certaintyWords(advice))};
    switch (advice.certainty) {
        case Certainty::Sure:
            return {"good", std::string(certaintyWords(advice))};
        case Certainty::Likely:
            return {"", std::string(certaintyWords(advice))};
        case Certainty::NotSure:
            break;
    }
    return {"warn", std::string(certaintyWords(advice))};
}

/// A box in the row of steps below a trial; `said`: id of its heading.
Html stepBegin(const char* said) { return Html("<div class=\"step\"><h4>") + say(said) + "</h4>"; }
Html dimParagraph(const char* said) { return Html("<p class=\"dim\">") + say(said) + "</p>"; }
Html mainParagraph(const std::string& text) { return Html("<p class=\"main\">") + text + "</p>"; }

Html adviceStep(const ReviewedJob& job, const ReviewedTrial& trial) {
    Html html = stepBegin("review.step-advice");
    if (!trial.advice)
        return html + mainParagraph(say("review.no-advice")) +
               dimParagraph(job.gearSet ? "review.no-pattern-read" : "review.no-gear-set-given") + "</div>";
    const Advice& advice = *trial.advice;
    html += mainParagraph(tied(leadInShort(advice))) + pillHtml(certaintyPill(advice));
    if (advice.verdict == Verdict::MeasureAgain && !hasMove(advice))
        return html + dimParagraph("review.see-reasons") + "</div>";
    html += Html("<p>") + say("review.depth-error", tied(depthErrorText(advice.depthErrorMm))) +
            "<br><span class=\"dim\">" + say("review.interval", tied(depthIntervalText(advice.depthErrorMm))) +
            "</span></p><p>";
    const std::string now = tied(chanceWords(advice.chanceAcceptableNow));
    if (advice.verdict == Verdict::Accept)
        html += say("review.chance-now", now);
    else
        html += Html() + say("review.chance-next", tied(chanceWords(advice.chanceAcceptableNext))) +
                " <span class=\"dim\">" + say("review.chance-as-it-is", now) + "</span>";
    return html + "</p></div>";
}

Pill donePill(DoneAs done) {
    switch (done) {
        case DoneAs::AsAdvised:
            break;
        case DoneAs::LessThanAdvised:
            return {"warn", say("review.pill-less")};
        case DoneAs::MoreThanAdvised:
            return {"warn", say("review.pill-more")};
        case DoneAs::OtherWayRound:
            return {"bad", say("review.pill-other-way-round")};
        case DoneAs::OtherThanAdvised:
            return {"warn", say("review.pill-other")};
        case DoneAs::NotAdvised:
            return {"warn", say("review.pill-not-advised")};
    }
    return {"good", say("review.pill-as-advised")};
}

Html doneStep(const ReviewedTrial& trial, bool last) {
    if (!trial.next)
        return stepBegin("review.step-done") + dimParagraph(last ? "review.nothing-done-yet" : "review.done-not-said") +
               "</div>";
    const DoneNext& next = *trial.next;
    Html html = stepBegin("review.step-done") + mainParagraph(tied(capital(next.words)));
    if (next.as) html += pillHtml(donePill(*next.as));
    if (!next.note.empty() && next.note != next.words) html += Html("<p class=\"dim\">") + tied(next.note) + "</p>";
    return html + "</div>";
}

Html helpedStep(const ReviewedTrial& trial) {
    const Html html = stepBegin("review.step-helped");
    if (!trial.helped) return html + dimParagraph("review.helped-not-known") + "</div>";
    const char* said = *trial.helped == Helped::Yes  ? "review.helped"
                       : *trial.helped == Helped::No ? "review.worse"
                                                     : "review.no-clear-change";
    return html + mainParagraph(say(said)) + "</div>";
}

Html numbersHtml(const ReviewedTrial& trial) {
    Html html = "<div class=\"scroll\"><table><thead><tr>";
    for (const char* heading : {"review.measured", "common.drive-side-title", "common.coast-side-title"})
        html += Html("<th scope=\"col\">") + say(heading) + "</th>";
    html += "</tr></thead><tbody>";
    const auto row = [&](const char* label, const auto& value) {
        html += Html("<tr><th scope=\"row\">") + say(label) + "</th>";
        for (const Side side : kSides) {
            const auto& read = trial.kept.sides[index(side)];
            html += Html("<td>") + (read ? tied(value(read->pattern)) : std::string("\xE2\x80\x93")) + "</td>";
        }
        html += "</tr>";
    };
    row("review.row-centre", [](const Pattern& p) { return centreWithErrorText(p); });
    row("review.row-length", [](const Pattern& p) { return percent(p.length); });
    row("review.row-height", [](const Pattern& p) { return percent(p.height); });
    row("review.row-area", [](const Pattern& p) { return percent(p.area); });
    row("review.row-tilt", [](const Pattern& p) { return formatted("%+.0f\xC2\xB0", p.tiltDeg + 0.0); });
    row("review.row-runs-off", [](const Pattern& p) { return runsOffText(p.runsOff); });
    row("review.row-teeth", [](const Pattern& p) { return std::to_string(p.teeth); });
    return html + "</tbody></table></div>";
}

Html listHtml(const std::vector<std::string>& items) {
    Html html = "<ul>";
    for (const std::string& item : items) html += Html("<li>") + tied(item) + "</li>";
    return html + "</ul>";
}

Html heading(const char* said) { return Html("<h4>") + say(said) + "</h4>"; }

/// The advice in full, as every other place tells it.
Html headlineHtml(const ReviewedJob& job, const Advice& advice) {
    if (!job.gearSet) return {};
    const Headline headline = headlineOf(advice, *job.gearSet);
    Html html = heading("review.what-to-do") + "<p>" + tied(headline.lead) + "</p>";
    if (!headline.lookFirst.empty()) html += heading("review.look-first") + listHtml(headline.lookFirst);
    if (!headline.steps.empty()) html += heading("review.how") + listHtml(headline.steps);
    return html + heading("review.how-sure") + "<p>" + tied(headline.howSure) + "</p>";
}

Html trialHtml(const ReviewedJob& job, const ReviewedTrial& trial, bool last) {
    const std::string name = job.hasRecord ? say("review.trial", trial.label) : trial.label;
    Html html = "<article class=\"trial\">";
    std::string facts;
    const auto fact = [&](const std::string& text) { facts += (facts.empty() ? "" : " \xC2\xB7 ") + text; };
    if (!trial.at.empty() && trial.at != trial.label) fact(timeWords(trial.at));
    if (trial.shimStackMm) fact(say("review.shims", tied(lengthText(*trial.shimStackMm))));
    if (trial.backlashMm) fact(say("review.backlash", tied(lengthText(*trial.backlashMm))));
    if (job.hasRecord) html += Html("<header><h3>") + name + "</h3><p class=\"dim small\">" + facts + "</p></header>";
    if (!trial.changed.empty() || !trial.why.empty())
        html += Html("<p class=\"small dim\">") +
                tied(trial.changed + (trial.changed.empty() || trial.why.empty() ? "" : " ") + trial.why) + "</p>";
    html += findingsHtml(trial.findings) + "<div class=\"body\"><div class=\"photos\">";
    for (const KeptPhoto& photo : trial.kept.photos) html += photoHtml(photo, name);
    if (trial.kept.photos.empty()) html += Html("<p class=\"dim small\">") + say("review.no-photos") + "</p>";
    html += "</div><div class=\"sketches\">";
    for (const Side side : kSides) html += sketchHtml(job, trial, side);
    html += Html("</div></div><div class=\"steps\">") + adviceStep(job, trial);
    if (job.hasRecord) html += doneStep(trial, last) + helpedStep(trial);
    html += "</div>";
    if (trial.kept.anythingRead()) {
        html += Html("<details><summary>") + say("review.details") + "</summary>" + numbersHtml(trial);
        if (trial.advice) html += headlineHtml(job, *trial.advice);
        if (trial.advice && !trial.advice->because.empty())
            html += heading("review.why") + listHtml(texts(trial.advice->because));
        if (trial.advice && !trial.advice->cautions.empty())
            html += heading("review.take-care") + listHtml(texts(trial.advice->cautions));
        html += "</details>";
    }
    return html + "</article>\n";
}

Html pathHtml(const ReviewedJob& job) {
    Html html;
    for (const Side side : kSides) {
        std::vector<PathStop> stops;
        for (const ReviewedTrial& trial : job.trials)
            if (const auto& read = trial.kept.sides[index(side)]) stops.push_back({read->pattern, trial.label});
        if (stops.size() < 2) continue;
        const std::string name = text(titleOf(side));
        html += Html("<figure><figcaption>") + Html::markup(say("review.path", "<b>" + name + "</b>")) +
                "</figcaption>" + patternPathSvg(say("review.path-title", name, stops.size()), stops, zoneOf(job)) +
                "</figure>";
    }
    return html.empty() ? html : Html("<div class=\"path\">") + html + "</div>";
}

Html jobHtml(const ReviewedJob& job, const std::string& id) {
    Html html = Html("<section class=\"job\" id=\"") + id + "\" data-flags=\"" + flagsOf(job) + "\" data-text=\"" +
                searchText(job) + "\" aria-labelledby=\"" + id + "h\"><header><div><h2 id=\"" + id + "h\">" +
                titleOf(job) + "</h2><ul class=\"facts\">";
    const auto fact = [&](const char* label, const std::string& value) {
        if (!value.empty()) html += Html("<li><span>") + say(label) + "</span> " + value + "</li>";
    };
    fact("review.folder", job.name);
    fact("review.gear-set", job.gearSetName);
    fact("review.for", job.customer);
    fact("review.set-up-by", job.setUpBy);
    if (!job.hasRecord)
        fact("review.grouped-by",
             say(job.groupedBy == GroupedBy::TimeAndSide ? "review.by-time-and-side" : "review.by-name-and-side"));
    html += Html("</ul></div>") + pillsHtml(job) + "</header>";
    if (!job.next.empty())
        html += Html("<p class=\"next\"><b>") + say("review.next") + "</b> " + tied(job.next) + "</p>";
    html += findingsHtml(job.findings) + pathHtml(job);
    for (std::size_t k = 0; k < job.trials.size(); ++k)
        html += trialHtml(job, job.trials[k], k + 1 == job.trials.size());
    return html + "</section>\n";
}

/// What the signs of the sketches mean.
Html legendHtml() {
    const auto sign = [](const Html& drawing, const char* said) {
        return Html("<span><svg viewBox=\"0 0 38 20\" aria-hidden=\"true\">") + drawing + "</svg>" + say(said) +
               "</span>";
    };
    return Html("<p class=\"legend\">") +
           sign("<rect class=\"fk-mark\" x=\"4\" y=\"3\" width=\"30\" height=\"14\" rx=\"7\"/>",
                "review.legend-contact") +
           sign(
               "<rect x=\"9\" y=\"0\" width=\"20\" height=\"20\" rx=\"3\" class=\"fk-steel\"/><path class=\"fk-halo\" "
               "d=\"M12 10H26M19 3V17\"/><path class=\"fk-cross\" d=\"M12 10H26M19 3V17\"/>",
               "review.legend-centre") +
           sign("<rect class=\"fk-zone\" x=\"3\" y=\"3\" width=\"32\" height=\"14\"/>", "review.legend-zone") +
           sign("<rect class=\"fk-next\" x=\"3\" y=\"3\" width=\"32\" height=\"14\" rx=\"7\"/>", "review.legend-next") +
           "</p>\n";
}

}  // namespace

std::string jpegDataUri(const std::vector<std::uint8_t>& bytes) { return "data:image/jpeg;base64," + base64(bytes); }

struct ReviewPages::State {
    Units units = Units::Both;
    std::filesystem::path file;
    std::vector<std::filesystem::path> written;
    Html cards, details;
    std::size_t jobs = 0, trials = 0, photos = 0, jobsBefore = 0;
    std::array<std::size_t, 4> flagged{};  // wrong, against, missing, open

    std::filesystem::path pageFile(std::size_t page) const {
        if (page == 1) return file;
        return file.parent_path() / (file.stem().string() + "-" + std::to_string(page) + file.extension().string());
    }

    void write(const ReviewSummary* summary) {
        const std::size_t page = written.size() + 1;
        const bool last = summary != nullptr;
        const std::string style =
            "\n" + std::string(embeddedFile(review::embeddedFiles(), "review.css")) + std::string(sketchCss());
        const std::string_view script = embeddedFile(review::embeddedFiles(), "review.js");
        Html html =
            Html(
                "<!DOCTYPE html>\n<html lang=\"en\"><head><meta charset=\"utf-8\">\n<meta name=\"viewport\" "
                "content=\"width=device-width, initial-scale=1\">\n<meta http-equiv=\"Content-Security-Policy\" "
                "content=\"default-src 'none'; img-src data:; style-src 'sha256-") +
            hashOf(style) + "'; script-src 'sha256-" + hashOf(script) + "'\">\n<title>" + say("review.title") +
            "</title>\n<style>";
        html += Html::markup(style);
        html += Html(
                    "</style></head>\n<body><header class=\"top\"><div class=\"wrap\"><div><p "
                    "class=\"brand\">Shimsight</p><h1>") +
                say("review.title") + "</h1></div><p class=\"dim\">";
        const std::string counts = review::jobsCounted(jobs) + " \xC2\xB7 " + review::trialsCounted(trials) +
                                   " \xC2\xB7 " + review::photosCounted(photos);
        html += page == 1 && last ? counts
                : last            ? say("review.on-last-page", counts, page)
                                  : say("review.on-page", counts, page);
        html += "</p></div></header>\n<div class=\"bar\" hidden><div class=\"wrap\">";
        const auto button = [&](const char* filter, const char* label, std::size_t count) {
            html += Html("<button type=\"button\" data-filter=\"") + filter + "\" aria-pressed=\"false\">" +
                    say(label) + "<b>" + std::to_string(count) + "</b></button>";
        };
        button("", "review.filter-all", jobs);
        button("wrong", "review.filter-wrong", flagged[0]);
        button("against", "review.filter-against", flagged[1]);
        button("missing", "review.filter-missing", flagged[2]);
        button("open", "review.filter-open", flagged[3]);
        html += Html("<input type=\"search\" aria-label=\"") + say("review.search-for") + "\" placeholder=\"" +
                say("review.search") + "\"></div></div>\n<main><div class=\"wrap\"><ol class=\"cards\">\n";
        html += cards;
        html += Html("</ol>\n<p id=\"none\" class=\"dim\" hidden>") + say("review.no-job-fits") + "</p>\n";
        html += legendHtml();
        html += details;
        if (last && !summary->leftOut.empty()) {
            html += Html("<section class=\"job left\" id=\"left-out\"><h2>") + say("review.left-out") + "</h2><ul>";
            for (const LeftOut& out : summary->leftOut)
                html += Html("<li><b>") + out.file + "</b>: " + tied(out.reason) + "</li>";
            html += "</ul></section>\n";
        }
        if (page > 1 || !last) {
            html += Html("<nav class=\"pages\" aria-label=\"") + say("review.pages") + "\">";
            const auto link = [&](std::size_t to, const char* said) {
                html += Html("<a href=\"") + pageFile(to).filename().string() + "\">" + say(said) + "</a>";
            };
            if (page > 1) link(page - 1, "review.page-before");
            if (!last) link(page + 1, "review.page-next");
            html += "</nav>\n";
        }
        html += Html("</div></main>\n<footer class=\"foot\"><div class=\"wrap\"><p>") + say("review.foot-care") +
                "</p><p>" +
                say(units == Units::Inch     ? "review.foot-inches"
                    : units == Units::Metric ? "review.foot-millimetres"
                                             : "review.foot-units") +
                "</p></div></footer>\n<script>";
        html += Html::markup(script);
        html += "</script></body></html>\n";
        const std::string text = inUnits(html.str(), units);
        writeFileAtomically(pageFile(page), {reinterpret_cast<const std::uint8_t*>(text.data()), text.size()});
        written.push_back(pageFile(page));
        jobsBefore += jobs;
        cards = {};
        details = {};
        jobs = trials = photos = 0;
        flagged = {};
    }
};

ReviewPages::ReviewPages(std::filesystem::path file, Units units) : state_(std::make_unique<State>()) {
    state_->units = units;
    state_->file = std::move(file);
}

ReviewPages::~ReviewPages() = default;

void ReviewPages::add(const ReviewedJob& job) {
    if (job.trials.empty()) return;
    State& state = *state_;
    if (state.trials > 0 && state.trials + job.trials.size() > kTrialsOnPage) state.write(nullptr);
    const std::string id = "j" + std::to_string(state.jobsBefore + ++state.jobs);
    state.trials += job.trials.size();
    for (const ReviewedTrial& trial : job.trials) state.photos += trial.kept.photos.size();
    state.flagged[0] += job.looksWrong();
    state.flagged[1] += job.againstAdvice();
    state.flagged[2] += job.sideMissing();
    state.flagged[3] += !job.finished;
    state.cards += cardHtml(job, id);
    state.details += jobHtml(job, id);
}

std::vector<std::filesystem::path> ReviewPages::finish(const ReviewSummary& summary) {
    state_->write(&summary);
    return state_->written;
}

}  // namespace shimsight
