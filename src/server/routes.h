// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// The table of what is asked: method, pattern of the path, who answers.
#pragma once

#include <functional>
#include <map>
#include <string>
#include <string_view>
#include <vector>

#include "server/service.h"

namespace shimsight::server {

/// What stood in the place of "{name}" in a pattern, by that name.
class PathValues {
public:
    const std::string& operator[](std::string_view name) const;  ///< a name that the pattern has not is a bug
    void add(std::string name, std::string value) { values_.emplace(std::move(name), std::move(value)); }

private:
    std::map<std::string, std::string, std::less<>> values_;
};

/// `pattern`: parts between "/"; "{name}" stands for any one part, a last "*" for any rest. `method` empty: any.
struct Route {
    std::string method, pattern;
    std::function<HttpResponse(const HttpRequest&, const PathValues&)> answer;
};

/// The parts of a path between "/", the empty one at its end left out.
std::vector<std::string> partsOf(std::string_view path);

/// A table of routes; the first that fits answers, and nothingThere() when none does.
class Routes {
public:
    explicit Routes(std::vector<Route> routes) : routes_(std::move(routes)) {}
    HttpResponse answer(const HttpRequest& ask) const;

private:
    std::vector<Route> routes_;
};

/// 404: no route fits.
const HttpResponse& nothingThere();

}  // namespace shimsight::server
