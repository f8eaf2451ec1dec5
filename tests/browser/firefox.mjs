// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// Debian's Firefox, driven by the W3C's WebDriver BiDi over its own socket: playwright-core cannot drive a stock one.
import { spawn } from "node:child_process";
import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import WebSocket from "ws";
import { Phone } from "./phone.mjs";

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

export class Firefox extends Phone {
    #next = 0;
    #waiting = new Map();

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
    async finger(from, moves) {
        const [x, y] = from;
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
                        ...moves.map(([toX, toY]) => ({ type: "pointerMove", x: toX, y: toY, duration: 40 })),
                        { type: "pointerUp", button: 0 },
                    ],
                },
            ],
        });
    }
    async keys(text) {
        const actions = [...text].flatMap((value) => [
            { type: "keyDown", value },
            { type: "keyUp", value },
        ]);
        await this.#ask("input.performActions", {
            context: this.context,
            actions: [{ type: "key", id: "keys", actions }],
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
