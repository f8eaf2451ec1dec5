#include <algorithm>
#include <cmath>

#include "report/embedded.h"
#include "shimsight/advice_start.h"
#include "shimsight/advice_words.h"
#include "shimsight/draw_svg.h"
#include "shimsight/html.h"
#include "shimsight/report.h"
#include "shimsight/review_words.h"
#include "shimsight/words.h"

namespace shimsight {
namespace {

constexpr std::size_t kMaxPhotos = 4;

std::string esc(std::string_view text) { return escapedHtml(text); }
std::string words(const std::string& text) { return escapedHtml(tied(text)); }
std::string dash(const std::string& html) { return html.empty() ? "\xE2\x80\x93" : html; }

/// A result and what it says: id of an entry.
struct Mark {
    const char* tone;
    const char* said;
};

Mark markOf(JudgedAs result) {
    switch (result) {
        case JudgedAs::Pass:
            return {"pass", "report.pass"};
        case JudgedAs::Fail:
            return {"fail", "report.fail"};
        case JudgedAs::NoLimitKnown:
            break;
    }
    return {"none", "report.no-limit-known"};
}

std::string markHtml(const Mark& mark) {
    return std::string("<span class=\"mark ") + mark.tone + "\">" + say(mark.said) + "</span>";
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
        for (const std::string& source : sources_)
            text += "<li>" + say("report.source", words(capital(source))) + "</li>";
        return text + "</ol>";
    }

private:
    std::vector<std::string> sources_;
};

/// `title`, here and below: id of an entry. No entry of this topic holds a sign that HTML reads.
std::string section(const char* title, const std::string& body, const char* kind = "") {
    return std::string("<section") + (*kind != 0 ? " class=\"" + std::string(kind) + "\"" : "") + "><h2>" + say(title) +
           "</h2>" + body + "</section>\n";
}

std::string dimParagraph(const char* said) { return "<p class=\"dim\">" + say(said) + "</p>"; }

std::string tableHtml(const char* kind, std::initializer_list<const char*> headings, const std::string& rows) {
    std::string html = std::string("<table class=\"") + kind + "\"><thead><tr>";
    for (const char* heading : headings)
        html += *heading == 0 ? std::string("<th></th>") : "<th scope=\"col\">" + say(heading) + "</th>";
    return html + "</tr></thead><tbody>" + rows + "</tbody></table>";
}

/// "drive side", at the beginning of a line.
std::string sideTitle(Side side) { return say(side == Side::Drive ? "report.drive-side" : "report.coast-side"); }

std::string factsHtml(const JobRecord& job) {
    const GearSetData& set = job.gearSet.data;
    std::string html = "<ul class=\"facts\">";
    const auto fact = [&](const char* label, const std::string& value) {
        if (!value.empty()) html += "<li><span>" + say(label) + "</span>" + value + "</li>";
    };
    fact("report.for", esc(job.customer));
    fact("report.set-up-by", esc(job.setUpBy));
    fact("report.gear-set", esc(set.name));
    fact("report.teeth", say("report.teeth-and-ratio", set.ringTeeth, set.pinionTeeth,
                             formatted("%.2f", static_cast<double>(set.ringTeeth) / set.pinionTeeth)));
    fact("report.ring-gear",
         words(formatted("%.2f in (%.0f mm)", Length::fromMm(set.ringGearDiameterMm).inch(), set.ringGearDiameterMm)));
    fact("report.work", say(job.build == BuildKind::NewGears    ? "report.new-gears"
                            : job.build == BuildKind::UsedGears ? "report.used-gears"
                                                                : "report.check-only"));
    fact("report.bearings", say(job.bearings == Bearings::New ? "report.new" : "report.used"));
    if (job.spacer != PinionSpacer::NotSaid)
        fact("report.pinion-spacer",
             say(job.spacer == PinionSpacer::CrushSleeve ? "report.crush-sleeve" : "report.solid-spacer"));
    fact("report.begun", esc(dateText(job.createdAt)));
    return html + "</ul>";
}

const ReviewedTrial* reviewedOf(const ReviewedJob& reviewed, const std::string& id) {
    for (const ReviewedTrial& trial : reviewed.trials)
        if (trial.id == id) return &trial;
    return nullptr;
}

std::string photosHtml(const ReviewedTrial& trial) {
    std::string html;
    std::size_t count = 0;
    for (const Side side : kSides)
        for (const KeptPhoto& photo : trial.kept.photos)
            if (photo.side() == side && !photo.picture.empty() && count < kMaxPhotos) {
                ++count;
                html += formatted("<figure><img width=\"%d\" height=\"%d\" alt=\"", photo.width, photo.height) +
                        say(side == Side::Drive ? "report.photo-of-drive-side" : "report.photo-of-coast-side") +
                        "\" src=\"" + jpegDataUri(photo.picture) + "\"></figure>";
            }
    return html;
}

std::string patternHtml(const JobRecord& job, const TrialEntry& trial, const ReviewedJob& reviewed) {
    const ReviewedTrial* seen = reviewedOf(reviewed, trial.stamp.id);
    const AcceptanceRule zone = completeGearSet(job.gearSet.data).limits.acceptance;
    std::string html = "<div class=\"pattern\">";
    for (const Side side : kSides) {
        const auto& pattern = side == Side::Drive ? trial.reading->drive : trial.reading->coast;
        const std::string name = sideTitle(side);
        html += "<figure><figcaption><b>" + name + "</b>";
        if (!pattern) {
            html += "</figcaption>" + dimParagraph("report.side-not-read") + "</figure>";
            continue;
        }
        html += ": " + esc(placeText(*pattern)) + "<br>" + say("report.centre", words(centreWithErrorText(*pattern))) +
                "</figcaption>";
        SvgSketch sketch;
        sketch.title = say(side == Side::Drive ? "report.drive-side-final" : "report.coast-side-final");
        if (seen != nullptr && seen->kept.sides[index(side)]) sketch.map = &seen->kept.sides[index(side)]->map;
        sketch.pattern = pattern;
        sketch.goodZone = zone;
        html += flankSvg(sketch) + "</figure>";
    }
    html += "</div>";
    if (const std::string photos = seen != nullptr ? photosHtml(*seen) : ""; !photos.empty())
        html += "<div class=\"photos\">" + photos + "</div>";
    html += "<p class=\"note\">" + say("report.how-to-read-the-sketch") + "</p>";
    if (!trial.reading->advice) return html;
    const Headline headline = headlineOf(*trial.reading->advice, completeGearSet(job.gearSet.data));
    html += "<p><b>" + say("report.the-reading-says") + "</b> " + words(headline.lead) + "</p>";
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
        rows += "<tr><th scope=\"row\">" + say(label) + "</th><td class=\"value\">" + dash(value) +
                "</td><td class=\"dim\">" + more + "</td></tr>";
    };
    const GearSet set = completeGearSet(job.gearSet.data);
    if (final != nullptr) {
        row("report.pinion-shims", final->shimStackMm ? words(lengthText(*final->shimStackMm)) : "",
            set.given.pinionShim ? esc(shimPlaceText(set.build.pinionShim)) : std::string());
        std::optional<double> backlash = final->backlashMm;
        if (!backlash && !final->backlashRound.empty()) backlash = meanOf(final->backlashRound);
        row("report.backlash", backlash ? words(lengthText(*backlash)) : "",
            say(final->dial == DialReading::SquareToTooth  ? "report.dial-square"
                : final->dial == DialReading::SquareAtHeel ? "report.dial-at-heel"
                                                           : "report.dial-along-circle"));
    }
    const auto lastOf = [](const auto& entries) {
        const auto found =
            std::find_if(entries.rbegin(), entries.rend(), [](const auto& e) { return e.stamp.counts(); });
        return found == entries.rend() ? nullptr : &*found;
    };
    if (const PreloadEntry* preload = lastOf(job.preloads)) {
        row("report.pinion-torque", words(formatTorque(preload->torqueNm)),
            say(preload->withOilSeal ? "report.with-oil-seal" : "report.without-oil-seal"));
        if (preload->stackMm)
            row("report.preload-shims", words(lengthText(*preload->stackMm)), say("report.beside-solid-spacer"));
    }
    if (const CarrierEntry* carrier = lastOf(job.carriers)) {
        if (carrier->torqueNm) row("report.carrier-torque", words(formatTorque(*carrier->torqueNm)));
        if (carrier->leftNotches || carrier->rightNotches)
            row("report.adjusters",
                say("report.notches-left-right", formatted("%+.3g", carrier->leftNotches.value_or(0)),
                    formatted("%+.3g", carrier->rightNotches.value_or(0))));
        if (carrier->leftShimsMm) row("report.carrier-shims-left", words(lengthText(*carrier->leftShimsMm)));
        if (carrier->rightShimsMm) row("report.carrier-shims-right", words(lengthText(*carrier->rightShimsMm)));
        if (carrier->spreadMm) row("report.spread", words(lengthText(*carrier->spreadMm)));
    }
    return rows.empty() ? dimParagraph("report.nothing-entered")
                        : "<table class=\"settings\"><tbody>" + rows + "</tbody></table>";
}

