// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "words/table.h"

#include <algorithm>
#include <cctype>
#include <set>
#include <stdexcept>

namespace shimsight::words {

namespace {

std::string_view trimmed(std::string_view text) {
    const auto blank = [](char c) { return c == ' ' || c == '\t' || c == '\r'; };
    while (!text.empty() && blank(text.front())) text.remove_prefix(1);
    while (!text.empty() && blank(text.back())) text.remove_suffix(1);
    return text;
}

/// The number in braces at `at`, or -1 where no place begins there. A place has one digit: no sentence takes ten
/// values.
int placeAt(std::string_view text, std::size_t at) {
    const bool isPlace = at + 2 < text.size() && text[at] == '{' &&
                         std::isdigit(static_cast<unsigned char>(text[at + 1])) != 0 && text[at + 2] == '}';
    return isPlace ? text[at + 1] - '0' : -1;
}

std::size_t countPlaces(const std::string& id, std::string_view text) {
    std::set<int> places;
    for (std::size_t at = 0; at < text.size(); ++at)
        if (const int place = placeAt(text, at); place >= 0) places.insert(place);
    if (!places.empty() && static_cast<std::size_t>(*places.rbegin()) + 1 != places.size())
        throw std::logic_error("the table of words leaves a place out in " + id);
    return places.size();
}

}  // namespace

std::vector<Entry> readTable(std::string_view topic, std::string_view file) {
    std::vector<Entry> entries;
    std::set<std::string> seen;
    for (std::size_t at = 0, number = 1; at < file.size(); ++number) {
        const std::size_t end = std::min(file.find('\n', at), file.size());
        const std::string_view line = trimmed(file.substr(at, end - at));
        at = end + 1;
        if (line.empty() || line.front() == '#') continue;
        const std::size_t equals = line.find(" =");
        if (equals == std::string_view::npos)
            throw std::logic_error(std::string(topic) + ".txt, line " + std::to_string(number) +
                                   ": no sentence of the form key = text");
        std::string_view text = trimmed(line.substr(equals + 2));
        if (text.size() >= 2 && text.front() == '"' && text.back() == '"') text = text.substr(1, text.size() - 2);
        const std::string id = std::string(topic) + "." + std::string(trimmed(line.substr(0, equals)));
        if (!seen.insert(id).second) throw std::logic_error("the table of words holds " + id + " twice");
        entries.push_back({id, std::string(text), countPlaces(id, text)});
    }
    return entries;
}

std::string filled(std::string_view text, const std::vector<std::string>& values) {
    std::string out;
    for (std::size_t at = 0; at < text.size(); ++at) {
        const int place = placeAt(text, at);
        if (place < 0) {
            out += text[at];
        } else {
            out += values.at(static_cast<std::size_t>(place));
            at += 2;
        }
    }
    return out;
}

}  // namespace shimsight::words
