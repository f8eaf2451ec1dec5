// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// Requests and their names for the server's tests.
#pragma once

#include <string>

#include "server/service.h"

namespace shimsight::test {

/// A request's name as the page makes them, told apart by `number`.
inline std::string idOf(int number) {
    const std::string digits = std::to_string(number);
    return std::string(32 - digits.size(), '0') + digits;
}

/// What a paired page on this computer asks; `id` above 0: under that request id.
inline server::HttpRequest pairedAsk(const server::Service& service, const std::string& method, const std::string& path,
                                     const std::string& body, int id) {
    server::HttpRequest one;
    one.method = method;
    one.path = path;
    one.body = body;
    one.token = service.token();
    one.host = "127.0.0.1:8484";
    one.client = "127.0.0.1";
    if (id > 0) one.id = idOf(id);
    return one;
}

}  // namespace shimsight::test
