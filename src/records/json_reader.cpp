// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>
#include <cstdio>
#include <cstdlib>

#include "records_json.h"
#include "shimsight/records.h"
#include "shimsight/words.h"

namespace shimsight {
namespace {

using nlohmann::json;

/// A key in a message is cut after this many bytes.
constexpr std::size_t kMaxShown = 60;

/// More than this many warnings help nobody.
constexpr std::size_t kMaxWarnings = 20;

/// "1.5", "-3", "1e+300".
std::string shownNumber(double value) { return formatted("%.6g", value); }

/// What a value is, in words.
std::string kindOf(const json& value) {
    switch (value.type()) {
        case json::value_t::null:
            return "null";
        case json::value_t::object:
            return say("records.an-object");
        case json::value_t::array:
            return say("records.a-list");
        case json::value_t::string:
            return say("records.the-text", shown(value.get_ref<const std::string&>()));
        case json::value_t::boolean:
            return value.get<bool>() ? "true" : "false";
        default:
            return shownNumber(value.get<double>());
    }
}

/// Edit distance of two short words.
std::size_t distanceOf(std::string_view a, std::string_view b) {
    std::vector<std::size_t> row(b.size() + 1);
    for (std::size_t j = 0; j <= b.size(); ++j) row[j] = j;
    for (std::size_t i = 1; i <= a.size(); ++i) {
        std::size_t diagonal = row[0];
        row[0] = i;
        for (std::size_t j = 1; j <= b.size(); ++j) {
            const std::size_t above = row[j];
            row[j] = std::min({above + 1, row[j - 1] + 1, diagonal + (a[i - 1] == b[j - 1] ? 0 : 1)});
            diagonal = above;
        }
    }
    return row[b.size()];
}

/// Lower case, without the marks that people mix up.
std::string plain(std::string_view key) {
    std::string text;
    for (const char c : key) {
        if (c == '_' || c == '-' || c == ' ') continue;
        text += (c >= 'A' && c <= 'Z') ? static_cast<char>(c - 'A' + 'a') : c;
    }
    return text;
}

/// The known key that `key` was probably meant to be, or "".
std::string_view meant(std::string_view key, const std::vector<std::string>& known) {
    if (key.size() > kMaxShown) return {};
    const std::string word = plain(key);
    std::string_view best;
    std::size_t bestDistance = 0;
    for (const std::string& candidate : known) {
        const std::string other = plain(candidate);
        const bool partOf =
            word.size() >= 4 && other.size() >= 4 && (other.starts_with(word) || word.starts_with(other));
        const std::size_t distance = partOf ? 1 : distanceOf(word, other);
        const std::size_t allowed = std::max<std::size_t>(1, other.size() / 5);
        if (distance <= allowed && (best.empty() || distance < bestDistance)) {
            best = candidate;
            bestDistance = distance;
        }
    }
    return best;
}

/// ", line 3, column 14" of a byte position.
std::string placeOf(std::string_view text, std::size_t byte) {
    const std::string_view before = text.substr(0, std::min(byte, text.size()));
    const auto line = 1 + std::count(before.begin(), before.end(), '\n');
    const std::size_t newline = before.rfind('\n');
    const std::size_t column = newline == std::string_view::npos ? before.size() : before.size() - newline - 1;
    return say("records.line-and-column", line, std::max<std::size_t>(1, column));
}

}  // namespace

std::string shown(std::string_view text) {
    std::string result;
    for (const char c : text.substr(0, kMaxShown)) {
        const auto byte = static_cast<unsigned char>(c);
        result += (byte < 0x20 || byte > 0x7e || c == '"') ? '?' : c;
    }
    if (text.size() > kMaxShown) result += "...";
    return result;
}

json parseJsonObject(std::string_view text, const std::string& fileName, std::int64_t maxBytes) {
    if (text.size() > static_cast<std::size_t>(maxBytes))
        throw InputError(message("records.too-large", fileName, maxBytes / 1'000'000));
    if (text.starts_with("\xEF\xBB\xBF")) text.remove_prefix(3);
    // The parser takes it for the end, whatever comes after.
    if (const std::size_t zero = text.find('\0'); zero != std::string_view::npos)
        throw InputError(message("records.zero-byte", fileName, placeOf(text, zero + 1)));
    std::vector<std::set<std::string>> keys;
    const auto watch = [&](int depth, json::parse_event_t event, json& parsed) {
        if (depth > kMaxRecordDepth) throw InputError(message("records.too-deep", fileName, kMaxRecordDepth));
        switch (event) {
            case json::parse_event_t::object_start:
                keys.emplace_back();
                break;
            case json::parse_event_t::object_end:
                keys.pop_back();
                break;
            case json::parse_event_t::key:
                if (!keys.back().insert(parsed.get<std::string>()).second)
                    throw InputError(
                        message("records.key-twice", fileName, shown(parsed.get_ref<const std::string&>())));
                break;
            default:
                break;
        }
        return true;
    };
    json document;
    try {
        document = json::parse(text, watch);
    } catch (const json::parse_error& error) {
        throw InputError(message("records.not-json", fileName, placeOf(text, error.byte)));
    } catch (const json::out_of_range&) {
        throw InputError(message("records.number-too-large", fileName));
    }
    if (!document.is_object()) throw InputError(message("records.no-object", fileName, kindOf(document)));
    return document;
}

namespace {

/// Walks over valid JSON text; knows nothing of its values but where they begin and end.
class JsonWalk {
public:
    explicit JsonWalk(std::string_view text) : text_(text) {}
    std::size_t place() const { return at_; }

