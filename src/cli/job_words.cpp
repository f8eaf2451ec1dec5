// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
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
#include "shimsight/words.h"

namespace shimsight::cli {
namespace {

using nlohmann::json;

/// `otherwise`: id of an entry.
std::string mmOr(const std::optional<double>& value, const char* otherwise) {
    return value ? mm(*value) : say(otherwise);
}

/// "2026-03-02 14:05" of a record's time.
std::string shortTime(const std::string& time) {
    return time.size() >= 16 ? time.substr(0, 10) + " " + time.substr(11, 5) : time;
}

json judgementsJson(const std::vector<Judgement>& judgements) {
    json list = json::array();
    for (const Judgement& one : judgements)
        list.push_back({{"entry", one.entryId},
                        {"what", name(one.what)},
                        {"result", name(one.result)},
                        {"sentence", one.sentence},
                        {"source", one.source}});
    return list;
}

/// The judgement with its result before it.
std::string judgedWords(const Judgement& judgement) {
    switch (judgement.result) {
        case JudgedAs::Pass:
            return say("cli.judged-pass", judgement.sentence);
        case JudgedAs::Fail:
            return say("cli.judged-fail", judgement.sentence);
        case JudgedAs::NoLimitKnown:
            break;
    }
    return judgement.sentence;
}

std::string stepSign(StepState state) {
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
    std::string text = wrapped(job.customer.empty() ? say("cli.job", folder, job.axle)
                                                    : say("cli.job-of-customer", folder, job.axle, job.customer),
                               "", "  ");
    const std::string gears = say(job.build == BuildKind::NewGears    ? "cli.new-gears"
                                  : job.build == BuildKind::UsedGears ? "cli.used-gears"
                                                                      : "cli.check-only");
    const std::string bearings = say(job.bearings == Bearings::New ? "cli.new-bearings" : "cli.used-bearings");
    const char* line = job.spacer == PinionSpacer::CrushSleeve   ? "cli.job-parts-crush-sleeve"
                       : job.spacer == PinionSpacer::SolidSpacer ? "cli.job-parts-solid-spacer"
                                                                 : "cli.job-parts";
    text += wrapped(say(line, job.gearSet.data.name.empty() ? job.gearSet.fileName : job.gearSet.data.name, gears,
                        bearings, job.setUpBy.empty() ? say("cli.nobody-named") : job.setUpBy),
                    "", "  ");
    text += say("cli.revision", job.revision, shortTime(job.changedAt)) + "\n";
    return text;
}

/// "  p1  2026-03-02 14:05, Mira: ..." with what struck it out.
std::string entryLine(const JobStamp& stamp, const std::string& what) {
    std::string line = stamp.id + "  " + shortTime(stamp.at) + (stamp.by.empty() ? "" : ", " + stamp.by) + ": " + what;
    if (!stamp.note.empty()) line = say("cli.with-note", line, stamp.note);
    if (stamp.struck) line = say("cli.struck-out", stamp.struck->why, line);
    for (const TakenBack& back : stamp.restored)
        line = say("cli.struck-and-restored", line, shortTime(back.struck.at), back.struck.why, shortTime(back.at));
    return wrapped(line, "  ", "      ");
}

std::string pointWords(const std::vector<BacklashPoint>& points) {
    std::string text;
    for (const BacklashPoint& point : points)
        text += (text.empty() ? "" : "; ") + say("cli.backlash-at", formatted("%.0f", point.positionDeg), mm(point.mm));
    return text;
}

/// What somebody typed, without the full stop that the sentence around it has.
std::string unstopped(std::string typed) {
    while (typed.ends_with('.')) typed.pop_back();
    return typed;
}

std::string trialWords(const TrialEntry& trial) {
    std::string text =
        say(trial.photos.size() == 1 ? "cli.trial-of-one-photo" : "cli.trial-of-photos", trial.photos.size(),
            mmOr(trial.shimStackMm, "cli.stack-not-measured"), mmOr(trial.backlashMm, "cli.backlash-not-read"));
    const auto add = [&](const std::string& sentence) { text += " " + sentence; };
    if (!trial.backlashRound.empty()) add(say("cli.round-the-ring-gear", pointWords(trial.backlashRound)));
    if (!trial.changed.empty())
        add(trial.why.empty() ? say("cli.changed-before", unstopped(trial.changed))
                              : say("cli.changed-before-because", unstopped(trial.changed), unstopped(trial.why)));
    if (trial.shimChangeMm) add(say("cli.shims-changed-by", formatLength(Length::fromMm(*trial.shimChangeMm), true)));
    switch (trial.origin) {
        case PatternOrigin::None:
            if (!trial.photos.empty()) add(say("cli.nothing-read"));
            break;
        case PatternOrigin::Found:
            add(say("cli.flanks-found"));
            break;
        case PatternOrigin::Outlined:
            add(say("cli.flanks-outlined"));
            break;
        case PatternOrigin::Drawn:
            add(say("cli.pattern-drawn"));
            break;
    }
    if (trial.measurement && trial.measurement->advice)
        add(say("cli.advice", adviceInShort(*trial.measurement->advice)));
    return text;
}

std::string workWords(const WorkEntry& work) {
    const std::string shims = !work.shimChangeMm ? say("cli.shims-not-said")
                              : std::abs(*work.shimChangeMm) < 5e-4
                                  ? say("cli.shims-left-alone")
                                  : say("cli.shims-changed", formatLength(Length::fromMm(*work.shimChangeMm), true));
    std::string what = shims;
    if (work.shimStackMm) what += ", " + say("cli.stack-now", mm(*work.shimStackMm));
    if (work.backlashMm) what += ", " + say("cli.backlash-set-to", mm(*work.backlashMm));
    if (work.leftNotches) what += ", " + say("cli.left-adjuster", formatted("%+.3g", *work.leftNotches));
    if (work.rightNotches) what += ", " + say("cli.right-adjuster", formatted("%+.3g", *work.rightNotches));
    return work.afterTrial.empty() ? say("cli.work-before-trials", what)
                                   : say("cli.work-after-trial", work.afterTrial, what);
}

const TrialEntry* trialWaitingForWork(const JobRecord& job) {
    const TrialEntry* last = lastTrial(job);
    return last != nullptr && last->measurement && last->measurement->advice &&
                   last->measurement->advice->verdict == Verdict::Change && workAfter(job, last->stamp.id).empty()
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
    // Who signs is said each time; other entries are by who sets the job up, or by whom the settings name.
    stamp.by = options.by.value_or(job.setUpBy.empty() ? settings().by : job.setUpBy);
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
            throw UsageError(say("cli.not-a-position", what, place.substr(0, 40)));
        points.push_back({degrees, lengthMm(reading.substr(colon + 1), what)});
    }
    if (!values.empty() && !points.empty()) throw UsageError(say("cli.positions-mixed", what));
    return values.empty() ? points : equalSteps(values);
}

std::string onlyFolder(const std::vector<std::string>& words) {
    if (words.size() > 1) throw UsageError(say("cli.word-too-many", words[1]));
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
        text += wrapped(judgedWords(one), "  ", "    ");
        if (!one.source.empty()) text += wrapped(say("cli.limit-from", one.source), "    ", "    ");
        if (!one.missingField.empty()) text += wrapped(say("cli.limit-goes-into", one.missingField), "    ", "    ");
    }
    return text;
}

