// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// What the tests of the training bench share: a server with a job and score sheets of its own, and a browser.
import { cpSync, mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { after, before } from "node:test";
import { Bench, DESKTOP, PHONE, SOFTWARE_GL, launch, openPage, sample } from "./bench.mjs";

/// Of what a busy machine may take any time for; ctest ends what hangs.
export const PATIENCE_MS = 900_000;
export const MAX_BYTES = 2e6;
export const sizes = [
    [PHONE, "phone"],
    [DESKTOP, "desktop"],
];
export const scores = mkdtempSync(join(tmpdir(), "shimsight-scores-"));
export let bench, browser;

before(async () => {
    bench = new Bench(["--scores", scores]);
    // A job whose trials went on until one was good: what the first ones needed is known.
    cpSync(sample("job-van-17"), join(bench.folder, "jobs", "van-17"), { recursive: true });
    await bench.start();
    browser = await launch(SOFTWARE_GL);
});
after(async () => {
    await browser?.close();
    await bench?.close();
    rmSync(scores, { recursive: true, force: true });
});

/// A page of a device that is paired, at one address; what it weighs is counted.
export async function opened(kind, path, on = bench) {
    const page = await openPage(browser, on, kind);
    page.bytes = 0;
    page.on("response", async (response) => {
        if (!/\/photos\/|\/pictures\//.test(response.url()))
            page.bytes += (await response.body().catch(() => "")).length;
    });
    await page.goto(on.address);
    await page.getByRole("link", { name: "New job" }).waitFor();
    if (path) await page.goto(`${on.origin}/#/${path}`);
    return page;
}
