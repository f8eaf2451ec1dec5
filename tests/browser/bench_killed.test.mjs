// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// The server is killed at random moments while two phones play a job: what was confirmed is there, once; what was on its
// way goes on; the phones stay paired. SHIMSIGHT_KILLS sets how often (else 12), SHIMSIGHT_SEED the moments.
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { test } from "node:test";
import { Bench, lastingPort, makeJob, newId, sample } from "./bench.mjs";

const KILLS = Number(process.env.SHIMSIGHT_KILLS ?? 12),
    SEED = Number(process.env.SHIMSIGHT_SEED ?? 1);
const PIECE_BYTES = 65_536,
    PAUSE_MS = 40,
    LONGEST_MS = 900;

/// The same numbers for the same seed (a linear congruential generator of 32 bits).
function random(seed) {
    let state = seed >>> 0;
    return () => (state = (Math.imul(state, 1664525) + 1013904223) >>> 0) / 2 ** 32;
}
const pause = (ms) => new Promise((done) => setTimeout(done, ms));

/// A phone that tries until it is told: the same request, with its own key.
class Phone {
    constructor(bench, key) {
        Object.assign(this, { bench, key, tries: 0 });
    }
    async ask(path, options = {}) {
        for (;;) {
            ++this.tries;
            try {
                const response = await this.bench.ask(path, { token: this.key, ...options });
                assert.notEqual(response.status, 401, "the phone stays paired");
                if (response.status !== 429 && response.status !== 503) return response;
            } catch (problem) {
                if (problem.code === "ERR_ASSERTION") throw problem;
            }
            await pause(PAUSE_MS);
        }
    }
    async post(path, body, id = newId()) {
        const headers = { "Content-Type": "application/json", Origin: this.bench.origin, "X-Shimsight-Request": id };
        const response = await this.ask(path, { method: "POST", headers, body: JSON.stringify(body) });
        const answer = await response.json();
        assert.ok(response.ok, `${path}: ${JSON.stringify(answer)}`);
        return answer;
    }
    async photo(file) {
        const bytes = readFileSync(file),
            id = newId();
        let sent = 0;
        while (sent < bytes.length) {
            const path = `/api/uploads/${id}?offset=${sent}&size=${bytes.length}`;
            const response = await this.ask(path, { method: "PUT", body: bytes.subarray(sent, sent + PIECE_BYTES) });
            const { received } = await response.json();
            assert.ok(received >= sent, "what has come stays");
            sent = received;
        }
        return id;
    }
    async result(task) {
        for (;;) {
            const state = await (await this.ask(`/api/tasks/${task}`)).json();
            if (state.state === "done") return state.result;
            assert.notEqual(state.state, "failed", state.error);
            await pause(PAUSE_MS);
        }
    }
}

const drawnOn = (() => {
    const map = Buffer.alloc(256 * 128);
    for (let y = 40; y < 90; ++y) map.fill(255, y * 256 + 80, y * 256 + 170);
    return map.toString("base64");
})();

/// One phone's part of the job; `confirmed`: the notes of what it was told is done.
async function play(phone, job, name, confirmed, ended) {
    const path = `/api/jobs/${job}`;
    for (let round = 0; !ended(); ++round) {
        const note = `${name}-${round}`;
        if (round === 2) {
            const upload = await phone.photo(sample("van-b-good/drive.jpg"));
            const { task } = await phone.post(`${path}/trials`, { note, photos: [{ upload, side: "drive" }] });
            await phone.result(task);
            confirmed.trials.push(note);
        } else if (round % 12 === 5 && confirmed.trials.length < 14) {
            const { task } = await phone.post(`${path}/trials`, { note, drawn: { drive: drawnOn } });
            await phone.result(task);
            confirmed.trials.push(note);
        } else {
            const { entry } = await phone.post(`${path}/entries/runout`, { note, runout_mm: 0.03 });
            confirmed.runout.push(note);
            if (round % 4 === 1) {
                await phone.post(`${path}/entries/strike-out`, { entry, why: note });
                await phone.post(`${path}/entries/restore`, { entry });
                confirmed.restored.push(note);
            }
        }
        await pause(PAUSE_MS);
    }
}

test(`nothing confirmed is lost and nothing is doubled over ${KILLS} kills`, async () => {
    const draw = random(SEED);
    const bench = await new Bench([], undefined, await lastingPort()).start();
    try {
        const job = await makeJob(bench, "Van 12");
        const keys = [];
        for (const name of ["one", "two"]) {
            const phone = new Phone(bench, bench.token);
            keys.push((await phone.post("/api/devices", { name })).key);
        }
        const confirmed = { trials: [], runout: [], restored: [] };
        let over = false;
        const phones = keys.map((key) => new Phone(bench, key));
        const playing = phones.map((phone, i) => play(phone, job, `phone${i}`, confirmed, () => over));
        for (let kill = 0; kill < KILLS; ++kill) {
            await pause(draw() * LONGEST_MS);
            bench.process.removeAllListeners("exit");
            await bench.stop("SIGKILL");
            await bench.start();
        }
        over = true;
        await Promise.all(playing);
        const { record } = await bench.json(`/api/jobs/${job}`);
        for (const list of ["trials", "runout"]) {
            const notes = record[list].map((entry) => entry.note);
            assert.deepEqual([...notes].sort(), [...new Set(notes)].sort(), `${list}: none is double`);
            assert.deepEqual(
                confirmed[list].filter((note) => !notes.includes(note)),
                [],
                `${list}: none is lost`,
            );
        }
        for (const entry of record.runout) {
            assert.equal(entry.struck, null, entry.note);
            assert.equal(entry.restored.length, confirmed.restored.includes(entry.note) ? 1 : 0, entry.note);
        }
        console.log(
            `${KILLS} kills: ${confirmed.runout.length} readings, ${confirmed.trials.length} trials, ${confirmed.restored.length} strike-outs restored; ${phones[0].tries + phones[1].tries} requests`,
        );
    } finally {
        bench.process.removeAllListeners("exit");
        await bench.close();
    }
});
