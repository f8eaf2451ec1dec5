// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// Debian's Firefox, driven by the W3C's WebDriver BiDi over its own socket: playwright-core cannot drive a stock one.
import assert from "node:assert/strict";
import { spawn } from "node:child_process";
import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import WebSocket from "ws";

const PATIENCE_MS = 60_000,
    LOOK_MS = 50;

const PREFERENCES = {
    "dom.w3c_touch_events.enabled": 1,
    "browser.shell.checkDefaultBrowser": false,
    "datareporting.policy.dataSubmissionEnabled": false,
    "app.update.enabled": false,
    "network.captive-portal-service.enabled": false,
    "network.connectivity-service.enabled": false,
    "browser.newtabpage.enabled": false,
    "toolkit.telemetry.enabled": false,
};

const SCHEME = "layout.css.prefers-color-scheme.content-override";

export class Firefox {
    #next = 0;
    #waiting = new Map();
    faults = [];

    /// `scheme`: "light" or "dark", as the phone's owner has set it.
    async start(width = 375, height = 740, scheme = "light") {
        this.profile = mkdtempSync(join(tmpdir(), "shimsight-firefox-"));
        const chosen = { ...PREFERENCES, [SCHEME]: scheme === "dark" ? 0 : 1 };
        const lines = Object.entries(chosen).map(([key, value]) => `user_pref("${key}", ${JSON.stringify(value)});`);
        writeFileSync(join(this.profile, "user.js"), lines.join("\n"));
        this.process = spawn(
            "firefox-esr",
            ["--headless", "--no-remote", "--profile", this.profile, "--remote-debugging-port", "0", "about:blank"],
            { env: { ...process.env, HOME: this.profile, MOZ_HEADLESS: "1" } },
        );
        let told = "";
        const address = await new Promise((done, failed) => {
            this.process.stderr.on("data", (data) => {
                told += data;
                const match = /WebDriver BiDi listening on (ws:\S+)/.exec(told);
                if (match) done(match[1]);
            });
            this.process.on("error", failed);
            this.process.on("exit", (code) => failed(new Error(`Firefox ended with ${code}: ${told}`)));
        });
        this.socket = new WebSocket(`${address}/session`);
        await new Promise((done, failed) => this.socket.once("open", done).once("error", failed));
        this.socket.on("message", (text) => this.#take(JSON.parse(text)));
        await this.#ask("session.new", { capabilities: {} });
        await this.#ask("session.subscribe", { events: ["log.entryAdded"] });
        const { contexts } = await this.#ask("browsingContext.getTree", {});
        this.context = contexts[0].context;
        await this.#ask("browsingContext.setViewport", { context: this.context, viewport: { width, height } });
        return this;
    }
    #take(message) {
        if (message.type === "event") {
            const { level, text, type } = message.params;
            if (type === "javascript" && level === "error") this.faults.push(text);
            return;
        }
        const { done, failed } = this.#waiting.get(message.id) ?? {};
        this.#waiting.delete(message.id);
        if (message.type === "error") failed?.(new Error(`${message.error}: ${message.message}`));
        else done?.(message.result);
    }
    #ask(method, params) {
        const id = ++this.#next;
        return new Promise((done, failed) => {
            this.#waiting.set(id, { done, failed });
            this.socket.send(JSON.stringify({ id, method, params }));
        });
    }

    go(url) {
        return this.#ask("browsingContext.navigate", { context: this.context, url, wait: "complete" });
    }
    /// What an expression gives, awaited; an element as its handle.
    async evaluate(expression) {
        const { type, result, exceptionDetails } = await this.#ask("script.evaluate", {
            expression,
            target: { context: this.context },
            awaitPromise: true,
        });
        if (type === "exception") throw new Error(`${expression}: ${exceptionDetails.text}`);
        return result.type === "node" ? result : result.value;
    }
    /// Waits until the expression is something.
    until(expression) {
        return this.#patient(() => this.evaluate(expression), expression);
    }
    async #patient(look, what) {
        const end = Date.now() + PATIENCE_MS;
        for (;;) {
            const found = await look().catch(() => undefined);
            if (found) return found;
            if (Date.now() > end) assert.fail(`never true: ${what}\n${await this.evaluate("document.body.innerText")}`);
            await new Promise((done) => setTimeout(done, LOOK_MS));
        }
    }
    heading(words) {
        return this.until(`document.querySelector("main h1")?.textContent.includes(${JSON.stringify(words)})`);
    }
    /// Where the middle of an element stands, once it has stood still and lies under a finger there: pictures that are
    /// still coming move what is below them.
    async #settled(element) {
        let former = null;
        const place = async () => {
            const now = await this.evaluate(`(() => {
                const one = ${element};
                one.scrollIntoView({ block: "center", behavior: "instant" });
                const box = one.getBoundingClientRect();
                const [x, y] = [Math.round(box.x + box.width / 2), Math.round(box.y + box.height / 2)];
                const hit = document.elementFromPoint(x, y);
                const loaded = [...document.images].every((image) => image.complete || image.loading === "lazy");
                return loaded && hit && (one.contains(hit) || hit.contains(one)) ? JSON.stringify([x, y]) : null;
            })()`);
            const still = now !== null && now === former;
            former = now;
            return still ? JSON.parse(now) : null;
        };
        return this.#patient(place, element);
    }
    /// A finger on the middle of what the expression finds, moved by `way` pixels before it lifts.
    async touch(element, way = null) {
        await this.until(element);
        const [x, y] = await this.#settled(element);
        const moves = way
            ? [0.5, 1].map((share) => ({
                  type: "pointerMove",
                  x: Math.round(x + share * way[0]),
                  y: Math.round(y + share * way[1]),
                  duration: 40,
              }))
            : [];
        await this.#ask("input.performActions", {
            context: this.context,
            actions: [
                {
                    type: "pointer",
                    id: "finger",
                    parameters: { pointerType: "touch" },
                    actions: [
                        { type: "pointerMove", x, y },
                        { type: "pointerDown", button: 0 },
                        { type: "pause", duration: 60 },
                        ...moves,
                        { type: "pointerUp", button: 0 },
                    ],
                },
            ],
        });
    }
    /// What a finger types into a field.
    async type(element, text) {
        await this.touch(element);
        await this.until(`document.activeElement === ${element}`);
        const keys = [...text].flatMap((value) => [
            { type: "keyDown", value },
            { type: "keyUp", value },
        ]);
        await this.#ask("input.performActions", {
            context: this.context,
            actions: [{ type: "key", id: "keys", actions: keys }],
        });
    }
    async setFile(element, file) {
        const { sharedId } = await this.until(element);
        await this.#ask("input.setFiles", { context: this.context, element: { sharedId }, files: [file] });
    }
    async picture() {
        const { data } = await this.#ask("browsingContext.captureScreenshot", { context: this.context });
        return Buffer.from(data, "base64");
    }
    async close() {
        const ended = new Promise((done) => this.process.once("exit", done));
        this.process.removeAllListeners("exit");
        this.process.once("exit", () => {});
        try {
            await this.#ask("browser.close", {});
        } catch {
            this.process.kill();
        }
        await Promise.race([ended, new Promise((done) => setTimeout(done, 5000))]);
        if (this.process.exitCode === null) this.process.kill("SIGKILL");
        rmSync(this.profile, { recursive: true, force: true, maxRetries: 5 });
    }
}
