// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// The bench page in a real browser: from a new job to an accepted pattern, and what goes wrong on the way.
import assert from "node:assert/strict";
import { writeFileSync } from "node:fs";
import { join } from "node:path";
import { test } from "node:test";
import { DESKTOP, PHONE, checkPage, drag, heading, openPage, received, root, sample } from "./bench.mjs";
import { bench, browser } from "./stage.mjs";

const here = join(root, "tests/browser");
const after_change = (side) => join(here, "photos", `after-the-change-${side}.jpg`);
const jobOf = (page) => /#\/job\/([^/]+)/.exec(page.url())[1];

async function paired(kind = PHONE) {
    const page = await openPage(browser, bench, kind);
    await page.goto(bench.address);
    await page.getByRole("link", { name: "New job" }).waitFor();
    return page;
}

async function newJob(page, axle, set = "Lab van rear axle A") {
    await page.goto(`${bench.origin}/#/new`);
    await heading(page, "New job");
    await page.getByLabel("Which axle").fill(axle);
    // The last one: "Same as the last job" may name it, too.
    await page.locator("label").filter({ hasText: set }).last().click();
    await page.getByLabel("Who sets it up").fill("Kim");
    await page.getByRole("button", { name: "Begin the job" }).click();
    await heading(page, "Trial 1");
    return jobOf(page);
}

async function photos(page, drive, coast) {
    if (drive) await page.getByLabel("Photo of the drive side").setInputFiles(drive);
    if (coast) await page.getByLabel("Photo of the coast side").setInputFiles(coast);
}

test("a device that is not paired sees nothing", async () => {
    const page = await openPage(browser, bench, PHONE);
    await page.goto(bench.origin);
    await heading(page, "not paired");
    await checkPage(page, "01-not-paired");
    await page.goto(`${bench.origin}/#${"0".repeat(32)}`);
    await page.reload();
    await heading(page, "not paired");
    assert.equal((await bench.ask("/api/jobs", { token: "0".repeat(32) })).status, 401);
    await page.context().close();
});

