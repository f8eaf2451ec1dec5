// Jobs played to their end by the advice, by the habit of the charts and by a player who knows the truth; and faults
// planted to be found. See README.md beside this file. Run from the root of the repository.
// Usage: closed_loop_study jobs SETUPS_PER_SET [SEED]   or   closed_loop_study faults TRIALS_PER_FAULT [SEED]

#include <array>
#include <cstdio>
#include <cstdlib>
#include <ctime>
#include <string>
#include <vector>

#include "advice/shims.h"
#include "shimsight/records.h"
#include "world.h"

using namespace shimsight;
using namespace shimsight::closed_loop;

namespace {

const std::array kSetFiles{"lab-van-rear-axle-a", "lab-light-truck-rear-axle", "lab-farm-truck-rear-axle",
                           "lab-farm-truck-spiral-bevel"};
constexpr int kMostCorrections = 6;
constexpr int kMostRereadings = 2;  ///< in a row, when told to measure again

struct GearUnderStudy {
    std::string name;
    GearSetData data;
    ToothContact contact;
    advice::Prior prior;
    explicit GearUnderStudy(const std::string& file)
        : name(file),
          data(loadGearSet("models/gear-sets/" + file + ".json")),
          contact(completeGearSet(data)),
          prior(contact) {}
};

/// How a job went.
struct Outcomes {
    int n = 0, failed = 0;
    std::array<int, kMostCorrections + 1> by{};  ///< acceptable after so many corrections
    double sum = 0;                              ///< of corrections, a failed job counted as kMostCorrections
    double shims = 0;                            ///< of corrections with a shim change

