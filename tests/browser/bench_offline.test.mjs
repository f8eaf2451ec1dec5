// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// The page stays on the phone: it can be put on the home screen, opens without a connection and shows the last answers.
// On this computer itself, and encrypted by the certificate that the server makes for itself.
import assert from "node:assert/strict";
import { X509Certificate, createHash } from "node:crypto";
import { readFileSync } from "node:fs";
import { join } from "node:path";
import { test } from "node:test";
import { Bench, PHONE, checkPage, drawTrial, launch, makeJob, openPage } from "./bench.mjs";

const WITH_WORKER = { ...PHONE, serviceWorkers: "allow" };

/// A job with an answer, seen once; then the shop computer is gone, and the page is opened anew.
async function staysOnThePhone(bench, browser, job, shownAs) {
    const page = await openPage(browser, bench, WITH_WORKER);
    await page.goto(bench.address);
    await page.getByRole("link", { name: "New job" }).waitFor();
    assert.equal(await page.evaluate(() => window.isSecureContext), true);
    const manifest = await page.evaluate(async () => {
        const link = document.querySelector("link[rel=manifest]");
        return (await fetch(link.href)).json();
    });
    assert.equal(manifest.display, "standalone");
    for (const icon of manifest.icons)
        assert.ok(await page.evaluate((src) => fetch(src).then((one) => one.ok), icon.src));
    await page.evaluate(() => navigator.serviceWorker.ready);
    await page.goto(`${bench.origin}/#/job/${job}/trial/t1`);
    await page.locator(".answer h1").waitFor();
    const told = await page.locator(".answer").innerText();
    // What the page has loaded is kept, one file after the other.
    await page.waitForFunction(async () => {
        const files = performance.getEntriesByType("resource").filter((one) => /\.(js|css)$/.test(one.name));
        for (const one of files) if (!(await caches.match(one.name))) return false;
        return files.length > 10;
    });
    await bench.stop("SIGKILL");
    await page.reload();
    await page.locator(".answer h1").waitFor({ timeout: 60000 });
    assert.equal(await page.locator(".answer").innerText(), told);
    await page.getByText("this page is as it was").first().waitFor();
    await checkPage(page, shownAs, { schemes: ["light"] });
    // Nothing of a job lies with the page's files.
    const kept = await page.evaluate(async () => {
        const names = [];
        for (const name of await caches.keys())
            for (const request of await (await caches.open(name)).keys()) names.push(new URL(request.url).pathname);
        return names;
    });
    assert.ok(kept.length > 10);
    assert.deepEqual(
        kept.filter((path) => /^\/(api|documents)\//.test(path)),
        [],
    );
    await page.context().close();
}

async function benchWithAnswer(more) {
    const bench = await new Bench(more).start();
    bench.process.removeAllListeners("exit");
    const job = await makeJob(bench, "Van 12");
    await drawTrial(bench, job);
    return { bench, job };
}

test("on this computer itself the page opens without the server", async () => {
    const { bench, job } = await benchWithAnswer();
    const browser = await launch();
    try {
        await staysOnThePhone(bench, browser, job, "70-offline");
    } finally {
        await browser.close();
        await bench.close();
    }
});

test("encrypted by its own certificate the page opens without the server, too", async () => {
    const { bench, job } = await benchWithAnswer();
    await bench.stop();
    bench.more = ["--tls"];
    await bench.start();
    bench.process.removeAllListeners("exit");
    const own = new X509Certificate(readFileSync(join(bench.folder, "jobs/.shimsight-server/certificate.pem")));
    const digits = own.fingerprint256.replaceAll(":", "").toLowerCase();
    assert.ok(bench.address.startsWith("https://") && bench.address.endsWith(`-${digits}`));
    // The browser takes this very key for good, as a phone does on which the certificate was put.
    const key = createHash("sha256")
        .update(own.publicKey.export({ type: "spki", format: "der" }))
        .digest("base64");
    const browser = await launch([`--ignore-certificate-errors-spki-list=${key}`]);
    try {
        const page = await openPage(browser, bench, WITH_WORKER);
        await page.goto(bench.address);
        await page.getByRole("link", { name: "New job" }).waitFor();
        await page.getByRole("link", { name: "Paired phones" }).click();
        await page.getByText(own.fingerprint256).waitFor();
        await checkPage(page, "71-certificate");
        await page.context().close();
        await staysOnThePhone(bench, browser, job, "72-offline-encrypted");
    } finally {
        await browser.close();
        await bench.close();
    }
});
