// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// What a person entered on the bench page stays: the unit switch, other pages, reloads, slow networks, a new tab.
import assert from "node:assert/strict";
import { readFileSync, readdirSync, rmSync } from "node:fs";
import { join } from "node:path";
import { test } from "node:test";
import {
    DOUBLED,
    PHONE,
    checkPage,
    drag,
    heading,
    newId,
    openPage,
    received,
    resultOf,
    sample,
    send,
} from "./bench.mjs";
import { bench, browser, finish } from "./stage.mjs";

const DRIVE = sample("van-a-too-shallow/drive.jpg"),
    COAST = sample("van-a-too-shallow/coast.jpg");

async function paired() {
    const page = await openPage(browser, bench, PHONE);
    await page.goto(bench.address);
    await page.getByRole("link", { name: "New job" }).waitFor();
    return page;
}

/// A job made past the page, and a page on it.
async function onJob(axle, path = "") {
    const answer = await bench.ask("/api/jobs", {
        method: "POST",
        headers: {
            "Content-Type": "application/json",
            Origin: bench.origin,
            "X-Shimsight-Request": [...crypto.getRandomValues(new Uint8Array(16))]
                .map((byte) => byte.toString(16).padStart(2, "0"))
                .join(""),
        },
        body: JSON.stringify({
            axle,
            gear_set: "1/lab-van-rear-axle-a.json",
            by: "Kim",
            build: "new-gears",
            bearings: "new",
            spacer: "not-said",
            customer: "",
        }),
    });
    assert.equal(answer.status, 200);
    const { job } = await answer.json();
    const page = await paired();
    await page.goto(`${bench.origin}/#/job/${job}${path}`);
    return { page, job };
}

const turnUnit = (page) => page.locator("#units").click();
/// The first trial of a page that waits for its photos, read; the answer is shown.
async function readTrial(page, { coast, backlash, stack } = {}) {
    await page.getByLabel("Photo of the drive side").setInputFiles(DRIVE);
    if (coast) await page.getByLabel("Photo of the coast side").setInputFiles(coast);
    if (backlash) await page.getByLabel("Backlash on the dial").fill(backlash);
    if (stack) await page.getByLabel("Pinion shims in place").fill(stack);
    await received(page, coast ? 2 : 1);
    await page.getByRole("button", { name: "Read the pattern" }).click();
    await page.waitForURL(/trial\/t1/, { timeout: 60000 });
}
const darkPixels = (canvas) =>
    canvas.evaluate((one) => {
        const { data } = one.getContext("2d").getImageData(0, 0, one.width, one.height);
        let dark = 0;
        for (let i = 3; i < data.length; i += 4) if (data[i] > 0) ++dark;
        return dark;
    });

async function dab(page, canvas) {
    await canvas.evaluate((one) => one.scrollIntoView({ block: "center" }));
    const box = await canvas.boundingBox();
    const at = { x: box.x + box.width * 0.4, y: box.y + box.height * 0.2 };
    await drag(page, at, { x: at.x + 6, y: at.y });
}

test("the unit switch leaves a drawing alone, and so do a reload and another page", async () => {
    const { page, job } = await onJob("Van 1", "/draw");
    await heading(page, "Draw the mark");
    const canvases = page.locator("canvas");
    await dab(page, canvases.nth(0));
    const drawn = await darkPixels(canvases.nth(0));
    assert.ok(drawn > 100);
    await turnUnit(page);
    await turnUnit(page);
    assert.equal(await darkPixels(canvases.nth(0)), drawn);
    assert.equal(await darkPixels(canvases.nth(1)), 0, "nobody drew on the coast side");
    await page.reload();
    await heading(page, "Draw the mark");
    assert.ok(Math.abs((await darkPixels(page.locator("canvas").nth(0))) - drawn) < 5);
    await page.goto(`${bench.origin}/#/job/${job}`);
    await heading(page, "Van 1");
    await page.goBack();
    await heading(page, "Draw the mark");
    assert.ok(Math.abs((await darkPixels(page.locator("canvas").nth(0))) - drawn) < 5);
    assert.equal(await darkPixels(page.locator("canvas").nth(1)), 0);
    await finish(page);
});

test("a drawing that was cleared, or that a slider took the place of, is put back", async () => {
    const { page } = await onJob("Van 1b", "/draw");
    await heading(page, "Draw the mark");
    const canvas = page.locator("canvas").nth(0);
    await dab(page, canvas);
    const drawn = await darkPixels(canvas);
    const undo = page.locator("#undo").getByRole("button", { name: "Undo" });
    await page.getByRole("button", { name: "Clear" }).first().click();
    assert.equal(await darkPixels(canvas), 0);
    await undo.click();
    await page.waitForFunction(() => !document.querySelector("#undo").childElementCount);
    assert.ok(Math.abs((await darkPixels(canvas)) - drawn) < 5, "as it was before it was cleared");
    await page.getByText("Set it by sliders").first().click();
    const slider = page.getByLabel("Length", { exact: true }).first();
    await slider.focus();
    for (let i = 0; i < 3; ++i) await page.keyboard.press("ArrowRight");
    assert.ok(Math.abs((await darkPixels(canvas)) - drawn) > 500, "a mark by the sliders");
    await undo.click();
    await page.waitForFunction(() => !document.querySelector("#undo").childElementCount);
    assert.ok(Math.abs((await darkPixels(canvas)) - drawn) < 5, "as it was before the sliders");
    await page.reload();
    await heading(page, "Draw the mark");
    assert.ok(Math.abs((await darkPixels(page.locator("canvas").nth(0))) - drawn) < 5);
    await finish(page);
});

