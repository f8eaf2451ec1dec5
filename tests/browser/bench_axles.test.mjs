// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// A job of each kind of axle on the page of a phone, from its start to the sign-off: whatever the job's first button names is
// done next, on rendered photos. The axle's true depth error is known here alone; it follows what the page says was done.
//     SHIMSIGHT_AXLES=all plays all six; else one. SHIMSIGHT_SHOTS=DIR leaves pictures of the answers and jobs, and the sheets.
import assert from "node:assert/strict";
import { execFile } from "node:child_process";
import { copyFileSync, existsSync, mkdirSync, mkdtempSync, readFileSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { after, before, test } from "node:test";
import { promisify } from "node:util";
import { heading, makeJob, pairedPage, received, root, shot } from "./bench.mjs";
import { bench, browser } from "./stage.mjs";

const run = promisify(execFile);
const program = process.env.SHIMSIGHT ?? join(root, "build/release/shimsight");
const MAX_STEPS = 40;
/// Where the gear-set file gives none.
const USUAL_NM = {
    "ring-gear-bolts": 100,
    "pinion-support-bolts": 50,
    "pinion-nut": 240,
    "bearing-caps": 95,
    "adjuster-locks": 20,
    cover: 30,
    "shaft-bolts": 80,
};

/// Gear set, true depth error (mm), what the first answer says, what no page of the way there may say.
const AXLES = {
    "pinion-support": ["lab-van-rear-axle-a", 0.15, /under the pinion support/, /sleeve/],
    "adjusters-and-sleeve": ["lab-pickup-rear-axle", 0.13, /behind the pinion head/, /solid spacer|pinion support/],
    "carrier-shims-and-spacer": [
        "lab-delivery-truck-rear-axle",
        -0.13,
        /under the .*cup/,
        /notch|sleeve|pinion support/,
    ],
    "spiral-bevel": ["lab-farm-truck-spiral-bevel", 0.15, /without offset/, /sleeve|pinion support/],
    "front-axle": ["lab-van-front-axle", 0.13, /forward on the coast side/, /notch|pinion support|solid spacer/],
    "high-pinion": ["lab-pickup-front-axle", 0.13, /high-pinion/, /notch|pinion support|solid spacer/],
};

let folder;
before(async () => {
    folder = mkdtempSync(join(tmpdir(), "shimsight-axles-"));
});
after(async () => {
    if (folder) rmSync(folder, { recursive: true, force: true });
});

class Play {
    constructor(name) {
        const [file, depth, wants, never] = AXLES[name];
        this.file = join(root, "models/gear-sets", `${file}.json`);
        const { build, limits } = JSON.parse(readFileSync(this.file));
        const backlash = (limits.backlash_mm[0] + limits.backlash_mm[1]) / 2;
        Object.assign(this, { name, build, limits, depth, wants, never, backlash, middle: backlash });
        Object.assign(this, { sleeve: build.preload_spacer === "crush-sleeve", trials: 0, steps: [] });
    }
    async photo(side) {
        const out = join(folder, `${this.name}-${this.trials}-${side}.jpg`);
        this.rate ??= JSON.parse((await run(program, ["predict", "--gear-set", this.file, "--json"])).stdout).rates;
        const change = this.backlash - this.middle + this.rate.backlash_per_depth * this.depth;
        const seed = this.name.length * 100 + this.trials * 10 + (side === "drive" ? 1 : 2);
        await run(program, [
            ...["render", "--gear-set", this.file, `--depth=${this.depth}mm`, `--backlash-change=${change}mm`],
            ...["--side", side, "--scene", "stand", "--variety", "0.6", "--size", "640x480", "--samples", "12"],
            ...["--seed", String(seed), "--out", out],
        ]);
        return out;
    }
    async begin() {
        const set = `1/${this.file.split("/").at(-1)}`;
        this.job = await makeJob(bench, `Exercise, ${this.name}`, { gear_set: set, customer: "College motor pool" });
        this.page = await pairedPage(browser, bench);
    }
    async view() {
        return bench.json(`/api/jobs/${this.job}`);
    }
    async fill(label, value) {
        await this.page.getByLabel(label).first().fill(value);
    }
    async save() {
        const { page } = this;
        const saved = page.waitForResponse(
            (one) => one.request().method() === "POST" && one.url().includes("/entries/") && one.ok(),
        );
        await page.getByRole("button", { name: "Save", exact: true }).first().click();
        await saved;
        await page.getByText("Saved.").first().waitFor();
    }
    /// Each line of the list on the page: a tap, or for a joint its torque.
    async tickAll(list) {
        const { page } = this;
        for (let i = 0; i < (await page.locator(".tick").count()); ++i) {
            const line = page.locator(".tick").nth(i);
            const box = line.locator("> input");
            if (await box.isChecked()) continue;
            const { record, joints } = await this.view();
            const item = record.checks.filter((one) => one.list === list)[i];
            await box.click();
            if (joints.includes(item.key)) {
                // The tap alone ticks no joint: it opens the fields for its torque.
                assert.equal(await box.isChecked(), false);
                const nm = item.wanted_nm ? item.wanted_nm[0] + 1 : USUAL_NM[item.key];
                await line.getByLabel("Tightened to").fill(`${nm} Nm`);
                await line.getByRole("button", { name: "Save" }).click();
            }
            await page.waitForFunction((at) => {
                const one = document.querySelectorAll(".tick > input")[at];
                return one?.checked && !one.disabled;
            }, i);
        }
    }
    middleOf(field, usual) {
        const [low, high] = this.limits[field]?.new ?? usual;
        return `${((low + high) / 2).toFixed(3)} Nm`;
    }
    async preload(forGood) {
        const { page } = this;
        const sealed = forGood && this.limits.pinion_preload_with_seal_nm;
        await this.fill(
            "Turning torque of the pinion",
            this.middleOf(sealed ? "pinion_preload_with_seal_nm" : "pinion_preload_nm", [1.5, 2.5]),
        );
        if (sealed) await page.getByText("fitted, it drags").click();
        if (this.sleeve) {
            // The page proposes what comes first with a sleeve.
            const rolling = page.getByRole("radio", { name: "for rolling the pattern only" });
            assert.equal(await rolling.isChecked(), !forGood);
        } else {
            await this.fill("Shims beside the solid spacer", "1.3 mm");
        }
        await this.save();
    }
    async roll() {
        const { page } = this;
        ++this.trials;
        for (const [i, side] of ["drive", "coast"].entries())
            await page
                .getByLabel(`Photo of the ${side} side`)
                .setInputFiles(await this.photo(side))
                .then(() => received(page, i + 1));
        await this.fill("Backlash on the dial", `${this.backlash.toFixed(4)} mm`);
        if (this.trials === 1) await this.fill("Pinion shims in place", "0.9 mm");
        await page.getByRole("button", { name: "Read the pattern" }).click();
        await page.locator(".answer").waitFor({ timeout: 60000 });
        await page.waitForFunction(() => document.querySelectorAll(".shot img").length === 2);
        await page.evaluate(() => document.querySelectorAll("main details").forEach((one) => (one.open = true)));
        if (this.trials === 1) assert.match(await page.locator("main").innerText(), this.wants);
        await shot(page, `axle-${this.name}-answer-${this.trials}`);
        const { advice } = (await this.view()).record.trials.at(-1).reading;
        if (advice.verdict !== "change") return;
        await page.getByRole("link", { name: "I made this change" }).click();
        await heading(page, "What was really done");
        await this.fill("Backlash now, on the dial", `${advice.backlash_target_mm.toFixed(4)} mm`);
        await page.getByRole("button", { name: /Save, and go on/ }).click();
        await heading(page, `Trial ${this.trials + 1}`);
        const done = (await this.view()).record.work.at(-1);
        this.depth += (this.build.pinion_shim === "under-pinion-support" ? -1 : 1) * done.shim_change_mm;
        this.backlash = done.backlash_mm;
    }
    async startDepth() {
        const { page } = this;
        if (this.build.pinion_depth_mm) {
            await page.getByText("A depth tool").click();
            await this.fill("The tool measures", `${(this.build.pinion_depth_mm - this.depth).toFixed(3)} mm`);
        } else {
            await this.fill("Figure on the old pinion", "2 thou");
            await this.fill("Figure on the new pinion", "-1 thou");
        }
        await this.save();
    }
    async carrier() {
        if (this.build.carrier === "threaded-adjusters") {
            for (const side of ["Left", "Right"]) await this.fill(`${side} adjuster`, "2");
        } else {
            for (const side of ["left", "right"]) await this.fill(new RegExp(`Shims.*${side}`, "i"), "2.286 mm");
            await this.fill(/spread/i, "0.2 mm");
        }
        await this.save();
    }
    async backlashRound() {
        for (const [i, label] of ["0°", "90°", "180°", "270°"].entries())
            await this.page
                .getByLabel(label, { exact: true })
                .fill(`${(this.backlash + [0, 1, 0, -1][i] * 0.005).toFixed(4)} mm`);
        await this.save();
    }
    async signOff() {
        await this.fill("Who signs", "Kim");
        await this.page.getByRole("button", { name: "Sign off" }).click();
        await this.page.getByText("This job is signed off").first().waitFor();
    }
    /// One step, as the job's first button leads to it; the words of its page.
    async next() {
        const { page } = this;
        await page.goto(`${bench.origin}/#/job/${this.job}`);
        await heading(page, this.name);
        const first = page.locator(".bar .act.first");
        const key = (await this.view()).status.steps.find((one) => one.state === "next").key;
        if (this.steps.at(-1) !== key) this.steps.push(key);
        await shot(page, `axle-${this.name}-job-${this.steps.length}`);
        await first.click();
        await page.waitForFunction(
            (name) =>
                document.querySelector("main h1") && !document.querySelector("main h1").textContent.includes(name),
            this.name,
        );
        const words = await page.locator("main").innerText();
        assert.doesNotMatch(words, this.never, `${this.name}, ${key}: asks for what it has not`);
        const ways = {
            parts: () => this.tickAll("parts"),
            "start-depth": () => this.startDepth(),
            "trial-preload": () => this.preload(false),
            preload: () => this.preload(true),
            runout: async () => {
                await this.fill("Total reading", `${this.limits.ring_runout_mm / 2} mm`);
                await this.save();
            },
            carrier: () => this.carrier(),
            backlash: () => this.backlashRound(),
            pattern: () => this.roll(),
            "final-pattern": () => this.roll(),
            pinion: () => this.tickAll("pinion"),
            torques: () => this.tickAll("torque"),
            "final-assembly": () => this.tickAll("final-assembly"),
            "sign-off": () => this.signOff(),
        };
        await ways[key]();
        return key;
    }
}

for (const name of process.env.SHIMSIGHT_AXLES === "all" ? Object.keys(AXLES) : Object.keys(AXLES).slice(0, 1))
    test(`from the start to the sign-off: ${name}`, async () => {
        const play = new Play(name);
        await play.begin();
        let steps = 0;
        while ((await play.next()) !== "sign-off") assert.ok(++steps < MAX_STEPS, play.steps.join(" > "));
        const opening = ["parts", "start-depth", "trial-preload", "runout", "carrier", "backlash", "pattern"];
        assert.deepEqual(play.steps.slice(0, opening.length), opening);
        // Sleeve or spacer: seal and nut for good, the preload read with them in, all tight, the pattern once more, and
        // only then the cover. One more reading of the same setting may be asked for before it is left.
        const rest = ["pinion", "preload", "torques", "final-pattern", "final-assembly", "sign-off"];
        const after = play.steps.slice(play.steps.indexOf("pinion")).filter((step) => step !== "pattern");
        assert.deepEqual(after, rest);
        const { record, status } = await play.view();
        assert.deepEqual(status.attention, []);
        const { at: rolled } = record.trials.at(-1);
        const tickedAt = (key) => record.checks.find((one) => one.key === key).at;
        for (const key of ["oil-seals", "pinion-nut", "bearing-caps", "ring-gear-bolts"])
            assert.ok(tickedAt(key) <= rolled, `${key} before the last trial`);
        for (const key of ["cover", "shaft-bolts"]) assert.ok(tickedAt(key) >= rolled, `${key} after the last trial`);
        // Nothing was left open: no reason had to be given.
        assert.equal(record.sign_offs.at(-1).note, "");
        assert.deepEqual(
            record.judgements.filter((one) => one.result === "fail" && !one.what.endsWith("pattern")),
            [],
        );
        assert.deepEqual(play.page.faults, []);
        const sheet = join(folder, `${name}.html`);
        await run(program, ["report", join(bench.folder, "jobs", play.job), "--html", sheet]);
        const text = readFileSync(sheet, "utf8");
        for (const words of ["Signed off", "Final pattern", "data:image/jpeg"]) assert.ok(text.includes(words), words);
        assert.doesNotMatch(text, /hance|over 99/);
        if (process.env.SHIMSIGHT_SHOTS) {
            if (!existsSync(process.env.SHIMSIGHT_SHOTS)) mkdirSync(process.env.SHIMSIGHT_SHOTS, { recursive: true });
            copyFileSync(sheet, join(process.env.SHIMSIGHT_SHOTS, `axle-${name}-sheet.html`));
        }
        await play.page.context().close();
    });
