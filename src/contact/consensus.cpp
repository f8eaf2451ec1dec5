// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>
#include <map>

#include "shimsight/contact.h"
#include "shimsight/statistics.h"

namespace shimsight {
namespace {

/// A tooth is left out when its centre lies farther from the median of all than this many of its own standard errors
/// and the least distance (share of length or height): a healthy set's runout moves the pattern less.
constexpr double kOutlierSigmas = 3.5;
constexpr double kMinOutlierU = 0.06, kMinOutlierV = 0.12;
/// Teeth whose area differs from the median's by more than this factor saw another thing.
constexpr double kAreaFactor = 2.5;
/// Error common to all teeth of a photo (corners set by one hand, one light, one way of wiping): it does not average
/// out.
constexpr double kCommonShare = 0.8;

/// The contacts of one tooth that count: together they weigh as much as the surest of them.
struct Tooth {
    std::vector<std::size_t> contacts;
    double weight = 0, u = 0, v = 0;  ///< share of the whole; mean centre
};

double weightOf(const FlankContact& contact) {
    const Pattern& p = contact.pattern;
    return std::max(0.05, contact.flankConfidence) /
           (p.sigmaToeHeel * p.sigmaToeHeel + 0.25 * p.sigmaRootTip * p.sigmaRootTip + 1e-5);
}

/// The teeth among the contacts that are used; each one's share of the whole goes to `weight`.
std::vector<Tooth> teethOf(const std::vector<FlankContact>& contacts, const std::vector<int>& tooth,
                           const std::vector<bool>& used, std::vector<double>& weight) {
    std::map<int, Tooth> byNumber;
    for (std::size_t k = 0; k < contacts.size(); ++k)
        if (used[k]) byNumber[tooth.empty() ? static_cast<int>(k) : tooth[k]].contacts.push_back(k);
    weight.assign(contacts.size(), 0);
    double total = 0;
    std::vector<Tooth> teeth;
    for (auto& [number, one] : byNumber) {
        double sum = 0;
        for (const std::size_t k : one.contacts) {
            weight[k] = weightOf(contacts[k]);
            sum += weight[k];
            one.weight = std::max(one.weight, weight[k]);
        }
        for (const std::size_t k : one.contacts) {
            one.u += weight[k] / sum * contacts[k].pattern.toeHeel;
            one.v += weight[k] / sum * contacts[k].pattern.rootTip;
            weight[k] *= one.weight / sum;
        }
        total += one.weight;
        teeth.push_back(std::move(one));
    }
    for (Tooth& one : teeth) one.weight /= total;
    for (double& one : weight) one /= total;
    return teeth;
}

/// Leaves out teeth that saw something else. Two teeth alone cannot say which one is wrong.
void leaveOutliersOut(const std::vector<FlankContact>& contacts, Consensus& out) {
    const std::size_t n = contacts.size();
    if (n < 3) return;
    std::vector<double> us, vs, areas;
    for (const auto& r : contacts) {
        us.push_back(r.pattern.toeHeel);
        vs.push_back(r.pattern.rootTip);
        areas.push_back(r.pattern.area);
    }
    const double u = median(us), v = median(vs), area = median(areas);
    for (std::size_t k = 0; k < n; ++k) {
        const Pattern& p = contacts[k].pattern;
        const bool farU = std::abs(p.toeHeel - u) > std::max(kMinOutlierU, kOutlierSigmas * p.sigmaToeHeel);
        const bool farV = std::abs(p.rootTip - v) > std::max(kMinOutlierV, kOutlierSigmas * p.sigmaRootTip);
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

/// The mean map, weighted by how well each tooth is known.
FlankMap meanMap(const std::vector<FlankContact>& contacts, const std::vector<bool>& used,
                 const std::vector<double>& weight) {
    FlankMap mean;
    std::vector<double> sum(mean.contact.size(), 0);
    for (std::size_t k = 0; k < contacts.size(); ++k)
        if (used[k])
            for (std::size_t i = 0; i < sum.size(); ++i) sum[i] += weight[k] * contacts[k].map.contact[i];
    for (std::size_t i = 0; i < sum.size(); ++i)
        mean.contact[i] = static_cast<std::uint8_t>(std::lround(std::clamp(sum[i], 0.0, 255.0)));
    return mean;
}

/// Means over the teeth for the pattern's numbers (the blurred mean map would make the pattern look larger).
struct Means {
    double u = 0, v = 0, length = 0, height = 0, tilt = 0;
    double ownVarianceU = 0, ownVarianceV = 0;
};
Means meansOf(const std::vector<FlankContact>& contacts, const std::vector<bool>& used,
              const std::vector<double>& weight) {
    Means means;
    for (std::size_t k = 0; k < contacts.size(); ++k) {
        if (!used[k]) continue;
        const Pattern& p = contacts[k].pattern;
        const double w = weight[k];
        means.u += w * p.toeHeel;
        means.v += w * p.rootTip;
        means.length += w * p.length;
        means.height += w * p.height;
        means.tilt += w * p.tiltDeg;
        means.ownVarianceU += w * p.sigmaToeHeel * p.sigmaToeHeel;
        means.ownVarianceV += w * p.sigmaRootTip * p.sigmaRootTip;
    }
    return means;
}

/// Writes the numbers and their standard errors: the variance between teeth, leaning on the contacts' own errors while
/// there are few teeth.
void takeNumbers(Pattern& pattern, const Means& means, const std::vector<Tooth>& teeth) {
    double varianceU = 0, varianceV = 0, weightSquares = 0;
    for (const Tooth& one : teeth) {
        varianceU += (one.u - means.u) * (one.u - means.u);
        varianceV += (one.v - means.v) * (one.v - means.v);
        weightSquares += one.weight * one.weight;
    }
    const double between = static_cast<double>(teeth.size()) - 1, degreesOfFreedom = std::max(1.0, between);
    varianceU /= degreesOfFreedom;
    varianceV /= degreesOfFreedom;
    const auto error = [&](double own, double spread) {
        const double single = kCommonShare * own + (2 * (1 - kCommonShare) * own + between * spread) / (2 + between);
        return std::sqrt(kCommonShare * own + (single - kCommonShare * own) * weightSquares);
    };
    pattern.toeHeel = means.u;
    pattern.rootTip = means.v;
    pattern.length = means.length;
    pattern.height = means.height;
    pattern.tiltDeg = means.tilt;
    pattern.sigmaToeHeel = error(means.ownVarianceU, varianceU);
    pattern.sigmaRootTip = error(means.ownVarianceV, varianceV);
    pattern.toothSpread = teeth.size() > 1 ? std::sqrt(varianceU + varianceV) : 0;
    pattern.teeth = static_cast<int>(teeth.size());
}

}  // namespace

Consensus consensusOverTeeth(const std::vector<FlankContact>& contacts, const std::vector<int>& tooth) {
    check(!contacts.empty(), "consensusOverTeeth: no contact");
    check(tooth.empty() || tooth.size() == contacts.size(), "consensusOverTeeth: a tooth for each contact");
    Consensus out;
    out.used.assign(contacts.size(), true);
    out.whyNot.assign(contacts.size(), {});
    leaveOutliersOut(contacts, out);
    std::vector<double> weight;
    const std::vector<Tooth> teeth = teethOf(contacts, tooth, out.used, weight);
    out.map = meanMap(contacts, out.used, weight);
    out.pattern = measurePattern(out.map).value_or(contacts[0].pattern);
    takeNumbers(out.pattern, meansOf(contacts, out.used, weight), teeth);
    return out;
}

}  // namespace shimsight
