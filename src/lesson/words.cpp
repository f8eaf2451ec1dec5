// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "shimsight/words.h"

#include <algorithm>
#include <cmath>

#include "shimsight/advice_words.h"
#include "shimsight/core.h"
#include "shimsight/lesson.h"
#include "shimsight/text.h"

namespace shimsight {

std::string makersSheet() { return say("lesson.makers-sheet"); }

std::string placeWords(const std::optional<Pattern>& pattern) {
    if (!pattern) return say("common.no-mark");
    const bool lengthCentre = pattern->lengthPosition() == LengthPosition::Centre;
    const bool depthCentre = pattern->depthPosition() == DepthPosition::Centre;
    if (lengthCentre && depthCentre) return say("common.centre");
    std::string up = say(pattern->depthPosition() == DepthPosition::Face ? "common.face" : "common.flank");
    if (lengthCentre) return up;
    const std::string along = placeAlong(*pattern);
    return depthCentre ? along : along + ", " + up;
}

std::string wayWords(const Pattern& from, const Pattern& to) {
    constexpr double kHardly = 0.02;  // well above the model's own error
    const double along = to.toeHeel - from.toeHeel, up = to.rootTip - from.rootTip;
    const std::string length = say(along > 0 ? "lesson.the-heel" : "lesson.the-toe"),
                      height = say(up > 0 ? "lesson.the-tip" : "lesson.the-root");
    if (std::abs(along) < kHardly && std::abs(up) < kHardly) return say("lesson.hardly-moves");
    if (std::abs(along) < kHardly) return say("lesson.toward", height);
    if (std::abs(up) < kHardly) return say("lesson.toward", length);
    return say("lesson.toward-both", length, height);
}

std::string moveWords(const BenchMove& move) {
    std::string words;
    if (std::abs(move.deeperMm) > kNoMoveMm)
        words = say(move.deeperMm > 0 ? "lesson.deeper-by" : "lesson.shallower-by", lengthWords(move.deeperMm));
    if (std::abs(move.moreBacklashMm) > kNoMoveMm)
        words += (words.empty() ? "" : ", ") +
                 say(move.moreBacklashMm > 0 ? "lesson.more-backlash-by" : "lesson.less-backlash-by",
                     lengthWords(move.moreBacklashMm));
    return words.empty() ? say("lesson.no-change") : words;
}

std::string characterFlanks(std::span<const CharacterFlank> flanks) {
    constexpr int kColumns = 28, kRows = 7, kSide = 5;
    constexpr std::size_t kWide = kColumns + 2 + 2 * kSide;
    const auto padded = [](std::string text, std::size_t width) {
        text.resize(std::max(width, text.size()), ' ');
        return text;
    };
    const auto centred = [&](const std::string& text) {
        return padded(std::string(text.size() < kWide ? (kWide - text.size()) / 2 : 0, ' ') + text, kWide);
    };
    std::vector<std::string> lines(kRows + 5);
    for (const CharacterFlank& flank : flanks) {
        std::size_t k = 0;
        const auto add = [&](const std::string& text) { lines[k++] += padded(text, kWide); };
        const std::string rim = std::string(kSide, ' ') + "+" + std::string(kColumns, '-') + "+";
        add(centred(flank.title.substr(0, kWide - 2)));
        add(centred(say("common.tip")));
        add(rim);
        for (int row = 0; row < kRows; ++row) {
            std::string cells;
            for (int column = 0; column < kColumns; ++column) {
                double sum = 0;
                int count = 0;
                for (int y = row * kMapHeight / kRows; y < (row + 1) * kMapHeight / kRows; ++y)
                    for (int x = column * kMapWidth / kColumns; x < (column + 1) * kMapWidth / kColumns; ++x, ++count)
                        sum += flank.map->at(x, y);
                const double share = sum / (255.0 * count);
                cells += share > 0.7 ? '#' : share > 0.35 ? '=' : share > 0.08 ? '.' : ' ';
            }
            const bool middle = row == kRows / 2;
            add(padded(middle ? " " + say("common.toe") : "", kSide) + "|" + cells + "|" +
                (middle ? " " + say("common.heel") : ""));
        }
        add(rim);
        add(centred(say("common.root")));
    }
    std::string text;
    for (std::string& line : lines) {
        while (!line.empty() && line.back() == ' ') line.pop_back();
        if (!line.empty()) text += line + "\n";
    }
    return text;
}

}  // namespace shimsight
