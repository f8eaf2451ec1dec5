// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// What the browser tests share: a server of their own, phones, and the checks that every page must pass.
import { chromium } from "playwright-core";
import assert from "node:assert/strict";
import { spawn } from "node:child_process";
import { mkdirSync, mkdtempSync, readFileSync, rmSync } from "node:fs";
import { createRequire } from "node:module";
import { createServer } from "node:net";
import { tmpdir } from "node:os";
import { dirname, join } from "node:path";
import { fileURLToPath } from "node:url";

const here = dirname(fileURLToPath(import.meta.url));
export const root = join(here, "..", "..");
const program = process.env.SHIMSIGHT ?? join(root, "build/release/shimsight");
const axeSource = readFileSync(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");
const shots = process.env.SHIMSIGHT_SHOTS;

export const PHONE = { viewport: { width: 375, height: 812 }, hasTouch: true, isMobile: true, deviceScaleFactor: 2 };
export const DESKTOP = { viewport: { width: 1280, height: 900 } };
export const sample = (name) => join(root, "samples", name);

/// A port for a server that ends and comes back: none of those that the system gives to whoever asks for any, so that
/// nobody has it meanwhile, not even a client that tries to reach the server while it is away.
export async function lastingPort() {
    const [firstGiven] = readFileSync("/proc/sys/net/ipv4/ip_local_port_range", "utf8").split(/\s+/).map(Number);
    for (;;) {
        const port = 10000 + Math.floor(Math.random() * (firstGiven - 10000));
        const free = await new Promise((done) => {
            const one = createServer()
                .once("error", () => done(false))
                .listen(port, "127.0.0.1", () => one.close(() => done(true)));
        });
        if (free) return port;
    }
}

/// `shimsight serve` on a free port with an empty folder of jobs; `more` options besides, and `env` of its environment.
export class Bench {
    constructor(more = [], folder = mkdtempSync(join(tmpdir(), "shimsight-page-")), port = 0) {
        this.port = port;
        this.more = more;
        this.folder = folder;
    }
    async start() {
        this.process = spawn(
            program,
            [
                "serve",
                "--port",
                String(this.port),
                "--jobs",
                join(this.folder, "jobs"),
                "--gear-sets",
                join(root, "models/gear-sets"),
                ...this.more,
            ],
            { env: { ...process.env, ...this.env } },
        );
        let text = "";
        this.address = await new Promise((done, failed) => {
            this.process.stdout.on("data", (data) => {
                text += data;
                const match = /https?:\/\/\S+#[0-9a-f]{32}\S*/.exec(text);
                if (match) done(match[0]);
            });
            this.process.stderr.on("data", (data) => {
                this.errors = (this.errors ?? "") + data;
            });
            this.process.on("error", failed);
            this.process.on("exit", (code) => failed(new Error(`the server ended with ${code}: ${this.errors}`)));
        });
        const url = new URL(this.address);
        this.origin = url.origin;
        this.token = url.hash.slice(1, 33);
        return this;
    }
    /// Ends as Ctrl-C does; the exit status.
    async stop(signal = "SIGINT") {
        const ended = new Promise((done) => this.process.once("exit", (code, signal) => done(code ?? signal)));
        this.process.kill(signal);
        return ended;
    }
    async close() {
        if (this.process.exitCode === null && this.process.signalCode === null) await this.stop();
        rmSync(this.folder, { recursive: true, force: true });
    }
    /// Past the page, as a program would ask.
    ask(path, { token = this.token, headers = {}, ...rest } = {}) {
        return fetch(this.origin + path, { ...rest, headers: { "X-Shimsight-Token": token, ...headers } });
    }
    async json(path) {
        return (await this.ask(path)).json();
    }
}

const BROWSER = ["--no-sandbox", "--disable-dev-shm-usage"];
export const launch = (more = []) =>
    chromium.launch({ executablePath: "/usr/bin/chromium", args: [...BROWSER, ...more] });
/// Pictures in three dimensions drawn by the processor: a test machine has no graphics card.
export const SOFTWARE_GL = ["--use-angle=swiftshader", "--enable-unsafe-swiftshader"];

/// While one works on the page: its files as they are in a folder, words included, without building the program anew.
async function fromFolder(context, bench, folder) {
    const entriesOf = (topic) =>
        [
            ...readFileSync(join(root, `src/words/english/${topic}.txt`), "utf8").matchAll(
                /^([a-z][a-z0-9-]*) = (.*)$/gm,
            ),
        ].map(([, id, text]) => [
            `${topic}.${id}`,
            text.startsWith('"') && text.endsWith('"') ? text.slice(1, -1) : text,
        ]);
    const table = Object.fromEntries([...entriesOf("page"), ...entriesOf("common")]);
    await context.route(`${bench.origin}/*.*`, async (route) => {
        const name = new URL(route.request().url()).pathname.slice(1);
        if (name === "words.js") {
            const former = await (await route.fetch()).text();
            const body = former.replace(/^const TABLE = .*$/m, `const TABLE = ${JSON.stringify(table)};`);
            return route.fulfill({ body, contentType: "text/javascript" });
        }
        try {
            return await route.fulfill({ path: join(folder, name) });
        } catch {
            return route.continue();
        }
    });
    await context.route(`${bench.origin}/`, (route) => route.fulfill({ path: join(folder, "index.html") }));
}

/// A page that counts what must never happen: script faults, policy violations, requests to anyone else.
export async function openPage(browser, bench, kind) {
    // What is asked through a service worker cannot be watched; bench_offline looks at it.
    const context = await browser.newContext({ serviceWorkers: "block", ...kind });
    if (process.env.SHIMSIGHT_PAGE) await fromFolder(context, bench, process.env.SHIMSIGHT_PAGE);
    const page = await context.newPage();
    page.faults = [];
    page.on("pageerror", (error) => page.faults.push(`script: ${error.message}`));
    page.on("console", (message) => {
        if (/Content Security Policy|Refused to/.test(message.text())) page.faults.push(message.text());
    });
    page.on("request", (request) => {
        if (!request.url().startsWith(bench.origin) && !request.url().startsWith("blob:"))
            page.faults.push(`asked ${request.url()}`);
    });
    page.on("dialog", (dialog) => {
        page.faults.push("a dialog opened");
        dialog.dismiss();
    });
    return page;
}

/// What axe-core finds, a line each; `evaluate` gives what an expression in the page gives, awaited.
export async function axeFaults(evaluate) {
    if ((await evaluate("typeof axe")) === "undefined") await evaluate(axeSource);
    const found = await evaluate(
        `axe.run(document, { resultTypes: ["violations"] }).then(({ violations }) => JSON.stringify(violations))`,
    );
    return JSON.parse(found).map(
        (one) =>
            `${one.id}: ${one.help}: ${one.nodes.map((node) => `${node.html.slice(0, 160)} ${node.failureSummary ?? ""}`).join(" | ")}`,
    );
}

/// axe-core finds nothing, nothing is wider than the screen, large targets; a picture of it where pictures are wanted.
export async function checkPage(page, name, { schemes = ["light", "dark"], narrow = true } = {}) {
    assert.deepEqual(page.faults, [], name);
    for (const colorScheme of schemes) {
        await page.emulateMedia({ colorScheme });
        assert.deepEqual(await axeFaults((script) => page.evaluate(script)), [], `${name}, ${colorScheme}`);
    }
    await page.emulateMedia({ colorScheme: "light" });
    const size = page.viewportSize();
    for (const width of narrow ? [320, size.width] : [size.width]) {
        await page.setViewportSize({ width, height: size.height });
        const over = await page.evaluate(
            () => document.documentElement.scrollWidth - document.documentElement.clientWidth,
        );
        assert.ok(over <= 0, `${name}: ${over} px too wide at ${width} px`);
    }
    const small = await page.evaluate(() =>
        [...document.querySelectorAll("button, .act, .choices label, input[type=text], select")]
            .filter((one) => one.offsetParent && one.getBoundingClientRect().height < 43.5)
            .map((one) => one.outerHTML.slice(0, 80)),
    );
    assert.deepEqual(small, [], `${name}: targets under 44 px`);
    await shot(page, name);
}

/// Text twice as large: what this is as the size of the root.
export const DOUBLED = "225%";

/// In the page: targets smaller than a glove needs, a line each; links within a sentence are none of them.
export function smallTargets() {
    const targets =
        "header a, header button, main a, main button, main summary, main select, main input:not([type=file]):not([type=radio]), main .choices label";
    const withinText = (one) =>
        one.closest("p, li, dd")?.textContent.trim().length > one.textContent.trim().length + 40 &&
        getComputedStyle(one).display === "inline";
    return [...document.querySelectorAll(targets)]
        .map((one) => ({ one, box: one.getBoundingClientRect() }))
        .filter(({ one, box }) => box.width && !withinText(one) && (box.height < 47.5 || box.width < 47.5))
        .map(({ one, box }) => `${one.outerHTML.slice(0, 90)} ${box.width}x${box.height}`);
}

export async function shot(page, name) {
    if (!shots) return;
    mkdirSync(shots, { recursive: true });
    await page.screenshot({ path: join(shots, `${name}.png`), fullPage: true });
    await page.screenshot({ path: join(shots, `${name}-top.png`) });
}

/// A finger from one place to another; `midway` runs before it lifts.
export async function drag(page, from, to, midway = async () => {}) {
    const session = await page.context().newCDPSession(page);
    const touch = (type, points) => session.send("Input.dispatchTouchEvent", { type, touchPoints: points });
    await touch("touchStart", [from]);
    for (const share of [0.25, 0.5, 0.75, 1])
        await touch("touchMove", [{ x: from.x + share * (to.x - from.x), y: from.y + share * (to.y - from.y) }]);
    await midway();
    await touch("touchEnd", []);
    await session.detach();
}

export const heading = (page, words) =>
    page.getByRole("heading", { level: 1 }).filter({ hasText: words }).waitFor({ timeout: 60000 });

/// Waits until `count` photos have arrived at the shop computer.
export const received = (page, count) =>
    page.waitForFunction((wanted) => document.querySelectorAll(".slot.full").length === wanted, count, {
        timeout: 60000,
    });

/// A page that is past the pairing.
export async function pairedPage(browser, bench, kind = PHONE) {
    const page = await openPage(browser, bench, kind);
    await page.goto(bench.address);
    await page.getByRole("link", { name: "New job" }).waitFor();
    return page;
}

export const newId = () =>
    [...crypto.getRandomValues(new Uint8Array(16))].map((byte) => byte.toString(16).padStart(2, "0")).join("");

/// A change past the page, as a program would send it.
export async function send(bench, path, body, wanted = 200) {
    const response = await bench.ask(path, {
        method: "POST",
        headers: { "Content-Type": "application/json", Origin: bench.origin, "X-Shimsight-Request": newId() },
        body: JSON.stringify(body),
    });
    const answer = await response.json();
    if (wanted !== null) assert.equal(response.status, wanted, `${path}: ${JSON.stringify(answer).slice(0, 300)}`);
    return answer;
}

/// A job made past the page; its name.
export const makeJob = async (bench, axle, more = {}) =>
    (await send(bench, "/api/jobs", { axle, gear_set: "1/lab-van-rear-axle-a.json", by: "Kim", ...more })).job;

/// The result of a task.
export async function resultOf(bench, task) {
    for (;;) {
        const state = await bench.json(`/api/tasks/${task}`);
        if (state.state === "done") return state.result;
        if (state.state === "failed") throw new Error(state.error);
        await new Promise((done) => setTimeout(done, 50));
    }
}

/// A trial drawn by hand past the page: an ellipse about (u, v) on both sides.
export async function drawTrial(bench, job, u = 0.45, v = 0.72) {
    const map = Buffer.alloc(256 * 128);
    for (let y = 0; y < 128; ++y)
        for (let x = 0; x < 256; ++x) {
            const a = ((x + 0.5) / 256 - u) / 0.28,
                b = (1 - (y + 0.5) / 128 - v) / 0.28;
            if (a * a + b * b < 1) map[y * 256 + x] = 255;
        }
    const drawn = { drive: map.toString("base64"), coast: map.toString("base64") };
    const body = { by: "Kim", backlash_mm: 0.2, shim_stack_mm: 1, drawn };
    const { task } = await send(bench, `/api/jobs/${job}/trials`, body, 202);
    return (await resultOf(bench, task)).trial;
}

/// What a learner says of one side in a drill: where the mark lies along and up the tooth.
export async function choose(page, side, along, up) {
    const part = page.getByRole("region", { name: side });
    for (const words of [along, up])
        await part
            .locator("label")
            .filter({ hasText: new RegExp(`^${words}$`) })
            .click();
}
