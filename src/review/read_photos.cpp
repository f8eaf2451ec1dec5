#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <iterator>

#include "reading_version.h"
#include "review/merge.h"
#include "review/store.h"
#include "shimsight/draw.h"
#include "shimsight/files.h"
#include "shimsight/records.h"
#include "shimsight/review.h"

namespace shimsight {
namespace {

/// Long side of the picture on the page, and of the small one in the overview, pixels. JPEG quality by eye: above it
/// files grow and nothing is to be seen.
constexpr int kPictureLongSide = 720, kThumbnailLongSide = 144;
constexpr int kPictureQuality = 74, kThumbnailQuality = 70;
constexpr int kFewSamples = 16;

/// Means over boxes of pixels: enough for a thumbnail.
Picture shrunk(const Picture& picture, int longSide) {
    const double scale = static_cast<double>(longSide) / std::max(picture.width, picture.height);
    if (scale >= 1) return picture;
    Picture out;
    out.width = std::max(1, static_cast<int>(std::lround(picture.width * scale)));
    out.height = std::max(1, static_cast<int>(std::lround(picture.height * scale)));
    out.rgb.resize(std::size_t{3} * static_cast<std::size_t>(out.width) * static_cast<std::size_t>(out.height));
    for (int y = 0; y < out.height; ++y) {
        const int y0 = y * picture.height / out.height, y1 = std::max(y0 + 1, (y + 1) * picture.height / out.height);
        for (int x = 0; x < out.width; ++x) {
            const int x0 = x * picture.width / out.width, x1 = std::max(x0 + 1, (x + 1) * picture.width / out.width);
            for (int c = 0; c < 3; ++c) {
                long sum = 0;
                for (int j = y0; j < y1; ++j)
                    for (int i = x0; i < x1; ++i)
                        sum += picture.rgb[static_cast<std::size_t>(3 * (j * picture.width + i) + c)];
                out.rgb[static_cast<std::size_t>(3 * (y * out.width + x) + c)] =
                    static_cast<std::uint8_t>(sum / (static_cast<long>(y1 - y0) * (x1 - x0)));
            }
        }
    }
    return out;
}

/// A flank without compound says nothing on a page: most teeth are not painted.
bool worthShowing(Refusal why) {
    return why == Refusal::NotRolled || why == Refusal::Smeared || why == Refusal::Glare || why == Refusal::TooDark ||
           why == Refusal::OutOfFocus;
}

/// The photo with what was read drawn on it; the caption is left to the page, where it can be read out and copied.
void addPictures(const Photo& photo, const MeasuredPhoto& measured, ReadPhoto& out) {
    std::vector<AnnotatedFlank> flanks;
    for (const MeasuredFlank& flank : measured.flanks)
        flanks.push_back({flank.unwrapped.outline, &flank.unwrapped, &flank.reading, flank.used, text(flank.whyNotUsed),
                          "unlike the other teeth"});
    for (const RefusedFlank& flank : measured.refusedFlanks)
        if (!measured.found || worthShowing(flank.refused.why))
            flanks.push_back(
                {flank.outline, nullptr, nullptr, false, text(flank.refused.reason), behindCount(flank.refused.why)});
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
    out.thumbnail = encodeJpeg(shrunk(picture, kThumbnailLongSide), kThumbnailQuality);
}

ReadPhoto readPhotoOf(const TrialPhoto& trial, const MeasuredPhoto& measured) {
    ReadPhoto photo;
    photo.file = measured.file;
    photo.refused = measured.refused;
    photo.cut = measured.cut;
    for (const MeasuredFlank& flank : measured.flanks)
        flank.used ? ++photo.flanks[index(flank.side)] : ++photo.notCounted;
    std::vector<Refusal> reasons;
    for (const RefusedFlank& flank : measured.refusedFlanks) reasons.push_back(flank.refused.why);
    photo.leftOut = countedReasons(reasons);
    if (trial.photo) {
        photo.takenAt = trial.photo.value().notes.takenAt;
        addPictures(trial.photo.value(), measured, photo);
    }
    return photo;
}

/// The key by which the photos of the request at `members`, read together, are known; empty where a file cannot be
/// read.
std::string keyOf(const ReadRequest& request, const std::vector<std::size_t>& members,
                  const std::vector<std::string>& sums) {
    std::vector<MarkedFlank> marked;
    for (const std::size_t i : members)
        if (i < request.outlines.size())
            for (const FlankOutline& outline : request.outlines[i]) marked.push_back({outline, sums[i]});
    std::string what = readingVersion() + "\n";
    for (const std::size_t i : members) {
        if (sums[i].empty()) return "";
        what += sums[i] + "\n";
    }
    what += request.gearSet != nullptr ? writeGearSet(*request.gearSet) : "no gear set\n";
    if (request.side) what += *request.side == Side::Drive ? "drive only\n" : "coast only\n";
    if (request.marking) what += std::string(name(*request.marking)) + "\n";
    if (!marked.empty()) what += writeOutline(marked);
    return sha256Of(std::span(reinterpret_cast<const std::uint8_t*>(what.data()), what.size()));
}

/// Photos of one request: what each of them says by itself is kept, so that none is read twice.
class Reader {
public:
    Reader(const ReadRequest& request, const std::filesystem::path& cache)
        : request_(request), cache_(cache), sums_(request.files.size()), measured_(request.files.size()) {
        for (std::size_t i = 0; i < request.files.size(); ++i) {
            try {
                sums_[i] = sha256Of(readFile(request.files[i], DecodeLimits{}.maxFileBytes));
            } catch (const InputError&) {
                // Told when it is opened.
            }
        }
        options_.side = request.side;
        options_.marking = request.marking;
        // The advice comes later, from all trials of the job; the one of this photo alone is not used.
        options_.advice.samples = kFewSamples;
    }

