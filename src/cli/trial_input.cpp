// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "cli/trial_input.h"

#include <algorithm>
#include <cctype>
#include <filesystem>

#include "cli/args.h"
#include "cli/hints.h"
#include "cli/output.h"
#include "cli/report.h"
#include "shimsight/files.h"
#include "shimsight/photo.h"
#include "shimsight/words.h"

namespace shimsight::cli {
namespace {

/// A flank map has 32 kB; a colour one drawn in a paint program stays far below this.
constexpr std::int64_t kMaxMapBytes = 10'000'000;

/// The photo that an outline's "photo" means. The whole name rules, else the name without folders when only one fits.
std::size_t photoNamed(const std::string& name, const std::vector<std::string>& photos,
                       const std::string& outlineFile) {
    const auto whole = std::find(photos.begin(), photos.end(), name);
    if (whole != photos.end()) return static_cast<std::size_t>(whole - photos.begin());
    std::optional<std::size_t> found;
    for (std::size_t i = 0; i < photos.size(); ++i) {
        if (baseName(photos[i]) != baseName(name)) continue;
        if (found) throw InputError(message("cli.outline-of-two-photos", outlineFile, baseName(name)));
        found = i;
    }
    if (!found) throw InputError(message("cli.outline-of-no-photo", outlineFile, baseName(name)));
    return *found;
}

std::string lowerFirst(std::string text) {
    if (!text.empty()) text[0] = static_cast<char>(std::tolower(static_cast<unsigned char>(text[0])));
    return text;
}

/// What did not count of a photo whose flanks were found: counts, since there may be twenty.
std::string leftOutOfFound(const MeasuredPhoto& photo) {
    std::string line;
    std::vector<std::string> notUsed;
    for (const MeasuredFlank& flank : photo.flanks)
        if (!flank.used) notUsed.push_back(text(flank.whyNotUsed));
    if (notUsed.size() == 1)
        line += " " + say(photo.flanks.size() == 1 ? "cli.it-does-not-count" : "cli.one-does-not-count",
                          lowerFirst(notUsed.front()));
    else if (!notUsed.empty())
        line += " " + say("cli.some-do-not-count", notUsed.size());
    std::vector<Refusal> reasons;
    for (const RefusedFlank& flank : photo.refusedFlanks) reasons.push_back(flank.refused.why);
    if (!reasons.empty()) line += " " + say("cli.left-out", countedReasons(reasons));
    return line;
}

/// What did not count of a photo whose flanks were outlined by hand: a sentence for each.
std::string leftOutOfOutlined(const MeasuredPhoto& photo) {
    std::string line;
    for (const MeasuredFlank& flank : photo.flanks)
        if (!flank.used) line += " " + say("cli.flank-does-not-count", lowerFirst(text(flank.whyNotUsed)));
    for (const RefusedFlank& flank : photo.refusedFlanks)
        line += " " +
                say("cli.flank-not-read", lowerFirst(text(flank.refused.reason)), forTerminal(flank.refused.whatToDo));
    return line;
}

}  // namespace

std::string baseName(const std::string& file) { return std::filesystem::path(file).filename().string(); }

std::vector<std::vector<FlankOutline>> outlinesOf(const std::vector<std::string>& photos,
                                                  const std::vector<std::string>& outlineFiles,
                                                  std::optional<Side> side) {
    std::vector<std::vector<FlankOutline>> result(photos.size());
    for (std::size_t i = 0; i < outlineFiles.size(); ++i) {
        for (PhotoOutline& flank : readOutlineFile(outlineFiles[i])) {
            std::size_t photo = i;
            if (!flank.photo.empty()) {
                photo = photoNamed(flank.photo, photos, outlineFiles[i]);
            } else if (outlineFiles.size() != photos.size()) {
                throw UsageError(say("cli.outline-without-photo", outlineFiles[i]));
            }
            if (side && flank.outline.side && *flank.outline.side != *side)
                throw UsageError(say("cli.outline-of-other-side", outlineFiles[i]));
            if (!flank.outline.side) flank.outline.side = side;
            result[photo].push_back(std::move(flank.outline));
        }
    }
    return result;
}

std::string photoLine(const MeasuredPhoto& photo) {
    if (photo.refused)
        return say("cli.photo-not-read", photo.file, lowerFirst(text(photo.refused->reason)),
                   forTerminal(photo.refused->whatToDo));
    std::string seen;
    for (const Side side : kSides) {
        const auto count = std::count_if(photo.flanks.begin(), photo.flanks.end(),
                                         [&](const MeasuredFlank& flank) { return flank.side == side; });
        if (count == 0) continue;
        const char* key = side == Side::Drive ? (count == 1 ? "cli.drive-flank-read" : "cli.drive-flanks-read")
                                              : (count == 1 ? "cli.coast-flank-read" : "cli.coast-flanks-read");
        seen += (seen.empty() ? "" : ", ") + say(key, count);
    }
    const auto wiped = std::count_if(photo.flanks.begin(), photo.flanks.end(), [](const MeasuredFlank& flank) {
        return flank.contact.marking == Marking::Wiped;
    });
    const auto all = static_cast<std::ptrdiff_t>(photo.flanks.size());
    return say(wiped == all ? "cli.photo-read-wiped"
               : wiped == 0 ? "cli.photo-read-printed"
                            : "cli.photo-read-both",
               photo.file, seen) +
           (photo.found ? leftOutOfFound(photo) : leftOutOfOutlined(photo));
}

Pattern patternOfMap(const std::string& file) {
    const std::optional<Pattern> pattern = measurePattern(readFlankMap(file));
    if (!pattern) throw InputError(message("cli.map-without-contact", file));
    return *pattern;
}

void addKnownOptions(Args& args, KnownInput& into) {
    args.texts("--checked", into.checked, "KIND",
               "what was looked into and found right; it is not asked about again. Given once for each of: " +
                   lookedIntoWords() +
                   ". sides: which flank is drive and which coast; cut: milled or hobbed; housing: "
                   "bores, cups and pinion support");
    args.length("--runout", into.runout,
                "runout of the ring gear's back face, the whole movement of a dial over one turn");
}

void close(std::vector<DiagnosisKind>& checked, DiagnosisKind kind) {
    for (const DiagnosisKind closed : closedBy(kind))
        if (std::find(checked.begin(), checked.end(), closed) == checked.end()) checked.push_back(closed);
}

void takeKnown(const KnownInput& input, AdviceOptions& options) {
    try {
        for (const std::string& word : input.checked) close(options.checked, parseLookedInto(word, "--checked"));
    } catch (const InputError& error) {
        throw UsageError(error.what());
    }
    if (input.runout) options.ringRunoutMm = amountMm(input.runout, "--runout");
}

FlankMap readFlankMap(const std::string& file) {
    GreyPicture picture;
    const std::vector<std::uint8_t> bytes = readFile(file, kMaxMapBytes);
    try {
        picture = decodePngGrey(bytes);
    } catch (const InputError& error) {
        throw InputError(error.sentence(), file);
    }
    if (picture.width != kMapWidth || picture.height != kMapHeight)
        throw InputError(
            message("cli.map-of-another-size", file, picture.width, picture.height, kMapWidth, kMapHeight));
    FlankMap map;
    map.contact = std::move(picture.values);
    return map;
}

}  // namespace shimsight::cli