test("no gear set is chosen before somebody chooses one", async () => {
    const page = await paired();
    await page.goto(`${bench.origin}/#/new`);
    await heading(page, "New job");
    await page.getByLabel("Which axle").fill("Van 2");
    assert.equal(await page.locator("fieldset").filter({ hasText: "Gear set" }).locator("input:checked").count(), 0);
    await page.getByRole("button", { name: "Begin the job" }).click();
    await page.locator("#main").getByText("choose the one that lies on the bench").waitFor();
    assert.equal((await bench.json("/api/jobs")).jobs.filter((job) => job.axle === "Van 2").length, 0);
    await finish(page);
});

test("a gear set that is being typed stays in view when the unit is switched, and after a reload", async () => {
    const page = await paired();
    await page.goto(`${bench.origin}/#/new`);
    await heading(page, "New job");
    await page.getByText("Another one: I enter").click();
    await page.getByLabel("Teeth, pinion").fill("11");
    await page.getByLabel("Ring gear diameter").fill("8.74");
    await page.getByText("Bearings, shims on hand, backlash range").click();
    await page.getByLabel("Pinion shims on hand").fill("0.003, 0.005");
    await turnUnit(page);
    assert.ok(await page.getByLabel("Teeth, pinion").isVisible());
    assert.equal(await page.getByLabel("Teeth, pinion").inputValue(), "11");
    assert.equal(
        await page.getByLabel("Ring gear diameter").inputValue(),
        "8.74 in",
        "a bare number keeps the unit it was typed in",
    );
    assert.equal(await page.getByLabel("Pinion shims on hand").inputValue(), "0.003 in, 0.005 in");
    await page.getByText("222.00 mm").locator("visible=true").first().waitFor();
    await page.reload();
    await heading(page, "New job");
    assert.equal(await page.getByLabel("Teeth, pinion").inputValue(), "11");
    assert.ok(await page.getByLabel("Teeth, pinion").isVisible());
    await turnUnit(page);
    await finish(page);
});

test("shims that were typed in inches are inches when the page is opened again in millimetres", async () => {
    const page = await paired();
    await page.goto(`${bench.origin}/#/new`);
    await heading(page, "New job");
    await page.getByText("Bearings, shims on hand, backlash range").click();
    await page.getByLabel("Pinion shims on hand").fill("0.003, 0.005");
    await page.evaluate(() => localStorage.setItem("shimsight-unit", "mm"));
    await page.reload();
    await heading(page, "New job");
    assert.equal(await page.getByLabel("Pinion shims on hand").inputValue(), "0.003 in, 0.005 in");
    await finish(page);
});

test("eight readings round the ring gear and moved corners outlive the unit switch", async () => {
    const { page, job } = await onJob("Van 3", "/measure/backlash");
    await heading(page, "Backlash round");
    await page.getByText("8", { exact: true }).click();
    for (const degrees of [0, 45, 90, 135, 180, 225, 270, 315])
        await page.getByLabel(`${degrees}°`, { exact: true }).fill("7");
    await turnUnit(page);
    assert.equal(await page.locator(".eight input").count(), 8);
    assert.deepEqual(
        new Set(await page.locator(".eight input").evaluateAll((inputs) => inputs.map((input) => input.value))),
        new Set(["7 thou"]),
    );
    await turnUnit(page);

    await page.goto(`${bench.origin}/#/job/${job}/new-trial`);
    await heading(page, "Trial 1");
    await readTrial(page);
    await page.goto(`${bench.origin}/#/job/${job}/trial/t1/outline/0`);
    await heading(page, "Photo 1");
    const corner = page.getByRole("button", { name: /Corner heel, tip/ });
    await corner.focus();
    const before = await corner.evaluate((one) => one.style.left);
    for (let i = 0; i < 5; ++i) await page.keyboard.press("Shift+ArrowRight");
    const moved = await corner.evaluate((one) => one.style.left);
    assert.notEqual(moved, before);
    await turnUnit(page);
    assert.equal(await corner.evaluate((one) => one.style.left), moved);
    await page.reload();
    await heading(page, "Photo 1");
    assert.equal(await page.getByRole("button", { name: /Corner heel, tip/ }).evaluate((one) => one.style.left), moved);
    await finish(page);
});

/// Pieces of uploads that arrive late, as over a weak network.
const slowly = (page, ms) =>
    page.route(/\/api\/uploads\/.*offset/, async (route) => {
        await new Promise((done) => setTimeout(done, ms));
        await route.continue().catch(() => {});
    });

test("a photo on its way goes on while the unit is switched, another page is looked at, or the page is loaded again", async () => {
    const { page, job } = await onJob("Van 4", "/new-trial");
    await heading(page, "Trial 1");
    await slowly(page, 700);
    await page.getByLabel("Photo of the coast side").setInputFiles(COAST);
    await received(page, 1);
    await page.getByLabel("Photo of the drive side").setInputFiles(DRIVE);
    await page.getByText("Sending").waitFor();
    await turnUnit(page);
    assert.ok(await page.getByText("Sending").isVisible(), "still on its way after the unit switch");
    await page.goto(`${bench.origin}/#/job/${job}`);
    await heading(page, "Van 4");
    await page.goBack();
    await heading(page, "Trial 1");
    await page.reload();
    await heading(page, "Trial 1");
    // Read waits for what is on its way.
    await page.getByRole("button", { name: "Read the pattern" }).click();
    await page.waitForURL(/trial\/t1/, { timeout: 60000 });
    const { record } = await bench.json(`/api/jobs/${job}`);
    assert.deepEqual(record.trials[0].photos.map((photo) => photo.original_name).sort(), ["coast side", "drive side"]);
    await finish(page);
});

