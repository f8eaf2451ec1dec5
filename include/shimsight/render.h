// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// A photo-like picture of a real ring gear with marking compound, and the truth behind it. Module `render`.
#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "shimsight/flank_map.h"
#include "shimsight/photo.h"
#include "shimsight/rectify.h"
#include "shimsight/tooth_contact.h"

namespace shimsight {

enum class SceneKind { Bench, CarrierOnStand, OpenedAxle };
enum class PasteMarking { Wiped, Transferred };

/// What is to be seen. The rest (pose, light, paste, wear, camera faults) is drawn from the seed within `variety`.
struct RenderRequest {
    SetupError error;
    std::array<Modification, 2> modification;  ///< by index(side)
    double filmMm = kFilmMm;
    Side faced = Side::Drive;  ///< the side that looks at the camera
    SceneKind scene = SceneKind::Bench;
    PasteMarking marking = PasteMarking::Wiped;
    int widthPx = 1600, heightPx = 1200;
    int paintedTeeth = 4;         ///< rolled teeth with a pattern
    double toothToToothMm = 0.0;  ///< runout: amplitude of the ring gear's position over a turn
    double variety = 1;           ///< 0 = calm studio, 1 = workshop, up to 2 = hard
    int samplesPerPixel = 16;
    std::string colour;  ///< of the compound, one of pasteColourNames(); empty: drawn
    std::uint64_t seed = 1;
    int threads = 0;  ///< 0: as many as the machine has; the picture does not depend on it
};

/// "bench", "stand", "axle".
std::string_view name(SceneKind scene);

/// The colours of compound that can be asked for, in English: "yellow", "white", "blue", ...
std::vector<std::string> pasteColourNames();

enum class ToothState { Bare, Rolled, NotRolled };
std::string_view name(ToothState state);  ///< "bare", "rolled", "not-rolled"

/// Size of the (u, v) grid of a FlankTruth: u = i / 16, v = 1 - j / 8.
inline constexpr int kTruthColumns = 17;
inline constexpr int kTruthRows = 9;

/// One visible flank in the picture, painted or not. The grid is in pixels, row-major from the tip, toe first; it holds
/// the lens distortion.
struct FlankTruth {
    Side side = Side::Drive;
    int tooth = 0;
    ToothState state = ToothState::Bare;
    std::array<PixelPoint, 4> corners;  ///< toe-root, toe-tip, heel-tip, heel-root of the working flank
    std::vector<PixelPoint> grid;
    std::vector<PixelPoint> rootEdge, tipEdge;  ///< 9 points, toe to heel
    double visibleShare = 0;                    ///< share of the flank's area not hidden and inside the picture
};

struct RenderResult {
    Picture picture;  ///< after lens, noise, exposure; before JPEG
    int jpegQuality = 90;
    std::vector<FlankTruth> flanks;
    std::array<FlankMap, 2> trueMap;  ///< by index(side)
    RenderRequest request;
    std::string note;  ///< one line: paste colour, scene, lights
};

/// Traces one photo. Same request and seed, same bytes, whatever the number of threads. The time grows with pixels
/// times samples. The compound on each tooth follows contact.predictMap of the request with the tooth's own small
/// scatter; `trueMap` is without that scatter. Throws InputError for sizes, samples, variety or a colour that cannot be
/// used.
RenderResult renderPhoto(const ToothContact& contact, const RenderRequest& request);

}  // namespace shimsight
