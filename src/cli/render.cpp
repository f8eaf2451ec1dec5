// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "shimsight/render.h"

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <nlohmann/json.hpp>

#include "cli/args.h"
#include "cli/commands.h"
#include "cli/output.h"
#include "cli/report.h"
#include "records_json.h"
#include "shimsight/files.h"
#include "shimsight/records.h"
#include "shimsight/words.h"

namespace shimsight::cli {
namespace {

using Json = nlohmann::ordered_json;

/// A flank that is to be read must be seen nearly whole.
constexpr double kOutlineShare = 0.9;

/// "1600x1200".
std::pair<int, int> sizeOf(const std::string& text) {
    int width = 0, height = 0;
    const char *begin = text.data(), *end = begin + text.size();
    const auto first = std::from_chars(begin, end, width);
    if (first.ec == std::errc() && first.ptr != end && (*first.ptr == 'x' || *first.ptr == 'X')) {
        const auto second = std::from_chars(first.ptr + 1, end, height);
        if (second.ec == std::errc() && second.ptr == end) return {width, height};
    }
    throw UsageError(say("cli.not-a-size", text.substr(0, 40)));
}

std::string extensionOf(const std::string& file) {
    std::string extension = std::filesystem::path(file).extension().string();
    std::transform(extension.begin(), extension.end(), extension.begin(),
                   [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
    return extension;
}

double rounded(double value, double perUnit) { return std::round(value * perUnit) / perUnit + 0.0; }  // no minus zero
Json pixel(const PixelPoint& p) { return Json::array({rounded(p.x, 100), rounded(p.y, 100)}); }
Json pixels(const auto& points) {
    Json list = Json::array();
    for (const PixelPoint& p : points) list.push_back(pixel(p));
    return list;
}
Json patternOrNull(const FlankMap& map) {
    const auto pattern = measurePattern(map);
    return pattern ? Json(toJson(*pattern)) : Json();
}

bool toOutline(const FlankTruth& flank, Side faced, const Picture& picture) {
    const auto inside = [&](const PixelPoint& p) {
        return p.x >= 0 && p.y >= 0 && p.x <= picture.width && p.y <= picture.height;
    };
    return flank.side == faced && flank.state == ToothState::Rolled && flank.visibleShare > kOutlineShare &&
           std::all_of(flank.corners.begin(), flank.corners.end(), inside);
}

Json truthJson(const RenderResult& result, const GearSet& gearSet, const ToothContact& contact,
               const std::string& photo) {
    const RenderRequest& r = result.request;
    Json flanks = Json::array();
    for (const FlankTruth& flank : result.flanks) {
        flanks.push_back({{"side", name(flank.side)},
                          {"tooth", flank.tooth},
                          {"state", std::string(name(flank.state))},
                          {"visible_share", rounded(flank.visibleShare, 1000)},
                          {"corners_px", pixels(flank.corners)},
                          {"grid_px", pixels(flank.grid)}});
    }
    Json truth{{"schema", "shimsight/truth/1"},
               {"how_known", "rendered"},
               {"photo", std::filesystem::path(photo).filename().string()},
               {"gear_set", gearSet.name},
               {"set_up",
                {{"pinion_depth_mm", r.error.depthMm},
                 {"ring_gear_move_mm", rounded(r.error.ringMm, 1e6)},
                 {"offset_error_mm", r.error.offsetMm},
                 {"shaft_angle_error_deg", rounded(degrees(r.error.shaftAngleRad), 1e6)}}},
               {"backlash_change_mm", rounded(contact.backlashChangeMm(r.error), 1e6)},
               {"film_mm", r.filmMm},
               {"runout_mm", r.toothToToothMm},
               {"modification",
                {{"drive", Json(toJson(r.modification[index(Side::Drive)]))},
                 {"coast", Json(toJson(r.modification[index(Side::Coast)]))}}},
               {"faced_side", name(r.faced)},
               {"marking", r.marking == PasteMarking::Wiped ? "wiped" : "transferred"},
               {"scene", std::string(name(r.scene))},
               {"size_px", {result.picture.width, result.picture.height}},
               {"variety", r.variety},
               {"samples", r.samplesPerPixel},
               {"seed", r.seed},
               {"pattern",
                {{"drive", patternOrNull(result.trueMap[index(Side::Drive)])},
                 {"coast", patternOrNull(result.trueMap[index(Side::Coast)])}}},
               {"grid_columns", kTruthColumns},
               {"grid_rows", kTruthRows},
               {"flanks", std::move(flanks)},
               {"note", result.note}};
    return truth;
}

/// What was asked for.
struct RenderInput {
    std::string gearSetName, out;
    std::optional<std::string> truthFile, outlineFile, side, scene, marking, colour, size, maps;
    std::optional<Length> depth, backlashChange, offsetError, runout;
    std::optional<double> variety;
    std::optional<int> seed, samples, teeth, threads;
    bool json = false;
};

void addRenderOptions(Args& args, RenderInput& into) {
    args.requiredText("--gear-set", into.gearSetName, "FILE", "the gear-set file");
    args.requiredText("--out", into.out, "FILE", "the picture to write, .jpg or .png");
    args.text("--truth", into.truthFile, "FILE", "write what is true of the picture (JSON)");
    args.text("--outline", into.outlineFile, "FILE", "write the outlines of the rolled flanks that are seen whole");
    args.text("--maps", into.maps, "DIR", "write the true flank maps drive.png and coast.png into this folder");
    args.length("--depth", into.depth, "pinion depth error; + is deeper, toward the ring gear axis");
    args.length("--backlash-change", into.backlashChange,
                "backlash change made by moving the ring gear; + is more backlash");
    args.length("--offset-error", into.offsetError, "offset error; + is a larger offset");
    args.length("--runout", into.runout, "ring gear runout: the pattern wanders over the turn by this position");
    args.choice("--side", into.side, {"drive", "coast"}, "the side that looks at the camera (else drive)");
    args.choice("--scene", into.scene, {"bench", "stand", "axle"}, "where the gear is (else bench)");
    args.choice("--marking", into.marking, {"wiped", "transferred"},
                "painted and wiped clear by rolling, or printed onto clean flanks (else wiped)");
    args.choice("--colour", into.colour, pasteColourNames(), "colour of the compound (else drawn by the seed)");
    args.integer("--teeth", into.teeth, 1, 12, "rolled teeth with a pattern (else 4)");
    args.number("--variety", into.variety, "X", 0, 2, "0 calm studio, 1 workshop, 2 hard (else 1)");
    args.text("--size", into.size, "WxH", "picture size in pixels (else 1600x1200)");
    args.integer("--samples", into.samples, 1, 4096, "light paths a pixel: more is cleaner and slower (else 16)");
    args.integer("--seed", into.seed, 0, 2147483647, "another seed is another photo (else 1)");
    args.integer("--threads", into.threads, 1, 256, "processors to use (else all); the picture stays the same");
    args.flag("--json", into.json, "write the truth to the standard output (models/schemas/truth-1.schema.json)");
    args.footer("LEN is a length with its unit: 4thou, 0.004in or 0.10mm.");
}

/// All but what the gear set itself says.
RenderRequest requestOf(const RenderInput& input) {
    RenderRequest request;
    request.error.depthMm = errorMm(input.depth, "--depth");
    request.error.offsetMm = errorMm(input.offsetError, "--offset-error");
    request.toothToToothMm = errorMm(input.runout, "--runout");
    if (input.side && *input.side == "coast") request.faced = Side::Coast;
    if (input.scene) {
        request.scene = *input.scene == "bench"   ? SceneKind::Bench
                        : *input.scene == "stand" ? SceneKind::CarrierOnStand
                                                  : SceneKind::OpenedAxle;
    }
    if (input.marking && *input.marking == "transferred") request.marking = PasteMarking::Transferred;
    request.colour = input.colour.value_or("");
    request.paintedTeeth = input.teeth.value_or(request.paintedTeeth);
    request.variety = input.variety.value_or(request.variety);
    request.samplesPerPixel = input.samples.value_or(request.samplesPerPixel);
    request.seed = static_cast<std::uint64_t>(input.seed.value_or(1));
    request.threads = input.threads.value_or(0);
    if (input.size) std::tie(request.widthPx, request.heightPx) = sizeOf(*input.size);
    return request;
}

/// The rolled flanks that are seen whole.
std::vector<PhotoOutline> outlinesIn(const RenderResult& result, const RenderRequest& request, const std::string& out) {
    std::vector<PhotoOutline> outlines;
    for (const FlankTruth& flank : result.flanks) {
        if (!toOutline(flank, request.faced, result.picture)) continue;
        PhotoOutline one;
        one.photo = std::filesystem::path(out).filename().string();
        one.outline.side = flank.side;
        one.outline.corners = flank.corners;
        one.outline.rootEdge = flank.rootEdge;
        one.outline.tipEdge = flank.tipEdge;
        outlines.push_back(std::move(one));
    }
    return outlines;
}

}  // namespace

int runRender(const std::vector<std::string>& words) {
    RenderInput input;
    Args args("render", "A photo-like picture of the gear set's ring gear with marking compound, and its truth.");
    addRenderOptions(args, input);
    if (!args.parse(words)) return kDone;
    const std::string extension = extensionOf(input.out);
    if (extension != ".jpg" && extension != ".jpeg" && extension != ".png")
        throw UsageError(say("cli.not-a-picture-name", input.out));

    RenderRequest request = requestOf(input);
    const double change = errorMm(input.backlashChange, "--backlash-change");
    const GearSetFile file = openGearSet(input.gearSetName);
    const GearSet gearSet = completeGearSet(file.data);
    const ToothContact contact = contactOf(gearSet, file.fileName);
    request.modification = gearSet.modification;
    request.error.ringMm = -change / contact.backlashRates().perRingMove;

    const RenderResult result = renderPhoto(contact, request);
    const std::string truth = truthJson(result, gearSet, contact, input.out).dump(2) + "\n";
    const std::vector<PhotoOutline> outlines = outlinesIn(result, request, input.out);

    const auto writeText = [](const std::string& path, const std::string& text) {
        writeOutput(path, {reinterpret_cast<const std::uint8_t*>(text.data()), text.size()});
    };
    writeOutput(input.out,
                extension == ".png" ? encodePng(result.picture) : encodeJpeg(result.picture, result.jpegQuality));
    if (input.truthFile) writeText(*input.truthFile, truth);
    if (input.outlineFile) {
        if (outlines.empty()) throw InputError(message("cli.no-whole-flank", *input.outlineFile));
        writeText(*input.outlineFile, writeOutline(outlines));
    }
    if (input.maps) {
        FolderOutput output(*input.maps);
        output.addMap("drive.png", result.trueMap[index(Side::Drive)]);
        output.addMap("coast.png", result.trueMap[index(Side::Coast)]);
        output.write();
    }
    if (input.json) {
        printText(truth);
    } else {
        printText(say("cli.wrote-picture", input.out, result.note, outlines.size()) + "\n");
    }
    return kDone;
}

}  // namespace shimsight::cli
