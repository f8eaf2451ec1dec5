// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "shimsight/words.h"

#include <algorithm>
#include <array>
#include <cctype>
#include <cmath>
#include <cstdarg>
#include <cstdio>
#include <stdexcept>
#include <unordered_map>

#include "words/embedded.h"
#include "words/table.h"

namespace shimsight {

namespace {

/// The table in use, read once.
class Table {
public:
    Table() {
        for (const EmbeddedFile& file : words::embeddedFiles()) {
            const std::string_view topic = file.name.substr(0, file.name.rfind('.'));
            for (words::Entry& entry : words::readTable(topic, file.bytes)) entries_.push_back(std::move(entry));
        }
        for (const words::Entry& entry : entries_) {
            byId_.emplace(entry.id, &entry);
            shown_.push_back({entry.id, entry.text});
        }
    }
    const words::Entry& entry(std::string_view id) const {
        const auto found = byId_.find(id);
        if (found == byId_.end()) throw std::logic_error("no words for " + std::string(id));
        return *found->second;
    }
    std::span<const WordEntry> all() const { return shown_; }

private:
    std::vector<words::Entry> entries_;
    std::unordered_map<std::string_view, const words::Entry*> byId_;
    std::vector<WordEntry> shown_;
};

const Table& table() {
    static const Table all;
    return all;
}

}  // namespace

Message messageOf(std::string_view id, std::vector<Message> values) {
    const words::Entry& entry = table().entry(id);
    if (entry.places != values.size())
        throw std::logic_error(entry.id + " takes " + std::to_string(entry.places) + " values, not " +
                               std::to_string(values.size()));
    Message out;
    out.id = entry.id;
    out.values = std::move(values);
    return out;
}

std::string text(const Message& message) {
    if (message.id.empty()) return message.plain;
    return words::filled(table().entry(message.id).text, texts(message.values));
}

std::vector<std::string> texts(std::span<const Message> messages) {
    std::vector<std::string> out;
    out.reserve(messages.size());
    for (const Message& message : messages) out.push_back(text(message));
    return out;
}

std::string listed(std::span<const std::string> parts) {
    std::string out;
    for (std::size_t i = 0; i < parts.size(); ++i) {
        if (i > 0) out += i + 1 == parts.size() ? text(message("common.and")) : ", ";
        out += parts[i];
    }
    return out;
}

Message twoSentences(const Message& first, const Message& second) {
    return message("common.two-sentences", first, second);
}

std::string percent(double share) { return say("common.percent", std::lround(100 * share)); }

std::string chanceWords(double chance) {
    if (chance < 0.01) return say("common.under-one-percent");
    if (chance > 0.99) return say("common.over-99-percent");
    return percent(chance);
}

std::string timeWords(std::string_view at) {
    // "2026-03-02T14:05:00+01:00" or "2026-03-02 14:05:00".
    constexpr std::array<const char*, 12> kMonths{"common.january", "common.february", "common.march",
                                                  "common.april",   "common.may",      "common.june",
                                                  "common.july",    "common.august",   "common.september",
                                                  "common.october", "common.november", "common.december"};
    int year = 0, month = 0, day = 0, hour = 0, minute = 0;
    char between = 0;
    std::string text(at);
    if (std::sscanf(text.c_str(), "%4d-%2d-%2d%c%2d:%2d", &year, &month, &day, &between, &hour, &minute) != 6 ||
        month < 1 || month > 12)
        return text;
    return say("common.time", day, say(kMonths[static_cast<std::size_t>(month - 1)]), year,
               formatted("%02d:%02d", hour, minute));
}

std::string capital(std::string text) {
    if (!text.empty()) text[0] = static_cast<char>(std::toupper(static_cast<unsigned char>(text[0])));
    return text;
}

std::string tied(std::string text) {
    for (const std::string_view unit :
         {" in ", " in,", " in.", " in-lb", " ft-lb", " Nm", " (", " mm", " %", " \xC2\xB1", "\xC2\xB1 ", "+/- "}) {
        const std::size_t offset = unit.find(' ');
        for (std::size_t at = text.find(unit); at != std::string::npos; at = text.find(unit, at + 1)) {
            const bool afterNumber =
                unit.front() != ' ' || (at > 0 && (std::isdigit(static_cast<unsigned char>(text[at - 1])) != 0)) ||
                unit == " \xC2\xB1" ||
                (unit == " (" && at >= 2 && (text.compare(at - 2, 2, "in") == 0 || text.compare(at - 2, 2, "lb") == 0));
            if (afterNumber) text.replace(at + offset, 1, "\xC2\xA0");
        }
    }
    // Nor must "in-lb" break at its hyphen.
    for (const std::string_view unit : {"\xC2\xA0in-lb",
                                        "\xC2\xA0"
                                        "ft-lb"})
        for (std::size_t at = text.find(unit); at != std::string::npos; at = text.find(unit, at + 1))
            text.replace(at + 4, 1, "\xE2\x80\x91");
    return text;
}

std::string formatted(const char* format, ...) {
    va_list arguments, again;
    va_start(arguments, format);
    va_copy(again, arguments);
    const int length = std::vsnprintf(nullptr, 0, format, arguments);
    va_end(arguments);
    std::string out(static_cast<std::size_t>(std::max(length, 0)), '\0');
    std::vsnprintf(out.data(), out.size() + 1, format, again);
    va_end(again);
    return out;
}

std::span<const WordEntry> wordTable() { return table().all(); }

}  // namespace shimsight
