// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// A page that is refused one of its files says so in words, and opens by itself as soon as the file comes.
import assert from "node:assert/strict";
import { test } from "node:test";
import { createServer, request } from "node:http";
import { PHONE, checkPage, heading, openPage } from "./bench.mjs";
import { bench, browser, finish } from "./stage.mjs";
import { Firefox } from "./firefox.mjs";

/// As the server refuses whoever asks too much.
const refuse = (route) =>
    route.fulfill({
        status: 429,
        headers: { "Retry-After": "2" },
        json: { error: "Too many requests." },
    });
const newJob = (page, timeout = 30000) => page.getByRole("link", { name: "New job" }).waitFor({ timeout });

/// A page whose `file` is refused as long as `when(times asked before)` says so; what was asked stands in `asked`.
async function refused(file, when, how = refuse) {
    const page = await openPage(browser, bench, PHONE);
    page.asked = 0;
    await page.route(`**/${file}`, (route) => (when(page.asked++) ? how(route) : route.fallback()));
    await page.goto(bench.address);
    return page;
}

for (const [file, name] of [
    ["app.js", "the first"],
    ["words.js", "one that others need"],
    ["undo.js", "a small one"],
])
    test(`a script refused once, ${name}: the page opens by itself, still paired by the code of its address`, async () => {
        const page = await refused(file, (before) => before === 0);
        await newJob(page);
        assert.equal(page.asked, 2);
        await finish(page);
    });

test("a script whose connection drops twice: the page opens by itself", async () => {
    const page = await refused(
        "fields.js",
        (before) => before < 2,
        (route) => route.abort("connectionreset"),
    );
    await newJob(page);
    assert.equal(page.asked, 3);
    await finish(page);
});

test("a script that stays refused: words and a button, which opens the page when the script comes", async () => {
    let busy = true;
    const page = await refused("units.js", () => busy);
    await heading(page, "The page did not open");
    await page.getByText("It is tried again by itself").waitFor();
    await page.getByRole("button", { name: "Try again now" }).waitFor();
    const asked = page.asked;
    // The longer it lasts, the longer the waits: after four tries there is time to look.
    await page.waitForFunction(() => Number(sessionStorage.getItem("shimsight-opening")) >= 4, null, {
        timeout: 30000,
    });
    assert.ok(page.asked > asked, "it is tried again by itself, too");
    await heading(page, "The page did not open");
    await checkPage(page, "80-not-opened");
    busy = false;
    await heading(page, "The page did not open");
    await page.getByRole("button", { name: "Try again now" }).click();
    await newJob(page);
    assert.equal(await page.evaluate(() => sessionStorage.getItem("shimsight-opening")), "0", "the count starts anew");
    await finish(page);
});

test("looks that are refused once come later, and the page stays", async () => {
    const page = await refused("page.css", (before) => before === 0);
    await newJob(page);
    await page.evaluate(() => (window.same = true));
    await page.waitForFunction(() => getComputedStyle(document.querySelector(".bar")).position === "fixed");
    assert.equal(await page.evaluate(() => window.same), true);
    await finish(page);
});

test("a script that comes late: after a while the page says that it takes long, and opens when it is there", async () => {
    let come;
    const waited = new Promise((done) => (come = done));
    const page = await openPage(browser, bench, PHONE);
    await page.route("**/dom.js", async (route) => {
        await waited;
        await route.fallback();
    });
    await page.goto(bench.address, { waitUntil: "commit" });
    await page.getByText("It takes long to come").waitFor({ timeout: 30000 });
    await page.getByRole("button", { name: "Try again now" }).waitFor();
    come();
    await newJob(page);
    assert.equal(await page.getByText("It takes long to come").count(), 0);
    await finish(page);
});

test("without the script that watches, the page opens; without both, plain words stay", async () => {
    const alone = await refused("opening.js", () => true);
    await newJob(alone);
    await finish(alone);
    const page = await openPage(browser, bench, PHONE);
    for (const file of ["opening.js", "app.js"]) await page.route(`**/${file}`, refuse);
    await page.goto(bench.address);
    await page.getByText("A part of the page did not come").waitFor({ timeout: 20000 });
    await page.unroute("**/app.js");
    await page.getByRole("link", { name: "Open it again" }).click();
    await heading(page, "not paired");
    await finish(page);
});

/// A server in front of the bench, which refuses `file` the first time.
async function refusing(file) {
    let before = 0;
    const front = createServer((asked, answer) => {
        if (asked.url === `/${file}` && before++ === 0) {
            answer.writeHead(429, { "Content-Type": "application/json", "Retry-After": "2" });
            return answer.end("{}");
        }
        const { method, headers, url } = asked;
        const behind = request(bench.origin + url, { method, headers }, (from) => {
            answer.writeHead(from.statusCode, from.headers);
            from.pipe(answer);
        });
        behind.on("error", () => answer.destroy());
        return asked.pipe(behind);
    });
    await new Promise((done) => front.listen(0, "127.0.0.1", done));
    return { front, origin: `http://127.0.0.1:${front.address().port}`, count: () => before };
}

test("in Firefox, too, a script refused once comes by itself", async () => {
    const { front, origin, count } = await refusing("units.js");
    const phone = await new Firefox().start(390, 740, "light");
    try {
        await phone.go(bench.address.replace(bench.origin, origin));
        await phone.until(
            `[...document.querySelectorAll("a")].some((one) => one.textContent.includes("New job"))`,
            30000,
        );
        assert.ok(count() >= 2);
    } finally {
        await phone.close();
        front.closeAllConnections();
        front.close();
    }
});