namespace {

bool hasSleeve(const JobRecord& job) {
    return job.spacer == PinionSpacer::CrushSleeve ||
           (job.spacer == PinionSpacer::NotSaid && job.gearSet.data.build.preloadSpacer == PreloadSpacer::CrushSleeve);
}

/// What the carrier of this axle is entered by.
const char* carrierOptions(const JobRecord& job) {
    const std::optional<CarrierSetting>& carrier = job.gearSet.data.build.carrier;
    if (!carrier) return " --torque TORQUE";
    return *carrier == CarrierSetting::ThreadedAdjusters ? " --left-notches N --right-notches N"
                                                         : " --left-shims LEN --right-shims LEN --spread LEN";
}

bool isTicked(const JobRecord& job, std::string_view key) {
    return std::any_of(job.checks.begin(), job.checks.end(),
                       [&](const CheckItem& item) { return item.key == key && item.state == CheckState::Done; });
}

bool isOfJoint(const JobRecord& job, const std::string& key) {
    return std::any_of(job.checks.begin(), job.checks.end(),
                       [&](const CheckItem& item) { return item.key == key && takesTorque(item); });
}

}  // namespace

std::string nextCommand(const JobRecord& job, const std::string& folder) {
    JobStep next;
    for (JobStep& step : jobStatus(job).steps)
        if (step.state == StepState::Next) next = std::move(step);
    const std::string& key = next.key;
    const std::string dir = quoted(folder);
    if (!next.open.empty())
        return "shimsight job check " + dir +
               (isOfJoint(job, next.open.front()) ? " KEY --torque TORQUE --wanted LOW:HIGH --from SHEET" : " KEY");
    if (key == "start-depth")
        return "shimsight job add-depth " + dir + " --old-figure LEN --new-figure LEN --shim-stack LEN";
    if (key == "trial-preload")
        return "shimsight job add-preload " + dir + (hasSleeve(job) ? " TORQUE --for-trial" : " TORQUE");
    if (key == "final-pattern")
        return "shimsight job add-trial " + dir + " DRIVE.jpg COAST.jpg --shim-stack LEN --backlash LEN";
    if (key == "runout") return "shimsight job add-runout " + dir + " LEN";
    if (key == "preload")
        return "shimsight job add-preload " + dir + (isTicked(job, "oil-seals") ? " TORQUE --with-seal" : " TORQUE");
    if (key == "pattern") {
        if (asksForBefore(job)) return "shimsight job before " + dir + " DRIVE.jpg COAST.jpg --backlash LEN";
        if (trialWaitingForWork(job) != nullptr)
            return "shimsight job done " + dir + " --shim-change LEN --backlash LEN";
        return "shimsight job add-trial " + dir + " DRIVE.jpg COAST.jpg --shim-stack LEN --backlash LEN";
    }
    if (key == "backlash") return "shimsight job add-backlash " + dir + " LEN LEN LEN LEN";
    if (key == "carrier") return "shimsight job add-carrier " + dir + carrierOptions(job);
    if (key == "sign-off") return "shimsight job sign-off " + dir + " --by NAME";
    return {};
}

