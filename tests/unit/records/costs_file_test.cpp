// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include <catch2/catch.hpp>

#include "shimsight/core.h"
#include "shimsight/records.h"

using namespace shimsight;

namespace {

Costs parsed(const std::string& fields) {
    return parseCostsFile("{\"schema\": \"shimsight/costs/1\"" + fields + "}", "shop.json");
}

std::string refusal(const std::string& text) {
    try {
        parseCostsFile(text, "shop.json");
    } catch (const InputError& error) {
        return error.what();
    }
    return "";
}

}  // namespace

TEST_CASE("what a shop's costs leave out keeps its usual value") {
    const Costs usual = parsed("");
    CHECK(usual.trialHours == Costs{}.trialHours);
    CHECK(usual.confirmHours == Costs{}.confirmHours);
    // As a bench has it: the pinion is the hours, wiping and rolling once more is minutes.
    CHECK(usual.pinionShimHours >= 4 * (usual.trialHours + usual.ringGearHours));
    CHECK(usual.readAgainHours <= usual.trialHours);
    const Costs own = parsed(
        ", \"trial_hours\": 3, \"pinion_shim_hours\": 2.5, \"ring_gear_hours\": 0.5, "
        "\"comeback_hours\": 40, \"read_again_hours\": 0, \"confirm_hours\": 2");
    CHECK(own.trialHours == 3);
    CHECK(own.pinionShimHours == 2.5);
    CHECK(own.ringGearHours == 0.5);
    CHECK(own.comebackHours == 40);
    CHECK(own.readAgainHours == 0);
    CHECK(own.confirmHours == 2);
}

TEST_CASE("costs that cannot be are refused with their field") {
    const auto holds = [](const std::string& text, const std::string& part) {
        return text.find("shop.json") != std::string::npos && text.find(part) != std::string::npos;
    };
    const auto with = [](const std::string& field) { return "{\"schema\": \"shimsight/costs/1\", " + field + "}"; };
    CHECK(holds(refusal(with("\"trial_hours\": 0")), "trial_hours"));
    CHECK(holds(refusal(with("\"comeback_hours\": -1")), "comeback_hours"));
    CHECK(holds(refusal(with("\"comeback_hours\": 1e300")), "comeback_hours"));
    CHECK(holds(refusal(with("\"ring_gear_hours\": \"0.1\"")), "ring_gear_hours"));
    CHECK(holds(refusal(with("\"pinion_shim_hour\": 0.5")), "pinion_shim_hour"));
    CHECK(holds(refusal(with("\"trial_hours\": 1, \"trial_hours\": 2")), "trial_hours"));
    CHECK(holds(refusal("{\"trial_hours\": 1}"), "schema"));
    CHECK(holds(refusal("{\"schema\": \"shimsight/history/1\"}"), "schema"));
    CHECK(holds(refusal("[1]"), ""));
    CHECK(holds(refusal(""), ""));
}
