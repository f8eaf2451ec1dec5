// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// Pages of one file that work without a network, with the contact model in JavaScript, and what they carry as JSON:
/// shared by lessons and training. Module `lesson`.
#pragma once

#include <array>
#include <initializer_list>
#include <nlohmann/json_fwd.hpp>
#include <string>
#include <string_view>

#include "shimsight/html.h"
#include "shimsight/photo.h"
#include "shimsight/tooth_contact.h"
#include "shimsight/units.h"

namespace shimsight::lesson {

/// A whole page of one file.
struct Page {
    std::string title;
    std::string_view css;  ///< besides the shared one
    Html body;
    Html scripts;  ///< whole <script> elements
    /// Of what its scripts say; the shop's or the command's wish. A page with a switch begins with it.
    Units units = Units::Both;
};
std::string pageHtml(const Page& page);

/// A script element.
Html script(std::string_view code);
/// Script elements of files of src/lesson/page ("contact.js"), in this order, after one with the words that they say. A
/// module ("lengths.js") becomes an object of its name with what it exports.
Html scriptParts(std::initializer_list<std::string_view> files);

/// Entries of the table of words as a JavaScript module with the function that fills them, say(id, ...): those of the
/// bench page, or where `usedIn` holds scripts those whose ids stand in them.
std::string wordsModule(std::string_view usedIn = {});
/// The same as an ordinary script, which defines lessonWords.say(id, ...) in the page.
std::string wordsScript(std::string_view usedIn);

/// A frame in HTML whose places {{page.more}} take entries of the table of words.
Html inWords(std::string_view frame);

/// JSON that may stand in a script element: nothing in it ends the element.
std::string scriptJson(const nlohmann::json& data);
/// A script element that holds JSON, which scriptJson made, under an id.
Html dataScript(std::string_view id, std::string_view scriptJson);

/// Name, limits, rates of both flanks for contact.js.
nlohmann::json setJson(const ToothContact& contact);

/// The part of the picture with this box (left, top, right, bottom), and some gear round it; 3 : 2 where there is room.
/// An empty box: the whole picture. At least `leastShare` of the picture's width.
Picture croppedTo(const Picture& picture, const std::array<double, 4>& box, double leastShare);

}  // namespace shimsight::lesson
