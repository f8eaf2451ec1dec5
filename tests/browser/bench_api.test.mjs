// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// The interface against its own description: the document is valid OpenAPI 3.1, and every operation answers as it says.
import { Validator } from "@seriousme/openapi-schema-validator";
import Ajv from "ajv/dist/2020.js";
import assert from "node:assert/strict";
import { cpSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { after, before, test } from "node:test";
import { join } from "node:path";
import { Bench, root, sample } from "./bench.mjs";

const api = JSON.parse(readFileSync(join(root, "src/server/openapi.json"), "utf8"));
const ajv = new Ajv({ strict: false });
ajv.addSchema({ $id: "api", ...api });

const scores = mkdtempSync(join(tmpdir(), "shimsight-scores-"));
let bench, exam;
before(async () => {
    bench = new Bench(["--scores", join(scores, "drill")]);
    cpSync(sample("job-van-17"), join(bench.folder, "jobs", "van-17"), { recursive: true });
    await bench.start();
    const list = join(scores, "list.txt");
    writeFileSync(list, "Bo\n");
    exam = await new Bench([
        ...["--scores", join(scores, "exam"), "--exam", "7"],
        ...["--exam-questions", "1", "--exam-names", list],
    ]).start();
});
after(async () => {
    await bench?.close();
    await exam?.close();
    rmSync(scores, { recursive: true, force: true });
});

let counter = 0;
const newId = () => (++counter).toString(16).padStart(32, "0");
const called = new Set();

/// Asks, and holds body and answer to the description.
async function ask(
    method,
    template,
    values = {},
    { body, raw, query = "", id = newId(), wanted = 200, of = bench } = {},
) {
    const operation = api.paths[template]?.[method.toLowerCase()];
    assert.ok(operation, `${method} ${template} is described`);
    called.add(`${method} ${template}`);
    const path = template.replace(/\{(\w+)\}/g, (_, key) => values[key]);
    if (body) {
        const check = ajv.compile({
            $ref: `api#${pointer(["paths", template, method.toLowerCase(), "requestBody", "content", "application/json", "schema"])}`,
        });
        assert.ok(check(body), `body of ${method} ${template}: ${ajv.errorsText(check.errors)}`);
    }
    const response = await of.ask(path + query, {
        method,
        body: raw ?? (body ? JSON.stringify(body) : undefined),
        headers: method === "POST" ? { "X-Shimsight-Request": id } : {},
    });
    const text = await response.text();
    assert.equal(response.status, wanted, `${method} ${path}: ${text.slice(0, 300)}`);
    const described = operation.responses[String(wanted)];
    assert.ok(described, `${method} ${template} describes ${wanted}`);
    const type = response.headers.get("content-type")?.split(";")[0];
    if (type !== "application/json") return text;
    const place = described.$ref
        ? described.$ref.slice(1)
        : pointer(["paths", template, method.toLowerCase(), "responses", String(wanted)]);
    const check = ajv.compile({ $ref: `api#${place}${pointer(["content", "application/json", "schema"])}` });
    const answer = JSON.parse(text);
    assert.ok(check(answer), `${method} ${template}: ${ajv.errorsText(check.errors)}`);
    return answer;
}
const pointer = (parts) =>
    parts.map((part) => `/${encodeURIComponent(part.replaceAll("~", "~0").replaceAll("/", "~1"))}`).join("");

async function finished(task) {
    for (;;) {
        const state = await ask("GET", "/api/tasks/{id}", { id: task });
        if (state.state === "done" || state.state === "failed") return state;
        await new Promise((done) => setTimeout(done, 100));
    }
}

test("the description is valid", async () => {
    const result = await new Validator().validate(structuredClone(api));
    assert.equal(result.valid, true, JSON.stringify(result.errors));
    assert.deepEqual(await ask("GET", "/api/openapi.json"), api, "the program gives the same");
});

const SEEN = { drive: { along: "toe", up: "flank" }, coast: { along: "centre", up: "flank" } };
const CHANGE = { ...SEEN, remedy: "change", deeper_mm: -0.1524, more_backlash_mm: 0.0762 };

async function lessonOperations() {
    const all = await ask("GET", "/api/training");
    for (const { name } of all.lessons) await ask("GET", "/api/training/lessons/{name}", { name });
    await ask("GET", "/api/training/lessons/{name}", { name: "none" }, { wanted: 404 });
    await ask("POST", "/api/training/lessons/{name}/photos/{number}", { name: "depth", number: 0 }, { wanted: 202 });
    const set = `?set=${encodeURIComponent(all.sets.at(-1).id)}`;
    for (const path of ["/api/training/live", "/api/training/chart", "/api/training/chart.svg"])
        await ask("GET", path, {}, { query: set });
    await ask("GET", "/api/training/live", {}, { query: "?job=van-17" });
    await ask("GET", "/api/training/figures");
    await ask("GET", "/api/training/live", {}, { query: "?set=none", wanted: 400 });
}

async function questionOperations() {
    const seed = "?seed=5&level=2&set=";
    await ask("GET", "/api/training/questions/{number}", { number: 1 }, { query: seed });
    assert.equal(
        (await ask("GET", "/api/training/questions/{number}", { number: 1 }, { query: `${seed}&photos=1` })).sketches,
        null,
    );
    await ask("GET", "/api/training/questions/{number}", { number: 0 }, { query: seed, wanted: 400 });
    const { task } = await ask(
        "POST",
        "/api/training/questions/{number}/photos",
        { number: 1 },
        { query: seed, wanted: 202 },
    );
    const painted = await finished(task);
    assert.equal(painted.result.pictures.length, 2, painted.error);
    await ask("GET", "/api/training/pictures/{key}", { key: painted.result.pictures[0] });
    await ask("GET", "/api/training/pictures/{key}", { key: "none" }, { wanted: 404 });
}

async function answerOperations() {
    const { trials } = await ask("GET", "/api/training/trials");
    assert.ok(trials.length >= 2);
    await ask("GET", "/api/training/trials/{job}/{trial}", trials[0]);
    await ask("GET", "/api/training/trials/{job}/{trial}", { job: "van-17", trial: "t99" }, { wanted: 404 });
    assert.equal(
        (
            await ask(
                "POST",
                "/api/training/answers",
                {},
                { body: { seed: 5, level: 2, number: 1, name: "Ann", ...CHANGE } },
            )
        ).points,
        10,
    );
    await ask(
        "POST",
        "/api/training/answers",
        {},
        { body: { seed: 5, level: 2, number: 1, ...SEEN, remedy: "accept" } },
    );
    await ask(
        "POST",
        "/api/training/answers",
        {},
        { body: { job: trials[0].job, trial: trials[0].trial, name: "Ann", ...CHANGE } },
    );
    await ask("POST", "/api/training/answers", {}, { body: { remedy: "accept" }, wanted: 400 });
    await ask("GET", "/api/training/sheets");
    const [sheet] = (await ask("GET", "/api/training/sheets", {}, { query: "?name=Ann" })).sheets;
    assert.equal(sheet.answers.length, 2);
    assert.match(await ask("GET", "/api/training/sheets.csv"), /\nAnn,/);
}

async function gameOperations() {
    await ask("POST", "/api/training/game", {}, { body: { seed: 5 } });
    const game = await ask(
        "POST",
        "/api/training/game",
        {},
        { body: { seed: 5, level: 2, moves: [{ deeper_mm: -0.1524, more_backlash_mm: 0.0762 }], verdict: "accept" } },
    );
    assert.ok(game.end.good);
}

async function examOperations() {
    assert.equal((await ask("GET", "/api/training", {}, { of: exam })).exam.questions, 1);
    await ask("GET", "/api/training/questions/{number}", { number: 1 }, { query: "?exam=1", of: exam });
    assert.equal((await ask("GET", "/api/training/exam", {}, { query: "?name=Bo", of: exam })).results, null);
    assert.equal(
        (
            await ask(
                "POST",
                "/api/training/answers",
                {},
                { body: { exam: true, number: 1, name: "Bo", ...SEEN, remedy: "accept" }, of: exam },
            )
        ).graded,
        false,
    );
    assert.equal((await ask("GET", "/api/training/exam", {}, { query: "?name=Bo", of: exam })).results.length, 1);
    await ask("GET", "/api/training/sheets", {}, { of: exam, wanted: 400 });
    await ask("GET", "/api/training/exam", {}, { query: "?name=Bo", wanted: 404 });
}

async function trainingOperations() {
    await lessonOperations();
    await questionOperations();
    await answerOperations();
    await gameOperations();
    await examOperations();
}

test("every operation answers as it is described", async () => {
    await ask("GET", "/api/about");
    const sets = (await ask("GET", "/api/gear-sets")).gear_sets;
    const set = sets.find((one) => one.id.includes("lab-van-rear-axle-b"));
    const { job } = await ask("POST", "/api/jobs", {}, { body: { axle: "Van 3", by: "Kim", gear_set: set.id } });
    await ask(
        "POST",
        "/api/jobs",
        {},
        {
            body: {
                axle: "Van 4",
                new_gear_set: {
                    name: "a set",
                    pinion_teeth: 11,
                    ring_teeth: 43,
                    ring_gear_diameter_mm: 222,
                    offset_mm: 36,
                },
            },
        },
    );
    await ask("POST", "/api/jobs", {}, { body: { axle: "Van 5", gear_set: "none" }, wanted: 400 });
    const photo = readFileSync(sample("van-b-good/drive.jpg"));
    const upload = newId();
    const half = 100_000;
    await ask(
        "PUT",
        "/api/uploads/{id}",
        { id: upload },
        { raw: photo.subarray(0, half), query: `?offset=0&size=${photo.length}` },
    );
    await ask("GET", "/api/uploads/{id}", { id: upload });
    assert.ok(
        (
            await ask(
                "PUT",
                "/api/uploads/{id}",
                { id: upload },
                { raw: photo.subarray(half), query: `?offset=${half}&size=${photo.length}` },
            )
        ).whole,
    );
    await ask("PUT", "/api/uploads/{id}", { id: newId() }, { raw: "no photo", query: "?offset=0&size=8", wanted: 415 });
    await ask("DELETE", "/api/uploads/{id}", { id: newId() });
    const look = await ask(
        "POST",
        "/api/uploads/{id}/look",
        { id: upload },
        { body: { job, side: "drive" }, wanted: 202 },
    );
    const seen = await finished(look.task);
    const isLook = ajv.compile({ $ref: "api#/components/schemas/Look" });
    assert.ok(isLook(seen.result), ajv.errorsText(isLook.errors));
    assert.equal(seen.result.verdict, "good");
    const { task } = await ask(
        "POST",
        "/api/jobs/{job}/trials",
        { job },
        { body: { by: "Kim", photos: [{ upload, side: "drive" }], backlash_mm: 0.1778 }, wanted: 202 },
    );
    assert.equal((await finished(task)).state, "done");
    const { job: used } = await ask(
        "POST",
        "/api/jobs",
        {},
        { body: { axle: "Van 6", gear_set: set.id, build: "used-gears" } },
    );
    const before = await ask(
        "POST",
        "/api/jobs/{job}/before",
        { job: used },
        { body: { by: "Kim", backlash_mm: 0.3 }, wanted: 202 },
    );
    assert.equal((await finished(before.task)).result.before, "u1");
    await ask("POST", "/api/jobs/{job}/before", { job }, { body: { backlash_mm: 0.3 }, wanted: 400 });
    const bodies = {
        depth: { old_mark_mm: 0.0508, new_mark_mm: -0.0254, shim_stack_mm: 0.762 },
        preload: { torque_nm: 1.7 },
        backlash: { points: [0, 90, 180, 270].map((position_deg) => ({ position_deg, backlash_mm: 0.18 })) },
        runout: { runout_mm: 0.02 },
        carrier: { left_shims_mm: 2.286, spread_mm: 0.2 },
        checked: { kind: "sides" },
        work: { shim_change_mm: 0, backlash_mm: 0.18 },
        check: { key: "pinion-nut", torque_nm: 240 },
        "own-check": { list: "torque", text: "Brake lines" },
        remark: { text: "dusty" },
        "strike-out": { entry: "r1", why: "dial slipped" },
        restore: { entry: "r1", by: "Kim" },
        "sign-off": { by: "Kim", note: "test" },
        reopen: { why: "more" },
    };
    for (const [kind, body] of Object.entries(bodies))
        await ask("POST", `/api/jobs/{job}/entries/${kind}`, { job }, { body });
    const view = await ask("GET", "/api/jobs/{job}", { job });
    assert.equal(view.record.trials.length, 1);
    await ask("GET", "/api/jobs/{job}", { job: "no-such-job" }, { wanted: 404 });
    await ask("GET", "/api/jobs");
    const page = await ask("GET", "/api/jobs", {}, { query: "?search=van&state=open&limit=1&skip=1" });
    assert.equal(page.jobs.length, 1);
    const corrected = await ask(
        "POST",
        "/api/jobs/{job}/correct",
        { job },
        { body: { by: "Kim", axle: "Van 3, rear", same_as: used }, wanted: 202 },
    );
    assert.equal((await finished(corrected.task)).state, "done");
    const typed = { name: "ours", pinion_teeth: 11, ring_teeth: 43, ring_gear_diameter_mm: 222, offset_mm: 36 };
    const own = await ask("POST", "/api/gear-sets", {}, { body: { new_gear_set: typed } });
    await ask("POST", "/api/gear-sets", {}, { body: { ...own, new_gear_set: { ...typed, pinion: "below" } } });
    await ask("POST", "/api/gear-sets", {}, { body: { ...own, deleted: true } });
    await ask("POST", "/api/gear-sets", {}, { body: { gear_set: set.id, deleted: true }, wanted: 400 });
    assert.equal((await ask("GET", "/api/gear-sets")).deleted.length, 1);
    const link = await ask("POST", "/api/jobs/{job}/links", { job }, { wanted: 202 });
    assert.equal((await finished(link.task)).state, "done");
    const { links } = await ask("GET", "/api/jobs/{job}/links", { job });
    await ask("DELETE", "/api/jobs/{job}/links/{ticket}", { job, ticket: links[0].ticket });
    await ask("POST", "/api/devices", {}, { body: { name: "a phone" } });
    const { devices } = await ask("GET", "/api/devices");
    await ask("DELETE", "/api/devices/{id}", { id: devices[0].id });
    bench.token = (await ask("POST", "/api/devices/code")).code;
    await ask("GET", "/api/jobs/{job}/trials/{trial}/photos/{number}", { job, trial: "t1", number: 0 });
    const document = await ask("POST", "/api/jobs/{job}/documents/{kind}", { job, kind: "sheet" }, { wanted: 202 });
    const made = await finished(document.task);
    assert.equal(made.state, "done", made.error);
    assert.equal((await bench.ask(made.result.path, { token: "" })).status, 200);
    await trainingOperations();
    const operations = Object.entries(api.paths).flatMap(([path, methods]) =>
        Object.keys(methods)
            .filter((one) => one !== "parameters")
            .map((one) => `${one.toUpperCase()} ${path}`),
    );
    assert.deepEqual(
        operations.filter((one) => !called.has(one)),
        [],
        "each operation was called",
    );
});
