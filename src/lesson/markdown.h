// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// A lesson's Markdown as a list of blocks, for the page and for the terminal.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "shimsight/html.h"

namespace shimsight::lesson {

struct Span {
    enum class Kind { Plain, Strong, Emphasis, Code };
    Kind kind = Kind::Plain;
    std::string text;
};
using Spans = std::vector<Span>;

struct Block {
    enum class Kind { Heading, Paragraph, Bullets, Numbers, Table, Fence };
    Kind kind = Kind::Paragraph;
    int level = 0;                         ///< Heading: 1..6
    Spans spans;                           ///< Heading, Paragraph
    std::vector<Spans> items;              ///< Bullets, Numbers
    std::vector<std::vector<Spans>> rows;  ///< Table; the first row is its head
    std::string info;                      ///< Fence: the word behind the three strokes
    std::string code;                      ///< Fence
};

/// Headings, paragraphs, flat lists, tables and fenced blocks; what else Markdown has is a bug of the text.
std::vector<Block> parseMarkdown(std::string_view text);

std::string plainText(const Spans& spans);
Html htmlOf(const Spans& spans);

}  // namespace shimsight::lesson
