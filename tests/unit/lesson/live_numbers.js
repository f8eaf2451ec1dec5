// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// Holds the live tooth's JavaScript to the C++ engine: node live_numbers.js PAGE.html CASES.json
// Takes the page apart as a browser would, evaluates each case, and prints the largest differences as JSON.
"use strict";
const fs = require("fs");
const [page, casesFile] = process.argv.slice(2).map((file) => fs.readFileSync(file, "utf8"));
const data = JSON.parse(/<script type="application\/json" id="live-data">(.*?)<\/script>/s.exec(page)[1]);
const code = [...page.matchAll(/<script>\n(.*?)<\/script>/gs)]
    .map((m) => m[1])
    .find((c) => c.includes("var contact = "));
const contact = new Function("module", code + "\nreturn contact;")({});

const flanks = data.sets.map((set) => ({
    drive: contact.flank(set.rates.drive),
    coast: contact.flank(set.rates.coast),
}));
const most = { toe_heel: 0, root_tip: 0, length: 0, area: 0 };
let cases = 0,
    marked = 0,
    disagree = 0;
const begin = process.hrtime.bigint();
for (const one of JSON.parse(casesFile)) {
    const p = contact.pattern(contact.predict(flanks[one.set][one.side], one.error, one.modification, one.film_mm));
    ++cases;
    if (!p !== !one.pattern) ++disagree;
    if (!p || !one.pattern) continue;
    ++marked;
    for (const [name, value] of [
        ["toe_heel", p.toeHeel],
        ["root_tip", p.rootTip],
        ["length", p.length],
        ["area", p.area],
    ])
        most[name] = Math.max(most[name], Math.abs(value - one.pattern[name]));
    for (const edge of ["toe", "heel", "tip", "root"]) if (p.off[edge] !== one.pattern.off[edge]) ++disagree;
}
const ms = Number(process.hrtime.bigint() - begin) / 1e6 / cases;
console.log(JSON.stringify({ cases, marked, disagree, most, ms_each: ms }));
