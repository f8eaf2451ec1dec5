// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// What an advice asks about: a look settles it, and the answer closes it.
import { h } from "./dom.js";
import * as api from "./api.js";
import { myName } from "./fields.js";
import { say } from "./words.js";

const SUBJECT = {
    "sides-swapped": say("page.side-drive-coast"),
    "wrong-gear-data": say("page.gear-set-file-how"),
    "housing-offset": say("page.housing-bores-bearing-seats"),
    "shaft-angle": say("page.housing-bores-bearing-seats"),
    "mismatched-or-worn": say("page.ring-gear-pinion-matched"),
    "marks-scattered": say("page.preload-play-bearings"),
    "used-gears": say("page.new-gears-not-used"),
    "film-thick": say("page.paste-thin-even-coat"),
    "film-thin": say("page.paste-enough-steady-drag"),
    "entry-change": say("page.shim-change-entered"),
    "entry-backlash": say("page.backlash-entered"),
};
/// The words for a kind of diagnosis, as the record names it.
export const subjectOf = (kind) => SUBJECT[kind] ?? kind;

/// One line with a button for each question of the advice; null: it asks nothing that a look settles.
export function questions(job, advice, refresh) {
    const asked = new Map();
    for (const one of advice?.diagnoses ?? [])
        if (one.question && SUBJECT[one.kind] && !asked.has(SUBJECT[one.kind])) asked.set(SUBJECT[one.kind], one.kind);
    if (asked.size === 0) return null;
    const problem = h("p", { class: "hint bad", role: "alert", hidden: true });
    const line = ([subject, kind]) => {
        const request = api.newId();
        const button = h(
            "button",
            {
                class: "act less",
                type: "button",
                "aria-label": say("page.looked-right", subject),
                async onclick() {
                    problem.hidden = true;
                    button.disabled = true;
                    try {
                        await api.post(
                            `/api/jobs/${encodeURIComponent(job)}/entries/checked`,
                            { kind, by: myName() },
                            request,
                        );
                        await refresh();
                    } catch (fault) {
                        problem.textContent = fault.message;
                        problem.hidden = false;
                        button.disabled = false;
                    }
                },
            },
            say("page.looked-it-is-right"),
        );
        return h("li", {}, h("p", {}, subject), button);
    };
    return h(
        "section",
        { "aria-label": say("page.questions") },
        h("h2", {}, say("page.did-look")),
        h("ul", { class: "plain" }, [...asked].map(line)),
        problem,
    );
}
