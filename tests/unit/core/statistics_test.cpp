// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "shimsight/statistics.h"

#include <catch2/catch.hpp>

using namespace shimsight;

TEST_CASE("a quantile lies between the ranks as definition 7 has it", "[statistics]") {
    // Hyndman and Fan 1996, definition 7: rank 1 + (n - 1) p. For 2, 1, 4, 3 and p = 1/4 it is 1.75: 1 + 0.75.
    CHECK(quantile({2, 1, 4, 3}, 0.25) == Approx(1.75));
    CHECK(quantile({2, 1, 4, 3}, 0) == 1);
    CHECK(quantile({2, 1, 4, 3}, 1) == 4);
    CHECK(quantile({5}, 0.3) == 5);
}

TEST_CASE("the median of an even number is the mean of the two in the middle", "[statistics]") {
    CHECK(median({9, 1, 5}) == 5);
    CHECK(median({9, 1, 5, 2}) == Approx(3.5));
    CHECK(median({7, 7, 7}) == 7);
}