std::string nextText(const JobRecord& job, const std::string& folder) {
    std::string text = wrapped(say("cli.next", jobStatus(job).next), "", "  ");
    if (const std::string command = nextCommand(job, folder); !command.empty()) text += "  $ " + command + "\n";
    return text;
}

std::string statusText(const JobRecord& job, const std::string& folder) {
    const JobStatus status = jobStatus(job);
    std::string text = headText(job, folder) + "\n";
    for (const JobStep& step : status.steps) {
        text += "  " + stepSign(step.state) + step.title + "\n";
        text += wrapped(shimsight::text(step.detail), "         ", "         ");
    }
    if (status.stop) text += "\n" + wrapped(say("cli.stop", status.stop->found), "", "  ");
    text += "\n" + nextText(job, folder);
    if (!status.attention.empty())
        text += "\n" + bulletList(say("cli.look-at-this"), texts(sentencesOf(status.attention)));
    if (!status.cautions.empty()) text += "\n" + bulletList(say("cli.take-care"), texts(status.cautions));
    return plain(text);
}

std::string statusJson(const JobRecord& job, const std::string& folder, const std::vector<std::string>& warnings) {
    const JobStatus status = jobStatus(job);
    json steps = json::array();
    for (const JobStep& step : status.steps)
        steps.push_back({{"key", step.key},
                         {"title", step.title},
                         {"state", name(step.state)},
                         {"detail", text(step.detail)},
                         {"lines", step.lines},
                         {"open_lines", step.open}});
    json stop = nullptr;
    if (status.stop) stop = {{"step", status.stop->step}, {"found", text(status.stop->found)}};
    const json document = {{"schema", "shimsight/job-status/1"},
                           {"job", folder},
                           {"revision", job.revision},
                           {"changed_at", job.changedAt},
                           {"axle", job.axle},
                           {"customer", job.customer},
                           {"signed_off", signedOff(job) != nullptr},
                           {"steps", steps},
                           {"stop", stop},
                           {"next", text(status.next)},
                           {"next_command", nextCommand(job, folder)},
                           {"judgements", judgementsJson(judgeAll(job))},
                           {"attention", texts(sentencesOf(status.attention))},
                           {"cautions", texts(status.cautions)},
                           {"warnings", warnings}};
    return document.dump(2, ' ', false, json::error_handler_t::replace) + "\n";
}

namespace {

/// The parts of a whole record, each with its heading; a part without lines is left out.
class RecordText {
public:
    explicit RecordText(const JobRecord& job) : job_(job) {}

    std::string text() {
        addChecks(CheckList::Parts);
        addReadings();
        addTrials();
        addSettings();
        for (const CheckList list : {CheckList::Pinion, CheckList::Torque, CheckList::FinalAssembly}) addChecks(list);
        addEnd();
        return std::move(text_);
    }

private:
    void add(const char* heading, const std::string& lines) {
        if (!lines.empty()) text_ += "\n" + say(heading) + "\n" + lines;
    }

    static std::string withJudgement(const JobStamp& stamp, const std::vector<Judgement>& judgements) {
        std::string what;
        for (const Judgement& one : judgements) what += (what.empty() ? "" : " ") + judgedWords(one);
        return entryLine(stamp, what);
    }

    static std::string joined(const std::vector<std::string>& sentences) {
        std::string all;
        for (const std::string& sentence : sentences) all += (all.empty() ? "" : " ") + sentence;
        return all;
    }

    static std::string photoLines(const TrialEntry& trial, bool withTime) {
        std::string lines;
        for (const JobPhoto& photo : trial.photos) {
            std::string line =
                photo.originalName.empty() ? photo.file : say("cli.photo-from", photo.file, photo.originalName);
            if (withTime && photo.takenAt) line = say("cli.photo-taken", line, *photo.takenAt);
            lines += wrapped(line, "      ", "        ");
        }
        return lines;
    }

