// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// How a page on a stick words lengths: node stick_lengths.js PAGE.html LENGTHS.json
// LENGTHS: millimetres. Prints the unit that the page begins with, on a device on which nobody chose one, and for each
// length {mm, inches, lesson, typed, size}: both units with millimetres first, with inches first, as its figures word it, as
// a field has it, and as the size of a part.
"use strict";
const fs = require("fs");
const [page, lengthsFile] = process.argv.slice(2).map((file) => fs.readFileSync(file, "utf8"));
const part = (name) =>
    new RegExp(`const module_${name}_js = \\(\\(\\) => \\{\\n.*?\\n\\}\\)\\(\\);`, "s").exec(page)[0];
const kept = {};
global.localStorage = { getItem: (key) => kept[key] ?? null, setItem: (key, value) => (kept[key] = value) };
global.document = { documentElement: { dataset: { units: /<html [^>]*data-units="([a-z]+)"/.exec(page)[1] } } };
const units = new Function(`${part("words")}\n${part("lengths")}\n${part("units")}\nreturn module_units_js;`)();
const ofFigures = new Function(`${/var lengths = .*?\n\}\)\(\);/s.exec(page)[0]}\nreturn lengths;`)();
const begins = units.currentUnit();
const lengths = JSON.parse(lengthsFile);
units.setUnit("mm");
const metricFirst = lengths.map((mm) => [
    units.bothNow(mm),
    units.turned("Take out 0.12 mm (about 0.005 in), not 0.004 in (0.10 mm)."),
]);
units.setUnit("in");
const told = lengths.map((mm, i) => ({
    mm: metricFirst[i][0],
    inches: units.bothNow(mm),
    lesson: ofFigures.lengthWords(mm, "both"),
    typed: units.typedLength(mm),
    size: units.spelled(units.bothSizes(mm)),
}));
console.log(
    JSON.stringify({
        begins,
        told,
        sentence: [metricFirst[0][1], units.turned("Take out 0.12 mm (about 0.005 in), not 0.004 in (0.10 mm).")],
    }),
);
