// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include <signal.h>
#include <unistd.h>

#include <thread>

#include "cli/args.h"
#include "cli/commands.h"
#include "cli/output.h"
#include "cli/report.h"
#include "shimsight/files.h"
#include "shimsight/lesson.h"
#include "shimsight/server.h"
#include "shimsight/training.h"
#include "shimsight/words.h"

namespace shimsight::cli {
namespace {

constexpr int kUsualPort = 8484;
constexpr int kMaxSpaceGb = 1'000'000;
constexpr std::int64_t kGb = 1'000'000'000;
constexpr const char* kUsualJobs = "jobs";
/// The server itself waits ten seconds for what is being read.
constexpr int kMaxSecondsToEnd = 12;
/// Sixteen of the thirty-two bytes on a line.
constexpr std::size_t kFingerprintHalf = 48;
constexpr int kSignalStatus = 128;  ///< as shells tell of a program that a signal ended

/// Waits for a signal to end in a thread of its own, so that the server stops in the open and not inside a handler.
class StopSignals {
public:
    StopSignals() {
        sigemptyset(&wanted_);
        for (const int one : {SIGINT, SIGTERM, SIGUSR1}) sigaddset(&wanted_, one);
        // Before any thread is made: all of them leave these signals to the one that waits.
        pthread_sigmask(SIG_BLOCK, &wanted_, nullptr);
        // A phone that goes away in the middle of an answer is no reason to end.
        signal(SIGPIPE, SIG_IGN);
    }
    void watch(Server& server) {
        thread_ = std::thread([this, &server] {
            int which = 0;
            sigwait(&wanted_, &which);
            if (which == SIGUSR1) return;
            note(say("cli.stopping"));
            server.stop();
            waitForEnd();
        });
    }
    ~StopSignals() {
        if (!thread_.joinable()) return;
        pthread_kill(thread_.native_handle(), SIGUSR1);
        thread_.join();
    }
    StopSignals(const StopSignals&) = delete;
    StopSignals& operator=(const StopSignals&) = delete;

private:
    /// Ends the program where it does not end by itself: at the second signal, or when measuring takes longer than the
    /// server waits. What is written is whole at every moment, and what is not read yet is read at the next start.
    void waitForEnd() const {
        const timespec patience{kMaxSecondsToEnd, 0};
        const int which = sigtimedwait(&wanted_, nullptr, &patience);
        if (which == SIGUSR1) return;
        note(say("cli.ended"));
        std::fflush(nullptr);
        _exit(which < 0 ? kDone : kSignalStatus + which);
    }

