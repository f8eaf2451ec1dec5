// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include <array>
#include <utility>

#include "shimsight/records.h"

namespace shimsight {
namespace {

/// The short words are those of the bench; the long ones are names of diagnoses as the JSON has them.
constexpr std::array kShortWords{std::pair<std::string_view, DiagnosisKind>{"sides", DiagnosisKind::SidesSwapped},
                                 std::pair<std::string_view, DiagnosisKind>{"cut", DiagnosisKind::WrongGearData},
                                 std::pair<std::string_view, DiagnosisKind>{"housing", DiagnosisKind::HousingOffset}};
constexpr std::array kLongWords{
    DiagnosisKind::SidesSwapped, DiagnosisKind::WrongGearData,    DiagnosisKind::HousingOffset,
    DiagnosisKind::ShaftAngle,   DiagnosisKind::MismatchedOrWorn, DiagnosisKind::MarksScattered,
    DiagnosisKind::UsedGears,    DiagnosisKind::FilmThick,        DiagnosisKind::FilmThin,
    DiagnosisKind::EntryChange,  DiagnosisKind::EntryBacklash};

}  // namespace

std::string lookedIntoWords() {
    std::string words;
    for (const auto& [word, kind] : kShortWords) words += (words.empty() ? "" : ", ") + std::string(word);
    for (const DiagnosisKind kind : kLongWords) words += ", " + std::string(name(kind));
    return words;
}

DiagnosisKind parseLookedInto(std::string_view word, std::string_view what) {
    for (const auto& [known, kind] : kShortWords)
        if (word == known) return kind;
    for (const DiagnosisKind kind : kLongWords)
        if (word == name(kind)) return kind;
    if (word == name(DiagnosisKind::Runout)) throw InputError(message("records.runout-by-dial", what));
    throw InputError(message("records.nothing-to-look-into", what, word.substr(0, 40), lookedIntoWords()));
}

std::vector<DiagnosisKind> closedBy(DiagnosisKind lookedInto) {
    if (lookedInto == DiagnosisKind::HousingOffset || lookedInto == DiagnosisKind::ShaftAngle)
        return {DiagnosisKind::HousingOffset, DiagnosisKind::ShaftAngle};
    return {lookedInto};
}

}  // namespace shimsight
