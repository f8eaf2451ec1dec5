// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// The frame of the page: which view is shown, pairing, units, and what others changed meanwhile.
import { announce, h, note, rewrite } from "./dom.js";
import { beforeUnitTurn, nameUnits, ownName, setShopName } from "./fields.js";
import * as api from "./api.js";
import * as units from "./units.js";
import { correctView, newJobView, startView } from "./view_start.js";
import { gearSetsView } from "./gear_sets.js";
import { FINGERPRINT, devicesView } from "./view_devices.js";
import { aboveBar, offer } from "./undo.js";
import { getOrKept, keptNote, orKept } from "./kept.js";
import { jobView, signOffView } from "./view_job.js";
import { doneView, newTrialView, trialView } from "./view_trial.js";
import { outlinesView } from "./view_outlines.js";
import { drawView } from "./view_draw.js";
import { measureView } from "./view_measure.js";
import { chartView, lessonView, trainingView } from "./view_training.js";
import { liveView } from "./view_live.js";
import { drillView, examView, sheetsView } from "./view_drill.js";
import { gameView } from "./view_game.js";
import { say } from "./words.js";

const POLL_MS = 4000;
const main = document.getElementById("main"),
    back = document.getElementById("back"),
    unitSwitch = document.getElementById("units");
let about = null,
    current = null,
    turn = 0,
    leave = null;

/// To another page; with `replace` the present one is not gone back to.
const go = (hash, { replace = false } = {}) => {
    if (location.hash === hash) show();
    else if (replace) location.replace(hash);
    else location.hash = hash;
};

/// What the views need of a job beside the server's answer.
function extended(view) {
    const counting = view.record.trials.filter((trial) => !trial.struck);
    return { ...view, lastTrial: counting.at(-1) ?? null, nextNumber: counting.length + 1 };
}

function trainingOf([what, ...rest]) {
    if (what === "lesson" && rest[0]) return lessonView(rest[0]);
    if (what === "live") return liveView(rest[0], go);
    if (what === "chart") return chartView(rest, go);
    if (what === "drill") return drillView(show);
    if (what === "exam") return examView(show);
    if (what === "sheets") return sheetsView(rest[0]);
    if (what === "game") return gameView(show);
    return trainingView();
}

async function viewOf(path) {
    const [place, job] = path;
    if (place === "training") return trainingOf(path.slice(1));
    if (place === "new") return newJobView(go);
    if (place === "gear-sets") return gearSetsView(job, go);
    if (place === "devices") return devicesView();
    if (place !== "job" || !job) return startView();
    const { answer, keptAt } = await orKept(`view/${job}`, (tries) => api.jobView(job, undefined, tries));
    const view = extended(answer.view);
    current = { job, tag: keptAt ? null : answer.tag };
    const shown = saidWhereSigned(path, view, jobPage(path, view));
    if (!keptAt) return shown;
    const page = await shown;
    return { ...page, live: true, body: [keptNote(keptAt), ...page.body] };
}

/// Pages that add to a job or change it: where that is signed off they say so before anything is entered.
const CHANGING = ["new-trial", "before", "draw", "done", "correct"];
async function saidWhereSigned(path, view, page) {
    const [, job, what, , more] = path;
    if (!view.signed_off || !(CHANGING.includes(what) || more === "outline" || more === "draw")) return page;
    const shown = await page;
    const way = h("a", { class: "target", href: `#/job/${job}/sign-off` }, say("page.open-job-again"));
    const told = note("warn", h("p", {}, say("page.job-signed-off-reopen"), " ", way));
    return { ...shown, body: [told, ...shown.body] };
}

/// The pages of one job.
function jobPage([, job, what, id, more, number], view) {
    if (what === "live") return liveView(null, go, job);
    if (what === "chart") return chartView([null, more], go, job);
    if (what === "new-trial") return newTrialView(job, view, go);
    if (what === "before") return newTrialView(job, view, go, true);
    if (what === "draw") return drawView(job, view, null, go);
    if (what === "done") return doneView(job, view, id, go);
    if (what === "correct") return correctView(job, view, go);
    if (what === "sign-off") return signOffView(job, view, go);
    if (what === "measure") return measureView(job, view, id, () => show({ quiet: true }));
    if (what === "trial" && more === "outline") return outlinesView(job, view, id, Number(number), go);
    if (what === "trial" && more === "draw") return drawView(job, view, id, go);
    if (what === "trial") return { ...trialView(job, view, id, go), live: true };
    return { ...jobView(job, view, about, () => show({ quiet: true })), live: true };
}

function frame(view) {
    document.title = say("page.window-title", view.title);
    back.hidden = !view.back;
    if (view.back) {
        back.href = view.back[0];
        document.getElementById("back-words").textContent = view.back[1];
    }
    leave?.();
    main.replaceChildren(
        ...view.body.flat(Infinity).filter((part) => part !== null && part !== undefined && part !== false),
    );
    leave = view.enter?.() ?? null;
    aboveBar();
}

function unitWords() {
    unitSwitch.hidden = false;
    nameUnits(unitSwitch);
}