test("what was entered of a trial is there in a new tab", async () => {
    const { page, job } = await onJob("Van 5", "/new-trial");
    await heading(page, "Trial 1");
    await page.getByLabel("Photo of the drive side").setInputFiles(DRIVE);
    await received(page, 1);
    await page.getByLabel("Backlash on the dial").fill("0.009");
    const tab = await page.context().newPage();
    await tab.goto(`${bench.origin}/#/job/${job}/new-trial`);
    await heading(tab, "Trial 1");
    await received(tab, 1);
    assert.equal(await tab.getByLabel("Backlash on the dial").inputValue(), "0.009");
    await finish(page);
});

test("a photo that did not arrive is not left out in silence", async () => {
    const { page, job } = await onJob("Van 6", "/new-trial");
    await heading(page, "Trial 1");
    await page.getByLabel("Photo of the coast side").setInputFiles(COAST);
    await received(page, 1);
    await page.route(/\/api\/uploads\/.*offset/, (route) =>
        route.fulfill({ status: 415, json: { error: "This is no photo that can be read." } }),
    );
    await page.getByLabel("Photo of the drive side").setInputFiles(DRIVE);
    await page.getByText("This is no photo that can be read").waitFor();
    await page.getByRole("button", { name: "Read the pattern" }).click();
    await page.getByText("The photo of the drive side did not arrive").waitFor();
    assert.equal((await bench.json(`/api/jobs/${job}`)).record.trials.length, 0);
    await page.unroute(/\/api\/uploads\/.*offset/);
    await page.getByRole("button", { name: "Send it again" }).click();
    await received(page, 2);
    await finish(page);
});

test("a finger takes the nearest of two corners that lie close together", async () => {
    const { page, job } = await onJob("Van 7", "/new-trial");
    await heading(page, "Trial 1");
    await readTrial(page);
    await page.goto(`${bench.origin}/#/job/${job}/trial/t1/outline/0`);
    await heading(page, "Photo 1");
    const places = () =>
        page.locator(".corner").evaluateAll((corners) =>
            corners.map((corner) => {
                const box = corner.getBoundingClientRect();
                return { x: box.x + box.width / 2, y: box.y + box.height / 2 };
            }),
        );
    await page.locator(".stage").scrollIntoViewIfNeeded();
    for (let k = 0; k < 4; ++k) {
        const before = await places();
        await drag(page, before[k], { x: before[k].x + 10, y: before[k].y + 5 });
        const now = await places();
        now.forEach((place, i) =>
            assert.ok(
                Math.hypot(place.x - before[i].x - (i === k ? 10 : 0), place.y - before[i].y - (i === k ? 5 : 0)) < 1.5,
                `corner ${i} while corner ${k} is dragged`,
            ),
        );
        await page.getByRole("button", { name: "Undo" }).click();
        const back = await places();
        back.forEach((place, i) => assert.ok(Math.hypot(place.x - before[i].x, place.y - before[i].y) < 1.5, "undone"));
    }
    await page.getByRole("button", { name: "Closer" }).click();
    const view = await page.locator(".stage").boundingBox();
    for (const place of await places())
        assert.ok(
            place.x >= view.x && place.x <= view.x + view.width && place.y >= view.y && place.y <= view.y + view.height,
            "the chosen tooth is in view after Closer",
        );
    await finish(page);
});

test("a change that contradicts itself is refused with both numbers, a very large one is asked about, and the stack follows", async () => {
    const { page, job } = await onJob("Van 8", "/new-trial");
    await heading(page, "Trial 1");
    await readTrial(page, { coast: COAST, backlash: "0.009", stack: "0.030" });
    await page.goto(`${bench.origin}/#/job/${job}/done/t1`);
    await heading(page, "What was really done");
    await page.getByText("added", { exact: true }).click();
    await page.getByLabel("How much").fill("0.006");
    assert.equal(
        await page.getByLabel("Shims in place now").inputValue(),
        "0.036",
        "the stack follows from the change",
    );
    // After a reload, too; what was measured stays as it was measured.
    await page.reload();
    await heading(page, "What was really done");
    await page.getByLabel("How much").fill("0.007");
    assert.equal(await page.getByLabel("Shims in place now").inputValue(), "0.037");
    await page.getByLabel("Shims in place now").fill("0.0365");
    await page.getByLabel("How much").fill("0.006");
    assert.equal(await page.getByLabel("Shims in place now").inputValue(), "0.0365");
    await page.getByLabel("Backlash now, on the dial").fill("0.008");
    await page.getByLabel("Shims in place now").fill("0.024");
    await page.getByRole("button", { name: /Save, and go on/ }).click();
    await page.getByText("These do not fit").waitFor();
    const told = await page.getByRole("alert").innerText();
    assert.match(told, /0\.036\sin/);
    assert.match(told, /0\.024\sin/);
    await page.getByLabel("Shims in place now").fill("");
    await page.getByLabel("How much").fill("2.5mm");
    await page.getByLabel("Shims in place now").fill("");
    await page.getByRole("button", { name: /Save, and go on/ }).click();
    await page.getByText("is very large").waitFor();
    assert.equal((await bench.json(`/api/jobs/${job}`)).record.work.length, 0);
    await page.getByLabel("How much").fill("0.006");
    await page.getByRole("button", { name: /Save, and go on/ }).click();
    await heading(page, "Trial 2");
    assert.equal((await bench.json(`/api/jobs/${job}`)).record.work.length, 1);
    // What is there beforehand and was emptied stays empty.
    const backlash = page.getByLabel("Backlash on the dial");
    assert.equal(await backlash.inputValue(), "0.008");
    await backlash.fill("");
    await page.reload();
    await heading(page, "Trial 2");
    assert.equal(await backlash.inputValue(), "");
    // The phone's own way back: no page is left behind that would make it twice.
    await page.goBack();
    assert.ok(!page.url().includes("/done/"));
    await finish(page);
});

