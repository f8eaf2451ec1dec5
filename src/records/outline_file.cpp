// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include <cmath>

#include "records_json.h"
#include "shimsight/files.h"
#include "shimsight/records.h"

namespace shimsight {
namespace {

using nlohmann::json;

constexpr std::string_view kOutlineSchema = "shimsight/outline/1";
constexpr std::size_t kMaxOutlines = 64;     ///< more teeth than one photo shows
constexpr std::size_t kMaxEdgePoints = 500;  ///< along one edge; a person marks 3 to 10

PixelPoint pointOf(const ObjectReader& reader, std::string_view key, const json& value) {
    const auto bad = [](const json& number) {
        return !number.is_number() || std::abs(number.get<double>()) > kFarthestPx;
    };
    if (!value.is_array() || value.size() != 2 || bad(value[0]) || bad(value[1]))
        reader.fail(key, say("records.points"));
    return {value[0].get<double>(), value[1].get<double>()};
}

std::vector<PixelPoint> edgeOf(ObjectReader& edges, std::string_view key) {
    std::vector<PixelPoint> result;
    if (const json* points = edges.list(key, kMaxEdgePoints))
        for (const json& point : *points) result.push_back(pointOf(edges, key, point));
    return result;
}

json edgeJson(const std::vector<PixelPoint>& points) {
    json list = json::array();
    for (const PixelPoint& point : points) list.push_back(pointJson(point));
    return list;
}

}  // namespace

std::vector<PhotoOutline> parseOutlineFile(std::string_view text, std::string_view fileName) {
    std::vector<std::string> warnings;
    const std::string name(fileName);
    const json document = parseJsonObject(text, name);
    ObjectReader reader(document, name, "", warnings);
    reader.expectSchema(kOutlineSchema);
    const json* list = reader.requiredList("flanks", kMaxOutlines);
    if (list->empty()) reader.fail("flanks", say("records.no-flank"));
    const std::optional<std::string> filePhoto = reader.text("photo");
    std::vector<PhotoOutline> flanks;
    for (std::size_t i = 0; i < list->size(); ++i) {
        ObjectReader item = reader.item("flanks", *list, i);
        PhotoOutline flank;
        flank.outline.side = item.choice("side", kSideWords);
        flank.photo = item.text("photo").value_or(filePhoto.value_or(""));
        const json* corners = item.requiredList("corners_px", 1000);
        if (corners->size() != 4) item.fail("corners_px", say("records.corner-count", corners->size()));
        for (std::size_t k = 0; k < 4; ++k) flank.outline.corners[k] = pointOf(item, "corners_px", (*corners)[k]);
        if (std::optional<ObjectReader> edges = item.object("edge_points_px")) {
            flank.outline.rootEdge = edgeOf(*edges, "root");
            flank.outline.tipEdge = edgeOf(*edges, "tip");
            flank.outline.toeEdge = edgeOf(*edges, "toe");
            flank.outline.heelEdge = edgeOf(*edges, "heel");
            edges->finish();
        }
        item.finish();
        flanks.push_back(std::move(flank));
    }
    reader.finish();
    // Points in a misspelled field would be lost without a word, and the outline with them.
    if (!warnings.empty()) throw InputError(warnings.front());
    return flanks;
}

std::vector<PhotoOutline> readOutlineFile(const std::filesystem::path& file) {
    const std::vector<std::uint8_t> bytes = readFile(file, kMaxRecordBytes);
    return parseOutlineFile(std::string_view(reinterpret_cast<const char*>(bytes.data()), bytes.size()), file.string());
}

std::vector<FlankOutline> loadOutline(const std::filesystem::path& file) {
    std::vector<FlankOutline> outlines;
    for (PhotoOutline& flank : readOutlineFile(file)) outlines.push_back(std::move(flank.outline));
    return outlines;
}

std::string writeOutline(const std::vector<PhotoOutline>& flanks) {
    json list = json::array();
    for (const PhotoOutline& flank : flanks) {
        json item;
        if (!flank.photo.empty()) item["photo"] = flank.photo;
        if (flank.outline.side) item["side"] = name(*flank.outline.side);
        item["corners_px"] = json::array();
        for (const PixelPoint& corner : flank.outline.corners) item["corners_px"].push_back(pointJson(corner));
        if (!flank.outline.rootEdge.empty()) item["edge_points_px"]["root"] = edgeJson(flank.outline.rootEdge);
        if (!flank.outline.tipEdge.empty()) item["edge_points_px"]["tip"] = edgeJson(flank.outline.tipEdge);
        if (!flank.outline.toeEdge.empty()) item["edge_points_px"]["toe"] = edgeJson(flank.outline.toeEdge);
        if (!flank.outline.heelEdge.empty()) item["edge_points_px"]["heel"] = edgeJson(flank.outline.heelEdge);
        list.push_back(std::move(item));
    }
    nlohmann::ordered_json file;
    file["schema"] = kOutlineSchema;
    file["flanks"] = list;
    return fileText(file);
}

std::string writeOutline(const std::vector<FlankOutline>& flanks) {
    std::vector<PhotoOutline> outlined;
    outlined.reserve(flanks.size());
    for (const FlankOutline& flank : flanks) outlined.push_back({flank, ""});
    return writeOutline(outlined);
}

}  // namespace shimsight
