// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// Jobs played to their end by the advice, by the habit of the charts and by a player who knows the truth; and faults
// planted to be found. See README.md beside this file. Run from the root of the repository.
// Usage: closed_loop_study jobs|jobs-once SETUPS_PER_SET [SEED] [READING_SIGMA] [PINION_HOURS] [COMEBACK_HOURS]
//                   [SCATTER]
//        closed_loop_study faults JOBS_PER_SET [SEED] [READING_SIGMA] [FAULT]
// jobs reads once more where the advice says that it pays; jobs-once never does. SCATTER: how many times farther than
// world.h has it housings, crowns, bias and design points depart; a dash leaves a value as it is.

#include <algorithm>
#include <array>
#include <atomic>
#include <cstdio>
#include <cstdlib>
#include <ctime>
#include <initializer_list>
#include <string>
#include <thread>
#include <vector>

#include "advice/learning.h"
#include "gear_under_study.h"

using namespace shimsight;
using namespace shimsight::closed_loop;

namespace {

constexpr int kMaxCorrections = 6;
constexpr int kMaxRereadings = 6;  ///< in a row, when told to measure again

/// Processor time of this thread.
double threadSeconds() {
    timespec now{};
    clock_gettime(CLOCK_THREAD_CPUTIME_ID, &now);
    return static_cast<double>(now.tv_sec) + 1e-9 * static_cast<double>(now.tv_nsec);
}

/// How a job went.
struct Outcomes {
    int n = 0, failed = 0;
    std::array<int, kMaxCorrections + 1> by{};  ///< right after so many corrections
    double sum = 0;                             ///< of corrections, a failed job counted as kMaxCorrections
    double shims = 0;                           ///< of corrections with a shim change

    void add(int corrections, int shimChanges) {
        ++n;
        if (corrections < 0)
            ++failed;
        else
            ++by[static_cast<std::size_t>(corrections)];
        sum += corrections < 0 ? kMaxCorrections : corrections;
        shims += shimChanges;
    }
    void add(const Outcomes& other) {
        n += other.n;
        failed += other.failed;
        for (std::size_t i = 0; i < by.size(); ++i) by[i] += other.by[i];
        sum += other.sum;
        shims += other.shims;
    }
    double within(int corrections) const {
        int count = 0;
        for (int i = 0; i <= corrections; ++i) count += by[static_cast<std::size_t>(i)];
        return 100.0 * count / std::max(n, 1);
    }
};

struct Played {
    int corrections = -1;  ///< until right; -1: never
    int shimChanges = 0;
    // Of the advice only, to the end of the job:
    int made = 0;      ///< corrections, those after the pattern was right included
    int again = 0;     ///< second readings
    double hours = 0;  ///< by the costs, a comeback included
    bool endsRight = false;
};

constexpr std::size_t kBins = 5;  ///< of the chances told

struct Reliability {
    std::array<int, kBins> count{};
    std::array<double, kBins> told{}, came{};
    void add(double chance, bool true_) {
        const auto bin = static_cast<std::size_t>(std::min<double>(kBins - 1, std::floor(chance * kBins)));
        ++count[bin];
        told[bin] += chance;
        came[bin] += true_;
    }
};

struct Tally {
    Outcomes advice, chart, best, adviceCurable, chartCurable, bestCurable;
    std::array<int, 4> trials{}, held{}, below{};  ///< by trial number, the last for four and more
    std::array<double, 4> error{}, width{};
    Reliability reliability;
    int jobs = 0, endsRight = 0;
    double made = 0, hours = 0;  ///< sums over the jobs that can be cured
    int acceptedBad = 0, acceptedGood = 0, gaveUp = 0, gaveUpCurable = 0, needless = 0, notCurable = 0, again = 0;
    int falseAlarms = 0, thirdFalse = 0, adviceCalls = 0;
    std::array<int, 12> falseKinds{};  ///< by DiagnosisKind
    int firstCalls = 0;
    double seconds = 0;  ///< of the first trials' advice

