#include "cli/annotate.h"

#include "cli/report.h"
#include "shimsight/draw.h"

namespace shimsight::cli {

void addAnnotations(FolderOutput& output, const std::vector<TrialPhoto>& photos, const Measurement& measurement,
                    const std::optional<GearSet>& gearSet) {
    for (std::size_t i = 0; i < photos.size(); ++i) {
        if (!photos[i].photo || photos[i].outlines.empty()) continue;
        const MeasuredPhoto& measured = measurement.photos[i];
        std::vector<AnnotatedFlank> flanks;
        for (const MeasuredFlank& flank : measured.flanks)
            flanks.push_back({flank.unwrapped.outline, &flank.unwrapped, &flank.reading, flank.used, flank.whyNotUsed});
        for (const RefusedFlank& flank : measured.refusedFlanks)
            flanks.push_back({flank.outline, nullptr, nullptr, false, flank.refused.reason});
        AnnotateOptions options;
        options.title = std::filesystem::path(measured.file).filename().string();
        output.add(printed("photo%zu.png", i + 1), encodePng(annotate(photos[i].photo.value(), flanks, options)));
    }
    std::vector<FlankSketch> sketches;
    if (measurement.drive)
        sketches.push_back({"Drive side, as measured", measurement.drive->map, measurement.drive->pattern, {}});
    if (measurement.coast)
        sketches.push_back({"Coast side, as measured", measurement.coast->map, measurement.coast->pattern, {}});
    if (sketches.empty()) return;
    SketchOptions options;
    if (gearSet) options.goodZone = gearSet->limits.acceptance;
    output.add("pattern.png", encodePng(drawFlankMaps(sketches, options)));
}

}  // namespace shimsight::cli