    void addReadings() {
        std::string lines;
        for (const DepthEntry& entry : job_.depths)
            if (const std::optional<StartShim> start = fittingStartOf(job_, entry))
                lines += entryLine(entry.stamp, joined(texts(start->because)));
            else
                lines += entryLine(entry.stamp, say("job.start-does-not-fit"));
        add("cli.part-start-depth", lines);
        lines.clear();
        for (const RunoutEntry& entry : job_.runouts) lines += withJudgement(entry.stamp, {judgeRunout(job_, entry)});
        add("cli.part-runout", lines);
        lines.clear();
        for (const PreloadEntry& entry : job_.preloads) {
            lines += withJudgement(entry.stamp, {judgePreload(job_, entry)});
            if (entry.stackMm) lines += "      " + say("cli.shims-beside-the-spacer", mm(*entry.stackMm)) + "\n";
        }
        add("cli.part-preload", lines);
    }

    void addTrials() {
        std::string lines;
        for (const TrialEntry& entry : job_.before)
            lines += entryLine(entry.stamp, trialWords(entry)) + photoLines(entry, false);
        add("cli.part-before", lines);
        lines.clear();
        for (const TrialEntry& trial : job_.trials) {
            lines += entryLine(trial.stamp, trialWords(trial)) + photoLines(trial, true);
            for (const WorkEntry& work : job_.work)
                if (work.afterTrial == trial.stamp.id) lines += entryLine(work.stamp, workWords(work));
        }
        for (const WorkEntry& work : job_.work)
            if (work.afterTrial.empty()) lines += entryLine(work.stamp, workWords(work));
        add("cli.part-trials", lines);
        lines.clear();
        for (const CheckedEntry& entry : job_.checked)
            lines += entryLine(entry.stamp, say("cli.looked-into-and-right", name(entry.kind)));
        add("cli.part-looked-into", lines);
    }

    void addSettings() {
        std::string lines;
        for (const BacklashEntry& entry : job_.backlashes)
            lines += withJudgement(entry.stamp, judgeBacklash(job_, entry)) +
                     wrapped(pointWords(entry.points), "      ", "      ");
        add("cli.part-backlash", lines);
        lines.clear();
        for (const CarrierEntry& entry : job_.carriers)
            lines += withJudgement(entry.stamp, {judgeCarrier(job_, entry)});
        add("cli.part-carrier", lines);
    }

    std::string checkLine(const CheckItem& item) const {
        std::string line = item.key + ": " + item.text;
        if (item.torqueNm) {
            const JudgedAs result = judgeTorque(job_, item).result;
            const std::string torque = formatBoltTorque(*item.torqueNm);
            line += ", " + (result == JudgedAs::Pass   ? say("cli.torque-passes", torque)
                            : result == JudgedAs::Fail ? say("cli.torque-fails", torque)
                                                       : torque);
        }
        if (item.state != CheckState::Open)
            line += "; " + shortTime(item.stamp.at) + (item.stamp.by.empty() ? "" : ", " + item.stamp.by);
        return item.stamp.note.empty() ? line : say("cli.check-with-note", line, item.stamp.note);
    }

    void addChecks(CheckList list) {
        std::string lines;
        for (const CheckItem& item : job_.checks) {
            if (item.list != list) continue;
            lines += wrapped(checkLine(item),
                             item.state == CheckState::Done   ? "  [x] "
                             : item.state == CheckState::Open ? "  [ ] "
                                                              : "  [-] ",
                             "      ");
        }
        add(list == CheckList::Parts    ? "cli.part-parts"
            : list == CheckList::Pinion ? "cli.part-pinion"
            : list == CheckList::Torque ? "cli.part-torques"
                                        : "cli.part-final-assembly",
            lines);
    }

    void addEnd() {
        std::string lines;
        for (const SignOff& entry : job_.signOffs)
            lines += entryLine(entry.stamp, say(entry.open.empty() ? "cli.signed-off" : "cli.signed-off-open"));
        add("cli.part-sign-off", lines);
        lines.clear();
        for (const Remark& remark : job_.remarks)
            lines += wrapped(shortTime(remark.at) + (remark.by.empty() ? "" : ", " + remark.by) + ": " + remark.text,
                             "  ", "    ");
        add("cli.part-remarks", lines);
    }

    const JobRecord& job_;
    std::string text_;
};

}  // namespace

std::string recordText(const JobRecord& job, const std::string& folder) {
    return plain(headText(job, folder) + RecordText(job).text());
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
    for (const char* list : {"depth", "preload", "backlash", "runout", "carrier", "before", "trials", "checked", "work",
                             "checks", "sign_offs"})
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
                           {"next", text(status.next)},
                           {"attention", texts(sentencesOf(status.attention))}};
    printText(document.dump(2, ' ', false, json::error_handler_t::replace) + "\n");
}

}  // namespace shimsight::cli
