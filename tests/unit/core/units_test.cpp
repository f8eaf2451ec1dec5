// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "shimsight/units.h"

#include <catch2/catch.hpp>
#include <filesystem>
#include <fstream>
#include <regex>
#include <sstream>
#include <string>
#include <vector>

#include "shimsight/core.h"

using namespace shimsight;

namespace {

/// A row of a table of lengths in tests/support: the length and how both units are told.
struct Row {
    std::string mm, inch, metric, about;
    std::string told() const {
        return about == "about" ? metric + " mm (about " + inch + " in)" : inch + " in (" + metric + " mm)";
    }
};

std::vector<Row> rowsOf(const std::string& name) {
    std::ifstream table(SHIMSIGHT_SOURCE_DIR "/tests/support/" + name);
    std::vector<Row> rows;
    for (std::string line; std::getline(table, line);) {
        if (line.starts_with('#')) continue;
        std::istringstream words(line);
        Row row;
        words >> row.mm >> row.inch >> row.metric >> row.about;
        rows.push_back(row);
    }
    return rows;
}

}  // namespace

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

TEST_CASE("a number before a pair that is no range of it stays") {
    CHECK(inUnits("between 0 and 0.197 in (5 mm).", Units::Metric) == "between 0 and 5 mm.");
    CHECK(inUnits("between 0 in (0 mm) and 0.197 in (5 mm).", Units::Metric) == "between 0 mm and 5 mm.");
    CHECK(inUnits("between -0.197 in (-5 mm) and 0.197 in (5 mm).", Units::Inch) == "between -0.197 in and 0.197 in.");
}

TEST_CASE("every length and torque of the table of words has its pair") {
    const std::regex inches("[0-9] (in|in-lb|ft-lb)\\b(?! the)"), millimetres("[0-9] (mm|Nm)\\b");
    int files = 0;
    for (const auto& file : std::filesystem::directory_iterator(SHIMSIGHT_SOURCE_DIR "/src/words/english")) {
        ++files;
        std::ifstream table(file.path());
        for (std::string line; std::getline(table, line);) {
            INFO(file.path().filename().string() << ": " << line);
            // The depth figure of an inch axle and that of a metric one; a field of a file that holds millimetres.
            if (line.starts_with("figure-hint") || line.starts_with("figure-too-large") ||
                line.starts_with("shim-range"))
                continue;
            CHECK_FALSE(std::regex_search(inUnits(line, Units::Metric), inches));
            CHECK_FALSE(std::regex_search(inUnits(line, Units::Inch), millimetres));
        }
    }
    CHECK(files > 10);
}

TEST_CASE("units have words") {
    for (const Units units : {Units::Both, Units::Inch, Units::Metric}) CHECK(unitsOf(name(units)) == units);
    CHECK_FALSE(unitsOf("inch"));
}

TEST_CASE("inches that are about so many stand behind their millimetres") {
    const std::string text =
        "Take out 0.12 mm (about 0.005 in), not 0.004 in (0.10 mm) or +0.31 mm (about\n    +0.012 in).";
    CHECK(inUnits(text, Units::Both) == text);
    CHECK(inUnits(text, Units::Metric) == "Take out 0.12 mm, not 0.10 mm or +0.31 mm.");
    CHECK(inUnits(text, Units::Inch) == "Take out about 0.005 in, not 0.004 in or about\n    +0.012 in.");
    for (const char* other : {"0.12 mm (about 0.005)", "mm (about 0.005 in)", "0.12 mm (about in)",
                              "0.12 (about 0.005 in)", "0.12 mm (about 0.005 inches)"}) {
        CHECK(inUnits(other, Units::Metric) == other);
        CHECK(inUnits(other, Units::Inch) == other);
    }
}

TEST_CASE("a pair of units converts: it is rounded once") {
    // 25.4 mm to the inch by definition. Every pair, whatever the length came from: the millimetres shown are those of
    // the inches shown, to the last digit shown, or the inches are about so many.
    const auto number = [](const std::string& text) { return std::stod(text); };
    for (int i = -4000; i <= 60000; i += 7) {
        const double mm = i * 1e-4;
        const LengthPair pair = lengthPair(Length::fromMm(mm));
        const double inch = number(pair.inch), shownMm = number(pair.metric);
        INFO(pair.inch << " " << pair.metric);
        CHECK(std::abs(inch * 25.4 - shownMm) <= (pair.inchesAbout ? 0.0127 : 0.005) + 1e-9);
        CHECK(std::abs(inch * 25.4 - mm) <= 0.0005 * 25.4 / 2 + 0.01);
    }
    // What was given in hundredths of a millimetre is shown so; what was given in half thousandths too.
    for (int i = 1; i < 400; ++i) {
        CHECK(number(lengthPair(Length::fromMm(0.01 * i)).metric) == Approx(0.01 * i));
        const LengthPair inches = lengthPair(Length::fromThou(0.5 * i));
        if (i < 200 || i % 2 == 0) CHECK(number(inches.inch) == Approx(0.0005 * i));
        CHECK_FALSE(inches.inchesAbout);
    }
    CHECK(formatLength(Length::fromMm(0.07)) == "0.07 mm (about 0.003 in)");
    CHECK(formatLength(Length::fromMm(-0.12), true) == "-0.12 mm (about -0.005 in)");
    CHECK(formatLength(Length::fromMm(0.15)) == "0.006 in (0.15 mm)");
}

TEST_CASE("no length has tenths of a thousandth: four decimals of an inch end in 5") {
    for (int i = 0; i <= 60000; ++i) {
        const std::string inch = lengthPair(Length::fromMm(i * 1e-3)).inch;
        const std::size_t decimals = inch.find(' ') - inch.find('.') - 1;
        INFO(inch);
        CHECK((decimals == 3 || (decimals == 4 && inch.substr(0, inch.find(' ')).back() == '5')));
    }
}

TEST_CASE("sizes read as the table has them, and each pair converts") {
    const std::vector<Row> rows = rowsOf("sizes.txt");
    CHECK(rows.size() == 15);
    for (const Row& row : rows) CHECK(sizeWords(std::stod(row.mm)) == row.told());
    for (int i = 0; i < 50000; ++i) {
        const LengthPair pair = sizePair(Length::fromMm(i * 0.01));
        const bool tenths = pair.metric.size() - pair.metric.find('.') == 5;  // ".0 mm"
        INFO(pair.inch << " " << pair.metric);
        CHECK(std::abs(std::stod(pair.inch) * 25.4 - std::stod(pair.metric)) <=
              (pair.inchesAbout ? 0.0127 : (tenths ? 0.05 : 0.005)) + 1e-9);
    }
}

TEST_CASE("lengths read as the table has them") {
    const std::vector<Row> rows = rowsOf("lengths.txt");
    CHECK(rows.size() > 100);
    for (const Row& row : rows) {
        const Length length = parseLength(row.mm + "mm", "table");
        const LengthPair pair = lengthPair(length);
        CHECK(pair.inch == row.inch + " in");
        CHECK(pair.metric == row.metric + " mm");
        CHECK(pair.inchesAbout == (row.about == "about"));
        CHECK(formatLength(length) == row.told());
    }
}
