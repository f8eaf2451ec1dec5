// Holds the game's page to the program: node game_numbers.js PAGE.html MOVES.json
// Makes the moves one after the other and prints cost, backlash and goodness after each.
"use strict";
const fs = require("fs");
const [page, movesFile] = process.argv.slice(2).map((file) => fs.readFileSync(file, "utf8"));
const data = JSON.parse(/<script type="application\/json" id="game-data">(.*?)<\/script>/s.exec(page)[1]);
const scripts = [...page.matchAll(/<script>\n(.*?)<\/script>/gs)]
    .map((m) => m[1])
    .slice(0, 3)
    .join("\n");
const style = { getPropertyValue: () => "#0b5c94" };
const { contact, marking } = new Function(
    "module",
    "document",
    "getComputedStyle",
    scripts + "\nreturn {contact: contact, marking: marking};",
)({}, {}, () => style);
data.set.flank = { drive: contact.flank(data.set.rates.drive), coast: contact.flank(data.set.rates.coast) };
let error = data.exercise.error;
console.log(
    JSON.stringify(
        JSON.parse(movesFile).map((move) => {
            error = marking.moved(data.set, error, move);
            return {
                hours: marking.hours(data.costs, move),
                backlash: marking.backlash(data.set, error),
                goodness: marking.goodness(contact, data.set, data.exercise, error),
            };
        }),
    ),
);
