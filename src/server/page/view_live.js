// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// The live tooth: sliders, both marks, the gear pair. The numbers and drawings come from the lessons' own scripts.
import { h } from "./dom.js";
import * as api from "./api.js";
import * as units from "./units.js";
import { picker, script } from "./training_server.js";
import { BENCH } from "./view_training.js";
import { say } from "./words.js";

const range = (id, label, props, small) =>
    h(
        "div",
        { class: "field slide" },
        h("label", { for: id }, h("span", {}, label), " ", h("output", { id: `${id}-out`, for: id })),
        h("input", { type: "range", id, ...props }),
        small ? h("small", { class: "hint" }, small) : null,
    );
const canvas = (side, title) =>
    h(
        "figure",
        {},
        h(
            "div",
            { class: "crop" },
            h("canvas", { id: side, width: 656, height: 310, role: "img", "aria-label": say("page.flank", title) }),
        ),
        h("figcaption", {}, h("b", {}, title), " ", h("span", { id: `${side}-words` })),
    );
const select = (id, label, options) =>
    h(
        "div",
        { class: "pick" },
        h("label", { for: id }, label),
        h(
            "select",
            { id },
            options.map(([value, words]) => h("option", { value }, words)),
        ),
    );
const MAX_MM = 0.3048,
    HALF_THOU_MM = 0.0127,
    HUNDREDTH_MM = 0.01,
    MIN_FOR_WORDS_PX = 260;

/// Choosing another gear set shows the page anew: what was open stays open.
let moreOpen = false;

/// Both flanks, and what they say together.
const flanks = () =>
    h(
        "section",
        { class: "sheet flanks", "aria-label": say("page.contact-marks") },
        h(
            "div",
            { class: "pairs" },
            canvas("drive", say("common.drive-side-title")),
            canvas("coast", say("common.coast-side-title")),
        ),
        h("p", { id: "sentence", class: "sentence", "aria-live": "polite" }),
    );

/// How far the sliders of lengths go and by what steps, in the unit of the page.
function reach() {
    return units.currentUnit() === "mm"
        ? { step: HUNDREDTH_MM, min: -0.3, max: 0.3, value: 0 }
        : { step: HALF_THOU_MM, min: -MAX_MM, max: MAX_MM, value: 0 };
}

/// What is not turned every day. `chosen`: the picker of gear sets, or null.
function moreControls(chosen) {
    return h(
        "details",
        {
            open: moreOpen,
            ontoggle: (event) => {
                moreOpen = event.target.open;
            },
        },
        h("summary", {}, say("page.more")),
        chosen?.element,
        h("div", { class: "field", id: "set-field", hidden: true }, h("select", { id: "set" })),
        h(
            "div",
            { class: "field", id: "cut-field", hidden: true },
            h("label", { for: "cut" }, say("page.cut-teeth")),
            h("select", { id: "cut" }),
            h("span", { class: "hint" }, say("page.same-set-if-cut")),
        ),
        range("offset", say("page.offset-error"), reach()),
        range(
            "shaft",
            say("page.shaft-angle"),
            { min: -0.05, max: 0.05, step: 0.005, value: 0 },
            say("page.housing-minutes-degree-ninety"),
        ),
        range("film", say("page.coat-compound"), { min: 0.4, max: 2.4, step: 0.05, value: 1 }),
        range(
            "crown",
            say("page.crown-teeth"),
            { min: 0.4, max: 2, step: 0.05, value: 1 },
            say("page.wear-takes-crown-away"),
        ),
        range("bias", say("page.bias"), { min: -20, max: 20, step: 1, value: 0 }, say("page.how-teeth-cut-slants")),
    );
}

const controls = (chosen) =>
    h(
        "section",
        { class: "sheet controls", "aria-label": say("page.setting") },
        range("depth", say("page.pinion-depth"), reach()),
        range("backlash", say("page.backlash"), { step: reach().step }),
        h(
            "div",
            { class: "row" },
            h("button", { type: "button", class: "act less", id: "right" }, say("page.right-setting")),
            h("button", { type: "button", class: "act less", id: "clear" }, say("page.clear-trail")),
        ),
        moreControls(chosen),
        h("p", { class: "small quiet" }, say("page.depth-changes-backlash-held")),
    );

const gearPair = () =>
    h(
        "section",
        { class: "sheet gears", "aria-label": say("page.gear-pair") },
        h("div", { id: "view", tabindex: 0, role: "img", "aria-label": say("page.pinion-ring-gear-mesh") }),
        h("p", { id: "no-view", class: "small quiet", hidden: true }, say("page.browser-shows-no-three")),
        h(
            "div",
            { class: "viewbar" },
            h(
                "div",
                { class: "field slide" },
                h("label", { for: "roll" }, say("page.turn-gears")),
                h("input", { type: "range", id: "roll", min: 0, max: 1000, step: 1, value: 0 }),
            ),
            h(
                "div",
                { class: "row" },
                h(
                    "button",
                    { type: "button", class: "act less", id: "play", "aria-pressed": "false" },
                    say("page.let-them-turn"),
                ),
            ),
            h(
                "div",
                { class: "picks" },
                select("pinion", say("page.pinion"), [
                    ["glass", say("page.see-through")],
                    ["solid", say("page.solid")],
                    ["none", say("page.left-out")],
                ]),
                select("look", say("page.look-at"), [
                    ["drive", say("common.drive-side")],
                    ["coast", say("common.coast-side")],
                ]),
            ),
        ),
    );

export async function liveView(set, go, job) {
    // All at once: the first marks must not wait. Without a name the server gives its first set.
    const [data, { sets }] = await Promise.all([
        api.get(
            `/api/training/live?${job ? `job=${encodeURIComponent(job)}` : `set=${encodeURIComponent(set ?? "")}`}`,
        ),
        job ? { sets: [] } : api.get("/api/training"),
        script("/lesson/words.js")
            .then(() => script("/lesson/contact.js"))
            .then(() => script("/lesson/flank.js"))
            .then(() => script("/lesson/live.js")),
    ]);
    const chosen = sets.length
        ? picker({
              label: say("page.gear-set"),
              options: sets.map((one) => [one.id, one.name]),
              value: set || sets[0].id,
              onchange: (id) => go(`#/training/live/${encodeURIComponent(id)}`),
          })
        : null;
    const chart = job ? `#/job/${job}/chart` : "#/training/chart";
    return {
        title: say("page.live-tooth"),
        back: job ? [`#/job/${job}`, say("page.job")] : BENCH,
        wide: true,
        body: [
            h("h1", {}, say("page.live-tooth")),
            h("p", { class: "quiet small", id: "set-words" }),
            h("div", { class: "live" }, flanks(), controls(chosen), gearPair()),
            h(
                "div",
                { class: "row" },
                h("a", { class: "act less", href: chart }, say("page.chart-set")),
                h("a", { class: "act less", href: "#/training/lesson/depth" }, say("page.lesson-depth-does")),
            ),
            h("p", { class: "small quiet" }, say("page.marks-come-sets-real")),
        ],
        /// Runs when the body stands in the page; what it gives runs when it goes.
        enter() {
            // Half as wide as a phone the words could not be read.
            for (const id of ["drive", "coast"]) {
                const one = document.getElementById(id);
                if (one.clientWidth < MIN_FOR_WORDS_PX) one.dataset.wordless = "yes";
            }
            const running = window.liveTooth.start(data, {
                length: (mm) => units.bothNow(mm).replaceAll(" in", "\u00a0in").replaceAll(" mm", "\u00a0mm"),
                three: script("/lesson/three.js"),
            });
            return () => running.stop();
        },
    };
}