    void add(const Tally& other);
};

template <typename Array>
void addUp(Array& to, const Array& from) {
    for (std::size_t i = 0; i < to.size(); ++i) to[i] += from[i];
}

void Tally::add(const Tally& other) {
    advice.add(other.advice);
    chart.add(other.chart);
    best.add(other.best);
    adviceCurable.add(other.adviceCurable);
    chartCurable.add(other.chartCurable);
    bestCurable.add(other.bestCurable);
    addUp(trials, other.trials);
    addUp(held, other.held);
    addUp(below, other.below);
    addUp(error, other.error);
    addUp(width, other.width);
    addUp(reliability.count, other.reliability.count);
    addUp(reliability.told, other.reliability.told);
    addUp(reliability.came, other.reliability.came);
    addUp(falseKinds, other.falseKinds);
    jobs += other.jobs;
    endsRight += other.endsRight;
    made += other.made;
    hours += other.hours;
    acceptedBad += other.acceptedBad;
    acceptedGood += other.acceptedGood;
    gaveUp += other.gaveUp;
    gaveUpCurable += other.gaveUpCurable;
    needless += other.needless;
    notCurable += other.notCurable;
    again += other.again;
    falseAlarms += other.falseAlarms;
    thirdFalse += other.thirdFalse;
    adviceCalls += other.adviceCalls;
    firstCalls += other.firstCalls;
    seconds += other.seconds;
}

/// Calls `work(i)` for i from 0 to before `count` on all processors.
template <typename Work>
void onAllProcessors(std::size_t count, Work&& work) {
    std::atomic<std::size_t> next = 0;
    std::vector<std::thread> threads;
    const auto processors = std::max<std::size_t>(std::thread::hardware_concurrency(), 1);
    for (std::size_t t = 0; t < std::min(count, processors); ++t)
        threads.emplace_back([&] {
            for (std::size_t i = next++; i < count; i = next++) work(i);
        });
    for (std::thread& thread : threads) thread.join();
}

Played playBest(const GearUnderStudy& gear, advice::SetUp setUp, Random random, const Costs& costs) {
    Played played;
    for (int done = 0; done <= kMaxCorrections; ++done) {
        if (trulyRight(gear, setUp, costs)) {
            played.corrections = done;
            return played;
        }
        const auto move = bestMove(gear, setUp, costs);
        if (!move) return played;
        if (move->first != 0) ++played.shimChanges;
        makeChange(gear.prior, move->first, move->second, setUp, random);
    }
    return played;
}

/// The habit: face or flank asks for depth, 0.005 in the first time, then 0.002 in; toe or heel asks for backlash, as a
/// chart for milled sets has it. Stops when the read pattern is right.
Played playChart(const GearUnderStudy& gear, advice::SetUp setUp, Random random, double readingSigma,
                 const Costs& costs) {
    const GearSet& set = gear.contact.gearSet();
    const Limits& limits = set.limits;
    const AcceptanceRule& rule = limits.acceptance;
    Played played;
    for (int done = 0; done <= kMaxCorrections; ++done) {
        if (trulyRight(gear, setUp, costs)) {
            played.corrections = done;
            return played;
        }
        const TrialObservation seen = readTrial(gear.contact, setUp, random, readingSigma);
        double depthChange = 0, target = *seen.backlashMm;
        if (!limits.backlashMm.holds(target)) target = limits.backlashMm.middle();
        double height = 0, along = 0;
        int marks = 0;
        bool heightOff = false, alongOff = false;
        for (const auto& p : {seen.drive, seen.coast}) {
            if (!p) continue;
            ++marks;
            height += p->rootTip - rule.rootTip.middle();
            along += p->toeHeel - rule.toeHeel.middle();
            heightOff = heightOff || !rule.rootTip.holds(p->rootTip) || p->runsOff.tip || p->runsOff.root;
            alongOff = alongOff || !rule.toeHeel.holds(p->toeHeel) || p->runsOff.toe || p->runsOff.heel;
        }
        if (marks == 0) return played;
        const double step = done == 0 ? 0.127 : 0.0508;
        if (heightOff)
            depthChange = height > 0 ? step : -step;  // a mark at the face asks for a deeper pinion
        else if (alongOff)
            target += along > 0 ? -0.0508 : 0.0508;  // milled chart: a mark at the heel asks for less backlash
        else if (limits.backlashMm.holds(*seen.backlashMm))
            return played;  // left alone, though it is not right
        target = std::clamp(target, limits.backlashMm.low + 0.2 * (limits.backlashMm.high - limits.backlashMm.low),
                            limits.backlashMm.high - 0.2 * (limits.backlashMm.high - limits.backlashMm.low));
        if (depthChange != 0) ++played.shimChanges;
        makeChange(gear.prior, depthChange, target, setUp, random);
    }
    return played;
}

/// Share of the size called a fault from which on naming it is no false alarm in the lenient count.
constexpr double kNearlyThere = 2.0 / 3;

/// What is really there, from the size that the advice calls a fault (`share` 1) or from a share of it.
bool reallyThere(DiagnosisKind kind, const advice::SetUp& truth, double share) {
    switch (kind) {
        case DiagnosisKind::HousingOffset:
        case DiagnosisKind::ShaftAngle:
            // On the marks both look nearly alike.
            return std::abs(truth.error.offsetMm) > share * 0.075 ||
                   std::abs(truth.error.shaftAngleRad) > share * 0.0010;
        case DiagnosisKind::FilmThick:
            return std::log(truth.filmMm / kFilmMm) > share * std::log(1.8);
        case DiagnosisKind::FilmThin:
            return std::log(truth.filmMm / kFilmMm) < share * std::log(0.55);
        default:
            return false;
    }
}

/// How the jobs are played.
struct Rules {
    bool followsReadings = true;  ///< reads once more where the advice says that it pays
    double readingSigma = kReadingSigma;
    double scatter = 1;  ///< of the world, times that of world.h
    Costs costs;
};

/// Where jobs of one set are played, and what is counted.
struct Bench {
    const GearUnderStudy& gear;
    const ToothContact& other;  ///< the same set cut the other way
    const Rules& rules;
    Tally& tally;
};

Played playAdvice(const Bench& bench, advice::SetUp setUp, Random random, std::uint64_t seed, bool curable) {
    const auto& [gear, other, rules, tally] = bench;
    const double sign = advice::depthPerThickness(gear.contact.gearSet().build.pinionShim);
    const Costs& costs = rules.costs;
    Played played;
    std::vector<JobTrial> history;
    advice::FilterMemo memo;
    double lastChange = 0;
    int rereadings = 0;
    while (true) {
        const bool right = trulyRight(gear, setUp, costs);
        if (right && played.corrections < 0) played.corrections = played.made;
        history.push_back({readTrial(gear.contact, setUp, random, rules.readingSigma), lastChange});
        lastChange = 0;
        const double film = setUp.filmMm;
        setUp.filmMm = drawFilm(random);  // wiped and painted afresh, should it be read again
        AdviceOptions options;
        options.costs = rules.costs;
        options.seed = seed;
        options.otherCut = [&bench] { return &bench.other; };
        const double start = threadSeconds();
        const Advice advice = advice::adviseWith({&gear.contact}, history, options, &memo);
        if (history.size() == 1) {
            tally.seconds += threadSeconds() - start;
            ++tally.firstCalls;
        }
        ++tally.adviceCalls;
        const auto t = std::min<std::size_t>(history.size() - 1, 3);
        const double truth = setUp.error.depthMm;
        if (history.back().seen.drive || history.back().seen.coast) {
            ++tally.trials[t];
            tally.held[t] += advice.depthErrorMm.low90 <= truth && truth <= advice.depthErrorMm.high90;
            tally.below[t] += truth < advice.depthErrorMm.low90;
            tally.error[t] += std::abs(advice.depthErrorMm.best - truth) / 0.0254;
            tally.width[t] += (advice.depthErrorMm.high90 - advice.depthErrorMm.low90) / 0.0254;
            bool anyFalse = false, thirdFalse = false;
            advice::SetUp painted = setUp;
            painted.filmMm = film;
            for (const Diagnosis& d : advice.diagnoses) {
                if (reallyThere(d.kind, painted, 1)) continue;
                ++tally.falseKinds[static_cast<std::size_t>(d.kind)];
                anyFalse = true;
                thirdFalse = thirdFalse || !reallyThere(d.kind, painted, kNearlyThere);
            }
            tally.thirdFalse += thirdFalse;
            tally.falseAlarms += anyFalse;
        }
        const bool asked = advice.verdict == Verdict::MeasureAgain || (rules.followsReadings && advice.readAgainFirst);
        if (asked && rereadings < kMaxRereadings) {
            ++tally.again;
            ++played.again;
            ++rereadings;
            played.hours += rules.costs.readAgainHours;
            continue;
        }
        if (advice.verdict == Verdict::Accept) tally.reliability.add(advice.chanceAcceptableNow, right);
        if (advice.verdict != Verdict::Change || played.made == kMaxCorrections) {
            if (advice.verdict == Verdict::Accept) ++(right ? tally.acceptedGood : tally.acceptedBad);
            if (advice.verdict == Verdict::NoShimWillHelp) {
                ++tally.gaveUp;
                tally.gaveUpCurable += curable;
            }
            played.endsRight = right;
            if (!right) played.hours += rules.costs.comebackHours;
            return played;
        }
        tally.needless += right;
        rereadings = 0;
        ++played.made;
        played.hours += rules.costs.trialHours + rules.costs.ringGearHours;
        if (advice.shim.thicknessChangeMm != 0) {
            ++played.shimChanges;
            played.hours += rules.costs.pinionShimHours;
        }
        lastChange = advice.shim.thicknessChangeMm;
        makeChange(gear.prior, sign * lastChange, advice.backlashTargetMm, setUp, random);
        tally.reliability.add(advice.chanceAcceptableNext, trulyRight(gear, setUp, costs));
    }
}

/// Each gear set has random numbers of its own.
std::uint64_t streamOf(std::size_t gear) { return 100'000 * static_cast<std::uint64_t>(gear); }

/// The set-ups from `first` to before `last`.
void playJobs(const Bench& bench, std::uint64_t stream, int first, int last, std::uint64_t seed) {
    const auto& [gear, other, rules, tally] = bench;
    const Costs& costs = rules.costs;
    for (int i = first; i < last; ++i) {
        Random random = Random(seed).fork(stream + static_cast<std::uint64_t>(i));
        const advice::SetUp setUp = drawVisible(gear, random, rules.scatter);
        const bool curable = trulyRight(gear, setUp, costs) || bestMove(gear, setUp, costs);
        tally.notCurable += !curable;
        const Played a = playAdvice(bench, setUp, random.fork(1), seed + static_cast<std::uint64_t>(i), curable);
        const Played b = playChart(gear, setUp, random.fork(1), rules.readingSigma, costs);
        const Played c = playBest(gear, setUp, random.fork(1), costs);
        tally.advice.add(a.corrections, a.shimChanges);
        tally.chart.add(b.corrections, b.shimChanges);
        tally.best.add(c.corrections, c.shimChanges);
        if (!curable) continue;
        tally.adviceCurable.add(a.corrections, a.shimChanges);
        tally.chartCurable.add(b.corrections, b.shimChanges);
        tally.bestCurable.add(c.corrections, c.shimChanges);
        ++tally.jobs;
        tally.endsRight += a.endsRight;
        tally.made += a.made;
        tally.hours += a.hours;
    }
}

void printOutcomes(const std::string& set, const char* who, const Outcomes& o) {
    std::printf("%s,%s,%d,%.1f,%.1f,%.1f,%.1f,%.1f,%.2f,%.2f\n", set.c_str(), who, o.n, o.within(0), o.within(1),
                o.within(2), o.within(3), 100.0 * o.failed / std::max(o.n, 1), o.sum / std::max(o.n, 1),
                o.shims / std::max(o.n, 1));
}

int runJobs(int setUps, std::uint64_t seed, const Rules& rules) {
    std::printf(
        "set,who,setups,right at once %%,after 1 %%,after 2 %%,after 3 %%,never %%,mean corrections,mean shim "
        "changes\n");
    // Blocks of set-ups, so that the sums come out alike on any number of processors.
    constexpr int kBlock = 10;
    const auto blocks = static_cast<std::size_t>((setUps + kBlock - 1) / kBlock);
    std::vector<GearUnderStudy> gears;
    std::vector<GearUnderStudy> others;
    for (const char* file : kSetFiles) {
        gears.emplace_back(file);
        others.push_back(gears.back().cutOtherwise());
    }
    std::vector<Tally> parts(kSetFiles.size() * blocks);
    onAllProcessors(parts.size(), [&](std::size_t i) {
        const int first = static_cast<int>(i % blocks) * kBlock;
        playJobs({gears[i / blocks], others[i / blocks].contact, rules, parts[i]}, streamOf(i / blocks), first,
                 std::min(first + kBlock, setUps), seed);
    });
    std::vector<std::pair<std::string, Tally>> tallies;
    for (std::size_t g = 0; g < gears.size(); ++g) {
        Tally tally;
        for (std::size_t i = g * blocks; i < (g + 1) * blocks; ++i) tally.add(parts[i]);
        const std::string& file = gears[g].name;
        printOutcomes(file, "advice", tally.advice);
        printOutcomes(file, "chart", tally.chart);
        printOutcomes(file, "knows", tally.best);
        printOutcomes(file, "advice (curable)", tally.adviceCurable);
        printOutcomes(file, "chart (curable)", tally.chartCurable);
        printOutcomes(file, "knows (curable)", tally.bestCurable);
        tallies.emplace_back(file, tally);
    }
    std::printf("\nset,jobs,ends right %%,corrections made in all,readings again,hours\n");
    for (const auto& [file, t] : tallies)
        std::printf("%s,%d,%.2f,%.3f,%.2f,%.3f\n", file.c_str(), t.jobs, 100.0 * t.endsRight / t.jobs, t.made / t.jobs,
                    static_cast<double>(t.again) / (t.jobs + t.notCurable), t.hours / t.jobs);
    std::printf("\nset,trial,n,interval holds %%,truth below %%,mean error thou,mean width thou\n");
    for (const auto& [file, t] : tallies)
        for (std::size_t i = 0; i < 4; ++i)
            if (t.trials[i] > 0)
                std::printf("%s,%s,%d,%.1f,%.1f,%.2f,%.2f\n", file.c_str(),
                            i == 3 ? "4+" : std::to_string(i + 1).c_str(), t.trials[i], 100.0 * t.held[i] / t.trials[i],
                            100.0 * t.below[i] / t.trials[i], t.error[i] / t.trials[i], t.width[i] / t.trials[i]);
    std::printf("\nchance told,came true,n\n");
    for (std::size_t bin = 0; bin < kBins; ++bin) {
        double told = 0, came = 0;
        int n = 0;
        for (const auto& [file, t] : tallies) {
            told += t.reliability.told[bin];
            came += t.reliability.came[bin];
            n += t.reliability.count[bin];
        }
        if (n > 0) std::printf("%.2f,%.2f,%d\n", told / n, came / n, n);
    }
    std::printf(
        "\nset,not curable,left alone right,left alone wrong,no shim will help,of these curable,change though right,"
        "measure again,answers with a false alarm %%,answers with one off by a third %%,ms a first trial\n");
    for (const auto& [file, t] : tallies)
        std::printf("%s,%d,%d,%d,%d,%d,%d,%d,%.3f,%.3f,%.1f\n", file.c_str(), t.notCurable, t.acceptedGood,
                    t.acceptedBad, t.gaveUp, t.gaveUpCurable, t.needless, t.again,
                    100.0 * t.falseAlarms / t.adviceCalls, 100.0 * t.thirdFalse / t.adviceCalls,
                    1e3 * t.seconds / t.firstCalls);
    std::printf("\nfalse alarm,answers\n");
    for (std::size_t kind = 0; kind < 12; ++kind) {
        int count = 0;
        for (const auto& [file, t] : tallies) count += t.falseKinds[kind];
        if (count > 0) std::printf("%s,%d\n", std::string(name(static_cast<DiagnosisKind>(kind))).c_str(), count);
    }
    return 0;
}

/// A fault that is planted in a job.
struct Fault {
    std::string name;
    double size = 0;
    DiagnosisKind kind = DiagnosisKind::Runout;
    std::string unit;
    int trials = 1;
};

/// Chance of milled teeth that photos tell by the outline of the flanks, as often right as tests/accuracy/teeth found
/// it on 758 photos (middle of each range told).
double outlineSays(bool milled, Random& random) {
    struct Range {
        double share, told, right;
    };
    constexpr std::array kRanges{Range{162 / 758.0, 0.60, 121 / 162.0}, Range{326 / 758.0, 0.80, 309 / 326.0},
                                 Range{270 / 758.0, 0.95, 260 / 270.0}};
    double at = random.uniform();
    for (const Range& range : kRanges) {
        at -= range.share;
        if (at > 0 && &range != &kRanges.back()) continue;
        return milled == random.chance(range.right) ? range.told : 1 - range.told;
    }
    return 0.5;
}

/// Films, housings and all else as in the jobs; what the truth was at the last trial is left in `truth`.
/// `other`: the same set cut the other way.
std::vector<JobTrial> planted(const GearUnderStudy& gear, const ToothContact& other, const Fault& fault, double sigma,
                              Random& random, advice::SetUp& truth) {
    const GearSet& set = gear.contact.gearSet();
    const double sign = advice::depthPerThickness(set.build.pinionShim);
    const bool wrongCut = fault.name.starts_with("wrong cut");
    const ToothContact& contact = wrongCut ? other : gear.contact;
    const advice::Prior prior(contact);
    const bool wave = fault.name == "runout" || fault.name == "runout; marks alone";
    for (;;) {
        advice::SetUp setUp = drawSetUp(gear.contact, gear.prior, random);
        const double side = random.chance(0.5) ? 1 : -1;
        if (!fault.name.starts_with("none")) setUp.error.depthMm *= 0.5;
        if (fault.name == "offset") setUp.error.offsetMm = side * fault.size;
        if (fault.name == "shaft angle") setUp.error.shaftAngleRad = side * fault.size;
        if (fault.name == "thick film" || fault.name == "thin film") setUp.filmMm = fault.size * kFilmMm;
        if (fault.name == "worn load side") {
            Modification& m = setUp.modification[index(set.forwardLoadSide)];
            m.lengthCrownUm = fault.size * set.modification[index(set.forwardLoadSide)].lengthCrownUm;
            m.profileCrownUm = fault.size * set.modification[index(set.forwardLoadSide)].profileCrownUm;
        }
        if (fault.name == "sides swapped") setUp.error.depthMm = side * random.uniform(fault.size, fault.size + 0.1);
        setUp.error.ringMm = prior.ringFor(setUp.backlashMm, setUp.nominalBacklashMm, setUp.error);

        std::vector<JobTrial> history;
        bool shows = true;
        for (int t = 0; t < fault.trials; ++t) {
            double entered = 0;
            if (t > 0) {
                // The change is one that a mechanic would make: toward the right depth, half of the error at least.
                const bool entry = fault.name.starts_with("change") && t + 1 == fault.trials;
                double step = entry ? fault.size : std::max(0.5 * std::abs(setUp.error.depthMm), 0.05);
                if (setUp.error.depthMm > 0) step = -step;
                const double made = !entry ? step : fault.name == "change reversed" ? -step : 0;
                makeChange(prior, made, set.limits.backlashMm.middle(), setUp, random);
                entered = sign * step;
            }
            history.push_back({readTrial(contact, setUp, random, sigma), entered});
            if (fault.name.ends_with("; photos too") && t == 0)
                history.back().seen.chanceFaceMilled = outlineSays(contact.gearSet().cut == Cut::FaceMilled, random);
            shows = shows && history.back().seen.drive && history.back().seen.coast;
            if (fault.name == "sides swapped") std::swap(history.back().seen.drive, history.back().seen.coast);
        }
        if (!shows) continue;
        TrialObservation& last = history.back().seen;
        if (wave || fault.name == "loose bearings") {
            const double phase = random.uniform(0, 2 * kPi);
            for (int i = 0; i < 8; ++i)
                last.backlashRoundMm.push_back(std::max(
                    0.0, setUp.backlashMm + random.normal(0, kReadDialSigmaMm) +
                             (wave ? 0.5 * fault.size * set.limits.backlashVariationMm * std::sin(phase + i * kPi / 4)
                                   : 0)));
            if (fault.name != "runout") {
                last.drive->teeth = last.coast->teeth = 8;
                last.drive->toothSpread = last.coast->toothSpread = fault.size;
            }
            if (fault.name == "runout; marks alone") last.backlashRoundMm.clear();
        }
        if (fault.name.starts_with("backlash mistyped")) *last.backlashMm *= fault.size;
        truth = setUp;
        return history;
    }
}

bool sameFault(DiagnosisKind named, DiagnosisKind planted, bool marksAlone) {
    const auto housing = [](DiagnosisKind kind) {
        return kind == DiagnosisKind::HousingOffset || kind == DiagnosisKind::ShaftAngle;
    };
    // Marks alone leave open which of the two makes them wander.
    const auto wanders = [](DiagnosisKind kind) {
        return kind == DiagnosisKind::Runout || kind == DiagnosisKind::MarksScattered;
    };
    return named == planted || (housing(named) && housing(planted)) || (marksAlone && wanders(named));
}

std::vector<Fault> faultsToPlant() {
    using Kind = DiagnosisKind;
    std::vector<Fault> faults;
    const auto add = [&](const char* name, std::initializer_list<double> sizes, Kind kind, const char* unit,
                         int trials = 1) {
        for (const double size : sizes) faults.push_back({name, size, kind, unit, trials});
    };
    for (const int trials : {1, 2, 3}) add("none", {0}, Kind::Runout, "", trials);
    for (const int trials : {1, 2, 3})
        add("offset", {0.10, 0.125, 0.15, 0.20, 0.25}, Kind::HousingOffset, "mm", trials);
    for (const int trials : {1, 2})
        add("shaft angle", {0.0015, 0.002, 0.0025, 0.003, 0.005}, Kind::ShaftAngle, "rad", trials);
    add("runout", {1.2, 1.35, 1.5, 2}, Kind::Runout, "of the limit");
    add("runout; marks alone", {0.13, 0.16}, Kind::Runout, "tooth spread");
    add("loose bearings", {0.13, 0.16}, Kind::MarksScattered, "tooth spread");
    add("thick film", {2, 2.25, 2.5, 3, 3.5}, Kind::FilmThick, "times");
    add("thin film", {0.5, 0.4, 0.35, 0.3, 0.25, 0.2, 0.15}, Kind::FilmThin, "times");
    for (const int trials : {1, 2, 3})
        add("worn load side", {0.6, 0.5, 0.4, 0.3, 0.2}, Kind::UsedGears, "of its crown", trials);
    for (const int trials : {1, 2, 3})
        add("sides swapped", {0.05, 0.10, 0.15, 0.20}, Kind::SidesSwapped, "mm of depth or more", trials);
    for (const int trials : {1, 2, 3, 4}) add("wrong cut", {0}, Kind::WrongGearData, "", trials);
    for (const int trials : {1, 2, 3}) add("wrong cut; photos too", {0}, Kind::WrongGearData, "", trials);
    for (const int trials : {1, 2, 3}) add("none; photos too", {0}, Kind::Runout, "", trials);
    add("change reversed", {0.05, 0.06, 0.08, 0.10, 0.12}, Kind::EntryChange, "mm", 2);
    add("change not made", {0.10, 0.12, 0.15, 0.18}, Kind::EntryChange, "mm", 2);
    for (const int trials : {1, 2})
        add("backlash mistyped", {0.1, 0.25, 0.5, 0.67, 1.5, 2, 3, 4, 10}, Kind::EntryBacklash, "times", trials);
    return faults;
}

/// `only`: the one kind of fault that is planted; empty: all.
int runFaults(int jobsPerSet, std::uint64_t seed, double sigma, const std::string& only) {
    std::vector<GearUnderStudy> gears;
    std::vector<GearUnderStudy> others;
    for (const char* file : kSetFiles) {
        gears.emplace_back(file);
        others.push_back(gears.back().cutOtherwise());
    }
    std::vector<Fault> faults = faultsToPlant();
    if (!only.empty()) std::erase_if(faults, [&](const Fault& fault) { return fault.name != only; });
    struct Count {
        int jobs = 0, right = 0, any = 0, wentOn = 0, less = 0, lenient = 0;
    };
    std::vector<Count> parts(faults.size() * gears.size());
    onAllProcessors(parts.size(), [&](std::size_t k) {
        const Fault& fault = faults[k / gears.size()];
        const std::size_t g = k % gears.size();
        Count& count = parts[k];
        const bool marksAlone = fault.name == "runout; marks alone";
        for (int i = 0; i < jobsPerSet; ++i) {
            Random random = Random(seed).fork(streamOf(g) + static_cast<std::uint64_t>(i));
            advice::SetUp truth;
            const std::vector<JobTrial> history = planted(gears[g], others[g].contact, fault, sigma, random, truth);
            AdviceOptions options;
            options.seed = seed + static_cast<std::uint64_t>(i);
            options.otherCut = [&] { return &others[g].contact; };
            Advice advice;
            try {
                advice = advise({&gears[g].contact}, history, options);
            } catch (const InputError&) {
                // A backlash that no axle has is refused at once, with its name.
                ++count.jobs;
                ++count.any;
                count.right += fault.kind == DiagnosisKind::EntryBacklash;
                continue;
            }
            const auto named = [&](auto&& counts) {
                return std::any_of(advice.diagnoses.begin(), advice.diagnoses.end(), counts);
            };
            const auto unreal = [&](double share) {
                return named([&](const Diagnosis& d) {
                    return !sameFault(d.kind, fault.kind, marksAlone) && !reallyThere(d.kind, truth, share);
                });
            };
            ++count.jobs;
            count.any += !advice.diagnoses.empty();
            count.wentOn += advice.verdict == Verdict::Change || advice.verdict == Verdict::Accept;
            if (fault.name.starts_with("none")) {
                count.less += named([&](const Diagnosis& d) { return !reallyThere(d.kind, truth, 1); });
                count.lenient += named([&](const Diagnosis& d) { return !reallyThere(d.kind, truth, kNearlyThere); });
            } else {
                count.right += named([&](const Diagnosis& d) { return sameFault(d.kind, fault.kind, marksAlone); });
                count.less += unreal(1);
                count.lenient += unreal(kNearlyThere);
            }
        }
    });
    std::printf(
        "planted,size,unit,trials,noise %%,jobs,named right %%,anything named %%,went on %%,false %%,false by a third "
        "%%\n");
    for (std::size_t f = 0; f < faults.size(); ++f) {
        Count all;
        for (std::size_t g = 0; g < gears.size(); ++g) {
            const Count& part = parts[f * gears.size() + g];
            all.jobs += part.jobs;
            all.right += part.right;
            all.any += part.any;
            all.wentOn += part.wentOn;
            all.less += part.less;
            all.lenient += part.lenient;
        }
        const auto share = [&](int n) { return 100.0 * n / all.jobs; };
        std::printf("%s,%g,%s,%d,%g,%d,%.2f,%.2f,%.2f,%.2f,%.2f\n", faults[f].name.c_str(), faults[f].size,
                    faults[f].unit.c_str(), faults[f].trials, 100 * sigma, all.jobs, share(all.right), share(all.any),
                    share(all.wentOn), share(all.less), share(all.lenient));
    }
    return 0;
}

}  // namespace

int main(int argc, char** argv) {
    const std::string what = argc > 1 ? argv[1] : "";
    const int count = argc > 2 ? std::atoi(argv[2]) : 0;
    const std::uint64_t seed = argc > 3 ? static_cast<std::uint64_t>(std::atoll(argv[3])) : 1;
    Rules rules;
    rules.followsReadings = what == "jobs";
    const auto take = [&](int place, double& value) {
        if (argc > place && std::string(argv[place]) != "-") value = std::atof(argv[place]);
    };
    take(4, rules.readingSigma);
    take(5, rules.costs.pinionShimHours);
    take(6, rules.costs.comebackHours);
    take(7, rules.scatter);
    if ((what == "jobs" || what == "jobs-once") && count > 0) return runJobs(count, seed, rules);
    if (what == "faults" && count > 0)
        return runFaults(count, seed, argc > 4 ? std::atof(argv[4]) : kReadingSigma, argc > 5 ? argv[5] : "");
    std::fprintf(stderr,
                 "usage: closed_loop_study jobs|jobs-once SETUPS_PER_SET [SEED] [READING_SIGMA] [PINION_HOURS] "
                 "[COMEBACK_HOURS] [SCATTER]\n"
                 "       closed_loop_study faults JOBS_PER_SET [SEED] [READING_SIGMA] [FAULT]\n");
    return 2;
}