const char* titleOf(Judged what) {
    switch (what) {
        case Judged::PinionPreload:
            return "report.judged-pinion-preload";
        case Judged::Backlash:
            return "report.judged-backlash";
        case Judged::BacklashVariation:
            return "report.judged-backlash-variation";
        case Judged::RingGearRunout:
            return "report.judged-ring-gear-runout";
        case Judged::CarrierFlangeRunout:
            return "report.judged-carrier-flange-runout";
        case Judged::PinionFlangeRunout:
            return "report.judged-pinion-flange-runout";
        case Judged::DrivePattern:
            return "report.judged-drive-pattern";
        case Judged::CoastPattern:
            return "report.judged-coast-pattern";
        case Judged::CarrierPreload:
            return "report.judged-carrier-preload";
        case Judged::Torque:
            break;
    }
    return "report.judged-torque";
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
        rows += "<tr><th scope=\"row\">" + say(titleOf(one.what)) + "</th><td>" + words(one.sentence) +
                sources.note(one.source) + "</td><td>" + markHtml(markOf(one.result)) + "</td><td class=\"who\">" +
                (stamp != nullptr ? whoWhen(stamp->by, stamp->at) : "") + "</td></tr>";
    }
    if (rows.empty()) return dimParagraph("report.nothing-entered");
    return tableHtml("readings", {"report.reading", "report.found", "report.result", "report.by"}, rows) +
           (earlier ? "<p class=\"note\">" + say("report.last-readings-only") + "</p>" : "");
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
    if (rows.empty()) return dimParagraph("report.no-trial");
    return tableHtml("way",
                     {"report.trial", "report.shims", "report.backlash", "report.drive-centre", "report.coast-centre",
                      "report.advice"},
                     rows);
}

