// What an advice asks about: a look settles it, and the answer closes it.
import { h } from "./dom.js";
import * as api from "./api.js";
import { myName } from "./fields.js";

const SUBJECT = {
    "sides-swapped": "Which side is drive and which is coast",
    "wrong-gear-data": "The gear-set file: how the teeth are cut, counts, hand",
    "housing-offset": "The housing: bores, bearing seats, pinion support",
    "shaft-angle": "The housing: bores, bearing seats, pinion support",
    "mismatched-or-worn": "Ring gear and pinion: a matched pair, teeth unworn",
    "marks-scattered": "Preload and play of the bearings",
    "used-gears": "New gears, not used ones",
    "film-thick": "The paste: a thin, even coat",
    "film-thin": "The paste: enough of it, and a steady drag",
    "entry-change": "The shim change as it was entered",
    "entry-backlash": "The backlash as it was entered",
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
        const button = h("button", { class: "act less", type: "button", "aria-label": `${subject}. Looked: it is right`, async onclick() {
            problem.hidden = true;
            button.disabled = true;
            try {
                await api.post(`/api/jobs/${encodeURIComponent(job)}/entries/checked`, { kind, by: myName() }, request);
                await refresh();
            } catch (fault) {
                problem.textContent = fault.message;
                problem.hidden = false;
                button.disabled = false;
            }
        } }, "Looked: it is right");
        return h("li", {}, h("p", {}, subject), button);
    };
    return h("section", { "aria-label": "Questions" }, h("h2", {}, "Did you look?"), h("ul", { class: "plain" }, [...asked].map(line)), problem);
}