test("what was done can be written down after an answer that names no change", async () => {
    const { page, job } = await onJob("Van 9", "/new-trial");
    await heading(page, "Trial 1");
    await readTrial(page, { coast: COAST, backlash: "0.009" });
    // Back from the answer leads to the job's pages, not to an empty second trial.
    await page.goBack();
    assert.ok(!/new-trial/.test(page.url()), page.url());
    await page.route(`**/api/jobs/${job}`, async (route) => {
        const response = await route.fetch();
        if (response.status() !== 200) return route.fulfill({ response });
        const view = await response.json();
        view.trials.t1.answer.verdict = "measure-again";
        return route.fulfill({ response, json: view });
    });
    await page.goto(`${bench.origin}/#/job/${job}/trial/t1`);
    await page.getByRole("link", { name: "I changed something" }).click();
    await heading(page, "What was really done");
    await page.getByText("taken out", { exact: true }).click();
    await page.getByLabel("How much").fill("0.004");
    await page.getByLabel("Backlash now, on the dial").fill("0.008");
    await page.getByRole("button", { name: /Save, and go on/ }).click();
    await heading(page, "Trial 2");
    assert.equal((await bench.json(`/api/jobs/${job}`)).record.work.length, 1);
    await finish(page);
});

test("a tick and a save leave the page where it was, and say so", async () => {
    const { page, job } = await onJob("Van 10", "/measure/final-assembly");
    await heading(page, "Final assembly");
    const box = page.getByRole("checkbox").nth(5);
    await box.scrollIntoViewIfNeeded();
    const before = await page.evaluate(() => {
        window.scrollBy(0, 60);
        return window.scrollY;
    });
    assert.ok(before > 0);
    await page.evaluate(() => (window.formerList = document.querySelector("main ul")));
    await box.click();
    // The page is drawn anew with what the shop computer has.
    await page.waitForFunction(
        () =>
            document.querySelector("main ul") !== window.formerList &&
            document.querySelectorAll("input:checked").length === 1,
    );
    assert.ok(Math.abs((await page.evaluate(() => window.scrollY)) - before) < 40, "the page did not jump");
    await page.goto(`${bench.origin}/#/job/${job}/measure/runout`);
    await heading(page, "Runout");
    await page.getByLabel("Total reading").fill("0.002");
    await page.getByRole("button", { name: "Save" }).click();
    await page.getByText("Saved.", { exact: true }).locator("visible=true").first().waitFor();
    const note = await page.locator(".note.good").boundingBox();
    assert.ok(note.y > 0 && note.y < 812, "the word stands where one looks");
    await finish(page);
});

test("what is typed into a line of a check list, or as the reason of a sign-off, stays; a torque comes back with its tick", async () => {
    const { page, job } = await onJob("Van 10b", "/measure/pinion");
    const title = "Pinion seal and nut, for good";
    await heading(page, title);
    const nut = page.locator(".tick").filter({ hasText: "Pinion nut, at full torque" });
    const sheet = nut.getByLabel("Sheet says, least");
    const ticked = (count) =>
        page.waitForFunction((wanted) => document.querySelectorAll("input:checked").length === wanted, count);
    await nut.locator("summary").click();
    await nut.getByLabel("Tightened to").fill("180");
    await sheet.fill("160 ft-lb");
    // Another line is ticked, and the list drawn anew.
    await page.evaluate(() => (window.formerList = document.querySelector("main ul")));
    await page.getByRole("checkbox").first().click();
    await page.waitForFunction(() => document.querySelector("main ul") !== window.formerList);
    assert.equal(await nut.getByLabel("Tightened to").inputValue(), "180 ft-lb");
    assert.ok(await sheet.isVisible(), "it stays in view");
    await page.reload();
    await heading(page, title);
    assert.equal(await sheet.inputValue(), "160 ft-lb");
    await sheet.fill("");
    await nut.getByRole("button", { name: "Save" }).click();
    await ticked(2);
    assert.equal(await nut.getByLabel("Tightened to").inputValue(), "", "it was sent");
    const torque = async () =>
        (await bench.json(`/api/jobs/${job}`)).record.checks.find((one) => one.key === "pinion-nut").torque_nm;
    assert.ok(Math.abs((await torque()) - 180 * 1.3558179) < 0.1);
    // A finger beside its aim.
    await nut.getByRole("checkbox").click();
    await page.locator("#undo button").first().waitFor();
    assert.equal(await torque(), null);
    await page.locator("#undo").getByRole("button", { name: "Undo" }).click();
    await page.waitForFunction(() => !document.querySelector("#undo").childElementCount);
    assert.ok(Math.abs((await torque()) - 180 * 1.3558179) < 0.1);
    await page.goto(`${bench.origin}/#/job/${job}/sign-off`);
    await heading(page, "Sign the job off");
    await page.getByLabel("Why this stays open").fill("the cover waits for its gasket");
    await page.reload();
    await heading(page, "Sign the job off");
    assert.equal(await page.getByLabel("Why this stays open").inputValue(), "the cover waits for its gasket");
    await finish(page);
});

