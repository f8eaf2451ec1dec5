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

namespace shimsight::cli {
namespace {

/// A flank map has 32 kB; a colour one drawn in a paint program stays far below this.
constexpr std::int64_t kMostMapBytes = 10'000'000;

/// The photo that an outline's "photo" means. The whole name rules, else the name without folders when only one fits.
std::size_t photoNamed(const std::string& name, const std::vector<std::string>& photos,
                       const std::string& outlineFile) {
    const auto whole = std::find(photos.begin(), photos.end(), name);
    if (whole != photos.end()) return static_cast<std::size_t>(whole - photos.begin());
    std::optional<std::size_t> found;
    for (std::size_t i = 0; i < photos.size(); ++i) {
        if (baseName(photos[i]) != baseName(name)) continue;
        if (found)
            throw InputError(outlineFile + ": \"photo\" is \"" + baseName(name) +
                             "\", and more than one photo has this name; write it with its folder.");
        found = i;
    }
    if (!found)
        throw InputError(outlineFile + ": \"photo\" is \"" + baseName(name) +
                         "\", which is not among the photos that were given.");
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
        line += (photo.flanks.size() == 1 ? " It does not count: " : " One of them does not count: ") +
                lowerFirst(notUsed.front());
    else if (!notUsed.empty())
        line +=
            printed(" %zu of them do not count: their patterns differ from those of the other teeth.", notUsed.size());
    std::vector<Refusal> reasons;
    for (const RefusedFlank& flank : photo.refusedFlanks) reasons.push_back(flank.refused.why);
    if (!reasons.empty()) line += " Left out: " + countedReasons(reasons) + ".";
    return line;
}

/// What did not count of a photo whose flanks were marked: a sentence for each.
std::string leftOutOfMarked(const MeasuredPhoto& photo) {
    std::string line;
    for (const MeasuredFlank& flank : photo.flanks)
        if (!flank.used) line += " One flank does not count: " + lowerFirst(text(flank.whyNotUsed));
    for (const RefusedFlank& flank : photo.refusedFlanks)
        line += " One flank was not read: " + lowerFirst(text(flank.refused.reason)) + " " +
                forTerminal(flank.refused.whatToDo);
    return line;
}

}  // namespace

std::string baseName(const std::string& file) { return std::filesystem::path(file).filename().string(); }

std::vector<std::vector<FlankOutline>> outlinesOf(const std::vector<std::string>& photos,
                                                  const std::vector<std::string>& outlineFiles,
                                                  std::optional<Side> side) {
    std::vector<std::vector<FlankOutline>> result(photos.size());
    for (std::size_t i = 0; i < outlineFiles.size(); ++i) {
        for (MarkedFlank& flank : readOutlineFile(outlineFiles[i])) {
            std::size_t photo = i;
            if (!flank.photo.empty()) {
                photo = photoNamed(flank.photo, photos, outlineFiles[i]);
            } else if (outlineFiles.size() != photos.size()) {
                throw UsageError(
                    outlineFiles[i] +
                    ": it is not said to which photo its flanks belong. Give one --outline for each photo, in "
                    "the order of the photos, or write \"photo\" beside each flank.");
            }
            if (side && flank.outline.side && *flank.outline.side != *side)
                throw UsageError(
                    outlineFiles[i] +
                    ": \"side\" of a flank is not the one of --side; leave --side out, or correct the file.");
            if (!flank.outline.side) flank.outline.side = side;
            result[photo].push_back(std::move(flank.outline));
        }
    }
    return result;
}

std::string photoLine(const MeasuredPhoto& photo) {
    if (photo.refused)
        return photo.file + ": not read: " + lowerFirst(text(photo.refused->reason)) + " " +
               forTerminal(photo.refused->whatToDo);
    std::string line = photo.file + ":";
    for (const Side side : kSides) {
        const auto count = std::count_if(photo.flanks.begin(), photo.flanks.end(),
                                         [&](const MeasuredFlank& flank) { return flank.side == side; });
        if (count == 0) continue;
        line += printed("%s %td %s %s read", line.back() == ':' ? "" : ",", count, name(side).data(),
                        count == 1 ? "flank" : "flanks");
    }
    const auto wiped = std::count_if(photo.flanks.begin(), photo.flanks.end(), [](const MeasuredFlank& flank) {
        return flank.reading.marking == Marking::Wiped;
    });
    const auto all = static_cast<std::ptrdiff_t>(photo.flanks.size());
    line += wiped == all ? "; contact shows as paste wiped away"
            : wiped == 0 ? "; contact shows as paste printed on the tooth"
                         : "; paste wiped away on some, printed on others";
    return line + "." + (photo.found ? leftOutOfFound(photo) : leftOutOfMarked(photo));
}

Pattern patternOfMap(const std::string& file) {
    const std::optional<Pattern> pattern = measurePattern(readFlankMap(file));
    if (!pattern)
        throw InputError(file +
                         ": there is no contact in this flank map; contact is bright (255) and the rest black (0).");
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
    const std::vector<std::uint8_t> bytes = readFile(file, kMostMapBytes);
    try {
        picture = decodePngGrey(bytes);
    } catch (const InputError& error) {
        throw InputError(file + ": " + error.what());
    }
    if (picture.width != kMapWidth || picture.height != kMapHeight)
        throw InputError(
            printed("%s: the picture is %d x %d pixels; a flank map is %d wide (toe at the left) and %d high "
                    "(tip at the top).",
                    file.c_str(), picture.width, picture.height, kMapWidth, kMapHeight));
    FlankMap map;
    map.contact = std::move(picture.values);
    return map;
}

}  // namespace shimsight::cli
