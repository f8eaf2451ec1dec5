// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// Every place tells the same amount: terminal, card, record, review, sheet and job.
#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <cstdio>
#include <nlohmann/json.hpp>

#include "advice/shims.h"
#include "cli/report.h"
#include "records_json.h"
#include "server/answer.h"
#include "shimsight/advice_words.h"
#include "shimsight/records.h"
#include "shimsight/report.h"
#include "shimsight/review_words.h"

using namespace shimsight;
using nlohmann::json;

namespace {

/// Any run of spaces and line ends as one space.
std::string onOneLine(const std::string& text) {
    std::string line;
    for (const char c : text)
        if (c != ' ' && c != '\n')
            line += c;
        else if (line.empty() || line.back() != ' ')
            line += ' ';
    return line;
}

int count(const std::string& text, const std::string& part) {
    int found = 0;
    for (std::size_t at = text.find(part); at != std::string::npos; at = text.find(part, at + part.size())) ++found;
    return found;
}

JobRecord jobWith(const Advice& advice) {
    JobRecord job = newJob(jobGearSet(std::string(SHIMSIGHT_SOURCE_DIR) + "/models/gear-sets/lab-van-rear-axle-b.json"),
                           "Van 3", "", "", "2026-03-02T08:00:00Z");
    TrialEntry trial;
    trial.stamp.at = "2026-03-02T09:00:00Z";
    trial.origin = PatternOrigin::Drawn;
    trial.measurement.emplace();
    trial.measurement->drive.emplace();
    trial.measurement->drive->length = trial.measurement->drive->height = 0.6;
    trial.measurement->advice = advice;
    (void)addTrial(job, trial);
    return job;
}

}  // namespace

TEST_CASE("one amount, one rounding: the same number in both units in every place") {
    const bool placeKnown = GENERATE(true, false);
    const PinionShim place =
        GENERATE(PinionShim::BehindPinionHead, PinionShim::UnderBearingCup, PinionShim::UnderPinionSupport);
    for (int thou = -30; thou <= 30; ++thou) {
        if (thou == 0) continue;
        GearSet set;
        set.name = "test set";
        set.build.pinionShim = place;
        set.given.pinionShim = placeKnown;
        Advice advice;
        advice.verdict = Verdict::Change;
        advice.certainty = Certainty::Sure;
        advice.shim.thicknessChangeMm = thou * advice::kFreeStepMm;
        advice.backlashNowMm = 0.3;
        advice.backlashTargetMm = 0.2;
        advice.ringGearMoveMm = 0.0013 * thou + 0.1;
        advice::fitToShop(set, advice);

        const std::string shown = formatLength(Length::fromMm(std::abs(thou) * advice::kFreeStepMm));
        double inch = 0, millimetres = 0;
        REQUIRE(std::sscanf(shown.c_str(), "%lf in (%lf mm)", &inch, &millimetres) == 2);
        CHECK(inch == Approx(std::abs(thou) / 1000.0));
        CHECK(std::abs(inch * 25.4 - millimetres) <= 0.0051);
        const std::string verb = placeKnown ? (thou > 0 ? "dd " : "ake out ")  // with or without a capital
                                            : "ove the pinion ";
        const std::string told = verb + shown;
        CAPTURE(thou, static_cast<int>(place), placeKnown, told);

        const std::string lead = leadOf(advice);
        CHECK(count(lead, told) == 1);
        CHECK(count(onOneLine(cli::adviceText(advice, set, {}, {})), onOneLine(lead)) == 1);
        CHECK(count(leadInShort(advice), told) == 1);
        CHECK(adviceInShort(advice) == lead);

        const json card = server::answerJson(advice, set);
        CHECK(card.at("lead") == lead);
        CHECK(formatLength(Length::fromMm(card.at("headline").at("amount_mm").get<double>())) == shown);
        if (placeKnown) CHECK(card.at("shim_change_mm").get<double>() == Approx(thou * 0.0254));

        const json record = toJson(advice);
        CHECK(record.at("lead") == lead);
        const double written = record.at("shim").at("thickness_change_mm");
        CHECK(formatLength(Length::fromMm(std::abs(written))) == shown);
        CHECK((written > 0) == (thou > 0));
        const double depth = record.at("shim").at("depth_change_mm");
        CHECK((depth > 0) == ((thou > 0) == (place != PinionShim::UnderPinionSupport)));

        const std::string sheet = buildSheetHtml(jobWith(advice), {}, {"2026-03-03 10:00:00", "job", "0"});
        CHECK(count(sheet, tied(told)) >= 1);

        // Backlash and ring gear, too: the number of the record is the one of the words.
        const std::string target = formatLength(Length::fromMm(record.at("backlash_target_mm").get<double>()));
        CHECK(count(lead, "set the backlash to " + target) == 1);
        CHECK(formatLength(Length::fromMm(card.at("backlash").at("target_mm").get<double>())) == target);
        const double ring = record.at("ring_gear_move_mm");
        CHECK(ring == Approx(advice::stepped(ring)).margin(1e-9));
        if (ring != 0) {
            CHECK(card.at("ring_gear").at("amount_mm").get<double>() == Approx(std::abs(ring)));
            CHECK(count(onOneLine(cli::adviceText(advice, set, {}, {})),
                        "the ring gear moves " + formatLength(Length::fromMm(std::abs(ring)))) == 1);
        }
    }
}

TEST_CASE("a set's own shims are told as they are") {
    GearSet set;
    set.given.pinionShim = true;
    for (const double mm : {0.05, 0.08, 0.15, 0.32, 0.508}) {
        Advice advice;
        advice.verdict = Verdict::Change;
        advice.shim.thicknessChangeMm = mm;
        advice::fitToShop(set, advice);
        const std::string shown = formatLength(Length::fromMm(mm));
        CHECK(count(leadOf(advice), "add " + shown) == 1);
        CHECK(toJson(advice).at("shim").at("thickness_change_mm").get<double>() == Approx(mm));
        CHECK(server::answerJson(advice, set).at("headline").at("amount_mm").get<double>() == Approx(mm));
    }
}
