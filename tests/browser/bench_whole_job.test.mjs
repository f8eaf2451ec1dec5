// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// A whole job with a finger, in two browsers: what works in one only is no page for a shop's phones. Four phones of the
// sixteen are enough for every day; SHIMSIGHT_PHONES=all plays them all.
import assert from "node:assert/strict";
import { mkdirSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { afterEach, test } from "node:test";
import { Bench, DOUBLED, axeFaults, sample, smallTargets } from "./bench.mjs";
import { Chromium } from "./chromium.mjs";
import { Firefox } from "./firefox.mjs";

/// Phones small and large, in both lights, text as it is and doubled.
const PHONES = [Chromium, Firefox].flatMap((Browser) =>
    [320, 390].flatMap((width) =>
        ["light", "dark"].flatMap((scheme) => ["", DOUBLED].map((size) => ({ Browser, width, scheme, size }))),
    ),
);
/// Each browser with each width, light and text size; each width with each of those.
const EVERY_DAY = ["Chromium-320-light-doubled", "Chromium-390-dark", "Firefox-320-dark", "Firefox-390-light-doubled"];
const HEIGHT = 740;
const nameOf = ({ Browser, width, scheme, size }) =>
    [Browser.name, width, scheme, ...(size ? ["doubled"] : [])].join("-");
let bench, phone;
afterEach(async () => {
    await phone?.close();
    await bench?.close();
});

/// What is called by these words, as an expression: a link or a button, the choice of a list, the field of a label.
const called = (selector, words) =>
    `[...document.querySelectorAll(${JSON.stringify(selector)})].find((one) => one.offsetParent && (one.getAttribute("aria-label") ?? one.textContent).includes(${JSON.stringify(words)}))`;
const button = (words) => called("a, button, summary", words);
const option = (words) => called(".choices label", words);
const field = (words) => `${called(".field label", words)}?.parentElement.querySelector("input, textarea")`;
const photo = (side) => `document.querySelector('input[aria-label="Photo of the ${side} side"]')`;
/// The page as it stands: axe-core finds nothing, nothing is wider than the screen, a glove hits what it means; a picture
/// where pictures are wanted.
async function checked(name) {
    assert.deepEqual(await axeFaults((script) => phone.evaluate(script)), [], name);
    const over = "document.documentElement.scrollWidth - document.documentElement.clientWidth";
    assert.ok((await phone.evaluate(over)) <= 0, `${name}: wider than the screen`);
    const small = await phone.evaluate(`JSON.stringify((${smallTargets})())`);
    assert.deepEqual(JSON.parse(small), [], `${name}: targets under 48 px`);
    const folder = process.env.SHIMSIGHT_SHOTS;
    if (!folder) return;
    mkdirSync(folder, { recursive: true });
    writeFileSync(join(folder, `job-${name}.png`), await phone.picture());
}

/// From the pairing to the first answer, by photos.
async function firstTrial(at) {
    await phone.touch(button("New job"));
    await phone.heading("New job");
    await checked(`${at}-new-job`);
    await phone.type(field("Which axle"), "Van 12, rear");
    await phone.touch(option("Lab van rear axle A"));
    await phone.touch(button("Begin the job"));
    await phone.heading("Trial 1");
    for (const side of ["drive", "coast"]) await phone.setFile(photo(side), sample(`van-a-too-shallow/${side}.jpg`));
    await phone.until(`document.querySelectorAll(".look.good").length === 2`);
    await checked(`${at}-looked`);
    assert.ok((await phone.evaluate(`document.querySelectorAll(".slot .flankline").length`)) >= 6);
    await phone.type(field("Backlash on the dial"), "0.009");
    await phone.type(field("Pinion shims in place"), "0.030");
    await phone.touch(button("Read the pattern"));
    await phone.until(`document.querySelector(".answer .amount")`);
    await checked(`${at}-answer`);
    assert.match(await phone.evaluate(`document.querySelector(".answer").innerText`), /Take out/);
}

/// A corner is dragged by its finger, and it is undone.
async function correctedCorner(at) {
    await phone.touch(button("Correct the outlines"));
    await phone.heading("Photo 1");
    await checked(`${at}-corners`);
    const corner = `[...document.querySelectorAll(".corner")][2]`;
    const place = () => phone.evaluate(`${corner}.style.left + " " + ${corner}.style.top`);
    const former = await place();
    await phone.touch(corner, [24, 12]);
    await phone.until(`${corner}.style.left + " " + ${corner}.style.top !== ${JSON.stringify(former)}`);
    await phone.touch(button("Undo"));
    await phone.until(`${corner}.style.left + " " + ${corner}.style.top === ${JSON.stringify(former)}`);
    await phone.evaluate("history.back()");
    await phone.until(`document.querySelector(".answer .amount")`);
}

/// Struck out by mistake, and back.
async function struckAndBack(at) {
    await phone.touch(button("Strike out and take again"));
    await phone.heading("Trial 1");
    await checked(`${at}-struck`);
    await phone.touch(`document.querySelector("#undo button")`);
    await phone.until(`document.querySelector(".answer .amount")`);
}

/// What was done is written down.
async function changeMade(at) {
    await phone.touch(button("I made this change"));
    await phone.heading("What was really done");
    await checked(`${at}-done`);
    await phone.type(field("Backlash now, on the dial"), "0.008");
    await phone.touch(button("Save, and go on"));
    await phone.heading("Trial 2");
}

/// The pattern drawn by a finger on both sides.
async function drawnTrial(at) {
    await phone.touch(button("No photo possible? Draw"));
    await phone.heading("Draw the mark");
    const wide = await phone.evaluate(`document.querySelector("canvas").clientWidth / innerWidth`);
    assert.ok(wide > 0.5, `a pad of ${wide} of the screen's width: too small for a finger`);
    for (const side of [0, 1]) await phone.touch(`document.querySelectorAll("canvas")[${side}]`, [18, 4]);
    await checked(`${at}-drawn`);
    await phone.touch(button("Use this pattern"));
    await phone.until(`document.querySelector(".answer h1")`);
    await checked(`${at}-second-answer`);
}

/// The job ends with its sign-off.
async function signedOff(at) {
    await phone.evaluate(`location.hash = location.hash.replace(/\\/trial.*/, "/sign-off")`);
    await phone.heading("Sign the job off");
    await checked(`${at}-sign-off`);
    await phone.type(field("Who signs"), "Kim");
    await phone.type(field("Why this stays open"), "finished on Monday");
    await phone.touch(button("Sign off"));
    await phone.until(`document.querySelector("main").innerText.includes("This job is signed off")`);
    await checked(`${at}-signed-off`);
}

const all = process.env.SHIMSIGHT_PHONES === "all";
for (const kind of PHONES.filter((one) => all || EVERY_DAY.includes(nameOf(one))))
    test(`a whole job with a finger, from the pairing to the sign-off: ${nameOf(kind)}`, async () => {
        const { Browser, width, scheme, size } = kind;
        bench = await new Bench().start();
        phone = await new Browser().start(width, HEIGHT, scheme, bench);
        await phone.go(bench.address);
        const dark = await phone.evaluate(`matchMedia("(prefers-color-scheme: dark)").matches`);
        assert.equal(dark, scheme === "dark");
        assert.equal(await phone.evaluate("innerWidth"), width);
        await phone.evaluate(`document.documentElement.style.fontSize = ${JSON.stringify(size)}`);
        for (const part of [firstTrial, correctedCorner, struckAndBack, changeMade, drawnTrial, signedOff])
            await part(nameOf(kind));
        const { jobs } = await bench.json("/api/jobs");
        assert.equal(jobs.length, 1);
        assert.equal(jobs[0].signed_off, true);
        assert.equal(jobs[0].trials, 2);
        assert.deepEqual(phone.faults, []);
    });
