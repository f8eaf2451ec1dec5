// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// How fast the live tooth of the served page is at phone size: node live_speed.mjs [throttle, else 4]
// The processor is slowed down as Chromium's developer tools do it, which slows the page's own thread. Without a graphics
// card, three dimensions make Chromium put the whole page together by software GL (SwiftShader), marks or none: so the
// marks are timed without it, and the gear pair with it, which says little of a phone, which has a graphics chip.
import { Bench, PHONE, SOFTWARE_GL, launch, openPage } from "./bench.mjs";

const throttle = Number(process.argv[2] ?? 4),
    FRAMES = 150,
    FRAMES_IN_SOFTWARE = 20,
    TRIES = 5;
const bench = await new Bench().start();
const at = (list, share) => [...list].sort((a, b) => a - b)[Math.floor(share * (list.length - 1))];

async function paired(browser) {
    const page = await openPage(browser, bench, PHONE);
    await page.goto(bench.address);
    await page.getByRole("link", { name: "New job" }).waitFor();
    return page;
}

/// Milliseconds from the address to the first sentence, which is written with the first marks; and to a page of one line.
async function firstFigure(page) {
    const times = { live: [], empty: [] };
    for (let k = 0; k < TRIES; ++k) {
        await page.goto(`${bench.origin}/documents/none`);
        times.empty.push(
            await page.evaluate(() => performance.timing.loadEventEnd - performance.timing.navigationStart),
        );
        await page.goto(`${bench.origin}/#/training/live`);
        times.live.push(
            await page.evaluate(
                () =>
                    new Promise((done) => {
                        const look = () =>
                            document.querySelector("#sentence")?.textContent
                                ? requestAnimationFrame(() => done(performance.now()))
                                : setTimeout(look, 5);
                        look();
                    }),
            ),
        );
        await page.goto("about:blank");
    }
    return times;
}

/// A slider moves in every frame: what the script took for each, and the time between them.
async function moving(page, gears) {
    return page.evaluate(
        async ({ gears, frames }) => {
            // Only what is in sight is drawn.
            document.querySelector(".gears").hidden = !gears;
            document.querySelector(gears ? "#view" : "h1").scrollIntoView({ block: "center" });
            await new Promise((done) => setTimeout(done, 1500));
            const depth = document.querySelector("#depth"),
                script = [],
                between = [];
            const plain = window.requestAnimationFrame.bind(window);
            window.requestAnimationFrame = (draw) =>
                plain((time) => {
                    const begin = performance.now();
                    draw(time);
                    script.push(performance.now() - begin);
                });
            let last = 0;
            await new Promise((done) => {
                let k = 0;
                const step = (time) => {
                    if (last) between.push(time - last);
                    last = time;
                    depth.value = -0.25 + 0.0127 * (k % 40);
                    depth.dispatchEvent(new Event("input"));
                    if (++k < frames) plain(step);
                    else done();
                };
                plain(step);
            });
            window.requestAnimationFrame = plain;
            return { script, between };
        },
        { gears, frames: gears ? FRAMES_IN_SOFTWARE : FRAMES },
    );
}

for (const gears of [false, true]) {
    const browser = await launch(gears ? SOFTWARE_GL : []);
    const page = await paired(browser);
    if (!gears) {
        const first = await firstFigure(page);
        console.log(
            `first marks ${at(first.live, 0.5).toFixed(0)} ms after the address (best ${at(first.live, 0).toFixed(0)}), a page of one line ${at(first.empty, 0.5).toFixed(0)} ms; ${TRIES} tries, not slowed down`,
        );
    }
    await page.goto(`${bench.origin}/#/training/live`);
    await page.locator("#sentence").filter({ hasText: "leave it" }).waitFor();
    if (gears) await page.locator("#view canvas").waitFor({ timeout: 60000 });
    const session = await page.context().newCDPSession(page);
    for (const rate of [1, throttle]) {
        await session.send("Emulation.setCPUThrottlingRate", { rate });
        const { script, between } = await moving(page, gears);
        console.log(
            `processor ${rate === 1 ? "as it is" : `slowed down ${rate} times`}, ${gears ? "marks and gear pair by software GL" : "marks"}: script ${at(script, 0.5).toFixed(1)} ms a frame (19 of 20 under ${at(script, 0.95).toFixed(1)} ms), ${((1000 * between.length) / between.reduce((a, b) => a + b, 0)).toFixed(0)} frames a second`,
        );
    }
    await browser.close();
}
await bench.close();
