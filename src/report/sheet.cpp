// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>
#include <optional>
#include <string>
#include <vector>

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

/// "9 March 2026": the hour matters in the record, not on the sheet.
std::string dayText(const std::string& at) {
    const std::string text = timeWords(at);
    return text.substr(0, text.find(','));
}

/// A cell that holds nothing shows a dash.
Html orDash(const std::string& text) { return Html::text(text.empty() ? "\xE2\x80\x93" : text); }
Html dim(const std::string& text) { return Html("<span class=\"dim\">") + text + "</span>"; }
Html dimParagraph(const char* said) { return Html("<p class=\"dim\">") + say(said) + "</p>"; }
Html cell(const Html& content) { return Html::element("td", content); }
/// With its column's heading (id of an entry), which stands before it where the columns stand one below the other.
Html cellOf(const char* heading, const Html& content) {
    return Html("<td data-of=\"") + say(heading) + "\">" + content + "</td>";
}
Html rowHead(const std::string& text) { return Html("<th scope=\"row\">") + text + "</th>"; }

/// A result and what it says: id of an entry.
struct Badge {
    const char* tone;
    const char* said;
};

Badge badgeOf(JudgedAs result) {
    switch (result) {
        case JudgedAs::Pass:
            return {"pass", "report.pass"};
        case JudgedAs::Fail:
            return {"fail", "report.fail"};
        case JudgedAs::NoLimitKnown:
            break;
    }
    return {"none", "report.no-limit-given"};
}

Html badgeHtml(const Badge& badge) {
    return Html("<span class=\"mark ") + badge.tone + "\">" + say(badge.said) + "</span>";
}

Html whoWhen(const JobStamp& stamp) {
    Html html = Html::text(stamp.by);
    if (stamp.at.empty()) return html;
    if (!html.empty()) html += "<br>";
    return html + dim(dayText(stamp.at));
}

std::string byAndDay(const JobStamp& stamp) { return stamp.by + (stamp.by.empty() ? "" : ", ") + dayText(stamp.at); }

