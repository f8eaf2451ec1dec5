// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "lesson/markdown.h"

#include <md4c.h>

#include "shimsight/core.h"

namespace shimsight::lesson {
namespace {

/// Collects what the parser tells. A callback that returns less than 0 stops the parser (more than 0 is lost in it).
struct Collector {
    std::vector<Block> blocks;
    Span::Kind kind = Span::Kind::Plain;
    bool inItem = false;

    Spans& open() {
        Block& block = blocks.back();
        if (block.kind == Block::Kind::Table) return block.rows.back().back();
        return inItem ? block.items.back() : block.spans;
    }
    void add(std::string_view text) {
        Spans& spans = open();
        if (!spans.empty() && spans.back().kind == kind)
            spans.back().text += text;
        else
            spans.push_back({kind, std::string(text)});
    }
};

Collector& of(void* user) { return *static_cast<Collector*>(user); }

int enterBlock(MD_BLOCKTYPE type, void* detail, void* user) {
    Collector& to = of(user);
    const auto begin = [&](Block::Kind kind) {
        to.blocks.emplace_back();
        to.blocks.back().kind = kind;
    };
    switch (type) {
        case MD_BLOCK_DOC:
        case MD_BLOCK_THEAD:
        case MD_BLOCK_TBODY:
            break;
        case MD_BLOCK_H:
            begin(Block::Kind::Heading);
            to.blocks.back().level = static_cast<int>(static_cast<MD_BLOCK_H_DETAIL*>(detail)->level);
            break;
        case MD_BLOCK_P:
            if (!to.inItem) begin(Block::Kind::Paragraph);
            break;
        case MD_BLOCK_UL:
        case MD_BLOCK_OL:
            check(!to.inItem, "a lesson's text: lists lie flat");
            begin(type == MD_BLOCK_UL ? Block::Kind::Bullets : Block::Kind::Numbers);
            break;
        case MD_BLOCK_LI:
            to.blocks.back().items.emplace_back();
            to.inItem = true;
            break;
        case MD_BLOCK_CODE: {
            begin(Block::Kind::Fence);
            const MD_ATTRIBUTE& info = static_cast<MD_BLOCK_CODE_DETAIL*>(detail)->info;
            to.blocks.back().info.assign(info.text, info.size);
            break;
        }
        case MD_BLOCK_TABLE:
            begin(Block::Kind::Table);
            break;
        case MD_BLOCK_TR:
            to.blocks.back().rows.emplace_back();
            break;
        case MD_BLOCK_TH:
        case MD_BLOCK_TD:
            to.blocks.back().rows.back().emplace_back();
            break;
        default:
            return -1;
    }
    return 0;
}

int leaveBlock(MD_BLOCKTYPE type, void*, void* user) {
    if (type == MD_BLOCK_LI) of(user).inItem = false;
    return 0;
}

int enterSpan(MD_SPANTYPE type, void*, void* user) {
    switch (type) {
        case MD_SPAN_STRONG:
            of(user).kind = Span::Kind::Strong;
            return 0;
        case MD_SPAN_EM:
            of(user).kind = Span::Kind::Emphasis;
            return 0;
        case MD_SPAN_CODE:
            of(user).kind = Span::Kind::Code;
            return 0;
        default:
            return -1;
    }
}

int leaveSpan(MD_SPANTYPE, void*, void* user) {
    of(user).kind = Span::Kind::Plain;
    return 0;
}

int text(MD_TEXTTYPE type, const MD_CHAR* text, MD_SIZE size, void* user) {
    Collector& to = of(user);
    if (!to.blocks.empty() && to.blocks.back().kind == Block::Kind::Fence)
        to.blocks.back().code.append(text, size);
    else if (type == MD_TEXT_NORMAL || type == MD_TEXT_CODE)
        to.add({text, size});
    else if (type == MD_TEXT_SOFTBR)
        to.add(" ");
    else
        return -1;
    return 0;
}

}  // namespace

std::vector<Block> parseMarkdown(std::string_view markdown) {
    MD_PARSER parser{};
    parser.flags = MD_FLAG_TABLES | MD_FLAG_NOHTML | MD_FLAG_NOINDENTEDCODEBLOCKS;
    parser.enter_block = enterBlock;
    parser.leave_block = leaveBlock;
    parser.enter_span = enterSpan;
    parser.leave_span = leaveSpan;
    parser.text = text;
    Collector collector;
    const int failed = md_parse(markdown.data(), static_cast<MD_SIZE>(markdown.size()), &parser, &collector);
    check(failed == 0, "a lesson's text uses something of Markdown that lessons do not have");
    return std::move(collector.blocks);
}

std::string plainText(const Spans& spans) {
    std::string text;
    for (const Span& span : spans) text += span.text;
    return text;
}

Html htmlOf(const Spans& spans) {
    Html html;
    for (const Span& span : spans) {
        const char* tag = span.kind == Span::Kind::Strong     ? "strong"
                          : span.kind == Span::Kind::Emphasis ? "em"
                          : span.kind == Span::Kind::Code     ? "code"
                                                              : nullptr;
        html += tag == nullptr ? Html::text(span.text) : Html::element(tag, Html::text(span.text));
    }
    return html;
}

}  // namespace shimsight::lesson