test("limits stay in view while one types, and odd numbers are asked about", async () => {
    const { page, job } = await onJob("Van 11", "/new-trial");
    await heading(page, "Trial 1");
    const below = page.locator(".field").filter({ hasText: "Backlash on the dial" });
    for (const [typed, words] of [
        ["0.008", /0\.006\sin to 0\.010\sin/],
        ["0", /jammed/],
        ["150", /far more than usual/],
        ["0.009 in.", /= 0\.009\sin/],
    ]) {
        await page.getByLabel("Backlash on the dial").fill(typed);
        assert.match(await below.innerText(), words, typed);
        assert.match(await below.innerText(), /Wanted/, typed);
    }
    await page.goto(`${bench.origin}/#/job/${job}/measure/preload`);
    await heading(page, "Pinion preload");
    const torque = page.locator(".field").filter({ hasText: "Turning torque of the pinion" });
    await torque.locator("input").fill("200");
    assert.match(await torque.innerText(), /right unit\?.*= 200.*Wanted/s);
    await page.goto(`${bench.origin}/#/gear-sets/new`);
    await heading(page, "New gear set");
    await page.getByLabel("Ring gear diameter").fill("222");
    await page.getByText(/A ring gear measures .*\sin to .*\sin\. Is that typed in the right unit\?/).waitFor();
    await finish(page);
});

test("text twice as large cuts no number", async () => {
    const { page, job } = await onJob("Van 12", "/new-trial");
    await heading(page, "Trial 1");
    await readTrial(page, { coast: COAST, backlash: "0.009" });
    await page.locator(".amount").waitFor();
    for (const width of [320, 390]) {
        await page.setViewportSize({ width, height: 700 });
        await page.evaluate((size) => (document.documentElement.style.fontSize = size), DOUBLED);
        const amount = await page.locator(".amount").evaluate((one) => {
            const range = document.createRange();
            range.selectNodeContents(one);
            return {
                right: range.getBoundingClientRect().right,
                card: one.closest(".answer").getBoundingClientRect().right,
            };
        });
        assert.ok(amount.right <= amount.card, `${amount.right} in ${amount.card} at ${width} px`);
        assert.ok(
            (await page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth)) <=
                0,
        );
    }
    assert.ok(job);
    await finish(page);
});

test("where the pinion starts: by marks and by a tool, odd ones asked about, in both units", async () => {
    const { page, job } = await onJob("Van start", "");
    await page.getByRole("link", { name: "Start of the pinion depth" }).click();
    await heading(page, "Start of the pinion depth");
    const [old, next, stack] = ["Figure on the old pinion", "Figure on the new pinion", "Shims the old pinion had"].map(
        (label) => page.getByLabel(label),
    );
    const hint = (field) =>
        field.evaluate((one) => document.getElementById(one.getAttribute("aria-describedby")).textContent);
    await old.fill("+2");
    assert.match(await hint(old), /= 0\.002.in \(0\.05.mm\)/);
    await next.fill("-20");
    assert.match(await hint(next), /These figures are far apart/);
    await next.fill("-60");
    assert.match(await hint(next), /A depth figure is at most 0\.039/);
    await page.getByRole("button", { name: "Save" }).click();
    await page.getByRole("alert").filter({ hasText: "A depth figure is at most" }).waitFor();
    await next.fill("-1");
    await stack.fill("0.030");
    // What was typed keeps its meaning, and outlives a reload.
    await turnUnit(page);
    assert.equal(await old.inputValue(), "+2 thou");
    assert.match(await hint(next), /= -0\.03.mm \(-0\.001.in\)/);
    await page.reload();
    await heading(page, "Start of the pinion depth");
    assert.equal(await old.inputValue(), "+2 thou");
    await checkPage(page, "61-start-of-depth");
    await page.getByRole("button", { name: "Save" }).click();
    // The pinion goes 0.003 in deeper; under the support of this axle that is 0.003 in less.
    await page.getByText(/Start with 0\.69.mm \(0\.027.in\) of shims/).waitFor();
    await page.getByText("thinner there is deeper").waitFor();
    await checkPage(page, "62-start-found");
    // By a tool, in inches.
    await turnUnit(page);
    await page.getByText("A depth tool").click();
    await page.getByLabel("The tool measures").fill("2.853");
    await page.getByLabel("It should be").fill("2.870");
    assert.match(await hint(page.getByLabel("It should be")), /far from what the tool measures/);
    await page.getByLabel("It should be").fill("2.850");
    await page.getByRole("button", { name: "Save" }).click();
    await page.getByText(/Start: take out 0\.003.in \(0\.08.mm\) of shims/).waitFor();
    const view = await bench.json(`/api/jobs/${job}`);
    assert.equal(view.record.depth.length, 2);
    assert.ok(Math.abs(view.record.depth[0].new_mark_mm + 0.0254) < 1e-6);
    assert.ok(Math.abs(view.record.depth[1].measured_mm - 2.853 * 25.4) < 1e-6);
    const step = view.status.steps.find((one) => one.key === "start-depth");
    assert.equal(step.state, "done");
    assert.match(step.detail, /0\.003 in \(0\.08 mm\)/);
    // Struck out by a touch, the former one counts again; and back.
    await page.getByRole("button", { name: "Strike out" }).first().click();
    await page.getByRole("button", { name: "Put back" }).waitFor();
    assert.ok((await bench.json(`/api/jobs/${job}`)).record.depth[1].struck);
    await finish(page);
});

