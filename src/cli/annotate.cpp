// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "cli/annotate.h"

#include <filesystem>

#include "cli/report.h"
#include "shimsight/advice_words.h"
#include "shimsight/draw.h"
#include "shimsight/words.h"

namespace shimsight::cli {

namespace {

/// "After: take out 0.006 in (0.15 mm) under the pinion support, backlash 0.008 in (0.20 mm)." A length stays on its
/// line.
std::string afterChange(const Advice& change) { return tied(say("cli.after-change", changeInShort(change))); }

/// Measured and expected side by side, one row for each side; without a change to make only what was measured.
void addPatterns(FolderOutput& output, const Measurement& measurement, const std::optional<Advice>& advice,
                 const std::optional<GearSet>& gearSet) {
    const Advice* change = advice && advice->verdict == Verdict::Change ? &*advice : nullptr;
    std::vector<FlankSketch> sketches;
    for (const Side side : kSides) {
        const auto& measured = side == Side::Drive ? measurement.drive : measurement.coast;
        const bool drive = side == Side::Drive;
        if (!measured) continue;
        sketches.push_back({say(drive ? "cli.drive-as-measured" : "cli.coast-as-measured"),
                            measured->map,
                            measured->pattern,
                            false,
                            {}});
        if (!change) continue;
        const auto& expected = side == Side::Drive ? change->expectedDrive : change->expectedCoast;
        sketches.push_back(
            {say(drive ? "cli.drive-expected" : "cli.coast-expected"), {}, expected, true, {afterChange(*change)}});
    }
    if (sketches.empty()) return;
    SketchOptions options;
    if (gearSet) options.goodZone = gearSet->limits.acceptance;
    output.add("pattern.png", encodePng(drawFlankMaps(sketches, options)));
}

}  // namespace

void addAnnotations(FolderOutput& output, const std::vector<TrialPhoto>& photos, const Measurement& measurement,
                    const std::optional<Advice>& advice, const std::optional<GearSet>& gearSet) {
    for (std::size_t i = 0; i < photos.size(); ++i) {
        const MeasuredPhoto& measured = measurement.photos[i];
        if (!photos[i].photo || (measured.flanks.empty() && measured.refusedFlanks.empty())) continue;
        std::vector<AnnotatedFlank> flanks;
        for (const MeasuredFlank& flank : measured.flanks)
            flanks.push_back({.outline = flank.rectified.outline,
                              .rectified = &flank.rectified,
                              .contact = &flank.contact,
                              .used = flank.used,
                              .whyNot = text(flank.whyNotUsed),
                              .whyNotShort = say("cli.unlike-the-other-teeth")});
        for (const RefusedFlank& flank : measured.refusedFlanks)
            flanks.push_back({.outline = flank.outline,
                              .used = false,
                              .whyNot = text(flank.refused.reason),
                              .whyNotShort = behindCount(flank.refused.why)});
        AnnotateOptions options;
        options.title = std::filesystem::path(measured.file).filename().string();
        options.grouped = measured.found;
        output.add(formatted("photo%zu.png", i + 1), encodePng(annotate(photos[i].photo.value(), flanks, options)));
    }
    addPatterns(output, measurement, advice, gearSet);
}

}  // namespace shimsight::cli
