// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// How long the list of jobs takes with few and with many jobs, at phone size, its processor slowed down four times.
//     SHIMSIGHT=../../build/release/shimsight node many_jobs.mjs [JOBS]
import { cpSync } from "node:fs";
import { join } from "node:path";
import { Bench, PHONE, launch, makeJob, pairedPage } from "./bench.mjs";

const SHOWN = 30,
    TRIES = 3;

async function timed(jobs) {
    const bench = await new Bench().start(),
        browser = await launch();
    const folder = join(bench.folder, "jobs"),
        first = await makeJob(bench, "Truck 2, rear");
    for (let i = 1; i < jobs; ++i) cpSync(join(folder, first), join(folder, `job-${i}`), { recursive: true });
    const page = await pairedPage(browser, bench, PHONE);
    const session = await page.context().newCDPSession(page);
    await session.send("Emulation.setCPUThrottlingRate", { rate: 4 });
    const last = page.locator("main li").nth(Math.min(jobs, SHOWN) - 1);
    for (let i = 0; i < TRIES; ++i) {
        await page.evaluate(() => (location.hash = "#/new"));
        await page.getByLabel("Which axle").waitFor();
        const start = Date.now();
        await page.evaluate(() => (location.hash = "#/"));
        await last.waitFor();
        const shown = Date.now();
        await page.getByLabel("Search: axle").fill("truck");
        await page.getByText(/^\d+ jobs?$/).waitFor();
        console.log(`${jobs} jobs: list ${shown - start} ms, search ${Date.now() - shown} ms`);
    }
    await browser.close();
    await bench.close();
}

for (const jobs of [SHOWN, Number(process.argv[2] ?? 1000)]) await timed(jobs);