test("what is said of one thing agrees: numbers of trials, the next step, whole notches, signs, two phones", async () => {
    const { page, job } = await onJob("Van 14", "/new-trial");
    await heading(page, "Trial 1");
    await readTrial(page, { coast: COAST, backlash: "0.009", stack: "0.030" });
    // A trial whose outlines were corrected keeps its number, here and on the sheet.
    await page.goto(`${bench.origin}/#/job/${job}/trial/t1/outline/0`);
    await heading(page, "Photo 1");
    await page.getByRole("button", { name: "Drop this tooth" }).click();
    await page.getByRole("button", { name: "Read again" }).click();
    await page.waitForURL(/trial\/t2/, { timeout: 60000 });
    await page.locator(".answer .amount").waitFor();
    await page.evaluate(() => document.querySelectorAll("main details").forEach((one) => (one.open = true)));
    const words = await page.locator("main").innerText();
    assert.match(words, /Trial 1/);
    assert.doesNotMatch(words, /Trial 2|\bt[12]\b/);
    // A lock fits whole notches; one sign for one thing; a shim and the move that it makes.
    assert.doesNotMatch(words, /\d\.\d+ notch/);
    assert.doesNotMatch(words, /\+ is deeper|Pinion move/);
    await page.goto(`${bench.origin}/#/job/${job}`);
    await heading(page, "Van 14");
    await page.getByText("Trial 1: Take out").waitFor();
    // The box and the first button name the same step.
    const { status } = await bench.json(`/api/jobs/${job}`);
    const next = status.steps.find((one) => one.state === "next");
    assert.equal(await page.locator(".bar .act").first().innerText(), next.title);
    await page.getByText(status.next).waitFor();
    // Two phones that read at once: no clock is doubted.
    const ids = [newId(), newId()];
    const photo = readFileSync(DRIVE);
    for (const id of ids)
        await bench.ask(`/api/uploads/${id}?offset=0&size=${photo.length}`, {
            method: "PUT",
            headers: { Origin: bench.origin },
            body: photo,
        });
    const tasks = await Promise.all(
        ids.map((id) =>
            send(bench, `/api/jobs/${job}/trials`, { by: "Bo", photos: [{ upload: id, side: "drive" }] }, 202),
        ),
    );
    for (const { task } of tasks) await resultOf(bench, task);
    const after = await bench.json(`/api/jobs/${job}`);
    assert.equal(after.record.trials.length, 4);
    assert.doesNotMatch(
        JSON.stringify(after.status) + JSON.stringify(after.record.trials),
        /dated before|Check the clock/,
    );
    await finish(page);
});

test("an empty photo is told at its place, and a torque is judged by the one limit that was given", async () => {
    const { page, job } = await onJob("Van 15", "/new-trial");
    await heading(page, "Trial 1");
    await page
        .getByLabel("Photo of the drive side")
        .setInputFiles({ name: "empty.jpg", mimeType: "image/jpeg", buffer: Buffer.alloc(0) });
    await page.getByText("This file is empty").waitFor();
    assert.doesNotMatch(await page.locator(".slot").first().innerText(), /Received/);
    await page.goto(`${bench.origin}/#/job/${job}/measure/torques`);
    await heading(page, "Torques");
    const line = page.locator(".tick").filter({ hasText: "Bearing cap bolts" });
    await line.locator("summary").click();
    await line.getByLabel("Tightened to").fill("95 Nm");
    await line.getByLabel("Sheet says, least").fill("100 Nm");
    await line.getByRole("button", { name: "Save" }).click();
    await line.getByText("outside limits").waitFor();
    const [cap] = (await bench.json(`/api/jobs/${job}`)).record.checks.filter((one) => one.key === "bearing-caps");
    assert.deepEqual(cap.wanted_nm, [100, 100]);
    const torques = (await bench.json(`/api/jobs/${job}`)).status.steps.find((one) => one.key === "torques");
    assert.notEqual(torques.state, "done");
    await finish(page);
});

test("a joint is ticked with its torque or with a note, and an odd torque with a note that says that it is right", async () => {
    const { page, job } = await onJob("Van 21", "/measure/pinion");
    await heading(page, "Pinion seal and nut, for good");
    const keyed = async (key) => (await bench.json(`/api/jobs/${job}`)).record.checks.find((one) => one.key === key);
    const line = page.locator(".tick").filter({ hasText: "Pinion nut, at full torque" });
    await line.getByRole("checkbox").click();
    assert.equal((await keyed("pinion-nut")).state, "open");
    const save = () => line.getByRole("button", { name: "Save" }).click();
    await save();
    await line.getByText("Enter the torque as tightened, or a note").waitFor();
    await line.getByLabel("Tightened to").fill("5 ft-lb");
    await save();
    await line.getByText("is low for a pinion nut").waitFor();
    assert.equal((await keyed("pinion-nut")).state, "open");
    await line.getByLabel("Note: why no torque").fill("a garden tractor");
    await save();
    await page.waitForFunction(() => [...document.querySelectorAll(".tick > input")].at(-1).checked);
    assert.equal((await keyed("pinion-nut")).note, "a garden tractor");
    // A note alone says why there is no figure.
    await page.goto(`${bench.origin}/#/job/${job}/measure/torques`);
    await heading(page, "Torques");
    const caps = page.locator(".tick").filter({ hasText: "Bearing cap bolts" });
    await caps.getByRole("checkbox").click();
    await caps.getByLabel("Note: why no torque").fill("by angle");
    await caps.getByRole("button", { name: "Save" }).click();
    await page.getByText("by angle").waitFor();
    assert.equal((await keyed("bearing-caps")).state, "done");
    await finish(page);
});

