// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// What stands where on a phone: the answer on one screen, short forms, whole words, looks that say how sure.
import assert from "node:assert/strict";
import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { before, test } from "node:test";
import {
    Bench,
    DOUBLED,
    PHONE,
    checkPage,
    drawTrial,
    heading,
    makeJob,
    openPage,
    pairedPage,
    received,
    sample,
    send,
    shot,
} from "./bench.mjs";
import { bench, browser, finish } from "./stage.mjs";

const LARGE = { ...PHONE, viewport: { width: 390, height: 844 } };
let read;

/// A job with a trial whose photos were read by way of the page; `read` is its name.
before(async () => {
    read = await makeJob(bench, "Van 1, rear axle");
    const page = await on(read, "/new-trial");
    await page.getByLabel("Photo of the drive side").setInputFiles(sample("van-a-too-shallow/drive.jpg"));
    await page.getByLabel("Photo of the coast side").setInputFiles(sample("van-a-too-shallow/coast.jpg"));
    await page.getByLabel("Backlash on the dial").fill("0.009");
    await page.getByLabel("Pinion shims in place").fill("0.030");
    await received(page, 2);
    await page.getByRole("button", { name: "Read the pattern" }).click();
    await page.locator(".answer .amount").waitFor({ timeout: 60000 });
    await finish(page);
});

async function on(job, path = "", kind = LARGE) {
    const page = await pairedPage(browser, bench, kind);
    await go(page, `#/job/${job}${path}`);
    return page;
}
async function go(page, path) {
    await page.goto("about:blank");
    await page.goto(`${bench.origin}/${path}`);
    await page.waitForFunction(() => document.querySelector("main h1") && !document.getElementById("unopened"));
    await page.waitForLoadState("networkidle");
}
/// Where an element lies on the page.
const placeOf = (locator) =>
    locator.evaluate((one) => {
        const box = one.getBoundingClientRect();
        return { top: box.top + window.scrollY, bottom: box.bottom + window.scrollY };
    });
/// With plain spaces.
const clean = (text) => text.replaceAll("\u00a0", " ");
const wordsOf = async (page) => (await page.locator("main").innerText()).trim().split(/\s+/).length;

test("the answer stands on one screen: amount, place, direction, backlash, how sure; its photos follow", async () => {
    const page = await on(read, "/trial/t1");
    await page.waitForFunction(() => document.querySelectorAll(".shot img").length === 2);
    const bar = await page.locator(".bar").evaluate((one) => one.getBoundingClientRect().top);
    const card = page.locator(".answer");
    for (const [what, one] of [
        ["amount", card.locator(".amount")],
        ["place", card.locator("h1")],
        ["backlash", card.getByText("Backlash to set")],
        ["how sure", card.locator(".certainty")],
        ["the chance", card.getByText("Chance that the next pattern is right")],
    ]) {
        const { bottom } = await placeOf(one);
        assert.ok(bottom <= bar, `${what} ends at ${Math.round(bottom)} px, the screen at ${bar} px`);
    }
    const way = await card
        .locator("li")
        .first()
        .evaluate((one) => {
            const range = document.createRange(),
                words = "deeper, toward the ring gear",
                at = one.firstChild.data.indexOf(words);
            range.setStart(one.firstChild, at);
            range.setEnd(one.firstChild, at + words.length);
            return range.getBoundingClientRect().bottom + window.scrollY;
        });
    assert.ok(way <= bar, `the way it goes ends at ${way} px`);
    const { top } = await placeOf(page.locator(".shot").first());
    const words = await wordsOf(page),
        height = await page.evaluate(() => document.documentElement.scrollHeight);
    console.log(`answer: ${words} words, ${height} px; photos start at ${Math.round(top)} px`);
    assert.ok(top < 1.3 * 844, `photos start at ${top} px`);
    assert.ok(words < 330 && height < 3200, `${words} words, ${height} px`);
    // Nothing between the photos and the answer but for which set it is.
    assert.ok(top < (await placeOf(page.locator("main details").filter({ hasText: "Why" }))).top);
    assert.equal(await page.locator(".note.warn").filter({ hasText: "Support the axle" }).isVisible(), true);
    // The further steps are a tap away, and go on counting.
    assert.equal(await card.locator("li").filter({ hasText: "Pinion preload" }).isVisible(), false);
    await card.locator("summary").click();
    assert.ok(await card.locator("li").filter({ hasText: "Pinion preload" }).isVisible());
    assert.equal(await card.locator("details ol").getAttribute("start"), "2");
    await finish(page);
});

