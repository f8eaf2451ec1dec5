// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include <stdexcept>

#include "shimsight/gear_set.h"

namespace shimsight {

std::string_view name(Side side) { return side == Side::Drive ? "drive" : "coast"; }

std::string_view name(Cut cut) { return cut == Cut::FaceMilled ? "face-milled" : "face-hobbed"; }

std::string_view name(PinionShim place) {
    switch (place) {
        case PinionShim::BehindPinionHead:
            return "behind-pinion-head";
        case PinionShim::UnderBearingCup:
            return "under-bearing-cup";
        case PinionShim::UnderPinionSupport:
            return "under-pinion-support";
    }
    throw std::logic_error("a place of the pinion shims without a name");
}

std::string_view name(DialReading dial) {
    switch (dial) {
        case DialReading::SquareToTooth:
            return "square-to-tooth";
        case DialReading::SquareAtHeel:
            return "square-at-heel";
        case DialReading::OuterCircumference:
            return "outer-circumference";
    }
    throw std::logic_error("a place of the dial without a name");
}

std::string_view name(Joint joint) {
    switch (joint) {
        case Joint::RingGearBolts:
            return "ring-gear-bolts";
        case Joint::PinionSupportBolts:
            return "pinion-support-bolts";
        case Joint::PinionNut:
            return "pinion-nut";
        case Joint::BearingCaps:
            return "bearing-caps";
        case Joint::AdjusterLocks:
            return "adjuster-locks";
        case Joint::Cover:
            return "cover";
        case Joint::ShaftBolts:
            return "shaft-bolts";
    }
    throw std::logic_error("a joint without a name");
}

Message wordFor(Side side) { return message(side == Side::Drive ? "common.drive" : "common.coast"); }

Message sideWords(Side side) { return message(side == Side::Drive ? "common.drive-side" : "common.coast-side"); }

Message titleOf(Side side) {
    return message(side == Side::Drive ? "common.drive-side-title" : "common.coast-side-title");
}

Message wordFor(PinionShim place) {
    switch (place) {
        case PinionShim::BehindPinionHead:
            return message("common.behind-pinion-head");
        case PinionShim::UnderBearingCup:
            return message("common.under-bearing-cup");
        case PinionShim::UnderPinionSupport:
            return message("common.under-pinion-support");
    }
    throw std::logic_error("a place of the pinion shims without words");
}

Message wordFor(Cut cut) { return message(cut == Cut::FaceMilled ? "common.face-milled" : "common.face-hobbed"); }

}  // namespace shimsight
