// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// Several photos of one trial: the same tooth seen twice counts once.
#include "measure/same_teeth.h"

#include <catch2/catch.hpp>
#include <cmath>

#include "shimsight/measure.h"

using namespace shimsight;
using measure::toothOfEach;

namespace {

MeasuredFlank flankAt(double u, std::optional<int> tooth) {
    MeasuredFlank flank;
    for (int y = 0; y < kMapHeight; ++y)
        for (int x = 0; x < kMapWidth; ++x)
            if (std::abs((x + 0.5) / kMapWidth - u) < 0.2 && std::abs((y + 0.5) / kMapHeight - 0.5) < 0.25)
                flank.contact.map.at(x, y) = 255;
    flank.contact.pattern = measurePattern(flank.contact.map).value();
    flank.contact.pattern.sigmaToeHeel = 0.012;
    flank.contact.pattern.sigmaRootTip = 0.016;
    flank.contact.flankConfidence = 0.8;
    flank.rectified.found = tooth.has_value();
    flank.tooth = tooth;
    return flank;
}

RefusedFlank bareAt(int tooth) {
    RefusedFlank flank;
    flank.side = Side::Drive;
    flank.refused = bareFlank();
    flank.tooth = tooth;
    flank.paintedLogOdds = -4;
    return flank;
}

/// Painted teeth at the places from `first` on with bare ones on either side.
MeasuredPhoto rowFrom(int first, const std::vector<double>& centres) {
    MeasuredPhoto photo;
    photo.found = true;
    photo.refusedFlanks = {bareAt(first - 1), bareAt(first + static_cast<int>(centres.size()))};
    for (std::size_t k = 0; k < centres.size(); ++k)
        photo.flanks.push_back(flankAt(centres[k], first + static_cast<int>(k)));
    return photo;
}

MeasuredPhoto marked(const std::vector<double>& centres) {
    MeasuredPhoto photo;
    for (const double u : centres) photo.flanks.push_back(flankAt(u, std::nullopt));
    return photo;
}

Pattern driveOf(std::vector<MeasuredPhoto> photos) {
    return weighPhotos(std::move(photos), nullptr).drive.value().pattern;
}

}  // namespace

TEST_CASE("one row of teeth in two photos, counted from different teeth", "[measure]") {
    // The second photo begins one tooth later on the gear and counts from another one.
    MeasuredPhoto second = rowFrom(-3, {0.43, 0.46});
    second.refusedFlanks.erase(second.refusedFlanks.begin());
    CHECK(toothOfEach({rowFrom(4, {0.40, 0.43, 0.46}), second}, Side::Drive) == std::vector{0, 1, 2, 1, 2});
    // More painted teeth come into view at the row's open end.
    MeasuredPhoto open = rowFrom(0, {0.46, 0.52, 0.58});
    open.refusedFlanks.clear();
    MeasuredPhoto begun = rowFrom(7, {0.40, 0.46});
    begun.refusedFlanks.pop_back();
    CHECK(toothOfEach({begun, open}, Side::Drive) == std::vector{0, 1, 1, 2, 3});
}

TEST_CASE("teeth that cannot be the same are different ones", "[measure]") {
    CHECK(toothOfEach({rowFrom(0, {0.30, 0.31}), rowFrom(0, {0.60, 0.61})}, Side::Drive) == std::vector{0, 1, 2, 3});
    CHECK(toothOfEach({marked({0.30, 0.31}), marked({0.60, 0.61})}, Side::Drive) == std::vector{0, 1, 2, 3});
}

TEST_CASE("outlined flanks are paired by their marks, within a photo never", "[measure]") {
    CHECK(toothOfEach({marked({0.40, 0.45}), marked({0.45, 0.40, 0.70})}, Side::Drive) == std::vector{0, 1, 1, 0, 2});
    CHECK(toothOfEach({marked({0.40, 0.40, 0.40})}, Side::Drive) == std::vector{0, 1, 2});
    CHECK(toothOfEach({marked({0.40}), rowFrom(2, {0.40})}, Side::Drive) == std::vector{0, 0});
    CHECK(toothOfEach({marked({0.40})}, Side::Coast).empty());
}

TEST_CASE("a photo given twice, or ten times, tells no more than once", "[measure]") {
    for (const MeasuredPhoto& photo : {rowFrom(0, {0.40, 0.42, 0.44}), marked({0.40, 0.42, 0.44})}) {
        const Pattern once = driveOf({photo});
        for (const std::size_t times : {std::size_t{2}, std::size_t{10}}) {
            const Pattern many = driveOf(std::vector(times, photo));
            CHECK(many.teeth == once.teeth);
            CHECK(many.toeHeel == Approx(once.toeHeel));
            CHECK(many.sigmaToeHeel == Approx(once.sigmaToeHeel));
            CHECK(many.sigmaRootTip == Approx(once.sigmaRootTip));
        }
    }
    // A row of other teeth does tell more.
    const Pattern two = driveOf({rowFrom(0, {0.40, 0.42}), rowFrom(0, {0.40, 0.42, 0.44, 0.41})});
    CHECK(two.teeth >= 4);
}

TEST_CASE("one tooth in two photos is still one tooth alone", "[measure]") {
    const Pattern once = driveOf({rowFrom(0, {0.40})});
    const Pattern twice = driveOf({rowFrom(0, {0.40}), rowFrom(5, {0.40})});
    CHECK(twice.teeth == 1);
    CHECK(twice.sigmaToeHeel == Approx(once.sigmaToeHeel));
}