    /// The photos at `members`, weighed together; from the cache when they are there.
    ReadPhotos together(const std::vector<std::size_t>& members) {
        const std::string key = keyOf(request_, members, sums_);
        ReadPhotos read;
        std::optional<ReadPhotos> kept;
        if (!key.empty()) kept = review::loadRead(cache_, key);
        if (kept && kept->photos.size() == members.size()) {
            read = std::move(*kept);
            read.fromCache = static_cast<int>(members.size());
        } else {
            read = weighed(members);
            if (!key.empty()) review::keepRead(cache_, key, read);
        }
        for (std::size_t k = 0; k < members.size(); ++k) read.photos[k].file = request_.files[members[k]].string();
        return read;
    }

private:
    ReadPhotos weighed(const std::vector<std::size_t>& members) {
        std::vector<TrialPhoto> trial;
        std::vector<MeasuredPhoto> measured;
        for (const std::size_t i : members) {
            const std::string file = request_.files[i].string();
            trial.push_back({file, openTrialPhoto(file),
                             i < request_.outlines.size() ? request_.outlines[i] : std::vector<FlankOutline>{}});
            if (!measured_[i]) measured_[i] = measurePhotos({trial.back()}, request_.gearSet, options_).front();
            measured.push_back(*measured_[i]);
        }
        const Measurement together = weighPhotos(std::move(measured), request_.gearSet, options_);
        ReadPhotos read;
        for (std::size_t k = 0; k < members.size(); ++k) {
            read.photos.push_back(readPhotoOf(trial[k], together.photos[k]));
            read.photos[k].sha256 = sums_[members[k]];
        }
        if (together.drive) read.sides[index(Side::Drive)] = ReadSide{together.drive->pattern, together.drive->map};
        if (together.coast) read.sides[index(Side::Coast)] = ReadSide{together.coast->pattern, together.coast->map};
        return read;
    }

    const ReadRequest& request_;
    const std::filesystem::path& cache_;
    std::vector<std::string> sums_;
    std::vector<std::optional<MeasuredPhoto>> measured_;
    MeasureOptions options_;
};

}  // namespace

namespace review {

std::optional<ReadPhotos> merged(std::vector<ReadPhotos>& parts) {
    for (const Side side : kSides)
        if (std::count_if(parts.begin(), parts.end(),
                          [&](const ReadPhotos& part) { return part.sides[index(side)].has_value(); }) > 1)
            return std::nullopt;
    ReadPhotos all;
    for (ReadPhotos& part : parts) {
        all.fromCache += part.fromCache;
        for (const Side side : kSides)
            if (part.sides[index(side)]) all.sides[index(side)] = std::move(part.sides[index(side)]);
        std::move(part.photos.begin(), part.photos.end(), std::back_inserter(all.photos));
    }
    return all;
}

}  // namespace review

std::optional<Side> ReadPhoto::side() const {
    if (flanks[0] == 0 && flanks[1] == 0) return std::nullopt;
    return flanks[0] >= flanks[1] ? Side::Drive : Side::Coast;
}

std::string readingVersion() { return SHIMSIGHT_READING_VERSION; }

std::filesystem::path defaultReviewCache() {
    const auto folder = [](const char* variable) -> std::filesystem::path {
        const char* value = std::getenv(variable);  // NOLINT(concurrency-mt-unsafe)
        return value != nullptr && *value == '/' ? std::filesystem::path(value) : std::filesystem::path();
    };
    if (const auto cache = folder("XDG_CACHE_HOME"); !cache.empty()) return cache / "shimsight" / "review";
    if (const auto home = folder("HOME"); !home.empty()) return home / ".cache" / "shimsight" / "review";
    return {};
}

ReadPhotos readPhotos(const ReadRequest& request, const std::filesystem::path& cache) {
    Reader reader(request, cache);
    std::vector<ReadPhotos> parts;
    int fromCache = 0;
    for (std::size_t i = 0; i < request.files.size(); ++i) {
        parts.push_back(reader.together({i}));
        fromCache += parts.back().fromCache;
    }
    if (std::optional<ReadPhotos> all = review::merged(parts)) return std::move(*all);

    // The teeth of a side that two photos show are weighed together.
    std::vector<std::size_t> members(request.files.size());
    for (std::size_t i = 0; i < members.size(); ++i) members[i] = i;
    ReadPhotos all = reader.together(members);
    all.fromCache = fromCache;
    return all;
}

}  // namespace shimsight