test("from a new job to an accepted pattern, on a phone", async () => {
    const page = await paired();
    await checkPage(page, "02-start");
    assert.ok(!page.url().includes(bench.token), "the token does not stay in the address bar");
    await page.getByRole("link", { name: "New job" }).click();
    await heading(page, "New job");
    await checkPage(page, "03-new-job");
    const job = await newJob(page, "Van 7, rear axle");
    await checkPage(page, "04-new-trial");

    // Three taps: a photo of each side, and "read".
    await photos(page, sample("van-a-too-shallow/drive.jpg"), sample("van-a-too-shallow/coast.jpg"));
    await page.getByLabel("Backlash on the dial").fill("0.009");
    await page.getByLabel("Pinion shims in place").fill("52");
    await page.getByText("= 0.052 in (1.32 mm)").waitFor();
    await received(page, 2);
    await checkPage(page, "05-photos-received");
    await page.getByRole("button", { name: "Read the pattern" }).click();
    // samples/README.md: the pinion is 0.006 in (0.15 mm) too shallow, its shims sit under the pinion support.
    await heading(page, "Take out");
    await page.waitForFunction(() => document.querySelectorAll(".shot img").length === 2);
    const answer = await page.getByRole("region", { name: "What to do" }).innerText();
    assert.match(answer, /Take out\s+0\.00[5-7]5?\sin/);
    assert.match(answer, /deeper, toward the ring gear/);
    assert.match(answer, /under the pinion support/);
    assert.equal(await page.locator(".pairs figure").count(), 4, "before and expected of both sides");
    await checkPage(page, "06-answer");
    await page.getByText("Second choice").or(page.getByText("Evidence and numbers")).first().click();
    await page.getByRole("button", { name: /lengths in inches/ }).click();
    await page
        .getByRole("heading", { level: 1 })
        .filter({ hasText: /0\.1[3-8]\smm/ })
        .waitFor();
    await checkPage(page, "07-answer-mm");
    await page.getByRole("button", { name: /lengths in millimetres/ }).click();

    // What was found is corrected: a corner dragged by a finger, a tooth dropped.
    await page.getByRole("link", { name: "Correct the outlines" }).first().click();
    await heading(page, "Photo 1");
    const corner = page.getByRole("button", { name: /Corner toe, tip/ });
    await corner.scrollIntoViewIfNeeded();
    const box = await corner.boundingBox();
    const from = { x: box.x + box.width / 2, y: box.y + box.height / 2 };
    await drag(page, from, { x: from.x + 12, y: from.y + 7 }, async () => {
        assert.ok(await page.locator(".lens").isVisible(), "the magnifier is under the finger");
        await checkPage(page, "08-corner-under-lens", { schemes: [], narrow: false });
    });
    const moved = await corner.boundingBox();
    assert.ok(
        Math.abs(moved.x - box.x - 12) < 2 && Math.abs(moved.y - box.y - 7) < 2,
        "the corner went where the finger went",
    );
    assert.ok(!(await page.locator(".lens").isVisible()));
    await corner.focus();
    await page.keyboard.press("Shift+ArrowLeft");
    assert.ok((await corner.boundingBox()).x < moved.x, "arrow keys move it too");
    await page.getByRole("button", { name: "Drop this tooth" }).click();
    await checkPage(page, "09-corners");
    await page.getByRole("button", { name: "Read again" }).click();
    await page.waitForURL(/trial\/t2/, { timeout: 60000 });
    await heading(page, "Take out");
    let record = (await bench.json(`/api/jobs/${job}`)).record;
    assert.equal(record.trials[1].origin, "marked");
    assert.ok(record.trials[0].struck);
    assert.equal(
        record.trials[1].reading.photos[0].flanks.length + record.trials[1].reading.photos[0].refused_flanks.length,
        record.trials[0].reading.photos[0].flanks.length - 1,
    );

    await page.getByRole("link", { name: "I made this change" }).click();
    await heading(page, "What was really done");
    await checkPage(page, "10-what-was-done");
    await page.getByLabel("Backlash now, on the dial").fill("0.2mm");
    await page.getByRole("button", { name: /Save, and go on/ }).click();
    await heading(page, "Trial 2");
    await photos(page, after_change("drive"), after_change("coast"));
    await received(page, 2);
    await page.getByRole("button", { name: "Read the pattern" }).click();
    await heading(page, "Leave it");
    await checkPage(page, "11-accepted");
    await page.getByRole("link", { name: "Go on with the job" }).click();
    await heading(page, "Van 7");
    assert.equal(await page.locator(".sketch .fk-stop").count(), 4, "two trials on the way of each side");
    await checkPage(page, "12-job");
    record = (await bench.json(`/api/jobs/${job}`)).record;
    assert.equal(record.work.length, 1);
    assert.equal(record.trials.length, 3);
    for (const [name, words] of [
        ["Review of this job", /Van 7/],
        ["Build sheet to print", /Van 7/],
    ]) {
        const opened = page.context().waitForEvent("page");
        await page.getByRole("button", { name }).click();
        const document_ = await opened;
        await document_.waitForURL(/\/documents\//, { timeout: 60000 });
        await document_.waitForLoadState();
        assert.match(await document_.locator("body").innerText(), words);
        await document_.close();
    }
    await page.context().close();
});

test("readings, check lists, sign-off", async () => {
    const page = await paired();
    const job = await newJob(page, "Truck 2 <img src=x onerror=alert(1)>");
    const open = async (what, words) => {
        await page.goto(`${bench.origin}/#/job/${job}/${what}`);
        await heading(page, words);
    };
    await open("measure/backlash", "Backlash round");
    for (const [label, value] of [
        ["0°", "7"],
        ["90°", "8"],
        ["180°", "0.009"],
        ["270°", "0.2mm"],
    ])
        await page.getByLabel(label, { exact: true }).fill(value);
    await page.getByRole("button", { name: "Save" }).click();
    await page.locator(".chart").waitFor();
    assert.match(await page.locator(".chart").getAttribute("aria-label"), /swings by/);
    await checkPage(page, "13-backlash");
    await open("measure/preload", "Pinion preload");
    await page.getByLabel("Turning torque of the pinion").fill("15");
    await page.getByRole("button", { name: "Save" }).click();
    await page.getByText("within limits").waitFor();
    await checkPage(page, "14-preload");
    await open("measure/runout", "Runout");
    await page.getByLabel("Total reading").fill("5 thou");
    await page.getByRole("button", { name: "Save" }).click();
    await page.getByText("outside limits").waitFor();
    await page.getByRole("button", { name: "Strike out" }).click();
    await page.getByText("No reason was given").waitFor();
    await checkPage(page, "15-runout");
    await open("measure/carrier", "carrier bearings");
    await page.getByLabel("Left adjuster").fill("2");
    await page.getByRole("button", { name: "Save" }).click();
    await page.getByText("left 2 notches").waitFor();
    await checkPage(page, "16-carrier");
    await open("measure/torques", "Torques");
    await page.getByLabel("Bearing caps at full torque").check();
    await page.waitForFunction(() => document.querySelectorAll("input:checked").length === 1);
    await checkPage(page, "17-torques");
    await open("measure/pinion", "Pinion seal and nut");
    await page.getByLabel("New pinion nut").check();
    await page.waitForFunction(() => document.querySelectorAll("input:checked").length === 1);
    await checkPage(page, "17-pinion");
    await open("measure/final-assembly", "Final assembly");
    await checkPage(page, "18-final-assembly");
    await open("sign-off", "Sign the job off");
    await checkPage(page, "19-sign-off");
    await open("", "Truck 2 <img");
    await checkPage(page, "20-job-readings");
    assert.deepEqual(page.faults, []);
    await page.context().close();
});

test("a pattern drawn by hand", async () => {
    const page = await paired();
    const job = await newJob(page, "Van 9");
    await page.getByRole("link", { name: /Draw the pattern/ }).click();
    await heading(page, "Draw the mark");
    const canvases = page.locator("canvas");
    for (const place of [0, 1]) {
        await canvases.nth(place).evaluate((canvas) => canvas.scrollIntoView({ block: "center" }));
        const box = await canvases.nth(place).boundingBox();
        const y = box.y + box.height * 0.5;
        await drag(page, { x: box.x + box.width * 0.25, y }, { x: box.x + box.width * 0.6, y });
        await drag(page, { x: box.x + box.width * 0.25, y: y + 12 }, { x: box.x + box.width * 0.6, y: y + 12 });
    }
    await page.getByLabel("Backlash on the dial").fill("0.008");
    await checkPage(page, "21-draw");
    await page.getByRole("button", { name: "Use this pattern" }).click();
    await page.waitForURL(/trial\/t1/, { timeout: 60000 });
    await page.getByRole("region", { name: "What to do" }).waitFor();
    const { record } = await bench.json(`/api/jobs/${job}`);
    assert.equal(record.trials[0].origin, "drawn");
    for (const side of ["drive", "coast"]) {
        const { toe_heel: place } = record.trials[0].reading.pattern[side].centre;
        assert.ok(Math.abs(place - 0.425) < 0.03, `the mark of the ${side} side lies where it was drawn, at ${place}`);
    }
    await page.context().close();
});

test("a photo in which nothing is found is outlined by hand", async () => {
    const page = await paired();
    const job = await newJob(page, "Van 10", "Lab van rear axle B");
    const plain = await page.evaluate(async () => {
        const canvas = document.createElement("canvas");
        canvas.width = 900;
        canvas.height = 600;
        const context = canvas.getContext("2d");
        context.fillStyle = "#8a8f94";
        context.fillRect(0, 0, 900, 600);
        return canvas.toDataURL("image/png").split(",")[1];
    });
    const file = join(bench.folder, "plain.png");
    writeFileSync(file, Buffer.from(plain, "base64"));
    await photos(page, file);
    await received(page, 1);
    await page.getByRole("button", { name: "Read the pattern" }).click();
    await heading(page, "No pattern was read");
    assert.ok(!(await page.locator("main").innerText()).includes("--"), "no options of the command line on the page");
    await checkPage(page, "22-nothing-found");
    await page.getByRole("link", { name: "Outline the teeth by hand" }).click();
    await heading(page, "Photo 1");
    await page.getByRole("button", { name: "Add a tooth" }).click();
    assert.equal(await page.locator(".corner:visible").count(), 4);
    await checkPage(page, "23-outline-by-hand");
    await page.getByRole("button", { name: "Read again" }).click();
    await page.waitForURL(/trial\/t2/, { timeout: 60000 });
    await heading(page, "No pattern was read");
    assert.equal((await bench.json(`/api/jobs/${job}`)).record.trials[1].outlines.flanks.length, 1);
    await page.context().close();
});

test("the connection drops in the middle: nothing lost, nothing doubled", async () => {
    const page = await paired();
    const job = await newJob(page, "Van 11", "Lab van rear axle B");
    let pieces = 0,
        trials = 0;
    await page.route(/\/api\/uploads\/.*offset/, async (route) => {
        ++pieces;
        // The second piece never arrives; of the third the answer gets lost.
        if (pieces === 2) return route.abort("connectionreset");
        if (pieces === 3) {
            await route.fetch();
            return route.abort("connectionreset");
        }
        return route.continue();
    });
    await page.route(/\/trials$/, async (route) => {
        if (++trials > 1) return route.continue();
        await route.fetch();
        return route.abort("connectionreset");
    });
    // The line goes as soon as anything comes through again: that it was there is noted at once.
    await page.evaluate(() => {
        const line = document.getElementById("connection");
        new MutationObserver(() => (window.lossTold ||= !line.hidden)).observe(line, { attributes: true });
    });
    await photos(page, sample("van-b-good/drive.jpg"), sample("van-b-good/coast.jpg"));
    await page.waitForFunction(() => window.lossTold);
    await received(page, 2);
    await page.locator("#connection").waitFor({ state: "hidden" });
    await page.getByLabel("Backlash on the dial").fill("0.007");
    await page.getByRole("button", { name: "Read the pattern" }).click();
    // samples/README.md: the pinion is right.
    await heading(page, "Leave it");
    assert.ok(trials >= 2 && pieces >= 4);
    const { record } = await bench.json(`/api/jobs/${job}`);
    assert.equal(record.trials.length, 1);
    assert.equal(record.trials[0].photos.length, 2);

    // Away for a while, in the middle of a job.
    await page.goto(`${bench.origin}/#/job/${job}/measure/runout`);
    await heading(page, "Runout");
    await page.getByLabel("Total reading").fill("2 thou");
    await page.context().setOffline(true);
    await page.getByRole("button", { name: "Save" }).click();
    await page.locator("#connection:visible").waitFor();
    await page.context().setOffline(false);
    await page.getByText("within limits").waitFor({ timeout: 60000 });
    assert.equal((await bench.json(`/api/jobs/${job}`)).record.runout.length, 1);
    await page.context().close();
});

test("oversized and hostile uploads, foreign pages", async () => {
    const page = await paired();
    await newJob(page, "Van 12");
    const file = join(bench.folder, "not-a-photo.jpg");
    writeFileSync(file, "<html><script>alert(1)</script></html>");
    await photos(page, file);
    await page.getByText("This is no photo that can be read").waitFor();
    assert.equal(await page.locator(".slot.full").count(), 0);
    assert.deepEqual(page.faults, []);
    const id = "a".repeat(32);
    const put = (query, body) => bench.ask(`/api/uploads/${id}?${query}`, { method: "PUT", body });
    assert.equal((await put("offset=0&size=60000000", "x")).status, 413);
    assert.equal((await put("offset=0&size=3000000", "x".repeat(3_000_000))).status, 413);
    assert.equal(
        (
            await bench.ask("/api/jobs", {
                method: "POST",
                body: "{}",
                headers: { Origin: "http://elsewhere.example", "X-Shimsight-Request": id },
            })
        ).status,
        403,
    );
    for (const path of ["/api/jobs/..%2f..%2fetc", "/..%2f..%2fetc%2fpasswd", "/api/jobs/%2e%2e"])
        assert.equal((await bench.ask(path)).status, 404);
    assert.equal((await bench.ask("/api/jobs")).status, 200, "the server still answers");
    await page.context().close();
});

test("two phones on one job", async () => {
    const first = await paired();
    const job = await newJob(first, "Van 13");
    const second = await paired();
    for (const page of [first, second]) await page.goto(`${bench.origin}/#/job/${job}`);
    await heading(first, "Van 13");
    await second.goto(`${bench.origin}/#/job/${job}/measure/runout`);
    await second.getByLabel("Total reading").fill("0.002");
    await second.getByRole("button", { name: "Save" }).click();
    await second.getByText("within limits").waitFor();
    // The other phone follows by itself.
    await first.getByText("0.002 in").waitFor({ timeout: 60000 });
    assert.deepEqual([...first.faults, ...second.faults], []);
    await first.context().close();
    await second.context().close();
});

test("on a desktop screen", async () => {
    const page = await paired(DESKTOP);
    await checkPage(page, "31-desktop-start");
    const { jobs } = await bench.json("/api/jobs");
    const done = jobs.find((job) => job.axle === "Van 7, rear axle");
    for (const [name, path, words] of [
        ["32-desktop-job", "", "Van 7"],
        ["33-desktop-answer", "/trial/t2", "Take out"],
        ["34-desktop-corners", "/trial/t2/outline/0", "Photo 1"],
    ]) {
        await page.goto(`${bench.origin}/#/job/${done.id}${path}`);
        await heading(page, words);
        await page.waitForLoadState("networkidle");
        await checkPage(page, name);
    }
    await page.context().close();
});

test("Ctrl-C finishes what was accepted, and the next run goes on", async () => {
    const page = await paired();
    const job = await newJob(page, "Van 14", "Lab van rear axle B");
    await photos(page, sample("van-b-good/drive.jpg"), sample("van-b-good/coast.jpg"));
    await received(page, 2);
    const accepted = page.waitForResponse(/\/trials$/);
    await page.getByRole("button", { name: "Read the pattern" }).click();
    assert.equal((await accepted).status(), 202);
    assert.equal(await bench.stop("SIGTERM"), 0);
    await page.context().close();
    await bench.start();
    const { record } = await bench.json(`/api/jobs/${job}`);
    assert.equal(record.trials.length, 1);
    assert.equal(record.trials[0].origin, "found");
});

test("used gears: what they were is asked for before the first trial, and a question is answered once", async () => {
    const page = await paired();
    await page.goto(`${bench.origin}/#/new`);
    await heading(page, "New job");
    await page.getByLabel("Which axle").fill("Van 9, used gears");
    await page.locator("label").filter({ hasText: "Lab van rear axle A" }).last().click();
    await page.getByText("gears that ran together before").click();
    await page.getByRole("button", { name: "Begin the job" }).click();
    await heading(page, "Before they came apart");
    const job = jobOf(page);
    await checkPage(page, "70-before");
    await page.getByRole("button", { name: "Keep it" }).click();
    await page.getByText("Take photos of the marks as they were, or enter the backlash as it was").waitFor();
    await page.getByLabel("Backlash on the dial").fill("0.011");
    await page.getByRole("button", { name: "Keep it" }).click();
    await heading(page, "Van 9");
    // The marks are still missing: they are asked for again.
    await page.getByRole("link", { name: "What the gears were before" }).click();
    await heading(page, "Before they came apart");
    await photos(page, sample("van-a-too-shallow/drive.jpg"), sample("van-a-too-shallow/coast.jpg"));
    await received(page, 2);
    await page.getByRole("button", { name: "Keep it" }).click();
    await heading(page, "Van 9");
    await page.getByText("drive mark, coast mark").waitFor();
    await checkPage(page, "71-job-used-gears");
    await page.getByRole("link", { name: "First trial" }).click();
    await heading(page, "Trial 1");
    await photos(page, sample("van-a-too-shallow/drive.jpg"), null);
    await page.getByLabel("Backlash on the dial").fill("0.011");
    await received(page, 1);
    await page.getByRole("button", { name: "Read the pattern" }).click();
    await page.waitForURL(/trial\/t1/, { timeout: 60000 });
    const { record } = await bench.json(`/api/jobs/${job}`);
    assert.deepEqual(
        record.before.map((entry) => [entry.backlash_mm !== null, entry.photos.length]),
        [
            [true, 0],
            [false, 2],
        ],
    );

    // As an advice asks; the record itself answers.
    await page.route(`**/api/jobs/${job}`, async (route) => {
        const response = await route.fetch();
        if (response.status() !== 200) return route.fulfill({ response });
        const view = await response.json();
        const advice = view.record.trials[0].reading.advice;
        if (!view.record.checked.length)
            advice.diagnoses = [
                {
                    kind: "sides-swapped",
                    chance: 0.9,
                    evidence: "Drive and coast may be exchanged.",
                    question: true,
                    shown: false,
                },
            ];
        return route.fulfill({ response, json: view });
    });
    await page.goto(`${bench.origin}/#/job/${job}`);
    await heading(page, "Van 9");
    await page.goto(`${bench.origin}/#/job/${job}/trial/t1`);
    await page.getByRole("heading", { name: "Did you check?" }).waitFor();
    await checkPage(page, "72-question");
    await page.getByRole("button", { name: /Which side is drive.*Checked: it is right/ }).click();
    await page.getByRole("heading", { name: "Did you check?" }).waitFor({ state: "detached" });
    const after = (await bench.json(`/api/jobs/${job}`)).record;
    assert.deepEqual(
        after.checked.map((entry) => entry.kind),
        ["sides-swapped"],
    );

    // A crooked gear leads the page, and is no acceptance.
    await bench.ask(`/api/jobs/${job}/entries/runout`, {
        method: "POST",
        headers: { "X-Shimsight-Request": "ab".repeat(16), "Content-Type": "application/json", Origin: bench.origin },
        body: JSON.stringify({ runout_mm: 0.3 }),
    });
    await page.goto(`${bench.origin}/#/job/${job}`);
    await page.getByText("Stop:", { exact: true }).waitFor();
    await page.getByText("Put the runout of the ring gear right before you set anything by it").waitFor();
    await checkPage(page, "73-stopped");
    await page.context().close();
});
