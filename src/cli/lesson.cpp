// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "shimsight/lesson.h"

#include <array>
#include <deque>

#include "cli/args.h"
#include "cli/commands.h"
#include "cli/lesson.h"
#include "cli/output.h"
#include "cli/report.h"
#include "shimsight/files.h"
#include "shimsight/report.h"
#include "shimsight/words.h"

namespace shimsight::cli {
namespace {

void writeText(const std::string& path, const std::string& text) {
    writeOutput(path, {reinterpret_cast<const std::uint8_t*>(text.data()), text.size()});
}

/// The gear sets named on the command line.
struct OpenedSets {
    std::deque<ToothContact> opened;
    std::vector<const ToothContact*> sets;
    /// `bothCuts`: also as if cut the other way, where that gives a gear set.
    void add(const std::string& file, bool bothCuts = false) {
        const GearSetFile read = openGearSet(file);
        opened.push_back(contactOf(completeGearSet(read.data), read.fileName));
        const Cut own = opened.back().gearSet().cut;
        sets.push_back(&opened.back());
        if (!bothCuts) return;
        try {
            opened.emplace_back(withCut(read.data, own == Cut::FaceMilled ? Cut::FaceHobbed : Cut::FaceMilled));
            sets.push_back(&opened.back());
        } catch (const InputError&) {
            return;  // no teeth of the other cut close on these blanks
        }
    }
};

int runList(const std::vector<std::string>& words) {
    Args args("lesson list", "Names the lessons.");
    if (!args.parse(words)) return kDone;
    std::string text;
    for (const LessonInfo& lesson : lessons())
        text += formatted("%-10s %s\n", lesson.name.c_str(), lesson.title.c_str()) +
                wrapped(lesson.summary, "           ", "           ") + "\n";
    printText(text + say("cli.how-to-show-a-lesson") + "\n");
    return kDone;
}

int runShow(const std::vector<std::string>& words) {
    std::vector<std::string> names;
    std::optional<std::string> html;
    bool photos = false;
    Args args("lesson show", "Shows a lesson: its text, and flanks drawn from computed tooth surfaces.");
    args.words("NAME", names, 1, "the lesson, or all (as a page)");
    args.text("--html", html, "FILE", "write it as a page of one file instead");
    args.flag("--photos", photos, "put rendered photos into the page; some seconds each");
    args.footer("shimsight lesson list names the lessons.");
    if (!args.parse(words)) return kDone;
    if (names.size() > 1) throw UsageError(say("cli.one-lesson-or-all"));
    if (photos && !html) throw UsageError(say("cli.goes-with", "--photos", "--html"));
    if (names[0] == "all" && !html) throw UsageError(say("cli.goes-with", "all", "--html"));
    if (!html) {
        printText(lessonText(names[0], shownUnits()));
        return kDone;
    }
    Progress progress;
    const std::string page = lessonPage(
        names[0],
        {photos, [&](int number, int of) { progress.show(say("cli.drawing-photo", number, of)); }, shownUnits()});
    progress.wipe();
    writeText(*html, page);
    printText(say("cli.wrote", *html) + "\n");
    return kDone;
}

int runChart(const std::vector<std::string>& words) {
    std::string gearSet;
    std::optional<std::string> beside, svg, html, pdf;
    std::optional<Length> depthStep, backlashStep;
    Args args("lesson chart", "The chart of a gear set: three by three of pinion depth and backlash, drive and coast.");
    args.requiredText("--gear-set", gearSet, "FILE", "the gear-set file");
    args.text("--beside", beside, "FILE", "a second gear set beside it");
    args.text("--svg", svg, "FILE", "write it as a picture");
    args.text("--html", html, "FILE", "write it as a page for screen and print");
    args.text("--pdf", pdf, "FILE", "write it as a PDF; needs Chromium on this machine");
    args.length("--depth-step", depthStep, "change of depth from row to row (else 0.004 in)");
    args.length("--backlash-step", backlashStep, "change of backlash from column to column (else 0.003 in)");
    args.footer("LEN is a length with its unit: 4thou, 0.004in or 0.10mm.");
    if (!args.parse(words)) return kDone;
    if (!svg && !html && !pdf) throw UsageError(say("cli.chart-without-target"));
    constexpr double kMinStepMm = 0.01, kMaxStepMm = 0.5;
    const auto stepMm = [&](const std::optional<Length>& given, double otherwise, const char* option) {
        if (!given) return otherwise;
        if (given->mm() < kMinStepMm || given->mm() > kMaxStepMm)
            throw UsageError(say("cli.step-out-of-range", option, formatLength(Length::fromMm(kMinStepMm)),
                                 formatLength(Length::fromMm(kMaxStepMm))));
        return given->mm();
    };
    ChartOptions options;
    options.units = shownUnits();
    options.depthStepMm = stepMm(depthStep, options.depthStepMm, "--depth-step");
    options.backlashStepMm = stepMm(backlashStep, options.backlashStepMm, "--backlash-step");

    OpenedSets opened;
    opened.add(gearSet);
    if (beside) opened.add(*beside);
    const std::filesystem::path chromium = pdf ? findChromium() : std::filesystem::path();
    if (pdf && chromium.empty()) throw InputError(message("cli.chart-without-chromium"));
    // All are made before the first is written.
    const std::string picture = svg ? chartSvg(opened.sets, options) : "";
    const std::string page = html || pdf ? chartPage(opened.sets, options) : "";
    if (pdf) {
        Progress progress;
        progress.show(say("cli.printing"));
        writePdf(page, *pdf, chromium);
    }
    if (svg) writeText(*svg, picture);
    if (html) writeText(*html, page);
    for (const auto& file : {svg, html, pdf})
        if (file) printText(say("cli.wrote", *file) + "\n");
    return kDone;
}

int runLive(const std::vector<std::string>& words) {
    std::vector<std::string> gearSets;
    std::optional<std::string> html;
    Args args("lesson live", "A page to play with: sliders for depth and backlash, both marks, the gear pair.");
    args.texts("--gear-set", gearSets, "FILE",
               "a gear-set file; up to four can be chosen from in the page, one or two also in the other cut (else the "
               "program's own milled and hobbed set)");
    args.text("--html", html, "FILE", "write the page here; one file, it asks for nothing outside");
    if (!args.parse(words)) return kDone;
    if (gearSets.size() > kMaxLiveSets) throw UsageError(say("cli.too-many-gear-sets"));
    if (!html) throw UsageError(say("cli.live-without-target"));
    OpenedSets opened;
    for (const std::string& file : gearSets) opened.add(file, 2 * gearSets.size() <= kMaxLiveSets);
    if (gearSets.empty()) opened.sets = {&lessonSet(Cut::FaceMilled), &lessonSet(Cut::FaceHobbed)};
    writeText(*html, livePage(opened.sets, shownUnits()));
    printText(say("cli.wrote", *html) + "\n");
    return kDone;
}

constexpr std::array kParts = {
    Command{"list", "name the lessons", runList},
    Command{"show", "show a lesson, on the terminal or as a page", runShow},
    Command{"chart", "write the chart of a gear set: what depth and backlash do to its marks", runChart},
    Command{"live", "write a page to play with: sliders, both marks, the gear pair in mesh", runLive},
    Command{"drill", "ask where the mark is and what to change, and check the answers", runLessonDrill},
    Command{"scores", "list the score sheets of a folder, or write them as a table", runLessonScores},
    Command{"game", "set up a gear set from an unknown error; every change costs hours", runLessonGame},
};

std::string lessonHelpText() {
    std::string text =
        "Shows what each pattern means, and lets apprentices try.\n\nUsage: shimsight lesson PART [OPTIONS]\n\nParts\n";
    for (const Command& part : kParts)
        text += formatted("  %-8s %s\n", std::string(part.name).c_str(), std::string(part.summary).c_str());
    return text + "\n  shimsight lesson PART --help shows the options of a part.\n";
}

}  // namespace

int runLesson(const std::vector<std::string>& words) {
    if (words.empty()) throw UsageError(say("cli.part-missing"));
    if (words[0] == "--help" || words[0] == "-h") {
        printText(lessonHelpText());
        return kDone;
    }
    for (const Command& part : kParts)
        if (words[0] == part.name) return runPart("lesson", part, words);
    throw UsageError(say("cli.no-such-part", words[0].substr(0, 40)));
}

}  // namespace shimsight::cli
