// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// The server is killed at random moments while two phones play a job and a third has a trial half entered: what was
// confirmed is there, once; what was on its way goes on; what was typed and photographed and not sent off yet is still
// there; the phones stay paired. SHIMSIGHT_KILLS sets how often (else 12), SHIMSIGHT_SEED the moments.
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { test } from "node:test";
import { Bench, heading, lastingPort, launch, makeJob, newId, pairedPage, received, sample } from "./bench.mjs";

const KILLS = Number(process.env.SHIMSIGHT_KILLS ?? 12),
    SEED = Number(process.env.SHIMSIGHT_SEED ?? 1);
const PIECE_BYTES = 65_536,
    PAUSE_MS = 40,
    MAX_MS = 900,
    RELOAD_EVERY = 5;
/// Bytes a second of the third phone's way: its photos are sent while the server is killed a few times.
const SLOW_BYTES = 60_000;

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

/// A trial that is entered in a browser and not read yet: both photos on their way, two lengths typed.
class Draft {
    async begin(bench, browser, job) {
        this.page = await pairedPage(browser, bench);
        const network = await this.page.context().newCDPSession(this.page);
        await network.send("Network.enable");
        this.slow = (on) =>
            network.send("Network.emulateNetworkConditions", {
                offline: false,
                latency: 20,
                downloadThroughput: -1,
                uploadThroughput: on ? SLOW_BYTES : -1,
            });
        await this.page.goto(`${bench.origin}/#/job/${job}/new-trial`);
        await heading(this.page, "Trial");
        await this.slow(true);
        for (const side of ["drive", "coast"])
            await this.page
                .getByLabel(`Photo of the ${side} side`)
                .setInputFiles(sample(`van-a-too-shallow/${side}.jpg`));
        await this.page.getByLabel("Backlash on the dial").fill("0.009");
        await this.page.getByLabel("Pinion shims in place").fill("0.030");
        return this;
    }
    /// The page is opened anew; what is kept of it is told by check().
    reload() {
        return this.page.reload({ timeout: 5000 }).catch(() => {});
    }
    /// After the last kill: everything is there, and it is read.
    async check() {
        await this.slow(false);
        await this.page.reload();
        await heading(this.page, "Trial");
        await received(this.page, 2);
        assert.equal(await this.page.getByLabel("Backlash on the dial").inputValue(), "0.009");
        assert.equal(await this.page.getByLabel("Pinion shims in place").inputValue(), "0.030");
        await this.page.getByRole("button", { name: "Read the pattern" }).click();
        await this.page.waitForURL(/trial\/t\d+$/, { timeout: 120_000 });
        assert.deepEqual(
            this.page.faults.filter((fault) => !/ERR_|asked chrome/.test(fault)),
            [],
        );
    }
}

/// Photos that were sent whole before the first kill and are named by a trial after the last.
async function heldPhotos(phone) {
    const photos = [];
    for (const side of ["drive", "coast"])
        photos.push({ upload: await phone.photo(sample(`van-b-good/${side}.jpg`)), side });
    return photos;
}

test(`nothing confirmed is lost and nothing is doubled over ${KILLS} kills`, async () => {
    const draw = random(SEED);
    const bench = await new Bench([], undefined, await lastingPort()).start(),
        browser = await launch();
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
        const held = await heldPhotos(phones[0]);
        const draft = await new Draft().begin(bench, browser, job);
        const playing = phones.map((phone, i) => play(phone, job, `phone${i}`, confirmed, () => over));
        for (let kill = 0; kill < KILLS; ++kill) {
            await pause(draw() * MAX_MS);
            bench.process.removeAllListeners("exit");
            await bench.stop("SIGKILL");
            await bench.start();
            if (kill % RELOAD_EVERY === RELOAD_EVERY - 1) await draft.reload();
        }
        over = true;
        await Promise.all(playing);
        await draft.check();
        const { task } = await phones[0].post(`/api/jobs/${job}/trials`, { note: "held", photos: held });
        await phones[0].result(task);
        confirmed.trials.push("held");
        const drafted = (await bench.json(`/api/jobs/${job}`)).record.trials.filter((one) => one.backlash_mm !== null);
        assert.equal(drafted.length, 1, "the half-entered trial is there once");
        assert.equal(drafted[0].photos.length, 2);
        assert.ok(Math.abs(drafted[0].backlash_mm - 0.2286) < 1e-6);
        assert.ok(Math.abs(drafted[0].shim_stack_mm - 0.762) < 1e-6);
        const { record } = await bench.json(`/api/jobs/${job}`);
        for (const list of ["trials", "runout"]) {
            const notes = record[list].map((entry) => entry.note).filter(Boolean);
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
        await browser.close();
        bench.process.removeAllListeners("exit");
        await bench.close();
    }
});
