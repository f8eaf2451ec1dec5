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
#include "shimsight/words.h"

namespace shimsight {
namespace {

/// Small sketches of a job's last trials in the overview.
constexpr std::size_t kStripTrials = 5;

std::string esc(std::string_view text) { return escapedHtml(text); }
/// Text with lengths in it.
std::string words(const std::string& text) { return escapedHtml(tied(text)); }

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
    return job.hasRecord || job.trials.front().at.empty() ? folder : folder + ", " + dateText(job.trials.front().at);
}

/// "Drive side", at the beginning of a line.
std::string sideTitle(Side side) { return say(side == Side::Drive ? "review.drive-side" : "review.coast-side"); }

struct Pill {
    const char* tone;
    std::string text;
};

std::string pillHtml(const Pill& pill) {
    return std::string("<span class=\"pill ") + pill.tone + "\">" + esc(pill.text) + "</span>";
}

bool anythingRead(const ReviewedJob& job) {
    return std::any_of(job.trials.begin(), job.trials.end(),
                       [](const ReviewedTrial& trial) { return trial.reading.anythingRead(); });
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

std::string pillsHtml(const ReviewedJob& job) {
    std::string html = "<div class=\"pills\">";
    for (const Pill& pill : pillsOf(job)) html += pillHtml(pill);
    return html + "</div>";
}

/// What a search looks in.
std::string searchText(const ReviewedJob& job) {
    return lowered(titleOf(job) + " " + job.name + " " + job.gearSetName + " " + job.customer + " " + job.setUpBy);
}

std::string cardHtml(const ReviewedJob& job, const std::string& id) {
    std::string html = "<li class=\"card\" data-flags=\"" + flagsOf(job) + "\" data-text=\"" + esc(searchText(job)) +
                       "\"><a href=\"#" + id + "\"><div class=\"thumbs\">";
    // The newest trial stands for the job; the first photo of each side, else whatever there is.
    const auto& photos = job.trials.back().reading.photos;
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
    for (const KeptPhoto* photo : shown) html += "<img src=\"" + jpegDataUri(photo->thumbnail) + "\" alt=\"\">";
    for (std::size_t k = shown.size(); k < 2; ++k) html += "<div class=\"none\">" + say("review.no-photo") + "</div>";
    html += "</div><div class=\"text\"><h3>" + esc(titleOf(job)) + "</h3><p class=\"dim small\">" +
            esc(job.hasRecord ? baseName(job.name) + " \xC2\xB7 " + review::trialsCounted(job.trials.size())
                : job.groupedBy == GroupedBy::TimeAndSide ? say("review.photos-grouped-by-time")
                                                          : say("review.photos-grouped-by-name")) +
            "</p>" + pillsHtml(job) + "<div class=\"strip\" aria-hidden=\"true\">";
    const std::size_t first = job.trials.size() > kStripTrials ? job.trials.size() - kStripTrials : 0;
    for (std::size_t k = first; k < job.trials.size(); ++k) {
        const ReviewedTrial& trial = job.trials[k];
        html += "<div>";
        for (const Side side : kSides) {
            const auto& read = trial.reading.sides[index(side)];
            SvgSketch sketch;
            sketch.words = false;
            sketch.map = read ? &read->map : nullptr;
            html += read ? flankSvg(sketch) : "<span class=\"unread\">" + flankSvg(sketch) + "</span>";
        }
        html += (job.hasRecord ? esc(trial.label) : "") + "</div>";
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

std::string findingsHtml(const std::vector<Finding>& findings) {
    std::string html;
    for (const bool wrong : {true, false})
        for (const Finding& finding : findings)
            // What was done against the advice stands beside the advice.
            if (finding.looksWrong == wrong && finding.kind != FindingKind::AgainstAdvice)
                html += std::string("<li class=\"") + (wrong ? "bad" : "warn") + "\"><b>" +
                        esc(say(headingOf(finding.kind))) + "</b>" + words(finding.text) + "</li>";
    return html.empty() ? "" : "<ul class=\"notes\">" + html + "</ul>";
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

std::string photoHtml(const KeptPhoto& photo, const std::string& trialName) {
    std::string html = "<figure>";
    const std::string seen = flanksRead(photo);
    if (!photo.picture.empty())
        html +=
            formatted("<img loading=\"lazy\" width=\"%d\" height=\"%d\" alt=\"", photo.width, photo.height) +
            esc(seen.empty() ? say("review.alt-nothing-read", trialName) : say("review.alt-read", trialName, seen)) +
            "\" src=\"" + jpegDataUri(photo.picture) + "\">";
    html += "<figcaption><b>" + esc(photoName(photo)) + "</b> ";
    if (photo.refused)
        html += words(say("review.photo-refused", photo.refused->reason, photo.refused->whatToDo));
    else
        html += esc(say("review.photo-read", seen));
    if (photo.notCounted > 0) html += " " + esc(say("review.photo-not-counted", photo.notCounted));
    if (!photo.refused && !photo.leftOut.empty()) html += " " + esc(say("review.photo-left-out", photo.leftOut));
    return html + "</figcaption></figure>";
}

std::string sketchHtml(const ReviewedJob& job, const ReviewedTrial& trial, Side side) {
    const auto& read = trial.reading.sides[index(side)];
    const std::string name = sideTitle(side);
    if (!read)
        return "<figure><figcaption><b>" + name + "</b></figcaption><div class=\"none\">" +
               say(side == Side::Drive ? "review.drive-not-read" : "review.coast-not-read") + "</div></figure>";
    SvgSketch sketch;
    sketch.title = say("review.sketch-title", name, trial.label, placeText(read->pattern));
    sketch.map = &read->map;
    sketch.pattern = read->pattern;
    sketch.goodZone = zoneOf(job);
    if (trial.advice && hasMove(*trial.advice))
        sketch.expected = side == Side::Drive ? trial.advice->expectedDrive : trial.advice->expectedCoast;
    return "<figure><figcaption><b>" + name + ":</b> " + esc(placeText(read->pattern)) +
           (trial.drawn[index(side)] ? " " + say("review.drawn-by-hand") : "") + "<br><span class=\"dim\">" +
           say("review.centre", words(centreWithErrorText(read->pattern))) + "</span></figcaption>" + flankSvg(sketch) +
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
std::string stepBegin(const char* said) { return "<div class=\"step\"><h4>" + say(said) + "</h4>"; }
std::string dimParagraph(const char* said) { return "<p class=\"dim\">" + say(said) + "</p>"; }
std::string mainParagraph(const std::string& html) { return "<p class=\"main\">" + html + "</p>"; }

std::string adviceStep(const ReviewedJob& job, const ReviewedTrial& trial) {
    std::string html = stepBegin("review.step-advice");
    if (!trial.advice)
        return html + mainParagraph(say("review.no-advice")) +
               dimParagraph(job.gearSet ? "review.no-pattern-read" : "review.no-gear-set-given") + "</div>";
    const Advice& advice = *trial.advice;
    html += mainParagraph(words(shortAdvice(advice))) + pillHtml(certaintyPill(advice));
    if (advice.verdict == Verdict::MeasureAgain && !hasMove(advice))
        return html + dimParagraph("review.see-reasons") + "</div>";
    html += "<p>" + say("review.depth-error", words(depthErrorText(advice.depthErrorMm))) + "<br><span class=\"dim\">" +
            say("review.interval", words(depthIntervalText(advice.depthErrorMm))) + "</span></p><p>";
    const std::string now = words(percentText(advice.chanceAcceptableNow));
    if (advice.verdict == Verdict::Accept)
        html += say("review.chance-now", now);
    else
        html += say("review.chance-next", words(percentText(advice.chanceAcceptableNext))) + " <span class=\"dim\">" +
                say("review.chance-as-it-is", now) + "</span>";
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

std::string doneStep(const ReviewedTrial& trial, bool last) {
    if (!trial.next)
        return stepBegin("review.step-done") + dimParagraph(last ? "review.nothing-done-yet" : "review.done-not-said") +
               "</div>";
    const DoneNext& next = *trial.next;
    std::string html = stepBegin("review.step-done") + mainParagraph(words(capital(next.words)));
    if (next.as) html += pillHtml(donePill(*next.as));
    if (!next.note.empty() && next.note != next.words) html += "<p class=\"dim\">" + words(next.note) + "</p>";
    return html + "</div>";
}

std::string helpedStep(const ReviewedTrial& trial) {
    const std::string html = stepBegin("review.step-helped");
    if (!trial.helped) return html + dimParagraph("review.helped-not-known") + "</div>";
    const char* said = *trial.helped == Helped::Yes  ? "review.helped"
                       : *trial.helped == Helped::No ? "review.worse"
                                                     : "review.no-clear-change";
    return html + mainParagraph(say(said)) + "</div>";
}

std::string numbersHtml(const ReviewedTrial& trial) {
    std::string html = "<div class=\"scroll\"><table><thead><tr>";
    for (const char* heading : {"review.measured", "review.drive-side", "review.coast-side"})
        html += "<th scope=\"col\">" + say(heading) + "</th>";
    html += "</tr></thead><tbody>";
    const auto row = [&](const char* label, const auto& value) {
        html += "<tr><th scope=\"row\">" + say(label) + "</th>";
        for (const Side side : kSides) {
            const auto& read = trial.reading.sides[index(side)];
            html += "<td>" + (read ? words(value(read->pattern)) : std::string("\xE2\x80\x93")) + "</td>";
        }
        html += "</tr>";
    };
    row("review.row-centre", [](const Pattern& p) { return centreWithErrorText(p); });
    row("review.row-length", [](const Pattern& p) { return formatted("%.0f %%", 100 * p.length); });
    row("review.row-height", [](const Pattern& p) { return formatted("%.0f %%", 100 * p.height); });
    row("review.row-area", [](const Pattern& p) { return formatted("%.0f %%", 100 * p.area); });
    row("review.row-tilt", [](const Pattern& p) { return formatted("%+.0f\xC2\xB0", p.tiltDeg + 0.0); });
    row("review.row-runs-off", [](const Pattern& p) { return runsOffText(p.runsOff); });
    row("review.row-teeth", [](const Pattern& p) { return std::to_string(p.teeth); });
    return html + "</tbody></table></div>";
}

std::string listHtml(const std::vector<std::string>& items) {
    std::string html = "<ul>";
    for (const std::string& item : items) html += "<li>" + words(item) + "</li>";
    return html + "</ul>";
}

std::string heading(const char* said) { return "<h4>" + say(said) + "</h4>"; }

/// The advice in full, as every other place tells it.
std::string headlineHtml(const ReviewedJob& job, const Advice& advice) {
    if (!job.gearSet) return {};
    const Headline headline = headlineOf(advice, *job.gearSet);
    std::string html = heading("review.what-to-do") + "<p>" + words(headline.lead) + "</p>";
    if (!headline.lookFirst.empty()) html += heading("review.look-first") + listHtml(headline.lookFirst);
    if (!headline.steps.empty()) html += heading("review.how") + listHtml(headline.steps);
    return html + heading("review.how-sure") + "<p>" + words(headline.howSure) + "</p>";
}

std::string trialHtml(const ReviewedJob& job, const ReviewedTrial& trial, bool last) {
    const std::string name = job.hasRecord ? say("review.trial", trial.label) : trial.label;
    std::string html = "<article class=\"trial\">";
    std::string facts;
    const auto fact = [&](const std::string& text) { facts += (facts.empty() ? "" : " \xC2\xB7 ") + text; };
    if (!trial.at.empty() && trial.at != trial.label) fact(esc(dateText(trial.at)));
    if (trial.shimStackMm) fact(say("review.shims", words(lengthText(*trial.shimStackMm))));
    if (trial.backlashMm) fact(say("review.backlash", words(lengthText(*trial.backlashMm))));
    if (job.hasRecord) html += "<header><h3>" + esc(name) + "</h3><p class=\"dim small\">" + facts + "</p></header>";
    if (!trial.changed.empty() || !trial.why.empty())
        html += "<p class=\"small dim\">" +
                words(trial.changed + (trial.changed.empty() || trial.why.empty() ? "" : " ") + trial.why) + "</p>";
    html += findingsHtml(trial.findings) + "<div class=\"body\"><div class=\"photos\">";
    for (const KeptPhoto& photo : trial.reading.photos) html += photoHtml(photo, name);
    if (trial.reading.photos.empty()) html += "<p class=\"dim small\">" + say("review.no-photos") + "</p>";
    html += "</div><div class=\"sketches\">";
    for (const Side side : kSides) html += sketchHtml(job, trial, side);
    html += "</div></div><div class=\"steps\">" + adviceStep(job, trial);
    if (job.hasRecord) html += doneStep(trial, last) + helpedStep(trial);
    html += "</div>";
    if (trial.reading.anythingRead()) {
        html += "<details><summary>" + say("review.details") + "</summary>" + numbersHtml(trial);
        if (trial.advice) html += headlineHtml(job, *trial.advice);
        if (trial.advice && !trial.advice->because.empty())
            html += heading("review.why") + listHtml(texts(trial.advice->because));
        if (trial.advice && !trial.advice->cautions.empty())
            html += heading("review.take-care") + listHtml(texts(trial.advice->cautions));
        html += "</details>";
    }
    return html + "</article>\n";
}

std::string pathHtml(const ReviewedJob& job) {
    std::string html;
    for (const Side side : kSides) {
        std::vector<PathStop> stops;
        for (const ReviewedTrial& trial : job.trials)
            if (const auto& read = trial.reading.sides[index(side)]) stops.push_back({read->pattern, trial.label});
        if (stops.size() < 2) continue;
        const std::string name = sideTitle(side);
        html += "<figure><figcaption>" + say("review.path", "<b>" + name + "</b>") + "</figcaption>" +
                patternPathSvg(say("review.path-title", name, stops.size()), stops, zoneOf(job)) + "</figure>";
    }
    return html.empty() ? "" : "<div class=\"path\">" + html + "</div>";
}

std::string jobHtml(const ReviewedJob& job, const std::string& id) {
    std::string html = "<section class=\"job\" id=\"" + id + "\" data-flags=\"" + flagsOf(job) + "\" data-text=\"" +
                       esc(searchText(job)) + "\" aria-labelledby=\"" + id + "h\"><header><div><h2 id=\"" + id +
                       "h\">" + esc(titleOf(job)) + "</h2><ul class=\"facts\">";
    const auto fact = [&](const char* label, const std::string& value) {
        if (!value.empty()) html += "<li><span>" + say(label) + "</span> " + esc(value) + "</li>";
    };
    fact("review.folder", job.name);
    fact("review.gear-set", job.gearSetName);
    fact("review.for", job.customer);
    fact("review.set-up-by", job.setUpBy);
    if (!job.hasRecord)
        fact("review.grouped-by",
             say(job.groupedBy == GroupedBy::TimeAndSide ? "review.by-time-and-side" : "review.by-name-and-side"));
    html += "</ul></div>" + pillsHtml(job) + "</header>";
    if (!job.next.empty()) html += "<p class=\"next\"><b>" + say("review.next") + "</b> " + words(job.next) + "</p>";
    html += findingsHtml(job.findings) + pathHtml(job);
    for (std::size_t k = 0; k < job.trials.size(); ++k)
        html += trialHtml(job, job.trials[k], k + 1 == job.trials.size());
    return html + "</section>\n";
}

/// What the signs of the sketches mean.
std::string legendHtml() {
    const auto sign = [](const char* drawing, const char* said) {
        return std::string("<span><svg viewBox=\"0 0 38 20\" aria-hidden=\"true\">") + drawing + "</svg>" + say(said) +
               "</span>";
    };
    return "<p class=\"legend\">" +
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

std::string dateText(const std::string& at) {
    // "2026-03-02T14:05:00+01:00" or "2026-03-02 14:05:00".
    constexpr std::array<const char*, 12> kMonths{"January",   "February", "March",    "April",
                                                  "May",       "June",     "July",     "August",
                                                  "September", "October",  "November", "December"};
    int year = 0, month = 0, day = 0, hour = 0, minute = 0;
    char between = 0;
    if (std::sscanf(at.c_str(), "%4d-%2d-%2d%c%2d:%2d", &year, &month, &day, &between, &hour, &minute) != 6 ||
        month < 1 || month > 12)
        return at;
    return formatted("%d %s %d, %02d:%02d", day, kMonths[static_cast<std::size_t>(month - 1)], year, hour, minute);
}

struct ReviewPages::State {
    std::filesystem::path file;
    std::vector<std::filesystem::path> written;
    std::string cards, details;
    std::size_t jobs = 0, trials = 0, photos = 0, jobsBefore = 0;
    std::array<std::size_t, 4> flagged{};  // wrong, against, missing, open

    std::filesystem::path pageFile(std::size_t page) const {
        if (page == 1) return file;
        return file.parent_path() / (file.stem().string() + "-" + std::to_string(page) + file.extension().string());
    }

    void write(const ReviewSummary* summary) {
        const std::size_t page = written.size() + 1;
        const bool last = summary != nullptr;
        std::string html =
            "<!DOCTYPE html>\n<html lang=\"en\"><head><meta charset=\"utf-8\">\n<meta name=\"viewport\" "
            "content=\"width=device-width, initial-scale=1\">\n<meta http-equiv=\"Content-Security-Policy\" "
            "content=\"default-src 'none'; img-src data:; style-src 'unsafe-inline'; script-src "
            "'unsafe-inline'\">\n<title>" +
            say("review.title") + "</title>\n<style>\n";
        html += embeddedFile(review::embeddedFiles(), "review.css");
        html += sketchCss();
        html +=
            "</style></head>\n<body><header class=\"top\"><div class=\"wrap\"><div><p "
            "class=\"brand\">Shimsight</p><h1>" +
            say("review.title") + "</h1></div><p class=\"dim\">";
        const std::string counts = review::jobsCounted(jobs) + " \xC2\xB7 " + review::trialsCounted(trials) +
                                   " \xC2\xB7 " + review::photosCounted(photos);
        html += page == 1 && last ? counts
                : last            ? say("review.on-last-page", counts, page)
                                  : say("review.on-page", counts, page);
        html += "</p></div></header>\n<div class=\"bar\" hidden><div class=\"wrap\">";
        const auto button = [&](const char* filter, const char* label, std::size_t count) {
            html += std::string("<button type=\"button\" data-filter=\"") + filter + "\" aria-pressed=\"false\">" +
                    say(label) + "<b>" + std::to_string(count) + "</b></button>";
        };
        button("", "review.filter-all", jobs);
        button("wrong", "review.filter-wrong", flagged[0]);
        button("against", "review.filter-against", flagged[1]);
        button("missing", "review.filter-missing", flagged[2]);
        button("open", "review.filter-open", flagged[3]);
        html += "<input type=\"search\" aria-label=\"" + say("review.search-for") + "\" placeholder=\"" +
                say("review.search") + "\"></div></div>\n<main><div class=\"wrap\"><ol class=\"cards\">\n";
        html += cards;
        html += "</ol>\n<p id=\"none\" class=\"dim\" hidden>" + say("review.no-job-fits") + "</p>\n";
        html += legendHtml();
        html += details;
        if (last && !summary->leftOut.empty()) {
            html += "<section class=\"job left\" id=\"left-out\"><h2>" + say("review.left-out") + "</h2><ul>";
            for (const LeftOut& out : summary->leftOut)
                html += "<li><b>" + esc(out.file) + "</b>: " + words(out.reason) + "</li>";
            html += "</ul></section>\n";
        }
        if (page > 1 || !last) {
            html += "<nav class=\"pages\" aria-label=\"" + say("review.pages") + "\">";
            const auto link = [&](std::size_t to, const char* said) {
                html += "<a href=\"" + esc(pageFile(to).filename().string()) + "\">" + say(said) + "</a>";
            };
            if (page > 1) link(page - 1, "review.page-before");
            if (!last) link(page + 1, "review.page-next");
            html += "</nav>\n";
        }
        html += "</div></main>\n<footer class=\"foot\"><div class=\"wrap\"><p>" + say("review.foot-care") + "</p><p>" +
                say("review.foot-units") + "</p></div></footer>\n<script>";
        html += embeddedFile(review::embeddedFiles(), "review.js");
        html += "</script></body></html>\n";
        writeFileAtomically(pageFile(page), {reinterpret_cast<const std::uint8_t*>(html.data()), html.size()});
        written.push_back(pageFile(page));
        jobsBefore += jobs;
        cards.clear();
        details.clear();
        jobs = trials = photos = 0;
        flagged = {};
    }
};

ReviewPages::ReviewPages(std::filesystem::path file) : state_(std::make_unique<State>()) {
    state_->file = std::move(file);
}

ReviewPages::~ReviewPages() = default;

void ReviewPages::add(const ReviewedJob& job) {
    if (job.trials.empty()) return;
    State& state = *state_;
    if (state.trials > 0 && state.trials + job.trials.size() > kTrialsOnPage) state.write(nullptr);
    const std::string id = "j" + std::to_string(state.jobsBefore + ++state.jobs);
    state.trials += job.trials.size();
    for (const ReviewedTrial& trial : job.trials) state.photos += trial.reading.photos.size();
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