    void add(int corrections, int shimChanges) {
        ++n;
        if (corrections < 0)
            ++failed;
        else
            ++by[static_cast<std::size_t>(corrections)];
        sum += corrections < 0 ? kMostCorrections : corrections;
        shims += shimChanges;
    }
    double within(int corrections) const {
        int count = 0;
        for (int i = 0; i <= corrections; ++i) count += by[static_cast<std::size_t>(i)];
        return 100.0 * count / std::max(n, 1);
    }
};

struct Played {
    int corrections = -1;  ///< until acceptable; -1: never
    int shimChanges = 0;
};

struct Reliability {
    std::array<int, 10> count{};
    std::array<double, 10> told{}, came{};
    void add(double chance, bool true_) {
        const auto bin = static_cast<std::size_t>(std::min(9, static_cast<int>(chance * 10)));
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
    int acceptedBad = 0, acceptedGood = 0, gaveUp = 0, gaveUpCurable = 0, needless = 0, notCurable = 0, again = 0;
    int falseAlarms = 0, adviceCalls = 0;
    double seconds = 0;
};

/// The player who knows: the move whose result is acceptable with the most room, by trying all.
std::optional<std::pair<double, double>> bestMove(const GearUnderStudy& gear, const advice::SetUp& setUp) {
    const GearSet& set = gear.contact.gearSet();
    const Limits& limits = set.limits;
    const double width = limits.backlashMm.high - limits.backlashMm.low;
    const advice::ShimStacks stacks(set.build.shimsMm);
    const double sign = advice::depthPerThickness(set.build.pinionShim);
    std::optional<std::pair<double, double>> best;
    double mostRoom = 0;
    double last = -1e9;
    for (const double thickness : advice::thicknessChanges(stacks, std::nullopt, std::abs(setUp.error.depthMm) + 0.2)) {
        const double depth = setUp.error.depthMm + sign * thickness;
        if (std::abs(depth) > 0.2 || thickness - last < 0.008) continue;
        last = thickness;
        for (const double share : {0.25, 0.5, 0.75}) {
            advice::SetUp next = setUp;
            next.error.depthMm = depth;
            next.backlashMm = limits.backlashMm.low + share * width;
            next.error.ringMm = gear.prior.ringFor(next.backlashMm, next.nominalBacklashMm, next.error);
            // Room for the error of setting: 0.001 in counts like a twentieth of the tooth.
            double room = 0.05 * std::min(share, 1 - share) * width / 0.0254;
            for (const Side side : kSides) {
                const auto p = measurePattern(gear.contact.predict(side, next.error, next.modification[index(side)]));
                if (!p || !isAcceptable(*p, limits.acceptance)) {
                    room = 0;
                    break;
                }
                const AcceptanceRule& rule = limits.acceptance;
                room = std::min({room, p->rootTip - rule.rootTip.low, rule.rootTip.high - p->rootTip,
                                 p->toeHeel - rule.toeHeel.low, rule.toeHeel.high - p->toeHeel,
                                 0.5 * (rule.length.high - p->length)});
                for (const double edge : {p->edgeToe, p->edgeHeel, p->edgeTip, p->edgeRoot})
                    room = std::min(room, 0.10 - edge);
            }
            if (room <= mostRoom) continue;
            mostRoom = room;
            best = {sign * thickness, next.backlashMm};
        }
    }
    return best;
}

Played playBest(const GearUnderStudy& gear, advice::SetUp setUp, Random random) {
    Played played;
    for (int done = 0; done <= kMostCorrections; ++done) {
        if (trulyAcceptable(gear.contact, setUp)) {
            played.corrections = done;
            return played;
        }
        const auto move = bestMove(gear, setUp);
        if (!move) return played;
        if (move->first != 0) ++played.shimChanges;
        makeChange(gear.prior, move->first, move->second, setUp, random);
    }
    return played;
}

/// The habit: face or flank asks for depth, 0.005 in the first time, then 0.002 in; toe or heel asks for backlash, as a
/// chart for milled sets has it. Stops when the read pattern is right.
Played playChart(const GearUnderStudy& gear, advice::SetUp setUp, Random random) {
    const GearSet& set = gear.contact.gearSet();
    const Limits& limits = set.limits;
    const AcceptanceRule& rule = limits.acceptance;
    Played played;
    for (int done = 0; done <= kMostCorrections; ++done) {
        if (trulyAcceptable(gear.contact, setUp)) {
            played.corrections = done;
            return played;
        }
        const TrialObservation seen = readTrial(gear.contact, setUp, random);
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

/// `followsReadings`: reads once more where the advice says that it pays.
Played playAdvice(const GearUnderStudy& gear, advice::SetUp setUp, Random random, std::uint64_t seed, bool curable,
                  bool followsReadings, const Costs& costs, Tally& tally) {
    const double sign = advice::depthPerThickness(gear.contact.gearSet().build.pinionShim);
    Played played;
    std::vector<JobTrial> history;
    double lastChange = 0;
    int rereadings = 0, done = 0;
    while (true) {
        const bool acceptable = trulyAcceptable(gear.contact, setUp);
        if (acceptable && played.corrections < 0) played.corrections = done;
        history.push_back({readTrial(gear.contact, setUp, random), lastChange});
        lastChange = 0;
        setUp.filmMm = drawFilm(random);  // wiped and painted afresh, should it be read again
        AdviceOptions options;
        options.costs = costs;
        options.seed = seed;
        const std::clock_t start = std::clock();
        const Advice advice = advise({&gear.contact}, history, options);
        tally.seconds +=
            static_cast<double>(std::clock() - start) / CLOCKS_PER_SEC / static_cast<double>(history.size());
        ++tally.adviceCalls;
        const auto t = std::min<std::size_t>(history.size() - 1, 3);
        const double truth = setUp.error.depthMm;
        if (history.back().seen.drive || history.back().seen.coast) {
            ++tally.trials[t];
            tally.held[t] += advice.depthErrorMm.low90 <= truth && truth <= advice.depthErrorMm.high90;
            tally.below[t] += truth < advice.depthErrorMm.low90;
            tally.error[t] += std::abs(advice.depthErrorMm.best - truth) / 0.0254;
            tally.width[t] += (advice.depthErrorMm.high90 - advice.depthErrorMm.low90) / 0.0254;
            for (const Diagnosis& d : advice.diagnoses) {
                const bool real = (d.kind == DiagnosisKind::HousingOffset && std::abs(setUp.error.offsetMm) > 0.04) ||
                                  (d.kind == DiagnosisKind::ShaftAngle && std::abs(setUp.error.shaftAngleRad) > 5e-4) ||
                                  (d.kind == DiagnosisKind::FilmThick && setUp.filmMm > 1.4 * kFilmMm) ||
                                  (d.kind == DiagnosisKind::FilmThin && setUp.filmMm < 0.7 * kFilmMm);
                if (!real) {
                    ++tally.falseAlarms;
                    break;
                }
            }
        }
        const bool asked = advice.verdict == Verdict::MeasureAgain || (followsReadings && advice.readAgainFirst);
        if (asked && rereadings < kMostRereadings) {
            ++tally.again;
            ++rereadings;
            continue;
        }
        if (advice.verdict == Verdict::Accept) tally.reliability.add(advice.chanceAcceptableNow, acceptable);
        if (advice.verdict != Verdict::Change) {
            if (advice.verdict == Verdict::Accept) ++(acceptable ? tally.acceptedGood : tally.acceptedBad);
            if (advice.verdict == Verdict::NoShimWillHelp) {
                ++tally.gaveUp;
                tally.gaveUpCurable += curable;
            }
            return played;
        }
        if (acceptable) ++tally.needless;
        if (played.corrections >= 0) return played;  // right already; what follows is not counted
        if (done == kMostCorrections) return played;
        rereadings = 0;
        ++done;
        if (advice.shim.thicknessChangeMm != 0) ++played.shimChanges;
        lastChange = advice.shim.thicknessChangeMm;
        makeChange(gear.prior, sign * lastChange, advice.backlashTargetMm, setUp, random);
        tally.reliability.add(advice.chanceAcceptableNext, trulyAcceptable(gear.contact, setUp));
    }
}

void playJobs(const GearUnderStudy& gear, int setUps, std::uint64_t seed, bool followsReadings, const Costs& costs,
              Tally& tally) {
    for (int i = 0; i < setUps; ++i) {
        Random random = Random(seed).fork(static_cast<std::uint64_t>(i));
        advice::SetUp setUp;
        bool shows = false;
        while (!shows) {  // a set-up without any mark is turned by sight
            setUp = drawSetUp(gear.contact, gear.prior, random);
            for (const Side side : kSides) shows = shows || simulated::truePattern(gear.contact, side, setUp);
        }
        const bool curable = trulyAcceptable(gear.contact, setUp) || bestMove(gear, setUp);
        tally.notCurable += !curable;
        const Played a = playAdvice(gear, setUp, random.fork(1), seed + static_cast<std::uint64_t>(i), curable,
                                    followsReadings, costs, tally);
        const Played b = playChart(gear, setUp, random.fork(1));
        const Played c = playBest(gear, setUp, random.fork(1));
        tally.advice.add(a.corrections, a.shimChanges);
        tally.chart.add(b.corrections, b.shimChanges);
        tally.best.add(c.corrections, c.shimChanges);
        if (!curable) continue;
        tally.adviceCurable.add(a.corrections, a.shimChanges);
        tally.chartCurable.add(b.corrections, b.shimChanges);
        tally.bestCurable.add(c.corrections, c.shimChanges);
    }
}

void printOutcomes(const std::string& set, const char* who, const Outcomes& o) {
    std::printf("%s,%s,%d,%.1f,%.1f,%.1f,%.1f,%.1f,%.2f,%.2f\n", set.c_str(), who, o.n, o.within(0), o.within(1),
                o.within(2), o.within(3), 100.0 * o.failed / std::max(o.n, 1), o.sum / std::max(o.n, 1),
                o.shims / std::max(o.n, 1));
}

int runJobs(int setUps, std::uint64_t seed, bool followsReadings, const Costs& costs) {
    std::printf(
        "set,who,setups,right at once %%,after 1 %%,after 2 %%,after 3 %%,never %%,mean corrections,mean shim "
        "changes\n");
    std::vector<std::pair<std::string, Tally>> tallies;
    for (const char* file : kSetFiles) {
        const GearUnderStudy gear(file);
        Tally tally;
        playJobs(gear, setUps, seed, followsReadings, costs, tally);
        printOutcomes(file, "advice", tally.advice);
        printOutcomes(file, "chart", tally.chart);
        printOutcomes(file, "knows", tally.best);
        printOutcomes(file, "advice (curable)", tally.adviceCurable);
        printOutcomes(file, "chart (curable)", tally.chartCurable);
        printOutcomes(file, "knows (curable)", tally.bestCurable);
        std::fflush(stdout);
        tallies.emplace_back(file, tally);
    }
    std::printf("\nset,trial,n,interval holds %%,truth below %%,mean error thou,mean width thou\n");
    for (const auto& [file, t] : tallies)
        for (std::size_t i = 0; i < 4; ++i)
            if (t.trials[i] > 0)
                std::printf("%s,%s,%d,%.1f,%.1f,%.2f,%.2f\n", file.c_str(),
                            i == 3 ? "4+" : std::to_string(i + 1).c_str(), t.trials[i], 100.0 * t.held[i] / t.trials[i],
                            100.0 * t.below[i] / t.trials[i], t.error[i] / t.trials[i], t.width[i] / t.trials[i]);
    std::printf("\nchance told,came true,n\n");
    for (std::size_t bin = 0; bin < 10; ++bin) {
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
        "measure again,answers with a false alarm %%,ms a trial\n");
    for (const auto& [file, t] : tallies)
        std::printf("%s,%d,%d,%d,%d,%d,%d,%d,%.2f,%.1f\n", file.c_str(), t.notCurable, t.acceptedGood, t.acceptedBad,
                    t.gaveUp, t.gaveUpCurable, t.needless, t.again, 100.0 * t.falseAlarms / t.adviceCalls,
                    1e3 * t.seconds / t.adviceCalls);
    return 0;
}

}  // namespace

int main(int argc, char** argv) {
    const std::string what = argc > 1 ? argv[1] : "";
    const int count = argc > 2 ? std::atoi(argv[2]) : 0;
    const std::uint64_t seed = argc > 3 ? static_cast<std::uint64_t>(std::atoll(argv[3])) : 1;
    Costs costs;
    if (argc > 4) costs.pinionShimHours = std::atof(argv[4]);
    if (argc > 5) costs.comebackHours = std::atof(argv[5]);
    if ((what == "jobs" || what == "jobs-once") && count > 0) return runJobs(count, seed, what == "jobs", costs);
    std::fprintf(stderr, "usage: closed_loop_study jobs SETUPS_PER_SET [SEED]\n");
    return 2;
}
