// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// The training bench of the served page in a real browser: the live tooth, and the unit switch in all of it.
import assert from "node:assert/strict";
import { test } from "node:test";
import { PHONE, checkPage, choose, drag, heading } from "./bench.mjs";
import { MAX_BYTES, bench, browser, opened, sizes } from "./training.mjs";

test("the live tooth follows keys, touch and the unit switch", async () => {
    for (const [kind, name] of sizes) {
        const page = await opened(kind, "training/live");
        const sentence = page.locator("#sentence"),
            flank = () => page.locator("#drive").evaluate((canvas) => canvas.toDataURL());
        await sentence.filter({ hasText: "a good pattern, leave it" }).waitFor();
        await page.locator("#view canvas").waitFor({ timeout: 60000 });
        assert.ok(page.bytes < MAX_BYTES, `${page.bytes} bytes`);
        const first = await flank();
        await page.getByLabel("Pinion depth").focus();
        for (let k = 0; k < 10; ++k) await page.keyboard.press("ArrowRight");
        await sentence
            .filter({ hasText: "0.005 in (0.13 mm) too deep, which pulls both marks toward the root" })
            .waitFor();
        assert.notEqual(await flank(), first, "the mark moved");
        assert.match(
            await page.getByLabel("Pinion depth").getAttribute("aria-valuetext"),
            /0\.005.in \(0\.13.mm\) too deep/,
        );
        await checkPage(page, `45-live-${name}`);
        if (kind === PHONE) {
            const slider = page.getByLabel("Backlash");
            await slider.evaluate((one) => one.scrollIntoView({ block: "center" }));
            const box = await slider.boundingBox(),
                y = box.y + box.height / 2;
            const share = await slider.evaluate((one) => (one.value - one.min) / (one.max - one.min));
            await drag(page, { x: box.x + 12 + share * (box.width - 24), y }, { x: box.x + 0.95 * box.width, y });
            await sentence
                .filter({ hasText: "over its limits: the ring gear stands too far away" })
                .waitFor({ timeout: 60000 });
            // The sheet with both marks stays in sight while the sliders move.
            const top = await page.locator(".flanks").boundingBox();
            assert.ok(top.y >= 0 && top.y + top.height < y, "both marks are in sight");
        }
        const shown = await sentence.textContent();
        await page.getByRole("button", { name: /lengths in inches/ }).click();
        await sentence.filter({ hasText: /mm \(0\.0\d+.in\) too deep/ }).waitFor();
        assert.match(shown, /too deep/, "the setting stays when the unit changes");
        await page.getByRole("button", { name: /lengths in millimetres/ }).click();
        await sentence.filter({ hasText: /in \(0\.\d+.mm\) too deep/ }).waitFor();
        await page.getByText("More", { exact: true }).click();
        await page.getByLabel("Gear set").selectOption({ label: "Lab light truck rear axle (face-hobbed)" });
        await page.getByText("Lab light truck rear axle (face-hobbed), face-hobbed").waitFor();
        await page.getByLabel("Cut of the teeth").selectOption("face-milled");
        await page.getByText("Lab light truck rear axle (face-hobbed), face-milled").waitFor();
        await page.getByLabel("Offset error").fill("0.2032");
        await sentence.filter({ hasText: "which sends drive and coast opposite ways" }).waitFor();
        await page.getByLabel("Pinion", { exact: true }).selectOption("solid");
        await page.getByRole("button", { name: "Let them turn" }).click();
        await page.waitForTimeout(300);
        await page.getByRole("button", { name: "Let them turn" }).click();
        await checkPage(page, `46-live-more-${name}`);
        // Leaving lets go of it; coming back begins anew.
        await page.goto(`${bench.origin}/#/training`);
        await heading(page, "Training bench");
        await page.goto(`${bench.origin}/#/training/live`);
        await sentence.filter({ hasText: "a good pattern, leave it" }).waitFor();
        assert.deepEqual(page.faults, []);
        await page.context().close();
    }
});

/// Seconds of processor that each of the browser's page processes has taken so far, by its number.
async function processorOfPages(session) {
    const { processInfo } = await session.send("SystemInfo.getProcessInfo");
    return new Map(processInfo.filter(({ type }) => type === "renderer").map(({ id, cpuTime }) => [id, cpuTime]));
}

test("the first marks take less than a second of processor more than an empty page", async () => {
    const page = await opened(PHONE);
    const session = await browser.newBrowserCDPSession();
    const taken = async (work) => {
        const before = await processorOfPages(session);
        await work();
        let seconds = 0;
        for (const [id, now] of await processorOfPages(session)) seconds += now - (before.get(id) ?? 0);
        return seconds;
    };
    const first = [],
        empty = [];
    // The least disturbed of five. Of processor, since the clock also runs while others have it.
    for (let k = 0; k < 5; ++k) {
        empty.push(await taken(() => page.goto(`${bench.origin}/documents/none`)));
        first.push(
            await taken(async () => {
                await page.goto(`${bench.origin}/#/training/live`);
                await page.waitForFunction(() => document.querySelector("#sentence")?.textContent, null, {
                    polling: 20,
                });
            }),
        );
        await page.goto("about:blank");
    }
    assert.ok(Math.min(...first) > 0, "the processor is told");
    const more = Math.min(...first) - Math.min(...empty);
    console.log(`first marks take ${(1000 * more).toFixed(0)} ms of processor more than an empty page`);
    assert.ok(more < 1, `${more} s`);
    await page.context().close();
});

