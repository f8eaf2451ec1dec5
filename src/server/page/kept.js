// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// What was answered last can be read without a connection: a copy stays in the browser.
import { note } from "./dom.js";
import * as api from "./api.js";
import * as store from "./store.js";
import * as units from "./units.js";
import { say } from "./words.js";

/// With a copy at hand nobody waits long for the shop computer.
const KEPT_TRIES = 2;

/// What `ask(tries)` gives, kept under `key`, as {answer, keptAt}; without a connection what it gave last, and when.
export async function orKept(key, ask) {
    const kept = await store.get("drafts", key);
    try {
        const answer = await ask(kept ? KEPT_TRIES : undefined);
        store.put("drafts", key, { answer, at: new Date().toISOString() });
        return { answer, keptAt: null };
    } catch (problem) {
        if (problem.status !== 0 || !kept?.answer) throw problem;
        return { answer: kept.answer, keptAt: kept.at };
    }
}
export const getOrKept = (path) => orKept(`kept${path}`, (tries) => api.get(path, tries));

/// That a page is a copy; null where it is not.
export const keptNote = (keptAt) => (keptAt ? note("warn", say("page.kept-copy", units.when(keptAt))) : null);
