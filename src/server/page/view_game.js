// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// The set-up game at the bench: from an unknown error to a good setting. Its pages are game_run.js.
import { h } from "./dom.js";
import * as api from "./api.js";
import { gameRunView } from "./game_run.js";
import { choice, form, numberField } from "./fields.js";
import { drawnSeed, picker, remembered } from "./training_server.js";
import { BENCH } from "./view_training.js";
import { say } from "./words.js";

const memory = remembered("shimsight-game");
let game = memory.last;
function keep(next) {
    game = next;
    memory.keep(next);
}

const view = (one) =>
    api.post("/api/training/game", {
        seed: one.seed,
        level: one.level,
        moves: one.moves,
        ...(one.set ? { set: one.set } : {}),
        ...(one.verdict ? { verdict: one.verdict } : {}),
    });

async function startView(refresh) {
    const all = await api.get("/api/training");
    const level = choice({
        label: say("page.level"),
        value: "3",
        tall: true,
        options: all.levels.slice(0, all.game_levels).map((one) => [String(one.level), `${one.level}: ${one.words}`]),
    });
    const set = picker({
        label: say("page.gear-set"),
        options: [["", say("page.one-programs-own")], ...all.sets.map((one) => [one.id, one.name])],
        value: "",
    });
    const seed = numberField({
        label: say("page.number-game"),
        whole: true,
        hint: say("page.same-number-starts-same"),
    });
    return {
        title: say("page.set-up-game"),
        back: BENCH,
        body: [
            h("h1", {}, say("page.set-up-game")),
            h("p", {}, say("page.somebody-put-axle-together")),
            form({
                fields: [
                    level.element,
                    h("details", {}, h("summary", {}, say("page.gear-set-same-game")), set.element, seed.element),
                ],
                button: say("page.begin"),
                busyWords: say("page.building-up"),
                async send() {
                    const number = seed.read();
                    if (number !== null && (number < 0 || number > 1e9))
                        throw new Error(say("page.number-game-whole-number"));
                    const next = {
                        seed: number ?? drawnSeed(),
                        level: Number(level.read()),
                        set: set.read(),
                        moves: [],
                        verdict: null,
                        draft: { deeper: 0, more: 0 },
                    };
                    await view(next);
                    keep(next);
                    await refresh();
                },
            }),
        ],
    };
}

export function gameView(refresh) {
    if (!game) return startView(refresh);
    return gameRunView(game, { view, keep, refresh, back: BENCH, startsAnew: true });
}