test("below the answer stands what was read; its photos open on the whole screen", async () => {
    const page = await on(read, "/trial/t1");
    const line = page.locator(".forset").first();
    assert.match(clean(await line.innerText()), /^Read: drive [2-9] teeth, coast [2-9] teeth\.$/);
    await page.getByRole("button", { name: "Larger" }).first().tap();
    await page.getByRole("dialog").locator(".flankline").first().waitFor();
    await page.getByRole("dialog").getByRole("button", { name: "Close", exact: true }).tap();
    await page.locator(".shot img").last().tap();
    await page.getByRole("dialog").locator(".flankline").first().waitFor();
    await page.goBack();
    await page.getByRole("dialog").waitFor({ state: "detached" });
    // Of one side only, on a set of which nobody knows where its shims sit: nothing is made up.
    const { job } = await send(bench, "/api/jobs", {
        axle: "Van 8",
        by: "Kim",
        new_gear_set: {
            name: "Looks like A",
            pinion_teeth: 11,
            ring_teeth: 43,
            ring_gear_diameter_mm: 222,
            offset_mm: 36,
        },
    });
    await go(page, `#/job/${job}/new-trial`);
    await page.getByLabel("Photo of the drive side").setInputFiles(sample("van-a-too-shallow/drive.jpg"));
    await received(page, 1);
    await page.getByRole("button", { name: "Read the pattern" }).tap();
    await page.waitForURL(/trial\/t1/, { timeout: 60000 });
    await line.waitFor();
    assert.match(clean(await line.innerText()), /^Read: drive side, [2-9] teeth\. The coast side was not read\.$/);
    await go(page, `#/job/${job}/done/t1`);
    const way = page.locator("fieldset").filter({ hasText: "left alone" });
    assert.equal(await way.locator("legend").innerText(), "Pinion shims");
    await finish(page);
});

test("a new job is short: the chosen set takes one place, what is missing is told at its field", async () => {
    const page = await on(read);
    await go(page, "#/new");
    const begin = page.getByRole("button", { name: "Begin the job" });
    const inView = (locator) =>
        locator.evaluate((one) => {
            const box = one.getBoundingClientRect();
            return box.top >= 0 && box.bottom <= window.innerHeight;
        });
    const sets = page.locator("fieldset").filter({ hasText: "Gear set" }).first();
    const before = await page.evaluate(() => document.documentElement.scrollHeight);
    await begin.tap();
    const missing = page.locator("main").getByText("Which axle: enter it first");
    await missing.waitFor();
    assert.ok(await inView(missing), "told where it is missing");
    await page.getByLabel("Which axle").fill("Van 2");
    assert.equal(await missing.count(), 0, "gone as soon as it is entered");
    await begin.tap();
    const told = sets.getByText("choose the one that lies on the bench");
    await told.waitFor();
    assert.ok(await inView(told), "told where it is missing");
    await sets.locator("label").filter({ hasText: "Lab van rear axle B" }).last().tap();
    await page.getByRole("button", { name: "Choose another gear set" }).waitFor();
    assert.ok(await told.isHidden());
    assert.equal(await sets.locator("label:visible").count(), 1);
    assert.ok(await inView(sets.locator("label:visible")), "what was tapped stays under the finger");
    const now = await page.evaluate(() => document.documentElement.scrollHeight);
    console.log(`new job: ${before} px, with a set chosen ${now} px`);
    assert.ok(before < 2500 && now < 1400, `${before} px, ${now} px`);
    await checkPage(page, "81-set-chosen");
    // After a reload, too; and all of them again.
    await page.reload();
    await page.getByRole("button", { name: "Choose another gear set" }).waitFor();
    assert.equal(await sets.locator("label:visible").count(), 1);
    await page.getByRole("button", { name: "Choose another gear set" }).tap();
    assert.ok((await sets.locator("label:visible").count()) > 8);
    assert.equal(await sets.locator("input:checked").count(), 1, "the choice stays until another one is made");
    // By keys one goes from one to the next: nothing folds under them.
    await sets.locator("input:checked").focus();
    await page.keyboard.press("ArrowUp");
    assert.ok((await sets.locator("label:visible").count()) > 8);
    await finish(page);
});

