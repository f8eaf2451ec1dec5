/// What one trial teaches for the next: the ensemble moved by the change that was made, and entries that do not fit.
#pragma once

#include <optional>
#include <span>
#include <string>
#include <vector>

#include "advice/decision.h"

namespace shimsight::advice {

/// What may be wrong with the entries of a trial.
enum class EntryFault {
    None,
    ChangeReversed,   ///< the shim change was made the other way round
    ChangeNotMade,    ///< the marks show no change of depth
    ChangeOther,      ///< another change than the one logged
    BacklashMisread,  ///< the backlash does not belong to these marks
    SidesSwapped      ///< drive and coast exchanged
};

struct EntryDoubt {
    std::size_t trial = 0;  ///< place in the history
    EntryFault fault = EntryFault::None;
    double odds = 1;           ///< of the fault against the entry as logged
    double loggedDepthMm = 0;  ///< the depth change by the log
    double foundDepthMm = 0;   ///< the depth change that the marks show
};

/// The state of knowledge after the last trial.
struct Learned {
    std::vector<Known> known;           ///< before the last trial, one for each model
    std::vector<Evidence> evidence;     ///< of the last trial
    std::vector<Posterior> posteriors;  ///< after it
    std::vector<double> logEvidence;    ///< of each model, all trials together
    std::vector<double> weights;        ///< of the models, all trials together; sum 1
    std::size_t likeliest = 0;
    std::vector<EntryDoubt> doubts;  ///< in the order of the trials
    double firstSwappedGain = 0;     ///< log odds that the first trial's sides are exchanged
};

/// The depth change between two trials; nullopt: not logged.
std::optional<double> loggedDepthChangeMm(const JobTrial& before, const JobTrial& now, PinionShim shim);

/// What is known before the next trial, when the depth was changed by `depthChangeMm` +- `sigmaMm`.
Known knownNext(const Posterior& posterior, double depthChangeMm, double sigmaMm);

/// Works through the trials from the first to the last. The last must show a pattern; earlier ones without are passed
/// over, their changes counted.
Learned learn(const std::vector<Model>& models, std::span<const JobTrial> history, int samples, Random& random);

}  // namespace shimsight::advice
