// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "server/looked.h"

#include <algorithm>
#include <map>
#include <nlohmann/json.hpp>

#include "job_measured.h"
#include "server/json_text.h"
#include "shimsight/photo.h"
#include "shimsight/photo_clean.h"
#include "shimsight/review.h"
#include "shimsight/words.h"

namespace shimsight::server {
namespace {

using nlohmann::json;

/// Teeth that make a side sure: what the page asks to paint.
constexpr int kGoodTeeth = 3;

struct Line {
    std::string verdict;  ///< "good", "few", "other-side", "other-gear", "bad"
    std::string said, toDo;
    std::optional<Side> side;
    int teeth = 0;
};

int painted(const MeasuredPhoto& photo, Side side) {
    return static_cast<int>(std::count_if(photo.flanks.begin(), photo.flanks.end(), [&](const MeasuredFlank& flank) {
        return flank.side == side && flank.used;
    }));
}

/// Why most of the flanks that a person painted gave nothing; bare neighbours are as they should be.
const Refused* commonRefusal(const MeasuredPhoto& photo, bool withBare) {
    std::map<Refusal, int> counts;
    for (const RefusedFlank& flank : photo.refusedFlanks)
        if (withBare || flank.refused.why != Refusal::NoCompound) ++counts[flank.refused.why];
    const auto most = std::max_element(counts.begin(), counts.end(),
                                       [](const auto& a, const auto& b) { return a.second < b.second; });
    if (most == counts.end()) return nullptr;
    for (const RefusedFlank& flank : photo.refusedFlanks)
        if (flank.refused.why == most->first) return &flank.refused;
    return nullptr;
}

Line judged(const MeasuredPhoto& photo, const Measurement& weighed, std::optional<Side> wanted) {
    Line line;
    if (photo.refused) {
        line.verdict = "bad";
        line.said = text(photo.refused->reason);
        line.toDo = text(photo.refused->whatToDo);
        return line;
    }
    const int drive = painted(photo, Side::Drive), coast = painted(photo, Side::Coast);
    const Side most = coast > drive ? Side::Coast : Side::Drive;
    line.side = wanted && painted(photo, *wanted) > 0 ? *wanted : most;
    line.teeth = *line.side == Side::Drive ? drive : coast;
    if (line.teeth == 0) {
        line.verdict = "bad";
        line.side.reset();
        const Refused* why = commonRefusal(photo, true);
        line.said = why != nullptr ? text(why->reason) : say("server.look-nothing");
        line.toDo = why != nullptr ? text(why->whatToDo) : say("server.look-nearer");
        return line;
    }
    const std::string side = text(sideWords(*line.side));
    if (weighed.setMisfit) {
        line.verdict = "other-gear";
        line.said = misfitWords(*weighed.setMisfit);
        line.toDo = say("server.look-other-gear");
    } else if (wanted && *line.side != *wanted) {
        line.verdict = "other-side";
        line.said = say("server.look-other-side", side);
    } else if (line.teeth < kGoodTeeth) {
        line.verdict = "few";
        line.said =
            line.teeth == 1 ? say("server.look-one-tooth", side) : say("server.look-few-teeth", line.teeth, side);
        const Refused* why = commonRefusal(photo, false);
        line.toDo = why != nullptr ? text(why->whatToDo) : say("server.look-nearer");
    } else {
        line.verdict = "good";
        line.said = say("server.look-good", line.teeth, side);
    }
    return line;
}

json outlineJson(const FlankOutline& outline) {
    json corners = json::array();
    for (const PixelPoint& corner : outline.corners) corners.push_back({corner.x, corner.y});
    return corners;
}

/// Whether the job will hold these very bytes: not of an HEIC, whose picture alone goes into it.
bool isKeptAsItIs(const std::vector<std::uint8_t>& bytes) {
    try {
        return cleanPhoto(bytes).bytes == bytes;
    } catch (const InputError&) {
        return false;
    }
}

void keep(const Uploads& uploads, const std::string& upload, const std::string& basis, const MeasuredPhoto& measured) {
    uploads.keepMeasured(upload, json::to_cbor(json{{"basis", basis}, {"measured", job::measuredJson(measured)}}));
}

}  // namespace

std::optional<MeasuredPhoto> measuredAtLook(const Uploads& uploads, const std::string& upload, const std::string& sum,
                                            const GearSetData& gearSet) {
    const std::optional<std::vector<std::uint8_t>> kept = uploads.measured(upload);
    if (!kept) return std::nullopt;
    try {
        const json document = json::from_cbor(*kept);
        if (document.at("basis") != measuringBasis(sum, &gearSet)) return std::nullopt;
        return job::measuredFrom(document.at("measured"));
    } catch (const InputError&) {
        return std::nullopt;  // cut short, or of another program: the photo is read
    } catch (const json::exception&) {
        return std::nullopt;
    }
}

std::string lookAt(const Uploads& uploads, const std::string& upload, const JobGearSet& gearSet,
                   std::optional<Side> wanted) {
    std::optional<std::vector<std::uint8_t>> read = uploads.bytes(upload);
    if (!read) throw InputError(message("server.photo-gone"));
    const auto bytes = std::make_shared<const std::vector<std::uint8_t>>(std::move(*read));
    Outcome<Photo> photo = openTrialPhoto(bytes);
    const int width = photo ? photo.value().fullWidth : 0, height = photo ? photo.value().fullHeight : 0;
    const std::string sum = sha256Of(*bytes);
    std::vector<MeasuredPhoto> measured;
    if (std::optional<MeasuredPhoto> before = measuredAtLook(uploads, upload, sum, gearSet.data)) {
        measured.push_back(std::move(*before));  // a page that was loaded again, or the photo in its other place
    } else {
        std::vector<TrialPhoto> one;
        one.push_back({"photo", std::move(photo), {}});
        measured = measurePhotos(one, &gearSet.data);
        if (width > 0 && isKeptAsItIs(*bytes))
            keep(uploads, upload, measuringBasis(sum, &gearSet.data), measured.front());
    }
    const Measurement weighed = weighPhotos(std::move(measured), &gearSet.data);
    const Line line = judged(weighed.photos.front(), weighed, wanted);
    json flanks = json::array(), leftOut = json::array();
    for (const MeasuredFlank& flank : weighed.photos.front().flanks)
        flanks.push_back(
            {{"outline_px", outlineJson(flank.rectified.outline)}, {"side", name(flank.side)}, {"used", flank.used}});
    for (const RefusedFlank& flank : weighed.photos.front().refusedFlanks)
        leftOut.push_back({{"outline_px", outlineJson(flank.outline)}});
    return jsonText({{"verdict", line.verdict},
                     {"line", line.said},
                     {"to_do", line.toDo},
                     {"side", line.side ? json(name(*line.side)) : json(nullptr)},
                     {"teeth", line.teeth},
                     {"width", width},
                     {"height", height},
                     {"flanks", flanks},
                     {"refused_flanks", leftOut}});
}

}  // namespace shimsight::server
