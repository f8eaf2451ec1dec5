#include <openssl/evp.h>

#include <algorithm>
#include <array>
#include <cctype>
#include <cmath>

#include "review/page_parts.h"
#include "shimsight/advice_words.h"
#include "shimsight/draw_svg.h"
#include "shimsight/files.h"
#include "shimsight/review.h"
#include "shimsight/review_words.h"

namespace shimsight {
namespace {

/// Small sketches of a job's last trials in the overview.
constexpr std::size_t kStripTrials = 5;

std::string esc(std::string_view text) { return escapedHtml(text); }
/// Text with lengths in it.
std::string words(const std::string& text) { return escapedHtml(tied(text)); }

std::string baseName(const std::string& file) { return std::filesystem::path(file).filename().string(); }
std::string counted(std::size_t n, const char* one, const char* many) {
    return std::to_string(n) + " " + (n == 1 ? one : many);
}

std::string photoName(const ReadPhoto& photo) {
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
        pills.push_back({"good", "Pattern is right"});
    else if (job.hasRecord)
        pills.push_back({"", "Not finished"});
    else if (!job.trials.back().advice)
        pills.push_back({"", anythingRead(job) ? "Pattern only" : "Not read"});
    else
        pills.push_back({"", "To be changed"});
    if (job.looksWrong()) pills.push_back({"bad", "Something looks wrong"});
    if (job.againstAdvice()) pills.push_back({"warn", "Done against advice"});
    if (job.sideMissing()) pills.push_back({"warn", "Side missing"});
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
    std::vector<const ReadPhoto*> shown;
    for (const Side side : kSides) {
        const auto found = std::find_if(photos.begin(), photos.end(), [&](const ReadPhoto& photo) {
            return photo.side() == side && !photo.thumbnail.empty();
        });
        if (found != photos.end()) shown.push_back(&*found);
    }
    for (const ReadPhoto& photo : photos)
        if (shown.size() < 2 && !photo.thumbnail.empty() &&
            std::find(shown.begin(), shown.end(), &photo) == shown.end())
            shown.push_back(&photo);
    for (const ReadPhoto* photo : shown) html += "<img src=\"" + jpegDataUri(photo->thumbnail) + "\" alt=\"\">";
    for (std::size_t k = shown.size(); k < 2; ++k) html += "<div class=\"none\">no photo</div>";
    html += "</div><div class=\"text\"><h3>" + esc(titleOf(job)) + "</h3><p class=\"dim small\">" +
            esc(job.hasRecord ? baseName(job.name) + " \xC2\xB7 " + counted(job.trials.size(), "trial", "trials")
                              : "Photos grouped by " + job.groupedBy) +
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

std::string findingHeading(const Finding& finding) {
    if (finding.kind == "other-side") return "Photo of the other side?";
    if (finding.kind == "wrong-gear-set") return "Wrong gear set?";
    if (finding.kind == "record-differs") return "Record and photo disagree";
    if (finding.kind == "same-photo") return "The same photo twice";
    if (finding.kind == "order") return "Photos out of order";
    if (finding.kind == "entry") return "Entry and pattern disagree";
    if (finding.kind == "record") return "The record does not fit together";
    if (finding.kind == "side-missing") return "Side missing";
    if (finding.kind == "not-read") return "Not read";
    if (finding.kind == "apart") return "Kept apart";
    if (finding.kind == "against-advice") return "Done against the advice";
    return "Beyond shims";
}

std::string findingsHtml(const std::vector<Finding>& findings) {
    std::string html;
    for (const bool wrong : {true, false})
        for (const Finding& finding : findings)
            // What was done against the advice stands beside the advice.
            if (finding.looksWrong == wrong && finding.kind != "against-advice")
                html += std::string("<li class=\"") + (wrong ? "bad" : "warn") + "\"><b>" +
                        esc(findingHeading(finding)) + "</b>" + words(finding.text) + "</li>";
    return html.empty() ? "" : "<ul class=\"notes\">" + html + "</ul>";
}

std::string photoHtml(const ReadPhoto& photo, const std::string& trialName) {
    std::string html = "<figure>";
    std::string seen;
    for (const Side side : kSides)
        if (photo.flanks[index(side)] > 0)
            seen += (seen.empty() ? "" : ", ") + std::to_string(photo.flanks[index(side)]) + " " + sideText(side) +
                    (photo.flanks[index(side)] == 1 ? " flank" : " flanks");
    if (!photo.picture.empty())
        html += formatted("<img loading=\"lazy\" width=\"%d\" height=\"%d\" alt=\"", photo.width, photo.height) +
                esc(trialName + ": " + (seen.empty() ? "nothing read" : seen + " read, contact outlined")) +
                "\" src=\"" + jpegDataUri(photo.picture) + "\">";
    html += "<figcaption><b>" + esc(photoName(photo)) + "</b> ";
    if (photo.refused)
        html += "Not read: " + words(photo.refused->reason + " " + photo.refused->whatToDo);
    else
        html += esc(seen + " read.");
    if (photo.notCounted > 0) html += esc(formatted(" %d unlike the others.", photo.notCounted));
    if (!photo.refused && !photo.leftOut.empty()) html += " Left out: " + esc(photo.leftOut) + ".";
    return html + "</figcaption></figure>";
}

std::string sketchHtml(const ReviewedJob& job, const ReviewedTrial& trial, Side side) {
    const auto& read = trial.reading.sides[index(side)];
    const std::string name = capital(sideText(side)) + " side";
    if (!read)
        return "<figure><figcaption><b>" + name + "</b></figcaption><div class=\"none\">" + esc(name) +
               " not read</div></figure>";
    SvgSketch sketch;
    sketch.title = name + " of trial " + trial.label + ": pattern at " + placeText(read->pattern);
    sketch.map = &read->map;
    sketch.pattern = read->pattern;
    sketch.goodZone = zoneOf(job);
    if (trial.advice && hasMove(*trial.advice))
        sketch.expected = side == Side::Drive ? trial.advice->expectedDrive : trial.advice->expectedCoast;
    return "<figure><figcaption><b>" + name + ":</b> " + esc(placeText(read->pattern)) +
           (trial.drawn[index(side)] ? " (drawn by hand)" : "") + "<br><span class=\"dim\">centre " +
           words(centreWithErrorText(read->pattern)) + "</span></figcaption>" + flankSvg(sketch) + "</figure>";
}

/// How sure the advice is, by shape, colour and word.
Pill certaintyPill(const Advice& advice) {
    if (advice.stop) return {"bad", "Stop"};
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

std::string adviceStep(const ReviewedJob& job, const ReviewedTrial& trial) {
    std::string html = "<div class=\"step\"><h4>Advice</h4>";
    if (!trial.advice)
        return html + "<p class=\"main\">None</p><p class=\"dim\">" +
               (job.gearSet ? "No pattern was read." : "No gear set was given.") + "</p></div>";
    const Advice& advice = *trial.advice;
    html += "<p class=\"main\">" + words(shortAdvice(advice)) + "</p>" + pillHtml(certaintyPill(advice));
    if (advice.verdict == Verdict::MeasureAgain && !hasMove(advice))
        return html + "<p class=\"dim\">See the reasons below.</p></div>";
    html += "<p>Depth error: " + words(depthErrorText(advice.depthErrorMm)) +
            "<br><span class=\"dim\">90 % interval: " + words(depthIntervalText(advice.depthErrorMm)) +
            "</span></p><p>";
    if (advice.verdict == Verdict::Accept)
        html += "Chance that it is right: " + words(percentText(advice.chanceAcceptableNow));
    else
        html += "Chance that the next pattern is right: " + words(percentText(advice.chanceAcceptableNext)) +
                " <span class=\"dim\">(as it is: " + words(percentText(advice.chanceAcceptableNow)) + ")</span>";
    return html + "</p></div>";
}

std::string doneStep(const ReviewedTrial& trial, bool last) {
    if (!trial.next)
        return std::string("<div class=\"step\"><h4>Done next</h4><p class=\"dim\">") +
               (last ? "Nothing yet." : "Not said.") + "</p></div>";
    const DoneNext& next = *trial.next;
    std::string html = "<div class=\"step\"><h4>Done next</h4><p class=\"main\">" + words(capital(next.words)) + "</p>";
    if (next.as) {
        Pill pill{"good", "As advised"};
        switch (*next.as) {
            case DoneAs::AsAdvised:
                break;
            case DoneAs::LessThanAdvised:
                pill = {"warn", "Less than advised"};
                break;
            case DoneAs::MoreThanAdvised:
                pill = {"warn", "More than advised"};
                break;
            case DoneAs::OtherWayRound:
                pill = {"bad", "The other way round"};
                break;
            case DoneAs::OtherThanAdvised:
                pill = {"warn", "Other than advised"};
                break;
            case DoneAs::NotAdvised:
                pill = {"warn", "Not advised"};
                break;
        }
        html += pillHtml(pill);
    }
    if (!next.note.empty() && next.note != next.words) html += "<p class=\"dim\">" + words(next.note) + "</p>";
    return html + "</div>";
}

std::string helpedStep(const ReviewedTrial& trial) {
    std::string html = "<div class=\"step\"><h4>Did it help?</h4>";
    if (!trial.helped) return html + "<p class=\"dim\">Not known.</p></div>";
    switch (*trial.helped) {
        case Helped::Yes:
            return html + "<p class=\"main\">Yes</p></div>";
        case Helped::No:
            return html + "<p class=\"main\">No, worse</p></div>";
        case Helped::NoClearChange:
            return html + "<p class=\"main\">No clear change</p></div>";
    }
    return html + "</div>";
}

std::string numbersHtml(const ReviewedTrial& trial) {
    std::string html =
        "<div class=\"scroll\"><table><thead><tr><th scope=\"col\">Measured</th><th scope=\"col\">Drive "
        "side</th><th scope=\"col\">Coast side</th></tr></thead><tbody>";
    const auto row = [&](const char* label, const auto& value) {
        html += std::string("<tr><th scope=\"row\">") + label + "</th>";
        for (const Side side : kSides) {
            const auto& read = trial.reading.sides[index(side)];
            html += "<td>" + (read ? words(value(read->pattern)) : std::string("\xE2\x80\x93")) + "</td>";
        }
        html += "</tr>";
    };
    row("Centre, toe to heel / root to tip", [](const Pattern& p) { return centreWithErrorText(p); });
    row("Length, of the face width", [](const Pattern& p) { return formatted("%.0f %%", 100 * p.length); });
    row("Height, of the tooth depth", [](const Pattern& p) { return formatted("%.0f %%", 100 * p.height); });
    row("Marked area", [](const Pattern& p) { return formatted("%.0f %%", 100 * p.area); });
    row("Tilt, + heel end nearer the tip",
        [](const Pattern& p) { return formatted("%+.0f\xC2\xB0", p.tiltDeg + 0.0); });
    row("Runs off", [](const Pattern& p) { return runsOffText(p.runsOff); });
    row("Teeth read", [](const Pattern& p) { return std::to_string(p.teeth); });
    return html + "</tbody></table></div>";
}

std::string listHtml(const std::vector<std::string>& items) {
    std::string html = "<ul>";
    for (const std::string& item : items) html += "<li>" + words(item) + "</li>";
    return html + "</ul>";
}

/// The advice in full, as every other place tells it.
std::string headlineHtml(const ReviewedJob& job, const Advice& advice) {
    if (!job.gearSet) return {};
    const Headline headline = headlineOf(advice, *job.gearSet);
    std::string html = "<h4>What to do</h4><p>" + words(headline.lead) + "</p>";
    if (!headline.lookFirst.empty()) html += "<h4>Look at this first</h4>" + listHtml(headline.lookFirst);
    if (!headline.steps.empty()) html += "<h4>How</h4>" + listHtml(headline.steps);
    return html + "<h4>How sure</h4><p>" + words(headline.howSure) + "</p>";
}

std::string trialHtml(const ReviewedJob& job, const ReviewedTrial& trial, bool last) {
    const std::string name = job.hasRecord ? "Trial " + trial.label : trial.label;
    std::string html = "<article class=\"trial\">";
    std::string facts;
    const auto fact = [&](const std::string& text) { facts += (facts.empty() ? "" : " \xC2\xB7 ") + text; };
    if (!trial.at.empty() && trial.at != trial.label) fact(esc(dateText(trial.at)));
    if (trial.shimStackMm) fact("shims " + words(lengthText(*trial.shimStackMm)));
    if (trial.backlashMm) fact("backlash " + words(lengthText(*trial.backlashMm)));
    if (job.hasRecord) html += "<header><h3>" + esc(name) + "</h3><p class=\"dim small\">" + facts + "</p></header>";
    if (!trial.changed.empty() || !trial.why.empty())
        html += "<p class=\"small dim\">" +
                words(trial.changed + (trial.changed.empty() || trial.why.empty() ? "" : " ") + trial.why) + "</p>";
    html += findingsHtml(trial.findings) + "<div class=\"body\"><div class=\"photos\">";
    for (const ReadPhoto& photo : trial.reading.photos) html += photoHtml(photo, name);
    if (trial.reading.photos.empty()) html += "<p class=\"dim small\">No photos.</p>";
    html += "</div><div class=\"sketches\">";
    for (const Side side : kSides) html += sketchHtml(job, trial, side);
    html += "</div></div><div class=\"steps\">" + adviceStep(job, trial);
    if (job.hasRecord) html += doneStep(trial, last) + helpedStep(trial);
    html += "</div>";
    if (trial.reading.anythingRead()) {
        html += "<details><summary>Numbers, reasons and cautions</summary>" + numbersHtml(trial);
        if (trial.advice) html += headlineHtml(job, *trial.advice);
        if (trial.advice && !trial.advice->because.empty()) html += "<h4>Why</h4>" + listHtml(trial.advice->because);
        if (trial.advice && !trial.advice->cautions.empty())
            html += "<h4>Take care</h4>" + listHtml(trial.advice->cautions);
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
        const std::string name = capital(sideText(side)) + " side";
        html += "<figure><figcaption><b>" + name + "</b>, centre of the pattern from trial to trial</figcaption>" +
                patternPathSvg(name + ": centre of the pattern over " + std::to_string(stops.size()) + " trials", stops,
                               zoneOf(job)) +
                "</figure>";
    }
    return html.empty() ? "" : "<div class=\"path\">" + html + "</div>";
}

std::string jobHtml(const ReviewedJob& job, const std::string& id) {
    std::string html = "<section class=\"job\" id=\"" + id + "\" data-flags=\"" + flagsOf(job) + "\" data-text=\"" +
                       esc(searchText(job)) + "\" aria-labelledby=\"" + id + "h\"><header><div><h2 id=\"" + id +
                       "h\">" + esc(titleOf(job)) + "</h2><ul class=\"facts\">";
    const auto fact = [&](const char* label, const std::string& value) {
        if (!value.empty()) html += std::string("<li><span>") + label + "</span> " + esc(value) + "</li>";
    };
    fact("Folder", job.name);
    fact("Gear set", job.gearSetName);
    fact("For", job.customer);
    fact("Set up by", job.setUpBy);
    if (!job.hasRecord) fact("Grouped by", job.groupedBy);
    html += "</ul></div>" + pillsHtml(job) + "</header>";
    if (!job.next.empty()) html += "<p class=\"next\"><b>Next:</b> " + words(job.next) + "</p>";
    html += findingsHtml(job.findings) + pathHtml(job);
    for (std::size_t k = 0; k < job.trials.size(); ++k)
        html += trialHtml(job, job.trials[k], k + 1 == job.trials.size());
    return html + "</section>\n";
}

constexpr std::string_view kLegend =
    "<p class=\"legend\"><span><svg viewBox=\"0 0 38 20\" aria-hidden=\"true\"><rect class=\"fk-mark\" x=\"4\" y=\"3\" "
    "width=\"30\" height=\"14\" rx=\"7\"/></svg>contact as measured</span><span><svg viewBox=\"0 0 38 20\" "
    "aria-hidden=\"true\"><rect x=\"9\" y=\"0\" width=\"20\" height=\"20\" rx=\"3\" class=\"fk-steel\"/><path "
    "class=\"fk-halo\" "
    "d=\"M12 10H26M19 3V17\"/><path class=\"fk-cross\" d=\"M12 10H26M19 3V17\"/></svg>its centre</span><span><svg "
    "viewBox=\"0 0 38 20\" aria-hidden=\"true\"><rect class=\"fk-zone\" x=\"3\" y=\"3\" width=\"32\" "
    "height=\"14\"/></svg>where the centre should lie</span><span><svg viewBox=\"0 0 38 20\" "
    "aria-hidden=\"true\"><rect "
    "class=\"fk-next\" x=\"3\" y=\"3\" width=\"32\" height=\"14\" rx=\"7\"/></svg>to expect after the advised "
    "change</span></p>\n";

}  // namespace

std::string jpegDataUri(const std::vector<std::uint8_t>& bytes) {
    std::string text(4 * ((bytes.size() + 2) / 3) + 1, '\0');
    const int length =
        EVP_EncodeBlock(reinterpret_cast<unsigned char*>(text.data()), bytes.data(), static_cast<int>(bytes.size()));
    text.resize(static_cast<std::size_t>(length));
    return "data:image/jpeg;base64," + text;
}

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
            "'unsafe-inline'\">\n<title>Pattern review</title>\n<style>\n";
        html += review::kPageCss;
        html += sketchCss();
        html +=
            "</style></head>\n<body><header class=\"top\"><div class=\"wrap\"><div><p class=\"brand\">Shimsight</p>"
            "<h1>Pattern review</h1></div><p class=\"dim\">" +
            counted(jobs, "job", "jobs") + " \xC2\xB7 " + counted(trials, "trial", "trials") + " \xC2\xB7 " +
            counted(photos, "photo", "photos");
        if (page > 1 || !last) html += " on page " + std::to_string(page) + (last ? " of " + std::to_string(page) : "");
        html += "</p></div></header>\n<div class=\"bar\" hidden><div class=\"wrap\">";
        const auto button = [&](const char* filter, const char* label, std::size_t count) {
            html += std::string("<button type=\"button\" data-filter=\"") + filter + "\" aria-pressed=\"false\">" +
                    label + "<b>" + std::to_string(count) + "</b></button>";
        };
        button("", "All", jobs);
        button("wrong", "Looks wrong", flagged[0]);
        button("against", "Against advice", flagged[1]);
        button("missing", "Side missing", flagged[2]);
        button("open", "Not finished", flagged[3]);
        html +=
            "<input type=\"search\" aria-label=\"Search axle, folder, gear set or name\" placeholder=\"Search\">"
            "</div></div>\n<main><div class=\"wrap\"><ol class=\"cards\">\n";
        html += cards;
        html += "</ol>\n<p id=\"none\" class=\"dim\" hidden>No job fits this choice.</p>\n";
        html += kLegend;
        html += details;
        if (last && !summary->leftOut.empty()) {
            html += "<section class=\"job left\" id=\"left-out\"><h2>Left out</h2><ul>";
            for (const LeftOut& out : summary->leftOut)
                html += "<li><b>" + esc(out.file) + "</b>: " + words(out.reason) + "</li>";
            html += "</ul></section>\n";
        }
        if (page > 1 || !last) {
            html += "<nav class=\"pages\" aria-label=\"Pages\">";
            if (page > 1) html += "<a href=\"" + esc(pageFile(page - 1).filename().string()) + "\">Page before</a>";
            if (!last) html += "<a href=\"" + esc(pageFile(page + 1).filename().string()) + "\">Next page</a>";
            html += "</nav>\n";
        }
        html +=
            "</div></main>\n<footer class=\"foot\"><div class=\"wrap\"><p>The maker's sheet for the axle comes first: "
            "torque, preload, limits. Support the axle on stands, keep fingers out of teeth and bearings while "
            "anyone turns the gears.</p><p>Centres are told in percent from toe to heel and from root to tip, "
            "with two standard errors. Depth and backlash in inches, millimetres in "
            "brackets.</p></div></footer>\n<script>";
        html += review::kPageScript;
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
