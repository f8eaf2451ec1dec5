#include <algorithm>
#include <cmath>

#include "report/sheet_css.h"
#include "shimsight/advice_start.h"
#include "shimsight/advice_words.h"
#include "shimsight/draw_svg.h"
#include "shimsight/report.h"
#include "shimsight/review_words.h"

namespace shimsight {
namespace {

constexpr std::size_t kMostPhotos = 4;

std::string esc(std::string_view text) { return escapedHtml(text); }
std::string words(const std::string& text) { return escapedHtml(tied(text)); }
std::string dash(const std::string& html) { return html.empty() ? "\xE2\x80\x93" : html; }

struct Mark {
    const char* tone;
    const char* text;
};

Mark markOf(JudgedAs result) {
    switch (result) {
        case JudgedAs::Pass:
            return {"pass", "Pass"};
        case JudgedAs::Fail:
            return {"fail", "Fail"};
        case JudgedAs::NoLimitKnown:
            break;
    }
    return {"none", "No limit known"};
}

std::string markHtml(const Mark& mark) {
    return std::string("<span class=\"mark ") + mark.tone + "\">" + mark.text + "</span>";
}

/// "9 March 2026": the hour matters in the record, not on the sheet.
std::string dayText(const std::string& at) {
    const std::string text = dateText(at);
    return text.substr(0, text.find(','));
}

std::string whoWhen(const std::string& by, const std::string& at) {
    std::string html = esc(by);
    if (!at.empty())
        html += (html.empty() ? "" : "<br>") + std::string("<span class=\"dim\">") + esc(dayText(at)) + "</span>";
    return html;
}

/// Who entered it and when; looks through all kinds of entries.
const JobStamp* stampOf(const JobRecord& job, const std::string& id) {
    const auto in = [&](const auto& entries) -> const JobStamp* {
        for (const auto& entry : entries)
            if (entry.stamp.id == id) return &entry.stamp;
        return nullptr;
    };
    for (const JobStamp* stamp :
         {in(job.runouts), in(job.preloads), in(job.backlashes), in(job.carriers), in(job.trials), in(job.checks)})
        if (stamp != nullptr) return stamp;
    return nullptr;
}

/// Numbers the sources as they are first named.
class Sources {
public:
    std::string note(const std::string& source) {
        if (source.empty()) return "";
        auto at = std::find(sources_.begin(), sources_.end(), source);
        if (at == sources_.end()) at = sources_.insert(sources_.end(), source);
        return "<sup>" + std::to_string(at - sources_.begin() + 1) + "</sup>";
    }
    std::string html() const {
        if (sources_.empty()) return "";
        std::string text = "<ol class=\"sources\">";
        for (const std::string& source : sources_) text += "<li>" + words(capital(source)) + ".</li>";
        return text + "</ol>";
    }

private:
    std::vector<std::string> sources_;
};

std::string section(const char* title, const std::string& body, const char* kind = "") {
    return std::string("<section") + (*kind != 0 ? " class=\"" + std::string(kind) + "\"" : "") + "><h2>" + title +
           "</h2>" + body + "</section>\n";
}

std::string factsHtml(const JobRecord& job) {
    const GearSetData& set = job.gearSet.data;
    std::string html = "<ul class=\"facts\">";
    const auto fact = [&](const char* label, const std::string& value) {
        if (!value.empty()) html += std::string("<li><span>") + label + "</span>" + value + "</li>";
    };
    fact("For", esc(job.customer));
    fact("Set up by", esc(job.setUpBy));
    fact("Gear set", esc(set.name));
    fact("Teeth", formatted("%d and %d, ratio %.2f", set.ringTeeth, set.pinionTeeth,
                            static_cast<double>(set.ringTeeth) / set.pinionTeeth));
    fact("Ring gear",
         words(formatted("%.2f in (%.0f mm)", Length::fromMm(set.ringGearDiameterMm).inch(), set.ringGearDiameterMm)));
    fact("Work", job.build == BuildKind::NewGears    ? "new ring and pinion"
                 : job.build == BuildKind::UsedGears ? "used gears, old wear matched"
                                                     : "check only");
    fact("Bearings", job.bearings == Bearings::New ? "new" : "used");
    if (job.spacer != PinionSpacer::NotSaid)
        fact("Pinion spacer", job.spacer == PinionSpacer::CrushSleeve ? "crush sleeve" : "solid spacer");
    fact("Begun", esc(dateText(job.createdAt)));
    return html + "</ul>";
}

const ReviewedTrial* reviewedOf(const ReviewedJob& reviewed, const std::string& id) {
    for (const ReviewedTrial& trial : reviewed.trials)
        if (trial.id == id) return &trial;
    return nullptr;
}

std::string patternHtml(const JobRecord& job, const TrialEntry& trial, const ReviewedJob& reviewed) {
    const ReviewedTrial* seen = reviewedOf(reviewed, trial.stamp.id);
    const AcceptanceRule zone = completeGearSet(job.gearSet.data).limits.acceptance;
    std::string html = "<div class=\"pattern\">";
    for (const Side side : kSides) {
        const auto& pattern = side == Side::Drive ? trial.reading->drive : trial.reading->coast;
        const std::string name = capital(sideText(side)) + " side";
        html += "<figure><figcaption><b>" + name + "</b>";
        if (!pattern) {
            html += "</figcaption><p class=\"dim\">Not read.</p></figure>";
            continue;
        }
        html +=
            ": " + esc(placeText(*pattern)) + "<br>centre " + words(centreWithErrorText(*pattern)) + "</figcaption>";
        SvgSketch sketch;
        sketch.title = name + ", final pattern";
        if (seen != nullptr && seen->reading.sides[index(side)]) sketch.map = &seen->reading.sides[index(side)]->map;
        sketch.pattern = pattern;
        sketch.goodZone = zone;
        html += flankSvg(sketch) + "</figure>";
    }
    html += "</div>";
    std::string photos;
    if (seen != nullptr) {
        std::size_t count = 0;
        for (const Side side : kSides)
            for (const ReadPhoto& photo : seen->reading.photos)
                if (photo.side() == side && !photo.picture.empty() && count < kMostPhotos) {
                    ++count;
                    photos += formatted("<figure><img width=\"%d\" height=\"%d\" alt=\"Photo of the ", photo.width,
                                        photo.height) +
                              sideText(side) + " side, contact outlined\" src=\"" + jpegDataUri(photo.picture) +
                              "\"></figure>";
                }
    }
    if (!photos.empty()) html += "<div class=\"photos\">" + photos + "</div>";
    html +=
        "<p class=\"note\">Centre in percent from toe to heel and from root to tip, with two standard errors. Dashed "
        "box: where the centre should lie. Cross: the centre as measured.";
    html += "</p>";
    if (!trial.reading->advice) return html;
    const Headline headline = headlineOf(*trial.reading->advice, completeGearSet(job.gearSet.data));
    html += "<p><b>The reading says:</b> " + words(headline.lead) + "</p>";
    if (trial.reading->advice->verdict != Verdict::Accept) {
        for (const std::string& sentence : headline.lookFirst) html += "<p>" + words(sentence) + "</p>";
        for (const std::string& sentence : headline.steps) html += "<p>" + words(sentence) + "</p>";
        html += "<p>" + words(headline.howSure) + "</p>";
    }
    return html;
}

std::string settingsHtml(const JobRecord& job, const TrialEntry* final) {
    std::string rows;
    const auto row = [&](const char* label, const std::string& value, const std::string& more = "") {
        rows += std::string("<tr><th scope=\"row\">") + label + "</th><td class=\"value\">" + dash(value) +
                "</td><td class=\"dim\">" + more + "</td></tr>";
    };
    const GearSet set = completeGearSet(job.gearSet.data);
    if (final != nullptr) {
        row("Pinion shims", final->shimStackMm ? words(lengthText(*final->shimStackMm)) : "",
            set.given.pinionShim ? esc(shimPlaceText(set.build.pinionShim)) : std::string());
        std::optional<double> backlash = final->backlashMm;
        if (!backlash && !final->backlashRound.empty()) backlash = meanOf(final->backlashRound);
        row("Backlash", backlash ? words(lengthText(*backlash)) : "",
            final->dial == DialReading::SquareToTooth ? "dial square to the tooth"
                                                      : "dial along the circle at the heel");
    }
    const auto lastOf = [](const auto& entries) {
        const auto found =
            std::find_if(entries.rbegin(), entries.rend(), [](const auto& e) { return e.stamp.counts(); });
        return found == entries.rend() ? nullptr : &*found;
    };
    if (const PreloadEntry* preload = lastOf(job.preloads)) {
        row("Pinion turning torque", words(formatTorque(preload->torqueNm)),
            preload->withOilSeal ? "with oil seal" : "without oil seal");
        if (preload->stackMm) row("Preload shims", words(lengthText(*preload->stackMm)), "beside the solid spacer");
    }
    if (const CarrierEntry* carrier = lastOf(job.carriers)) {
        if (carrier->torqueNm) row("Turning torque with carrier", words(formatTorque(*carrier->torqueNm)));
        if (carrier->leftNotches || carrier->rightNotches)
            row("Adjusters past zero play",
                formatted("left %+.3g, right %+.3g notches", carrier->leftNotches.value_or(0),
                          carrier->rightNotches.value_or(0)));
        if (carrier->leftShimsMm) row("Carrier shims, left", words(lengthText(*carrier->leftShimsMm)));
        if (carrier->rightShimsMm) row("Carrier shims, right", words(lengthText(*carrier->rightShimsMm)));
        if (carrier->spreadMm) row("Spread", words(lengthText(*carrier->spreadMm)));
    }
    return rows.empty() ? "<p class=\"dim\">Nothing entered yet.</p>"
                        : "<table class=\"settings\"><tbody>" + rows + "</tbody></table>";
}

std::string readingsHtml(const JobRecord& job, const TrialEntry* final, Sources& sources) {
    // The last reading of each kind is the one that the axle leaves with.
    std::vector<std::string> stale;
    const auto keepLast = [&](const auto& entries, const auto& kindOf) {
        for (std::size_t i = 0; i < entries.size(); ++i)
            for (std::size_t k = i + 1; k < entries.size(); ++k)
                if (entries[k].stamp.counts() && kindOf(entries[k]) == kindOf(entries[i])) {
                    stale.push_back(entries[i].stamp.id);
                    break;
                }
    };
    const auto same = [](const auto&) { return 0; };
    keepLast(job.runouts, [](const RunoutEntry& entry) { return entry.place; });
    keepLast(job.preloads, same);
    keepLast(job.backlashes, same);
    keepLast(job.carriers, same);
    std::string rows;
    bool earlier = false;
    for (const Judgement& one : judgeAll(job)) {
        if (std::find(stale.begin(), stale.end(), one.entryId) != stale.end()) {
            earlier = true;
            continue;
        }
        // Earlier trials are told below; torques have a table of their own.
        const TrialEntry* trial = findTrial(job, one.entryId);
        if (trial != nullptr && trial != final) continue;
        if (std::any_of(job.checks.begin(), job.checks.end(),
                        [&](const CheckItem& item) { return item.key == one.entryId; }))
            continue;
        const JobStamp* stamp = stampOf(job, one.entryId);
        rows += "<tr><th scope=\"row\">" + esc(capital(one.what)) + "</th><td>" + words(one.sentence) +
                sources.note(one.source) + "</td><td>" + markHtml(markOf(one.result)) + "</td><td class=\"who\">" +
                (stamp != nullptr ? whoWhen(stamp->by, stamp->at) : "") + "</td></tr>";
    }
    if (rows.empty()) return "<p class=\"dim\">Nothing entered yet.</p>";
    return "<table class=\"readings\"><thead><tr><th scope=\"col\">Reading</th><th scope=\"col\">Found</th><th "
           "scope=\"col\">Result</th><th scope=\"col\">By</th></tr></thead><tbody>" +
           rows + "</tbody></table>" +
           (earlier ? "<p class=\"note\">The last reading of each kind; earlier ones are in the record.</p>" : "");
}

std::string wayHtml(const JobRecord& job, const ReviewedJob& reviewed) {
    std::string rows;
    for (const ReviewedTrial& trial : reviewed.trials) {
        const TrialEntry* entry = findTrial(job, trial.id);
        if (entry == nullptr) continue;
        const auto centre = [&](Side side) {
            const auto& pattern = entry->reading ? (side == Side::Drive ? entry->reading->drive : entry->reading->coast)
                                                 : std::optional<Pattern>();
            return pattern ? words(centreWithErrorText(*pattern)) : std::string("\xE2\x80\x93");
        };
        rows +=
            "<tr><th scope=\"row\">" + esc(trial.label) + "</th><td>" +
            dash(entry->shimStackMm ? words(lengthText(*entry->shimStackMm)) : "") + "</td><td>" +
            dash(trial.backlashMm ? words(lengthText(*trial.backlashMm)) : "") + "</td><td>" + centre(Side::Drive) +
            "</td><td>" + centre(Side::Coast) + "</td><td>" +
            (entry->reading && entry->reading->advice ? words(shortAdvice(*entry->reading->advice)) : "\xE2\x80\x93") +
            "</td></tr>";
    }
    if (rows.empty()) return "<p class=\"dim\">No trial yet.</p>";
    return "<table class=\"way\"><thead><tr><th scope=\"col\">Trial</th><th scope=\"col\">Shims</th><th "
           "scope=\"col\">Backlash</th><th scope=\"col\">Drive centre</th><th scope=\"col\">Coast centre</th><th "
           "scope=\"col\">Advice</th></tr></thead><tbody>" +
           rows + "</tbody></table>";
}

std::string box(CheckState state) {
    switch (state) {
        case CheckState::Done:
            return "<span class=\"box on\" role=\"img\" aria-label=\"done\"><svg viewBox=\"0 0 12 12\" "
                   "aria-hidden=\"true\"><path "
                   "d=\"M2 6.5 5 9.5 10 2.5\"/></svg></span>";
        case CheckState::NotNeeded:
            return "<span class=\"box off\" role=\"img\" aria-label=\"not needed\"><svg viewBox=\"0 0 12 12\" "
                   "aria-hidden=\"true\"><path d=\"M3 6H9\"/></svg></span>";
        case CheckState::Open:
            break;
    }
    return "<span class=\"box\" role=\"img\" aria-label=\"open\"></span>";
}

std::string torquesHtml(const JobRecord& job, Sources& sources) {
    std::string rows;
    for (const CheckItem& item : job.checks) {
        if (item.list != CheckList::Torque) continue;
        std::string wanted, mark;
        if (item.wantedNm)
            wanted = words(item.wantedNm->low == item.wantedNm->high ? formatBoltTorque(item.wantedNm->low)
                                                                     : formatBoltTorque(item.wantedNm->low) + " to " +
                                                                           formatBoltTorque(item.wantedNm->high)) +
                     sources.note(item.wantedFrom);
        if (item.state == CheckState::Done && item.torqueNm) mark = markHtml(markOf(judgeTorque(item).result));
        if (item.state == CheckState::NotNeeded) mark = "<span class=\"dim\">not needed</span>";
        rows += "<tr><td>" + box(item.state) + "</td><th scope=\"row\">" + esc(item.text) +
                (item.stamp.note.empty() ? "" : "<br><span class=\"dim\">" + words(item.stamp.note) + "</span>") +
                "</th><td>" + dash(wanted) + "</td><td>" +
                dash(item.torqueNm ? words(formatBoltTorque(*item.torqueNm)) : "") + "</td><td>" + mark +
                "</td><td class=\"who\">" +
                (item.state == CheckState::Open ? "" : whoWhen(item.stamp.by, item.stamp.at)) + "</td></tr>";
    }
    if (rows.empty()) return "";
    return section("Torques",
                   "<table class=\"checks\"><thead><tr><th></th><th scope=\"col\">Joint</th><th "
                   "scope=\"col\">Wanted</th><th scope=\"col\">Tightened to</th><th scope=\"col\">Result</th><th "
                   "scope=\"col\">By</th></tr></thead><tbody>" +
                       rows + "</tbody></table>");
}

std::string assemblyHtml(const JobRecord& job) {
    std::string items;
    for (const CheckItem& item : job.checks) {
        if (item.list != CheckList::FinalAssembly) continue;
        items +=
            "<li>" + box(item.state) + "<span>" + esc(item.text) +
            (item.state == CheckState::NotNeeded ? " <span class=\"dim\">(not needed)</span>" : "") +
            (item.state == CheckState::Open
                 ? ""
                 : "<br><span class=\"dim\">" +
                       esc(item.stamp.by + (item.stamp.by.empty() ? "" : ", ") + dayText(item.stamp.at)) + "</span>") +
            (item.stamp.note.empty() ? "" : "<br><span class=\"dim\">" + words(item.stamp.note) + "</span>") +
            "</span></li>";
    }
    return items.empty() ? "" : section("Final assembly", "<ul class=\"list\">" + items + "</ul>");
}

std::string cautionsHtml(const JobStatus& status, const TrialEntry* final) {
    std::vector<std::string> all{
        "The maker's sheet for the axle comes first: where it says otherwise, it rules.",
        "Check the oil level after the first run, and look for leaks at seals, cover and plugs.",
        "New gears and bearings get warm at first: follow the maker's sheet for running in and for the first oil "
        "change.",
    };
    const auto add = [&](const std::vector<std::string>& sentences) {
        for (const std::string& sentence : sentences)
            if (!sentence.starts_with("The maker's sheet") && std::find(all.begin(), all.end(), sentence) == all.end())
                all.push_back(sentence);
    };
    add(status.cautions);
    if (final != nullptr && final->reading && final->reading->advice &&
        final->reading->advice->verdict != Verdict::Accept)
        add(texts(final->reading->advice->cautions));
    std::string html = "<ul class=\"plain\">";
    for (const std::string& sentence : all) html += "<li>" + words(sentence) + "</li>";
    return html + "</ul>";
}

std::string signHtml(const JobRecord& job) {
    std::string html;
    if (const SignOff* sign = signedOff(job)) {
        html += "<p>Signed off by <b>" + esc(sign->stamp.by.empty() ? "nobody named" : sign->stamp.by) + "</b> on " +
                esc(dateText(sign->stamp.at)) + ".";
        if (!sign->stamp.note.empty()) html += " " + words(sign->stamp.note);
        html += "</p>";
        if (!sign->open.empty()) {
            html += "<p>Left open at sign-off: ";
            for (std::size_t i = 0; i < sign->open.size(); ++i) html += (i > 0 ? ", " : "") + esc(sign->open[i]);
            html += ".</p>";
        }
    }
    const auto line = [](const char* label) {
        return std::string("<div class=\"line\"><span></span><p>") + label + "</p></div>";
    };
    return html + "<div class=\"lines\">" + line("Set up by, date") + line("Checked by, date") +
           line("Received by, date") + "</div>";
}

}  // namespace

std::string buildSheetHtml(const JobRecord& job, const ReviewedJob& reviewed, const SheetOptions& options) {
    const TrialEntry* final = lastTrial(job);
    const JobStatus status = jobStatus(job);
    const bool isSigned = signedOff(job) != nullptr;
    std::string html =
        "<!DOCTYPE html>\n<html lang=\"en\"><head><meta charset=\"utf-8\">\n<meta name=\"viewport\" "
        "content=\"width=device-width, initial-scale=1\">\n<meta http-equiv=\"Content-Security-Policy\" "
        "content=\"default-src 'none'; img-src data:; style-src 'unsafe-inline'\">\n<title>Build sheet: " +
        esc(job.axle) + "</title>\n<style>\n" + std::string(report::kSheetCss) + std::string(sketchCss()) +
        "</style></head>\n<body><main class=\"sheet\"><header><div><p class=\"kind\">Build sheet</p><h1>" +
        esc(job.axle.empty() ? "Ring and pinion" : job.axle) + "</h1></div><div class=\"state\">" +
        (isSigned ? "<span class=\"mark pass\">Signed off</span><p>" + esc(dateText(signedOff(job)->stamp.at)) + "</p>"
                  : std::string("<span class=\"mark open\">Not signed off</span>")) +
        "</div></header>\n" + factsHtml(job);
    if (!isSigned) html += "<p class=\"next\"><b>Still to do:</b> " + words(status.next) + "</p>\n";
    if (final != nullptr && final->hasPattern())
        html += section(isSigned ? "Final pattern" : "Pattern of the last trial", patternHtml(job, *final, reviewed),
                        "keep");
    html += section("Settings", settingsHtml(job, final), "keep");
    Sources sources;
    html += section("Readings", readingsHtml(job, final, sources));
    html += section("The way there", wayHtml(job, reviewed), "keep");
    html += torquesHtml(job, sources);
    html += assemblyHtml(job);
    html += section("Please note", cautionsHtml(status, final), "keep");
    html += section("Sign-off", signHtml(job), "keep sign");
    if (const std::string list = sources.html(); !list.empty())
        html += "<section class=\"small\"><h2>Where the limits come from</h2>" + list + "</section>\n";
    html += "<footer><p>Record " + esc(options.folder) + ", revision " + std::to_string(job.revision) +
            (options.printedAt.empty() ? "" : ", printed " + esc(dateText(options.printedAt))) +
            ". Lengths in inches, millimetres in brackets. Shimsight " + esc(options.version) +
            ", a measuring aid; patterns read from photos.</p></footer></main></body></html>\n";
    return html;
}

}  // namespace shimsight
