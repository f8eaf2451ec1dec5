/// From the split to a decision: which way the flanks were marked, whether there is a pattern, how sure it is.
#pragma once

#include <vector>

#include "compound/two_class.h"
#include "shimsight/compound.h"

namespace shimsight::compound {

/// Colour and texture of the region and of the rest, light gradients left in, means over trusted cells away from the
/// border.
struct RegionLook {
    double saturationInside = 0, saturationOutside = 0;           ///< distance of the mean colour ratios from neutral
    double lightInside = 0, lightOutside = 0;                     ///< mean log brightness
    double textureInside = 0, textureOutside = 0;                 ///< mean log texture
    double variationInside = 0, variationOutside = 0;             ///< spread of the log brightness about a plane
    double colourSpread = 0, textureSpread = 0, lightSpread = 0;  ///< within either band
    double colourStep = 0;                                        ///< distance of the two mean colour ratios
    double area = 0;                                              ///< share of the flank inside
    double borderShare = 0;                                       ///< share of the flank's outline that lies inside
    double sureness = 0;                                          ///< mean |2 q - 1|, trusted cells
    double fill = 0;                                              ///< share of the region's convex hull that it fills
    double mainPart = 0;  ///< share of all likely cells that the largest piece holds
};

/// The largest piece of q > 1/2 with its holes filled (kCells), and the share of all such cells that it holds.
struct MainRegion {
    std::vector<std::uint8_t> cells;
    double share = 0;
    double fill = 0;
};
MainRegion mainRegion(const std::vector<float>& inside);

RegionLook lookAt(const FlankFeatures& features, const std::vector<float>& inside, const MainRegion& main);

/// Log odds that the compound was wiped from the contact (against printed on it).
double wipedLogOdds(const RegionLook& look);

}  // namespace shimsight::compound
