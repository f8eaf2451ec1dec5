// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "shimsight/measure.h"

#include <algorithm>
#include <array>
#include <atomic>
#include <exception>
#include <mutex>
#include <span>
#include <string>
#include <thread>
#include <tuple>
#include <utility>

#include "measure/photo_fault.h"
#include "measure/same_teeth.h"
#include "measure/set_misfit.h"

namespace shimsight {
namespace {

/// Most teeth of a photo are bare. A found flank is not looked at closely when at first sight it has paint with less
/// than this chance (log odds) and stands this far behind the photo's surest one: spares 371 of 599 bare flanks and
/// loses 2 of 270 rolled ones (80 rendered photos).
constexpr double kPaintDoubted = -0.5, kPaintGap = 2.5;

/// Nothing checks a flank that is the only one read of its side: its standard errors are this much wider (24 of 1,400
/// sides of rendered photos, where found ones were off by 2 to 5 times what they told).
constexpr double kAloneFound = 3, kAloneOutlined = 1.5;
/// A found flank alone is believed only where at least this many others of its side are seen bare beside it and it
/// stands out from them by kPaintGap: then one tooth was painted. Things that are no gear, and gears without compound,
/// gave such lone flanks.
constexpr std::ptrdiff_t kBareBeside = 2;
/// Flanks too small to be measured that are asked whether they are painted.
constexpr std::size_t kAskedForPaint = 12;

Refused sideUnknown() { return {Refusal::SideUnknown, message("measure.side-not-said"), message("measure.say-side")}; }

/// Whether a flank was refused for what is on it, not for where it lies in the picture.
bool isOfCompound(Refusal why) {
    return why == Refusal::NoCompound || why == Refusal::NotRolled || why == Refusal::Smeared ||
           why == Refusal::Glare || why == Refusal::TooDark || why == Refusal::OutOfFocus;
}

/// The photo's own refusal when none of its found flanks could be read: the reason that most of them share, and among
/// those that were seen well what is on them rather than where the others lie. Where as many are too small as seem
/// bare, the compound may be too small to be seen: that is said first.
Refused refusalOfFound(const MeasuredPhoto& photo, std::optional<Side> wanted, bool bare) {
    if (photo.refusedFlanks.empty())
        return {Refusal::NoToothFound,
                wanted ? message("measure.side-not-seen", wordFor(*wanted)) : message("measure.no-flank-seen"),
                message(wanted ? "measure.check-side-or-closer" : "measure.closer")};
    if (bare) return {Refusal::NoCompound, message("measure.no-compound"), message("measure.paint-and-roll")};
    std::vector<Refusal> reasons;
    for (const RefusedFlank& flank : photo.refusedFlanks) reasons.push_back(flank.refused.why);
    const auto countOf = [&](Refusal why) { return std::count(reasons.begin(), reasons.end(), why); };
    const auto small = countOf(Refusal::FlankTooSmall);
    const bool mayHideCompound = small > 0 && small >= countOf(Refusal::NoCompound);
    const auto rank = [&](const RefusedFlank& flank) {
        const Refusal why = flank.refused.why;
        return std::tuple(isOfCompound(why) && !(mayHideCompound && why == Refusal::NoCompound), countOf(why),
                          why == Refusal::FlankTooSmall);
    };
    const RefusedFlank& most =
        *std::max_element(photo.refusedFlanks.begin(), photo.refusedFlanks.end(),
                          [&](const RefusedFlank& a, const RefusedFlank& b) { return rank(a) < rank(b); });
    Refused refused = most.refused;
    refused.reason = reasons.size() == 1 ? message("measure.one-left-out", behindCount(most.refused.why))
                                         : message("measure.all-left-out", reasons.size(), countedReasons(reasons));
    return refused;
}

/// The photo's own refusal when none of its flanks could be read.
Refused refusalOfPhoto(const MeasuredPhoto& photo, std::optional<Side> wanted, bool bare) {
    if (photo.found) return refusalOfFound(photo, wanted, bare);
    const std::vector<RefusedFlank>& flanks = photo.refusedFlanks;
    Refused refused = flanks.front().refused;
    if (flanks.size() > 1) refused.reason = message("measure.none-of-outlined", flanks.size(), refused.reason);
    return refused;
}

/// The rectified flanks of a photo, and the picture to measure them in.
struct RectifiedPhoto {
    std::vector<RectifiedFlank> flanks;
    std::vector<double> painted;            ///< of each flank, log odds at first sight
    std::vector<std::optional<int>> tooth;  ///< of each flank, its place on the gear
    std::vector<RectifiedFlank> small;    ///< found flanks too small to be measured; whether they are painted may show
    std::shared_ptr<const Photo> larger;  ///< null: the trial's own
};

/// The flanks of a photo rectified: outlined ones, or those that are found.
RectifiedPhoto rectifyPhoto(const TrialPhoto& trial, const GearSet* gearSet, const MeasureOptions& options,
                            MeasuredPhoto& result) {
    const Photo& photo = trial.photo.value();
    RectifiedPhoto all;
    const auto take = [&](const FlankOutline& outline, Outcome<RectifiedFlank> rectified, double painted,
                          std::optional<int> tooth) {
        if (!outline.side || !rectified) {
            const Refused why = outline.side ? rectified.refused() : sideUnknown();
            result.refusedFlanks.push_back({outline.side, outline, why, painted, tooth});
            return;
        }
        all.flanks.push_back(std::move(rectified.value()));
        all.painted.push_back(painted);
        all.tooth.push_back(tooth);
    };
    if (!trial.outlines.empty()) {
        std::vector<Outcome<RectifiedFlank>> rectified = rectifyFlanks(photo, trial.outlines, gearSet);
        for (std::size_t i = 0; i < trial.outlines.size(); ++i)
            take(trial.outlines[i], std::move(rectified[i]), 0, std::nullopt);
        return all;
    }
    result.found = true;
    Outcome<FoundTeeth> teeth = findTeeth(photo, gearSet, {options.side});
    if (!teeth) {
        result.refused = teeth.refused();
        if (result.refused->why == Refusal::NoToothFound)
            if (auto fault = measure::photoFault(photo.picture)) result.refused = std::move(fault);
        return all;
    }
    result.cut = teeth.value().cut;
    result.setFit = teeth.value().setFit;
    result.hand = teeth.value().hand;
    all.larger = teeth.value().larger;
    const Photo& source = all.larger ? *all.larger : photo;
    for (LeftOutFlank& flank : teeth.value().leftOut)
        result.refusedFlanks.push_back(
            {flank.flank.outline.side, flank.flank.outline, flank.why, flank.flank.paintedLogOdds, flank.flank.tooth});
    const FlankShape known = gearSet != nullptr ? FlankShape::GearSet : FlankShape::Typical;
    double surest = -1e9;
    for (const FoundFlank& flank : teeth.value().flanks) surest = std::max(surest, flank.paintedLogOdds);
    const double atLeast = std::min(kPaintDoubted, surest - kPaintGap);
    for (FoundFlank& flank : teeth.value().flanks) {
        RectifiedFlank small;
        small.outline = flank.outline;
        small.gridPx = flank.gridPx;
        if (flank.paintedLogOdds < atLeast) {
            result.refusedFlanks.push_back(
                {flank.outline.side, flank.outline, bareFlank(), flank.paintedLogOdds, flank.tooth});
            continue;
        }
        Outcome<RectifiedFlank> rectified =
            rectifyAlong(source, flank.outline, std::move(flank.gridPx),
                         flank.source == OutlineSource::Camera ? known : FlankShape::Edges);
        if (!rectified && rectified.refused().why == Refusal::FlankTooSmall) all.small.push_back(std::move(small));
        take(flank.outline, std::move(rectified), flank.paintedLogOdds, flank.tooth);
    }
    return all;
}

/// A gear in view that nobody painted: its flanks are bare, those too small to be measured in most as well (on few
/// pixels single ones seem painted).
bool isBareGear(const MeasuredPhoto& result, const Photo& photo, const std::vector<RectifiedFlank>& small) {
    std::size_t bare = 0, painted = 0;
    for (const RefusedFlank& flank : result.refusedFlanks) {
        bare += flank.refused.why == Refusal::NoCompound;
        if (isOfCompound(flank.refused.why) && flank.refused.why != Refusal::NoCompound) return false;
    }
    std::vector<const RectifiedFlank*> asked;
    for (const RectifiedFlank& flank : small)
        if (asked.size() < kAskedForPaint) asked.push_back(&flank);
    for (const Outcome<FlankContact>& told : measureContact(photo, asked)) {
        if (told) return false;
        const Refusal why = told.refused().why;
        (why == Refusal::NoCompound ? bare : painted) += isOfCompound(why);
    }
    return bare > 0 && bare >= 2 * painted;
}

/// Found flanks come in no order of their own. Those read are put from left to right, or from the top down where they
/// stand above one another, the others by reason, so that numbers on a picture are easy to follow.
void sortFound(MeasuredPhoto& photo) {
    const auto middle = [](const FlankOutline& outline) {
        PixelPoint sum;
        for (const PixelPoint& corner : outline.corners) sum = {sum.x + corner.x / 4, sum.y + corner.y / 4};
        return sum;
    };
    double left = 1e9, right = -1e9, top = 1e9, bottom = -1e9;
    for (const MeasuredFlank& flank : photo.flanks) {
        const PixelPoint p = middle(flank.rectified.outline);
        left = std::min(left, p.x), right = std::max(right, p.x);
        top = std::min(top, p.y), bottom = std::max(bottom, p.y);
    }
    const bool across = right - left >= bottom - top;
    const auto place = [&](const FlankOutline& outline) { return across ? middle(outline).x : middle(outline).y; };
    std::stable_sort(photo.flanks.begin(), photo.flanks.end(), [&](const MeasuredFlank& a, const MeasuredFlank& b) {
        return place(a.rectified.outline) < place(b.rectified.outline);
    });
    std::stable_sort(photo.refusedFlanks.begin(), photo.refusedFlanks.end(),
                     [&](const RefusedFlank& a, const RefusedFlank& b) {
                         return std::pair(a.refused.why, place(a.outline)) < std::pair(b.refused.why, place(b.outline));
                     });
}

MeasuredPhoto measurePhoto(const TrialPhoto& trial, const GearSet* gearSet, const MeasureOptions& options) {
    MeasuredPhoto result;
    result.file = trial.file;
    if (!trial.photo) {
        result.refused = trial.photo.refused();
        return result;
    }
    const RectifiedPhoto all = rectifyPhoto(trial, gearSet, options, result);
    if (result.refused) return result;
    std::vector<const RectifiedFlank*> flanks;
    for (const RectifiedFlank& flank : all.flanks) flanks.push_back(&flank);
    std::vector<Outcome<FlankContact>> contacts =
        measureContact(all.larger ? *all.larger : trial.photo.value(), flanks, options.marking);
    for (std::size_t i = 0; i < flanks.size(); ++i) {
        const Side side = *flanks[i]->outline.side;
        if (contacts[i])
            result.flanks.push_back({.side = side,
                                     .rectified = *flanks[i],
                                     .contact = std::move(contacts[i].value()),
                                     .used = true,
                                     .whyNotUsed = {},
                                     .paintedLogOdds = all.painted[i],
                                     .tooth = all.tooth[i]});
        else
            result.refusedFlanks.push_back(
                {side, flanks[i]->outline, contacts[i].refused(), all.painted[i], all.tooth[i]});
    }
    if (result.found) sortFound(result);
    if (!result.flanks.empty()) return result;
    const bool bare = result.found && isBareGear(result, all.larger ? *all.larger : trial.photo.value(), all.small);
    result.refused = refusalOfPhoto(result, options.side, bare);
    // Flanks that seem hidden may be lost in the dark or in glare.
    if (result.found && !isOfCompound(result.refused->why))
        if (auto fault = measure::photoFault(trial.photo.value().picture)) result.refused = std::move(fault);
    return result;
}

std::vector<MeasuredPhoto> measureEach(const std::vector<TrialPhoto>& photos, const GearSet* gearSet,
                                       const MeasureOptions& options) {
    std::vector<MeasuredPhoto> out(photos.size());
    std::atomic<std::size_t> next{0};
    std::mutex guard;
    std::exception_ptr problem;
    const auto work = [&] {
        for (std::size_t i = next++; i < photos.size(); i = next++) {
            try {
                if (options.beforePhoto) {
                    const std::lock_guard lock(guard);
                    options.beforePhoto(i);
                }
                out[i] = measurePhoto(photos[i], gearSet, options);
            } catch (...) {
                const std::lock_guard lock(guard);
                problem = std::current_exception();
            }
        }
    };
    std::vector<std::thread> others;
    const std::size_t threads = std::min<std::size_t>(photos.size(), std::max(1u, std::thread::hardware_concurrency()));
    for (std::size_t k = 1; k < threads; ++k) others.emplace_back(work);
    work();
    for (std::thread& other : others) other.join();
    if (problem) std::rethrow_exception(problem);
    return out;
}

/// Why a flank that is the only one read of its side is not believed; empty where it is.
Message whyNotAlone(const MeasuredFlank& alone, const std::vector<MeasuredPhoto>& photos) {
    // Where the other painted teeth of a side cannot be read, the one that seems to be is misread in every third photo
    // (tests/accuracy/line), so it is shown but not trusted. A flank that was found without compound on it says
    // nothing: most teeth are not painted.
    std::size_t unreadable = 0;
    std::ptrdiff_t bare = 0;
    for (const MeasuredPhoto& photo : photos)
        for (const RefusedFlank& flank : photo.refusedFlanks) {
            if (flank.side != alone.side) continue;
            const bool isBare = photo.found && flank.refused.why == Refusal::NoCompound;
            unreadable += isOfCompound(flank.refused.why) && !isBare;
            bare += isBare && flank.paintedLogOdds + kPaintGap < alone.paintedLogOdds;
        }
    if (unreadable > 0)
        return message(unreadable == 1 ? "measure.stands-alone-beside-one" : "measure.stands-alone-beside-others",
                       unreadable);
    if (alone.rectified.found && bare < kBareBeside) return message("measure.stands-alone");
    return {};
}

/// One side over all photos; marks the flanks that were left out.
std::optional<Consensus> consensusOf(std::vector<MeasuredPhoto>& photos, Side side) {
    std::vector<MeasuredFlank*> flanks;
    std::vector<FlankContact> contacts;
    for (MeasuredPhoto& photo : photos) {
        for (MeasuredFlank& flank : photo.flanks) {
            if (flank.side != side) continue;
            flanks.push_back(&flank);
            contacts.push_back(flank.contact);
        }
    }
    if (contacts.empty()) return std::nullopt;
    if (flanks.size() == 1) {
        if (Message why = whyNotAlone(*flanks.front(), photos); !why.empty()) {
            flanks.front()->used = false;
            flanks.front()->whyNotUsed = std::move(why);
            return std::nullopt;
        }
    }
    Consensus consensus = consensusOverTeeth(contacts, measure::toothOfEach(photos, side));
    if (consensus.pattern.teeth == 1) {
        const double wider = flanks.front()->rectified.found ? kAloneFound : kAloneOutlined;
        consensus.pattern.sigmaToeHeel *= wider;
        consensus.pattern.sigmaRootTip *= wider;
    }
    for (std::size_t i = 0; i < flanks.size(); ++i) {
        flanks[i]->used = i < consensus.used.size() && consensus.used[i];
        if (!flanks[i]->used && i < consensus.whyNot.size()) flanks[i]->whyNotUsed = consensus.whyNot[i];
    }
    return consensus;
}

}  // namespace

Outcome<Photo> openTrialPhoto(const std::string& file) {
    try {
        return loadPhoto(file, {.limits = {}, .targetLongSide = kReadingLongSide});
    } catch (const InputError& error) {
        // The record names the file beside the reason.
        return Refused{Refusal::UnreadablePhoto, error.file() == file ? error.sentence() : Message(error.what()),
                       message("measure.check-file")};
    }
}

Outcome<Photo> openTrialPhoto(std::shared_ptr<const std::vector<std::uint8_t>> bytes) {
    try {
        Photo photo = decodePhoto(*bytes, {.limits = {}, .targetLongSide = kReadingLongSide});
        // As loadPhoto leaves it: a small flank is read in the photo at full size.
        if (photo.scale < 1) photo.file = std::move(bytes);
        return photo;
    } catch (const InputError& error) {
        return Refused{Refusal::UnreadablePhoto, error.what(), message("measure.check-file")};
    }
}

std::vector<MeasuredPhoto> measurePhotos(const std::vector<TrialPhoto>& photos, const GearSetData* gearSet,
                                         const MeasureOptions& options) {
    if (gearSet == nullptr) return measureEach(photos, nullptr, options);
    const GearSet complete = completeGearSet(*gearSet);
    return measureEach(photos, &complete, options);
}

Measurement measureTrial(const std::vector<TrialPhoto>& photos, const GearSetData* gearSet,
                         const MeasureOptions& options) {
    return weighPhotos(measurePhotos(photos, gearSet, options), gearSet);
}

Measurement weighPhotos(std::vector<MeasuredPhoto> photos, const GearSetData* gearSet) {
    Measurement result;
    std::optional<GearSet> complete;
    if (gearSet != nullptr) {
        complete = completeGearSet(*gearSet);
        result.assumed = complete->assumed;
    }
    result.photos = std::move(photos);
    for (MeasuredPhoto& photo : result.photos)  // they may have been weighed before
        for (MeasuredFlank& flank : photo.flanks) flank.used = true, flank.whyNotUsed = {};
    if (complete) result.setMisfit = measure::setMisfitOf(result.photos, *complete);
    result.drive = consensusOf(result.photos, Side::Drive);
    result.coast = consensusOf(result.photos, Side::Coast);
    return result;
}

TrialObservation observationOf(const Measurement& measurement) {
    std::optional<Pattern> drive, coast;
    if (measurement.drive) drive = measurement.drive->pattern;
    if (measurement.coast) coast = measurement.coast->pattern;
    std::vector<double> milled;
    for (const MeasuredPhoto& photo : measurement.photos)
        if (photo.cut) milled.push_back(photo.cut->chanceFaceMilled);
    return photographed(drive, coast, milled);
}

std::optional<Advice> adviseTrial(const Measurement& measurement, const GearSetData& gearSet,
                                  const TrialObservation& seen, const AdviceOptions& options) {
    if (!measurement.anythingRead() || measurement.setMisfit) return std::nullopt;
    const JobTrial only{seen, std::nullopt};
    return adviseJob(gearSet, std::span(&only, 1), options);
}

MeasurementRecord recordOf(const Measurement& measurement) {
    MeasurementRecord written;
    for (const MeasuredPhoto& photo : measurement.photos) {
        RecordedPhoto record;
        record.file = photo.file;
        record.refused = photo.refused;
        record.found = photo.found;
        if (photo.cut) record.cutEvidence = RecordedCutEvidence{photo.cut->chanceFaceMilled, photo.cut->because};
        for (const MeasuredFlank& flank : photo.flanks)
            record.flanks.push_back({.side = flank.side,
                                     .outline = flank.rectified.outline.corners,
                                     .confidence = flank.contact.flankConfidence,
                                     .marking = flank.contact.marking,
                                     .markingCertainty = flank.contact.markingCertainty,
                                     .used = flank.used,
                                     .pattern = flank.contact.pattern});
        for (const RefusedFlank& flank : photo.refusedFlanks)
            record.refusedFlanks.push_back({flank.side, flank.outline.corners, flank.refused});
        written.photos.push_back(std::move(record));
    }
    if (measurement.drive) written.drive = measurement.drive->pattern;
    if (measurement.coast) written.coast = measurement.coast->pattern;
    written.setMisfit = measurement.setMisfit;
    written.assumed = measurement.assumed;
    return written;
}

}  // namespace shimsight
