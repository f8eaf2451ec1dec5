// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// JSON as it leaves the server.
#pragma once

#include <nlohmann/json.hpp>
#include <string>

namespace shimsight::server {

/// The document in one line; broken UTF-8 in it is replaced.
inline std::string jsonText(const nlohmann::json& document) {
    return document.dump(-1, ' ', false, nlohmann::json::error_handler_t::replace);
}

}  // namespace shimsight::server
