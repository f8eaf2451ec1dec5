// Holds the marking of the drill's page to the program: node drill_marking.js PAGE.html ANSWERS.json
// Prints how many answers were marked, and each one that the page marks otherwise.
"use strict";
const fs = require("fs");
const [page, answersFile] = process.argv.slice(2).map((file) => fs.readFileSync(file, "utf8"));
const data = JSON.parse(/<script type="application\/json" id="drill-data">(.*?)<\/script>/s.exec(page)[1]);
const scripts = [...page.matchAll(/<script>\n(.*?)<\/script>/gs)]
    .map((m) => m[1])
    .slice(0, 3)
    .join("\n");
const style = { getPropertyValue: () => "#0b5c94" };
const { contact, flankWords, marking } = new Function(
    "module",
    "document",
    "getComputedStyle",
    scripts + "\nreturn {contact: contact, flankWords: flankWords, marking: marking};",
)({}, {}, () => style);
for (const set of data.sets)
    set.flank = { drive: contact.flank(set.rates.drive), coast: contact.flank(set.rates.coast) };
let count = 0;
const other = [];
for (const one of JSON.parse(answersFile)) {
    const exercise = data.exercises[one.exercise];
    const marked = marking.mark(contact, flankWords, data.sets[exercise.set], exercise, one.answer);
    const words = marked.words.map((text) => text.replace(/\u00a0/g, " "));
    ++count;
    if (
        marked.place !== one.place ||
        marked.correction !== one.correction ||
        marked.ended !== one.ended ||
        JSON.stringify(words) !== JSON.stringify(one.words)
    )
        other.push({ one, marked: { place: marked.place, correction: marked.correction, ended: marked.ended, words } });
}
console.log(JSON.stringify({ count, other }));
