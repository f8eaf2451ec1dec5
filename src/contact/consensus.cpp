#include <algorithm>
#include <cmath>
#include <map>

#include "shimsight/contact.h"

namespace shimsight {
namespace {

/// A tooth is left out when its centre lies farther from the median of all than this many of its own standard errors
/// and the least distance (share of length or height): a healthy set's runout moves the pattern less.
constexpr double kOutlierSigmas = 3.5;
constexpr double kOutlierLeastU = 0.06, kOutlierLeastV = 0.12;
/// Teeth whose area differs from the median's by more than this factor saw another thing.
constexpr double kAreaFactor = 2.5;
/// Error common to all teeth of a photo (corner marks by one hand, one light, one way of wiping): it does not average
/// out.
constexpr double kCommonShare = 0.8;

double median(std::vector<double> values) {
    std::sort(values.begin(), values.end());
    const std::size_t n = values.size();
    return n % 2 ? values[n / 2] : 0.5 * (values[n / 2 - 1] + values[n / 2]);
}

/// The readings of one tooth that count: together they weigh as much as the surest of them.
struct Tooth {
    std::vector<std::size_t> readings;
    double weight = 0, u = 0, v = 0;  ///< share of the whole; mean centre
};

double weightOf(const ContactReading& reading) {
    const Pattern& p = reading.pattern;
    return std::max(0.05, reading.flankConfidence) /
           (p.sigmaToeHeel * p.sigmaToeHeel + 0.25 * p.sigmaRootTip * p.sigmaRootTip + 1e-5);
}

/// The teeth among the readings that are used; each reading's share of the whole goes to `weight`.
std::vector<Tooth> teethOf(const std::vector<ContactReading>& readings, const std::vector<int>& tooth,
                           const std::vector<bool>& used, std::vector<double>& weight) {
    std::map<int, Tooth> byNumber;
    for (std::size_t k = 0; k < readings.size(); ++k)
        if (used[k]) byNumber[tooth.empty() ? static_cast<int>(k) : tooth[k]].readings.push_back(k);
    weight.assign(readings.size(), 0);
    double total = 0;
    std::vector<Tooth> teeth;
    for (auto& [number, one] : byNumber) {
        double sum = 0;
        for (const std::size_t k : one.readings) {
            weight[k] = weightOf(readings[k]);
            sum += weight[k];
            one.weight = std::max(one.weight, weight[k]);
        }
        for (const std::size_t k : one.readings) {
            one.u += weight[k] / sum * readings[k].pattern.toeHeel;
            one.v += weight[k] / sum * readings[k].pattern.rootTip;
            weight[k] *= one.weight / sum;
        }
        total += one.weight;
        teeth.push_back(std::move(one));
    }
    for (Tooth& one : teeth) one.weight /= total;
    for (double& one : weight) one /= total;
    return teeth;
}

}  // namespace

Consensus consensusOverTeeth(const std::vector<ContactReading>& readings, const std::vector<int>& tooth) {
    check(!readings.empty(), "consensusOverTeeth: no reading");
    check(tooth.empty() || tooth.size() == readings.size(), "consensusOverTeeth: a tooth for each reading");
    const std::size_t n = readings.size();
    Consensus out;
    out.used.assign(n, true);
    out.whyNot.assign(n, {});

    // Step 1: leave out teeth that saw something else. Two teeth alone cannot say which one is wrong.
    if (n >= 3) {
        std::vector<double> us, vs, areas;
        for (const auto& r : readings) {
            us.push_back(r.pattern.toeHeel);
            vs.push_back(r.pattern.rootTip);
            areas.push_back(r.pattern.area);
        }
        const double u = median(us), v = median(vs), area = median(areas);
        for (std::size_t k = 0; k < n; ++k) {
            const Pattern& p = readings[k].pattern;
            const bool farU = std::abs(p.toeHeel - u) > std::max(kOutlierLeastU, kOutlierSigmas * p.sigmaToeHeel);
            const bool farV = std::abs(p.rootTip - v) > std::max(kOutlierLeastV, kOutlierSigmas * p.sigmaRootTip);
            const bool odd = p.area > kAreaFactor * area || p.area * kAreaFactor < area;
            if (!farU && !farV && !odd) continue;
            out.used[k] = false;
            out.whyNot[k] = message(farU || farV ? "contact.other-place" : "contact.other-size");
        }
        // Never throw the majority away: if so, nothing is certain and all stay.
        if (std::count(out.used.begin(), out.used.end(), true) * 2 < static_cast<std::ptrdiff_t>(n)) {
            out.used.assign(n, true);
            out.whyNot.assign(n, {});
        }
    }

    // Step 2: mean map, weighted by how well each tooth is known.
    std::vector<double> weight;
    const std::vector<Tooth> seen = teethOf(readings, tooth, out.used, weight);
    const std::size_t teeth = seen.size();
    std::vector<double> sum(out.map.contact.size(), 0);
    for (std::size_t k = 0; k < n; ++k)
        if (out.used[k])
            for (std::size_t i = 0; i < sum.size(); ++i) sum[i] += weight[k] * readings[k].map.contact[i];
    for (std::size_t i = 0; i < sum.size(); ++i)
        out.map.contact[i] = static_cast<std::uint8_t>(std::lround(std::clamp(sum[i], 0.0, 255.0)));
    out.pattern = measurePattern(out.map).value_or(readings[0].pattern);

    // Step 3: numbers are means over the teeth (the blurred mean map would make the pattern look larger).
    double u = 0, v = 0, length = 0, height = 0, tilt = 0, ownU = 0, ownV = 0, weightSquares = 0;
    for (std::size_t k = 0; k < n; ++k) {
        if (!out.used[k]) continue;
        const Pattern& p = readings[k].pattern;
        const double w = weight[k];
        u += w * p.toeHeel;
        v += w * p.rootTip;
        length += w * p.length;
        height += w * p.height;
        tilt += w * p.tiltDeg;
        ownU += w * p.sigmaToeHeel * p.sigmaToeHeel;
        ownV += w * p.sigmaRootTip * p.sigmaRootTip;
    }
    double spreadU = 0, spreadV = 0;
    for (const Tooth& one : seen) {
        spreadU += (one.u - u) * (one.u - u);
        spreadV += (one.v - v) * (one.v - v);
        weightSquares += one.weight * one.weight;
    }
    const double freedom = std::max<double>(1, static_cast<double>(teeth) - 1);
    spreadU /= freedom;
    spreadV /= freedom;
    // Variance between teeth, leaning on the readings' own errors while there are few teeth.
    const double between = static_cast<double>(teeth) - 1;
    const auto error = [&](double own, double spread) {
        const double single = kCommonShare * own + (2 * (1 - kCommonShare) * own + between * spread) / (2 + between);
        return std::sqrt(kCommonShare * own + (single - kCommonShare * own) * weightSquares);
    };
    out.pattern.toeHeel = u;
    out.pattern.rootTip = v;
    out.pattern.length = length;
    out.pattern.height = height;
    out.pattern.tiltDeg = tilt;
    out.pattern.sigmaToeHeel = error(ownU, spreadU);
    out.pattern.sigmaRootTip = error(ownV, spreadV);
    out.pattern.toothSpread = teeth > 1 ? std::sqrt(spreadU + spreadV) : 0;
    out.pattern.teeth = static_cast<int>(teeth);
    return out;
}

}  // namespace shimsight
