// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "advice/diagnose.h"

#include <Eigen/Cholesky>
#include <algorithm>
#include <array>
#include <cmath>
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

/// Explanations that leave cut and sides as they are must have at least this chance for the housing to be named: both
/// are looked at first, and what remains is the housing.
constexpr double kMinRest = 0.01;

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
void addHousing(const JobPosterior& learned, const Posterior& plain, std::vector<Diagnosis>& found) {
    const Posterior& asGiven = learned.asNamed ? *learned.asNamed : plain;
    const Housing good = housingOf(asGiven), bent = learned.bent ? housingOf(*learned.bent) : Housing{};
    // Among the explanations that leave cut and sides as they are.
    const double asGood = learned.chanceNone + learned.chanceWorn, known = asGood + learned.chanceBent;
    const double either = (asGood * good.either + learned.chanceBent * bent.either) / known;
    if (either < kWorthNaming || known < kMinRest) return;
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
        const Marginal marginal = marginalOf(posterior, offset);
        found.push_back({DiagnosisKind::HousingOffset, std::max(offsetChance, angleChance),
                         message(marginal.mean > 0 ? "advice.offset-too-far" : "advice.offset-too-near",
                                 lengthWords(marginal.mean), lengthWords(2 * marginal.sigma))});
    } else {
        const Marginal marginal = marginalOf(posterior, angle);
        found.push_back({DiagnosisKind::ShaftAngle, angleChance,
                         message("advice.axes-out-of-square", formatted("%.1f", std::abs(degrees(marginal.mean)) * 60),
                                 formatted("%.1f", 2 * degrees(marginal.sigma) * 60))});
    }
    if (chance > 1.25 * found.back().chance) {
        found.back().chance = chance;
        found.back().evidence = message("advice.offset-or-angle", found.back().evidence);
    }
}

void addFilm(const Posterior& posterior, std::vector<Diagnosis>& found) {
    const double thick = shareOf(posterior, [](const Particle& p) { return p.setUp.filmMm > kThickFilm * kFilmMm; });
    const double thin = shareOf(posterior, [](const Particle& p) { return p.setUp.filmMm < kThinFilm * kFilmMm; });
    const double times =
        std::exp(marginalOf(posterior, [](const Particle& p) { return std::log(p.setUp.filmMm / kFilmMm); }).mean);
    if (thick >= kWorthNaming)
        found.push_back({DiagnosisKind::FilmThick, thick, message("advice.film-thick", formatted("%.1f", times))});
    else if (thin >= kWorthNaming)
        found.push_back({DiagnosisKind::FilmThin, thin, message("advice.film-thin", formatted("%.1f", times))});
}

void addRunout(const DiagnosisInput& input, std::vector<Diagnosis>& found) {
    const TrialObservation& seen = input.history.back().seen;
    const double limit = input.models.front().contact->gearSet().limits.backlashVariationMm;
    const bool wanders = wandering(seen.drive) || wandering(seen.coast);
    const auto wave = backlashWave(seen.backlashRoundMm, seen.backlashSigmaMm);
    const Message checks = message("advice.check-runout-and-bolts");
    if (wave) {
        const double variation = 2 * wave->amplitudeMm, sigma = 2 * wave->amplitudeSigmaMm;
        const double chance = normalShare((variation - limit) / sigma);
        const bool clear = wave->amplitudeMm > 3 * wave->amplitudeSigmaMm;
        if (chance >= kRunoutThatCounts && clear)
            found.push_back({DiagnosisKind::Runout, chance,
                             message(wanders ? "advice.runout-wave-and-marks" : "advice.runout-wave",
                                     lengthWords(variation), lengthWords(2 * sigma), lengthWords(limit), checks)});
        else if (wave->restMm > kJumpingReadings * seen.backlashSigmaMm)
            found.push_back(
                {DiagnosisKind::MarksScattered, 0.8, message("advice.readings-jump", lengthWords(wave->restMm))});
        else if (wanders)
            found.push_back(
                {DiagnosisKind::MarksScattered, 0.8, message("advice.wanders-not-runout", lengthWords(variation))});
        return;
    }
    if (!wanders) return;
    found.push_back({DiagnosisKind::Runout, 0.6, message("advice.wanders-runout-likely", checks)});
    found.push_back({DiagnosisKind::MarksScattered, 0.4, message("advice.wanders-preload")});
}

