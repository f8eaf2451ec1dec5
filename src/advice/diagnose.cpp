#include "advice/diagnose.h"

#include <Eigen/Cholesky>
#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>
#include <numeric>

#include "advice/words.h"

namespace shimsight::advice {

namespace {

/// A housing is called out of true from these on: 0.003 in of offset, three minutes of arc.
constexpr double kOffsetThatMattersMm = 0.075;
constexpr double kAngleThatMattersRad = 0.0010;
/// A coat is called thick or thin beyond these factors of the usual film.
constexpr double kThickFilm = 1.8, kThinFilm = 0.55;
/// A housing out of true and a coat are named from this chance on, and runout by the backlash readings.
constexpr double kWorthNaming = 0.65, kRunoutThatCounts = 0.5;
/// Readings round the ring gear that leave this many dial errors beside the wave jump about.
constexpr double kJumpingReadings = 4;
/// The chance from which on worn teeth are named after one trial and after more.
constexpr double kWornThatCounts = 0.4, kWornAgain = 0.6;

template <typename Holds>
double shareOf(const Posterior& posterior, Holds&& holds) {
    double share = 0;
    for (const Particle& particle : posterior.particles)
        if (holds(particle)) share += particle.weight;
    return share;
}

template <typename Value>
Belief beliefOf(const Posterior& posterior, Value&& value) {
    double mean = 0, square = 0;
    for (const Particle& particle : posterior.particles) {
        const double x = value(particle);
        mean += particle.weight * x;
        square += particle.weight * x * x;
    }
    return {mean, std::sqrt(std::max(square - mean * mean, 0.0))};
}

/// Explanations that leave cut and sides as they are must have at least this chance for the housing to be named: both
/// are looked at first, and what remains is the housing.
constexpr double kLeastRest = 0.01;

/// Chances that offset, shaft angle or either is out by more than matters.
struct Housing {
    double offset = 0, angle = 0, either = 0;
};

Housing housingOf(const Posterior& posterior) {
    const auto offset = [](const Particle& p) { return std::abs(p.setUp.error.offsetMm) > kOffsetThatMattersMm; };
    const auto angle = [](const Particle& p) { return std::abs(p.setUp.error.shaftAngleRad) > kAngleThatMattersRad; };
    return {shareOf(posterior, offset), shareOf(posterior, angle),
            shareOf(posterior, [&](const Particle& p) { return offset(p) || angle(p); })};
}

/// `plain`: without a suspicion against the housing.
void addHousing(const Learned& learned, const Posterior& plain, std::vector<Diagnosis>& found) {
    const Posterior& asGiven = learned.asNamed ? *learned.asNamed : plain;
    const Housing good = housingOf(asGiven), bent = learned.bent ? housingOf(*learned.bent) : Housing{};
    // Among the explanations that leave cut and sides as they are.
    const double asGood = learned.chanceNone + learned.chanceWorn, known = asGood + learned.chanceBent;
    const double either = (asGood * good.either + learned.chanceBent * bent.either) / known;
    if (either < kWorthNaming || known < kLeastRest) return;
    const bool suspected = learned.bent && learned.chanceBent * bent.either > asGood * good.either;
    const Posterior& posterior = suspected ? *learned.bent : asGiven;
    const Housing& shares = suspected ? bent : good;
    const auto offset = [](const Particle& p) { return p.setUp.error.offsetMm; };
    const auto angle = [](const Particle& p) { return p.setUp.error.shaftAngleRad; };
    const double chance = known * either;
    const double offsetChance = chance * shares.offset / shares.either;
    const double angleChance = chance * shares.angle / shares.either;
    const bool offsetLeads = offsetChance >= angleChance;
    if (offsetLeads) {
        const Belief belief = beliefOf(posterior, offset);
        found.push_back({DiagnosisKind::HousingOffset, std::max(offsetChance, angleChance),
                         "The two sides do not go together as depth and backlash alone would have them; they do with "
                         "the pinion axis " +
                             lengthWords(belief.mean) + " +/- " + lengthWords(2 * belief.sigma) +
                             (belief.mean > 0 ? " too far from" : " too near to") +
                             " its place beside the ring gear axis (offset error). Check the housing bores, the "
                             "bearing seats and the pinion support."});
    } else {
        const Belief belief = beliefOf(posterior, angle);
        found.push_back({DiagnosisKind::ShaftAngle, angleChance,
                         "The two sides do not go together as depth and backlash alone would have them; they do with "
                         "axes out of square by " +
                             number(std::abs(degrees(belief.mean)) * 60, "%.1f") + " +/- " +
                             number(2 * degrees(belief.sigma) * 60, "%.1f") +
                             " minutes of arc. Check for a bent housing and for a bearing cup that is not seated."});
    }
    if (chance > 1.25 * found.back().chance) {
        found.back().chance = chance;
        found.back().evidence = text(found.back().evidence) +
                                " An offset error and a shaft-angle error look nearly alike here; it may be either.";
    }
}

void addFilm(const Posterior& posterior, std::vector<Diagnosis>& found) {
    const double thick = shareOf(posterior, [](const Particle& p) { return p.setUp.filmMm > kThickFilm * kFilmMm; });
    const double thin = shareOf(posterior, [](const Particle& p) { return p.setUp.filmMm < kThinFilm * kFilmMm; });
    const double times =
        std::exp(beliefOf(posterior, [](const Particle& p) { return std::log(p.setUp.filmMm / kFilmMm); }).mean);
    if (thick >= kWorthNaming)
        found.push_back({DiagnosisKind::FilmThick, thick,
                         "The marks are larger than this set's crowning lets a usual coat make: about " +
                             number(times, "%.1f") +
                             " times the usual film. Use a thinner, even coat; hold the ring gear back lightly, and "
                             "roll only a few turns."});
    else if (thin >= kWorthNaming)
        found.push_back({DiagnosisKind::FilmThin, thin,
                         "The marks are smaller than this set's crowning makes with a usual coat: about " +
                             number(times, "%.1f") +
                             " times the usual film. Use a little more compound and a steady light drag."});
}

void addRunout(const DiagnosisInput& input, std::vector<Diagnosis>& found) {
    const TrialObservation& seen = input.history.back().seen;
    const double limit = input.models.front().contact->gearSet().limits.backlashVariationMm;
    const bool wanders = wandering(seen.drive) || wandering(seen.coast);
    const auto wave = backlashWave(seen.backlashRoundMm, seen.backlashSigmaMm);
    const std::string checks =
        " Check the runout of the ring gear's back face and of the case flange, for dirt or a burr between them, and "
        "the ring gear bolts.";
    if (wave) {
        const double variation = 2 * wave->amplitudeMm, sigma = 2 * wave->amplitudeSigmaMm;
        const double chance = normalShare((variation - limit) / sigma);
        const bool clear = wave->amplitudeMm > 3 * wave->amplitudeSigmaMm;
        if (chance >= kRunoutThatCounts && clear) {
            found.push_back({DiagnosisKind::Runout, chance,
                             "The backlash rises and falls once per turn of the ring gear by " +
                                 lengthWords(variation) + " +/- " + lengthWords(2 * sigma) + " (limit " +
                                 lengthWords(limit) + "): runout." +
                                 (wanders ? " The marks wander from tooth to tooth as well." : "") +
                                 " Set the backlash at the tightest place." + checks});
            return;
        }
        if (wave->restMm > kJumpingReadings * seen.backlashSigmaMm) {
            found.push_back({DiagnosisKind::MarksScattered, 0.8,
                             "The backlash readings jump by " + lengthWords(wave->restMm) +
                                 " without a wave once per turn: loose bearings, wrong preload, or a pinion that was "
                                 "not held. Check the preload, then read again."});
            return;
        }
        if (wanders)
            found.push_back({DiagnosisKind::MarksScattered, 0.8,
                             "The marks wander from tooth to tooth, but the backlash stays even round the ring gear "
                             "(a wave of " +
                                 lengthWords(variation) +
                                 "): not runout. Check the bearing preload of pinion and case, and roll under a light, "
                                 "steady drag."});
        return;
    }
    if (!wanders) return;
    found.push_back({DiagnosisKind::Runout, 0.6,
                     "The marks wander from tooth to tooth, more than reading does: runout most likely. Read the "
                     "backlash at 8 points round the ring gear: a wave once per turn means runout, an even backlash "
                     "means loose bearings." +
                         checks});
    found.push_back({DiagnosisKind::MarksScattered, 0.4,
                     "Marks that wander may also come from wrong preload or loose bearings: check the turning torque "
                     "of the pinion and the play of the case."});
}

/// What is odd about a backlash, after its number.
std::string misreadWords(const EntryDoubt& doubt, const DiagnosisInput& input) {
    const double typed = *input.history[doubt.trial].seen.backlashMm;
    std::string text = ", does not go with its marks, or is far from what a correction was to set.";
    if (doubt.factor > 0) text += " " + lengthWords(typed / doubt.factor) + " would.";
    return text + " Was it typed right, in the right unit, and read after this setting with the pinion held?";
}

void addEntries(const DiagnosisInput& input, std::vector<Diagnosis>& found) {
    const PinionShim shim = input.models.front().contact->gearSet().build.pinionShim;
    for (const EntryDoubt& doubt : input.learned.doubts) {
        const double chance = doubt.odds / (1 + doubt.odds);
        const std::string trial = "trial " + std::to_string(doubt.trial + 1);
        const double thickness = doubt.loggedDepthMm * depthPerThickness(shim);
        const auto signedWords = [&](double mm) { return (mm > 0 ? "add " : "take out ") + lengthWords(mm); };
        const std::string found1 = "the marks of " + trial + " moved as if the pinion had gone " +
                                   lengthWords(doubt.foundDepthMm) +
                                   (doubt.foundDepthMm > 0 ? " deeper" : " shallower");
        const std::string place = std::string(" Thicker ") + std::string(shimPlaceInWords(shim)) + " means " +
                                  (depthPerThickness(shim) > 0 ? "deeper." : "shallower, away from the ring gear.");
        switch (doubt.fault) {
            case EntryFault::None:
                break;
            case EntryFault::ChangeReversed:
                found.push_back({DiagnosisKind::EntryChange, chance,
                                 "The change before " + trial + " is logged as " + signedWords(thickness) +
                                     " of shim, but " + found1 +
                                     ", the other way. Was the shim change made or written the wrong way round?" +
                                     place + " Measure the stack that is in, and correct the entry."});
                break;
            case EntryFault::ChangeNotMade:
                found.push_back({DiagnosisKind::EntryChange, chance,
                                 "The change before " + trial + " is logged as " + signedWords(thickness) +
                                     " of shim, but the marks show no change of depth. Was it made, and are these the "
                                     "marks taken after it?"});
                break;
            case EntryFault::ChangeOther:
                found.push_back({DiagnosisKind::EntryChange, chance,
                                 (thickness == 0 ? "No shim change is logged before " + trial + ", but "
                                                 : "The change before " + trial + " is logged as " +
                                                       signedWords(thickness) + " of shim, but ") +
                                     found1 +
                                     ". Is the entry right, were the shims measured, and are the bearing cups seated? "
                                     "Another gear set would do the same."});
                break;
            case EntryFault::BacklashMisread:
                found.push_back({DiagnosisKind::EntryBacklash, chance,
                                 "The backlash entered for " + trial + ", " +
                                     lengthWords(*input.history[doubt.trial].seen.backlashMm) +
                                     misreadWords(doubt, input)});
                break;
            case EntryFault::SidesSwapped:
                found.push_back({DiagnosisKind::SidesSwapped, chance,
                                 "The marks of " + trial +
                                     " do not go together as named, but they do with drive and coast exchanged. Check "
                                     "which side is the convex (drive) side on the photos."});
                break;
        }
    }
}

/// Whether the gear set cut the other way explains the marks far better.
void addWrongData(const DiagnosisInput& input, std::vector<Diagnosis>& found) {
    const Learned& learned = input.learned;
    const bool explained = !learned.doubts.empty() && learned.doubts.back().trial + 1 == input.history.size();
    if (learned.asksCut) {
        const bool hobbed = learned.otherCut->gearSet().cut == Cut::FaceHobbed;
        found.push_back({DiagnosisKind::WrongGearData, learned.chanceOtherCut,
                         std::string("The marks, and how they moved, fit better to teeth that are ") +
                             (hobbed ? "face-hobbed" : "face-milled") +
                             ", not cut as the gear-set file says. Look at the tooth: the same height from toe to heel "
                             "means hobbed, lower at the toe means milled; then correct the file."});
        return;
    }
    if (!input.impossible || explained) return;
    found.push_back({DiagnosisKind::WrongGearData, 0.6,
                     "No set-up of the gear set in the file makes marks like these. Check tooth counts, ring gear "
                     "diameter, offset, hand and cut in the file, and that toe and heel are not exchanged."});
    found.push_back({DiagnosisKind::MismatchedOrWorn, 0.4,
                     "Marks that no set-up makes also come from a ring and pinion that are not a matched pair, or from "
                     "worn or damaged teeth. Compare the set numbers on both, and look along the teeth."});
}

void addWear(const DiagnosisInput& input, double worn, std::vector<Diagnosis>& found) {
    const bool load = worn >= (input.history.size() == 1 ? kWornThatCounts : kWornAgain);
    if (input.options.usedGears || load) {
        std::string text;
        if (load)
            text = "The marks are larger on the side that carries the load than its crowning allows: worn-in teeth. ";
        else
            text = "The gears are entered as used. ";
        found.push_back({DiagnosisKind::UsedGears, input.options.usedGears ? 0.99 : worn,
                         text + "Used gears are set to their old wear, not to the middle of the tooth: look for the "
                                "polished area and bring the mark onto it."});
    }
}

/// Causes that a look at the axle settles.
bool isQuestion(DiagnosisKind kind) {
    switch (kind) {
        case DiagnosisKind::HousingOffset:
        case DiagnosisKind::ShaftAngle:
        case DiagnosisKind::SidesSwapped:
        case DiagnosisKind::WrongGearData:
        case DiagnosisKind::EntryChange:
        case DiagnosisKind::EntryBacklash:
            return true;
        case DiagnosisKind::Runout:
        case DiagnosisKind::MarksScattered:
        case DiagnosisKind::MismatchedOrWorn:
        case DiagnosisKind::UsedGears:
        case DiagnosisKind::FilmThick:
        case DiagnosisKind::FilmThin:
            break;
    }
    return false;
}

/// How many settings have shown a mark: a trial after which nothing was changed shows no new one.
int settingsShown(std::span<const JobTrial> history) {
    int settings = 0;
    bool changed = true;
    for (const JobTrial& trial : history) {
        changed = changed || !trial.shimChangeMm || *trial.shimChangeMm != 0;
        if (!trial.seen.drive && !trial.seen.coast) continue;
        settings += changed;
        changed = false;
    }
    return settings;
}

}  // namespace

bool wandering(const std::optional<Pattern>& pattern) {
    return pattern && pattern->teeth > 1 && pattern->toothSpread > kWanderingSpread;
}

std::vector<Diagnosis> diagnose(const DiagnosisInput& input) {
    const Learned& learned = input.learned;
    const Posterior& posterior = learned.posteriors[learned.likeliest];
    std::vector<Diagnosis> found;
    addEntries(input, found);
    addWrongData(input, found);
    addRunout(input, found);
    if (!input.impossible) {
        const Posterior& likelier = learned.worn ? *learned.worn : posterior;
        addHousing(learned, likelier, found);
        addFilm(likelier, found);
        addWear(input, learned.chanceWorn, found);
    }
    const bool twoSettings = settingsShown(input.history) > 1;
    for (Diagnosis& one : found) {
        one.question = isQuestion(one.kind);
        const bool read = one.kind == DiagnosisKind::Runout && backlashWave(input.history.back().seen.backlashRoundMm,
                                                                            input.history.back().seen.backlashSigmaMm);
        one.shown = twoSettings || read;
    }
    // What somebody looked into is closed.
    std::erase_if(found, [&](const Diagnosis& one) { return isChecked(input.options, one.kind); });
    std::stable_sort(found.begin(), found.end(),
                     [](const Diagnosis& a, const Diagnosis& b) { return a.chance > b.chance; });
    return found;
}

}  // namespace shimsight::advice

