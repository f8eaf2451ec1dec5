// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "shimsight/units.h"

#include <catch2/catch.hpp>

#include "shimsight/core.h"

using namespace shimsight;

TEST_CASE("a sentence is told in the units that are wished") {
    const std::string sentence =
        "Set the backlash to 0.007 in (0.18 mm), inside 0.005 in (0.13 mm) to 0.009 in (0.23 mm); 14 to 16 in-lb (1.6 "
        "to 1.8 Nm), 59 ft-lb (80 Nm) (see 2 in the sheet).";
    CHECK(inUnits(sentence, Units::Both) == sentence);
    CHECK(inUnits(sentence, Units::Inch) ==
          "Set the backlash to 0.007 in, inside 0.005 in to 0.009 in; 14 to 16 in-lb, 59 ft-lb (see 2 in the sheet).");
    CHECK(inUnits(sentence, Units::Metric) ==
          "Set the backlash to 0.18 mm, inside 0.13 mm to 0.23 mm; 1.6 to 1.8 Nm, 80 Nm (see 2 in the sheet).");
    CHECK(inUnits("-0.004\xC2\xA0in\xC2\xA0(-0.10\xC2\xA0mm)", Units::Metric) == "-0.10\xC2\xA0mm");
    CHECK(inUnits("0.003 and 0.005\nin (0.08 and\n0.13 mm), 1,000 miles (1,600 km)", Units::Metric) ==
          "0.08 and\n0.13 mm, 1,600 km");
    // Wrapped text is set in after a break.
    CHECK(inUnits("  - about 0.003 in\n    (0.08 mm), backlash -0.001 in (-0.03\n        mm)", Units::Metric) ==
          "  - about 0.08 mm, backlash -0.03\n        mm");
    CHECK(inUnits("2.3 to\n    3.6 in-lb\n    (0.3 to\n    0.4 Nm)", Units::Inch) == "2.3 to\n    3.6 in-lb");
    CHECK(inUnits("50 mph (80 km/h), 45 lb (20 kg), 30 psi (2 bar), 3 ft (0.9 m)", Units::Inch) ==
          "50 mph, 45 lb, 30 psi, 3 ft");
    CHECK(inUnits("about 0.197 in (5 mm).", Units::Inch) == "about 0.197 in.");
    CHECK(inUnits(tied("27 in-lb (3.00 Nm)"), Units::Metric) == tied("3.00 Nm"));
    CHECK(inUnits(tied("59 ft-lb (80 Nm)"), Units::Inch) == tied("59 ft-lb"));
}

TEST_CASE("what is no pair stays as it is") {
    for (const char* text : {"", "(", "in (", "4 in", "(0.10 mm)", "a in (0.10 mm)", "0.004 in (0.10 m)",
                             "15 in-lb (1.6 mm)", "0.004 in (x mm)", "4 in (the 5 mm)", "to 5in (5 mm)"}) {
        INFO(text);
        CHECK(inUnits(text, Units::Metric) == text);
        CHECK(inUnits(text, Units::Inch) == text);
    }
}

TEST_CASE("units have words") {
    for (const Units units : {Units::Both, Units::Inch, Units::Metric}) CHECK(unitsOf(name(units)) == units);
    CHECK_FALSE(unitsOf("inch"));
}

TEST_CASE("a pair of units converts: it is rounded once") {
    // 25.4 mm to the inch by definition. Every pair, whatever the length came from: the millimetres shown are those of
    // the inches shown, to the last digit shown, or the other way round.
    for (int i = -4000; i <= 60000; i += 7) {
        const double mm = i * 1e-4;
        const std::string pair = formatLength(Length::fromMm(mm));
        double inch = 0, shownMm = 0;
        REQUIRE(std::sscanf(pair.c_str(), "%lf in (%lf mm)", &inch, &shownMm) == 2);
        INFO(pair);
        CHECK(std::abs(inch * 25.4 - shownMm) <= 0.005 + 1e-9);
        CHECK(std::abs(inch * 25.4 - mm) <= 0.0005 * 25.4 / 2 + 0.01);
    }
    // What was given in hundredths of a millimetre is shown so; what was given in half thousandths too.
    for (int i = 1; i < 400; ++i) {
        const std::string metric = formatLength(Length::fromMm(0.01 * i));
        double inch = 0, mm = 0;
        REQUIRE(std::sscanf(metric.c_str(), "%lf in (%lf mm)", &inch, &mm) == 2);
        CHECK(mm == Approx(0.01 * i));
        const std::string inches = formatLength(Length::fromThou(0.5 * i));
        REQUIRE(std::sscanf(inches.c_str(), "%lf in (%lf mm)", &inch, &mm) == 2);
        if (i < 200 || i % 2 == 0) CHECK(inch == Approx(0.0005 * i));
    }
    CHECK(formatLength(Length::fromMm(0.07)) == "0.0028 in (0.07 mm)");
    CHECK(formatLength(Length::fromMm(0.15)) == "0.006 in (0.15 mm)");
    // From a paint mark, no tenths of a thousandth.
    CHECK(formatLength(Length::fromMm(0.0163)) == "0.0005 in (0.01 mm)");
    CHECK(formatLength(Length::fromMm(0.1187)) == "0.0045 in (0.11 mm)");
}
