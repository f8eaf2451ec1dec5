// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// HTML that escapes by default. Module `core`.
#pragma once

#include <concepts>
#include <cstddef>
#include <string>
#include <string_view>
#include <utility>

namespace shimsight {

/// Text for HTML and XML, in elements and in quoted attributes. Broken UTF-8 and control characters become U+FFFD.
std::string escapedHtml(std::string_view text);

/// A piece of a page. String literals are markup, for the program's author wrote them; every other text is escaped when
/// it is added:
///
///     Html row;
///     row += "<td>";
///     row += job.axle;
///     row += "</td>";            // or: Html("<td>") + job.axle + "</td>"
///
/// A literal that went through `?:` with one of another length, or through a variable, counts as text. Markup that is
/// no literal (a style sheet, an inline picture) is told by Html::markup.
class Html {
public:
    Html() = default;
    template <std::size_t n>
    Html(const char (&literal)[n]) : text_(literal, n - 1) {}
    template <std::size_t n>
    Html(char (&)[n]) = delete;  ///< a buffer is no literal

    /// Trusts `text` to be whole markup.
    static Html markup(std::string text) {
        Html html;
        html.text_ = std::move(text);
        return html;
    }
    static Html markup(std::string_view text) { return markup(std::string(text)); }
    /// A whole element, its content between its tags.
    static Html element(std::string_view tag, const Html& content);
    /// `text` escaped.
    static Html text(std::string_view text) { return markup(escapedHtml(text)); }

    Html& operator+=(const Html& more) {
        text_ += more.text_;
        return *this;
    }
    Html& operator+=(std::string_view more) { return *this += text(more); }
    Html& operator+=(const std::string& more) { return *this += text(more); }
    template <std::same_as<const char*> Pointer>
    Html& operator+=(const Pointer& more) {
        return *this += text(more);
    }
    template <std::size_t n>
    Html& operator+=(const char (&literal)[n]) {
        text_.append(literal, n - 1);
        return *this;
    }

    bool empty() const { return text_.empty(); }
    const std::string& str() const { return text_; }

private:
    std::string text_;
};

template <typename More>
Html operator+(Html html, const More& more) {
    html += more;
    return html;
}

}  // namespace shimsight