test("a set that was typed is corrected where it was wrong, not typed once more", async () => {
    const typed = { pinion_teeth: 11, ring_teeth: 43, ring_gear_diameter_mm: 222, offset_mm: 36 };
    const { job } = await send(bench, "/api/jobs", {
        axle: "Van 10",
        by: "Kim",
        new_gear_set: { name: "Typed at the bench", ...typed },
    });
    const page = await on(job, "/correct");
    await page.locator("label").filter({ hasText: "Correct what was entered" }).tap();
    assert.equal(await page.getByLabel("Teeth, ring gear").inputValue(), "43");
    await page.locator("label").filter({ hasText: "lower at the toe than at the heel" }).tap();
    await page.getByRole("button", { name: "Save the correction" }).tap();
    await heading(page, "Van 10");
    const { data } = (await bench.json(`/api/jobs/${job}`)).record.gear_set;
    assert.deepEqual([data.teeth.ring, data.offset_mm, data.cut], [43, 36, "face-milled"]);
    await finish(page);
});

test("a weak answer looks weak, by its size, its weight, its frame and its words", async () => {
    const looks = {};
    for (const certainty of ["sure", "likely", "not-sure"]) {
        const page = await openPage(browser, bench, LARGE);
        await page.route(`**/api/jobs/${read}`, async (route) => {
            const response = await route.fetch();
            if (response.status() !== 200) return route.fulfill({ response });
            const view = await response.json();
            view.trials.t1.answer.certainty = certainty;
            return route.fulfill({ response, json: view });
        });
        await page.goto(bench.address);
        await page.getByRole("link", { name: "New job" }).waitFor();
        await go(page, `#/job/${read}/trial/t1`);
        looks[certainty] = await page.locator(".answer").evaluate((card) => {
            const amount = getComputedStyle(card.querySelector(".amount")),
                frame = getComputedStyle(card),
                tag = card.querySelector(".certainty");
            return {
                size: parseFloat(amount.fontSize),
                weight: Number(amount.fontWeight),
                frame: `${frame.borderTopStyle} ${frame.borderLeftStyle}`,
                sign: tag.querySelector("span").textContent,
                button: getComputedStyle(document.querySelector(".bar .act")).backgroundColor,
            };
        });
        await shot(page, `82-${certainty}`);
        await finish(page);
    }
    const { sure, likely, "not-sure": weak } = looks;
    assert.ok(weak.size < 0.8 * sure.size && weak.weight < sure.weight, JSON.stringify(looks));
    assert.equal(new Set([sure, likely, weak].map((one) => one.frame)).size, 3, JSON.stringify(looks));
    assert.equal(new Set([sure, likely, weak].map((one) => one.sign)).size, 3);
    assert.notEqual(weak.button, sure.button, "nobody is led on by the same button");
});

test("which way an adjuster was turned is chosen, not typed by a sign", async () => {
    const page = await on(read, "/done/t1");
    await page.getByLabel("Backlash now, on the dial").fill("0.008");
    await page.getByLabel("Left adjuster, notches").fill("2");
    await page.getByRole("button", { name: /Save, and go on/ }).tap();
    const left = page.locator("fieldset").filter({ hasText: "Left adjuster" });
    await left.getByText("say whether it was tightened or loosened").waitFor();
    await left.getByText("loosened", { exact: true }).tap();
    await page.locator("fieldset").filter({ hasText: "Right adjuster" }).getByText("tightened").tap();
    await page.getByLabel("Right adjuster, notches").fill("-1");
    await page.getByRole("button", { name: /Save, and go on/ }).tap();
    await page.locator("#main").getByText("Right adjuster: say whether").waitFor();
    await page.getByLabel("Right adjuster, notches").fill("1");
    await checkPage(page, "83-adjusters");
    await page.getByRole("button", { name: /Save, and go on/ }).tap();
    await heading(page, "Trial 2");
    const { work } = (await bench.json(`/api/jobs/${read}`)).record;
    assert.deepEqual([work.at(-1).left_notches, work.at(-1).right_notches], [-2, 1]);
    await finish(page);
});