test("from a job to the live tooth and the chart of its gear set", async () => {
    const page = await opened(PHONE, "job/van-17");
    await heading(page, "Delivery van 17");
    await page.getByRole("link", { name: "See what a shim does" }).click();
    await page.getByText("Lab van rear axle A (drop-out carrier, pinion support), face-milled").waitFor();
    await page.locator("#sentence").filter({ hasText: "a good pattern, leave it" }).waitFor();
    await page.getByRole("link", { name: "Job", exact: true }).click();
    await page.getByRole("link", { name: "Chart of its marks" }).click();
    await heading(page, "Chart of this gear set");
    await checkPage(page, "47-job-chart");
    await page.context().close();
});

/// Turns the unit switch; `check` holds afterwards, and the page is the same one: nothing on it was built anew.
async function turned(page, check) {
    await page.evaluate(() => {
        for (const one of document.querySelectorAll("main *")) one.sameAsBefore = true;
    });
    const count = await page.locator("main input, main select, main details, main svg").count();
    await page.locator("#units").click();
    await check();
    const same = await page.evaluate(
        () =>
            [...document.querySelectorAll("main input, main select, main details, main svg")].filter(
                (one) => one.sameAsBefore,
            ).length,
    );
    assert.equal(same, count, "the same fields as before");
}

test("the unit switch leaves alone what is entered in drill, game, lesson and live tooth", async () => {
    const page = await opened(PHONE, "training/drill");
    await heading(page, "Drill");
    await page.getByLabel("Your name").fill("Bo");
    await page.getByText("2: ").first().click();
    await page.getByText("Gear set, same questions for all").click();
    await page.getByLabel("Gear set").selectOption({ label: "Lab light truck rear axle (face-hobbed)" });
    await page.getByLabel("Number of the questions").fill("5");
    await turned(page, async () => {
        assert.equal(await page.getByLabel("Your name").inputValue(), "Bo");
        assert.equal(
            await page.getByLabel("Gear set").evaluate((one) => one.selectedOptions[0].textContent),
            "Lab light truck rear axle (face-hobbed)",
        );
        assert.equal(await page.getByLabel("Number of the questions").inputValue(), "5");
        assert.ok(
            await page
                .locator("details")
                .first()
                .evaluate((one) => one.open),
        );
    });
    await page.getByRole("button", { name: "Begin" }).click();
    await heading(page, "Question 1");
    await choose(page, "Drive side", "toe", "root half");
    await page.getByText("Change it").click();
    await page.getByLabel("Pinion depth").fill("-3");
    const moved = page.locator("output").first();
    const inMm = /^0\.\d\d.mm \(0\.\d+.in\) shallower$/,
        inInches = /^0\.\d+.in \(0\.\d\d.mm\) shallower$/;
    assert.match(await moved.textContent(), inMm);
    await turned(page, async () => {
        assert.match(await moved.textContent(), inInches);
        assert.match(await page.getByLabel("Pinion depth").getAttribute("aria-valuetext"), inInches);
        assert.equal(await page.getByLabel("Pinion depth").inputValue(), "-3");
        assert.ok(await page.getByRole("region", { name: "Drive side" }).getByLabel("toe").isChecked());
        assert.match(await page.locator(".facts").innerText(), /0\.\d+.in \(0\.\d\d.mm\)/);
    });
    await page.getByRole("button", { name: "End the drill" }).click();
    await heading(page, "Drill");

    await page.goto(`${bench.origin}/#/training/game`);
    await heading(page, "Set-up game");
    await page.getByRole("button", { name: "Begin" }).click();
    const more = page.locator("output").nth(1),
        moreSlider = page.locator("input[type=range]").nth(1);
    await moreSlider.waitFor();
    await moreSlider.fill("2");
    assert.match(await more.textContent(), /in \(.*mm\) more$/);
    await turned(page, async () => {
        assert.match(await more.textContent(), /^0\.\d\d.mm \(0\.\d+.in\) more$/);
        assert.equal(await moreSlider.inputValue(), "2");
    });

    await page.goto(`${bench.origin}/#/training/lesson/depth`);
    await heading(page, "Pinion depth");
    const slider = page.locator("figure.try input[type=range]").first();
    await slider.waitFor();
    await slider.fill("0.127");
    const told = page.locator("figure.try output").first();
    await told.filter({ hasText: /0\.13 mm \(0\.005 in\) too deep/ }).waitFor();
    const text = await page.locator("article").innerText();
    assert.match(text, /\d.mm \(0\.\d+.in\)/);
    await turned(page, async () => {
        await told.filter({ hasText: /0\.005 in \(0\.13 mm\) too deep/ }).waitFor();
        assert.equal(await slider.inputValue(), "0.127");
        assert.doesNotMatch(await page.locator("article").innerText(), /\d.mm \(0\.\d+.in\)/);
    });

    await page.goto(`${bench.origin}/#/training/live`);
    const sentence = page.locator("#sentence");
    await sentence.filter({ hasText: "a good pattern, leave it" }).waitFor();
    await page.getByLabel("Pinion depth").fill("0.0635");
    await sentence.filter({ hasText: /0\.0025.in \(0\.06.mm\) too deep/ }).waitFor();
    const value = await page.getByLabel("Pinion depth").inputValue();
    await turned(page, async () => {
        await sentence.filter({ hasText: /0\.06.mm \(0\.0025.in\) too deep/ }).waitFor();
        assert.equal(
            await page.getByLabel("Pinion depth").inputValue(),
            value,
            "not moved to a step of the other unit",
        );
    });
    await page.locator("#units").click();
    assert.deepEqual(page.faults, []);
    await page.context().close();
});
