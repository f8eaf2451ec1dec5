// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// Nothing moves under a finger: photos that are slow have their place before they are there.
import assert from "node:assert/strict";
import { test } from "node:test";
import { PHONE, heading, makeJob, pairedPage, received, sample, shot } from "./bench.mjs";
import { bench, browser } from "./stage.mjs";

/// What moved since the last call, as Chromium counts it (Layout Instability, <https://wicg.github.io/layout-instability/>):
/// share of the view times how far, what follows a person's own touch left out.
const MAX_SHIFT = 0.02;
const SLOW_MS = 1500;

const watch = (page) =>
    page.evaluate(() => {
        window.shifts = [];
        new PerformanceObserver((list) => {
            for (const one of list.getEntries())
                if (!one.hadRecentInput)
                    window.shifts.push({
                        value: one.value,
                        of: one.sources.map((source) => source.node?.outerHTML?.slice(0, 60) ?? ""),
                    });
        }).observe({ type: "layout-shift" });
    });
async function moved(page, what) {
    const shifts = await page.evaluate(() => window.shifts.splice(0));
    const sum = shifts.reduce((all, one) => all + one.value, 0);
    console.log(`${what}: layout shift ${sum.toFixed(4)}`);
    assert.ok(sum < MAX_SHIFT, `${what}: ${JSON.stringify(shifts)}`);
}

/// The place of an element, once it is there.
const topOf = (locator) => locator.evaluate((one) => one.getBoundingClientRect().top + window.scrollY);

for (const [name, kind] of [
    ["phone", PHONE],
    ["small phone", { ...PHONE, viewport: { width: 320, height: 568 } }],
])
    test(`${name}: photos that come late move nothing`, async () => {
        const job = await makeJob(bench, `Van ${name}`);
        const page = await pairedPage(browser, bench, kind);
        await page.route(/\/api\/jobs\/.*\/photos\//, async (route) => {
            await new Promise((done) => setTimeout(done, SLOW_MS));
            await route.continue();
        });
        await page.goto(`${bench.origin}/#/job/${job}/new-trial`);
        await heading(page, "Trial 1");
        await page.waitForLoadState("networkidle");
        await page.getByLabel("Photo of the drive side").setInputFiles(sample("van-a-too-shallow/drive.jpg"));
        await page.getByLabel("Photo of the coast side").setInputFiles(sample("van-a-too-shallow/coast.jpg"));
        // The photos are chosen; from here on the fields below them stay, whatever is told of them.
        await page.locator(".slot .seen img").nth(1).waitFor();
        await watch(page);
        const field = page.getByLabel("Backlash on the dial");
        const former = await topOf(field);
        await received(page, 2);
        await page.waitForFunction(() => document.querySelectorAll(".look.good").length === 2);
        await moved(page, `${name}, photos sent and looked at`);
        assert.ok(Math.abs((await topOf(field)) - former) < 2, "the backlash is typed where it was");
        await shot(page, `steady-${name}-looked`);
        await field.fill("0.009");
        await page.getByRole("button", { name: "Read the pattern" }).click();
        await page.locator(".answer .amount").waitFor({ timeout: 60000 });
        await page.evaluate(() => window.shifts.splice(0));
        // At the outlines, where the photos are: the button below both of them.
        const button = page.getByRole("link", { name: "Correct the outlines" }).last();
        const place = await topOf(button);
        await button.evaluate((one) => one.scrollIntoView({ block: "end" }));
        await page.locator("main .shot img").nth(1).waitFor({ timeout: 20000 });
        await page.waitForTimeout(100);
        await moved(page, `${name}, photos of the answer`);
        assert.ok(Math.abs((await topOf(button)) - place) < 2, "the button stays where it was seen");
        assert.deepEqual(page.faults, []);
        await page.context().close();
    });