std::string box(CheckState state) {
    switch (state) {
        case CheckState::Done:
            return "<span class=\"box on\" role=\"img\" aria-label=\"" + say("report.box-done") +
                   "\"><svg viewBox=\"0 0 12 12\" aria-hidden=\"true\"><path d=\"M2 6.5 5 9.5 10 2.5\"/></svg></span>";
        case CheckState::NotNeeded:
            return "<span class=\"box off\" role=\"img\" aria-label=\"" + say("report.box-not-needed") +
                   "\"><svg viewBox=\"0 0 12 12\" aria-hidden=\"true\"><path d=\"M3 6H9\"/></svg></span>";
        case CheckState::Open:
            break;
    }
    return "<span class=\"box\" role=\"img\" aria-label=\"" + say("report.box-open") + "\"></span>";
}

std::string torquesHtml(const JobRecord& job, Sources& sources) {
    std::string rows;
    for (const CheckItem& item : job.checks) {
        if (item.list != CheckList::Torque) continue;
        std::string wanted, mark;
        if (item.wantedNm)
            wanted = words(item.wantedNm->low == item.wantedNm->high
                               ? formatBoltTorque(item.wantedNm->low)
                               : say("report.torque-from-to", formatBoltTorque(item.wantedNm->low),
                                     formatBoltTorque(item.wantedNm->high))) +
                     sources.note(item.wantedFrom);
        if (item.state == CheckState::Done && item.torqueNm) mark = markHtml(markOf(judgeTorque(item).result));
        if (item.state == CheckState::NotNeeded) mark = "<span class=\"dim\">" + say("report.not-needed") + "</span>";
        rows += "<tr><td>" + box(item.state) + "</td><th scope=\"row\">" + esc(item.text) +
                (item.stamp.note.empty() ? "" : "<br><span class=\"dim\">" + words(item.stamp.note) + "</span>") +
                "</th><td>" + dash(wanted) + "</td><td>" +
                dash(item.torqueNm ? words(formatBoltTorque(*item.torqueNm)) : "") + "</td><td>" + mark +
                "</td><td class=\"who\">" +
                (item.state == CheckState::Open ? "" : whoWhen(item.stamp.by, item.stamp.at)) + "</td></tr>";
    }
    if (rows.empty()) return "";
    return section(
        "report.torques",
        tableHtml("checks", {"", "report.joint", "report.wanted", "report.tightened-to", "report.result", "report.by"},
                  rows));
}

std::string assemblyHtml(const JobRecord& job) {
    std::string items;
    for (const CheckItem& item : job.checks) {
        if (item.list != CheckList::FinalAssembly) continue;
        items +=
            "<li>" + box(item.state) + "<span>" + esc(item.text) +
            (item.state == CheckState::NotNeeded ? " <span class=\"dim\">" + say("report.item-not-needed") + "</span>"
                                                 : "") +
            (item.state == CheckState::Open
                 ? ""
                 : "<br><span class=\"dim\">" +
                       esc(item.stamp.by + (item.stamp.by.empty() ? "" : ", ") + dayText(item.stamp.at)) + "</span>") +
            (item.stamp.note.empty() ? "" : "<br><span class=\"dim\">" + words(item.stamp.note) + "</span>") +
            "</span></li>";
    }
    return items.empty() ? "" : section("report.final-assembly", "<ul class=\"list\">" + items + "</ul>");
}

