// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>
#include <map>
#include <optional>
#include <span>
#include <utility>

#include "shimsight/contact.h"

namespace shimsight {
namespace {

/// A tooth is left out when its centre lies farther from that of the contact common to all than this many of its own
/// standard errors and the least distance (share of length or height): a healthy set's runout moves the pattern less.
constexpr double kOutlierSigmas = 3.5;
constexpr double kMinOutlierU = 0.06, kMinOutlierV = 0.12;
/// Teeth whose area differs from that of the common contact by more than this factor saw another thing.
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

/// What one tooth says of a cell, 0..255, and what that counts for.
struct Voice {
    double contact = 0, weight = 0;
};

/// Weighted median, linear between the middles of the weights: of two voices it is the mean. Sorts them.
double medianOf(std::span<Voice> voices) {
    std::sort(voices.begin(), voices.end(), [](const Voice& a, const Voice& b) { return a.contact < b.contact; });
    double total = 0;
    for (const Voice& voice : voices) total += voice.weight;
    double middle = 0.5 * voices[0].weight;
    if (middle >= 0.5 * total) return voices[0].contact;
    for (std::size_t k = 1; k < voices.size(); ++k) {
        const double step = 0.5 * (voices[k - 1].weight + voices[k].weight);
        if (middle + step >= 0.5 * total)
            return std::lerp(voices[k - 1].contact, voices[k].contact, (0.5 * total - middle) / step);
        middle += step;
    }
    return voices.back().contact;
}

double cellOf(const Tooth& tooth, std::size_t cell, const std::vector<FlankContact>& contacts,
              const std::vector<double>& weight) {
    double sum = 0;
    for (const std::size_t k : tooth.contacts) sum += weight[k] * contacts[k].map.contact[cell];
    return sum / tooth.weight;
}

/// The map that the teeth agree on: in each cell the median of what they say, weighed by how well each tooth is known
/// and how sure it is of the cell. What one tooth alone has, a smear or a strip lost in the dark, moves a mean, and
/// this hardly.
FlankMap agreedMap(const std::vector<FlankContact>& contacts, const std::vector<Tooth>& teeth,
                   const std::vector<double>& weight) {
    constexpr double kInDoubt = 1e-6;  // where all are in doubt the median of the doubts counts
    FlankMap agreed;
    std::vector<Voice> voices(teeth.size());
    for (std::size_t cell = 0; cell < agreed.contact.size(); ++cell) {
        for (std::size_t k = 0; k < teeth.size(); ++k) {
            const double contact = cellOf(teeth[k], cell, contacts, weight);
            voices[k] = {contact, teeth[k].weight * (std::abs(2 * contact / 255 - 1) + kInDoubt)};
        }
        agreed.contact[cell] = static_cast<std::uint8_t>(std::lround(std::clamp(medianOf(voices), 0.0, 255.0)));
    }
    return agreed;
}

/// The mean map, weighted by how well each tooth is known.
FlankMap meanMap(const std::vector<FlankContact>& contacts, const std::vector<Tooth>& teeth,
                 const std::vector<double>& weight) {
    FlankMap mean;
    for (std::size_t cell = 0; cell < mean.contact.size(); ++cell) {
        double sum = 0;
        for (const Tooth& tooth : teeth) sum += tooth.weight * cellOf(tooth, cell, contacts, weight);
        mean.contact[cell] = static_cast<std::uint8_t>(std::lround(std::clamp(sum, 0.0, 255.0)));
    }
    return mean;
}

/// What the teeth have in common.
struct Common {
    FlankMap map;
    Pattern pattern;
};

/// Where the teeth agree on no contact at all, the mean of their maps and of their centres.
Common commonOf(const std::vector<FlankContact>& contacts, const std::vector<Tooth>& teeth,
                const std::vector<double>& weight) {
    FlankMap agreed = agreedMap(contacts, teeth, weight);
    if (const std::optional<Pattern> pattern = measurePattern(agreed)) return {std::move(agreed), *pattern};
    Common mean{meanMap(contacts, teeth, weight), {}};
    mean.pattern = measurePattern(mean.map).value_or(contacts[0].pattern);
    mean.pattern.toeHeel = mean.pattern.rootTip = 0;
    for (const Tooth& tooth : teeth) {
        mean.pattern.toeHeel += tooth.weight * tooth.u;
        mean.pattern.rootTip += tooth.weight * tooth.v;
    }
    return mean;
}

/// Leaves out teeth that saw something else than what all have in common; whether there are any. Two teeth alone
/// cannot say which one is wrong.
bool leaveOutliersOut(const std::vector<FlankContact>& contacts, const Pattern& common, Consensus& out) {
    const std::size_t n = contacts.size();
    if (n < 3) return false;
    for (std::size_t k = 0; k < n; ++k) {
        const Pattern& p = contacts[k].pattern;
        const bool farU =
            std::abs(p.toeHeel - common.toeHeel) > std::max(kMinOutlierU, kOutlierSigmas * p.sigmaToeHeel);
        const bool farV =
            std::abs(p.rootTip - common.rootTip) > std::max(kMinOutlierV, kOutlierSigmas * p.sigmaRootTip);
        const bool odd = p.area > kAreaFactor * common.area || p.area * kAreaFactor < common.area;
        if (!farU && !farV && !odd) continue;
        out.used[k] = false;
        out.whyNot[k] = message(farU || farV ? "contact.other-place" : "contact.other-size");
    }
    const auto left = std::count(out.used.begin(), out.used.end(), true);
    // Never throw the majority away: if so, nothing is certain and all stay.
    if (left * 2 < static_cast<std::ptrdiff_t>(n)) {
        out.used.assign(n, true);
        out.whyNot.assign(n, {});
        return false;
    }
    return left < static_cast<std::ptrdiff_t>(n);
}

/// Means over the teeth: of the extents, since a common map has not those of a tooth, and of each one's own variances.
struct Means {
    double length = 0, height = 0, tilt = 0;
    double ownVarianceU = 0, ownVarianceV = 0;
};
Means meansOf(const std::vector<FlankContact>& contacts, const std::vector<bool>& used,
              const std::vector<double>& weight) {
    Means means;
    for (std::size_t k = 0; k < contacts.size(); ++k) {
        if (!used[k]) continue;
        const Pattern& p = contacts[k].pattern;
        const double w = weight[k];
        means.length += w * p.length;
        means.height += w * p.height;
        means.tilt += w * p.tiltDeg;
        means.ownVarianceU += w * p.sigmaToeHeel * p.sigmaToeHeel;
        means.ownVarianceV += w * p.sigmaRootTip * p.sigmaRootTip;
    }
    return means;
}

/// Writes the extents and the standard errors: the variance of the teeth around the centre, leaning on the contacts'
/// own errors while there are few teeth.
void takeNumbers(Pattern& pattern, const Means& means, const std::vector<Tooth>& teeth) {
    double varianceU = 0, varianceV = 0, weightSquares = 0;
    for (const Tooth& one : teeth) {
        varianceU += (one.u - pattern.toeHeel) * (one.u - pattern.toeHeel);
        varianceV += (one.v - pattern.rootTip) * (one.v - pattern.rootTip);
        weightSquares += one.weight * one.weight;
    }
    const double between = static_cast<double>(teeth.size()) - 1, degreesOfFreedom = std::max(1.0, between);
    varianceU /= degreesOfFreedom;
    varianceV /= degreesOfFreedom;
    const auto error = [&](double own, double spread) {
        const double single = kCommonShare * own + (2 * (1 - kCommonShare) * own + between * spread) / (2 + between);
        return std::sqrt(kCommonShare * own + (single - kCommonShare * own) * weightSquares);
    };
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
    std::vector<double> weight;
    std::vector<Tooth> teeth = teethOf(contacts, tooth, out.used, weight);
    Common common = commonOf(contacts, teeth, weight);
    if (leaveOutliersOut(contacts, common.pattern, out)) {
        teeth = teethOf(contacts, tooth, out.used, weight);
        common = commonOf(contacts, teeth, weight);
    }
    out.map = std::move(common.map);
    out.pattern = common.pattern;
    takeNumbers(out.pattern, meansOf(contacts, out.used, weight), teeth);
    return out;
}

}  // namespace shimsight