test("the unit switch shows both units and says what it does", async () => {
    const page = await on(read);
    const button = page.locator("#units");
    assert.equal(await button.textContent(), "in mm");
    assert.equal(await button.locator(".now").innerText(), "in");
    assert.ok(await page.getByRole("button", { name: "lengths in inches; switch to millimetres" }).isVisible());
    await button.tap();
    assert.equal(await button.locator(".now").innerText(), "mm");
    assert.ok(await page.getByRole("button", { name: "lengths in millimetres; switch to inches" }).isVisible());
    await button.tap();
    await finish(page);
});

test("a device on which nobody chose begins in the shop's units and under its name, and keeps what it chose", async () => {
    const home = mkdtempSync(join(tmpdir(), "shimsight-home-"));
    mkdirSync(join(home, "shimsight"));
    writeFileSync(
        join(home, "shimsight/settings.json"),
        JSON.stringify({ schema: "shimsight/settings/1", units: "mm", by: "Mira", shop: "College lab" }),
    );
    const shop = new Bench(["--scores", join(home, "scores")]);
    shop.env = { XDG_CONFIG_HOME: home };
    await shop.start();
    try {
        const page = await pairedPage(browser, shop, LARGE);
        const unit = page.locator("#units .now");
        const open = async (path) => {
            await page.goto("about:blank");
            await page.goto(`${shop.origin}/${path}`);
            await page.waitForFunction(() => document.querySelector("main h1") && !document.getElementById("unopened"));
        };
        await open("#/new");
        assert.equal(await unit.innerText(), "mm");
        assert.equal(await page.getByLabel("Who sets it up").inputValue(), "Mira");
        // A drill is for whoever sits it.
        await open("#/training/drill");
        const names = page.locator("main input[type=text]");
        assert.ok((await names.count()) > 0);
        assert.ok(!(await names.evaluateAll((all) => all.map((one) => one.value))).includes("Mira"));
        await page.locator("#units").tap();
        assert.equal(await unit.innerText(), "in");
        await open("#/new");
        assert.equal(await unit.innerText(), "in");
        await finish(page);
    } finally {
        await shop.close();
        rmSync(home, { recursive: true, force: true });
    }
});

test("what the gear set gives no limit for is called usual, and no band is drawn", async () => {
    const job = await makeJob(bench, "Van without a sheet", { gear_set: "1/lab-unknown-rear-axle.json" });
    const points = [4, 6, 8, 6].map((thou, i) => ({ position_deg: 90 * i, backlash_mm: thou * 0.0254 }));
    await send(bench, `/api/jobs/${job}/entries/backlash`, { points, by: "Kim" });
    const page = await on(job, "/measure/backlash");
    const usual = "Usual: 0.004 in to 0.006 in. The gear set gives no limit";
    assert.match(clean(await page.locator("main").innerText()), new RegExp(usual.replaceAll(".", "\\.")));
    assert.doesNotMatch(await page.locator("main").innerText(), /Wanted/);
    await page.locator("svg.chart").waitFor();
    assert.equal(await page.locator("svg.chart .band").count(), 0);
    await go(page, `#/job/${job}/measure/runout`);
    assert.match(
        clean(await page.locator("main").innerText()),
        /Ring gear: at most 0\.002 in \(0\.05 mm\) is usual; the gear set gives no limit/,
    );
    // Where the file gives them, they are wanted.
    await go(page, `#/job/${read}/measure/runout`);
    assert.match(clean(await page.locator("main").innerText()), /Ring gear: at most 0\.0025 in \(0\.06 mm\)\./);
    await finish(page);
});