test("marks in two units are asked about, and the heights of the bearings are reckoned with", async () => {
    const { page, job } = await onJob("Van 22", "/measure/start-depth");
    await heading(page, "Start of the pinion depth");
    await page.getByLabel("Figure on the old pinion").fill("2 thou");
    await page.getByLabel("Figure on the new pinion").fill("0.02 mm");
    await page.getByLabel("Height of the old inner pinion bearing").fill("31.75 mm");
    await page.getByLabel("Height of the new one").fill("31.80 mm");
    await page.getByRole("button", { name: "Save", exact: true }).click();
    await page.getByText("One figure was given in inches and the other in millimetres").waitFor();
    await page.getByText("taller than the old one").waitFor();
    const [start] = (await bench.json(`/api/jobs/${job}`)).record.depth;
    assert.equal(start.marks_in_two_units, true);
    assert.equal(start.new_bearing_mm, 31.8);
    await page.getByLabel("Figure on the old pinion").fill("2 thou");
    await page.getByLabel("Figure on the new pinion").fill("1 thou");
    await page.getByText("another housing").click();
    await page.getByRole("button", { name: "Save", exact: true }).click();
    await page.getByRole("alert").filter({ hasText: "housing" }).waitFor();
    assert.equal((await bench.json(`/api/jobs/${job}`)).record.depth.length, 1);
    await finish(page);
});

test("a reading that no axle gives is asked about, and saved with a note", async () => {
    const { page, job } = await onJob("Van 23", "/measure/runout");
    await heading(page, "Runout");
    await page.getByLabel("Total reading").fill("0.2 in");
    await page.getByRole("button", { name: "Save", exact: true }).click();
    await page.getByRole("alert").filter({ hasText: "is high for the runout of a ring gear" }).waitFor();
    assert.equal((await bench.json(`/api/jobs/${job}`)).record.runout.length, 0);
    await page.getByLabel("Note (may stay empty)").fill("a burr");
    await page.getByRole("button", { name: "Save", exact: true }).click();
    await page.getByText("Saved.").first().waitFor();
    assert.equal((await bench.json(`/api/jobs/${job}`)).record.runout[0].note, "a burr");
    await finish(page);
});

test("the answer of a trial is lost for long: pressed again it is the same trial", async () => {
    const { page, job } = await onJob("Van 16", "/new-trial");
    await heading(page, "Trial 1");
    await page.getByLabel("Photo of the drive side").setInputFiles(DRIVE);
    await received(page, 1);
    await page.route("**/api/tasks/**", (route) => route.abort("connectionreset"));
    await page.getByRole("button", { name: "Read the pattern" }).click();
    await page.getByText("There is no connection to the shop computer").waitFor({ timeout: 60000 });
    await page.unroute("**/api/tasks/**");
    await page.getByRole("button", { name: "Read the pattern" }).click();
    await page.waitForURL(/trial\/t1/, { timeout: 60000 });
    assert.equal((await bench.json(`/api/jobs/${job}`)).record.trials.length, 1);
    await finish(page);
});

test("a photo that the shop computer no longer has is sent once more by Read", async () => {
    const { page, job } = await onJob("Van 20", "/new-trial");
    await heading(page, "Trial 1");
    await page.getByLabel("Photo of the drive side").setInputFiles(DRIVE);
    await received(page, 1);
    const uploads = join(bench.folder, "jobs/.shimsight-server/uploads");
    const files = readdirSync(uploads);
    assert.ok(files.length > 0);
    for (const file of files) rmSync(join(uploads, file));
    await page.getByRole("button", { name: "Read the pattern" }).click();
    await page.waitForURL(/trial\/t1/, { timeout: 60000 });
    assert.equal((await bench.json(`/api/jobs/${job}`)).record.trials[0].photos.length, 1);
    await finish(page);
});

test("what a button at the foot of the page has to say stands right above it, on a small phone, too", async () => {
    const { page, job } = await onJob("Van 21", "/new-trial");
    await page.setViewportSize({ width: 320, height: 568 });
    for (const [path, title, button, words] of [
        ["new-trial", "Trial 1", "Read the pattern", "Take a photo of the drive side, of the coast side"],
        ["draw", "Draw the mark", "Use this pattern", "Draw the mark that you see on at least one side"],
    ]) {
        await page.goto(`${bench.origin}/#/job/${job}/${path}`);
        await heading(page, title);
        await page.getByRole("button", { name: button }).click();
        const box = await page.locator("main").getByText(words).boundingBox();
        assert.ok(box.y > 0 && box.y + box.height <= 568, `${path}: ${JSON.stringify(box)}`);
    }
    await finish(page);
});

