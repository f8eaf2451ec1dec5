// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// The training bench of the served page in a real browser: lessons and charts.
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { test } from "node:test";
import { PHONE, checkPage, heading } from "./bench.mjs";
import { MAX_BYTES, PATIENCE_MS, opened, sizes } from "./training.mjs";

test("from the start to the lessons, and through all of them", async () => {
    for (const [kind, name] of sizes) {
        const page = await opened(kind);
        await page.getByRole("link", { name: "Training bench" }).click();
        await heading(page, "Training bench");
        await checkPage(page, `40-training-${name}`);
        await page.getByRole("link", { name: "Safety first" }).click();
        let read = 0,
            holds = 0;
        for (;;) {
            const title = page.getByRole("heading", { level: 1 });
            await page.locator("article.lesson").waitFor();
            ++read;
            assert.ok((await page.locator("article").innerText()).length > 300);
            for (const details of await page.locator("article details summary").all()) await details.click();
            holds += await page.locator(".claims .yes").count();
            assert.equal(await page.locator(".claims .no").count(), 0);
            if (read <= 5) await checkPage(page, `41-lesson-${read}-${name}`);
            const next = page.getByRole("link", { name: /^Next: / });
            if (!(await next.count())) break;
            const words = (await next.textContent()).replace("Next: ", "");
            await next.click();
            await title.filter({ hasText: words }).waitFor();
        }
        assert.equal(read, 25);
        assert.ok(holds > 50, `${holds} claims hold`);
        assert.ok(page.bytes < MAX_BYTES, `${page.bytes} bytes`);
        await page.context().close();
    }
});

test("a lesson's photo is rendered for who asks", async () => {
    const page = await opened(PHONE, "training/lesson/depth");
    await heading(page, "Pinion depth");
    await page.getByRole("button", { name: "Show it as a photo" }).first().click();
    const image = page.locator(".shot img");
    // The server renders behind everything else that the machine has to do.
    await image.waitFor({ timeout: PATIENCE_MS });
    assert.ok(await image.evaluate((one) => one.naturalWidth > 300));
    await checkPage(page, "42-lesson-photo");
    await page.context().close();
});

test("the chart, of one set and of two, and as a picture", async () => {
    for (const [kind, name] of sizes) {
        const page = await opened(kind, "training/chart");
        await heading(page, "Chart of a gear set");
        assert.equal(await page.locator("table.chart td .fk-mark").count(), 18);
        await checkPage(page, `43-chart-${name}`);
        await page
            .getByLabel("Gear set")
            .selectOption({ label: "Lab van rear axle B (one-piece housing, carrier shims)" });
        await page.getByText("one-piece housing, carrier shims)").nth(2).waitFor();
        await page.getByLabel("Beside it").selectOption({ label: "Lab light truck rear axle (face-hobbed)" });
        await page.waitForFunction(() => document.querySelectorAll("table.chart td .fk-mark").length === 36);
        await page.getByText("Why printed charts contradict each other").waitFor();
        await checkPage(page, `44-chart-two-${name}`);
        const [download] = await Promise.all([
            page.waitForEvent("download"),
            page.getByRole("button", { name: "Save as a picture" }).click(),
        ]);
        assert.match(readFileSync(await download.path(), "utf8"), /^<svg [^]*<\/svg>\n$/);
        await page.context().close();
    }
});
