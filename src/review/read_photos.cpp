// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <iterator>

#include "measuring_version.h"
#include "review/merge.h"
#include "review/store.h"
#include "shimsight/draw.h"
#include "shimsight/files.h"
#include "shimsight/records.h"
#include "shimsight/review.h"
#include "shimsight/words.h"

namespace shimsight {
namespace {

/// Long side of the picture on the page, and of the small one in the overview, pixels. JPEG quality by eye: above it
/// files grow and nothing is to be seen.
constexpr int kPictureLongSide = 720, kThumbnailLongSide = 144;
constexpr int kPictureQuality = 74, kThumbnailQuality = 70;

/// A flank without compound says nothing on a page: most teeth are not painted.
bool worthShowing(Refusal why) {
    return why == Refusal::NotRolled || why == Refusal::Smeared || why == Refusal::Glare || why == Refusal::TooDark ||
           why == Refusal::OutOfFocus;
}

/// The photo with what was read drawn on it; the caption is left to the page, where it can be read out and copied.
void addPictures(const Photo& photo, const MeasuredPhoto& measured, KeptPhoto& out) {
    std::vector<AnnotatedFlank> flanks;
    for (const MeasuredFlank& flank : measured.flanks)
        flanks.push_back({.outline = flank.rectified.outline,
                          .rectified = &flank.rectified,
                          .contact = &flank.contact,
                          .used = flank.used,
                          .whyNot = text(flank.whyNotUsed),
                          .whyNotShort = say("review.unlike-the-other-teeth")});
    for (const RefusedFlank& flank : measured.refusedFlanks)
        if (!measured.found || worthShowing(flank.refused.why))
            flanks.push_back({.outline = flank.outline,
                              .used = false,
                              .whyNot = text(flank.refused.reason),
                              .whyNotShort = behindCount(flank.refused.why)});
    AnnotateOptions options;
    options.longestSidePx = kPictureLongSide;
    options.grouped = true;
    Picture picture = annotate(photo, flanks, options);
    const int height = std::min(
        picture.height,
        static_cast<int>(std::lround(static_cast<double>(picture.width) * photo.picture.height / photo.picture.width)));
    picture.height = height;
    picture.rgb.resize(std::size_t{3} * static_cast<std::size_t>(picture.width) * static_cast<std::size_t>(height));
    out.width = picture.width;
    out.height = picture.height;
    out.picture = encodeJpeg(picture, kPictureQuality);
    out.thumbnail = encodeJpeg(shrunkTo(picture, kThumbnailLongSide), kThumbnailQuality);
}

/// What the weighing says of a photo's flanks.
void count(const MeasuredPhoto& measured, KeptPhoto& out) {
    out.flanks = {};
    out.notCounted = 0;
    for (const MeasuredFlank& flank : measured.flanks) flank.used ? ++out.flanks[index(flank.side)] : ++out.notCounted;
}

KeptPhoto readPhotoOf(const TrialPhoto& trial, const MeasuredPhoto& measured) {
    KeptPhoto photo;
    photo.file = measured.file;
    photo.refused = measured.refused;
    photo.cut = measured.cut;
    count(measured, photo);
    std::vector<Refusal> reasons;
    for (const RefusedFlank& flank : measured.refusedFlanks) reasons.push_back(flank.refused.why);
    photo.leftOut = countedReasons(reasons);
    if (trial.photo) {
        photo.takenAt = trial.photo.value().notes.takenAt;
        addPictures(trial.photo.value(), measured, photo);
    }
    return photo;
}

void takeSides(const Measurement& measurement, KeptPhotos& out) {
    out.sides = {};
    if (measurement.drive) out.sides[index(Side::Drive)] = KeptSide{measurement.drive->pattern, measurement.drive->map};
    if (measurement.coast) out.sides[index(Side::Coast)] = KeptSide{measurement.coast->pattern, measurement.coast->map};
}

bool countAlike(const MeasuredPhoto& a, const MeasuredPhoto& b) {
    return std::equal(a.flanks.begin(), a.flanks.end(), b.flanks.begin(), b.flanks.end(),
                      [](const MeasuredFlank& x, const MeasuredFlank& y) { return x.used == y.used; });
}

/// The key by which photo `i` of the request is known; empty where the file cannot be read.
std::string keyOf(const PhotosRequest& request, std::size_t i, const std::string& sum) {
    if (sum.empty()) return "";
    std::string what = measuringBasis(sum, request.gearSet);
    if (request.side) what += *request.side == Side::Drive ? "drive only\n" : "coast only\n";
    if (request.marking) what += std::string(name(*request.marking)) + "\n";
    std::vector<PhotoOutline> outlined;
    if (i < request.outlines.size())
        for (const FlankOutline& outline : request.outlines[i]) outlined.push_back({outline, sum});
    if (!outlined.empty()) what += writeOutline(outlined);
    return sha256Of(what);
}

std::string sumOf(const std::filesystem::path& file) {
    try {
        return sha256Of(readFile(file, DecodeLimits{}.maxFileBytes));
    } catch (const InputError&) {
        return "";  // told when it is opened
    }
}

KeptPhotos readAnew(const PhotosRequest& request, std::size_t i) {
    MeasureOptions options;
    options.side = request.side;
    options.marking = request.marking;
    const std::string file = request.files[i].string();
    const TrialPhoto trial{file, openTrialPhoto(file),
                           i < request.outlines.size() ? request.outlines[i] : std::vector<FlankOutline>{}};
    // The advice comes later, from all trials of the job, so none is asked for here.
    Measurement alone = weighPhotos(measurePhotos({trial}, request.gearSet, options), nullptr);
    KeptPhotos read;
    read.photos.push_back(readPhotoOf(trial, alone.photos.front()));
    takeSides(alone, read);
    read.measured = std::move(alone.photos);
    return read;
}

/// Photo `i` of the request by itself, from the cache when it is there.
KeptPhotos readOne(const PhotosRequest& request, std::size_t i, const std::filesystem::path& cache) {
    const std::string sum = sumOf(request.files[i]), key = keyOf(request, i, sum);
    std::optional<KeptPhotos> kept;
    if (!key.empty()) kept = review::loadRead(cache, key);
    KeptPhotos read;
    if (kept && kept->photos.size() == 1 && kept->measured.size() == 1) {
        read = std::move(*kept);
        read.fromCache = 1;
    } else {
        read = readAnew(request, i);
        read.photos.front().sha256 = sum;
        if (!key.empty()) review::keepRead(cache, key, read);
    }
    read.photos.front().file = read.measured.front().file = request.files[i].string();
    return read;
}

}  // namespace

namespace review {

KeptPhotos merged(std::vector<KeptPhotos> parts) {
    if (parts.size() == 1) return std::move(parts.front());
    KeptPhotos all;
    for (KeptPhotos& part : parts) {
        all.fromCache += part.fromCache;
        std::move(part.photos.begin(), part.photos.end(), std::back_inserter(all.photos));
        std::move(part.measured.begin(), part.measured.end(), std::back_inserter(all.measured));
    }
    check(all.photos.size() == all.measured.size(), "photos that are put together have what they say beside them");
    Measurement together = weighPhotos(all.measured, nullptr);
    for (std::size_t k = 0; k < all.photos.size(); ++k) {
        const MeasuredPhoto& weighed = together.photos[k];
        if (countAlike(weighed, all.measured[k])) continue;
        count(weighed, all.photos[k]);
        if (const Outcome<Photo> photo = openTrialPhoto(weighed.file))
            addPictures(photo.value(), weighed, all.photos[k]);
    }
    takeSides(together, all);
    all.measured = std::move(together.photos);
    return all;
}

}  // namespace review

std::optional<Side> KeptPhoto::side() const {
    if (flanks[0] == 0 && flanks[1] == 0) return std::nullopt;
    return flanks[0] >= flanks[1] ? Side::Drive : Side::Coast;
}

std::string measuringVersion() { return SHIMSIGHT_READING_VERSION; }

std::string measuringBasis(std::string_view sum, const GearSetData* gearSet) {
    return measuringVersion() + "\n" + std::string(sum) + "\n" +
           (gearSet != nullptr ? writeGearSet(*gearSet) : "no-gear-set\n");
}

std::filesystem::path defaultReviewCache() {
    const auto folder = [](const char* variable) -> std::filesystem::path {
        const char* value = std::getenv(variable);  // NOLINT(concurrency-mt-unsafe)
        return value != nullptr && *value == '/' ? std::filesystem::path(value) : std::filesystem::path();
    };
    if (const auto cache = folder("XDG_CACHE_HOME"); !cache.empty()) return cache / "shimsight" / "review";
    if (const auto home = folder("HOME"); !home.empty()) return home / ".cache" / "shimsight" / "review";
    return {};
}

KeptPhotos readPhotos(const PhotosRequest& request, const std::filesystem::path& cache) {
    std::vector<KeptPhotos> parts;
    for (std::size_t i = 0; i < request.files.size(); ++i) parts.push_back(readOne(request, i, cache));
    return review::merged(std::move(parts));
}

}  // namespace shimsight
