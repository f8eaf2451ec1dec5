// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// What a hand does with a phone's browser, whichever it is.
import assert from "node:assert/strict";

const PATIENCE_MS = 60_000,
    LOOK_MS = 50,
    /// After which a tap that made no click is done again, and how often.
    TAP_MS = 3000,
    MAX_TAPS = 5;

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
    /// A finger on the middle of what the expression finds, moved by `way` pixels before it lifts; or else a tap, done
    /// again as a hand would while no click came of it: on a busy machine it may last as long as a long press.
    async touch(element, way = null) {
        await this.until(`Boolean(${element})`);
        if (way) {
            const [x, y] = await this.#settled(element);
            const moves = [0.5, 1].map((share) => [x + share * way[0], y + share * way[1]].map(Math.round));
            return this.finger([x, y], moves);
        }
        for (let taps = 0; taps < MAX_TAPS; ++taps) {
            const place = await this.#settled(element);
            await this.evaluate(`(() => {
                window.waitsForClick = true;
                const one = ${element};
                const heard = ({ target }) => {
                    if (one.contains(target) || target.contains(one)) window.waitsForClick = false;
                };
                addEventListener("click", heard, { capture: true });
            })()`);
            await this.finger(place, []);
            if (await this.#clicked()) return;
        }
        assert.fail(`no click after ${MAX_TAPS} taps: ${element}`);
    }
    /// Whether the tap made a click on what it was meant for (one of an earlier tap may come late); a page that went with it
    /// has had one.
    async #clicked() {
        for (const end = Date.now() + TAP_MS; Date.now() < end; ) {
            const waits = await this.evaluate("window.waitsForClick === true").catch(() => false);
            if (!waits) return true;
            await new Promise((done) => setTimeout(done, LOOK_MS));
        }
        return false;
    }
    /// What a finger types into a field.
    async type(element, text) {
        await this.touch(element);
        await this.until(`document.activeElement === ${element}`);
        await this.keys(text);
    }
}
