// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "lesson/page_data.h"

#include <bit>
#include <set>

#include "lesson_page.h"
#include "records_json.h"
#include "shimsight/advice_words.h"
#include "shimsight/core.h"
#include "shimsight/lesson.h"
#include "shimsight/text.h"
#include "shimsight/words.h"

namespace shimsight::lesson {

using nlohmann::json;

json packedFloats(const std::vector<float>& values) {
    static_assert(std::endian::native == std::endian::little, "the page reads little-endian numbers");
    return base64({reinterpret_cast<const std::uint8_t*>(values.data()), values.size() * sizeof(float)});
}

namespace {

json toJson(const Interval& interval) { return {interval.low, interval.high}; }

json toJson(const FlankRates& rates) {
    json perUnit = json::array(), delay = json::array();
    for (const auto& values : rates.perUnit) perUnit.push_back(packedFloats(values));
    for (const auto& values : rates.delayPerUnit) delay.push_back(packedFloats(values));
    return {{"per_unit", perUnit},
            {"delay_per_unit", delay},
            {"lever", packedFloats(rates.lever)},
            {"phase_at_rest", packedFloats(rates.phaseAtRest)},
            {"slide_length", rates.slideLength},
            {"slide_profile", rates.slideProfile}};
}

}  // namespace

json setJson(const ToothContact& contact) {
    const GearSet& set = contact.gearSet();
    const AcceptanceRule& rule = set.limits.acceptance;
    const BacklashRates rates = contact.backlashRates();
    SetupError oneRadian;  // the change is of the first order, so one radian gives its rate
    oneRadian.shaftAngleRad = 1;
    return {{"name", set.name},
            {"cut", name(set.cut)},
            {"cut_words", text(wordFor(set.cut))},
            {"even_height", isEvenHeight(contact)},
            {"face_width_mm", set.faceWidthMm},
            {"no_move_mm", kNoMoveMm},
            {"limits_backlash_mm", toJson(set.limits.backlashMm)},
            {"acceptance",
             {{"toe_heel", toJson(rule.toeHeel)},
              {"root_tip", toJson(rule.rootTip)},
              {"length", toJson(rule.length)},
              {"may_run_off", rule.mayRunOff}}},
            {"backlash_rates",
             {{"per_ring_move", rates.perRingMove},
              {"per_depth", rates.perDepth},
              {"per_offset", rates.perOffset},
              {"per_shaft_angle", contact.backlashChangeMm(oneRadian)}}},
            {"modification", {{"drive", toJson(set.modification[0])}, {"coast", toJson(set.modification[1])}}},
            {"rates",
             {{"drive", toJson(contact.flankRates(Side::Drive))}, {"coast", toJson(contact.flankRates(Side::Coast))}}}};
}

namespace {

/// The ids of entries that stand in quotes in a script: "page.more".
std::set<std::string_view> idsIn(std::string_view code) {
    constexpr std::string_view kOfIds = "abcdefghijklmnopqrstuvwxyz0123456789.-";
    std::set<std::string_view> ids;
    for (std::size_t quote = code.find('"'); quote != std::string_view::npos; quote = code.find('"', quote + 1)) {
        const std::size_t end = code.find_first_not_of(kOfIds, quote + 1);
        if (end != std::string_view::npos && code[end] == '"') ids.insert(code.substr(quote + 1, end - quote - 1));
    }
    return ids;
}

/// Entries of the table of words with the function that fills them.
template <typename Wanted>
std::string sayScript(const Wanted& wanted, std::string_view before = "") {
    nlohmann::ordered_json table = nlohmann::ordered_json::object();
    for (const WordEntry& entry : wordTable())
        if (wanted(entry.id)) table[std::string(entry.id)] = std::string(entry.text);
    return "const TABLE = " + table.dump() + ";\n" + std::string(before) + R"js(function say(id, ...values) {
    if (!(id in TABLE)) throw new Error(`no words for ${id}`);
    return TABLE[id].replace(/\{(\d)\}/g, (_, place) => values[place]);
}
)js";
}

}  // namespace

std::string wordsModule(std::string_view usedIn) {
    const std::set<std::string_view> used = idsIn(usedIn);
    return sayScript(
        [&](std::string_view id) {
            return used.contains(id) || (usedIn.empty() && (id.starts_with("page.") || id.starts_with("common.")));
        },
        "export ");
}

std::string wordsScript(std::string_view usedIn) {
    const std::set<std::string_view> used = idsIn(usedIn);
    return "var lessonWords = (() => {\n" + sayScript([&](std::string_view id) { return used.contains(id); }) +
           "return { say };\n})();\n";
}

Html inWords(std::string_view frame) {
    constexpr std::string_view kOpen = "{{", kClose = "}}";
    Html html;
    std::size_t at = 0;
    for (std::size_t open = frame.find(kOpen); open != std::string_view::npos; open = frame.find(kOpen, at)) {
        const std::size_t close = frame.find(kClose, open);
        check(close != std::string_view::npos, "a place for words that does not end");
        html += Html::markup(frame.substr(at, open - at)) + say(frame.substr(open + 2, close - open - 2));
        at = close + kClose.size();
    }
    return html + Html::markup(frame.substr(at));
}

Html dataScript(std::string_view id, std::string_view scriptJson) {
    return Html("<script type=\"application/json\" id=\"") + id + "\">" + Html::markup(scriptJson) + "</script>\n";
}

std::string scriptJson(const json& data) {
    std::string text = data.dump(-1, ' ', true, json::error_handler_t::replace);
    for (std::size_t at = 0; (at = text.find('<', at)) != std::string::npos; at += 6) text.replace(at, 1, "\\u003c");
    return text;
}

}  // namespace shimsight::lesson
