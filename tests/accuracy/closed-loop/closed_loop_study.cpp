// Jobs played to their end by the advice, by the habit of the charts and by a player who knows the truth; and faults
// planted to be found. See README.md beside this file. Run from the root of the repository.
// Usage: closed_loop_study jobs|jobs-once SETUPS_PER_SET [SEED] [PINION_HOURS] [COMEBACK_HOURS]
//        closed_loop_study faults JOBS_PER_SET [SEED] [READING_SIGMA]
// jobs reads once more where the advice says that it pays; jobs-once never does.

#include <array>
#include <cstdio>
#include <cstdlib>
#include <ctime>
#include <future>
#include <map>
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

/// Processor time of this thread.
double threadSeconds() {
    timespec now{};
    clock_gettime(CLOCK_THREAD_CPUTIME_ID, &now);
    return static_cast<double>(now.tv_sec) + 1e-9 * static_cast<double>(now.tv_nsec);
}

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
    std::array<int, 12> falseKinds{};  ///< by DiagnosisKind
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
        const double film = setUp.filmMm;
        setUp.filmMm = drawFilm(random);  // wiped and painted afresh, should it be read again
        AdviceOptions options;
        options.costs = costs;
        options.seed = seed;
        const double start = threadSeconds();
        const Advice advice = advise({&gear.contact}, history, options);
        tally.seconds += (threadSeconds() - start) / static_cast<double>(history.size());
        ++tally.adviceCalls;
        const auto t = std::min<std::size_t>(history.size() - 1, 3);
        const double truth = setUp.error.depthMm;
        if (history.back().seen.drive || history.back().seen.coast) {
            ++tally.trials[t];
            tally.held[t] += advice.depthErrorMm.low90 <= truth && truth <= advice.depthErrorMm.high90;
            tally.below[t] += truth < advice.depthErrorMm.low90;
            tally.error[t] += std::abs(advice.depthErrorMm.best - truth) / 0.0254;
            tally.width[t] += (advice.depthErrorMm.high90 - advice.depthErrorMm.low90) / 0.0254;
            bool anyFalse = false;
            for (const Diagnosis& d : advice.diagnoses) {
                const bool real = (d.kind == DiagnosisKind::HousingOffset && std::abs(setUp.error.offsetMm) > 0.04) ||
                                  (d.kind == DiagnosisKind::ShaftAngle && std::abs(setUp.error.shaftAngleRad) > 5e-4) ||
                                  (d.kind == DiagnosisKind::FilmThick && film > 1.4 * kFilmMm) ||
                                  (d.kind == DiagnosisKind::FilmThin && film < 0.7 * kFilmMm);
                if (real) continue;
                ++tally.falseKinds[static_cast<std::size_t>(d.kind)];
                anyFalse = true;
            }
            tally.falseAlarms += anyFalse;
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
    std::vector<std::future<Tally>> running;
    for (const char* file : kSetFiles)
        running.push_back(std::async(std::launch::async, [=] {
            const GearUnderStudy gear(file);
            Tally tally;
            playJobs(gear, setUps, seed, followsReadings, costs, tally);
            return tally;
        }));
    for (std::size_t i = 0; i < kSetFiles.size(); ++i) {
        const char* file = kSetFiles[i];
        const Tally tally = running[i].get();
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
    std::printf("\nfalse alarm,answers\n");
    for (std::size_t kind = 0; kind < 12; ++kind) {
        int count = 0;
        for (const auto& [file, t] : tallies) count += t.falseKinds[kind];
        if (count > 0) std::printf("%s,%d\n", std::string(name(static_cast<DiagnosisKind>(kind))).c_str(), count);
    }
    return 0;
}

/// A fault that is planted in a job of one or two trials.
struct Fault {
    std::string name;
    double size = 0;
    DiagnosisKind kind = DiagnosisKind::Runout;
    std::string unit;
};

/// The history of a job with the fault in it; `other`: the same set cut the other way.
std::vector<JobTrial> planted(const GearUnderStudy& gear, const ToothContact& other, const Fault& fault, double sigma,
                              Random& random) {
    const GearSet& set = gear.contact.gearSet();
    const double sign = advice::depthPerThickness(set.build.pinionShim);
    for (;;) {
        advice::SetUp setUp = drawSetUp(gear.contact, gear.prior, random);
        setUp.error.depthMm *= 0.5;
        // Where nothing is planted nothing may be there by chance either.
        const bool none = fault.name.starts_with("none");
        const auto usualFilm = [](double film) { return std::clamp(film, 0.7 * kFilmMm, 1.4 * kFilmMm); };
        if (none) {
            setUp.error.offsetMm = std::clamp(setUp.error.offsetMm, -0.04, 0.04);
            setUp.error.shaftAngleRad = std::clamp(setUp.error.shaftAngleRad, -0.0005, 0.0005);
            setUp.filmMm = usualFilm(setUp.filmMm);
        }
        const double side = random.chance(0.5) ? 1 : -1;
        if (fault.name == "offset") setUp.error.offsetMm = side * fault.size;
        if (fault.name == "shaft angle") setUp.error.shaftAngleRad = side * fault.size;
        if (fault.name == "thick film" || fault.name == "thin film") setUp.filmMm = fault.size * kFilmMm;
        if (fault.name == "worn load side") {
            Modification& m = setUp.modification[index(set.forwardLoadSide)];
            m.lengthCrownUm = fault.size * set.modification[index(set.forwardLoadSide)].lengthCrownUm;
            m.profileCrownUm = fault.size * set.modification[index(set.forwardLoadSide)].profileCrownUm;
        }
        if (fault.name == "sides swapped") setUp.error.depthMm = side * random.uniform(fault.size, fault.size + 0.1);
        setUp.error.ringMm = gear.prior.ringFor(setUp.backlashMm, setUp.nominalBacklashMm, setUp.error);
        const bool wrongCut = fault.name.starts_with("wrong cut");
        const ToothContact& contact = wrongCut ? other : gear.contact;
        const advice::Prior prior(contact);
        if (wrongCut) setUp.error.ringMm = prior.ringFor(setUp.backlashMm, setUp.nominalBacklashMm, setUp.error);

        std::vector<JobTrial> history{{readTrial(contact, setUp, random, sigma), 0.0}};
        TrialObservation& first = history.front().seen;
        if (!first.drive || !first.coast) continue;
        const bool wave = fault.name == "runout" || fault.name == "runout, marks alone";
        if (wave || fault.name == "loose bearings") {
            const double phase = random.uniform(0, 2 * kPi);
            for (int i = 0; i < 8; ++i)
                first.backlashRoundMm.push_back(std::max(
                    0.0, setUp.backlashMm + random.normal(0, kDialSigmaMm) +
                             (wave ? 0.5 * fault.size * set.limits.backlashVariationMm * std::sin(phase + i * kPi / 4)
                                   : 0)));
            if (fault.name != "runout") {
                first.drive->teeth = first.coast->teeth = 8;
                first.drive->toothSpread = first.coast->toothSpread =
                    fault.name == "loose bearings" ? fault.size : 0.16;
            }
            if (fault.name == "runout, marks alone") first.backlashRoundMm.clear();
        }
        if (fault.name == "backlash mistyped") *first.backlashMm *= fault.size;
        if (fault.name == "sides swapped") std::swap(first.drive, first.coast);
        const bool change = fault.name.starts_with("change") || fault.name == "wrong cut, two trials" ||
                            fault.name == "none, two trials";
        if (!change) return history;
        // The change is one that a mechanic would make: toward the right depth.
        const double depthChange = (setUp.error.depthMm > 0 ? -1 : 1) * (fault.size > 0 ? fault.size : 0.12);
        const double made = fault.name == "change reversed"   ? -depthChange
                            : fault.name == "change not made" ? 0
                                                              : depthChange;
        advice::SetUp next = setUp;
        makeChange(prior, made, set.limits.backlashMm.middle(), next, random);
        if (none) next.filmMm = usualFilm(next.filmMm);
        history.push_back({readTrial(contact, next, random, sigma), sign * depthChange});
        if (history.back().seen.drive && history.back().seen.coast) return history;
    }
}

int runFaults(int trials, std::uint64_t seed, double sigma) {
    using Kind = DiagnosisKind;
    const std::vector<Fault> faults{{"none", 0, Kind::Runout, ""},
                                    {"none, two trials", 0, Kind::Runout, ""},
                                    {"offset", 0.10, Kind::HousingOffset, "mm"},
                                    {"offset", 0.15, Kind::HousingOffset, "mm"},
                                    {"offset", 0.20, Kind::HousingOffset, "mm"},
                                    {"offset", 0.30, Kind::HousingOffset, "mm"},
                                    {"shaft angle", 0.0015, Kind::ShaftAngle, "rad"},
                                    {"shaft angle", 0.003, Kind::ShaftAngle, "rad"},
                                    {"shaft angle", 0.005, Kind::ShaftAngle, "rad"},
                                    {"runout", 1.2, Kind::Runout, "of the limit"},
                                    {"runout", 1.5, Kind::Runout, "of the limit"},
                                    {"runout", 2.0, Kind::Runout, "of the limit"},
                                    {"runout, marks alone", 1.5, Kind::Runout, "of the limit"},
                                    {"loose bearings", 0.16, Kind::MarksScattered, "tooth spread"},
                                    {"thick film", 2.0, Kind::FilmThick, "times"},
                                    {"thick film", 2.5, Kind::FilmThick, "times"},
                                    {"thick film", 3.5, Kind::FilmThick, "times"},
                                    {"thin film", 0.40, Kind::FilmThin, "times"},
                                    {"thin film", 0.30, Kind::FilmThin, "times"},
                                    {"worn load side", 0.5, Kind::UsedGears, "of its crown"},
                                    {"worn load side", 0.35, Kind::UsedGears, "of its crown"},
                                    {"sides swapped", 0.05, Kind::SidesSwapped, "mm of depth or more"},
                                    {"sides swapped", 0.15, Kind::SidesSwapped, "mm of depth or more"},
                                    {"wrong cut", 0, Kind::WrongGearData, ""},
                                    {"wrong cut, two trials", 0, Kind::WrongGearData, ""},
                                    {"change reversed", 0.05, Kind::EntryChange, "mm"},
                                    {"change reversed", 0.08, Kind::EntryChange, "mm"},
                                    {"change reversed", 0.12, Kind::EntryChange, "mm"},
                                    {"change reversed", 0.18, Kind::EntryChange, "mm"},
                                    {"change not made", 0.08, Kind::EntryChange, "mm"},
                                    {"change not made", 0.12, Kind::EntryChange, "mm"},
                                    {"change not made", 0.18, Kind::EntryChange, "mm"},
                                    {"change not made", 0.25, Kind::EntryChange, "mm"},
                                    {"backlash mistyped", 0.5, Kind::EntryBacklash, "times"},
                                    {"backlash mistyped", 2.0, Kind::EntryBacklash, "times"},
                                    {"backlash mistyped", 4.0, Kind::EntryBacklash, "times"},
                                    {"backlash mistyped", 10.0, Kind::EntryBacklash, "times"}};
    std::printf(
        "reading noise %.0f %%\nfault,size,unit,jobs,named right %%,named or asked about %%,advice went on %%\n",
        100 * sigma);
    for (const Fault& fault : faults) {
        int right = 0, any = 0, jobs = 0, wentOn = 0;
        for (const char* file : kSetFiles) {
            static std::map<std::string, GearUnderStudy> gears;
            static std::map<std::string, ToothContact> others;
            if (!gears.contains(file)) {
                gears.emplace(file, file);
                GearSetData data = gears.at(file).data;
                const Cut cut = *data.cut == Cut::FaceMilled ? Cut::FaceHobbed : Cut::FaceMilled;
                data.cut.reset();
                data.cutterRadiusMm.reset();
                data.bladeGroups.reset();
                others.emplace(file, ToothContact(withCut(data, cut)));
            }
            const GearUnderStudy& gear = gears.at(file);
            const ToothContact& other = others.at(file);
            for (int i = 0; i < trials; ++i) {
                Random random = Random(seed).fork(static_cast<std::uint64_t>(i));
                const std::vector<JobTrial> history = planted(gear, other, fault, sigma, random);
                AdviceOptions options;
                options.seed = seed + static_cast<std::uint64_t>(i);
                options.otherCut = [&] { return &other; };
                const Advice advice = advise({&gear.contact}, history, options);
                ++jobs;
                any += !advice.diagnoses.empty();
                wentOn += advice.verdict == Verdict::Change || advice.verdict == Verdict::Accept;
                right += std::any_of(advice.diagnoses.begin(), advice.diagnoses.end(), [&](const Diagnosis& d) {
                    const bool housing = fault.kind == Kind::HousingOffset || fault.kind == Kind::ShaftAngle;
                    return d.kind == fault.kind ||
                           (housing && (d.kind == Kind::HousingOffset || d.kind == Kind::ShaftAngle));
                });
            }
        }
        const bool none = fault.name.starts_with("none");
        std::printf("%s,%g,%s,%d,%.1f,%.1f,%.1f\n", fault.name.c_str(), fault.size, fault.unit.c_str(), jobs,
                    none ? 0.0 : 100.0 * right / jobs, 100.0 * any / jobs, 100.0 * wentOn / jobs);
        std::fflush(stdout);
    }
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
    if (what == "faults" && count > 0) return runFaults(count, seed, argc > 4 ? std::atof(argv[4]) : 0.02);
    std::fprintf(stderr,
                 "usage: closed_loop_study jobs|jobs-once SETUPS_PER_SET [SEED] [PINION_HOURS] [COMEBACK_HOURS]\n"
                 "       closed_loop_study faults JOBS_PER_SET [SEED] [READING_SIGMA]\n");
    return 2;
}
