// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include <algorithm>
#include <array>
#include <cctype>
#include <cmath>
#include <cstdio>
#include <utility>

#include "job/words.h"
#include "shimsight/advice_start.h"
#include "shimsight/blank.h"
#include "shimsight/job.h"
#include "shimsight/words.h"

namespace shimsight {
namespace {

// What an axle can have; beyond it is a slip of the pen. As in history files where these have the value too.
constexpr double kMaxBacklashMm = 5, kMaxStackMm = 50, kMaxChangeMm = 5, kMaxRunoutMm = 10, kMaxSpreadMm = 10;
constexpr double kMaxTurningNm = 100, kMaxBoltNm = 3000, kMaxNotches = 1000;
constexpr double kNmPerFootPound = 1.3558179;
constexpr std::size_t kShownBytes = 40;  ///< of a text that is refused
const std::string kOwnCheck = "own-";    ///< before the number of a line of the shop's own

/// Text that a person typed: bounded, without control characters other than line ends.
void tidyText(std::string& text, const std::string& what) {
    if (text.size() > kMaxJobText) throw InputError(message("job.text-too-long", what, text.size(), kMaxJobText));
    for (char& c : text) {
        const auto byte = static_cast<unsigned char>(c);
        if ((byte < 0x20 && c != '\n') || byte == 0x7f) c = ' ';
    }
}

std::string shownNumber(double value) { return formatted("%.6g", value); }

void checkNumber(double value, double low, double high, const std::string& what, const char* unit) {
    if (std::isfinite(value) && value >= low && value <= high) return;
    throw InputError(
        message("job.number-out-of-range", what, shownNumber(value), shownNumber(low), shownNumber(high), unit));
}

void checkNumber(const std::optional<double>& value, double low, double high, const std::string& what,
                 const char* unit) {
    if (value) checkNumber(*value, low, high, what, unit);
}

void checkStamp(JobStamp& stamp, const std::string& what) {
    checkTime(stamp.at, what);
    tidyText(stamp.by, say("job.by-of", what));
    tidyText(stamp.note, say("job.note-of", what));
}

void checkPoints(const std::vector<BacklashPoint>& points, const std::string& what) {
    if (points.size() > kMaxBacklashPoints)
        throw InputError(message("job.too-many-readings", what, points.size(), kMaxBacklashPoints));
    for (const BacklashPoint& point : points) {
        checkNumber(point.mm, 0, kMaxBacklashMm, what, "mm");
        if (!std::isfinite(point.positionDeg) || point.positionDeg < 0 || point.positionDeg >= 360)
            throw InputError(message("job.position-out-of-range", what));
    }
}

void refuseAfterSignOff(const JobRecord& job) {
    if (const SignOff* done = signedOff(job))
        throw InputError(done->stamp.by.empty()
                             ? message("job.signed-off-already", timeWords(done->stamp.at))
                             : message("job.signed-off-already-by", timeWords(done->stamp.at), done->stamp.by));
}

/// Gives the entry its id and puts it into its list.
template <typename Entry>
std::string put(JobRecord& job, std::vector<Entry>& list, Entry entry, const char* prefix, std::size_t most,
                const std::string& what) {
    refuseAfterSignOff(job);
    if (list.size() >= most) throw InputError(message("job.too-many-entries", what, list.size()));
    checkStamp(entry.stamp, what);
    entry.stamp.struck.reset();
    entry.stamp.id = prefix + std::to_string(list.size() + 1);
    job.changedAt = entry.stamp.at;
    list.push_back(std::move(entry));
    return list.back().stamp.id;
}

CheckItem* findCheck(JobRecord& job, std::string_view key) {
    const auto found =
        std::find_if(job.checks.begin(), job.checks.end(), [&](const CheckItem& item) { return item.key == key; });
    return found == job.checks.end() ? nullptr : &*found;
}

/// The stamp of the entry that can be struck out. Throws InputError where there is none of this id.
JobStamp& stampOf(JobRecord& job, std::string_view id) {
    JobStamp* found = nullptr;
    const auto look = [&](auto& list) {
        for (auto& entry : list)
            if (entry.stamp.id == id) found = &entry.stamp;
    };
    look(job.depths), look(job.preloads), look(job.backlashes), look(job.runouts), look(job.carriers), look(job.before),
        look(job.trials), look(job.checked), look(job.work);
    if (found == nullptr) throw InputError(message("job.no-such-entry", id.substr(0, kShownBytes)));
    return *found;
}

int digits(std::string_view text, std::size_t at, std::size_t count) {
    int value = 0;
    for (std::size_t i = at; i < at + count; ++i) {
        if (i >= text.size() || text[i] < '0' || text[i] > '9') return -1;
        value = 10 * value + (text[i] - '0');
    }
    return value;
}

/// Days since 1970 of a day of the Gregorian calendar.
std::int64_t daysOf(int year, int month, int day) {
    // Years begin in March, so that the leap day is the last.
    const std::int64_t y = month <= 2 ? year - 1 : year;
    const std::int64_t m = (month + 9) % 12;
    return 365 * y + y / 4 - y / 100 + y / 400 + (m * 306 + 5) / 10 + day - 1 - 719468;
}

std::optional<std::int64_t> parsedTime(std::string_view time) {
    constexpr std::string_view kShape = "0000-00-00T00:00:00";
    if (time.size() < kShape.size() + 1) return std::nullopt;
    for (std::size_t i = 0; i < kShape.size(); ++i)
        if (kShape[i] != '0' && time[i] != kShape[i]) return std::nullopt;
    const int year = digits(time, 0, 4), month = digits(time, 5, 2), day = digits(time, 8, 2);
    const int hour = digits(time, 11, 2), minute = digits(time, 14, 2), second = digits(time, 17, 2);
    if (year < 1970 || month < 1 || month > 12 || day < 1 || day > 31 || hour < 0 || hour > 23 || minute < 0 ||
        minute > 59 || second < 0 || second > 60)
        return std::nullopt;
    const std::string_view zone = time.substr(kShape.size());
    int offset = 0;
    if (zone != "Z") {
        if (zone.size() != 6 || (zone[0] != '+' && zone[0] != '-') || zone[3] != ':') return std::nullopt;
        const int hours = digits(zone, 1, 2), minutes = digits(zone, 4, 2);
        if (hours < 0 || hours > 14 || minutes < 0 || minutes > 59) return std::nullopt;
        offset = (zone[0] == '+' ? 1 : -1) * (60 * hours + minutes);
    }
    return daysOf(year, month, day) * 86'400 + hour * 3600 + (minute - offset) * 60 + second;
}

}  // namespace

void checkTime(std::string_view time, std::string_view what) {
    if (parsedTime(time)) return;
    throw InputError(message("job.not-a-time", what, time.substr(0, kShownBytes)));
}

std::string timeText(std::time_t seconds) {
    std::tm local{};
    localtime_r(&seconds, &local);
    std::array<char, 40> buffer{};
    std::strftime(buffer.data(), buffer.size(), "%Y-%m-%dT%H:%M:%S%z", &local);
    std::string text = buffer.data();
    text.insert(text.size() - 2, ":");  // +0100 is +01:00
    return text;
}

std::string timeNow() { return timeText(std::time(nullptr)); }

std::int64_t secondsOf(std::string_view time) {
    const std::optional<std::int64_t> seconds = parsedTime(time);
    if (!seconds) checkTime(time, say("job.time"));
    return *seconds;
}

std::string formatBoltTorque(double nm) {
    const double feet = nm / kNmPerFootPound;
    return formatted(feet < 20 ? "%.1f ft-lb (%.1f Nm)" : "%.0f ft-lb (%.0f Nm)", feet, nm);
}

std::string formatBoltTorqueRange(const Interval& nm) {
    const double low = nm.low / kNmPerFootPound, high = nm.high / kNmPerFootPound;
    const char* format = low < 20 ? "%.1f" : "%.0f";
    return say("job.bolt-torque-range", formatted(format, low), formatted(format, high), formatted(format, nm.low),
               formatted(format, nm.high));
}

double parseBoltTorqueNm(std::string_view text, std::string_view what) {
    constexpr std::array<TorqueUnit, 3> kUnits{{{"ft-lb", kNmPerFootPound}, {"in-lb", kNmPerInchPound}, {"Nm", 1.0}}};
    return parseTorqueNm(text, what, {kUnits, kMaxBoltNm, say("job.bolt-torque-units"), say("job.no-bolt-torque")});
}

std::string_view name(BuildKind kind) {
    switch (kind) {
        case BuildKind::NewGears:
            return "new-gears";
        case BuildKind::UsedGears:
            return "used-gears";
        case BuildKind::CheckOnly:
            return "check-only";
    }
    throw std::logic_error("a kind of build without a name");
}

std::string_view name(Bearings bearings) { return bearings == Bearings::New ? "new" : "used"; }

std::string_view name(PinionSpacer spacer) {
    switch (spacer) {
        case PinionSpacer::NotSaid:
            return "not-said";
        case PinionSpacer::CrushSleeve:
            return "crush-sleeve";
        case PinionSpacer::SolidSpacer:
            return "solid-spacer";
    }
    throw std::logic_error("a spacer without a name");
}

std::string_view name(RunoutPlace place) {
    switch (place) {
        case RunoutPlace::RingGear:
            return "ring-gear";
        case RunoutPlace::CarrierFlange:
            return "carrier-flange";
        case RunoutPlace::PinionFlange:
            return "pinion-flange";
    }
    throw std::logic_error("a place of runout without a name");
}

std::string_view name(PatternOrigin origin) {
    switch (origin) {
        case PatternOrigin::None:
            return "none";
        case PatternOrigin::Found:
            return "found";
        case PatternOrigin::Outlined:
            return "marked";
        case PatternOrigin::Drawn:
            return "drawn";
    }
    throw std::logic_error("an origin of a pattern without a name");
}

std::string_view name(CheckList list) {
    switch (list) {
        case CheckList::Parts:
            return "parts";
        case CheckList::Pinion:
            return "pinion";
        case CheckList::Torque:
            return "torque";
        case CheckList::FinalAssembly:
            return "final-assembly";
    }
    throw std::logic_error("a check list without a name");
}

std::string_view name(CheckState state) {
    switch (state) {
        case CheckState::Open:
            return "open";
        case CheckState::Done:
            return "done";
        case CheckState::NotNeeded:
            return "not-needed";
    }
    throw std::logic_error("a state of a check without a name");
}

std::vector<BacklashPoint> equalSteps(std::span<const double> readingsMm) {
    std::vector<BacklashPoint> points;
    for (std::size_t i = 0; i < readingsMm.size(); ++i)
        points.push_back({360.0 * static_cast<double>(i) / static_cast<double>(readingsMm.size()), readingsMm[i]});
    return points;
}

double meanOf(std::span<const BacklashPoint> points) {
    check(!points.empty(), "the mean of no readings was asked for");
    double sum = 0;
    for (const BacklashPoint& point : points) sum += point.mm;
    return sum / static_cast<double>(points.size());
}

PinionSpacer job::spacerOf(const JobRecord& job) {
    if (job.spacer != PinionSpacer::NotSaid) return job.spacer;
    const std::optional<PreloadSpacer>& given = job.gearSet.data.build.preloadSpacer;
    if (!given) return PinionSpacer::NotSaid;
    return *given == PreloadSpacer::CrushSleeve ? PinionSpacer::CrushSleeve : PinionSpacer::SolidSpacer;
}

namespace {

/// The lines that the program knows, in the order of the work, each in its list. Which of them an axle has,
/// job::checkLists says.
struct PlaceOfLine {
    std::string_view key;
    CheckList list;
};
constexpr auto kPlacesOfLines = std::to_array<PlaceOfLine>({
    {"match-numbers", CheckList::Parts},
    {"cut-and-hand", CheckList::Parts},
    {"bearings-seated", CheckList::Parts},
    {"faces-clean", CheckList::Parts},
    {"ring-bolts-kind", CheckList::Parts},
    {"ring-gear-on", CheckList::Parts},
    {"new-sleeve", CheckList::Pinion},
    {"oil-seals", CheckList::Pinion},
    {"new-nut", CheckList::Pinion},
    {"pinion-nut", CheckList::Pinion},
    {"thread-locker", CheckList::Torque},  // of older records: it belongs to the bolts, not to the parts
    {"ring-gear-bolts", CheckList::Torque},
    {"pinion-support-bolts", CheckList::Torque},
    {"bearing-caps", CheckList::Torque},
    {"cap-torque", CheckList::Torque},
    {"adjuster-locks", CheckList::Torque},
    {"witness-marks", CheckList::FinalAssembly},
    {"turns-freely", CheckList::FinalAssembly},
    {"paste-cleaned", CheckList::FinalAssembly},
    {"o-ring", CheckList::FinalAssembly},
    {"cover", CheckList::FinalAssembly},
    {"shaft-seals", CheckList::FinalAssembly},
    {"shaft-retainers", CheckList::FinalAssembly},
    {"shaft-bolts", CheckList::FinalAssembly},
    {"brakes", CheckList::FinalAssembly},
    {"oil-filled", CheckList::FinalAssembly},
    {"break-in", CheckList::FinalAssembly},
});

std::size_t rankOf(std::string_view key) {
    const auto found = std::find_if(kPlacesOfLines.begin(), kPlacesOfLines.end(),
                                    [&](const PlaceOfLine& place) { return place.key == key; });
    return static_cast<std::size_t>(found - kPlacesOfLines.begin());
}

bool isJoint(std::string_view key) {
    return std::any_of(kJoints.begin(), kJoints.end(), [&](const Joint joint) { return name(joint) == key; });
}

/// How the bearings of the carrier are held where the gear-set file says it.
bool hasAdjusters(const JobRecord& job) { return job.gearSet.data.build.carrier == CarrierSetting::ThreadedAdjusters; }

}  // namespace

bool job::isOwnLine(const CheckItem& item) { return item.key.starts_with(kOwnCheck); }

bool takesTorque(const CheckItem& item) {
    return isJoint(item.key) || (item.list == CheckList::Torque && job::isOwnLine(item));
}

void job::putLinesInPlace(std::vector<CheckItem>& lines) {
    for (CheckItem& line : lines)
        if (const std::size_t rank = rankOf(line.key); rank < kPlacesOfLines.size())
            line.list = kPlacesOfLines[rank].list;
    std::stable_sort(lines.begin(), lines.end(), [](const CheckItem& a, const CheckItem& b) {
        return std::pair(a.list, rankOf(a.key)) < std::pair(b.list, rankOf(b.key));
    });
}

// What every axle of this kind has to see before it goes back: common practice, no source. The torques themselves stand
// in the maker's sheet only; those that the gear-set file has from it are wanted.
std::vector<CheckItem> job::checkLists(const JobRecord& job) {
    const BuildData& build = job.gearSet.data.build;
    const bool apart = job.build != BuildKind::CheckOnly, newGears = job.build == BuildKind::NewGears;
    const bool sleeve = spacerOf(job) == PinionSpacer::CrushSleeve;
    std::vector<CheckItem> items;
    const auto add = [&](const char* key, const char* said, bool onlyAtTheEnd = false) {
        CheckItem item;
        item.key = key;
        item.text = say(said);
        item.onlyAtTheEnd = onlyAtTheEnd;
        item.stamp.id = key;
        for (const Joint joint : kJoints) {
            if (name(joint) != key) continue;
            item.wantedNm = job.gearSet.data.limits.torquesNm[index(joint)];
            item.wantedByGearSet = item.wantedNm.has_value();
        }
        items.push_back(std::move(item));
    };
    if (apart) {
        add("match-numbers", newGears ? "job.check-match-numbers" : "job.check-same-pair");
        if (newGears) add("cut-and-hand", "job.check-cut-and-hand");
        add("bearings-seated", job.bearings == Bearings::New ? "job.check-new-bearings" : "job.check-used-bearings");
        add("faces-clean", "job.check-faces-clean");
        add("ring-bolts-kind", "job.check-ring-bolts-kind");
        add("ring-gear-on", "job.check-ring-gear-on");
        if (sleeve) add("new-sleeve", "job.check-new-sleeve", true);
        add("oil-seals", sleeve ? "job.check-oil-seals-sleeve" : "job.check-oil-seals", true);
        add("new-nut", "job.check-new-nut", true);
        add("cap-torque", "job.check-cap-torque");
        add("witness-marks", hasAdjusters(job) ? "job.check-witness-marks-adjusters" : "job.check-witness-marks");
        add("shaft-seals", "job.check-shaft-seals");
        add("break-in", "job.check-break-in");
    }
    add("pinion-nut", sleeve ? "job.check-pinion-nut-sleeve" : "job.check-pinion-nut");
    if (build.pinionShim == PinionShim::UnderPinionSupport)
        add("pinion-support-bolts", "job.check-pinion-support-bolts");
    add("bearing-caps", "job.check-bearing-caps");
    if (hasAdjusters(job)) add("adjuster-locks", "job.check-adjuster-locks");
    add("ring-gear-bolts", apart ? "job.check-ring-gear-bolts" : "job.check-ring-gear-bolts-in-place");
    add("turns-freely", "job.check-turns-freely");
    add("paste-cleaned", "job.check-paste-cleaned");
    add("o-ring", "job.check-o-ring", true);
    add("cover", "job.check-cover", true);
    add("shaft-retainers",
        build.axle == AxlePlace::Front ? "job.check-shaft-retainers-front" : "job.check-shaft-retainers");
    add("shaft-bolts", "job.check-shaft-bolts");
    add("brakes", "job.check-brakes");
    add("oil-filled", "job.check-oil-filled");
    putLinesInPlace(items);
    return items;
}

void fitCheckLists(JobRecord& job) {
    const bool touched = std::any_of(job.checks.begin(), job.checks.end(), [](const CheckItem& item) {
        return item.state != CheckState::Open || !item.stamp.at.empty() || job::isOwnLine(item);
    });
    if (!touched) job.checks = job::checkLists(job);
}

JobRecord newJob(JobGearSet gearSet, std::string axle, std::string customer, std::string setUpBy, std::string at) {
    checkTime(at, say("job.time-of-job"));
    JobRecord job;
    job.gearSet = std::move(gearSet);
    job.checks = job::checkLists(job);
    job.axle = std::move(axle);
    job.customer = std::move(customer);
    job.setUpBy = std::move(setUpBy);
    tidyText(job.axle, say("job.axle"));
    tidyText(job.customer, say("job.customer"));
    tidyText(job.setUpBy, say("job.set-up-by"));
    if (job.axle.empty()) throw InputError(message("job.axle-missing"));
    job.createdAt = at;
    job.changedAt = std::move(at);
    return job;
}

std::optional<double> wantedDepthMm(const JobRecord& job, const std::optional<double>& newFigureMm) {
    const std::optional<double>& nominal = job.gearSet.data.build.pinionDepthMm;
    return nominal ? std::optional(*nominal + newFigureMm.value_or(0)) : std::nullopt;
}

StartShim startShimOf(const JobRecord& job, const DepthEntry& entry) {
    const GearSet set = completeGearSet(job.gearSet.data);
    StartInput input;
    input.place = set.build.pinionShim;
    input.oldFigureMm = entry.oldFigureMm;
    input.newFigureMm = entry.newFigureMm;
    input.figuresInTwoUnits = entry.figuresInTwoUnits;
    input.otherHousing = entry.otherHousing;
    input.oldBearingMm = entry.oldBearingMm;
    input.newBearingMm = entry.newBearingMm;
    input.measuredDepthMm = entry.measuredMm;
    input.wantedDepthMm = entry.wantedMm;
    input.stackMm = entry.shimStackMm;
    input.shimsMm = set.build.shimsMm;
    return startShim(input);
}

std::optional<StartShim> fittingStartOf(const JobRecord& job, const DepthEntry& entry) {
    try {
        return startShimOf(job, entry);
    } catch (const InputError&) {
        return std::nullopt;
    }
}

std::string addDepth(JobRecord& job, DepthEntry entry) {
    const std::string what = say("job.start-of-depth");
    try {
        (void)startShimOf(job, entry);
    } catch (const InputError& error) {
        throw InputError(message("job.entry-refused", what, error.what()));
    }
    return put(job, job.depths, std::move(entry), "d", kMaxJobEntries, what);
}

namespace {

/// A reading that no axle gives is taken with a note that says that it is right.
template <typename Entry>
void askIfOdd(const JobRecord& job, const Entry& entry) {
    if (!entry.stamp.note.empty()) return;
    if (const std::optional<Message> odd = oddReading(job, entry))
        throw InputError(message("job.odd-needs-note", *odd));
}

/// Side shims on an axle with adjusters, or notches on one with shims: the reading is of another axle.
void refuseOtherCarrier(const JobRecord& job, const std::string& what, bool notches, bool shims) {
    const std::optional<CarrierSetting>& carrier = job.gearSet.data.build.carrier;
    if (!carrier) return;
    const bool adjusters = *carrier == CarrierSetting::ThreadedAdjusters;
    if (adjusters && shims) throw InputError(message("job.no-side-shims", what));
    if (!adjusters && notches) throw InputError(message("job.no-adjusters", what));
}

}  // namespace

std::string addPreload(JobRecord& job, PreloadEntry entry) {
    const std::string what = say("job.preload-reading");
    checkNumber(entry.torqueNm, 0, kMaxTurningNm, what, "Nm");
    checkNumber(entry.stackMm, 0, kMaxStackMm, say("job.stack-of", what), "mm");
    askIfOdd(job, entry);
    return put(job, job.preloads, std::move(entry), "p", kMaxJobEntries, what);
}

std::string addBacklash(JobRecord& job, BacklashEntry entry) {
    const std::string what = say("job.backlash-reading");
    if (entry.points.empty()) throw InputError(message("job.no-backlash-given", what));
    checkPoints(entry.points, what);
    askIfOdd(job, entry);
    return put(job, job.backlashes, std::move(entry), "b", kMaxJobEntries, what);
}

std::string addRunout(JobRecord& job, RunoutEntry entry) {
    const std::string what = say("job.runout");
    checkNumber(entry.mm, 0, kMaxRunoutMm, what, "mm");
    askIfOdd(job, entry);
    return put(job, job.runouts, std::move(entry), "r", kMaxJobEntries, what);
}

std::string addCarrier(JobRecord& job, CarrierEntry entry) {
    const std::string what = say("job.carrier");
    checkNumber(entry.torqueNm, 0, kMaxTurningNm, say("job.turning-torque-of", what), "Nm");
    for (const std::optional<double>& notches : {entry.leftNotches, entry.rightNotches})
        checkNumber(notches, -kMaxNotches, kMaxNotches, say("job.adjusters-of", what), "notches");
    for (const std::optional<double>& shims : {entry.leftShimsMm, entry.rightShimsMm})
        checkNumber(shims, 0, kMaxStackMm, say("job.shims-of", what), "mm");
    checkNumber(entry.spreadMm, 0, kMaxSpreadMm, say("job.spread-of", what), "mm");
    if (!entry.torqueNm && !entry.leftNotches && !entry.rightNotches && !entry.leftShimsMm && !entry.rightShimsMm &&
        !entry.spreadMm)
        throw InputError(message("job.no-carrier-number", what));
    refuseOtherCarrier(job, what, entry.leftNotches || entry.rightNotches, entry.leftShimsMm || entry.rightShimsMm);
    askIfOdd(job, entry);
    return put(job, job.carriers, std::move(entry), "c", kMaxJobEntries, what);
}

namespace {

/// What a trial and what was read before the gears came apart have in common.
void checkTrialNumbers(TrialEntry& entry, const std::string& what) {
    checkNumber(entry.shimStackMm, 0, kMaxStackMm, say("job.shim-stack-of", what), "mm");
    checkNumber(entry.backlashMm, 0, kMaxBacklashMm, say("job.backlash-of", what), "mm");
    checkNumber(entry.shimChangeMm, -kMaxChangeMm, kMaxChangeMm, say("job.shim-change-of", what), "mm");
    checkPoints(entry.backlashRound, say("job.backlash-round-of", what));
    tidyText(entry.changed, say("job.changed-of", what));
    tidyText(entry.why, say("job.why-of", what));
    if (entry.photos.size() > kMaxTrialPhotos)
        throw InputError(message("job.too-many-photos", what, entry.photos.size(), kMaxTrialPhotos));
}

}  // namespace

std::string addTrial(JobRecord& job, TrialEntry entry) {
    const std::string what = say("job.trial");
    checkTrialNumbers(entry, what);
    return put(job, job.trials, std::move(entry), "t", kMaxJobTrials, what);
}

std::string addBefore(JobRecord& job, TrialEntry entry) {
    const std::string what = say("job.before");
    if (job.build == BuildKind::NewGears) throw InputError(message("job.new-gears-have-no-before", what));
    checkTrialNumbers(entry, what);
    if (entry.photos.empty() && !entry.drawnDrive && !entry.drawnCoast && !entry.backlashMm &&
        entry.backlashRound.empty())
        throw InputError(message("job.nothing-given-before", what));
    return put(job, job.before, std::move(entry), "u", kMaxJobTrials, what);
}

std::string addChecked(JobRecord& job, CheckedEntry entry) {
    return put(job, job.checked, std::move(entry), "q", kMaxJobEntries, say("job.looked-into"));
}

std::string addWork(JobRecord& job, WorkEntry entry) {
    const std::string what = say("job.work-done");
    checkNumber(entry.shimChangeMm, -kMaxChangeMm, kMaxChangeMm, say("job.shim-change-of", what), "mm");
    checkNumber(entry.shimStackMm, 0, kMaxStackMm, say("job.shim-stack-of", what), "mm");
    checkNumber(entry.backlashMm, 0, kMaxBacklashMm, say("job.backlash-of", what), "mm");
    for (const std::optional<double>& notches : {entry.leftNotches, entry.rightNotches})
        checkNumber(notches, -kMaxNotches, kMaxNotches, say("job.adjusters-of", what), "notches");
    refuseOtherCarrier(job, what, entry.leftNotches || entry.rightNotches, false);
    askIfOdd(job, entry);
    if (entry.afterTrial.empty()) {
        if (const TrialEntry* last = lastTrial(job)) entry.afterTrial = last->stamp.id;
    } else if (findTrial(job, entry.afterTrial) == nullptr) {
        throw InputError(message("job.no-such-trial", what, entry.afterTrial.substr(0, kShownBytes)));
    }
    return put(job, job.work, std::move(entry), "w", kMaxJobEntries, what);
}

void addRemark(JobRecord& job, Remark remark) {
    const std::string what = say("job.remark");
    checkTime(remark.at, what);
    tidyText(remark.by, say("job.by-of", what));
    tidyText(remark.text, what);
    if (remark.text.empty()) throw InputError(message("job.remark-empty", what));
    if (job.remarks.size() >= kMaxJobEntries) throw InputError(message("job.too-many-entries", what, kMaxJobEntries));
    job.changedAt = remark.at;
    job.remarks.push_back(std::move(remark));
}

void tickCheck(JobRecord& job, std::string_view key, const Tick& tick) {
    refuseAfterSignOff(job);
    CheckItem* item = findCheck(job, key);
    if (item == nullptr) {
        std::vector<std::string> keys;
        for (const CheckItem& one : job.checks) keys.push_back(one.key);
        throw InputError(message("job.no-such-check", key.substr(0, kShownBytes), job::joined(keys, ", ")));
    }
    const std::string what = say("job.check");
    checkNumber(tick.torqueNm, 0, kMaxBoltNm, what, "Nm");
    if (tick.wantedNm && (!(tick.wantedNm->low >= 0) || !(tick.wantedNm->high <= kMaxBoltNm) ||
                          !(tick.wantedNm->low <= tick.wantedNm->high)))
        throw InputError(message("job.wanted-torque-unusable", what));
    JobStamp stamp{.id = item->key, .at = tick.at, .by = tick.by, .note = tick.note, .request = tick.request};
    checkStamp(stamp, what);
    std::string from = tick.wantedFrom;
    tidyText(from, say("job.torque-source-of", what));
    if (tick.state == CheckState::Done && takesTorque(*item) && !tick.torqueNm && stamp.note.empty())
        throw InputError(message("job.torque-or-note", item->key, item->text));
    if (tick.state == CheckState::Done && tick.torqueNm && tick.note.empty()) {
        CheckItem asked = *item;
        if (tick.wantedNm) asked.wantedNm = tick.wantedNm;
        if (const std::optional<Message> odd = oddTorque(asked, *tick.torqueNm))
            throw InputError(message("job.odd-needs-note", *odd));
    }
    item->state = tick.state;
    item->torqueNm = tick.state == CheckState::Done ? tick.torqueNm : std::nullopt;
    // What the sheet wants stays known when a tick is taken back.
    if (tick.wantedNm) {
        item->wantedNm = tick.wantedNm;
        item->wantedByGearSet = false;
        item->wantedFrom = from;
    }
    item->stamp = std::move(stamp);
    job.changedAt = tick.at;
}

std::string addCheck(JobRecord& job, CheckList list, const std::string& text) {
    refuseAfterSignOff(job);
    const std::string what = say("job.check");
    CheckItem item;
    item.list = list;
    item.text = text;
    tidyText(item.text, what);
    if (item.text.empty()) throw InputError(message("job.check-empty", what));
    if (job.checks.size() >= kMaxJobEntries) throw InputError(message("job.too-many-entries", what, kMaxJobEntries));
    int number = 1;
    while (findCheck(job, kOwnCheck + std::to_string(number)) != nullptr) ++number;
    item.key = kOwnCheck + std::to_string(number);
    item.stamp.id = item.key;
    // Behind the others of its list.
    auto place = job.checks.end();
    for (auto at = job.checks.begin(); at != job.checks.end(); ++at)
        if (at->list == list) place = at + 1;
    job.checks.insert(place, item);
    return item.key;
}

void strikeOut(JobRecord& job, std::string_view id, StruckOut struck) {
    refuseAfterSignOff(job);
    const std::string what = say("job.strike-out");
    checkTime(struck.at, what);
    tidyText(struck.by, say("job.by-of", what));
    tidyText(struck.why, say("job.why-of", what));
    if (struck.why.empty()) throw InputError(message("job.strike-out-without-reason", what));
    JobStamp& found = stampOf(job, id);
    if (found.struck) throw InputError(message("job.struck-out-already", found.id, found.struck->at));
    job.changedAt = struck.at;
    found.struck = std::move(struck);
}

void restoreEntry(JobRecord& job, std::string_view id, const std::string& at, const std::string& by,
                  const std::string& request) {
    refuseAfterSignOff(job);
    const std::string what = say("job.restore");
    checkTime(at, what);
    TakenBack back{.struck = {}, .at = at, .by = by, .request = request};
    tidyText(back.by, say("job.by-of", what));
    JobStamp& found = stampOf(job, id);
    if (!found.struck) throw InputError(message("job.not-struck-out", found.id));
    if (found.restored.size() >= kMaxTakenBack)
        throw InputError(message("job.restored-too-often", found.id, kMaxTakenBack));
    back.struck = std::move(*found.struck);
    found.struck.reset();
    found.restored.push_back(std::move(back));
    job.changedAt = at;
}

void correctJob(JobRecord& job, const JobCorrection& correction) {
    refuseAfterSignOff(job);
    const std::string what = say("job.correction");
    checkTime(correction.at, what);
    const auto change = [&](std::string& into, const std::optional<std::string>& wanted, const char* part,
                            const char* changed) {
        if (!wanted || *wanted == into) return;
        std::string words = *wanted;
        tidyText(words, say(part));
        const std::string was = std::exchange(into, std::move(words));
        addRemark(job, {correction.at, correction.by, say(changed, was, into), correction.request});
    };
    if (correction.axle && correction.axle->empty()) throw InputError(message("job.axle-missing"));
    change(job.axle, correction.axle, "job.axle", "job.axle-corrected");
    change(job.customer, correction.customer, "job.customer", "job.customer-corrected");
    if (!correction.gearSet || correction.gearSet->document == job.gearSet.document) return;
    const auto named = [](const GearSetData& set) {
        return say("job.set-with-teeth", set.name, set.ringTeeth, set.pinionTeeth);
    };
    addRemark(job,
              {correction.at, correction.by,
               say("job.set-corrected", named(job.gearSet.data), named(correction.gearSet->data)), correction.request});
    job.gearSet = *correction.gearSet;
    std::vector<CheckItem> lines = job::checkLists(job);
    for (CheckItem& line : lines)
        if (const CheckItem* former = findCheck(job, line.key)) line = *former;
    for (const CheckItem& former : job.checks) {
        const bool there =
            std::any_of(lines.begin(), lines.end(), [&](const CheckItem& line) { return line.key == former.key; });
        // What nobody has touched belongs to the former set alone.
        if (!there && (job::isOwnLine(former) || !former.stamp.at.empty())) lines.push_back(former);
    }
    job::putLinesInPlace(lines);
    job.checks = std::move(lines);
}

void signOff(JobRecord& job, JobStamp stamp) {
    SignOff entry;
    entry.stamp = std::move(stamp);
    for (const JobStep& step : jobStatus(job).steps)
        if (step.key != "sign-off" && (step.state == StepState::Open || step.state == StepState::Next))
            entry.open.push_back(step.title);
    const std::string what = say("job.sign-off");
    if (entry.stamp.by.empty()) throw InputError(message("job.sign-off-by-nobody", what));
    if (!entry.open.empty() && entry.stamp.note.empty())
        throw InputError(message("job.sign-off-still-open", what, job::joined(entry.open, "; ")));
    (void)put(job, job.signOffs, std::move(entry), "s", kMaxJobEntries, what);
}

void reopen(JobRecord& job, StruckOut why) {
    const std::string what = say("job.reopen");
    checkTime(why.at, what);
    tidyText(why.by, say("job.by-of", what));
    tidyText(why.why, say("job.why-of", what));
    if (signedOff(job) == nullptr) throw InputError(message("job.nothing-to-reopen"));
    if (why.why.empty()) throw InputError(message("job.reopen-without-reason", what));
    job.changedAt = why.at;
    job.signOffs.back().stamp.struck = std::move(why);
}

const SignOff* signedOff(const JobRecord& job) {
    return !job.signOffs.empty() && job.signOffs.back().stamp.counts() ? &job.signOffs.back() : nullptr;
}

const TrialEntry* findTrial(const JobRecord& job, std::string_view id) {
    for (const TrialEntry& trial : job.trials)
        if (trial.stamp.id == id) return &trial;
    return nullptr;
}

const TrialEntry* findBefore(const JobRecord& job, std::string_view id) {
    for (const TrialEntry& entry : job.before)
        if (entry.stamp.id == id) return &entry;
    return nullptr;
}

const TrialEntry* lastTrial(const JobRecord& job) {
    for (auto trial = job.trials.rbegin(); trial != job.trials.rend(); ++trial)
        if (trial->stamp.counts()) return &*trial;
    return nullptr;
}

std::vector<const WorkEntry*> workAfter(const JobRecord& job, std::string_view trialId) {
    std::vector<const WorkEntry*> found;
    for (const WorkEntry& work : job.work)
        if (work.stamp.counts() && work.afterTrial == trialId) found.push_back(&work);
    return found;
}

std::string trialWithPhoto(const JobRecord& job, std::string_view sha256) {
    if (sha256.empty()) return {};
    for (const std::vector<TrialEntry>* list : {&job.trials, &job.before})
        for (const TrialEntry& trial : *list)
            for (const JobPhoto& photo : trial.photos)
                if (photo.sha256 == sha256) return trial.stamp.id;
    return {};
}

}  // namespace shimsight