test("a reading whose answer is lost is saved once; another number is another reading", async () => {
    const { page, job } = await onJob("Van 17", "/measure/runout");
    await heading(page, "Runout");
    let lost = true;
    // The reading arrives, its answer does not; the waits between the tries are cut short.
    await page.clock.install();
    await page.route("**/entries/runout", async (route) => {
        if (!lost) return route.continue();
        await route.fetch();
        return route.abort("connectionreset");
    });
    await page.getByLabel("Total reading").fill("2 thou");
    await page.getByRole("button", { name: "Save" }).click();
    for (let i = 0; i < 40 && !(await page.getByRole("alert").isVisible()); ++i) {
        await page.clock.runFor(5000);
        await new Promise((done) => setTimeout(done, 100));
    }
    await page.getByRole("alert").filter({ hasText: "There is no connection" }).waitFor();
    await page.clock.resume();
    lost = false;
    const runout = async () => (await bench.json(`/api/jobs/${job}`)).record.runout.map((one) => one.runout_mm);
    assert.equal((await runout()).length, 1);
    await page.getByRole("button", { name: "Save" }).click();
    await page.getByText("Saved.", { exact: true }).locator("visible=true").first().waitFor();
    assert.equal((await runout()).length, 1, "the same reading");
    await page.getByLabel("Total reading").fill("2.5 thou");
    await page.getByRole("button", { name: "Save" }).click();
    // Below the form, not below its field.
    await page.locator(".sheet strong").filter({ hasText: "0.0025" }).waitFor();
    assert.equal((await runout()).length, 2);
    await finish(page);
});

test("a form that will be drawn again with its answer takes no typing until then", async () => {
    const { page, job } = await onJob("Van 17", "/measure/runout");
    await heading(page, "Runout");
    let go = () => {};
    const held = new Promise((done) => (go = done));
    await page.route(`**/api/jobs/${job}`, async (route) => {
        await held;
        await route.continue();
    });
    const reading = page.getByLabel("Total reading");
    await reading.fill("2 thou");
    await page.getByRole("button", { name: "Save" }).click();
    await page.locator("input[readonly]").first().waitFor();
    assert.equal(await reading.isEditable(), false);
    go();
    await reading.fill("2.5 thou");
    await page.getByRole("button", { name: "Save" }).click();
    await page.locator(".sheet strong").filter({ hasText: "0.0025" }).waitFor();
    await finish(page);
});

test("whoever goes elsewhere while photos are read stays there, and is told", async () => {
    const { page, job } = await onJob("Van 18", "/new-trial");
    await heading(page, "Trial 1");
    await page.getByLabel("Photo of the drive side").setInputFiles(DRIVE);
    await received(page, 1);
    let go = () => {};
    const held = new Promise((done) => (go = done));
    await page.route("**/api/tasks/**", async (route) => {
        await held;
        await route.continue();
    });
    await page.getByRole("button", { name: "Read the pattern" }).click();
    await page.evaluate((hash) => (location.hash = hash), `#/job/${job}/measure/runout`);
    await heading(page, "Runout");
    await page.getByLabel("Total reading").fill("0.00");
    go();
    await page.getByText("Van 18: the photos are read").locator("visible=true").first().waitFor({ timeout: 60000 });
    assert.match(page.url(), /measure\/runout/);
    assert.equal(await page.getByLabel("Total reading").inputValue(), "0.00");
    await page.getByRole("button", { name: "Show it" }).click();
    await page.waitForURL(/trial\/t1/);
    // What could not be saved is told there, too, and stands in its form.
    await page.goto(`${bench.origin}/#/job/${job}/measure/runout`);
    await heading(page, "Runout");
    await page.getByLabel("Total reading").fill("0.002");
    let refuse = () => {};
    const waits = new Promise((done) => (refuse = done));
    await page.route("**/entries/runout", async (route) => {
        await waits;
        await route.fulfill({ status: 400, json: { error: "The disk of the shop computer is full." } });
    });
    await page.getByRole("button", { name: "Save" }).click();
    await page.evaluate((hash) => (location.hash = hash), `#/job/${job}`);
    await heading(page, "Van 18");
    refuse();
    await page.getByText("Not saved: The disk of the shop computer is full.").locator("visible=true").first().waitFor();
    await page.getByRole("button", { name: "Show it" }).click();
    await heading(page, "Runout");
    assert.equal(await page.getByLabel("Total reading").inputValue(), "0.002 in");
    await finish(page);
});

test("an address that is none is told, not left empty", async () => {
    const { page } = await onJob("Van 19");
    await heading(page, "Van 19");
    await page.evaluate(() => (location.hash = "#/job/%E0%A4"));
    await heading(page, "This cannot be shown");
    await finish(page);
});

test("a browser's database that never answers holds up no page", async () => {
    const context = await browser.newContext({ ...PHONE });
    await context.addInitScript(() => {
        IDBFactory.prototype.open = () => ({}); // neither success nor error ever comes
    });
    const page = await context.newPage();
    await page.goto(bench.address);
    await page.getByRole("link", { name: "New job" }).waitFor({ timeout: 15_000 });
    const { job } = await onJob("Van silent", "").then(async ({ page: other, job }) => {
        await finish(other);
        return { job };
    });
    await page.goto(`${bench.origin}/#/job/${job}/measure/runout`);
    await heading(page, "Runout");
    await page.getByLabel("Total reading").fill("0.002");
    await page.getByRole("button", { name: "Save" }).click();
    await page.getByText("Saved.", { exact: true }).locator("visible=true").first().waitFor({ timeout: 15_000 });
    await context.close();
});