    char peek() {
        while (at_ < text_.size() &&
               (text_[at_] == ' ' || text_[at_] == '\n' || text_[at_] == '\r' || text_[at_] == '\t'))
            ++at_;
        return at_ < text_.size() ? text_[at_] : '\0';
    }
    void skip() { ++at_; }
    /// The raw text of the string that begins here.
    std::string_view string() {
        const std::size_t start = ++at_;
        while (at_ < text_.size() && text_[at_] != '"') at_ += text_[at_] == '\\' ? 2 : 1;
        const std::size_t end = std::min(at_, text_.size());
        at_ = std::min(end + 1, text_.size());
        return text_.substr(start, end - start);
    }
    void value() {
        int depth = 0;
        do {
            const char c = peek();
            if (c == '"') {
                string();
            } else if (c == '{' || c == '[') {
                ++depth, ++at_;
            } else if (c == '}' || c == ']') {
                --depth, ++at_;
            } else if (c == ',' || c == ':') {
                ++at_;
            } else {
                const std::size_t end = text_.find_first_of(",:]} \t\r\n", at_);
                at_ = end == std::string_view::npos ? text_.size() : end;
            }
        } while (depth > 0 && at_ < text_.size());
    }

private:
    std::string_view text_;
    std::size_t at_ = 0;
};

}  // namespace

std::size_t lineOfField(std::string_view text, std::string_view path) {
    JsonWalk walk(text);
    walk.peek();
    std::size_t found = walk.place();
    while (!path.empty()) {
        if (path.front() == '.') path.remove_prefix(1);
        const bool isItem = !path.empty() && path.front() == '[';
        const std::size_t end = isItem ? path.find(']') + 1 : std::min(path.find_first_of(".["), path.size());
        if (end == 0) break;  // no closing bracket
        std::string_view part = path.substr(0, end);
        path.remove_prefix(end);
        std::size_t left = 0;
        if (isItem) left = std::strtoul(std::string(part.substr(1)).c_str(), nullptr, 10);
        if (walk.peek() != (isItem ? '[' : '{')) break;
        walk.skip();
        bool here = false;
        while (walk.peek() != '\0' && walk.peek() != '}' && walk.peek() != ']') {
            if (walk.peek() == ',') {
                walk.skip();
                continue;
            }
            if (isItem) {
                here = left-- == 0;
            } else {
                here = walk.string() == part;
                walk.peek();
                walk.skip();  // the colon
            }
            if (here) break;
            walk.value();
        }
        if (!here) break;
        walk.peek();
        found = walk.place();
    }
    return static_cast<std::size_t>(std::count(text.begin(), text.begin() + static_cast<std::ptrdiff_t>(found), '\n')) +
           1;
}

ObjectReader::ObjectReader(const json& object, std::string fileName, std::string path,
                           std::vector<std::string>& warnings)
    : object_(&object), fileName_(std::move(fileName)), path_(std::move(path)), warnings_(&warnings) {}

std::string ObjectReader::pathOf(std::string_view key) const {
    if (path_.empty()) return std::string(key);
    return key.empty() ? path_ : path_ + "." + std::string(key);
}

void ObjectReader::fail(std::string_view key, const std::string& sentence) const {
    throw FieldError(fileName_, pathOf(key), sentence);
}

void ObjectReader::missing(std::string_view key) const {
    if (object_->contains(key)) fail(key, say("records.null"));
    for (const auto& [other, value] : object_->items()) {
        const std::vector<std::string> wanted{std::string(key)};
        if (!meant(other, wanted).empty()) fail(key, say("records.missing-misspelled", shown(other)));
    }
    fail(key, say("records.missing"));
}

const json* ObjectReader::find(std::string_view key) {
    asked_.emplace_back(key);
    const auto found = object_->find(std::string(key));
    return found == object_->end() || found->is_null() ? nullptr : &*found;
}

double ObjectReader::numberIn(const json& value, std::string_view key, Range range) const {
    if (!value.is_number()) fail(key, say("records.must-be-number", kindOf(value)));
    const double number = value.get<double>();
    if (!std::isfinite(number)) fail(key, say("records.must-be-finite"));
    if (number < range.low || number > range.high)
        fail(key, say("records.out-of-range", shownNumber(number), shownNumber(range.low), shownNumber(range.high)));
    return number;
}

std::optional<double> ObjectReader::number(std::string_view key, Range range) {
    const json* value = find(key);
    if (value == nullptr) return std::nullopt;
    return numberIn(*value, key, range);
}

double ObjectReader::requiredNumber(std::string_view key, Range range) {
    const std::optional<double> value = number(key, range);
    if (!value) missing(key);
    return *value;
}

std::optional<int> ObjectReader::integer(std::string_view key, Range range) {
    const std::optional<double> value = number(key, range);
    if (!value) return std::nullopt;
    if (*value != std::floor(*value)) fail(key, say("records.must-be-whole", shownNumber(*value)));
    return static_cast<int>(*value);
}

int ObjectReader::requiredInteger(std::string_view key, Range range) {
    const std::optional<int> value = integer(key, range);
    if (!value) missing(key);
    return *value;
}

std::optional<std::string> ObjectReader::text(std::string_view key) {
    const json* value = find(key);
    if (value == nullptr) return std::nullopt;
    if (!value->is_string()) fail(key, say("records.must-be-text", kindOf(*value)));
    return value->get<std::string>();
}

std::optional<bool> ObjectReader::boolean(std::string_view key) {
    const json* value = find(key);
    if (value == nullptr) return std::nullopt;
    if (!value->is_boolean()) fail(key, say("records.must-be-boolean", kindOf(*value)));
    return value->get<bool>();
}

std::optional<Interval> ObjectReader::interval(std::string_view key, Range range) {
    const json* value = find(key);
    if (value == nullptr) return std::nullopt;
    if (!value->is_array() || value->size() != 2)
        fail(key, say("records.must-be-interval",
                      value->is_array() ? say("records.a-list-of", value->size()) : kindOf(*value)));
    const Interval interval{numberIn((*value)[0], key, range), numberIn((*value)[1], key, range)};
    if (interval.low > interval.high)
        fail(key, say("records.lowest-above-highest", shownNumber(interval.low), shownNumber(interval.high)));
    return interval;
}

std::vector<double> ObjectReader::numbers(std::string_view key, Range range, std::size_t most) {
    std::vector<double> result;
    if (const json* values = list(key, most))
        for (const json& value : *values) result.push_back(numberIn(value, key, range));
    return result;
}

std::vector<std::string> ObjectReader::texts(std::string_view key, std::size_t most) {
    std::vector<std::string> result;
    if (const json* values = list(key, most)) {
        for (const json& value : *values) {
            if (!value.is_string()) fail(key, say("records.must-be-texts", kindOf(value)));
            result.push_back(value.get<std::string>());
        }
    }
    return result;
}

std::optional<ObjectReader> ObjectReader::object(std::string_view key) {
    const json* value = find(key);
    if (value == nullptr) return std::nullopt;
    if (!value->is_object()) fail(key, say("records.must-be-object", kindOf(*value)));
    return ObjectReader(*value, fileName_, pathOf(key), *warnings_);
}

ObjectReader ObjectReader::requiredObject(std::string_view key) {
    std::optional<ObjectReader> value = object(key);
    if (!value) missing(key);
    return *value;
}

const json* ObjectReader::list(std::string_view key, std::size_t most) {
    const json* value = find(key);
    if (value == nullptr) return nullptr;
    if (!value->is_array()) fail(key, say("records.must-be-list", kindOf(*value)));
    if (value->size() > most) fail(key, say("records.list-too-long", value->size(), most));
    return value;
}

const json* ObjectReader::requiredList(std::string_view key, std::size_t most) {
    const json* value = list(key, most);
    if (value == nullptr) missing(key);
    return value;
}

ObjectReader ObjectReader::item(std::string_view key, const json& list, std::size_t number) {
    const std::string place = std::string(key) + "[" + std::to_string(number) + "]";
    const json& value = list.at(number);
    if (!value.is_object()) fail(place, say("records.must-be-object", kindOf(value)));
    return ObjectReader(value, fileName_, pathOf(place), *warnings_);
}

void ObjectReader::expectSchema(std::string_view wanted) {
    const std::optional<std::string> schema = text("schema");
    if (!schema) fail("schema", say("records.schema-missing", wanted));
    if (*schema != wanted) fail("schema", say("records.schema-other", shown(*schema), wanted));
}

void ObjectReader::finish() {
    for (const auto& [key, value] : object_->items()) {
        if (std::find(asked_.begin(), asked_.end(), key) != asked_.end()) continue;
        const std::string_view known = meant(key, asked_);
        if (!known.empty() && warnings_->size() < kMaxWarnings)
            warnings_->push_back(say("records.unknown-field", fileName_, pathOf(shown(key)), pathOf(known)));
    }
}

}  // namespace shimsight
