// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "shimsight/text.h"

namespace shimsight {
namespace {

constexpr std::string_view kBase64Digits = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";

bool looksLikeFormula(std::string_view text) {
    constexpr std::string_view kStarts = "=+-@\t\r", kNumbers = "0123456789.+-eE";
    return !text.empty() && kStarts.find(text.front()) != std::string_view::npos &&
           text.find_first_not_of(kNumbers) != std::string_view::npos;
}

}  // namespace

std::string csvField(std::string_view text) {
    std::string safe(text);
    for (char& c : safe)
        if ((static_cast<unsigned char>(c) < 0x20 && c != '\t' && c != '\r' && c != '\n') || c == 0x7F) c = ' ';
    if (looksLikeFormula(safe)) safe.insert(safe.begin(), '\'');
    if (safe.find_first_of("\",\r\n") == std::string::npos) return safe;
    std::string quoted = "\"";
    for (const char c : safe) {
        if (c == '"') quoted += '"';
        quoted += c;
    }
    return quoted + "\"";
}

std::string base64(std::span<const std::uint8_t> bytes) {
    std::string text;
    text.reserve((bytes.size() + 2) / 3 * 4);
    for (std::size_t k = 0; k < bytes.size(); k += 3) {
        const auto byte = [&](std::size_t i) { return i < bytes.size() ? std::uint32_t{bytes[i]} : 0U; };
        const std::uint32_t bits = byte(k) << 16U | byte(k + 1) << 8U | byte(k + 2);
        for (unsigned i = 0; i < 4; ++i) text += k + i > bytes.size() ? '=' : kBase64Digits[bits >> (18 - 6 * i) & 63U];
    }
    return text;
}

std::optional<std::vector<std::uint8_t>> bytesOfBase64(std::string_view text) {
    while (text.ends_with('=')) text.remove_suffix(1);
    std::vector<std::uint8_t> bytes;
    bytes.reserve(text.size() * 3 / 4);
    unsigned bits = 0, have = 0;
    for (const char c : text) {
        const std::size_t value = kBase64Digits.find(c);
        if (value == std::string_view::npos) return std::nullopt;
        bits = bits << 6U | static_cast<unsigned>(value);
        have += 6;
        if (have < 8) continue;
        have -= 8;
        bytes.push_back(static_cast<std::uint8_t>(bits >> have & 0xFFU));
    }
    return bytes;
}

}  // namespace shimsight
