#include "cli/job_words.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdlib>
#include <ctime>
#include <nlohmann/json.hpp>

#include "cli/output.h"
#include "cli/report.h"
#include "shimsight/advice_start.h"

namespace shimsight::cli {
namespace {

using nlohmann::json;

std::string mmOr(const std::optional<double>& value, const char* otherwise) { return value ? mm(*value) : otherwise; }

/// "2026-03-02 14:05" of a record's time.
std::string shortTime(const std::string& time) {
    return time.size() >= 16 ? time.substr(0, 10) + " " + time.substr(11, 5) : time;
}

json judgementsJson(const std::vector<Judgement>& judgements) {
    json list = json::array();
    for (const Judgement& one : judgements)
        list.push_back({{"entry", one.entryId},
                        {"what", one.what},
                        {"result", name(one.result)},
                        {"sentence", one.sentence},
                        {"source", one.source}});
    return list;
}

std::string stepMark(StepState state) {
    switch (state) {
        case StepState::Done:
            return "[done] ";
        case StepState::Next:
            return "[NEXT] ";
        case StepState::Open:
            return "[    ] ";
        case StepState::NotNeeded:
            break;
    }
    return "[ -- ] ";
}

std::string headText(const JobRecord& job, const std::string& folder) {
    std::string text =
        wrapped("Job " + folder + ": " + job.axle + (job.customer.empty() ? "" : "; " + job.customer), "", "  ");
    const std::string gears = job.build == BuildKind::NewGears    ? "new gears"
                              : job.build == BuildKind::UsedGears ? "gears that ran together"
                                                                  : "a check only";
    text += wrapped("Gear set: " + (job.gearSet.data.name.empty() ? job.gearSet.fileName : job.gearSet.data.name) +
                        "; " + gears + ", " + std::string(name(job.bearings)) + " bearings" +
                        (job.spacer == PinionSpacer::CrushSleeve   ? ", crush sleeve"
                         : job.spacer == PinionSpacer::SolidSpacer ? ", solid spacer"
                                                                   : "") +
                        "; set up by " + (job.setUpBy.empty() ? "nobody named" : job.setUpBy) + ".",
                    "", "  ");
    text += printed("Revision %lld, last entry %s.\n", static_cast<long long>(job.revision),
                    shortTime(job.changedAt).c_str());
    return text;
}

/// "  p1  2026-03-02 14:05, Mira: ..." with what struck it out.
std::string entryLine(const JobStamp& stamp, const std::string& what) {
    std::string line = stamp.id + "  " + shortTime(stamp.at) + (stamp.by.empty() ? "" : ", " + stamp.by) + ": " + what;
    if (!stamp.note.empty()) line += " Note: " + stamp.note;
    if (stamp.struck) line = "(struck out: " + stamp.struck->why + ") " + line;
    return wrapped(line, "  ", "      ");
}

std::string pointWords(const std::vector<BacklashPoint>& points) {
    std::string text;
    for (const BacklashPoint& point : points)
        text += (text.empty() ? "" : "; ") + printed("%.0f degrees ", point.positionDeg) + mm(point.mm);
    return text;
}

std::string trialWords(const TrialEntry& trial) {
    std::string text =
        printed("%zu %s; pinion shims ", trial.photos.size(), trial.photos.size() == 1 ? "photo" : "photos") +
        mmOr(trial.shimStackMm, "not measured") + ", backlash " + mmOr(trial.backlashMm, "not read") + ".";
    if (!trial.backlashRound.empty()) text += " Round the ring gear: " + pointWords(trial.backlashRound) + ".";
    if (!trial.changed.empty())
        text += " Changed before: " + trial.changed + (trial.why.empty() ? "." : " (" + trial.why + ").");
    if (trial.shimChangeMm)
        text += " Shims changed by " + formatLength(Length::fromMm(*trial.shimChangeMm), true) + ".";
    switch (trial.origin) {
        case PatternOrigin::None:
            if (!trial.photos.empty()) text += " Nothing could be read.";
            break;
        case PatternOrigin::Found:
            text += " The flanks were found.";
            break;
        case PatternOrigin::Marked:
            text += " Flanks were marked by hand.";
            break;
        case PatternOrigin::Drawn:
            text += " The pattern was drawn by hand.";
            break;
    }
    if (trial.reading && trial.reading->advice) text += " Advice: " + adviceInShort(*trial.reading->advice);
    return text;
}

std::string workWords(const WorkEntry& work) {
    std::string text = work.afterTrial.empty() ? "before the first trial" : "after trial " + work.afterTrial;
    text += ": pinion shims ";
    text += work.shimChangeMm ? (std::abs(*work.shimChangeMm) < 5e-4
                                     ? "left alone"
                                     : "changed by " + formatLength(Length::fromMm(*work.shimChangeMm), true))
                              : "not said";
    if (work.shimStackMm) text += ", stack now " + mm(*work.shimStackMm);
    if (work.backlashMm) text += ", backlash set to " + mm(*work.backlashMm);
    if (work.leftNotches) text += printed(", left adjuster %+.3g notches", *work.leftNotches);
    if (work.rightNotches) text += printed(", right adjuster %+.3g notches", *work.rightNotches);
    return text + ".";
}

const TrialEntry* trialWaitingForWork(const JobRecord& job) {
    const TrialEntry* last = lastTrial(job);
    return last != nullptr && last->reading && last->reading->advice &&
                   last->reading->advice->verdict == Verdict::Change && workAfter(job, last->stamp.id).empty()
               ? last
               : nullptr;
}

/// Used gears whose marks or backlash from before they came apart are missing, and nothing rolled since.
bool asksForBefore(const JobRecord& job) {
    if (job.build != BuildKind::UsedGears) return false;
    const std::optional<TrialObservation> before = beforeOf(job);
    if (before && before->backlashMm && (before->drive || before->coast)) return false;
    const TrialEntry* last = lastTrial(job);
    return last == nullptr || workAfter(job, last->stamp.id).empty();
}

/// A name that a shell takes as one word.
std::string quoted(const std::string& word) {
    if (!word.empty() && std::all_of(word.begin(), word.end(), [](char c) {
            return std::isalnum(static_cast<unsigned char>(c)) ||
                   std::string_view("-_./+,").find(c) != std::string_view::npos;
        }))
        return word;
    std::string text = "'";
    for (const char c : word) text += c == '\'' ? std::string("'\\''") : std::string(1, c);
    return text + "'";
}

}  // namespace

std::string timeNow() {
    const std::time_t now = std::time(nullptr);
    std::tm local{};
    localtime_r(&now, &local);
    std::array<char, 40> buffer{};
    std::strftime(buffer.data(), buffer.size(), "%Y-%m-%dT%H:%M:%S%z", &local);
    std::string text = buffer.data();
    text.insert(text.size() - 2, ":");  // +0100 is +01:00
    return text;
}

void addChangeOptions(Args& args, ChangeOptions& into) {
    args.text("--by", into.by, "NAME", "who did it (else who sets the job up)");
    args.text("--note", into.note, "TEXT", "anything worth keeping");
    args.text("--at", into.at, "TIME", "when, such as 2026-03-02T14:05:00+01:00 (else now)");
    args.flag("--json", into.json, "write JSON (models/schemas/job-entry-1.schema.json)");
}

JobStamp stampOf(const ChangeOptions& options, const JobRecord& job) {
    JobStamp stamp;
    stamp.at = options.at.value_or(timeNow());
    try {
        checkTime(stamp.at, "--at");
    } catch (const InputError& error) {
        throw UsageError(error.what());
    }
    stamp.by = options.by.value_or(job.setUpBy);
    stamp.note = options.note.value_or("");
    return stamp;
}

double turningTorque(const std::string& text, const std::string& what) {
    try {
        return parseTorqueNm(text, what);
    } catch (const InputError& error) {
        throw UsageError(error.what());
    }
}

double boltTorque(const std::string& text, const std::string& what) {
    try {
        return parseBoltTorqueNm(text, what);
    } catch (const InputError& error) {
        throw UsageError(error.what());
    }
}

double lengthMm(const std::string& text, const std::string& what) {
    try {
        return *amountMm(parseLength(text, what), what);
    } catch (const InputError& error) {
        throw UsageError(error.what());
    }
}

std::vector<BacklashPoint> backlashPoints(const std::vector<std::string>& readings, const std::string& what) {
    std::vector<double> values;
    std::vector<BacklashPoint> points;
    for (const std::string& reading : readings) {
        const std::size_t colon = reading.find(':');
        if (colon == std::string::npos) {
            values.push_back(lengthMm(reading, what));
            continue;
        }
        char* end = nullptr;
        const std::string place = reading.substr(0, colon);
        const double degrees = std::strtod(place.c_str(), &end);
        if (place.empty() || *end != '\0' || !(degrees >= 0 && degrees < 360))
            throw UsageError(what + ": \"" + place.substr(0, 40) + "\" is not a position from 0 up to 360 degrees.");
        points.push_back({degrees, lengthMm(reading.substr(colon + 1), what)});
    }
    if (!values.empty() && !points.empty())
        throw UsageError(what + ": give a position with every reading (90:8thou), or with none.");
    return values.empty() ? points : equalSteps(values);
}

std::string onlyFolder(const std::vector<std::string>& words) {
    if (words.size() > 1) throw UsageError("There is no option or word for: " + words[1] + ".");
    return words.front();
}

JobRecord openedJob(const std::string& folder) {
    OpenedJob opened = openJob(folder);
    for (const std::string& warning : opened.warnings) note(plain(warning));
    return std::move(opened.record);
}

std::string plain(std::string text) {
    for (char& c : text) {
        const auto byte = static_cast<unsigned char>(c);
        if ((byte < 0x20 && c != '\n') || byte == 0x7f) c = '?';
    }
    return text;
}

std::string judgementText(const std::vector<Judgement>& judgements) {
    std::string text;
    for (const Judgement& one : judgements) {
        const char* mark = one.result == JudgedAs::Pass ? "pass: " : one.result == JudgedAs::Fail ? "FAIL: " : "";
        text += wrapped(mark + one.sentence, "  ", "    ");
        if (!one.source.empty()) text += wrapped("Limit from " + one.source + ".", "    ", "    ");
    }
    return text;
}

std::string nextCommand(const JobRecord& job, const std::string& folder) {
    std::string key;
    for (const JobStep& step : jobStatus(job).steps)
        if (step.state == StepState::Next) key = step.key;
    const std::string dir = quoted(folder);
    if (key == "runout") return "shimsight job add-runout " + dir + " 2thou";
    if (key == "preload") return "shimsight job add-preload " + dir + " 15in-lb";
    if (key == "pattern") {
        if (asksForBefore(job)) return "shimsight job before " + dir + " DRIVE.jpg COAST.jpg --backlash LEN";
        if (trialWaitingForWork(job) != nullptr)
            return "shimsight job done " + dir + " --shim-change LEN --backlash LEN";
        return "shimsight job add-trial " + dir + " DRIVE.jpg COAST.jpg --shim-stack LEN --backlash LEN";
    }
    if (key == "backlash") return "shimsight job add-backlash " + dir + " LEN LEN LEN LEN";
    if (key == "carrier") return "shimsight job add-carrier " + dir + " --left-notches N --right-notches N";
    if (key == "torques") return "shimsight job check " + dir + " KEY --torque 80Nm --wanted 75Nm:85Nm --from SHEET";
    if (key == "final-assembly") return "shimsight job check " + dir + " KEY";
    if (key == "sign-off") return "shimsight job sign-off " + dir + " --by NAME";
    return {};
}

std::string nextText(const JobRecord& job, const std::string& folder) {
    std::string text = wrapped("Next: " + jobStatus(job).next, "", "  ");
    if (const std::string command = nextCommand(job, folder); !command.empty()) text += "  $ " + command + "\n";
    return text;
}

std::string statusText(const JobRecord& job, const std::string& folder) {
    const JobStatus status = jobStatus(job);
    std::string text = headText(job, folder) + "\n";
    for (const JobStep& step : status.steps) {
        text += "  " + stepMark(step.state) + step.title + "\n";
        text += wrapped(step.detail, "         ", "         ");
    }
    if (status.stop) text += "\n" + wrapped("Stop: " + status.stop->found, "", "  ");
    text += "\n" + nextText(job, folder);
    if (!status.attention.empty()) text += "\n" + bulletList("Look at this", status.attention);
    if (!status.cautions.empty()) text += "\n" + bulletList("Take care", status.cautions);
    return plain(text);
}

std::string statusJson(const JobRecord& job, const std::string& folder, const std::vector<std::string>& warnings) {
    const JobStatus status = jobStatus(job);
    json steps = json::array();
    for (const JobStep& step : status.steps)
        steps.push_back(
            {{"key", step.key}, {"title", step.title}, {"state", name(step.state)}, {"detail", step.detail}});
    json stop = nullptr;
    if (status.stop) stop = {{"step", status.stop->step}, {"found", status.stop->found}};
    const json document = {{"schema", "shimsight/job-status/1"},
                           {"job", folder},
                           {"revision", job.revision},
                           {"changed_at", job.changedAt},
                           {"axle", job.axle},
                           {"customer", job.customer},
                           {"signed_off", signedOff(job) != nullptr},
                           {"steps", steps},
                           {"stop", stop},
                           {"next", status.next},
                           {"next_command", nextCommand(job, folder)},
                           {"judgements", judgementsJson(judgeAll(job))},
                           {"attention", status.attention},
                           {"cautions", status.cautions},
                           {"warnings", warnings}};
    return document.dump(2, ' ', false, json::error_handler_t::replace) + "\n";
}

std::string recordText(const JobRecord& job, const std::string& folder) {
    std::string text = headText(job, folder);
    const auto section = [&](const char* title, const std::string& lines) {
        if (!lines.empty()) text += std::string("\n") + title + "\n" + lines;
    };
    const auto withJudgement = [&](const JobStamp& stamp, const std::vector<Judgement>& judgements) {
        std::string what;
        for (const Judgement& one : judgements)
            what += (what.empty() ? "" : " ") +
                    std::string(one.result == JudgedAs::Pass   ? "pass: "
                                : one.result == JudgedAs::Fail ? "FAIL: "
                                                               : "") +
                    one.sentence;
        return entryLine(stamp, what);
    };
    std::string lines;
    for (const RunoutEntry& entry : job.runouts) lines += withJudgement(entry.stamp, {judgeRunout(job, entry)});
    section("Runout", lines);
    lines.clear();
    for (const PreloadEntry& entry : job.preloads) {
        lines += withJudgement(entry.stamp, {judgePreload(job, entry)});
        if (entry.stackMm) lines += "      with " + mm(*entry.stackMm) + " of shims beside the spacer\n";
    }
    section("Pinion preload", lines);
    lines.clear();
    for (const TrialEntry& entry : job.before) {
        lines += entryLine(entry.stamp, trialWords(entry));
        for (const JobPhoto& photo : entry.photos)
            lines += wrapped(photo.file + (photo.originalName.empty() ? "" : ", from " + photo.originalName), "      ",
                             "        ");
    }
    section("Before the gears came apart", lines);
    lines.clear();
    for (const TrialEntry& trial : job.trials) {
        lines += entryLine(trial.stamp, trialWords(trial));
        for (const JobPhoto& photo : trial.photos)
            lines += wrapped(photo.file + (photo.originalName.empty() ? "" : ", from " + photo.originalName) +
                                 (photo.takenAt ? ", taken " + *photo.takenAt : ""),
                             "      ", "        ");
        for (const WorkEntry& work : job.work)
            if (work.afterTrial == trial.stamp.id) lines += entryLine(work.stamp, workWords(work));
    }
    for (const WorkEntry& work : job.work)
        if (work.afterTrial.empty()) lines += entryLine(work.stamp, workWords(work));
    section("Trials and work", lines);
    lines.clear();
    for (const CheckedEntry& entry : job.checked)
        lines += entryLine(entry.stamp, "looked into and right: " + std::string(name(entry.kind)) + ".");
    section("Looked into", lines);
    lines.clear();
    for (const BacklashEntry& entry : job.backlashes) {
        lines += withJudgement(entry.stamp, judgeBacklash(job, entry));
        lines += wrapped(pointWords(entry.points), "      ", "      ");
    }
    section("Backlash", lines);
    lines.clear();
    for (const CarrierEntry& entry : job.carriers) lines += withJudgement(entry.stamp, {judgeCarrier(job, entry)});
    section("Carrier", lines);
    for (const CheckList list : {CheckList::Torque, CheckList::FinalAssembly}) {
        lines.clear();
        for (const CheckItem& item : job.checks) {
            if (item.list != list) continue;
            std::string line = item.key + ": " + item.text;
            if (item.torqueNm) {
                const Judgement judged = judgeTorque(item);
                line += ", " + formatBoltTorque(*item.torqueNm) +
                        (judged.result == JudgedAs::Pass   ? " (pass)"
                         : judged.result == JudgedAs::Fail ? " (FAIL)"
                                                           : "");
            }
            if (item.state != CheckState::Open)
                line += "; " + shortTime(item.stamp.at) + (item.stamp.by.empty() ? "" : ", " + item.stamp.by);
            if (!item.stamp.note.empty()) line += ". Note: " + item.stamp.note;
            lines += wrapped(line,
                             item.state == CheckState::Done   ? "  [x] "
                             : item.state == CheckState::Open ? "  [ ] "
                                                              : "  [-] ",
                             "      ");
        }
        section(list == CheckList::Torque ? "Torques" : "Final assembly", lines);
    }
    lines.clear();
    for (const SignOff& entry : job.signOffs)
        lines += entryLine(entry.stamp, entry.open.empty() ? "signed off." : "signed off with steps open.");
    section("Sign-off", lines);
    lines.clear();
    for (const Remark& remark : job.remarks)
        lines += wrapped(shortTime(remark.at) + (remark.by.empty() ? "" : ", " + remark.by) + ": " + remark.text, "  ",
                         "    ");
    section("Remarks", lines);
    return plain(text);
}

std::vector<Judgement> judgementsOf(const JobRecord& job, const std::string& id) {
    std::vector<Judgement> all = judgeAll(job);
    all.erase(std::remove_if(all.begin(), all.end(), [&](const Judgement& one) { return one.entryId != id; }),
              all.end());
    return all;
}

void printChange(const JobRecord& job, const std::string& folder, const std::string& id, const std::string& sentence,
                 bool asJson) {
    const std::vector<Judgement> judgements = judgementsOf(job, id);
    if (!asJson) {
        printText(plain(wrapped(sentence, "", "  ") + judgementText(judgements) + "\n" + nextText(job, folder)));
        return;
    }
    json entry = nullptr;
    const json record = json::parse(writeJob(job));
    for (const char* list :
         {"preload", "backlash", "runout", "carrier", "before", "trials", "checked", "work", "checks", "sign_offs"})
        for (const json& one : record.at(list))
            if (one.value("id", one.value("key", "")) == id) entry = one;
    const JobStatus status = jobStatus(job);
    const json document = {{"schema", "shimsight/job-entry/1"},
                           {"job", folder},
                           {"revision", job.revision},
                           {"id", id},
                           {"said", sentence},
                           {"entry", entry},
                           {"judgements", judgementsJson(judgements)},
                           {"next", status.next},
                           {"attention", status.attention}};
    printText(document.dump(2, ' ', false, json::error_handler_t::replace) + "\n");
}

}  // namespace shimsight::cli
