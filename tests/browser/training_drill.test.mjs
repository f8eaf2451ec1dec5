// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// The training bench of the served page in a real browser: drill, score sheets, exam, game.
import assert from "node:assert/strict";
import { mkdtempSync, readFileSync, readdirSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { test } from "node:test";
import { Bench, PHONE, checkPage, choose, heading } from "./bench.mjs";
import { MAX_BYTES, PATIENCE_MS, opened, scores, sizes } from "./training.mjs";

/// Begins a drill and waits for its first question.
async function begin(page, { name, level, questions, seed, kind }) {
    await heading(page, "Drill");
    if (name !== undefined) await page.getByLabel("Your name").fill(name);
    if (kind) await page.getByText(kind).click();
    if (level) await page.getByText(`${level}: `).first().click();
    if (questions) await page.getByLabel("Questions").first().fill(String(questions));
    if (seed) {
        await page.getByText("Gear set, same questions for all").click();
        await page.getByLabel("Number of the questions").fill(String(seed));
    }
    await page.getByRole("button", { name: "Begin" }).click();
    await heading(page, "Question 1");
}

test("a whole drill, and the score sheet", async () => {
    for (const [kind, name] of sizes) {
        const page = await opened(kind, "training/drill");
        await heading(page, "Drill");
        await checkPage(page, `50-drill-start-${name}`);
        const sent = [];
        // Promises: the page may show a question before its text has come here.
        page.on("response", (response) => {
            if (/\/api\/training\/questions/.test(response.url())) sent.push(response.text());
        });
        await begin(page, { name: 'Ann, "A" Lee', level: 2, questions: 2, seed: 5 });
        const question = await sent[0];
        assert.deepEqual(
            Object.keys(JSON.parse(question)).sort(),
            [
                "asked",
                "backlash_limits_given",
                "backlash_limits_mm",
                "backlash_mm",
                "cut",
                "cut_words",
                "gear_set",
                "level",
                "level_words",
                "number",
                "shim",
                "sketches",
                "steps_mm",
                "story",
            ],
            "nothing that is right comes with the question",
        );
        assert.ok(!/fk-cross|fk-zone/.test(question));
        const check = page.getByRole("button", { name: "Check it" });
        await check.click();
        await page.getByText("Say first where both marks are.").waitFor();
        // Pointing at a flank answers where: here its toe, low.
        const svg = page.getByRole("region", { name: "Drive side" }).locator("svg");
        await svg.scrollIntoViewIfNeeded();
        const box = await svg.boundingBox();
        const at = { x: box.x + 0.25 * box.width, y: box.y + 0.65 * box.height };
        if (kind === PHONE) await page.touchscreen.tap(at.x, at.y);
        else await page.mouse.click(at.x, at.y);
        assert.ok(await page.getByRole("region", { name: "Drive side" }).getByLabel("toe").isChecked());
        assert.ok(await page.getByRole("region", { name: "Drive side" }).getByLabel("root half").isChecked());
        await choose(page, "Coast side", "middle", "root half");
        await page.getByText("Change it").click();
        await check.click();
        await page.getByText("Set how much you would change.").waitFor();
        await page.getByLabel("Pinion depth").fill("-3");
        await page.getByLabel("Backlash").fill("3");
        // A reload in the middle loses nothing.
        await page.reload();
        await heading(page, "Question 1 of 2");
        await page.getByText("0.006 in (0.15 mm) shallower").waitFor();
        await checkPage(page, `51-question-${name}`);
        await check.click();
        // The same seed and answers as on the command line: tests/unit/training holds both to markAnswer.
        await heading(page, "10 of 10 points");
        await page.getByText("Your correction ends in a good setting.").waitFor();
        assert.equal(await page.locator(".pairs figure").count(), 4);
        await checkPage(page, `52-checked-${name}`);
        await page.getByRole("button", { name: "Next question" }).click();
        await heading(page, "Question 2 of 2");
        for (const side of ["Drive side", "Coast side"]) await choose(page, side, "heel", "mid-height");
        await page.getByText("Change it").click();
        await page.getByLabel("Pinion depth").fill("-7");
        await check.click();
        await page.getByText("would have overshot by").waitFor();
        await page.getByText("Read again: the lesson").waitFor();
        await checkPage(page, `53-overshot-${name}`);
        await page.getByRole("button", { name: "To the result" }).click();
        await heading(page, "of 20 points");
        await checkPage(page, `54-result-${name}`);
        await page.getByRole("link", { name: "Score sheets" }).click();
        await heading(page, "Score sheets");
        await page.getByText('Ann, "A" Lee').waitFor();
        const [download] = await Promise.all([
            page.waitForEvent("download"),
            page.getByRole("button", { name: "CSV" }).click(),
        ]);
        const lines = readFileSync(await download.path(), "utf8")
            .trim()
            .split("\n");
        assert.match(lines[0], /^name,at,seed,level,number,/);
        assert.equal(lines.length, kind === PHONE ? 3 : 5);
        assert.match(lines[1], /^"Ann, ""A"" Lee",\d{4}-[^,]*,5,2,1,.*,4,6,10,10$/);
        await checkPage(page, `55-sheets-${name}`);
        await page.getByText('Ann, "A" Lee').click();
        await heading(page, "Ann");
        await page.getByRole("heading", { name: "Lessons to read again" }).waitFor();
        await checkPage(page, `56-sheet-${name}`);
        assert.ok(page.bytes < MAX_BYTES, `${page.bytes} bytes`);
        await page.context().close();
    }
    assert.equal(readdirSync(scores).filter((file) => file.endsWith(".json")).length, 1, "one sheet for one name");
});

test("a drill on rendered photos, and on a job's", async () => {
    const page = await opened(PHONE, "training/drill");
    await begin(page, { name: "", questions: 1, seed: 7, kind: "a rendered photo" });
    assert.equal(await page.locator(".aim .fk-mark").count(), 0, "the mark is on the photo alone");
    await page.waitForFunction(() => document.querySelectorAll(".sheet .shot img").length === 2, null, {
        timeout: PATIENCE_MS,
    });
    await checkPage(page, "57-question-photo");
    await page.getByRole("button", { name: "End the drill" }).click();
    await begin(page, { name: "", questions: 1, kind: "photos from this shop" });
    await page.waitForFunction(() => document.querySelectorAll(".photos img").length >= 1);
    for (const side of ["Drive side", "Coast side"])
        if (await page.getByRole("region", { name: side }).count()) await choose(page, side, "middle", "mid-height");
    await page.getByText("Change it").click();
    await page.getByLabel("Pinion depth").fill("4");
    await checkPage(page, "58-question-job");
    await page.getByRole("button", { name: "Check it" }).click();
    await heading(page, "of 10 points");
    await page.getByText("was read as good").waitFor();
    await checkPage(page, "59-checked-job");
    await page.context().close();
});

test("the exam: once each, points at the end, the rest stays closed", async () => {
    const folder = mkdtempSync(join(tmpdir(), "shimsight-exam-"));
    const list = join(folder, "class.txt");
    writeFileSync(list, "Ann\nBo\nKim\n");
    const exam = await new Bench([
        ...["--scores", folder, "--exam", "82641", "--exam-level", "1"],
        ...["--exam-questions", "2", "--exam-names", list],
    ]).start();
    try {
        const page = await opened(PHONE, "training/exam", exam);
        const texts = [];
        page.on("response", (response) => texts.push(response.text().catch(() => "")));
        await heading(page, "Exam");
        await checkPage(page, "60-exam-start");
        await page.getByRole("button", { name: "Begin" }).click();
        await page.getByText("Choose your name first.").waitFor();
        await page.getByText("Bo", { exact: true }).click();
        await page.getByRole("button", { name: "Begin" }).click();
        for (const number of [1, 2]) {
            await heading(page, `Question ${number} of 2`);
            for (const side of ["Drive side", "Coast side"]) await choose(page, side, "middle", "mid-height");
            await page.getByText("Leave it, it is good").click();
            if (number === 1) await checkPage(page, "61-exam-question");
            await page.getByRole("button", { name: "Hand it in" }).click();
        }
        await heading(page, "of 20 points");
        await page.getByText("handed in").waitFor();
        await checkPage(page, "62-exam-result");
        const told = (await Promise.all(texts)).join();
        assert.ok(told.length > 0 && !told.includes("82641"), "the number of the exam is told to nobody");
        assert.ok(!/deeper 0|shallower 0/.test(told), "nor what was right");
        assert.equal((await exam.ask("/api/training/sheets")).status, 400);
        assert.equal((await exam.ask("/api/training/sheets.csv")).status, 400);
        // Its number is one like all others to those who practise.
        assert.equal((await exam.ask("/api/training/questions/1?seed=82641&level=1")).status, 200);
        const again = await exam.ask("/api/training/answers", {
            method: "POST",
            headers: { "X-Shimsight-Request": "b".repeat(32) },
            body: JSON.stringify({ exam: true, number: 1, name: "Bo", remedy: "accept" }),
        });
        // The name is that of the page, which is another device than the one that holds the code.
        assert.match((await again.json()).error, /Bo is taking this exam on another device/);
        await page.context().close();
        // Without a list of names there are no points to be learnt under an invented one.
        const open = await new Bench([
            "--scores",
            join(folder, "open"),
            "--exam",
            "5",
            "--exam-questions",
            "1",
        ]).start();
        const other = await opened(PHONE, "training/exam", open);
        await heading(other, "Exam");
        await other.getByText("Points and right answers come when the exam is over.").waitFor();
        await other.getByLabel("Your name").fill("Nobody");
        await other.getByRole("button", { name: "Begin" }).click();
        await heading(other, "Question 1 of 1");
        for (const side of ["Drive side", "Coast side"]) await choose(other, side, "middle", "mid-height");
        await other.getByText("Leave it, it is good").click();
        await other.getByRole("button", { name: "Hand it in" }).click();
        await heading(other, "Handed in");
        await checkPage(other, "62-exam-without-points");
        assert.doesNotMatch(await other.locator("main").innerText(), /\d points/);
        await other.context().close();
        await open.close();
    } finally {
        await exam.close();
        rmSync(folder, { recursive: true, force: true });
    }
});

test("the set-up game to its end", async () => {
    for (const [kind, name] of sizes) {
        const page = await opened(kind, "training/game");
        await heading(page, "Set-up game");
        await page.getByText("2: ").first().click();
        await page.getByText("Gear set, same game for all").click();
        await page.getByLabel("Number of the game").fill("5");
        await checkPage(page, `63-game-start-${name}`);
        await page.getByRole("button", { name: "Begin" }).click();
        await heading(page, "As it came");
        assert.ok(await page.getByRole("button", { name: "Make this change" }).isDisabled());
        await page.getByLabel("Pinion depth").fill("-3");
        await page.getByLabel("Backlash").fill("3");
        await page.getByText("This change: 2.50 h.").waitFor();
        await page.getByRole("button", { name: "Make this change" }).click();
        await heading(page, "After 1 change: 2.50 h");
        await checkPage(page, `64-game-${name}`);
        await page.getByRole("button", { name: "Leave it, it is good" }).click();
        await heading(page, "Good: the setting is inside the rule.");
        await page.getByText("You needed 2.50 h").waitFor();
        await page.getByRole("heading", { name: "Shimsight's way" }).waitFor();
        await checkPage(page, `65-game-end-${name}`);
        await page.context().close();
    }
});