namespace shimsight {

std::string_view name(DiagnosisKind kind) {
    switch (kind) {
        case DiagnosisKind::HousingOffset:
            return "housing-offset";
        case DiagnosisKind::ShaftAngle:
            return "shaft-angle";
        case DiagnosisKind::Runout:
            return "runout";
        case DiagnosisKind::MarksScattered:
            return "marks-scattered";
        case DiagnosisKind::MismatchedOrWorn:
            return "mismatched-or-worn";
        case DiagnosisKind::UsedGears:
            return "used-gears";
        case DiagnosisKind::FilmThick:
            return "film-thick";
        case DiagnosisKind::FilmThin:
            return "film-thin";
        case DiagnosisKind::SidesSwapped:
            return "sides-swapped";
        case DiagnosisKind::WrongGearData:
            return "wrong-gear-data";
        case DiagnosisKind::EntryChange:
            return "entry-change";
        case DiagnosisKind::EntryBacklash:
            return "entry-backlash";
    }
    throw std::logic_error("a diagnosis without a name");
}

std::optional<BacklashWave> backlashWave(const std::vector<double>& readingsMm, double dialSigmaMm) {
    const std::size_t n = readingsMm.size();
    if (n < 4) return std::nullopt;
    // At equal steps the three columns are orthogonal.
    double mean = 0, a = 0, b = 0;
    const double count = static_cast<double>(n);
    for (std::size_t i = 0; i < n; ++i) {
        const double angle = 2 * kPi * static_cast<double>(i) / count;
        mean += readingsMm[i] / count;
        a += 2 * readingsMm[i] * std::cos(angle) / count;
        b += 2 * readingsMm[i] * std::sin(angle) / count;
    }
    BacklashWave wave;
    wave.meanMm = mean;
    wave.amplitudeMm = std::hypot(a, b);
    wave.amplitudeSigmaMm = dialSigmaMm * std::sqrt(2 / count);
    double squares = 0;
    for (std::size_t i = 0; i < n; ++i) {
        const double angle = 2 * kPi * static_cast<double>(i) / count;
        const double rest = readingsMm[i] - mean - a * std::cos(angle) - b * std::sin(angle);
        squares += rest * rest;
    }
    wave.restMm = std::sqrt(squares / (count - 3));
    wave.tightestMm = *std::min_element(readingsMm.begin(), readingsMm.end());
    return wave;
}

}  // namespace shimsight