/// The sheet says itself that the maker's sheet comes first. A caution out of a record is its sentence alone.
bool saysMakersSheetFirst(const std::string& caution) {
    return caution == say("job.makers-sheet-first") || caution == say("advice.makers-sheet");
}

std::string cautionsHtml(const JobStatus& status, const TrialEntry* final) {
    std::vector<std::string> all{say("report.makers-sheet-rules"), say("report.check-oil-level"),
                                 say("report.running-in")};
    const auto add = [&](const std::vector<Message>& cautions) {
        for (const std::string& caution : texts(cautions))
            if (!saysMakersSheetFirst(caution) && std::find(all.begin(), all.end(), caution) == all.end())
                all.push_back(caution);
    };
    add(status.cautions);
    if (final != nullptr && final->reading && final->reading->advice &&
        final->reading->advice->verdict != Verdict::Accept)
        add(final->reading->advice->cautions);
    std::string html = "<ul class=\"plain\">";
    for (const std::string& caution : all) html += "<li>" + words(caution) + "</li>";
    return html + "</ul>";
}

std::string signHtml(const JobRecord& job) {
    std::string html;
    if (const SignOff* sign = signedOff(job)) {
        const std::string by = sign->stamp.by.empty() ? say("report.nobody-named") : sign->stamp.by;
        html += "<p>" + say("report.signed-off-by", "<b>" + esc(by) + "</b>", esc(dateText(sign->stamp.at)));
        if (!sign->stamp.note.empty()) html += " " + words(sign->stamp.note);
        html += "</p>";
        if (!sign->open.empty()) {
            std::string open;
            for (const std::string& title : sign->open) open += (open.empty() ? "" : ", ") + esc(title);
            html += "<p>" + say("report.left-open", open) + "</p>";
        }
    }
    const auto line = [](const char* label) {
        return "<div class=\"line\"><span></span><p>" + say(label) + "</p></div>";
    };
    return html + "<div class=\"lines\">" + line("report.set-up-by-date") + line("report.checked-by-date") +
           line("report.received-by-date") + "</div>";
}

}  // namespace

std::string buildSheetHtml(const JobRecord& job, const ReviewedJob& reviewed, const SheetOptions& options) {
    const TrialEntry* final = lastTrial(job);
    const JobStatus status = jobStatus(job);
    const bool isSigned = signedOff(job) != nullptr;
    std::string html =
        "<!DOCTYPE html>\n<html lang=\"en\"><head><meta charset=\"utf-8\">\n<meta name=\"viewport\" "
        "content=\"width=device-width, initial-scale=1\">\n<meta http-equiv=\"Content-Security-Policy\" "
        "content=\"default-src 'none'; img-src data:; style-src 'unsafe-inline'\">\n<title>" +
        say("report.title", esc(job.axle)) + "</title>\n<style>\n" +
        std::string(embeddedFile(report::embeddedFiles(), "sheet.css")) + std::string(sketchCss()) +
        "</style></head>\n<body><main class=\"sheet\"><header><div><p class=\"kind\">" + say("report.build-sheet") +
        "</p><h1>" + esc(job.axle.empty() ? say("report.ring-and-pinion") : job.axle) +
        "</h1></div><div class=\"state\">" +
        (isSigned ? markHtml({"pass", "report.signed-off"}) + "<p>" + esc(dateText(signedOff(job)->stamp.at)) + "</p>"
                  : markHtml({"open", "report.not-signed-off"})) +
        "</div></header>\n" + factsHtml(job);
    if (!isSigned)
        html += "<p class=\"next\"><b>" + say("report.still-to-do") + "</b> " + words(text(status.next)) + "</p>\n";
    if (final != nullptr && final->hasPattern())
        html += section(isSigned ? "report.final-pattern" : "report.last-pattern", patternHtml(job, *final, reviewed),
                        "keep");
    html += section("report.settings", settingsHtml(job, final), "keep");
    Sources sources;
    html += section("report.readings", readingsHtml(job, final, sources));
    html += section("report.way-there", wayHtml(job, reviewed), "keep");
    html += torquesHtml(job, sources);
    html += assemblyHtml(job);
    html += section("report.please-note", cautionsHtml(status, final), "keep");
    html += section("report.sign-off", signHtml(job), "keep sign");
    if (const std::string list = sources.html(); !list.empty()) html += section("report.limits-from", list, "small");
    html += "<footer><p>" +
            (options.printedAt.empty() ? say("report.footer", esc(options.folder), job.revision, esc(options.version))
                                       : say("report.footer-printed", esc(options.folder), job.revision,
                                             esc(options.version), esc(dateText(options.printedAt)))) +
            "</p></footer></main></body></html>\n";
    return html;
}

}  // namespace shimsight
