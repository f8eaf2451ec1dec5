#include "shimsight/words.h"

#include <algorithm>
#include <stdexcept>
#include <unordered_map>

#include "words/english.h"
#include "words/table.h"

namespace shimsight {

namespace {

/// The table in use, read once.
class Table {
public:
    Table() {
        for (const auto& [topic, file] : words::kEnglish)
            for (words::Entry& entry : words::readTable(topic, file)) entries_.push_back(std::move(entry));
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

std::span<const WordEntry> wordTable() { return table().all(); }

}  // namespace shimsight
