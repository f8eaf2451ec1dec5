// Drill and game in a page of one file that asks for nothing outside: the program put every question in it, with what
// every answer gets. Nothing is marked here, it is looked up; only the mark after a change is drawn by contact.js.
import { h, rewrite } from "./dom.js";
import { beforeUnitTurn } from "./fields.js";
import * as units from "./units.js";
import { begun, runView } from "./drill_run.js";
import { gameRunView } from "./game_run.js";
import { SIDES } from "./training_parts.js";
import { say } from "./words.js";

const data = JSON.parse(document.getElementById("training-data").textContent);
const { contact, flankCanvas } = window;

// Marks ---------------------------------------------------------------------------------------------------------------

/// The set of a model with its flanks ready for contact.js.
function setOf(model) {
    const set = data.sets[model.set];
    set.flank ??= Object.fromEntries(SIDES.map(([side]) => [side, contact.flank(set.rates[side])]));
    return set;
}

/// The set-up error after so much depth and backlash.
const errorAfter = (model, deeper, more) =>
    model.error.map((value, i) => value + deeper * model.per_deeper[i] + more * model.per_more[i]);

/// The marks of a set-up on canvases; `told`: with their middle, where it should lie and the way it came.
function marksAt(model, error, asked, told) {
    const set = setOf(model),
        drawn = {};
    for (const [side, title] of SIDES.filter(([one]) => asked[one])) {
        const separation = contact.separation(set.flank[side], error, model.modification[side]).slice();
        const canvas = h("canvas", { width: 656, height: 310, role: "img", "aria-label": title });
        const pattern = contact.pattern(separation.map((gap) => contact.mark(gap, model.film_mm)));
        const from = told?.[side];
        flankCanvas.draw(canvas, {
            separation,
            filmMm: model.film_mm,
            even: set.even_height,
            pattern: told && pattern,
            zone: told && set.acceptance,
            trail: pattern && from ? [from, [pattern.toeHeel, pattern.rootTip]] : [],
        });
        drawn[side] = canvas;
    }
    return drawn;
}

// The drill -----------------------------------------------------------------------------------------------------------

const sentences = (table, places) => places.map((place) => table[place]);
/// Where a slider stands in a table that has its middle in the middle.
const place = (list, mm, step) => Math.round(mm / step) + (list.length - 1) / 2;

/// What the program says of a correction: [points, ended, lesson, sentences...], and the correction in words.
function corrected(one, body) {
    const { steps_mm } = one.question;
    if (body.check !== undefined) return [one.corrections.checks[body.check], one.question.story.checks[body.check]];
    if (body.remedy !== "change") return [one.corrections[body.remedy], one.correction_words[body.remedy]];
    const depth = body.thicker_mm ?? body.deeper_mm;
    const row = place(one.corrections.changes, depth, steps_mm.depth);
    const column = place(one.corrections.changes[row], body.more_backlash_mm, steps_mm.backlash);
    const words = [one.correction_words.depth[row], one.correction_words.backlash[column]].filter(Boolean);
    return [one.corrections.changes[row][column], words.join(", ")];
}

function marked(one, body) {
    const told = { marked: true, kept: false, of: 10, place_points: 0, words: [] };
    let placesRight = true;
    for (const [side] of SIDES.filter(([key]) => one.question.asked[key])) {
        const [points, wrong] = one.places[side].answers[`${body[side].along},${body[side].up}`];
        told.place_points += points;
        if (!wrong) continue;
        placesRight = false;
        told.words.push(one.places[side].words);
    }
    const [[points, ended, lesson, ...words], correction] = corrected(one, body);
    const toRead = lesson >= 0 ? lesson : placesRight ? -1 : data.lessons.length - 1;
    told.words.push(...sentences(one.sentences, words));
    if (toRead >= 0) told.words.push(data.lessons[toRead].words);
    told.words.push(...one.told);
    return Object.assign(told, {
        correction_points: points,
        points: told.place_points + points,
        ended: ended === 1,
        correction,
        truth: one.truth,
        now: one.now,
        lesson: toRead >= 0 ? data.lessons[toRead] : null,
        backlash_after_mm: body.remedy === "change" ? one.question.backlash_mm + body.more_backlash_mm : null,
    });
}

function after(run, one, body) {
    if (body.remedy !== "change") return null;
    const { model, question } = data.questions[run.number - 1];
    const deeper = body.deeper_mm ?? body.thicker_mm * model.deeper_per_thicker;
    return marksAt(model, errorAfter(model, deeper, body.more_backlash_mm), question.asked, model.middle);
}

