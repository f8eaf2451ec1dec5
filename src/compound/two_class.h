/// Splits flanks into one compact region and the rest by colour, brightness and texture.
#pragma once

#include <Eigen/Dense>
#include <array>
#include <optional>
#include <span>
#include <vector>

#include "compound/features.h"
#include "shimsight/compound.h"

namespace shimsight::compound {

using Mean = Eigen::Matrix<double, kFeatures, 1>;
using Spread = Eigen::Matrix<double, kFeatures, kFeatures>;

/// A region on the mean of a side's flanks, and what speaks for its being a contact.
struct Candidate {
    std::vector<float> inside;  ///< on a grid of kCandidateColumns x kCandidateRows: chance of lying in the region
    std::array<float, 5> ellipseAt{};  ///< its ellipse: middle, half widths, tilt
    int cue = 0;                       ///< found by colour, brightness or all features together
    double startGain = 0, gainColour = 0, gainLight = 0,
           gainAll = 0;  ///< how much better two classes explain the mean flank than one (log likelihood per cell)
    double shareColour = 0, shareAll = 0;  ///< the same over the most that any candidate of the side gains
    Mean contrast = Mean::Zero();          ///< inside less outside, the light's course taken out
    double step = 0;                       ///< step across the border, standard deviations within the bands along it
    double weakest = 0;                    ///< the same over the weakest part of the border
    double ellipse = 0;  ///< likeness (overlap) to the best ellipse that the flank's edges may cut off
    double stepColour = 0, stepLight = 0;  ///< the step in colour alone and in brightness alone
    double longEdge = 0;                   ///< share of the tip's or the root's edge that lies inside, the larger
    double rim = 0;                        ///< share of the region that lies along the flank's border
    double border = 0;                     ///< share of the flank's outline that lies inside
    double area = 0;                       ///< share of the flank
    double toeHeel = 0, rootTip = 0;       ///< its middle
    double saturation = 0;                 ///< saturation inside less outside, bands along the border
    double outsideSaturation = 0;
    double light = 0;      ///< log brightness inside less outside
    double texture = 0;    ///< log texture inside less outside
    double agreement = 0;  ///< how alike the flanks are in that step: 1 all the same, 0 none
    double logOdds = 0;    ///< that it is the contact
};
inline constexpr int kCandidateColumns = 32, kCandidateRows = 16;

struct SplitResult {
    std::vector<std::vector<float>> inside;  ///< per flank, kCells: chance of lying in the region
    std::vector<double> separation;          ///< per flank: distance of its own two means in the pooled spread
    std::vector<double> logOdds;    ///< per flank: that the region of its group is a contact and no play of light
    std::vector<double> agreement;  ///< per flank: its own step at the group's border over the group's mean step
};

/// `group[k]`: flanks of one group (one side) share nearly one pattern. `marking`, where known, says which of the two
/// parts is the contact: the less colourful one (wiped) or the more colourful one.
SplitResult splitFlanks(std::span<const FlankFeatures> flanks, std::span<const int> group,
                        std::optional<Marking> marking = std::nullopt);

/// The regions that one side's flanks allow, the likeliest first.
std::vector<Candidate> candidateRegions(std::span<const FlankFeatures> flanks,
                                        std::optional<Marking> marking = std::nullopt);

}  // namespace shimsight::compound
