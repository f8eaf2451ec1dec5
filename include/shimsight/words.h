// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// Every sentence that a person reads has an id, and stands once, in the table of src/words/english. The engine returns
/// messages: an id with its values. Terminal, page, review, sheet and lessons turn them into text here. Another
/// language is another folder of the same ids.
#pragma once

#include <concepts>
#include <span>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace shimsight {

/// A sentence, or a part of one, as a code: the id of an entry of the table, "advice.take-out", and what goes into its
/// places {0}, {1}, ...; these may be messages themselves. With an empty id it is `plain`, as it stands: a name that a
/// person typed, a length, a sentence out of a record.
struct Message {
    std::string id;
    std::vector<Message> values;
    std::string plain;

    Message() = default;
    Message(std::string text) : plain(std::move(text)) {}
    Message(std::string_view text) : plain(text) {}
    Message(const char* text) : plain(text) {}
    Message(std::integral auto number) : plain(std::to_string(number)) {}

    bool empty() const { return id.empty() && plain.empty(); }
    bool operator==(const Message& other) const = default;
};

/// The message of the entry `id` with its values. Throws std::logic_error where the table has no such entry, or one
/// with another number of places.
Message messageOf(std::string_view id, std::vector<Message> values);
template <typename... Values>
Message message(std::string_view id, Values&&... values) {
    return messageOf(id, std::vector<Message>{Message(std::forward<Values>(values))...});
}

/// A message as the person reads it.
std::string text(const Message& message);
std::vector<std::string> texts(std::span<const Message> messages);

/// Both in one: the text of the entry `id`.
template <typename... Values>
std::string say(std::string_view id, Values&&... values) {
    return text(message(id, std::forward<Values>(values)...));
}

/// "a", "a and b", "a, b and c".
std::string listed(std::span<const std::string> parts);
/// One sentence after the other.
Message twoSentences(const Message& first, const Message& second);

/// "92 %".
std::string percent(double share);
/// The same of a chance: "92 %", "under 1 %", "over 99 %", since nothing is quite sure.
std::string chanceWords(double chance);
/// A time of a record as people read it, "2 March 2026, 14:05", with the clock where it was written down; what is no
/// such time stays as it is.
std::string timeWords(std::string_view at);
/// The first letter as a capital.
std::string capital(std::string text);
/// Spaces between a number and its unit that must not break a line become no-break spaces.
std::string tied(std::string text);
/// printf into a string.
std::string formatted(const char* format, ...) __attribute__((format(printf, 1, 2)));

/// An entry of the table, in the order of its files.
struct WordEntry {
    std::string_view id, text;
};
std::span<const WordEntry> wordTable();

}  // namespace shimsight
