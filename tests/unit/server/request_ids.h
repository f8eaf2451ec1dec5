/// Names of requests for the server's tests.
#pragma once

#include <string>

namespace shimsight::test {

/// A request's name as the page makes them, told apart by `number`.
inline std::string idOf(int number) {
    const std::string digits = std::to_string(number);
    return std::string(32 - digits.size(), '0') + digits;
}

}  // namespace shimsight::test
