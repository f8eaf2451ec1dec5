// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// What a page on a stick makes of answers and moves: node stick_answers.js PAGE.html WANTED.json
// WANTED: {answers: [{question, body}]} or {games: [{moves}]}. Prints a list, one a wanted.
"use strict";
const fs = require("fs");
const [page, wantedFile] = process.argv.slice(2).map((file) => fs.readFileSync(file, "utf8"));
const data = JSON.parse(/<script type="application\/json" id="training-data">(.*?)<\/script>/s.exec(page)[1]);
const wanted = JSON.parse(wantedFile);
// The page's own modules: those that need no browser.
const part = (name) =>
    new RegExp(`const module_${name}_js = \\(\\(\\) => \\{\\n.*?\\n\\}\\)\\(\\);`, "s").exec(page)[0];
const { graded, gameStates } = new Function(
    `${part("words")}\n${part("stick_lookup")}\nreturn module_stick_lookup_js;`,
)();
const results = wanted.answers
    ? wanted.answers.map(({ question, body }) => {
          const told = graded(data, data.questions[question], body);
          return { ...told, now: null, lesson: told.lesson?.name ?? "" };
      })
    : wanted.games.map((game) => gameStates(data, game));
console.log(JSON.stringify(results));
