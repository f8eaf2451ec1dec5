/// Splits flanks into one compact region and the rest by colour, brightness and texture.
#pragma once

#include <Eigen/Dense>
#include <optional>
#include <span>
#include <vector>

#include "compound/features.h"
#include "shimsight/compound.h"

namespace shimsight::compound {

using Mean = Eigen::Matrix<double, kFeatures, 1>;
using Spread = Eigen::Matrix<double, kFeatures, kFeatures>;

struct SplitResult {
    std::vector<std::vector<float>> inside;  ///< per flank, kCells: chance of lying in the region
    Mean contrast = Mean::Zero();            ///< inside minus outside, light gradients taken out
    Spread insideSpread = Spread::Identity(), outsideSpread = Spread::Identity();
    std::vector<double> separation;  ///< per flank: distance of its own two means in the pooled spread
    double gain = 0;  ///< per cell: log likelihood of two classes over that of one, less the border's cost
};

/// `group[k]`: flanks of one group (one side) share nearly one pattern. `marking`, where known, says which of the two
/// parts is the contact: the less colourful one (wiped) or the more colourful one.
SplitResult splitFlanks(std::span<const FlankFeatures> flanks, std::span<const int> group,
                        std::optional<Marking> marking = std::nullopt);

}  // namespace shimsight::compound
