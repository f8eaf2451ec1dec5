// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// Taps and seconds of a first and a next trial on the bench page, and the time from a photo's arrival to its flanks shown.
//     SHIMSIGHT=../../build/release/shimsight node bench_taps.mjs
// The phone's own taps for a picture (two or three) are its own. With SHIMSIGHT_FORGET_LOOKS what the first looks measured
// is taken away before Read, so that the photos are measured again, as for a trial that nobody looked at.
import { readdirSync, rmSync } from "node:fs";
import { join } from "node:path";
import { Bench, heading, launch, pairedPage, sample } from "./bench.mjs";

const bench = await new Bench().start(),
    browser = await launch();
const page = await pairedPage(browser, bench);
let taps = 0,
    typed = 0;
const tap = async (locator) => {
    ++taps;
    await locator.tap();
};
const type = async (label, text) => {
    ++typed;
    await tap(page.getByLabel(label));
    await page.getByLabel(label).fill(text);
};
/// Choosing the photo is one tap; gives how long after the photo had arrived its flanks were shown.
const looks = [];
async function photo(side, file) {
    ++taps;
    const arrived = page.waitForResponse((one) => /uploads\/.*offset/.test(one.url()));
    await page.getByLabel(`Photo of the ${side} side`).setInputFiles(file);
    await arrived;
    const start = Date.now();
    await page
        .locator(".side")
        .nth(side === "drive" ? 0 : 1)
        .locator(".slot.full .look")
        .first()
        .waitFor();
    looks.push(Date.now() - start);
}
function told(what, since) {
    console.log(
        `${what}: ${taps} taps, of them ${typed} to type; ${((Date.now() - since) / 1000).toFixed(1)} s by script`,
    );
    taps = typed = 0;
}

function forgetLooks() {
    if (!process.env.SHIMSIGHT_FORGET_LOOKS) return;
    const folder = join(bench.folder, "jobs/.shimsight-server/uploads");
    const files = readdirSync(folder).filter((file) => file.endsWith(".measured"));
    for (const file of files) rmSync(join(folder, file));
    console.log(`${files.length} looks forgotten`);
}

let start = Date.now();
await tap(page.getByRole("link", { name: "New job" }));
await heading(page, "New job");
await type("Which axle", "Van 12, rear");
await tap(page.locator("label").filter({ hasText: "Lab van rear axle A" }));
await tap(page.getByRole("button", { name: "Begin the job" }));
await heading(page, "Trial 1");
await photo("drive", sample("van-a-too-shallow/drive.jpg"));
await photo("coast", sample("van-a-too-shallow/coast.jpg"));
await type("Backlash on the dial", "0.009");
forgetLooks();
let read = Date.now();
await tap(page.getByRole("button", { name: "Read the pattern" }));
await page.locator(".answer .amount").waitFor({ timeout: 60000 });
console.log(`Read to answer: ${((Date.now() - read) / 1000).toFixed(1)} s`);
told("first job and trial", start);

start = Date.now();
await tap(page.getByRole("link", { name: "I made this change" }));
await heading(page, "What was really done");
await type("Backlash now, on the dial", "0.008");
await tap(page.getByRole("button", { name: /Save, and go on/ }));
await heading(page, "Trial 2");
await photo("drive", sample("van-b-good/drive.jpg"));
await photo("coast", sample("van-b-good/coast.jpg"));
forgetLooks();
read = Date.now();
await tap(page.getByRole("button", { name: "Read the pattern" }));
await page.locator(".answer").waitFor({ timeout: 60000 });
console.log(`Read to answer: ${((Date.now() - read) / 1000).toFixed(1)} s`);
told("next trial", start);
console.log(`photo arrived to flanks shown: ${looks.join(", ")} ms`);
await browser.close();
await bench.close();
