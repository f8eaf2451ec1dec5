// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "server/routes.h"

#include <algorithm>
#include <optional>
#include <utility>

#include "shimsight/core.h"
#include "shimsight/words.h"

namespace shimsight::server {
namespace {

bool isPlaceholder(const std::string& part) { return part.starts_with('{') && part.ends_with('}'); }

std::optional<PathValues> valuesOf(const std::vector<std::string>& pattern, const std::vector<std::string>& path) {
    const bool anyRest = !pattern.empty() && pattern.back() == "*";
    const std::size_t fixed = pattern.size() - (anyRest ? 1 : 0);
    if (anyRest ? path.size() < fixed : path.size() != fixed) return std::nullopt;
    PathValues values;
    for (std::size_t i = 0; i < fixed; ++i) {
        if (isPlaceholder(pattern[i]))
            values.add(pattern[i].substr(1, pattern[i].size() - 2), path[i]);
        else if (pattern[i] != path[i])
            return std::nullopt;
    }
    return values;
}

}  // namespace

const std::string& PathValues::operator[](std::string_view name) const {
    const auto found = values_.find(name);
    check(found != values_.end(), "a route's pattern has no such name");
    return found->second;
}

std::vector<std::string> partsOf(std::string_view path) {
    std::vector<std::string> parts;
    std::size_t start = 1;
    while (start < path.size()) {
        const std::size_t end = std::min(path.find('/', start), path.size());
        parts.emplace_back(path.substr(start, end - start));
        start = end + 1;
    }
    return parts;
}

HttpResponse Routes::answer(const HttpRequest& ask) const {
    const std::vector<std::string> path = partsOf(ask.path);
    for (const Route& route : routes_) {
        if (!route.method.empty() && route.method != ask.method) continue;
        if (const std::optional<PathValues> values = valuesOf(partsOf(route.pattern), path))
            return route.answer(ask, *values);
    }
    return nothingThere();
}

const HttpResponse& nothingThere() {
    static const HttpResponse kNothing = refusal(404, say("server.nothing-at-this-address"));
    return kNothing;
}

}  // namespace shimsight::server