/// The same columns as shimsight lesson scores --csv.
function csv(run, name) {
    const field = (value) => {
        let text = String(value ?? "");
        if (/^[=+\-@\t\r]/.test(text)) text = `'${text}`;
        return /[",\n\r]/.test(text) ? `"${text.replace(/"/g, '""')}"` : text;
    };
    const lines = run.done.map((done) => {
        const { question } = data.questions[done.number_in_page - 1];
        const seen = (side) =>
            done.body[side] ? `${done.body[side].along}, ${done.body[side].up}` : say("page.not-asked");
        const known = [name, run.at, data.seed, data.level, question.number, question.axle, question.trial];
        const said = [question.gear_set, done.truth, seen("drive"), seen("coast"), done.correction];
        return [...known, ...said, done.place_points, done.correction_points, done.points, done.of];
    });
    return [data.csv_head, ...lines.map((line) => line.map(field).join(","))].join("\n") + "\n";
}

function saved(run) {
    const name = h("input", { type: "text", id: "name", maxlength: 60, autocomplete: "name" });
    const save = () => {
        const url = URL.createObjectURL(new Blob([csv(run, name.value)], { type: "text/csv" }));
        h("a", { href: url, download: "drill.csv" }).click();
        setTimeout(() => URL.revokeObjectURL(url), 1000);
    };
    return [
        h("div", { class: "field" }, h("label", { for: "name" }, say("page.name-on-table")), name),
        h("button", { class: "act less", type: "button", onclick: save }, say("page.save-table-csv")),
    ];
}

const drillSource = {
    question: (run) => data.questions[run.number - 1].question,
    photos(run) {
        const { photos } = data.questions[run.number - 1];
        if (!photos) return null;
        return { titles: photos.map((one) => one.words), urls: Promise.resolve(photos.map((one) => one.src)) };
    },
    answer: (run, question, body) => marked(data.questions[run.number - 1], body),
    after,
    ends: (run) => saved(run),
    startsAnew: false,
};

// The game ------------------------------------------------------------------------------------------------------------

function gameView(game) {
    const { model, steps_mm, costs_h, table } = data.game;
    const both = { drive: true, coast: true };
    let deeper = 0,
        more = 0,
        hours = 0;
    const stateNow = (words) => {
        const row = place(table.good, deeper, steps_mm.depth),
            column = place(table.inside, more, steps_mm.backlash);
        if (!(column in table.inside && row in table.good)) throw new Error(say("page.no-shims-that-far"));
        const backlash = data.game.backlash_mm + more;
        return {
            words,
            hours,
            backlash_mm: backlash,
            backlash_inside: table.inside[column] === "1",
            good: table.good[row][column] === "1",
            sketches: backlash > 0 ? marksAt(model, errorAfter(model, deeper, more), both) : null,
        };
    };
    const states = [stateNow("")];
    for (const move of game.moves) {
        deeper += move.deeper_mm;
        more += move.more_backlash_mm;
        const pinion = move.deeper_mm !== 0;
        hours += costs_h.trial + (pinion ? costs_h.pinion_shim : 0) + costs_h.ring_gear;
        const { depth, backlash } = data.game.move_words;
        const words = [
            depth[place(depth, move.deeper_mm, steps_mm.depth)],
            backlash[place(backlash, move.more_backlash_mm, steps_mm.backlash)],
        ];
        states.push(stateNow(words.filter(Boolean).join(", ")));
    }
    const now = states.at(-1);
    const ends = game.verdict ? data.game.ends[game.verdict][game.verdict === "accept" && now.good ? 1 : 0] : null;
    const last = now.backlash_mm > 0 ? marksAt(model, errorAfter(model, deeper, more), both, {}) : null;
    return { ...data.game, states, end: ends && { ...data.game.end, ...ends, last } };
}

// The frame -----------------------------------------------------------------------------------------------------------

const main = document.getElementById("main"),
    unitSwitch = document.getElementById("units");
const newDrill = () =>
    begun({ kind: "drawn", seed: data.seed, level: data.level, questions: data.questions.length, at: timeNow() });
const timeNow = () => `${new Date().toISOString().slice(0, 19)}Z`;
const newGame = () => ({
    seed: data.seed,
    level: data.level,
    moves: [],
    verdict: null,
    draft: { deeper: 0, more: 0 },
});
let run = null;

function keep(next) {
    run = next;
    run?.done?.forEach((done, i) => (done.number_in_page = i + 1));
}

async function refresh() {
    run ??= data.game ? newGame() : newDrill();
    const with_ = { keep, refresh, back: null, startsAnew: false };
    const view = data.game
        ? await gameRunView(run, { ...with_, view: gameView })
        : await runView(run, { ...with_, source: drillSource });
    document.title = view.title;
    main.replaceChildren(
        ...view.body.flat(Infinity).filter((part) => part !== null && part !== undefined && part !== false),
        h("p", { class: "small quiet" }, data.makers_sheet),
    );
    window.scrollTo(0, 0);
    const title = main.querySelector("h1");
    title.setAttribute("tabindex", "-1");
    title.focus({ preventScroll: true });
}

function unitWords() {
    const inch = units.currentUnit() === "in";
    unitSwitch.textContent = inch ? "in" : "mm";
    unitSwitch.setAttribute(
        "aria-label",
        inch ? say("page.lengths-inches-switch-millimetres") : say("page.mm-lengths-millimetres-switch"),
    );
}
unitSwitch.addEventListener("click", async () => {
    const afterTurn = beforeUnitTurn(main);
    units.setUnit(units.currentUnit() === "in" ? "mm" : "in");
    unitWords();
    rewrite(main);
    afterTurn();
    if (!run.told && !(run.number > run.questions)) await refresh();
});
window.matchMedia?.("(prefers-color-scheme: dark)").addEventListener?.("change", () => {
    flankCanvas.readColours();
    refresh();
});
unitWords();
refresh();
