// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// Photos on their way to the shop computer. They belong to no page: one goes on while another page is looked at, and
// after a reload from where it stopped.
import * as api from "./api.js";
import * as store from "./store.js";
import { shrunk } from "./photo.js";

const PIECE_BYTES = 262144,
    LOOK_POLL_MS = 120;
const all = new Map();

/// What is kept of a photo: enough to show it, to name it in a trial and to put it back.
const FRESH = { state: "empty", share: 0, id: null, photo: null, url: null, problem: "", look: null };

/// One photo of a place of a job, "trial/JOB/drive". States: "empty", "preparing", "sending", "received", "failed". `look`: what
/// the shop computer saw at first sight, "asked" while it looks, null where it did not.
class Upload extends EventTarget {
    constructor(key, { job, side }) {
        super();
        Object.assign(this, { key, job, side, former: null, run: null, ...FRESH });
        this.ready = this.#recall();
    }

    #tell(changes) {
        Object.assign(this, changes);
        this.dispatchEvent(new Event("change"));
    }
    #letGo(url) {
        if (url && url !== this.url) URL.revokeObjectURL(url);
    }

    /// What a former page left: a photo that was received, or one that was still on its way.
    async #recall() {
        const kept = await store.get("photos", this.key);
        if (!kept || this.state !== "empty") return;
        this.#tell({
            id: kept.id,
            photo: kept.photo,
            url: URL.createObjectURL(kept.photo),
            state: kept.received ? "received" : "sending",
        });
        if (kept.received) this.#look();
        else this.#begin((run) => this.#send(run));
    }

    #begin(work) {
        const run = { stopped: false };
        this.run = run;
        run.done = work(run).catch((problem) => {
            if (!run.stopped) this.#tell({ state: "failed", problem: problem.message });
        });
    }

    /// Another photo takes the place of the former one, which can be put back for a while.
    take(file) {
        if (this.run) this.run.stopped = true;
        this.#letGo(this.former?.url);
        this.former =
            this.state === "received" ? { id: this.id, photo: this.photo, url: this.url, look: this.look } : null;
        this.#tell({ ...FRESH, state: "preparing", id: api.newId() });
        this.#begin(async (run) => {
            const photo = await shrunk(file);
            if (run.stopped) return;
            await store.put("photos", this.key, { id: this.id, photo, received: false });
            // Another one may have been taken meanwhile.
            if (run.stopped) return;
            this.#tell({ photo, url: URL.createObjectURL(photo), state: "sending" });
            await this.#send(run);
        });
    }
    /// The photo that was there before the last one.
    async putBack() {
        const { former } = this;
        if (!former) return;
        if (this.run) this.run.stopped = true;
        this.former = null;
        await this.#hold(former);
    }
    async #hold(other) {
        this.#tell({ ...FRESH, ...other, state: "received", share: 1 });
        await store.put("photos", this.key, { id: other.id, photo: other.photo, received: true });
    }
    /// This photo belongs to another place, and what was there comes here.
    async changePlaces(other) {
        const parts = (one) => ({ id: one.id, photo: one.photo, url: one.url, look: one.look });
        const mine = parts(this),
            theirs = other.state === "received" ? parts(other) : null;
        this.former = other.former = null;
        await other.#hold({ ...mine, look: null });
        other.#look();
        if (theirs) {
            await this.#hold({ ...theirs, look: null });
            this.#look();
        } else {
            this.#tell(FRESH);
            await store.remove("photos", this.key);
        }
    }
    async #send(run) {
        await api.sendPhoto(
            this.photo,
            this.id,
            PIECE_BYTES,
            (share) => {
                if (!run.stopped) this.#tell({ share });
            },
            () => run.stopped,
        );
        if (run.stopped) return;
        this.#tell({ state: "received", share: 1 });
        this.#look();
        await store.put("photos", this.key, { id: this.id, photo: this.photo, received: true });
    }
    /// The first look is of use at once or not at all: what goes wrong with it is left for Read to tell.
    async #look() {
        const { id } = this;
        this.#tell({ look: "asked" });
        let look = null;
        try {
            const { task } = await api.post(
                `/api/uploads/${id}/look`,
                { job: this.job, side: this.side },
                api.newId(),
                2,
            );
            look = await api.finished(task, () => {}, LOOK_POLL_MS);
        } catch {
            look = null;
        }
        if (this.id === id && this.state === "received") this.#tell({ look });
    }
    /// Whether the shop computer still has all of it.
    async isThere() {
        return (await api.get(`/api/uploads/${this.id}`)).whole;
    }
    again() {
        this.#tell({ state: "sending", problem: "" });
        this.#begin((run) => this.#send(run));
    }
    /// Resolves when nothing is on its way any more.
    async settled() {
        await this.ready;
        await this.run?.done;
    }
    /// Sent and named by a trial, or thrown away; with `former` it can be put back.
    async forget({ keep = false } = {}) {
        if (this.run) this.run.stopped = true;
        this.#letGo(this.former?.url);
        this.former =
            keep && this.state === "received"
                ? { id: this.id, photo: this.photo, url: this.url, look: this.look }
                : null;
        const { url } = this;
        this.#tell(FRESH);
        if (!this.former) this.#letGo(url);
        await store.remove("photos", this.key);
    }
}

/// `where`: the job and the side that it is taken of.
export function upload(key, where) {
    if (!all.has(key)) all.set(key, new Upload(key, where));
    return all.get(key);
}