test("small sketches say toe and heel, wide ones all four ends", async () => {
    const page = await on(read, "/trial/t1");
    const ends = await page.locator(".pairs figure").evaluateAll((all) => all.map((one) => one.innerText));
    assert.equal(ends.length, 4);
    for (const one of ends) assert.match(one, /toe\s+heel/);
    const drawn = await makeJob(bench, "Van drawn");
    await drawTrial(bench, drawn, 0.5, 0.5);
    await page.route(`**/api/jobs/${drawn}`, async (route) => {
        const response = await route.fetch();
        if (response.status() !== 200) return route.fulfill({ response });
        const view = await response.json();
        for (const side of ["drive", "coast"]) view.trials.t1.sketches[side].next = null;
        return route.fulfill({ response, json: view });
    });
    await go(page, `#/job/${drawn}/trial/t1`);
    for (const svg of await page.locator(".pairs figure.wide svg").all())
        assert.deepEqual(await svg.locator(".fk-word").allTextContents(), ["toe", "heel", "tip", "root"]);
    assert.equal(await page.locator(".pairs figure.wide").count(), 2);
    await finish(page);
});

test("the phone's way back closes a photo on the whole screen and stays on the page; so does Close", async () => {
    const job = await makeJob(bench, "Van 5");
    const page = await on(job, "/new-trial");
    await page.getByLabel("Photo of the drive side").setInputFiles(sample("van-a-too-shallow/drive.jpg"));
    await received(page, 1);
    const url = page.url();
    for (const close of [
        () => page.goBack(),
        () => page.getByRole("dialog").getByRole("button", { name: "Close", exact: true }).tap(),
    ]) {
        await page.getByRole("button", { name: "Larger" }).tap();
        await page.getByRole("dialog").waitFor();
        await close();
        await page.getByRole("dialog").waitFor({ state: "detached" });
        await page.waitForFunction(() => !history.state?.large);
        assert.equal(page.url(), url);
        assert.equal(await page.locator(".slot.full").count(), 1);
    }
    // Neither leaves a step behind that leads nowhere.
    await page.evaluate((hash) => (location.hash = hash), `#/job/${job}`);
    await heading(page, "Van 5");
    await page.goBack();
    await heading(page, "Trial 1");
    assert.equal(page.url(), url);
    await finish(page);
});

test("a change that is written down already is said before it is entered again", async () => {
    const job = await makeJob(bench, "Van 6");
    await drawTrial(bench, job);
    const page = await on(job, "/done/t1");
    assert.equal(await page.getByText("is written down already").count(), 0);
    await send(bench, `/api/jobs/${job}/entries/work`, {
        after_trial: "t1",
        shim_change_mm: 0.1,
        backlash_mm: 0.2,
        by: "Kim",
    });
    await go(page, `#/job/${job}/done/t1`);
    await page.getByText("A change after this trial is written down already").waitFor();
    await finish(page);
});

test("a reading before a correction is not called struck out, and is put back in place of the later one", async () => {
    const job = await makeJob(bench, "Van 3");
    await drawTrial(bench, job);
    const page = await on(job, "/new-trial");
    await page.getByLabel("Photo of the drive side").setInputFiles(sample("van-a-too-shallow/drive.jpg"));
    await received(page, 1);
    await page.getByRole("button", { name: "Read the pattern" }).tap();
    await page.waitForURL(/trial\/t2/, { timeout: 60000 });
    await go(page, `#/job/${job}/trial/t2/outline/0`);
    await page.getByRole("button", { name: "Drop this tooth" }).tap();
    await page.getByRole("button", { name: "Read again" }).tap();
    await page.waitForURL(/trial\/t3/, { timeout: 60000 });
    await go(page, `#/job/${job}`);
    await page.getByText("Measured before a correction (1)").tap();
    assert.equal(await page.getByText(/^Struck out/).count(), 0);
    await page.getByRole("button", { name: /Put back in place of/ }).tap();
    await page.waitForResponse((one) => one.url().endsWith("/entries/restore") && one.ok());
    const { trials } = (await bench.json(`/api/jobs/${job}`)).record;
    assert.deepEqual(
        trials.map((one) => one.struck !== null),
        [false, false, true],
    );
    await finish(page);
});