function notPaired(sentence) {
    frame({
        title: say("page.not-paired"),
        body: [
            h("h1", {}, say("page.device-not-paired-yet")),
            note("warn", sentence),
            h("p", {}, say("page.shops-computer-run")),
            h("p", {}, h("strong", {}, say("page.command-to-pair"))),
            h("p", {}, say("page.scan-code-shows-type")),
        ],
    });
}

/// A part of the address; one that is none is taken as it stands.
function decoded(part) {
    try {
        return decodeURIComponent(part);
    } catch {
        return part;
    }
}

/// What the shop's computer can do, and what the shop wants.
async function ask() {
    about = (await getOrKept("/api/about")).answer;
    units.setShopUnits(about.units);
    setShopName(about.by);
    unitWords();
}

async function show({ quiet = false } = {}) {
    const mine = ++turn;
    current = null;
    try {
        const path = location.hash.replace(/^#\/?/, "").split("/").map(decoded);
        if (!about) await ask();
        const view = await viewOf(path);
        if (mine !== turn) return;
        const { scrollX, scrollY } = window;
        frame(view);
        if (current) current.live = view.live === true;
        if (quiet) {
            window.scrollTo(scrollX, scrollY);
            return;
        }
        window.scrollTo(0, 0);
        const title = main.querySelector("h1");
        title?.setAttribute("tabindex", "-1");
        title?.focus({ preventScroll: true });
    } catch (problem) {
        if (mine !== turn) return;
        if (problem.status === 401) notPaired(problem.message);
        else
            frame({
                title: say("page.not-possible"),
                back: ["#/", say("page.jobs")],
                body: [
                    h("h1", {}, say("page.cannot-shown")),
                    note("bad", problem.message),
                    h("button", { class: "act wide", type: "button", onclick: () => show() }, say("page.try-again")),
                ],
            });
    }
}

/// Another phone may work on the same job: its pages follow.
async function follow() {
    if (current?.live && document.visibilityState === "visible") {
        const { job, tag } = current,
            mine = turn;
        try {
            const news = await api.jobView(job, tag);
            if (news && mine === turn && !main.querySelector("details[open]")) {
                await show({ quiet: true });
                announce(say("page.job-changed-another-device"));
            }
        } catch {
            // The next round tries again; a lost connection is told at the top.
        }
    }
    setTimeout(follow, POLL_MS);
}

const deviceWords = () =>
    [
        /iPad|Tablet/.test(navigator.userAgent)
            ? say("page.tablet")
            : /Mobi|Android|iPhone/.test(navigator.userAgent)
              ? say("page.phone")
              : say("page.computer"),
        ownName(),
    ]
        .filter(Boolean)
        .join(", ");

/// The code of the address gives this device a key of its own, which outlives the code. A device that has one keeps it.
async function pair() {
    const match = /^#([0-9a-f]{32})(?:-([0-9a-f]{64}))?$/.exec(location.hash);
    if (!match) return;
    if (match[2]) localStorage.setItem(FINGERPRINT, match[2]);
    history.replaceState(null, "", "/#/");
    const former = api.token();
    if (former && former !== match[1]) {
        try {
            await api.once("GET", "/api/about");
            return;
        } catch (problem) {
            // No connection, or a key that is none any more: the code is tried.
            if (problem.status === 429) return;
        }
    }
    api.setToken(match[1]);
    try {
        const { key } = await (await api.once("POST", "/api/devices", { body: { name: deviceWords() } })).json();
        api.setToken(key);
    } catch {
        // What is shown next tells it: the code itself is taken for as long as it is valid.
    }
}

// Texts alone are written anew: what was entered, chosen or set on a page stays. What scripts of the program draw by
// themselves follows the event.
unitSwitch.addEventListener("click", () => {
    const next = units.currentUnit() === "in" ? "mm" : "in";
    const after = beforeUnitTurn(main);
    units.setUnit(next);
    unitWords();
    rewrite(main);
    after();
    window.dispatchEvent(new Event("unitturn"));
});
// A form that was left before its fault came.
window.addEventListener("notsaved", ({ detail: { sentence, at } }) =>
    offer(sentence, say("page.show-it"), () => go(at)),
);
window.addEventListener("hashchange", async () => {
    await pair();
    show();
});
/// Where the browser lets it, which is on this computer itself and where the traffic is encrypted by a certificate that
/// it trusts: the page's files stay here, and it opens without a connection.
async function stayHere() {
    if (!window.isSecureContext || !navigator.serviceWorker) return;
    try {
        await navigator.serviceWorker.register("/sw.js");
        const { active } = await navigator.serviceWorker.ready;
        const files = performance.getEntriesByType("resource").map((one) => one.name.replace(/#.*/, ""));
        active.postMessage({ files: [`${location.origin}/`, ...files] });
    } catch {
        // A certificate that only a person trusts: the page works as long as the shop computer answers.
    }
}

unitWords();
pair().then(() => show());
stayHere();
setTimeout(follow, POLL_MS);
