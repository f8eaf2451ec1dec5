// Photos on their way to the shop computer. They belong to no page: one goes on while another page is looked at, and
// after a reload from where it stopped.
import * as api from "./api.js";
import * as store from "./store.js";
import { shrunk } from "./photo.js";

const PIECE_BYTES = 262144;
const all = new Map();

/// One photo under the name of its place, "trial/JOB/drive". States: "empty", "preparing", "sending", "received", "failed".
class Upload extends EventTarget {
    constructor(key) {
        super();
        this.key = key;
        this.clear();
        this.ready = this.#recall();
    }

    clear() {
        if (this.url) URL.revokeObjectURL(this.url);
        Object.assign(this, { state: "empty", share: 0, id: null, photo: null, url: null, problem: "" });
        this.run = null;
    }
    #tell(changes) {
        Object.assign(this, changes);
        this.dispatchEvent(new Event("change"));
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
        if (!kept.received) this.#begin((run) => this.#send(run));
    }

    #begin(work) {
        const run = { stopped: false };
        this.run = run;
        run.done = work(run).catch((problem) => {
            if (!run.stopped) this.#tell({ state: "failed", problem: problem.message });
        });
    }

    /// Another photo takes the place of the former one.
    take(file) {
        if (this.run) this.run.stopped = true;
        this.clear();
        this.#tell({ state: "preparing", id: api.newId() });
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
        await store.put("photos", this.key, { id: this.id, photo: this.photo, received: true });
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
    /// Sent and named by a trial, or thrown away.
    async forget() {
        if (this.run) this.run.stopped = true;
        this.clear();
        this.#tell({});
        await store.remove("photos", this.key);
    }
}

export function upload(key) {
    if (!all.has(key)) all.set(key, new Upload(key));
    return all.get(key);
}
