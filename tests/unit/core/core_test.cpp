// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "shimsight/core.h"

#include <catch2/catch.hpp>
#include <set>

using namespace shimsight;

TEST_CASE("lengths convert exactly between inch, thousandth and millimetre") {
    CHECK(Length::fromInch(1).mm() == 25.4);
    CHECK(Length::fromThou(4).mm() == Approx(0.1016).epsilon(1e-14));
    CHECK(Length::fromMm(0.1016).thou() == Approx(4.0).epsilon(1e-14));
}

TEST_CASE("a typed length needs its unit") {
    CHECK(parseLength("0.004in", "--depth").thou() == Approx(4.0));
    CHECK(parseLength("4thou", "--depth").thou() == Approx(4.0));
    CHECK(parseLength("0.10mm", "--depth").mm() == Approx(0.10));
    CHECK(parseLength(" -0.10 mm ", "--depth").mm() == Approx(-0.10));
    CHECK(parseLength("+3 thou", "--depth").thou() == Approx(3.0));
    CHECK(parseLength(".004in", "--depth").thou() == Approx(4.0));
    for (const char* bad : {"0.004", "", "in", "4 thous", "4cm", "nan mm", "inf mm", "1e400mm", "0.1mm0", "4\"",
                            "--4thou", "+-4thou", "0,1mm", "1e9mm", "0x10mm"}) {
        INFO(bad);
        CHECK_THROWS_AS(parseLength(bad, "--depth"), InputError);
    }
    try {
        parseLength("0.004", "--backlash");
        FAIL("a bare number must be refused");
    } catch (const InputError& error) {
        const std::string text = error.what();
        CHECK(text.find("--backlash") == 0);
        CHECK(text.find("0.004in") != std::string::npos);
        CHECK(text.find("0.10mm") != std::string::npos);
    }
}

TEST_CASE("a length reads in thousandths and millimetres") {
    CHECK(formatLength(Length::fromThou(4)) == "0.004 in (0.10 mm)");
    CHECK(formatLength(Length::fromThou(-4), true) == "-0.004 in (-0.10 mm)");
    CHECK(formatLength(Length::fromThou(12), true) == "+0.012 in (+0.30 mm)");
    CHECK(formatLength(Length::fromMm(-0.0001)) == "0.000 in (0.00 mm)");
    CHECK(formatLength(Length::fromThou(3.5)) == "0.0035 in (0.09 mm)");
    CHECK(formatLength(Length::fromThou(-0.4), true) == "-0.0005 in (-0.01 mm)");
    CHECK(formatLength(Length::fromThou(3.2)) == "0.003 in (0.08 mm)");
    CHECK(formatLength(Length::fromThou(99.6)) == "0.0995 in (2.53 mm)");
    CHECK(formatLength(Length::fromThou(120.4)) == "0.120 in (3.05 mm)");
}

TEST_CASE("random numbers repeat and are spread as they say") {
    Random a(7), b(7);
    for (int i = 0; i < 100; ++i) CHECK(a.bits() == b.bits());
    Random r(3);
    double sum = 0, squares = 0;
    constexpr int kDraws = 20000;
    for (int i = 0; i < kDraws; ++i) {
        const double x = r.normal();
        sum += x;
        squares += x * x;
    }
    CHECK(std::abs(sum / kDraws) < 0.03);
    CHECK(squares / kDraws == Approx(1.0).margin(0.04));
    std::set<int> faces;
    for (int i = 0; i < 1000; ++i) faces.insert(r.integer(1, 6));
    CHECK(faces == std::set<int>{1, 2, 3, 4, 5, 6});
    CHECK(r.fork(1).bits() != r.fork(2).bits());
}

TEST_CASE("an outcome holds a value or a reason") {
    const Outcome<int> good(3);
    CHECK(good);
    CHECK(good.value() == 3);
    const Outcome<int> bad(Refused{Refusal::Glare, "Gloss hides the mark.", "Turn the lamp away."});
    CHECK_FALSE(bad);
    CHECK(name(bad.refused().why) == "glare");
    CHECK_THROWS_AS(check(false, "never"), std::logic_error);
}