test("the tab in which a sheet opens says at once that it is being made", async () => {
    const page = await on(read);
    let go = () => {};
    const held = new Promise((done) => (go = done));
    await page.route("**/documents/sheet", async (route) => {
        await held;
        await route.continue();
    });
    const opened = page.context().waitForEvent("page");
    await page.getByRole("button", { name: "Build sheet to print" }).tap();
    const tab = await opened;
    await tab.getByText("Making the page").waitFor();
    go();
    await tab.waitForURL(/\/documents\//, { timeout: 60000 });
    await tab.close();
    await finish(page);
});

test("what was not chosen is not bold: the number stands out", async () => {
    const page = await on(read, "/done/t1");
    for (const path of [`#/job/${read}/done/t1`, "#/new", `#/job/${read}/measure/parts`]) {
        await go(page, path);
        const heavy = await page.evaluate(() =>
            [
                ...document.querySelectorAll(
                    ".choices label:not(:has(:checked)), .tick label, .act.less, .hint, main p:not(.certainty, .way)",
                ),
            ]
                .filter((one) => one.offsetParent && Number(getComputedStyle(one).fontWeight) > 500)
                .map((one) => one.outerHTML.slice(0, 90)),
        );
        assert.deepEqual(heavy, [], path);
    }
    await finish(page);
});

/// Words of which a part stands on the next line; addresses and codes may.
const cutWords = (page) =>
    page.evaluate(() => {
        const cut = [];
        const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
        for (let node = walker.nextNode(); node; node = walker.nextNode()) {
            const holder = node.parentElement;
            if (!holder.getClientRects().length || holder.closest(".unseen, svg, script, .address")) continue;
            for (const match of node.data.matchAll(/[\p{L}\p{N}.]+/gu)) {
                const range = document.createRange();
                range.setStart(node, match.index);
                range.setEnd(node, match.index + match[0].length);
                const lines = new Set(
                    [...range.getClientRects()].filter((box) => box.width > 0.5).map((box) => Math.round(box.top)),
                );
                if (lines.size > 1) cut.push(`${match[0]} in ${holder.outerHTML.slice(0, 70)}`);
            }
        }
        return cut;
    });

test("no word and no number is cut, with text doubled at 320 pixels", async () => {
    const job = await makeJob(bench, "Van 4");
    await send(bench, `/api/jobs/${job}/entries/runout`, { runout_mm: 0.2, by: "Kim" });
    const page = await on(read);
    for (const path of [
        "#/",
        "#/new",
        "#/gear-sets",
        "#/gear-sets/new",
        "#/devices",
        ...["", "/drill", "/game", "/exam", "/sheets", "/live", "/lesson/depth"].map((what) => `#/training${what}`),
        ...["", "/new-trial", "/trial/t1", "/trial/t1/outline/0", "/done/t1", "/correct", "/draw", "/sign-off"].map(
            (what) => `#/job/${read}${what}`,
        ),
        ...[
            "parts",
            "start-depth",
            "runout",
            "preload",
            "backlash",
            "carrier",
            "pinion",
            "torques",
            "final-assembly",
        ].map((what) => `#/job/${job}/measure/${what}`),
    ]) {
        await go(page, path);
        if (path === "#/new") await page.getByText("Another one: I enter").click();
        await page.evaluate(() => document.querySelectorAll("main details").forEach((one) => (one.open = true)));
        for (const size of ["", DOUBLED]) {
            await page.setViewportSize({ width: 320, height: 568 });
            await page.evaluate((one) => (document.documentElement.style.fontSize = one), size);
            assert.deepEqual(await cutWords(page), [], `${path} ${size}`);
            const over = await page.evaluate(
                () => document.documentElement.scrollWidth - document.documentElement.clientWidth,
            );
            assert.ok(over <= 0, `${path} ${size}: ${over} px too wide`);
        }
        await page.setViewportSize(LARGE.viewport);
        await page.evaluate(() => (document.documentElement.style.fontSize = ""));
    }
    await finish(page);
});

test("what is typed while Undo is offered stands above it", async () => {
    const job = await makeJob(bench, "Van 9");
    const page = await on(job, "/new-trial");
    const side = page.getByLabel("Photo of the drive side");
    await side.setInputFiles(sample("van-a-too-shallow/drive.jpg"));
    await received(page, 1);
    await page.getByRole("button", { name: "Take it away" }).first().tap();
    await page.locator("#undo button").first().waitFor();
    const offered = await page.locator("#undo > div").boundingBox();
    for (const label of ["Backlash on the dial", "Pinion shims in place"]) {
        await page.evaluate(() => window.scrollTo(0, 0));
        const field = page.getByLabel(label);
        await field.evaluate((one) => one.focus());
        const box = await field.boundingBox();
        assert.ok(
            box.y + box.height <= offered.y,
            `${label} ends at ${box.y + box.height} px, Undo begins at ${offered.y}`,
        );
    }
    await finish(page);
});

test("what stays on the screen leaves half of it, with text doubled on a small phone; Undo covers no button", async () => {
    const job = await makeJob(bench, "Van 7");
    await drawTrial(bench, job);
    await send(bench, `/api/jobs/${job}/entries/work`, { shim_change_mm: 0.1, backlash_mm: 0.2, by: "Kim" });
    const page = await on(job);
    await page.setViewportSize({ width: 320, height: 568 });
    for (const path of [
        `#/job/${job}`,
        `#/job/${read}`,
        `#/job/${read}/trial/t1`,
        `#/job/${job}/new-trial`,
        "#/",
        "#/gear-sets/new",
    ]) {
        await go(page, path);
        await page.evaluate((one) => (document.documentElement.style.fontSize = one), DOUBLED);
        const left = await page.evaluate(() => {
            const height = (name) => document.querySelector(name)?.getBoundingClientRect().height ?? 0;
            return window.innerHeight - height(".top") - height(".bar");
        });
        assert.ok(left > 284, `${path}: ${left} px are left`);
    }
    for (const size of ["", DOUBLED]) {
        await go(page, `#/job/${job}`);
        await page.evaluate((one) => (document.documentElement.style.fontSize = one), size);
        await page.getByText("Work done").click();
        await page.locator("li.putback").getByRole("button", { name: "Strike out" }).click();
        await page.locator("#undo button").first().waitFor();
        const apart = () =>
            page.evaluate(
                () =>
                    document.querySelector(".bar").getBoundingClientRect().top -
                    document.querySelector("#undo > div").getBoundingClientRect().bottom,
            );
        assert.ok((await apart()) >= 0, `at ${size || "plain"}: ${await apart()} px`);
        // Another page has another bar.
        await page.evaluate((hash) => (location.hash = hash), `#/job/${job}/trial/t1`);
        await page.locator(".answer").waitFor();
        assert.ok((await apart()) >= 0 && (await apart()) < 30, `at ${size || "plain"}: ${await apart()} px`);
        await page.locator("#undo").getByRole("button", { name: "Undo" }).click();
        await page.waitForFunction(() => !document.querySelector("#undo").childElementCount);
    }
    await finish(page);
});

test("without a connection a job seen before is there within three seconds, and forms say what they need", async () => {
    const page = await on(read);
    await heading(page, "Van 1");
    await go(page, `#/job/${read}/trial/t1`);
    await page.locator(".answer").waitFor();
    await page.evaluate(() => (location.hash = "#/"));
    await heading(page, "Open jobs");
    await page.context().setOffline(true);
    const start = Date.now();
    await page.evaluate((hash) => (location.hash = hash), `#/job/${read}/trial/t1`);
    await page.locator(".answer").waitFor();
    const took = Date.now() - start;
    console.log(`offline, trial seen before: ${took} ms`);
    assert.ok(took < 3000, `${took} ms`);
    assert.ok(await page.getByText("No connection: this page is as it was").isVisible());
    await page.context().setOffline(false);
    await page.getByText("No connection: this page is as it was").waitFor({ state: "detached", timeout: 60000 });
    await finish(page);
});
