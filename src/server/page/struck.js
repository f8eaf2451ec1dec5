// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// Striking an entry out, and letting it count again.
import * as api from "./api.js";
import { myName } from "./fields.js";
import { offerUndo } from "./undo.js";
import { say } from "./words.js";

const entries = (job, kind, body) => api.post(`/api/jobs/${encodeURIComponent(job)}/entries/${kind}`, body);

export const restore = (job, entry) => entries(job, "restore", { entry, by: myName() });

/// At once, with a way back for a while. `after` shows what is there now, after the strike-out and after it was undone.
export async function strike(job, entry, { why = say("page.no-reason-given"), what, after, undone = after }) {
    await entries(job, "strike-out", { entry, by: myName(), why });
    offerUndo(say("page.was-struck-out", what), async () => {
        await restore(job, entry);
        await undone();
    });
    await after();
}

/// The trial that counts and was measured on the same photos; null: none. The same marks measured twice count once.
export function twinOf(record, trial) {
    const prints = (one) => one.photos.map((photo) => photo.sha256).filter(Boolean);
    const mine = new Set(prints(trial));
    return (
        record.trials.find((other) => other !== trial && !other.struck && prints(other).some((one) => mine.has(one))) ??
        null
    );
}

/// Lets a trial count again, in place of another measurement of the same photos.
export async function restoreTrial(job, record, trial) {
    const twin = twinOf(record, trial);
    if (twin) await entries(job, "strike-out", { entry: twin.id, by: myName(), why: say("page.former-counts-again") });
    await restore(job, trial.id);
}
