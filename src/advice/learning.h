// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
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
    double factor = 0;         ///< of a misread backlash: typed so many times too large; 0: not of a kind
    bool taken = false;        ///< for the truth, in what was learned
    bool refuted = false;      ///< the next trial read the same backlash again
};

/// The state of knowledge after the last trial.
struct JobPosterior {
    std::vector<PriorState> known;      ///< before the last trial, one for each model
    std::vector<Evidence> evidence;     ///< of the last trial
    std::vector<Posterior> posteriors;  ///< after it
    std::vector<double> logEvidence;    ///< of each model, all trials together, doubted entries counted against it
    std::vector<double> weights;        ///< of the models, all trials together; sum 1
    std::size_t likeliest = 0;
    std::vector<EntryDoubt> doubts;  ///< in the order of the trials
    /// Log odds that the first trial's sides are exchanged, before any prior on that; not weighed: far below.
    double exchangedGain = -30;

    // Other explanations of all trials together, against these entries, this cut and new teeth.
    double chanceOtherCut = 0, chanceWorn = 0, chanceBent = 0, chanceNone = 1;
    const ToothContact* otherCut = nullptr;  ///< where it has a chance
    bool asksCut = false;                    ///< it is worth a question
    /// With worn teeth on the loaded side and with a bent housing, where that has a chance.
    std::optional<Posterior> worn, bent;
    std::optional<Posterior> asNamed;  ///< with the sides as they are named, where they are taken to be exchanged
};

/// How far a history was worked through, to go on from when it has grown.
struct FilterState {
    JobPosterior learned;
    std::size_t trials = 0;
    bool first = true;                         ///< no trial with a pattern yet
    std::optional<double> lastBacklashMm;      ///< as read, square to the tooth
    std::optional<double> depthChangeMm{0.0};  ///< since the last trial with a pattern; nullopt: not logged
    Random random{0};
};

/// The filter states of one job between calls with longer and longer histories of it, for whoever asks after each
/// trial.
struct FilterMemo {
    std::optional<FilterState> named, trusting, exchanged, otherCut, worn, bent;
};

/// Whether somebody looked into this cause and found it right.
bool isChecked(const AdviceOptions& options, DiagnosisKind kind);

/// The depth change between two trials; nullopt: not logged.
std::optional<double> loggedDepthChangeMm(const JobTrial& before, const JobTrial& now, PinionShim shim);

/// What is known before the next trial, when the depth was changed by `depthChangeMm` +- `sigmaMm`.
PriorState knownNext(const Posterior& posterior, double depthChangeMm, double sigmaMm);

/// Works through the trials from the first to the last. The last must show a pattern; earlier ones without are passed
/// over, their changes counted. `memo`: of calls with the first trials of the same history, or null; it changes
/// nothing but the time.
JobPosterior learn(const std::vector<Model>& models, std::span<const JobTrial> history, int samples,
                   const AdviceOptions& options, FilterMemo* memo = nullptr);

/// advise() with a memo.
Advice adviseWith(const std::vector<const ToothContact*>& contacts, std::span<const JobTrial> history,
                  const AdviceOptions& options, FilterMemo* memo);

}  // namespace shimsight::advice
