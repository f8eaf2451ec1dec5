// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include <array>
#include <exception>
#include <new>

#include "cli/args.h"
#include "cli/commands.h"
#include "cli/embedded.h"
#include "cli/output.h"
#include "cli/report.h"
#include "shimsight/core.h"
#include "shimsight/server.h"
#include "shimsight/version.h"
#include "shimsight/words.h"

namespace shimsight::cli {
namespace {

constexpr std::array kCommands = {
    Command{"read", "measure the contact pattern on the photos of one trial, and say what to change", runRead},
    Command{"advise", "say what to change, from flank maps instead of photos", runAdvise},
    Command{"start-shim", "say which pinion shim to start with when the gears are changed", runStartShim},
    Command{"preload", "judge the pinion bearing preload, and say which shims to try beside a solid spacer",
            runPreload},
    Command{"review", "read many jobs or folders of photos, and show what was found, advised and done",
            runReviewCommand},
    Command{"job", "keep the record of a set-up: readings, trials, decisions, check lists", runJob},
    Command{"report", "write the build sheet of a job, to print or as PDF", runBuildSheet},
    Command{"serve", "the page at the bench: photos from a phone, answers on the phone", runServe},
    Command{"predict", "show the pattern that a set-up error makes", runPredict},
    Command{"render", "draw a photo-like picture of the gear set with compound on its teeth", runRender},
    Command{"lesson", "teach what each pattern means: lessons, charts, a live tooth, a drill", runLesson},
    Command{"gear-set", "check a gear-set file, or write a new one", runGearSet},
};

std::string programHelpText() {
    std::string text =
        "Shimsight reads the contact pattern of a ring and pinion and says which shim to change.\n\n"
        "Usage: shimsight COMMAND [OPTIONS]\n\nCommands\n";
    for (const Command& command : kCommands)
        text += formatted("  %-10s %s\n", std::string(command.name).c_str(), std::string(command.summary).c_str());
    text +=
        "\n  shimsight COMMAND --help shows the options of a command; --version shows the version;\n"
        "  --licences shows the licence and the notices of what others wrote.\n\n"
        "Exit status: 0 done; 1 it cannot be done, with the reason; 2 wrong use; 3 a fault in the program.\n\n"
        "The maker's sheet for the axle always comes first. Put the vehicle on stands, keep fingers out of the "
        "gears.\n";
    return text;
}

int runCommand(const std::vector<std::string>& words) {
    if (words.empty()) throw UsageError(say("cli.command-missing"));
    const std::string& first = words.front();
    if (first == "--help" || first == "-h" || first == "help") {
        printText(programHelpText());
        return kDone;
    }
    if (first == "--version") {
        printText("shimsight " SHIMSIGHT_VERSION "\n");
        return kDone;
    }
    // Not for people: `serve` reads each trial by it, in a process of its own.
    if (first == "read-trial" && words.size() == 1) return workOnTrial();
    if (first == "--licences" || first == "--licenses") {
        printRaw(std::string(embeddedFile(embeddedFiles(), "LICENSE")) + "\n" +
                 std::string(embeddedFile(embeddedFiles(), "NOTICE")));
        return kDone;
    }
    for (const Command& command : kCommands) {
        if (first != command.name) continue;
        try {
            return command.run({words.begin() + 1, words.end()});
        } catch (const PartUsageError& error) {
            throw UsageError(say("cli.see-help", error.what(), error.part));
        } catch (const UsageError& error) {
            throw UsageError(say("cli.see-help", error.what(), command.name));
        }
    }
    throw UsageError(say("cli.no-such-command", first.substr(0, 40)));
}

}  // namespace

int runPart(const char* of, const Command& part, const std::vector<std::string>& words) {
    try {
        return part.run({words.begin() + 1, words.end()});
    } catch (const UsageError& error) {
        throw PartUsageError(error.what(), std::string(of) + " " + std::string(part.name));
    }
}

int runProgram(const std::vector<std::string>& words) {
    try {
        const int status = runCommand(words);
        return finishOutput() || status != kDone ? status : kCannot;
    } catch (const OutputLost&) {
        (void)finishOutput();
        return kCannot;
    } catch (const UsageError& error) {
        note(error.what());
        return kWrongUse;
    } catch (const InputError& error) {
        note(error.what());
        return kCannot;
    } catch (const std::bad_alloc&) {
        note(say("cli.not-enough-memory"));
        return kCannot;
    } catch (const std::exception& error) {
        note(say("cli.fault-of-program", error.what()));
        return kFault;
    }
}

}  // namespace shimsight::cli
