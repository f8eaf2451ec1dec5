// The set-up game: from an unknown error to a good setting, every change costs hours at the bench.
import { bar, h, note } from "./dom.js";
import * as api from "./api.js";
import * as units from "./units.js";
import { choice, form, numberField } from "./fields.js";
import { changeSliders, drawnSeed, facts, isMove, moveSentence, pair, picker, remembered } from "./training_parts.js";
import { BENCH } from "./view_training.js";

const memory = remembered("shimsight-game");
let game = memory.last;
function keep(next) {
    game = next;
    memory.keep(next);
}

const hours = (value) => `${value.toFixed(2)}\u00a0h`;
const JAMMED = "No backlash: the teeth are jammed. Do not turn them; give more backlash.";
const ask = (one) => api.post("/api/training/game", { seed: one.seed, level: one.level, moves: one.moves, ...(one.set ? { set: one.set } : {}), ...(one.verdict ? { verdict: one.verdict } : {}) });

async function startView(refresh) {
    const all = await api.get("/api/training");
    const level = choice({ label: "Level", value: "3", tall: true, options: all.levels.map((one) => [String(one.level), `${one.level}: ${one.words}`]) });
    const set = picker({ label: "Gear set", options: [["", "one of the program's own"], ...all.sets.map((one) => [one.id, one.name])], value: "" });
    const seed = numberField({ label: "Number of the game", whole: true, hint: "The same number starts from the same error. Empty: drawn." });
    return {
        title: "Set-up game", back: BENCH,
        body: [h("h1", {}, "Set-up game"), h("p", {}, "Somebody put this axle together in a hurry. Bring both marks and the backlash into the rule with as few bench hours as you can, and see how Shimsight would have gone."),
            form({ fields: [level.element, h("details", {}, h("summary", {}, "Gear set, same game for all"), set.element, seed.element)], button: "Begin", busyWords: "Building it up\u2026", async send() {
                const number = seed.read();
                if (number !== null && (number < 0 || number > 1e9)) throw new Error("Number of the game: a whole number up to 1000000000.");
                const next = { seed: number ?? drawnSeed(), level: Number(level.read()), set: set.read(), moves: [], verdict: null, draft: { deeper: 0, more: 0 } };
                await ask(next);
                keep(next);
                await refresh();
            } })],
    };
}

const mm = (value) => Math.round(value * 1e4) / 1e4;

function stepLines(states) {
    return h("ol", { class: "steps" }, states.map((state, i) => h("li", { class: i + 1 === states.length ? "next" : "done" }, h("span", { class: "dot", "aria-hidden": "true" }, i || "\u2013"),
        h("div", {}, h("strong", {}, i === 0 ? "As it came" : moveSentence(state.words)), h("div", { class: "small quiet" }, `${state.backlash_mm > 0 ? `Backlash ${units.bothLengths(state.backlash_mm)}${state.backlash_inside ? "" : ", outside its limits"}` : "No backlash, jammed"}; ${hours(state.hours)} so far`)))));
}

export async function gameView(refresh) {
    if (!game) return startView(refresh);
    const view = await ask(game);
    const now = view.states.at(-1), before = view.states.at(-2);
    if (view.end) return endView(view, refresh);
    const problem = h("div", { class: "note bad", role: "alert", hidden: true });
    const turn = async (next) => {
        problem.hidden = true;
        try {
            await ask(next);
            keep(next);
            await refresh();
        } catch (fault) {
            problem.textContent = fault.message;
            problem.hidden = false;
        }
    };
    const price = h("p", { class: "quiet small" });
    const tell = () => {
        keep(game);
        const { deeper, more } = game.draft, cost = view.costs_h;
        const sum = cost.trial + (deeper ? cost.pinion_shim : 0) + (deeper || more ? cost.ring_gear : 0);
        price.textContent = isMove(game.draft) ? `This change: ${hours(sum)}.` : `Setting, painting and rolling again: ${hours(cost.trial)}. A pinion shim: ${hours(cost.pinion_shim)} more, a move of the ring gear ${hours(cost.ring_gear)}.`;
        make.disabled = !isMove(game.draft);
    };
    const left = view.most_moves - game.moves.length;
    const make = h("button", { class: "act first", type: "button", onclick: () => turn({ ...game, moves: [...game.moves, { deeper_mm: mm(game.draft.deeper), more_backlash_mm: mm(game.draft.more) }], draft: { deeper: 0, more: 0 } }) }, "Make this change");
    tell();
    return {
        title: "Set-up game", back: BENCH, wide: true,
        body: [h("h1", {}, game.moves.length ? `After ${game.moves.length === 1 ? "1 change" : `${game.moves.length} changes`}: ${hours(now.hours)}` : "As it came"), h("p", { class: "quiet small" }, `Level ${game.level}: ${view.level_words}`),
            facts({ ...view, backlash_mm: now.backlash_mm }), now.backlash_inside ? null : note("warn", now.backlash_mm > 0 ? "The backlash is outside its limits." : JAMMED),
            h("div", { class: "spread" },
                h("div", {}, h("h2", {}, "The marks now"), pair(now.sketches), before ? h("details", {}, h("summary", {}, "The marks before"), pair(before.sketches)) : null),
                h("div", {}, left > 0 ? h("section", { class: "sheet", "aria-label": "Change" }, h("h2", {}, "Your change"), changeSliders(game.draft, tell), price) : note("", "No change is left: say what it is now."), problem,
                    h("div", { class: "row" }, h("button", { class: "act less", type: "button", onclick: () => turn({ ...game, verdict: "accept" }) }, "Leave it, it is good"), h("button", { class: "act less", type: "button", onclick: () => turn({ ...game, verdict: "no-shim" }) }, "No shim will help")),
                    game.moves.length ? [h("h2", {}, "Your way"), stepLines(view.states)] : null)),
            h("p", {}, h("button", { class: "act less", type: "button", async onclick() { keep(null); await refresh(); } }, "End the game")),
            left > 0 ? bar(make) : null],
    };
}

function endView(view, refresh) {
    const { end } = view, now = view.states.at(-1);
    const advised = end.advised.steps;
    return {
        title: "Set-up game, the end", back: BENCH, wide: true,
        body: [h("h1", {}, end.sentence), note(end.good ? "good" : "warn", h("p", {}, `You needed ${hours(now.hours)}; Shimsight, from the same start and seeing only the marks and the dial, ${hours(end.advised.hours)}.`), h("p", {}, end.truth === "accept" ? "At the start it was good already." : end.truth === "no shim will help" ? "From the start, no shim could have helped." : `From the start, this would have set it right in one step: ${end.truth}.`)),
            h("div", { class: "spread" },
                h("div", {}, h("h2", {}, "Your way"), stepLines(view.states), pair(end.last)),
                h("div", {}, h("h2", {}, "Shimsight's way"), stepLines([{ ...view.states[0] }, ...advised.map((one) => ({ ...one, words: `${one.words}, with a chance of ${units.percent(one.chance)} for a good pattern` }))]), advised.length ? pair(advised.at(-1).sketches) : null, h("p", {}, end.advised.sentence))),
            h("p", { class: "legend" }, "Dashed box: where the middle of the mark should lie."), h("p", { class: "small quiet" }, `Level ${game.level}, number ${game.seed}: the same number starts from the same error.`),
            bar(h("button", { class: "act first", type: "button", async onclick() { keep(null); await refresh(); } }, "New game"))],
    };
}
