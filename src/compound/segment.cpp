#include <algorithm>
#include <cmath>
#include <opencv2/core.hpp>
#include <opencv2/imgproc.hpp>

#include "compound/evidence.h"
#include "compound/features.h"
#include "compound/two_class.h"
#include "shimsight/compound.h"

namespace shimsight {
namespace {

using namespace compound;

/// Mean linear light below which a phone's noise and JPEG blocks drown the colours (8-bit mean about 25).
constexpr double kTooDark = 0.009;
constexpr double kTooDarkShare = 0.75;
/// Share of the flank at the sensor's limit beyond which too little is left.
constexpr double kTooBright = 0.85;
/// Blur of the sharpest edge as a share of the flank's length: beyond, an edge of the pattern is wider than the
/// reading's aim.
constexpr double kTooSoft = 0.02;
/// Log odds of a pattern on the side above which its flanks are read, and the step that a flank itself must show there,
/// over the mean step of the side's flanks.
constexpr double kPatternOdds = 0.1, kLeastAgreement = 0.35;
/// Log odds of the other way of marking, beyond which a flank contradicts what it is said to be.
constexpr double kContraryMarking = 2.0;
/// Largest piece of the region must hold this share of it, and fill this share of its hull; else the pattern is torn.
constexpr double kLeastMainPart = 0.5, kLeastFill = 0.55;
/// Mean sureness below which the border between the classes is nowhere.
constexpr double kLeastSureness = 0.45;
/// Region below this share of the flank is no pattern.
constexpr double kLeastRegion = 0.015;
/// Saturation (distance of the colour shares from neutral) from which an even flank is painted, not bare.
constexpr double kPaintedSaturation = 0.5;
/// Mean log texture below which an even flank is under paste, not bare: paste hides the machining marks.
constexpr double kPaintedTexture = -3.4;

std::optional<Refused> lightFault(const UnwrappedFlank& flank, const FlankFeatures& f) {
    if (f.visibleShare < 0.7)
        return Refused{Refusal::FlankOutsidePicture, "Too much of this flank lies outside the picture.",
                       "Take the photo again with the whole flank in view."};
    if (f.meanLight < kTooDark || f.darkShare > kTooDarkShare)
        return Refused{Refusal::TooDark, "This flank is too dark to tell compound from steel.",
                       "Put more light on the tooth, from the side, and take the photo again."};
    if (f.burntShare > kTooBright)
        return Refused{Refusal::Glare, "Most of this flank is blown out by glare.",
                       "Turn the lamp away or hold a sheet of white paper in front of it, and take the photo again."};
    if (flank.blurPx > kTooSoft * flank.lengthPx)
        return Refused{Refusal::OutOfFocus, "This flank is out of focus.",
                       "Tap on the tooth to focus, hold still, and take the photo again."};
    return std::nullopt;
}

/// Standard errors of one flank's centre, in shares of length and height: a floor, the border's place in picture
/// pixels, and a part that grows as the step at the border shrinks. Fitted to rendered photos with seeds below 1000,
/// 1600 pixels wide, marks exact: of 354 flanks 96 % lie within two of them (length; height 97 %), of 75 flanks with
/// harder light 87 % (92 %).
constexpr double kFloorU = 0.009, kFloorV = 0.014;
constexpr double kPixelsU = 0.8, kPixelsV = 0.5;
constexpr double kByStepU = 0.05, kByStepV = 0.05, kLeastStep = 0.7;
/// And the flank's own place on the metal. Marks within shapeResidualPx of the fitted flank leave this share of that
/// distance in the middle of the flank; without a shape, the flank's curvature is missing (medians over 219 flanks,
/// rendered truth grids).
constexpr double kMarksLeft = 0.4, kTypicalMarksLeft = 0.8, kLeastMarkPx = 0.5, kEdgeMarkShare = 0.004;
constexpr double kFlatU = 0.012, kFlatV = 0.10, kEdgesU = 0.010, kTypicalU = 0.004, kTypicalV = 0.006;

struct PlaceError {
    double u = 0, v = 0;
};

PlaceError placeError(const UnwrappedFlank& flank) {
    const double length = std::max(1.0, flank.lengthPx), height = std::max(1.0, flank.heightPx);
    const double mark = std::max(kLeastMarkPx, flank.shapeResidualPx);
    switch (flank.shape) {
        case FlankShape::GearSet:
            return {kMarksLeft * mark / length, kMarksLeft * mark / height};
        case FlankShape::Typical:
            return {std::hypot(kTypicalU, kTypicalMarksLeft * mark / length),
                    std::hypot(kTypicalV, kTypicalMarksLeft * mark / height)};
        case FlankShape::Edges:
            return {kEdgesU, kTypicalMarksLeft * kEdgeMarkShare * length / height};
        case FlankShape::Flat:
            break;
    }
    return {kFlatU, kFlatV};
}

void setErrors(ContactReading& reading, const UnwrappedFlank& flank) {
    const double step = std::max(kLeastStep, reading.separation);
    const PlaceError place = placeError(flank);
    const auto sum = [step](double floor, double pixels, double size, double byStep, double placing) {
        const double a = pixels / std::max(1.0, size), b = byStep / (step * step);
        return std::sqrt(floor * floor + a * a + b * b + placing * placing);
    };
    reading.pattern.sigmaToeHeel = sum(kFloorU, kPixelsU, flank.lengthPx, kByStepU, place.u);
    reading.pattern.sigmaRootTip = sum(kFloorV, kPixelsV, flank.heightPx, kByStepV, place.v);
}

FlankMap softMap(const std::vector<std::uint8_t>& region, const std::vector<float>& inside) {
    // Inside the region the contact is full (remnants and patches are holes in the evidence, not in the contact); at
    // its border the chances give the place between cells.
    cv::Mat1b mask(kRows, kColumns);
    for (int i = 0; i < kCells; ++i) mask(i / kColumns, i % kColumns) = region[static_cast<std::size_t>(i)];
    cv::Mat1b core, reach;
    const cv::Mat element = cv::getStructuringElement(cv::MORPH_ELLIPSE, cv::Size(5, 5));
    cv::erode(mask, core, element, cv::Point(-1, -1), 1, cv::BORDER_REPLICATE);
    cv::dilate(mask, reach, element);
    cv::Mat1f soft(kRows, kColumns), large;
    for (int y = 0; y < kRows; ++y)
        for (int x = 0; x < kColumns; ++x) {
            const float q = inside[static_cast<std::size_t>(y * kColumns + x)];
            soft(y, x) = core(y, x) ? 1.0F : reach(y, x) ? q : 0.0F;
        }
    cv::GaussianBlur(soft, soft, cv::Size(), 0.7, 0.7, cv::BORDER_REPLICATE);
    cv::resize(soft, large, cv::Size(kMapWidth, kMapHeight), 0, 0, cv::INTER_LINEAR);
    FlankMap map;
    for (int y = 0; y < kMapHeight; ++y)
        for (int x = 0; x < kMapWidth; ++x) map.at(x, y) = cv::saturate_cast<std::uint8_t>(255 * large(y, x));
    return map;
}

}  // namespace

std::string_view name(Marking marking) { return marking == Marking::Wiped ? "wiped" : "transferred"; }

Outcome<ContactReading> segmentCompound(const UnwrappedFlank& flank, const SegmentOptions& options) {
    const UnwrappedFlank* one = &flank;
    return segmentCompound(std::span<const UnwrappedFlank* const>(&one, 1), options)[0];
}

std::vector<Outcome<ContactReading>> segmentCompound(std::span<const UnwrappedFlank* const> flanks,
                                                     const SegmentOptions& options) {
    const std::size_t n = flanks.size();
    std::vector<std::optional<Refused>> fault(n);
    std::vector<FlankFeatures> features;
    std::vector<int> group;
    std::vector<std::size_t> owner;
    for (std::size_t k = 0; k < n; ++k) {
        FlankFeatures f = measureFeatures(*flanks[k]);
        fault[k] = lightFault(*flanks[k], f);
        if (fault[k]) continue;
        features.push_back(std::move(f));
        group.push_back(flanks[k]->side ? static_cast<int>(index(*flanks[k]->side)) : 2);
        owner.push_back(k);
    }
    std::vector<std::optional<ContactReading>> reading(n);
    if (!owner.empty()) {
        const SplitResult split = splitFlanks(features, group, options.marking);
        double logOdds = 0;
        std::vector<MainRegion> region(owner.size());
        std::vector<RegionLook> look(owner.size());
        std::vector<bool> kept(owner.size(), false);
        for (std::size_t m = 0; m < owner.size(); ++m) {
            region[m] = mainRegion(split.inside[m]);
            look[m] = lookAt(features[m], split.inside[m], region[m]);
        }
        std::size_t keptCount = 0;
        for (std::size_t m = 0; m < owner.size(); ++m) {
            const std::size_t k = owner[m];
            double texture = 0;
            for (const float t : features[m].value[3]) texture += t / kCells;
            const bool painted = features[m].saturation > kPaintedSaturation || texture < kPaintedTexture;
            const double wiped = wipedLogOdds(look[m]);
            const bool contrary =
                options.marking && (*options.marking == Marking::Wiped ? -wiped : wiped) > kContraryMarking;
            if (contrary || look[m].area < kLeastRegion || split.logOdds[m] < kPatternOdds ||
                split.agreement[m] < kLeastAgreement) {
                fault[k] =
                    painted
                        ? Refused{Refusal::NotRolled, "This flank is painted all over and shows no contact.",
                                  "Roll the gear set under light brake load, both ways, and take the photo again."}
                        : Refused{Refusal::NoCompound, "No marking compound can be told from the steel on this flank.",
                                  "Brush a thin even coat of marking compound on a few teeth, roll the set, and take "
                                  "the photo again."};
            } else if (look[m].mainPart < kLeastMainPart || look[m].fill < kLeastFill ||
                       look[m].sureness < kLeastSureness) {
                fault[k] =
                    Refused{Refusal::Smeared, "The compound on this flank is smeared; the contact has no clear border.",
                            "Clean the teeth, paint them thinly, roll once each way, and take the photo again."};
            } else {
                kept[m] = true;
                ++keptCount;
                logOdds += wiped;
            }
        }
        // Teeth of one photo share their paste and light, so ten of them are not ten witnesses.
        if (keptCount > 2) logOdds *= 2.0 / static_cast<double>(keptCount);
        const Marking marking = options.marking.value_or(logOdds >= 0 ? Marking::Wiped : Marking::Transferred);
        for (std::size_t m = 0; m < owner.size(); ++m) {
            const std::size_t k = owner[m];
            if (!kept[m]) continue;
            ContactReading r;
            r.map = softMap(region[m].cells, split.inside[m]);
            const auto pattern = measurePattern(r.map);
            if (!pattern) {
                fault[k] = Refused{Refusal::NoCompound, "No contact pattern can be seen on this flank.",
                                   "Brush a thin even coat of marking compound on a few teeth, roll the set, and take "
                                   "the photo again."};
                continue;
            }
            r.pattern = *pattern;
            r.marking = marking;
            r.markingCertainty = options.marking ? 1 : 1 / (1 + std::exp(-std::abs(logOdds)));
            r.separation = split.separation[m];
            r.confidence.resize(static_cast<std::size_t>(kMapWidth) * kMapHeight);
            for (int y = 0; y < kMapHeight; ++y)
                for (int x = 0; x < kMapWidth; ++x) {
                    const auto c = static_cast<std::size_t>((y / 2) * kColumns + x / 2);
                    r.confidence[static_cast<std::size_t>(y * kMapWidth + x)] =
                        features[m].weight[c] * std::abs(2 * split.inside[m][c] - 1);
                }
            double mean = 0;
            for (const float c : r.confidence) mean += c;
            mean /= static_cast<double>(r.confidence.size());
            r.flankConfidence = std::clamp(mean * std::min(1.0, split.separation[m] / 3), 0.0, 1.0);
            setErrors(r, *flanks[k]);
            reading[k] = std::move(r);
        }
    }
    std::vector<Outcome<ContactReading>> out;
    for (std::size_t k = 0; k < n; ++k) {
        if (reading[k])
            out.emplace_back(std::move(*reading[k]));
        else
            out.emplace_back(*fault[k]);
    }
    return out;
}

}  // namespace shimsight
