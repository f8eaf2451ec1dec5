// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// What a hand does with a phone's browser, whichever it is.
import assert from "node:assert/strict";

const PATIENCE_MS = 60_000,
    LOOK_MS = 50;

/// A browser says how it is asked: `evaluate(expression)`, `finger(from, moves)` and `keys(text)`; places in pixels of the
/// screen, from its top left. Elements are told by expressions.
export class Phone {
    faults = [];

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
        await this.until(`Boolean(${element})`);
        const [x, y] = await this.#settled(element);
        const moves = way ? [0.5, 1].map((share) => [x + share * way[0], y + share * way[1]].map(Math.round)) : [];
        await this.finger([x, y], moves);
    }
    /// What a finger types into a field.
    async type(element, text) {
        await this.touch(element);
        await this.until(`document.activeElement === ${element}`);
        await this.keys(text);
    }
}
