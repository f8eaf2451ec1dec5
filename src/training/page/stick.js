// Drill and game in a page of one file that asks for nothing outside: the program put every question in it, with what
// every answer gets. Nothing is graded here, it is looked up; only the mark after a change is drawn by contact.js.
import { h, rewrite } from "./dom.js";
import { beforeUnitTurn, nameUnits } from "./fields.js";
import * as units from "./units.js";
import { begun, runView } from "./drill_run.js";
import { gameRunView } from "./game_run.js";
import { SIDES } from "./training_parts.js";
import { csv, errorAfter, gameStates, graded } from "./stick_lookup.js";
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
        drawn[side] = h("div", { class: "crop" }, canvas);
    }
    return drawn;
}

// The drill -----------------------------------------------------------------------------------------------------------

function after(run, one, body) {
    if (body.remedy !== "change") return null;
    const { model, question } = data.questions[run.number - 1];
    const deeper = body.deeper_mm ?? body.thicker_mm * model.deeper_per_thicker;
    return marksAt(model, errorAfter(model, deeper, body.more_backlash_mm), question.asked, model.middle);
}

function saved(run) {
    const name = h("input", { type: "text", id: "name", maxlength: 60, autocomplete: "name" });
    const save = () => {
        const url = URL.createObjectURL(new Blob([csv(data, run, name.value)], { type: "text/csv" }));
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
    answer: (run, question, body) => graded(data, data.questions[run.number - 1], body),
    after,
    ends: (run) => saved(run),
    startsAnew: false,
};

// The game ------------------------------------------------------------------------------------------------------------

function gameView(game) {
    const { model } = data.game,
        both = { drive: true, coast: true };
    // Nothing rolls without play, so there is no mark to see.
    const marksOf = (state, told) => (state.backlash_mm > 0 ? marksAt(model, state.error, both, told) : null);
    const states = gameStates(data, game).map((state) => ({ ...state, sketches: marksOf(state) }));
    const now = states.at(-1);
    const ends = game.verdict && data.game.ends[game.verdict][game.verdict === "accept" && now.good ? 1 : 0];
    return { ...data.game, states, end: ends ? { ...data.game.end, ...ends, last: marksOf(now, {}) } : null };
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
    run?.done?.forEach((done, i) => (done.place = i));
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

unitSwitch.addEventListener("click", async () => {
    const afterTurn = beforeUnitTurn(main);
    units.setUnit(units.currentUnit() === "in" ? "mm" : "in");
    nameUnits(unitSwitch);
    rewrite(main);
    afterTurn();
    if (!run.told && !(run.number > run.questions)) await refresh();
});
window.matchMedia?.("(prefers-color-scheme: dark)").addEventListener?.("change", () => {
    flankCanvas.readColours();
    refresh();
});
nameUnits(unitSwitch);
refresh();