/// What is asked about an entry that does not fit the marks.
Message entryQuestion(const EntryDoubt& doubt, const DiagnosisInput& input) {
    const PinionShim shim = input.models.front().contact->gearSet().build.pinionShim;
    const std::size_t trial = doubt.trial + 1;
    const double thickness = doubt.loggedDepthMm * depthPerThickness(shim);
    const Message moved = message(doubt.foundDepthMm > 0 ? "advice.moved-deeper" : "advice.moved-shallower", trial,
                                  lengthWords(doubt.foundDepthMm));
    switch (doubt.fault) {
        case EntryFault::None:
            break;
        case EntryFault::ChangeReversed:
            return message(
                "advice.change-reversed", trial, shimVerb(thickness), moved,
                message(depthPerThickness(shim) > 0 ? "advice.thicker-is-deeper" : "advice.thicker-is-shallower",
                        wordFor(shim)));
        case EntryFault::ChangeNotMade:
            return message("advice.change-not-made", trial, shimVerb(thickness));
        case EntryFault::ChangeOther:
            if (thickness == 0) return message("advice.change-not-logged", trial, moved);
            return message("advice.change-other", trial, shimVerb(thickness), moved);
        case EntryFault::BacklashMisread: {
            const double typed = *input.history[doubt.trial].seen.backlashMm;
            if (doubt.factor <= 0) return message("advice.backlash-misread", trial, lengthWords(typed));
            return message("advice.backlash-mistyped", trial, lengthWords(typed), lengthWords(typed / doubt.factor));
        }
        case EntryFault::SidesSwapped:
            return message("advice.sides-swapped", trial);
    }
    return {};
}

DiagnosisKind kindOf(EntryFault fault) {
    if (fault == EntryFault::SidesSwapped) return DiagnosisKind::SidesSwapped;
    return fault == EntryFault::BacklashMisread ? DiagnosisKind::EntryBacklash : DiagnosisKind::EntryChange;
}

void addEntries(const DiagnosisInput& input, std::vector<Diagnosis>& found) {
    for (const EntryDoubt& doubt : input.learned.doubts)
        if (doubt.fault != EntryFault::None)
            found.push_back({kindOf(doubt.fault), doubt.odds / (1 + doubt.odds), entryQuestion(doubt, input)});
}

/// Whether the gear set cut the other way explains the marks far better.
void addWrongData(const DiagnosisInput& input, std::vector<Diagnosis>& found) {
    const JobPosterior& learned = input.learned;
    const bool explained = !learned.doubts.empty() && learned.doubts.back().trial + 1 == input.history.size();
    if (learned.asksCut) {
        found.push_back({DiagnosisKind::WrongGearData, learned.chanceOtherCut,
                         message("advice.cut-is-other", wordFor(learned.otherCut->gearSet().cut))});
        return;
    }
    if (!input.impossible || explained) return;
    found.push_back({DiagnosisKind::WrongGearData, 0.6, message("advice.not-this-gear-set")});
    found.push_back({DiagnosisKind::MismatchedOrWorn, 0.4, message("advice.not-a-pair")});
}

void addWear(const DiagnosisInput& input, double worn, std::vector<Diagnosis>& found) {
    const bool used = input.options.usedGears;
    const bool load = worn >= (input.history.size() == 1 ? kWornThatCounts : kWornAgain);
    if (used || load)
        found.push_back({DiagnosisKind::UsedGears, used ? 0.99 : worn,
                         message(load ? "advice.worn-in" : "advice.entered-as-used")});
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
    const JobPosterior& learned = input.learned;
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
        const double residual = readingsMm[i] - mean - a * std::cos(angle) - b * std::sin(angle);
        squares += residual * residual;
    }
    wave.restMm = std::sqrt(squares / (count - 3));
    wave.tightestMm = *std::min_element(readingsMm.begin(), readingsMm.end());
    return wave;
}

}  // namespace shimsight
