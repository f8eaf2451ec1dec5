// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// What was done on the bench page can be undone and corrected: strike-outs, photos, gear sets, the job itself; phones
// stay paired, answers travel.
import assert from "node:assert/strict";
import { existsSync, readFileSync, truncateSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { test } from "node:test";
import {
    Bench,
    DESKTOP,
    DOUBLED,
    PHONE,
    checkPage,
    drawTrial,
    heading,
    lastingPort,
    makeJob,
    newId,
    pairedPage,
    received,
    resultOf,
    sample,
    send,
    shot,
    smallTargets,
} from "./bench.mjs";
import { bench, browser, finish } from "./stage.mjs";

const DRIVE = sample("van-a-too-shallow/drive.jpg"),
    COAST = sample("van-a-too-shallow/coast.jpg");

async function on(job, path = "", kind = PHONE) {
    const page = await pairedPage(browser, bench, kind);
    await page.goto(`${bench.origin}/#/job/${job}${path}`);
    return page;
}
const record = async (job) => (await bench.json(`/api/jobs/${job}`)).record;
const undo = (page) => page.locator("#undo").getByRole("button", { name: "Undo" });

test("a trial is struck out at once, and undone", async () => {
    const job = await makeJob(bench, "Van 1");
    await drawTrial(bench, job);
    const page = await on(job, "/trial/t1");
    await page.getByRole("button", { name: "Strike out and take again" }).click();
    await heading(page, "Trial 1");
    assert.ok((await record(job)).trials[0].struck);
    await shot(page, "undo-offered");
    await undo(page).click();
    await page.waitForURL(/trial\/t1$/);
    const { trials } = await record(job);
    assert.equal(trials[0].struck, null);
    assert.equal(trials[0].restored.length, 1, "the history says that it was struck out");
    await page.getByText("Struck out on").waitFor();
    await finish(page);
});

test("every struck entry stands in one list, from which it is put back", async () => {
    const job = await makeJob(bench, "Van 2");
    await drawTrial(bench, job);
    await send(bench, `/api/jobs/${job}/entries/runout`, { runout_mm: 0.04, by: "Kim" });
    await send(bench, `/api/jobs/${job}/entries/work`, { shim_change_mm: 0.1, backlash_mm: 0.2, by: "Kim" });
    const page = await on(job, "/measure/runout");
    await page.getByRole("button", { name: "Strike out" }).click();
    await undo(page).waitFor();
    // Once struck it offers the way back in its own place, too.
    await page.getByRole("button", { name: "Put back" }).waitFor();
    await page.goto(`${bench.origin}/#/job/${job}`);
    await heading(page, "Van 2");
    await page.getByText("Work done").click();
    await page.locator("li.putback").getByRole("button", { name: "Strike out" }).click();
    await page.getByText("Struck out (2)").click();
    await shot(page, "struck-out");
    const struck = page.locator("details").filter({ hasText: "Struck out (2)" });
    assert.equal(await struck.getByRole("button", { name: "Put back" }).count(), 2);
    await struck.locator("li").filter({ hasText: "Runout" }).getByRole("button", { name: "Put back" }).click();
    await page.getByText("Struck out (1)").waitFor();
    const now = await record(job);
    assert.equal(now.runout[0].struck, null);
    assert.ok(now.work[0].struck);
    await checkPage(page, "job-with-struck-entries");
    await finish(page);
});

test("a wrong gear set is told on the answer and corrected; the photos are read again", async () => {
    const job = await makeJob(bench, "Van 3", { gear_set: "1/lab-farm-truck-rear-axle.json" });
    const page = await on(job, "/new-trial");
    await page.getByLabel("Photo of the drive side").setInputFiles(DRIVE);
    await page.getByLabel("Photo of the coast side", { exact: true }).setInputFiles(COAST);
    await page.getByLabel("Backlash on the dial").fill("0.009");
    await received(page, 2);
    await page.getByRole("button", { name: "Read the pattern" }).click();
    await page.waitForURL(/trial\/t1/, { timeout: 60000 });
    const before = await record(job);
    // Why there is no advice is said above everything else, with the way to another set.
    const why = page
        .locator(".note.warn")
        .filter({ hasText: /shows about \d+ teeth on the ring gear, the gear set has 41/ });
    await why.waitFor();
    assert.ok((await why.boundingBox()).y < 400);
    await page.getByRole("link", { name: "Not this set? Change it" }).waitFor();
    await page.goto(`${bench.origin}/#/job/${job}`);
    await page.getByText(/For \d+ and \d+ teeth/).waitFor();
    await page.getByRole("link", { name: "Not this set? Change it" }).click();
    await heading(page, "Correct this job");
    await checkPage(page, "correct-job");
    await page.getByLabel("Which axle").fill("Van 3, rear");
    await page.getByLabel("For whom").fill("Motor pool");
    await page.getByLabel("Lab van rear axle A").check({ force: true });
    await page.getByRole("button", { name: "Save the correction" }).click();
    await heading(page, "Van 3, rear");
    await page.getByText("trials read again: 1").waitFor();
    const after = await record(job);
    assert.equal(after.customer, "Motor pool");
    assert.equal(after.gear_set.file, "lab-van-rear-axle-a.json");
    assert.equal(after.trials[0].photos[0].sha256, before.trials[0].photos[0].sha256);
    assert.notDeepEqual(after.trials[0].reading, before.trials[0].reading);
    await page.goto(`${bench.origin}/#/job/${job}/trial/t1`);
    await page.locator(".answer").waitFor();
    await page.getByText("For 43 and 11 teeth, 8.74").waitFor();
    await finish(page);
});

test("a set is typed by pictures, nothing of its build is guessed, and the shop's sets are kept in order", async () => {
    await makeJob(bench, "Van 0");
    const page = await pairedPage(browser, bench);
    await page.goto(`${bench.origin}/#/gear-sets/new`);
    await heading(page, "New gear set");
    assert.equal(await page.locator("input:checked").count(), 0, "nothing is chosen beforehand");
    assert.ok((await page.locator(".picture").count()) >= 12);
    await page.getByLabel("Name of the gear set").fill("Shop axle");
    await page.getByLabel("Teeth, pinion").fill("0");
    await page.getByText("from 4 to 60").waitFor();
    await page.getByLabel("Teeth, pinion").fill("11");
    await page.getByLabel("Teeth, ring gear").fill("43");
    await page.getByText("Ratio 3.91").waitFor();
    await page.getByLabel("Ring gear diameter").fill("8.74");
    await page.getByLabel("Pinion offset").fill("8");
    await page.getByText("less than half of the ring gear: at most 4.370").waitFor();
    await page.getByLabel("Pinion offset").fill("1.42");
    await page.getByLabel("under the bolted pinion support").check({ force: true });
    await checkPage(page, "typed-gear-set");
    await page.getByRole("button", { name: "Save the gear set" }).click();
    await heading(page, "Gear sets of this shop");
    const own = async () => (await bench.json("/api/gear-sets")).gear_sets.filter((set) => set.own);
    assert.deepEqual(
        (({ pinion_shim, hand, carrier, cut, pinion }) => ({ pinion_shim, hand, carrier, cut, pinion }))(
            (await own())[0].typed,
        ),
        { pinion_shim: "under-pinion-support", hand: null, carrier: null, cut: null, pinion: null },
    );
    await page.getByRole("link", { name: "Change", exact: true }).click();
    await heading(page, "Change the gear set");
    assert.equal(await page.getByLabel("Teeth, pinion").inputValue(), "11");
    await page.getByLabel("Name of the gear set").fill("Shop axle, support");
    await page.getByRole("button", { name: "Save the gear set" }).click();
    await page.locator("main").getByText("Shop axle, support").first().waitFor();
    await page.getByRole("button", { name: "Delete" }).click();
    await page.getByText("None was typed here yet").waitFor();
    await undo(page).click();
    await page.locator("main").getByText("Shop axle, support").first().waitFor();
    assert.equal((await own()).length, 1);
    await page.goto(`${bench.origin}/#/new`);
    await heading(page, "New job");
    await page.getByLabel("Search the gear sets").fill("support 11");
    await page.locator("label").filter({ hasText: "Shop axle, support" }).waitFor();
    assert.equal(await page.getByText("Lab farm truck").filter({ visible: true }).count(), 0);
    await checkPage(page, "new-job-with-search");
    await page.getByLabel("Which axle").fill("Van 4");
    await page.getByLabel(/Same as the last job/).check({ force: true });
    await page.getByRole("button", { name: "Begin the job" }).click();
    await heading(page, "Trial 1");
    await finish(page);
});

test("a photo is looked at before Read: flanks, a line, the other side, one more, larger, and back again", async () => {
    const job = await makeJob(bench, "Van 5");
    const page = await on(job, "/new-trial");
    await heading(page, "Trial 1");
    assert.equal(await page.locator(".helpshot .seen .flankline").count(), 7, "the flank in question is drawn");
    const start = Date.now();
    // Coast where drive is asked for.
    await page.getByLabel("Photo of the drive side").setInputFiles(COAST);
    await page.getByText("This is the coast side.").waitFor();
    assert.match(await page.locator(".look p").first().innerText(), /^! This/);
    console.log(`photo chosen to flanks shown: ${Date.now() - start} ms`);
    assert.ok((await page.locator(".slot.full .seen .flankline").count()) > 2);
    await shot(page, "looked-other-side");
    await page.getByRole("button", { name: "Put it there" }).click();
    await page.getByText(/painted teeth, coast side: good/).waitFor();
    assert.equal(await page.locator(".slot.full").count(), 1);
    await page.getByLabel("Photo of the drive side").setInputFiles(DRIVE);
    await page.getByText(/painted teeth, drive side: good/).waitFor();
    await checkPage(page, "looked-good");
    // Another photo takes its place, and is undone.
    const shownNow = () => page.locator(".side").first().locator(".slot.full .seen img").first().getAttribute("src");
    const former = await shownNow();
    await page.getByLabel("Photo of the drive side").setInputFiles(sample("van-b-good/drive.jpg"));
    await page.waitForFunction(
        (one) => document.querySelector(".slot.full .seen img")?.getAttribute("src") !== one,
        former,
    );
    await undo(page).click();
    await page.waitForFunction(
        (one) => document.querySelector(".slot.full .seen img")?.getAttribute("src") === one,
        former,
    );
    // The whole screen, with two fingers.
    await page.getByRole("button", { name: "Larger" }).first().click();
    const dialog = page.getByRole("dialog");
    await dialog.locator("img").evaluate((one) => one.decode());
    const box = await dialog.locator(".whole").boundingBox();
    const session = await page.context().newCDPSession(page);
    const touch = (type, points) => session.send("Input.dispatchTouchEvent", { type, touchPoints: points });
    const middle = { x: box.x + box.width / 2, y: box.y + box.height / 2 };
    const fingers = (apart) => [
        { x: middle.x - apart, y: middle.y, id: 1 },
        { x: middle.x + apart, y: middle.y, id: 2 },
    ];
    await touch("touchStart", fingers(30));
    for (const apart of [45, 60, 90]) await touch("touchMove", fingers(apart));
    await touch("touchEnd", []);
    const scale = Number(await dialog.locator(".board").getAttribute("data-scale"));
    assert.ok(Math.abs(scale - 3) < 0.3, `two fingers three times as far apart: ${scale}`);
    await shot(page, "whole-screen");
    await dialog.getByRole("button", { name: "Close", exact: true }).click();
    assert.equal(await dialog.count(), 0);
    // A second photo of one side counts in the same trial.
    await page.getByLabel("Another one, drive side, photo 2").setInputFiles(sample("van-a-too-shallow/drive.jpg"));
    await received(page, 3);
    await page.getByRole("button", { name: "Take it away" }).nth(1).click();
    await received(page, 2);
    await page.getByLabel("Backlash on the dial").fill("0.009");
    const reading = Date.now();
    await page.getByRole("button", { name: "Read the pattern" }).click();
    await page.waitForURL(/trial\/t1/, { timeout: 60000 });
    console.log(`Read to answer after the first look: ${Date.now() - reading} ms`);
    assert.equal((await record(job)).trials[0].photos.length, 2);
    await finish(page);
});

test("a phone stays paired after a restart, until it is sent away on the shop's computer", async () => {
    const own = await new Bench([], undefined, await lastingPort()).start();
    try {
        const page = await pairedPage(browser, own);
        const key = await page.evaluate(() => localStorage.getItem("shimsight-token"));
        assert.notEqual(key, own.token, "the phone has a key of its own");
        await own.stop();
        await own.start();
        await page.reload();
        await page.getByRole("link", { name: "New job" }).waitFor();
        // The page opened here is on the shop's own computer.
        await page.goto(`${own.origin}/#/devices`);
        await heading(page, "Paired phones");
        await checkPage(page, "devices");
        await page.getByRole("button", { name: "Make a new pairing code" }).click();
        await page.getByText("There is a new code").waitFor();
        assert.equal((await own.ask("/api/about")).status, 401, "the former code pairs nobody");
        await page.getByRole("button", { name: "Send away" }).click();
        await page
            .getByText("it can no longer open this page")
            .waitFor({ timeout: 5000 })
            .catch(() => {});
        await page.goto(`${own.origin}/#/`);
        await page.reload();
        await heading(page, "This device is not paired yet");
        await page.context().close();
    } finally {
        await own.close();
    }
});

test("the last answer is readable without a connection, and the page comes back by itself", async () => {
    const job = await makeJob(bench, "Van 6");
    await drawTrial(bench, job);
    const page = await on(job, "/trial/t1");
    await page.locator(".answer .amount, .answer h1").first().waitFor();
    await page.goto(`${bench.origin}/#/`);
    await heading(page, "Open jobs");
    await page.context().setOffline(true);
    await page.evaluate((hash) => (location.hash = hash), `#/job/${job}/trial/t1`);
    await page.getByText("No connection: this page is as it was").waitFor({ timeout: 60000 });
    await page.locator(".answer").waitFor();
    await shot(page, "answer-offline");
    await page.context().setOffline(false);
    await page.getByText("No connection: this page is as it was").waitFor({ state: "detached", timeout: 60000 });
    await page.locator(".answer").waitFor();
    await finish(page);
});

test("the sheet travels: a link that lives until it is taken back, and a PDF", async () => {
    const job = await makeJob(bench, "Van 7");
    const page = await on(job, "", DESKTOP);
    await heading(page, "Van 7");
    await page.getByRole("button", { name: "Make a link to the sheet" }).click();
    const link = page.locator("a.address");
    await link.waitFor();
    const address = await link.getAttribute("href");
    const stranger = await fetch(bench.origin + address);
    assert.equal(stranger.status, 200);
    assert.match(await stranger.text(), /window\.print\(\)/);
    await page.getByRole("button", { name: "Take the link back" }).click();
    await page.getByText("The link is taken back").waitFor();
    assert.equal((await fetch(bench.origin + address)).status, 404);
    const { task } = await send(bench, `/api/jobs/${job}/documents/sheet-pdf`, {}, 202);
    const { path } = await resultOf(bench, task);
    const pdf = await fetch(bench.origin + path);
    assert.equal(pdf.headers.get("content-type"), "application/pdf");
    assert.equal(
        Buffer.from(await pdf.arrayBuffer())
            .subarray(0, 5)
            .toString(),
        "%PDF-",
    );
    await finish(page);
});

test("a long list of jobs is searched and grows by pages", async () => {
    const own = await new Bench().start();
    try {
        for (let i = 0; i < 35; ++i) await makeJob(own, `Truck ${i}`, i % 5 === 0 ? { customer: "Farm school" } : {});
        const page = await pairedPage(browser, own);
        await page.locator("main li").nth(29).waitFor();
        assert.equal(await page.locator("main li").count(), 30);
        // Name, customer and trials, the step that is next: four jobs on a phone's screen.
        assert.match(await page.locator("main li").first().innerText(), /Next: Parts/);
        const high = await page
            .locator("main li")
            .first()
            .evaluate((one) => one.getBoundingClientRect().height);
        assert.ok(high < 145, `${high} px for one job`);
        await page.getByRole("button", { name: "Show more" }).click();
        await page.locator("main li").nth(34).waitFor();
        await page.getByLabel("Search: axle").fill("farm truck");
        await page.getByText("7 jobs").waitFor();
        assert.equal(await page.locator("main li").count(), 7);
        await checkPage(page, "jobs-searched");
        await page.getByLabel("Search: axle").fill("no such thing");
        await page.getByText("No job matches").waitFor();
        await page.context().close();
    } finally {
        await own.close();
    }
});

test("every target takes a glove: 48 pixels, at any text size, on every page", async () => {
    const job = await makeJob(bench, "Van 8");
    await drawTrial(bench, job);
    const page = await on(job);
    await heading(page, "Van 8");
    for (const path of [
        "#/",
        "#/new",
        "#/gear-sets/new",
        `#/job/${job}`,
        `#/job/${job}/new-trial`,
        `#/job/${job}/trial/t1`,
        `#/job/${job}/done/t1`,
        `#/job/${job}/correct`,
        `#/job/${job}/draw`,
        `#/job/${job}/sign-off`,
        ...["runout", "preload", "backlash", "carrier", "pinion", "torques", "final-assembly"].map(
            (what) => `#/job/${job}/measure/${what}`,
        ),
    ]) {
        await page.goto(`${bench.origin}/${path}`);
        await page.waitForFunction(() => document.querySelector("main h1"));
        await page.evaluate(() => document.querySelectorAll("main details").forEach((one) => (one.open = true)));
        for (const [width, size] of [
            [375, ""],
            [320, DOUBLED],
        ]) {
            await page.setViewportSize({ width, height: 812 });
            await page.evaluate((one) => (document.documentElement.style.fontSize = one), size);
            assert.deepEqual(await page.evaluate(smallTargets), [], `${path} at ${width} px`);
            const found = await page.evaluate(() => {
                const cut = [];
                for (const one of document.querySelectorAll("main *"))
                    if (
                        one.childElementCount === 0 &&
                        /\d/.test(one.textContent) &&
                        one.scrollWidth > one.clientWidth + 1 &&
                        one.clientWidth > 0 &&
                        getComputedStyle(one).display !== "inline" &&
                        getComputedStyle(one).overflow !== "visible"
                    )
                        cut.push(one.outerHTML.slice(0, 90));
                const wide = document.documentElement.scrollWidth - document.documentElement.clientWidth;
                return { cut, wide };
            });
            assert.deepEqual(found.cut, [], `${path} at ${width} px, text doubled`);
            assert.ok(found.wide <= 0, `${path}: ${found.wide} px too wide at ${width} px`);
        }
    }
    await finish(page);
});

test("no field name, path or raw time reaches a person", async () => {
    const job = await makeJob(bench, "Van 9");
    await drawTrial(bench, job);
    await send(bench, `/api/jobs/${job}/entries/runout`, { runout_mm: 0.2, by: "Kim" });
    await send(bench, `/api/jobs/${job}/entries/sign-off`, { by: "Kim", note: "the rest follows on Monday" });
    const page = await on(job);
    for (const path of ["", "/trial/t1", "/measure/runout", "/measure/torques", "/sign-off"]) {
        await page.goto(`${bench.origin}/#/job/${job}${path}`);
        await page.waitForFunction(() => document.querySelector("main h1"));
        await page.evaluate(() => document.querySelectorAll("main details").forEach((one) => (one.open = true)));
        const text = await page.locator("main").innerText();
        for (const raw of [
            /\w+_\w+/,
            /\d{4}-\d\d-\d\dT/,
            /limits\.\w/,
            /\.json/,
            /\/(tmp|home|work)\//,
            /[a-z]+-bolts/,
        ])
            assert.doesNotMatch(text, raw, path || "the job");
    }
    // What is refused is told without them, too, and said before anything is entered.
    await page.goto(`${bench.origin}/#/job/${job}/draw`);
    await heading(page, "Draw the mark");
    await page.getByRole("link", { name: "Open the job again" }).waitFor();
    await page.getByText("Set it by sliders").first().click();
    await page.getByLabel("Height").first().fill("60");
    await page.getByRole("button", { name: "Use this pattern" }).click();
    const told = page.getByRole("alert").filter({ hasText: "was signed off by Kim" });
    await told.waitFor();
    assert.doesNotMatch(await told.innerText(), /\dT\d|\+00:00/);
    await finish(page);
});

/// The photo under a new id, whole.
async function uploaded(file) {
    const photo = readFileSync(file),
        id = newId();
    const response = await bench.ask(`/api/uploads/${id}?offset=0&size=${photo.length}`, {
        method: "PUT",
        headers: { Origin: bench.origin },
        body: photo,
    });
    assert.ok((await response.json()).whole);
    return id;
}
const looked = async (upload, job, side) => {
    const { task } = await send(bench, `/api/uploads/${upload}/look`, { job, side }, 202);
    await resultOf(bench, task);
    return join(bench.folder, "jobs/.shimsight-server/uploads", `${upload}.measured`);
};

test("a trial that takes over what the first look measured has the same record, to the byte", async () => {
    const sides = ["drive", "coast"];
    const file = (side) => sample(`van-a-too-shallow/${side}.jpg`);
    /// What is recorded and drawn of a trial whose photos `before` may have looked at.
    const trialOf = async (axle, before) => {
        const job = await makeJob(bench, axle);
        const photos = [];
        for (const side of sides) photos.push({ upload: await uploaded(file(side)), side });
        await before(job, photos);
        const { task } = await send(
            bench,
            `/api/jobs/${job}/trials`,
            { by: "Kim", backlash_mm: 0.2286, shim_stack_mm: 0.762, photos },
            202,
        );
        await resultOf(bench, task);
        const view = await bench.json(`/api/jobs/${job}`);
        const [{ reading, photos: kept, origin }] = view.record.trials;
        return { job, told: JSON.stringify({ reading, kept, origin, ...view.trials.t1 }) };
    };
    const anew = await trialOf("Van anew", async () => {});
    assert.ok(anew.told.length > 5000);
    const files = [];
    const taken = await trialOf("Van looked", async (job, photos) => {
        for (const { upload, side } of photos) files.push(await looked(upload, job, side));
        for (const one of files) assert.ok(existsSync(one), "a look leaves what it measured");
    });
    assert.equal(taken.told, anew.told);
    for (const one of files) assert.ok(!existsSync(one), "it goes with the photo");
    // One of the two; with another gear set; cut short: read anew, the same again.
    const one = await trialOf("Van one looked", async (job, [, coast]) => {
        await looked(coast.upload, job, "coast");
    });
    assert.equal(one.told, anew.told);
    const foreign = await makeJob(bench, "Truck", { gear_set: "1/lab-light-truck-rear-axle.json" });
    const other = await trialOf("Van other set", async (_, photos) => {
        for (const { upload, side } of photos) assert.ok(existsSync(await looked(upload, foreign, side)));
    });
    assert.equal(other.told, anew.told);
    const cut = await trialOf("Van cut", async (job, photos) => {
        for (const { upload, side } of photos) truncateSync(await looked(upload, job, side), 2000);
    });
    assert.equal(cut.told, anew.told);
    // And it is really taken over: what a look has left is what the trial says.
    const changed = await trialOf("Van changed", async (job, photos) => {
        for (const { upload, side } of photos) {
            const left = await looked(upload, job, side);
            const bytes = readFileSync(left);
            // CBOR (RFC 8949): the last text "found", which is the photo's own, and false in place of true after it.
            const found = bytes.lastIndexOf(Buffer.from([0x65, ...Buffer.from("found"), 0xf5]));
            assert.ok(found > 0);
            bytes[found + 6] = 0xf4;
            writeFileSync(left, bytes);
        }
    });
    assert.notEqual(changed.told, anew.told);
});
