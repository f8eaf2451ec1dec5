// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// The server and the browser of a test file, from its first test to its last: whoever imports this has both.
import assert from "node:assert/strict";
import { after } from "node:test";
import { Bench, launch } from "./bench.mjs";

// No hook: a file's own hooks would not wait for it in every version of Node.
export const bench = await new Bench().start();
export const browser = await launch().catch(async (problem) => {
    await bench.close();
    throw problem;
});
after(async () => {
    await browser.close();
    await bench.close();
});

/// Closes a page, on which no script may have failed.
export async function finish(page) {
    assert.deepEqual(page.faults, []);
    await page.context().close();
}