/// Whether all of them were entered by one person on one day, which is then told once. null: not entered.
bool isOneHand(const std::vector<const JobStamp*>& stamps) {
    return stamps.size() > 1 && std::all_of(stamps.begin(), stamps.end(), [&](const JobStamp* stamp) {
               return stamp != nullptr && byAndDay(*stamp) == byAndDay(*stamps.front());
           });
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

template <typename Entry>
const Entry* lastOf(const std::vector<Entry>& entries) {
    const auto found =
        std::find_if(entries.rbegin(), entries.rend(), [](const Entry& entry) { return entry.stamp.counts(); });
    return found == entries.rend() ? nullptr : &*found;
}

/// Numbers the sources as they are first named.
class Sources {
public:
    Html note(const std::string& source) {
        if (source.empty()) return {};
        auto at = std::find(sources_.begin(), sources_.end(), source);
        if (at == sources_.end()) at = sources_.insert(sources_.end(), source);
        return Html("<sup>") + std::to_string(at - sources_.begin() + 1) + "</sup>";
    }
    Html html() const {
        Html list;
        for (const std::string& source : sources_)
            list += Html::element("li", Html::text(say("report.source", tied(capital(source)))));
        return list.empty() ? list : Html("<ol class=\"sources\">") + list + "</ol>";
    }

private:
    std::vector<std::string> sources_;
};

/// `title`, here and below: id of an entry.
Html section(const char* title, const Html& body, const char* kind = "") {
    return Html("<section class=\"") + kind + "\"><h2>" + say(title) + "</h2>" + body + "</section>\n";
}

Html table(const char* kind, const std::vector<const char*>& headings, const Html& rows) {
    Html html = Html("<table class=\"") + kind + "\"><thead><tr>";
    for (const char* heading : headings) {
        if (*heading == 0)
            html += "<th></th>";
        else
            html += Html("<th scope=\"col\">") + say(heading) + "</th>";
    }
    return html + "</tr></thead><tbody>" + rows + "</tbody></table>";
}

/// Whether one person entered all that the sheet tells of, on one day, and nothing is open: it is told once, at its
/// end.
bool isAllByOneHand(const JobRecord& job) {
    std::vector<const JobStamp*> stamps;
    const auto add = [&](const auto& entries) {
        for (const auto& entry : entries)
            if (entry.stamp.counts()) stamps.push_back(&entry.stamp);
    };
    add(job.runouts);
    add(job.preloads);
    add(job.backlashes);
    add(job.carriers);
    add(job.trials);
    for (const CheckItem& item : job.checks) stamps.push_back(item.state == CheckState::Open ? nullptr : &item.stamp);
    return !job.checks.empty() && isOneHand(stamps);
}

/// The cells of a row, and who entered it and when; null: nobody yet.
struct SignedRow {
    Html cells;
    const JobStamp* stamp = nullptr;
};

/// Small print below a table.
Html noteHtml(const std::vector<std::string>& sentences) {
    std::string text;
    for (const std::string& sentence : sentences) text += (text.empty() ? "" : " ") + sentence;
    return text.empty() ? Html() : Html("<p class=\"note\">") + text + "</p>";
}

/// Who did it and when stands below where it is the same for all rows (`onceSaid`: id of an entry, null: it is told of
/// the whole sheet), else in a column. `notes` follow.
Html signedTable(const char* kind, std::vector<const char*> headings, const std::vector<SignedRow>& rows,
                 const char* onceSaid, std::vector<std::string> notes) {
    std::vector<const JobStamp*> stamps;
    for (const SignedRow& row : rows) stamps.push_back(row.stamp);
    const bool isOnce = onceSaid == nullptr || isOneHand(stamps);
    if (!isOnce)
        headings.push_back("report.by");
    else if (onceSaid != nullptr)
        notes.insert(notes.begin(), say(onceSaid, byAndDay(*stamps.front())));
    Html html;
    for (const SignedRow& row : rows) {
        html += Html("<tr>") + row.cells;
        if (!isOnce)
            html += Html("<td class=\"who\">") + (row.stamp != nullptr ? whoWhen(*row.stamp) : Html()) + "</td>";
        html += "</tr>";
    }
    return table(kind, headings, html) + noteHtml(notes);
}

Html factsHtml(const JobRecord& job) {
    const GearSetData& set = job.gearSet.data;
    Html html("<ul class=\"facts\">");
    const auto fact = [&](const char* label, const std::string& value) {
        if (!value.empty()) html += Html("<li><span>") + say(label) + "</span>" + value + "</li>";
    };
    fact("report.for", job.customer);
    fact("report.set-up-by", job.setUpBy);
    fact("report.begun", timeWords(job.createdAt));
    fact("report.gear-set", set.name);
    fact("report.teeth", say("report.teeth-and-ratio", set.ringTeeth, set.pinionTeeth,
                             formatted("%.2f", static_cast<double>(set.ringTeeth) / set.pinionTeeth)));
    fact("report.ring-gear", tied(sizeWords(set.ringGearDiameterMm)));
    fact("report.work", say("report.work-and-bearings",
                            say(job.build == BuildKind::NewGears    ? "report.new-gears"
                                : job.build == BuildKind::UsedGears ? "report.used-gears"
                                                                    : "report.check-only"),
                            say(job.bearings == Bearings::New ? "report.new-bearings" : "report.used-bearings")));
    if (const std::optional<PreloadSpacer> spacer = advisedGearSet(job).build.preloadSpacer)
        fact("report.pinion-spacer",
             say(*spacer == PreloadSpacer::CrushSleeve ? "report.crush-sleeve" : "report.solid-spacer"));
    if (set.forwardLoadSide)
        fact("report.goes-forward-on",
             say(*set.forwardLoadSide == Side::Drive ? "report.forward-on-drive" : "report.forward-on-coast"));
    return html + "</ul>";
}

const ReviewedTrial* reviewedOf(const ReviewedJob& reviewed, const std::string& id) {
    for (const ReviewedTrial& trial : reviewed.trials)
        if (trial.id == id) return &trial;
    return nullptr;
}

Html photosHtml(const ReviewedTrial& trial) {
    Html html;
    std::size_t count = 0;
    for (const Side side : kSides)
        for (const KeptPhoto& photo : trial.kept.photos)
            if (photo.side() == side && !photo.picture.empty() && count < kMaxPhotos) {
                ++count;
                html += Html::markup(
                    formatted("<figure><img width=\"%d\" height=\"%d\" alt=\"", photo.width, photo.height));
                html += say(side == Side::Drive ? "report.photo-of-drive-side" : "report.photo-of-coast-side");
                html += Html("\" src=\"") + jpegDataUri(photo.picture) + "\"></figure>";
            }
    return html;
}

Html sideHtml(const TrialEntry& trial, const ReviewedTrial* seen, Side side,
              const std::optional<AcceptanceRule>& zone) {
    const auto& pattern = side == Side::Drive ? trial.measurement->drive : trial.measurement->coast;
    Html html = Html("<figure><figcaption><b>") + text(titleOf(side)) + "</b>";
    if (!pattern) return html + "</figcaption>" + dimParagraph("report.side-not-read") + "</figure>";
    html += ": " + placeText(*pattern);
    html += "<br>";
    html += say("report.centre", tied(centreWithErrorText(*pattern)));
    html += "</figcaption>";
    SvgSketch sketch;
    sketch.title = say(side == Side::Drive ? "report.drive-side-final" : "report.coast-side-final");
    if (seen != nullptr && seen->kept.sides[index(side)]) sketch.map = &seen->kept.sides[index(side)]->map;
    sketch.pattern = pattern;
    sketch.goodZone = zone;
    return html + flankSvg(sketch) + "</figure>";
}

/// The pattern with its photos. How sure the program was of its advice is for the shop, in the record.
Html patternHtml(const JobRecord& job, const TrialEntry& trial, const ReviewedJob& reviewed) {
    const ReviewedTrial* seen = reviewedOf(reviewed, trial.stamp.id);
    Html html("<div class=\"pattern\">");
    for (const Side side : kSides) html += sideHtml(trial, seen, side, patternRuleOf(job, side));
    html += "</div>";
    if (const Html photos = seen != nullptr ? photosHtml(*seen) : Html(); !photos.empty())
        html += Html("<div class=\"photos\">") + photos + "</div>";
    html += noteHtml({say("report.how-to-read-the-sketch")});
    if (!trial.measurement->advice) return html;
    if (trial.measurement->advice->verdict == Verdict::Accept && !trial.measurement->advice->stop)
        return html + "<p>" +
               say(job.build == BuildKind::UsedGears && beforeOf(job) ? "report.pattern-left-as-before"
                                                                      : "report.pattern-left") +
               "</p>";
    return html + "<p><b>" + say("report.still-asked-for") + "</b> " + tied(leadInShort(*trial.measurement->advice)) +
           "</p>";
}

/// The rows of what was set, each with its remark.
class SettingRows {
public:
    void row(const char* label, const std::string& value, const std::string& more = "") {
        rows_ += "<tr>";
        rows_ += rowHead(say(label));
        rows_ += Html("<td class=\"value\">") + orDash(tied(value)) + "</td><td class=\"dim\">" + more + "</td></tr>";
    }
    Html html() const {
        if (rows_.empty()) return dimParagraph("report.nothing-entered");
        return Html("<table class=\"settings\"><tbody>") + rows_ + "</tbody></table>";
    }

private:
    Html rows_;
};

void addCarrier(const CarrierEntry& carrier, SettingRows& settings) {
    if (carrier.torqueNm)
        settings.row("report.carrier-torque", formatTorque(*carrier.torqueNm),
                     say(carrier.withOilSeal ? "report.with-oil-seal" : "report.without-oil-seal"));
    if (carrier.leftNotches || carrier.rightNotches)
        settings.row("report.adjusters",
                     say("report.notches-left-right", formatted("%+.3g", carrier.leftNotches.value_or(0)),
                         formatted("%+.3g", carrier.rightNotches.value_or(0))),
                     say("report.seen-along-the-pinion"));
    if (carrier.leftShimsMm)
        settings.row("report.carrier-shims-left", lengthText(*carrier.leftShimsMm),
                     say("report.seen-along-the-pinion"));
    if (carrier.rightShimsMm)
        settings.row("report.carrier-shims-right", lengthText(*carrier.rightShimsMm),
                     say("report.seen-along-the-pinion"));
    if (carrier.spreadMm) settings.row("report.spread", lengthText(*carrier.spreadMm));
}

Html settingsHtml(const JobRecord& job, const TrialEntry* final) {
    SettingRows settings;
    const GearSet set = completeGearSet(job.gearSet.data);
    if (final != nullptr) {
        settings.row("report.pinion-shims", final->shimStackMm ? lengthText(*final->shimStackMm) : "",
                     set.given.pinionShim ? placeWords(set.build.pinionShim) : std::string());
        std::optional<double> backlash = final->backlashMm;
        if (!backlash && !final->backlashRound.empty()) backlash = meanOf(final->backlashRound);
        settings.row("report.backlash", backlash ? lengthText(*backlash) : "",
                     say(final->dial == DialReading::SquareToTooth  ? "report.dial-square"
                         : final->dial == DialReading::SquareAtHeel ? "report.dial-at-heel"
                                                                    : "report.dial-along-circle"));
    }
    if (const PreloadEntry* preload = lastOf(job.preloads)) {
        settings.row("report.pinion-torque", formatTorque(preload->torqueNm),
                     say(preload->withOilSeal ? "report.with-oil-seal" : "report.without-oil-seal"));
        if (preload->stackMm)
            settings.row("report.preload-shims", lengthText(*preload->stackMm), say("report.beside-solid-spacer"));
    }
    if (const CarrierEntry* carrier = lastOf(job.carriers)) addCarrier(*carrier, settings);
    return settings.html();
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

/// Ids of readings that a later one of their kind has replaced: the last is the one that the axle leaves with.
std::vector<std::string> replacedReadings(const JobRecord& job) {
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
    return stale;
}

/// All that was judged, in the order in which it was read: the order of the work.
std::vector<Judgement> judgedInOrder(const JobRecord& job) {
    std::vector<Judgement> judged = judgeAll(job);
    const auto readAt = [&](const Judgement& one) {
        const JobStamp* stamp = stampOf(job, one.entryId);
        return stamp == nullptr ? 0 : secondsOf(stamp->at);
    };
    std::stable_sort(judged.begin(), judged.end(),
                     [&](const Judgement& a, const Judgement& b) { return readAt(a) < readAt(b); });
    return judged;
}

/// Whether it is of the readings round the ring gear, not of the one that a trial was rolled with.
bool isRoundTheGear(const JobRecord& job, const Judgement& one) {
    return one.what == Judged::Backlash &&
           std::any_of(job.backlashes.begin(), job.backlashes.end(),
                       [&](const BacklashEntry& entry) { return entry.stamp.id == one.entryId; });
}

/// What was found. A reading that no limit judges is told alone: what else its sentence says is for who sets up.
std::string foundText(const JobRecord& job, const Judgement& one) {
    if (one.result != JudgedAs::NoLimitKnown) return one.sentence;
    const auto isOf = [&](const auto& entry) { return entry.stamp.id == one.entryId; };
    if (const auto entry = std::find_if(job.runouts.begin(), job.runouts.end(), isOf); entry != job.runouts.end())
        return lengthText(entry->mm);
    if (const auto entry = std::find_if(job.preloads.begin(), job.preloads.end(), isOf); entry != job.preloads.end())
        return say("report.found-and-seal", formatTorque(entry->torqueNm),
                   say(entry->withOilSeal ? "report.with-oil-seal" : "report.without-oil-seal"));
    if (std::any_of(job.carriers.begin(), job.carriers.end(), isOf)) return say("report.found-as-set");
    return one.sentence;
}

Html readingsHtml(const JobRecord& job, const TrialEntry* final, bool allByOneHand, Sources& sources) {
    const std::vector<std::string> stale = replacedReadings(job);
    std::vector<SignedRow> rows;
    bool earlier = false, unlimited = false;
    for (const Judgement& one : judgedInOrder(job)) {
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
        unlimited = unlimited || one.result == JudgedAs::NoLimitKnown;
        rows.push_back({rowHead(say(isRoundTheGear(job, one) ? "report.judged-backlash-round" : titleOf(one.what))) +
                            cell(Html::text(tied(foundText(job, one))) + sources.note(one.source)) +
                            cell(badgeHtml(badgeOf(one.result))),
                        stampOf(job, one.entryId)});
    }
    if (rows.empty()) return dimParagraph("report.nothing-entered");
    std::vector<std::string> notes;
    if (unlimited) notes.push_back(say("report.what-no-limit-means"));
    if (earlier) notes.push_back(say("report.last-readings-only"));
    return signedTable("readings", {"report.reading", "report.found", "report.result"}, rows,
                       allByOneHand ? nullptr : "report.all-read-by", notes);
}

/// What was really done after a trial, in a cell's length.
std::string doneText(const JobRecord& job, const TrialEntry& trial) {
    std::vector<std::string> parts;
    for (const WorkEntry* work : workAfter(job, trial.stamp.id)) {
        if (work->shimChangeMm && std::abs(*work->shimChangeMm) > kNoMoveMm)
            parts.push_back(say(*work->shimChangeMm > 0 ? "report.done-added" : "report.done-taken-out",
                                lengthText(std::abs(*work->shimChangeMm))));
        else if (work->shimChangeMm)
            parts.push_back(say("report.done-shims-kept"));
        if (work->backlashMm) parts.push_back(say("report.done-backlash", lengthText(*work->backlashMm)));
    }
    if (!parts.empty()) return capital(listed(parts));
    if (!trial.measurement || !trial.measurement->advice) return "";
    const Verdict verdict = trial.measurement->advice->verdict;
    if (verdict == Verdict::MeasureAgain && lastTrial(job) != &trial) return say("report.done-read-again");
    return verdict == Verdict::Accept ? say("report.done-left") : "";
}

/// In a narrow column the second unit goes on the next line.
std::string breaking(const std::string& text) {
    constexpr std::string_view kTiedBracket = "\xC2\xA0(";
    std::string lines = tied(text);
    for (std::size_t at = 0; (at = lines.find(kTiedBracket, at)) != std::string::npos;)
        lines.replace(at, kTiedBracket.size(), " (");
    return lines;
}
Html lengthCell(const std::optional<double>& mm) { return orDash(mm ? breaking(lengthText(*mm)) : ""); }

/// By which shims the first trial was built: what the marks on the pinions or the depth tool said.
Html startHtml(const JobRecord& job) {
    const DepthEntry* last = lastOf(job.depths);
    const std::optional<StartShim> start = last != nullptr ? fittingStartOf(job, *last) : std::nullopt;
    if (!start) return {};
    return Html("<p class=\"start\">") + tied(text(start->needed)) + "</p>";
}

Html wayHtml(const JobRecord& job, const ReviewedJob& reviewed) {
    Html rows;
    for (const ReviewedTrial& trial : reviewed.trials) {
        const TrialEntry* entry = findTrial(job, trial.id);
        if (entry == nullptr) continue;
        const auto centre = [&](Side side) {
            const auto& pattern = entry->measurement
                                      ? (side == Side::Drive ? entry->measurement->drive : entry->measurement->coast)
                                      : std::optional<Pattern>();
            return orDash(pattern ? tied(centreWithErrorText(*pattern)) : "");
        };
        rows += "<tr>";
        rows += Html("<th scope=\"row\" data-of=\"") + say("report.trial") + "\">" + trial.label + "</th>";
        rows += cellOf("report.shims", lengthCell(entry->shimStackMm));
        rows += cellOf("report.backlash", lengthCell(trial.backlashMm));
        rows += cellOf("report.drive-centre", centre(Side::Drive));
        rows += cellOf("report.coast-centre", centre(Side::Coast));
        rows += cellOf("report.then", orDash(breaking(doneText(job, *entry))));
        rows += "</tr>";
    }
    const Html start = startHtml(job);
    if (rows.empty()) return start + dimParagraph("report.no-trial");
    return start + table("way",
                         {"report.trial", "report.shims", "report.backlash", "report.drive-centre",
                          "report.coast-centre", "report.then"},
                         rows);
}

Html box(CheckState state) {
    switch (state) {
        case CheckState::Done:
            return Html("<span class=\"box on\" role=\"img\" aria-label=\"") + say("report.box-done") +
                   "\"><svg viewBox=\"0 0 12 12\" aria-hidden=\"true\"><path d=\"M2 6.5 5 9.5 10 2.5\"/></svg></span>";
        case CheckState::NotNeeded:
            return Html("<span class=\"box off\" role=\"img\" aria-label=\"") + say("report.box-not-needed") +
                   "\"><svg viewBox=\"0 0 12 12\" aria-hidden=\"true\"><path d=\"M3 6H9\"/></svg></span>";
        case CheckState::Open:
            break;
    }
    return Html("<span class=\"box\" role=\"img\" aria-label=\"") + say("report.box-open") + "\"></span>";
}

/// It breaks before its second unit, and nowhere else.
std::string wantedText(const CheckItem& item) {
    if (!item.wantedNm) return "";
    std::string whole;
    for (const char c : item.wantedNm->low == item.wantedNm->high ? formatBoltTorque(item.wantedNm->low)
                                                                  : formatBoltTorqueRange(*item.wantedNm))
        whole += c == ' ' ? std::string("\xC2\xA0") : std::string(1, c);
    return breaking(whole);
}

/// The lines of a check list that are no joints. Who ticked them and when is told once where it is the same for all;
/// `allByOneHand`: at the end of the sheet.
Html linesHtml(const JobRecord& job, CheckList list, bool allByOneHand) {
    std::vector<const CheckItem*> lines;
    for (const CheckItem& item : job.checks)
        if (item.list == list && !takesTorque(item)) lines.push_back(&item);
    if (lines.empty()) return {};
    std::vector<const JobStamp*> stamps;
    for (const CheckItem* item : lines) stamps.push_back(item->state == CheckState::Open ? nullptr : &item->stamp);
    const bool isOnce = allByOneHand || isOneHand(stamps);
    Html items;
    for (const CheckItem* item : lines) {
        items += Html("<li>") + box(item->state) + "<span>" + item->text;
        if (item->state == CheckState::NotNeeded) items += Html(" ") + dim(say("report.item-not-needed"));
        if (item->state != CheckState::Open && !isOnce) items += Html("<br>") + dim(byAndDay(item->stamp));
        if (!item->stamp.note.empty()) items += Html("<br>") + dim(tied(item->stamp.note));
        items += "</span></li>";
    }
    Html html = Html("<ul class=\"list\">") + items + "</ul>";
    if (isOnce && !allByOneHand) html += noteHtml({say("report.all-ticked-by", byAndDay(lines.front()->stamp))});
    return html;
}

/// A bolted joint: whether it is ticked, what was wanted (`judged`: some joint has a wanted torque), what it was
/// tightened to.
Html jointCells(const JobRecord& job, const CheckItem& item, bool judged, Sources& sources) {
    Html joint = Html::text(item.text);
    if (!item.stamp.note.empty()) joint += Html("<br>") + dim(tied(item.stamp.note));
    if (!judged && item.state == CheckState::NotNeeded) joint += Html(" ") + dim(say("report.item-not-needed"));
    const Html done =
        cellOf("report.tightened-to", orDash(item.torqueNm ? tied(formatBoltTorque(*item.torqueNm)) : ""));
    if (!judged) return cell(box(item.state)) + "<th scope=\"row\">" + joint + "</th>" + done;
    Html badge;
    if (item.state == CheckState::Done && item.torqueNm) badge = badgeHtml(badgeOf(judgeTorque(job, item).result));
    if (item.state == CheckState::NotNeeded) badge = dim(say("report.not-needed"));
    return cell(box(item.state)) + "<th scope=\"row\">" + joint + "</th>" +
           cellOf("report.wanted",
                  orDash(wantedText(item)) + (item.wantedNm ? sources.note(wantedSource(job, item)) : Html())) +
           done + cell(badge);
}

/// All bolted joints, whenever they are tightened, in one table.
Html torquesHtml(const JobRecord& job, bool allByOneHand, Sources& sources) {
    std::vector<SignedRow> rows;
    bool unlimited = false;
    const bool judged = std::any_of(job.checks.begin(), job.checks.end(), [](const CheckItem& item) {
        return takesTorque(item) && item.wantedNm.has_value();
    });
    for (const CheckItem& item : job.checks) {
        if (!takesTorque(item)) continue;
        unlimited = unlimited || (item.state == CheckState::Done && item.torqueNm && !item.wantedNm);
        rows.push_back(
            {jointCells(job, item, judged, sources), item.state == CheckState::Open ? nullptr : &item.stamp});
    }
    if (rows.empty()) return {};
    std::vector<std::string> notes;
    if (unlimited) notes.push_back(say("report.what-no-limit-means"));
    const Html joints = signedTable(
        judged ? "checks" : "checks-unjudged",
        judged ? std::vector<const char*>{"", "report.joint", "report.wanted", "report.tightened-to", "report.result"}
               : std::vector<const char*>{"", "report.joint", "report.tightened-to"},
        rows, allByOneHand ? nullptr : "report.all-tightened-by", notes);
    return section("report.torques", joints + linesHtml(job, CheckList::Torque, allByOneHand));
}

/// A check list as a section.
Html listHtml(const JobRecord& job, CheckList list, const char* title, bool allByOneHand) {
    const Html lines = linesHtml(job, list, allByOneHand);
    return lines.empty() ? lines : section(title, lines);
}

/// The sheet says itself that the maker's sheet comes first. A caution out of a record is its sentence alone.
bool saysMakersSheetFirst(const std::string& caution) {
    return caution == say("job.makers-sheet-first") || caution == say("advice.makers-sheet");
}

Html cautionsHtml(const JobStatus& status, const TrialEntry* final) {
    std::vector<std::string> all{say("report.makers-sheet-rules"), say("report.check-oil-level"),
                                 say("report.running-in")};
    const auto add = [&](const std::vector<Message>& cautions) {
        for (const std::string& caution : texts(cautions))
            if (!saysMakersSheetFirst(caution) && std::find(all.begin(), all.end(), caution) == all.end())
                all.push_back(caution);
    };
    add(status.cautions);
    if (final != nullptr && final->measurement && final->measurement->advice &&
        final->measurement->advice->verdict != Verdict::Accept)
        add(final->measurement->advice->cautions);
    Html html("<ul class=\"plain\">");
    for (const std::string& caution : all) html += Html::element("li", Html::text(tied(caution)));
    return html + "</ul>";
}

Html signHtml(const JobRecord& job, bool allByOneHand) {
    Html html;
    if (const SignOff* sign = signedOff(job)) {
        const std::string by = sign->stamp.by.empty() ? say("report.nobody-named") : sign->stamp.by;
        Html line = Html::text(say("report.signed-off-by", by, timeWords(sign->stamp.at)));
        if (!sign->stamp.note.empty()) line += " " + tied(sign->stamp.note);
        html += Html::element("p", line);
        if (!sign->open.empty()) html += Html::element("p", Html::text(say("report.left-open", listed(sign->open))));
    }
    if (allByOneHand)
        html += Html::element("p", Html::text(say("report.all-done-by", byAndDay(job.checks.front().stamp))));
    const auto line = [](const char* label) {
        return Html("<div class=\"line\"><span></span><p>") + say(label) + "</p></div>";
    };
    return html + "<div class=\"lines\">" + line("report.set-up-by-date") + line("report.checked-by-date") +
           line("report.received-by-date") + "</div>";
}

/// What the sheet is of, and whether it is signed.
Html headHtml(const JobRecord& job, const SheetOptions& options) {
    const SignOff* sign = signedOff(job);
    Html html("<header><div><p class=\"kind\">");
    html += options.shop.empty() ? say("report.build-sheet") : say("report.build-sheet-of", options.shop);
    html += Html("</p><h1>") + (job.axle.empty() ? say("report.ring-and-pinion") : job.axle) +
            "</h1></div><div class=\"state\">";
    if (sign != nullptr)
        html += badgeHtml(sign->open.empty() ? Badge{"pass", "report.signed-off"}
                                             : Badge{"open", "report.signed-off-with-open"}) +
                "<p>" + timeWords(sign->stamp.at) + "</p>";
    else
        html += badgeHtml({"open", "report.not-signed-off"});
    return html + "</div></header>\n";
}

Html footHtml(const JobRecord& job, const SheetOptions& options) {
    const char* units = options.units == Units::Inch     ? "report.lengths-in-inches"
                        : options.units == Units::Metric ? "report.lengths-in-millimetres"
                                                         : "report.lengths-in-both";
    std::string text = options.printedAt.empty()
                           ? say("report.footer", options.folder, job.revision, say(units), options.version)
                           : say("report.footer-printed", options.folder, job.revision, say(units), options.version,
                                 timeWords(options.printedAt));
    return Html("<footer><p>") + text + "</p></footer>";
}

}  // namespace

std::string buildSheetHtml(const JobRecord& record, const ReviewedJob& reviewed, const SheetOptions& options) {
    JobRecord job = record;
    job.gearSet.fileName.clear();  // says nothing to a customer
    const TrialEntry* final = lastTrial(job);
    const JobStatus status = jobStatus(job);
    const bool isSigned = signedOff(job) != nullptr, allByOneHand = isAllByOneHand(job);
    Html html(
        "<!DOCTYPE html>\n<html lang=\"en\"><head><meta charset=\"utf-8\">\n<meta name=\"viewport\" "
        "content=\"width=device-width, initial-scale=1\">\n<meta http-equiv=\"Content-Security-Policy\" "
        "content=\"default-src 'none'; img-src data:; style-src 'unsafe-inline'\">\n<title>");
    html += say("report.title", job.axle);
    html += Html("</title>\n<style>\n") + Html::markup(embeddedFile(report::embeddedFiles(), "sheet.css")) +
            Html::markup(sketchCss()) + "</style></head>\n<body><main class=\"sheet\">";
    html += headHtml(job, options) + factsHtml(job);
    if (!isSigned)
        html +=
            Html("<p class=\"next\"><b>") + say("report.still-to-do") + "</b> " + tied(text(status.next)) + "</p>\n";
    if (final != nullptr && final->hasPattern())
        html += section(isSigned ? "report.final-pattern" : "report.last-pattern", patternHtml(job, *final, reviewed),
                        "keep");
    html += section("report.settings", settingsHtml(job, final), "keep");
    Sources sources;
    html += section("report.readings", readingsHtml(job, final, allByOneHand, sources));
    html += section("report.way-there", wayHtml(job, reviewed), "keep");
    html += listHtml(job, CheckList::Parts, "report.parts", allByOneHand);
    html += listHtml(job, CheckList::Pinion, "report.pinion", allByOneHand);
    html += torquesHtml(job, allByOneHand, sources);
    html += listHtml(job, CheckList::FinalAssembly, "report.final-assembly", allByOneHand);
    html += section("report.please-note", cautionsHtml(status, final), "keep");
    html += section("report.sign-off", signHtml(job, allByOneHand), "keep sign");
    if (const Html list = sources.html(); !list.empty()) html += section("report.limits-from", list, "small");
    html += footHtml(job, options) + "</main></body></html>\n";
    return inUnits(html.str(), options.units);
}

}  // namespace shimsight
