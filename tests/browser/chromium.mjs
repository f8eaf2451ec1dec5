// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// A phone with Debian's Chromium, in the same hand as `firefox.mjs`.
import { launch, openPage } from "./bench.mjs";
import { Phone } from "./phone.mjs";

export class Chromium extends Phone {
    async start(width, height, scheme, bench) {
        this.browser = await launch();
        const viewport = { width, height };
        const kind = { viewport, hasTouch: true, isMobile: true, deviceScaleFactor: 2, colorScheme: scheme };
        this.page = await openPage(this.browser, bench, kind);
        this.faults = this.page.faults;
        this.session = await this.page.context().newCDPSession(this.page);
        return this;
    }
    go(url) {
        return this.page.goto(url);
    }
    evaluate(expression) {
        return this.page.evaluate(expression);
    }
    async finger([x, y], moves) {
        const send = (type, touchPoints) => this.session.send("Input.dispatchTouchEvent", { type, touchPoints });
        await send("touchStart", [{ x, y }]);
        for (const [toX, toY] of moves) await send("touchMove", [{ x: toX, y: toY }]);
        await send("touchEnd", []);
    }
    /// As a phone's keyboard does: it gives text, not keys.
    async keys(text) {
        for (const one of text) await this.page.keyboard.insertText(one);
    }
    async setFile(element, file) {
        await this.until(`Boolean(${element})`);
        const handle = await this.page.evaluateHandle(element);
        await handle.asElement().setInputFiles(file);
    }
    picture() {
        return this.page.screenshot({ fullPage: true });
    }
    close() {
        return this.browser.close();
    }
}
