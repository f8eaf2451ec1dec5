#!/usr/bin/env python3
# SPDX-FileCopyrightText: 2026 Shimsight developers
# SPDX-License-Identifier: MIT
"""How hard and how long each lesson is to read.

Usage: lesson_reading.py [ROOT]

Grade: Flesch-Kincaid grade level, 0.39 words/sentences + 11.8 syllables/words - 15.59 (Kincaid et al. 1975, US Navy
Research Branch Report 8-75; constants from memory). Reading age is the grade and five years. Syllables are counted by groups of
vowels, which is near enough for a mean (a silent e is left out); trade words count as any other.
Minutes: 200 words a minute for text (common practice, no source), half a minute for each figure, one for each to try.
The grade is that of paragraphs, lists and cautions. Tables, headings and captions are no sentences: they count for the minutes.
Situations, claims and sources count for neither.
"""

import pathlib
import re
import sys

WORDS_PER_MINUTE, FIGURE_MINUTES, TRY_MINUTES = 200, 0.5, 1.0


def syllables(word):
    word = re.sub(r"[^a-z]", "", word.lower())
    if not word:
        return 1
    groups = len(re.findall(r"[aeiouy]+", word))
    if word.endswith("e") and not word.endswith("le") and groups > 1:
        groups -= 1
    return max(groups, 1)


def parts(markdown):
    """(running text, other text, figures, figures to try) of a lesson, the texts as lists of lines."""
    running, other, figures, tries, fence = [], [], 0, 0, None
    for line in markdown.splitlines():
        if line.startswith("```"):
            fence = line[3:].strip() if fence is None else None
            continue
        if fence in ("figure", "try"):
            figures += fence == "figure"
            tries += fence == "try"
            other.append(line.split("|", 1)[1].strip())
        elif fence == "caution" or fence is None:
            clean = re.sub(r"^\s*(-|\d+\.)\s", "", line).replace("*", "").replace("`", "").strip()
            if clean.startswith(("|", "#")):
                other.append(re.sub(r"[|#]|---", " ", clean))
            elif clean:
                running.append(clean)
    return running, other, figures, tries


def wordsOf(texts):
    # A length in both units is read as one.
    unit = r" \([0-9][0-9.,]*(?: to [0-9.,]+| and [0-9.,]+)? (?:mm|m|Nm|kg|bar|km/h|km)\)"
    return [word for one in texts for word in re.findall(r"[A-Za-z][A-Za-z'-]*|\d[\d.,]*", re.sub(unit, "", one))]


def measured(markdown):
    running, other, figures, tries = parts(markdown)
    sentences = sum(max(len(re.findall(r"[.!?](?:\s|$)", one)), 1) for one in running)
    words = wordsOf(running)
    grade = 0.39 * len(words) / sentences + 11.8 * sum(map(syllables, words)) / len(words) - 15.59
    read = len(words) + len(wordsOf(other))
    minutes = read / WORDS_PER_MINUTE + FIGURE_MINUTES * figures + TRY_MINUTES * tries
    return read, len(words) / sentences, grade, minutes


def table(root):
    order = re.search(r"to_array<std::string_view>\(\s*\{(.*?)\}\)", (root / "src/lesson/parts.cpp").read_text(), re.S).group(1)
    rows, total = ["| lesson | words | words a sentence | grade | reading age | minutes |", "|---|---|---|---|---|---|"], 0
    for name in re.findall(r'"([a-z-]+)"', order):
        words, perSentence, grade, minutes = measured((root / f"src/lesson/text/{name}.md").read_text(encoding="utf-8"))
        rows.append(f"| {name} | {words} | {perSentence:.1f} | {grade:.1f} | {grade + 5:.0f} | {minutes:.0f} |")
        total += minutes
    return "\n".join(rows) + f"\n\nAll lessons: {total:.0f} minutes.\n"


if __name__ == "__main__":
    given = [word for word in sys.argv[1:] if not word.startswith("--")]
    root = pathlib.Path(given[0]) if given else pathlib.Path(__file__).resolve().parent.parent
    print(table(root), end="")