    sigset_t wanted_{};
    std::thread thread_;
};

std::string greeting(const Server& server, bool lan) {
    std::string text;
    const std::vector<std::string> addresses = server.pairingAddresses();
    if (lan) {
        // A code for the eyes of a phone stands between the two halves of the sentence.
        text = isatty(STDOUT_FILENO) == 1
                   ? say("cli.scan-this") + "\n\n" + qrForTerminal(addresses.front()) + "\n" + say("cli.or-open-this")
                   : say("cli.scan-or-open-this");
    } else {
        text = say("cli.open-here");
    }
    text += "\n\n";
    for (const std::string& address : addresses) text += "  " + address + "\n";
    if (const std::string print = server.fingerprint(); !print.empty())
        text += "\n" + say("cli.compare-fingerprint") + "\n\n  " + print.substr(0, kFingerprintHalf) + "\n  " +
                print.substr(kFingerprintHalf) + "\n";
    return text + "\n" + say("cli.valid-until-the-end") + "\n";
}

/// A list of some hundred names is some kilobytes.
constexpr std::int64_t kMaxListBytes = 100'000;

std::vector<std::string> namesIn(const std::string& file) {
    const std::vector<std::uint8_t> bytes = readFile(file, kMaxListBytes);
    return examNames(std::string(bytes.begin(), bytes.end()), file);
}

/// Sends the device away, where one is named, and lists those that are paired.
int tellDevices(const std::string& jobs, const std::optional<std::string>& away) {
    if (away && !sendAway(jobs, *away)) throw InputError(message("cli.no-such-device", *away));
    const std::vector<PairedDevice> devices = pairedDevices(jobs);
    if (devices.empty()) printText(say("cli.no-devices") + "\n");
    for (const PairedDevice& one : devices)
        printText(say("cli.device", one.id, one.name.empty() ? say("cli.device-without-name") : one.name,
                      one.pairedAt.substr(0, 10), one.seenAt.substr(0, 10)) +
                  "\n");
    return kDone;
}

int freeName(const std::optional<std::string>& scores, const std::optional<int>& exam, const std::string& name) {
    if (!scores || !exam) throw UsageError(say("cli.free-name-without-exam"));
    if (!freeExamName(*scores, static_cast<std::uint64_t>(*exam), name))
        throw InputError(message("cli.no-such-exam-name", name));
    printText(say("cli.exam-name-freed", name) + "\n");
    return kDone;
}

}  // namespace

int runServe(const std::vector<std::string>& words) {
    std::optional<std::string> jobs;
    std::optional<int> port, space;
    std::optional<std::string> scores;
    std::optional<int> exam, examLevel, examQuestions;
    std::optional<std::string> examList;
    std::vector<std::string> gearSets;
    std::optional<std::vector<std::string>> tls;
    std::optional<std::string> freed;
    bool lan = false, devices = false;
    std::optional<std::string> away;
    Args args("serve", "Serves the bench page: photos from a phone, answers on the phone, jobs kept on this computer.");
    args.flag("--lan", lan, "open it to the shop's network; without it only this computer can open the page");
    args.text("--jobs", jobs, "DIR", "the folder of the job folders (else ./jobs); made when missing");
    args.texts("--gear-sets", gearSets, "DIR",
               "a folder with gear-set files to choose from, besides gear-sets/ in the jobs folder; may be repeated");
    args.integer("--port", port, 0, 65535, "the port (else 8484); 0 takes any free one");
    args.noneOrTwoTexts(
        "--tls", tls, "[CERT KEY]",
        "encrypt the traffic: with a certificate and its key, PEM files, or, without them, with a certificate that the "
        "server makes for itself and keeps; phones ask once whether they trust it: compare its fingerprint");
    args.flag("--devices", devices, "list the paired phones, and stop");
    args.text("--send-away", away, "ID", "send away the paired phone with this ID of --devices, and stop");
    args.integer(
        "--space", space, 1, kMaxSpaceGb,
        "what the jobs folder may take of the disk, GB (else 200); no more photos are taken then. One GB of the "
        "disk always stays free");
    args.text("--scores", scores, "DIR", "keep the drill's score sheets here, one for each name; else none are kept");
    args.integer(
        "--exam", exam, 0, static_cast<int>(kMaxPracticeSeed),
        "hold the exam of this number, or go on with it; its questions are drawn at random once and kept in --scores, "
        "so no practice run has them");
    args.integer("--exam-level", examLevel, 1, kDrillLevels,
                 "1 easy to 4 hard, 5 on photos alone, 6 in shims, 7 complaints (else 2)");
    args.integer("--exam-questions", examQuestions, 1, 100, "how many (else 10)");
    args.text(
        "--exam-names", examList, "FILE",
        "who takes it, one name a line: nobody else can, a name belongs to the device that takes it first, and each "
        "sees the points at the end. Without it anyone who gives a name takes it, and points stay closed until the "
        "exam is over");
    args.text("--free-name", freed, "NAME",
              "free a name on the exam's list, and stop: the next device that takes it takes the exam under it");
    args.footer(
        "The address holds a pairing code that is new in each run; without it no phone is paired. A paired phone has a "
        "key of its own and comes back after a restart. Without --tls the traffic "
        "is not encrypted: use it in a network that you trust. SIGINT and SIGTERM finish what was accepted for up to "
        "ten seconds; the rest is read at the next start. The "
        "second one ends it at once.");
    if (!args.parse(words)) return kDone;
    if (devices || away) return tellDevices(jobs.value_or(kUsualJobs), away);
    if (exam && !scores) throw UsageError(say("cli.exam-without-scores"));
    if (freed) return freeName(scores, exam, *freed);
    if ((examLevel || examQuestions || examList) && !exam) throw UsageError(say("cli.exam-options-without-exam"));
    StopSignals signals;
    ServerOptions options;
    options.jobs = jobs.value_or(kUsualJobs);
    for (const std::string& folder : gearSets) options.gearSets.emplace_back(folder);
    options.lan = lan;
    if (tls) options.encryption = tls->empty() ? Encryption::Own : Encryption::Files;
    if (tls && !tls->empty()) options.tls = TlsFiles{(*tls)[0], (*tls)[1]};
    options.worker = "/proc/self/exe";
    options.port = port.value_or(kUsualPort);
    if (space) options.space = std::int64_t{*space} * kGb;
    options.scores = scores.value_or("");
    if (exam)
        options.exam = ExamOptions{static_cast<std::uint64_t>(*exam), examLevel.value_or(ExamOptions{}.level),
                                   examQuestions.value_or(ExamOptions{}.questions),
                                   examList ? namesIn(*examList) : std::vector<std::string>()};
    options.settings = settings();
    options.settings.units = shownUnits();
    Server server(std::move(options));
    printRaw(greeting(server, lan));
    std::fflush(stdout);
    signals.watch(server);
    server.run();
    return kDone;
}

}  // namespace shimsight::cli
