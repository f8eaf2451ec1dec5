// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// A trial: its photos in, its answer out.
import { announce, bar, h, note, sentence, sketch, sketchEnds, stillHere, tellingBar, words } from "./dom.js";
import { say } from "./words.js";
import * as api from "./api.js";
import * as units from "./units.js";
import {
    choice,
    form,
    keepEntered,
    lengthField,
    myName,
    numberField,
    tooManyNotches,
    MAX_BACKLASH_MM,
    oddBacklash,
    textField,
} from "./fields.js";
import { HELP_FLANKS } from "./help_flanks.js";
import { shimPlace, wantedBacklash } from "./limits.js";
import { questions } from "./looked.js";
import { SLOT_NAMES, flanksOver, lineLegend, photoFigure, photoUrl, sideWords } from "./photo.js";
import * as store from "./store.js";
import { restoreTrial, strike, twinOf } from "./struck.js";
import { offer, offerUndo } from "./undo.js";
import { upload } from "./uploads.js";
import { showLarge } from "./zoom.js";

function camera() {
    const ns = "http://www.w3.org/2000/svg";
    const svg = document.createElementNS(ns, "svg");
    svg.setAttribute("viewBox", "0 0 48 48");
    svg.setAttribute("aria-hidden", "true");
    const path = document.createElementNS(ns, "path");
    path.setAttribute(
        "d",
        "M6 15h9l3-5h12l3 5h9a2 2 0 0 1 2 2v20a2 2 0 0 1-2 2H6a2 2 0 0 1-2-2V17a2 2 0 0 1 2-2zM24 19a8 8 0 1 0 0 16 8 8 0 0 0 0-16z",
    );
    path.setAttribute("fill", "none");
    path.setAttribute("stroke", "currentColor");
    path.setAttribute("stroke-width", "3");
    path.setAttribute("stroke-linejoin", "round");
    svg.append(path);
    return svg;
}

/// Whether marks or backlash of used gears from before they came apart are missing.
export function asksBefore(view) {
    const { build, before } = view.record,
        counting = before.filter((entry) => !entry.struck);
    return (
        build === "used-gears" &&
        !(
            counting.some((entry) => entry.backlash_mm !== null || entry.backlash_round.length) &&
            counting.some((entry) => entry.reading?.pattern.drive || entry.reading?.pattern.coast)
        )
    );
}

/// The line of the first look below a photo.
const LOOK_KINDS = { good: "good", few: "warn", bad: "bad", "other-side": "warn", "other-gear": "warn" };
function lookLine(photo, toOtherSide) {
    const { look } = photo;
    if (!look) return null;
    if (look === "asked") return h("p", { class: "small quiet" }, say("page.looking-at-photo"));
    return h(
        "div",
        { class: `look ${LOOK_KINDS[look.verdict]}` },
        h(
            "p",
            {},
            h("span", { "aria-hidden": "true" }, look.verdict === "good" ? "\u2713 " : "! "),
            sentence(look.line),
        ),
        look.to_do ? h("p", { class: "small" }, look.to_do) : null,
        look.verdict === "other-side"
            ? h("button", { class: "act less", type: "button", onclick: toOtherSide }, say("page.put-it-there"))
            : null,
    );
}

/// What is written on the place: which side, whether one more, whether again.
function slotWords(side, number, again) {
    if (number > 1) return again ? say("page.take-again") : say("page.one-more-photo");
    return side === "drive"
        ? say(again ? "page.drive-side-take-again" : "common.drive-side-title")
        : say(again ? "page.coast-side-take-again" : "common.coast-side-title");
}

/// The phone's camera, or a file of it.
function photoInput(side, number, named, photo, onTake) {
    const input = h("input", {
        type: "file",
        accept: "image/*",
        "aria-label": number === 1 ? say("page.photo-of-the", sideWords(side)) : say("page.one-more-photo-of", named),
        onchange() {
            const file = input.files[0];
            if (!file) return;
            onTake();
            photo.take(file);
            if (photo.former) offerUndo(say("page.photo-replaced", named), () => photo.putBack());
            input.value = "";
        },
    });
    return input;
}

/// The buttons below a photo: `element`, and `show()` by the photo's state.
function slotButtons(named, photo) {
    const less = (words, onclick) => h("button", { class: "act less", type: "button", onclick }, words);
    const retry = less(say("page.send-again"), () => photo.again());
    const larger = less(say("page.see-larger"), () => showLarge(photo.url, photo.look?.width ? photo.look : null));
    const drop = less(say("page.take-away"), () => {
        photo.forget({ keep: true });
        if (photo.former) offerUndo(say("page.photo-taken-away", named), () => photo.putBack());
    });
    const element = h("div", { class: "row" }, retry, larger, drop);
    return {
        element,
        show() {
            element.hidden = photo.state === "empty";
            retry.hidden = photo.state !== "failed" || !photo.photo;
            larger.disabled = !photo.url;
            drop.disabled = photo.state !== "received" && photo.state !== "failed";
        },
    };
}

/// The picture of a place with the flanks that the first look found, and what is said of it below: `show()` changes
/// them only where the photo or its look has changed.
function slotPicture(photo, toOtherSide) {
    const frame = h("span", {}),
        looked = h("div", { role: "status" });
    let shown = null,
        seen;
    return {
        frame,
        looked,
        show() {
            const { url, look } = photo;
            if (frame.childElementCount && shown === url && seen === look) return;
            shown = url;
            seen = look;
            const image = url ? h("img", { src: url, alt: "" }) : camera();
            image.addEventListener("error", () => image.replaceWith(camera()));
            const found = look?.width && look.flanks.length + look.refused_flanks.length > 0;
            frame.className = url ? "seen" : "seen none";
            frame.replaceChildren(image, ...(found ? [flanksOver(look.width, look.height, look)] : []));
            looked.replaceChildren(...[lookLine(photo, toOtherSide)].filter(Boolean));
        },
    };
}

/// How far a photo has come: `parts`, and `show()` by the photo's state.
function slotProgress(named, photo) {
    const progress = h("progress", { max: 1, value: 0, "aria-label": say("page.sending-side", named) });
    const told = h("p", { role: "status" });
    return {
        parts: [progress, told],
        show() {
            progress.hidden = photo.state !== "sending" && photo.state !== "preparing";
            progress.value = photo.share;
            told.className = photo.state === "failed" ? "small hint bad" : "small quiet";
            const words = {
                empty: "",
                preparing: say("page.making-ready"),
                sending: say("page.sending"),
                received: say("page.received"),
                failed: photo.problem,
            }[photo.state];
            if (told.textContent === words) return;
            told.textContent = words;
            if (photo.state === "received") announce(say("page.photo-received", named));
        },
    };
}

/// The place of one photo of a side: what is on its way, what was seen on it, and the way to another one. `onTake`: another
/// photo was chosen. `number`: of several photos of this side, the first is 1.
function photoSlot(side, number, photo, { onTake, toOtherSide }) {
    const named = number === 1 ? sideWords(side) : say("page.side-photo-number", sideWords(side), number);
    const picture = slotPicture(photo, toOtherSide),
        progress = slotProgress(named, photo),
        buttons = slotButtons(named, photo);
    const face = h("span", {});
    const take = h("label", { class: "take" }, picture.frame, face, photoInput(side, number, named, photo, onTake));
    // What is told of a photo has its room from the moment it is chosen: the fields below stay where they are.
    const below = h("div", { class: "told" }, progress.parts, picture.looked);
    const element = h("div", { class: "slot" }, take, below, buttons.element);
    const show = () => {
        const again = photo.state === "received";
        face.textContent = slotWords(side, number, again);
        for (const part of [picture, progress, buttons]) part.show();
        element.classList.toggle("full", again);
        element.dataset.look = photo.look?.verdict ?? "";
        below.hidden = photo.state === "empty";
    };
    show();
    return {
        element,
        photo,
        /// While the view is shown; gives the function that ends it.
        listen() {
            photo.addEventListener("change", show);
            show();
            return () => photo.removeEventListener("change", show);
        },
    };
}

/// Photos of one side that a trial may have.
const MAX_OF_A_SIDE = 4;

/// The photos of both sides: their places, one more as soon as the last one is there.
async function photoSides(job, key, onTake) {
    const places = (side) =>
        Array.from({ length: MAX_OF_A_SIDE }, (_, i) => ({
            side,
            photo: upload(i === 0 ? `${key}/${side}` : `${key}/${side}/${i + 1}`, { job, side }),
        }));
    const all = { drive: places("drive"), coast: places("coast") };
    const photos = [...all.drive, ...all.coast];
    await Promise.all(photos.map(({ photo }) => photo.ready));
    const toOtherSide = (photo) => () => {
        const to = photo.side === "drive" ? "coast" : "drive";
        const free = all[to].find((one) => one.photo.state === "empty") ?? all[to][0];
        onTake();
        const back = free.photo;
        photo.changePlaces(back);
        announce(say("page.photo-moved", sideWords(to)));
        offerUndo(say("page.photo-moved", sideWords(to)), () => back.changePlaces(photo));
    };
    const sides = Object.entries(all).map(([side, list]) => {
        const slots = list.map(({ photo }, i) =>
            photoSlot(side, i + 1, photo, { onTake, toOtherSide: toOtherSide(photo) }),
        );
        const showMore = () =>
            slots.forEach((slot, i) => {
                slot.element.hidden = i > 0 && slot.photo.state === "empty" && slots[i - 1].photo.state === "empty";
            });
        return {
            element: h(
                "div",
                { class: "side" },
                flankHelp(side),
                slots.map((slot) => slot.element),
            ),
            listen() {
                const ends = slots.map((slot) => slot.listen());
                for (const slot of slots) slot.photo.addEventListener("change", showMore);
                showMore();
                return () => {
                    ends.forEach((end) => end());
                    for (const slot of slots) slot.photo.removeEventListener("change", showMore);
                };
            },
        };
    });
    return { photos, sides };
}

const helpAddress = (side, kind) => ["/help", side, `${kind}.jpg`].join("-");

/// Which flank it is.
function flankHelp(side) {
    const which = side === "drive" ? say("page.flank-drive-is") : say("page.flank-coast-is");
    const { width, height, flanks } = HELP_FLANKS[side];
    const outlined = flanks.map((outline_px) => ({ outline_px, side, used: true }));
    return h(
        "figure",
        { class: "helpshot" },
        h(
            "span",
            { class: "seen" },
            h("img", { src: helpAddress(side, "good"), alt: "", width, height }),
            flanksOver(width, height, { flanks: outlined, refused_flanks: [] }),
        ),
        h("figcaption", {}, which),
    );
}

/// How photos are good and bad.
function photoHelp() {
    const shot = (side, kind, words) =>
        h(
            "figure",
            { class: "helpshot" },
            h("img", { src: helpAddress(side, kind), alt: "", loading: "lazy", width: 4, height: 3 }),
            h("figcaption", {}, words),
        );
    return h(
        "details",
        {},
        h("summary", {}, say("page.how-take-good-photo")),
        h(
            "div",
            { class: "pairs" },
            shot("drive", "good", say("page.good-photo")),
            shot("drive", "bad", say("page.bad-photo-drive")),
            shot("coast", "good", say("page.good-photo")),
            shot("coast", "bad", say("page.bad-photo-coast")),
        ),
        words([
            say("page.gear-fills-picture-flank"),
            say("page.lamp-side-no-flash"),
            say("page.tap-teeth-screen-focus"),
            say("page.keep-fingers-out-gears"),
        ]),
        h("p", { class: "small quiet" }, say("page.help-pictures-note")),
    );
}

/// The two readings of a trial, each kept in the draft as it is typed; they start from the last change or trial.
function trialReadings(view, before, draft, changed) {
    const last = before ? null : view.lastTrial;
    const work = view.record.work.filter((entry) => !entry.struck && last && entry.after_trial === last.id).at(-1);
    const backlash = lengthField({
        label: say("page.backlash-dial"),
        most: MAX_BACKLASH_MM,
        ask: oddBacklash,
        hint: before ? say("page.whatever-sheet-wants-new") : wantedBacklash(view),
        mm: draft.backlash === undefined ? work?.backlash_mm : draft.backlash,
    });
    const stack = lengthField({
        label: say("page.pinion-shims-place"),
        hint: say("page.all-them-together-may"),
        mm: draft.stack === undefined ? (work ?? last)?.shim_stack_mm : draft.stack,
    });
    // Kept with each key: a page may end at any moment. What was emptied stays empty: null.
    for (const [name, field] of [
        ["backlash", backlash],
        ["stack", stack],
    ])
        field.input.addEventListener("input", () => {
            const mm = units.parseLength(field.input.value);
            if (Number.isNaN(mm)) return;
            draft[name] = mm;
            changed();
        });
    return {
        element: h("div", { class: "two" }, backlash.element, stack.element),
        read: () => ({
            ...(backlash.read() === null ? {} : { backlash_mm: backlash.read() }),
            ...(stack.read() === null ? {} : { shim_stack_mm: stack.read() }),
        }),
    };
}

/// The photos that have arrived; those on their way are waited for, and `tell` is given words meanwhile.
async function arrived(photos, tell) {
    const list = [];
    for (const { side, photo } of photos) {
        if (photo.state === "preparing" || photo.state === "sending") {
            tell(say("page.sending-side-now", sideWords(side)));
            await photo.settled();
        }
        // The shop computer keeps what no trial names for a week: what is gone there is sent once more from here.
        if (photo.state === "received" && !(await photo.isThere())) {
            tell(say("page.sending-side-now", sideWords(side)));
            photo.again();
            await photo.settled();
        }
        // A photo that was taken and did not arrive is never left out without a word.
        if (photo.state === "failed") throw new Error(say("page.photo-did-not-arrive", sideWords(side), photo.problem));
        if (photo.state === "received") list.push({ upload: photo.id, side });
    }
    return list;
}

/// How far the measuring of a trial has come.
function readingWords({ state, ahead, wait_s: seconds }) {
    if (state !== "waiting") return say("page.reading-photos");
    return ahead === 1
        ? say("page.waiting-one-other-reading", Math.ceil(seconds))
        : say("page.waiting-other-readings-hardly", ahead, Math.ceil(seconds));
}

/// The button that has a trial measured, with what it tells meanwhile; `send(tell)` does it, `failed(fault)` follows a fault.
function readButton(words, send, go, failed) {
    const problem = h("div", { class: "note bad", role: "alert", hidden: true });
    const waiting = h("p", { class: "quiet", role: "status" });
    const tell = (text) => {
        waiting.textContent = text;
    };
    const button = h(
        "button",
        {
            class: "act first",
            type: "button",
            async onclick() {
                const at = location.hash;
                problem.hidden = true;
                button.disabled = true;
                try {
                    await send(tell);
                } catch (fault) {
                    failed(fault);
                    tell("");
                    if (location.hash !== at) offer(fault.message, say("page.show-it"), () => go(at));
                    problem.textContent = fault.message;
                    problem.hidden = false;
                } finally {
                    button.disabled = false;
                }
            },
        },
        words,
    );
    return { button, told: [problem, waiting] };
}

/// What stands above the photos of a trial, and the other way below them; `before` as in newTrialView.
function trialFrame(job, view, before) {
    const way = (id, what) => h("p", {}, h("a", { class: "target", href: `#/job/${job}/${what}` }, say(id)));
    if (before)
        return {
            title: say("page.before-gears-came-apart"),
            above: [h("h1", {}, say("page.before-they-came-apart")), h("p", {}, say("page.these-gears-ran-together"))],
            otherWay: way("page.nobody-knows-any-more", "new-trial"),
        };
    const enter = h("a", { class: "target", href: `#/job/${job}/before` }, say("page.enter-them"));
    return {
        title: say("page.new-trial"),
        above: [
            h("h1", {}, say("page.trial-number", view.nextNumber)),
            asksBefore(view) ? note("warn", h("p", {}, say("page.used-gears-set-they"), " ", enter)) : null,
            h("p", {}, say("page.paint-three-four-teeth")),
        ],
        otherWay: way("page.no-photo-possible-draw", "draw"),
    };
}

/// `before`: what used gears were before they came apart, in place of a trial.
export async function newTrialView(job, view, go, before = false) {
    const key = `${before ? "before" : "trial"}/${job}`;
    const draft = (await store.get("drafts", key)) ?? {};
    draft.request ??= api.newId();
    const keep = () => store.put("drafts", key, draft);
    const anew = () => {
        draft.request = api.newId();
        keep();
    };
    const readings = trialReadings(view, before, draft, anew);
    const { photos, sides } = await photoSides(job, key, anew);
    const send = async (tell) => {
        const here = stillHere();
        const body = { by: myName(), ...readings.read(), photos: await arrived(photos, tell) };
        if (body.photos.length === 0 && before && body.backlash_mm === undefined)
            throw new Error(say("page.take-photos-marks-they"));
        if (body.photos.length === 0 && !before) throw new Error(say("page.take-photo-drive-side"));
        const path = `/api/jobs/${encodeURIComponent(job)}/${before ? "before" : "trials"}`;
        const { task } = await api.post(path, body, draft.request);
        const result = await api.finished(task, (state) => tell(readingWords(state)));
        await Promise.all([store.remove("drafts", key), ...photos.map(({ photo }) => photo.forget())]);
        const to = before ? `#/job/${job}` : `#/job/${job}/trial/${result.trial}`;
        // Whoever went elsewhere meanwhile is not torn away from there.
        if (!here()) {
            offer(say("page.was-read", view.record.axle), say("page.show-it"), () => go(to));
            return;
        }
        if (!before && result.notes?.length) sessionStorage.setItem("shimsight-notes", JSON.stringify(result.notes));
        // The phone's way back leads to the job, not to an empty trial.
        go(to, { replace: true });
    };
    // A trial that failed gets another id: the same one would give the same answer. Where the connection was lost it may
    // have been read: it stays the same trial.
    const { button, told } = readButton(before ? say("page.keep-it") : say("page.read-pattern"), send, go, (fault) => {
        if (fault.status !== 0) anew();
    });
    const { title, above, otherWay } = trialFrame(job, view, before);
    return {
        title,
        enter() {
            const ends = sides.map((side) => side.listen());
            return () => ends.forEach((end) => end());
        },
        back: [`#/job/${job}`, say("page.job")],
        body: [
            above,
            h(
                "div",
                { class: "slots" },
                sides.map((side) => side.element),
            ),
            readings.element,
            photoHelp(),
            otherWay,
            tellingBar(told, button),
        ],
    };
}

// The answer ---------------------------------------------------------------------------------------------------------

function headline(answer) {
    const { lead, amount_mm: amount, place } = answer.headline;
    if (amount === null) return h("h1", { tabindex: -1 }, lead);
    return h(
        "h1",
        { tabindex: -1 },
        lead,
        " ",
        h("span", { class: "amount" }, units.firstLength(amount)),
        " ",
        h("span", { class: "other" }, units.secondLength(amount)),
        ` ${place}.`,
    );
}

/// From so many steps on the first one, which says what moves and how far, stands alone: the answer stays on one screen, its
/// photos right below.
const FOLDED_FROM = 3;
function stepsPart(steps) {
    if (!steps.length) return null;
    const list = (some, start) =>
        h(
            "ol",
            { class: "how", start },
            some.map((step) => h("li", {}, step)),
        );
    if (steps.length < FOLDED_FROM) return [h("h2", {}, say("page.how")), list(steps, 1)];
    return [
        h("h2", {}, say("page.how")),
        list(steps.slice(0, 1), 1),
        h("details", {}, h("summary", {}, say("page.further-steps", steps.length - 1)), list(steps.slice(1), 2)),
    ];
}

/// Sure, likely, not sure and stop look different without their colours, too: by their frame, their sign and their words.
const LOOKS = { sure: "\u2713", likely: "\u2248", "not-sure": "?", stop: "!" };
function certaintyTag(answer) {
    const look = answer.stop ? "stop" : answer.certainty;
    return h(
        "p",
        { class: `certainty ${look}` },
        h("span", { "aria-hidden": "true" }, LOOKS[look]),
        " ",
        answer.certainty_words,
    );
}

export function answerCard(answer) {
    const look =
        answer.stop || answer.verdict === "no-shim-will-help" ? "stop" : answer.verdict === "accept" ? "accept" : "";
    const chance = answer.chance_next ?? answer.chance_now;
    const told = !answer.stop || answer.steps.length > 0;
    return h(
        "section",
        { class: `answer ${look} ${answer.certainty}`, "aria-label": say("page.what-to-do") },
        certaintyTag(answer),
        headline(answer),
        answer.look_first.length ? [h("h2", {}, say("page.look-first")), words(answer.look_first)] : null,
        answer.backlash.target_mm !== null && !answer.stop
            ? h("p", { class: "way" }, say("page.backlash-set", units.bothLengths(answer.backlash.target_mm)))
            : null,
        told
            ? h(
                  "div",
                  { class: "sure" },
                  h("div", { class: "gauge", "aria-hidden": "true" }, gaugeFill(chance)),
                  h("p", { class: "small" }, answer.how_sure),
              )
            : null,
        stepsPart(answer.steps),
    );
}

function gaugeFill(chance) {
    const fill = h("div", {});
    fill.style.width = `${Math.round(100 * chance)}%`;
    return fill;
}

function sketches(extra, change) {
    const figures = [];
    for (const side of ["drive", "coast"]) {
        const pair = extra.sketches[side];
        if (!pair) continue;
        const title = side === "drive" ? say("common.drive-side-title") : say("common.coast-side-title");
        figures.push(
            h(
                "figure",
                { class: pair.next ? "" : "wide" },
                sketch(pair.now, { whole: !pair.next }),
                pair.next ? sketchEnds() : null,
                h("figcaption", {}, say("page.now", title)),
            ),
        );
        if (pair.next)
            figures.push(
                h("figure", {}, sketch(pair.next), sketchEnds(), h("figcaption", {}, say("page.expected", title))),
            );
    }
    if (!figures.length) return null;
    return [
        h("h2", {}, change ? say("page.before-expect") : say("page.pattern")),
        h("div", { class: "pairs" }, figures),
        h("p", { class: "legend" }, say("page.toe-left-tip-top")),
    ];
}

function numbers(measured) {
    const rows = [
        [
            say("page.lies"),
            (p) =>
                `${p.length_position}, ${p.depth_position === "face" ? say("page.tip-half") : p.depth_position === "flank" ? say("page.root-half") : "mid-height"}`,
        ],
        [
            say("page.centre-toe-zero-heel"),
            (p) => `${p.centre.toe_heel.toFixed(2)} \u00b1 ${(2 * p.sigma.toe_heel).toFixed(2)}`,
        ],
        [
            say("page.centre-root-zero-tip"),
            (p) => `${p.centre.root_tip.toFixed(2)} \u00b1 ${(2 * p.sigma.root_tip).toFixed(2)}`,
        ],
        [say("page.length-face"), (p) => units.percent(p.length)],
        [say("page.height-tooth"), (p) => units.percent(p.height)],
        [say("page.runs-off"), (p) => p.runs_off.join(", ") || say("page.no-edge")],
        [say("page.teeth-read"), (p) => p.teeth],
    ];
    const { drive, coast } = measured.pattern;
    const [driveName, coastName] = [say("page.drive-heading"), say("page.coast-heading")];
    const table = h(
        "table",
        {},
        h(
            "thead",
            {},
            h(
                "tr",
                {},
                h("th", { scope: "col" }, say("page.number-heading")),
                h("th", { scope: "col" }, driveName),
                h("th", { scope: "col" }, coastName),
            ),
        ),
        h(
            "tbody",
            {},
            rows.map(([label, value]) =>
                h(
                    "tr",
                    {},
                    h("th", { scope: "row" }, label),
                    h("td", { "data-of": driveName }, drive ? value(drive) : "\u2013"),
                    h("td", { "data-of": coastName }, coast ? value(coast) : "\u2013"),
                ),
            ),
        ),
    );
    return h("div", { class: "table" }, table);
}

/// The teeth of a photo that were not read, in a few words: those without compound are as they should be.
function leftOut({ refused_flanks: refused }) {
    const bare = refused.filter((flank) => flank.refused.why === "no-compound").length;
    const counted = (count, id) => (count ? [say(id, count)] : []);
    return [...counted(bare, "page.left-out-bare"), ...counted(refused.length - bare, "page.left-out-other")];
}

function photoPart(job, trial, signedOff) {
    const measured = trial.reading;
    if (!trial.photos.length) return null;
    return [
        h("h2", {}, trial.photos.length === 1 ? say("page.the-photo") : say("page.the-photos")),
        trial.photos.map((photo, place) => {
            const seen = measured?.photos[place] ?? { flanks: [], refused_flanks: [], refused: null };
            const { element, text } = photoFigure(job, trial.id, place, {
                photo: seen,
                size: photo.size_px,
            });
            const wrongSlot =
                Object.values(SLOT_NAMES).includes(photo.original_name) &&
                seen.flanks.length &&
                !seen.flanks.some((flank) => SLOT_NAMES[flank.side] === photo.original_name);
            const enlarge = async () =>
                showLarge(await photoUrl(job, trial.id, place), photo.size_px && { ...seen, ...photo.size_px });
            element.addEventListener("click", enlarge);
            return h(
                "section",
                { "aria-label": say("page.photo-number", place + 1) },
                element,
                seen.refused
                    ? note(
                          "warn",
                          h("p", {}, h("strong", {}, say("page.not-read")), seen.refused.reason),
                          h("p", {}, seen.refused.what_to_do),
                      )
                    : h(
                          "p",
                          { class: "small" },
                          say("page.photo-read", sentence(photo.original_name), [text, ...leftOut(seen)].join("; ")),
                      ),
                wrongSlot ? note("warn", say("page.sent-but-shows-other", photo.original_name)) : null,
                h(
                    "div",
                    { class: "row" },
                    h("button", { class: "act less", type: "button", onclick: enlarge }, say("page.see-larger")),
                    signedOff
                        ? null
                        : h(
                              "a",
                              { class: "act less", href: `#/job/${job}/trial/${trial.id}/outline/${place}` },
                              seen.refused ? say("page.outline-teeth-hand") : say("page.correct-outlines"),
                          ),
                ),
            );
        }),
        lineLegend(),
    ];
}

/// The first caution is always seen, the others are a tap away.
function cautionPart([first, ...others]) {
    if (!first) return null;
    const more = others.length
        ? h("details", {}, h("summary", {}, say("page.more-cautions", others.length)), words(others))
        : null;
    return [h("h2", {}, say("page.take-care")), note("warn", ...[first, more].filter(Boolean))];
}

/// Lets a struck trial count again; where its photos, measured once more, count, in place of that.
export function putBackButton(job, view, trial, after) {
    const twin = twinOf(view.record, trial);
    return h(
        "button",
        {
            class: "act less",
            type: "button",
            async onclick() {
                await restoreTrial(job, view.record, trial);
                await after();
            },
        },
        twin ? say("page.put-back-in-place-of", view.trials[twin.id].number) : say("page.put-back"),
    );
}

/// That a trial was struck out, with the way back.
function struckNote(job, view, trial, go) {
    const id = twinOf(view.record, trial) ? "page.replaced-counts-no" : "page.struck-out-counts-no";
    return trial.struck
        ? note(
              "warn",
              h("p", {}, say(id, units.when(trial.struck.at), trial.struck.why)),
              view.signed_off ? null : putBackButton(job, view, trial, () => go(`#/job/${job}/trial/${trial.id}`)),
          )
        : null;
}

/// When it was struck out before and put back: its history, below all that counts now.
const formerStrikes = (trial) =>
    trial.restored.map((back) =>
        h(
            "p",
            { class: "small quiet" },
            say("page.struck-and-restored", units.when(back.struck.at), back.struck.why, units.when(back.at)),
        ),
    );

/// What else can be done with photos that were measured wrong.
function otherWays(job, trial, number, go) {
    const draw = h(
        "a",
        { class: "act less", href: `#/job/${job}/trial/${trial.id}/draw` },
        say("page.draw-pattern-instead"),
    );
    const onclick = () => retake(job, trial, number, go);
    return h(
        "div",
        { class: "row" },
        draw,
        h("button", { class: "act less", type: "button", onclick }, say("page.strike-out-take-again")),
    );
}

function secondChoice({ lead, backlash_mm: backlash, chance }) {
    return h(
        "details",
        {},
        h("summary", {}, say("page.second-choice")),
        h("p", {}, say("page.backlash-chance", lead, units.bothLengths(backlash), units.percent(chance))),
    );
}

/// The numbers behind the answer; `title`: of the trial.
function evidencePart(trial, title) {
    const measured = trial.reading;
    // Questions stand on the card, once.
    const causes = (measured.advice?.diagnoses ?? []).filter((one) => !one.question);
    return h(
        "details",
        {},
        h("summary", {}, say("page.evidence-numbers")),
        causes.length
            ? [
                  h("h3", {}, say("page.causes-beyond-shims")),
                  words(causes.map((one) => say("page.chance", one.evidence, units.percent(one.chance)))),
              ]
            : null,
        noPattern(measured) ? null : numbers(measured),
        measured.notes.length && (measured.advice || noPattern(measured))
            ? [h("h3", {}, say("page.to-know")), words(measured.notes)]
            : null,
        measured.assumed.length ? [h("h3", {}, say("page.assumed-not-given")), words(measured.assumed)] : null,
        h(
            "p",
            { class: "small quiet" },
            say(
                "page.backlash-shims-place-pattern",
                title,
                units.when(trial.at),
                trial.by ? `, ${trial.by}` : "",
                trial.backlash_mm === null ? say("page.is-not-read") : units.bothLengths(trial.backlash_mm),
                trial.shim_stack_mm === null ? say("page.not-said") : units.bothLengths(trial.shim_stack_mm),
                trial.origin,
            ),
        ),
    );
}

const noPattern = (measured) => !measured || (!measured.pattern.drive && !measured.pattern.coast);

/// The one thing to do next, by the answer.
function nextOfTrial(job, id, answer) {
    // Nobody is led on to what is not sure: its button is there, and does not call.
    const kind = answer?.certainty === "not-sure" && !answer.stop ? "act" : "act first";
    const act = (where, text) => bar(h("a", { class: kind, href: `#/job/${job}${where}` }, say(text)));
    if (answer?.verdict === "change") return act(`/done/${id}`, "page.i-made-change");
    if (answer?.stop?.kind === "wear-not-known") return act("/before", "page.gears-before");
    if (answer?.stop) return act("", "page.go-job");
    if (answer?.verdict === "accept") return act("", "page.go-on-with-the");
    return act("/new-trial", "page.take-photos-again");
}

/// What is told once, after the trial was measured.
function notesOnce() {
    const notes = JSON.parse(sessionStorage.getItem("shimsight-notes") ?? "[]");
    sessionStorage.removeItem("shimsight-notes");
    return notes.map((sentence) => note("warn", sentence));
}

/// The answer or why there is none, the pattern and the photos. `open`: the trial is the last one of an open job.
function answerPart(job, view, trial, open) {
    const extra = view.trials[trial.id],
        { answer } = extra;
    const pattern = sketches(extra, answer?.verdict === "change"),
        photos = photoPart(job, trial, !open);
    // What was measured stands right beside the answer: a wrong outline is seen before a shim is ordered.
    if (answer)
        return {
            top: h(
                "div",
                { class: "spread" },
                h("div", {}, answerCard(answer), noPattern(trial.reading) ? null : readLine(trial), setLine(job, view)),
                h("div", {}, photos, pattern),
            ),
        };
    if (noPattern(trial.reading))
        return {
            heading: [
                h("h1", { tabindex: -1 }, say("page.no-pattern-read")),
                note("warn", say("page.nothing-wrong-job-happens")),
            ],
            pattern,
            photos,
        };
    // Why there is none stands right below it: that the photos show another gear set, most of all.
    const why = trial.reading.notes.map((one) => note("warn", one));
    return {
        heading: [h("h1", { tabindex: -1 }, say("page.pattern-read-but-no")), why, readLine(trial), setLine(job, view)],
        pattern,
        photos,
    };
}

export function trialView(job, view, id, go) {
    const trial = view.record.trials.find((one) => one.id === id);
    const back = [`#/job/${job}`, say("page.job")];
    if (!trial)
        return {
            title: say("page.trial"),
            back,
            body: [
                h("h1", {}, say("page.no-such-trial")),
                h("p", {}, h("a", { class: "target", href: `#/job/${job}` }, say("page.back-job"))),
            ],
        };
    const { answer, number } = view.trials[id];
    const measured = trial.reading;
    const advice = measured?.advice;
    const open = view.lastTrial?.id === id && !view.signed_off;
    const title = number ? say("page.trial-number", number) : say("page.measurement", id);
    const { top, heading, pattern, photos } = answerPart(job, view, trial, open);
    const body = [
        struckNote(job, view, trial, go),
        notesOnce(),
        top,
        open ? questions(job, advice, async () => go(`#/job/${job}/trial/${id}`)) : null,
        heading,
        pattern,
        advice?.because.length ? h("details", {}, h("summary", {}, say("page.why")), words(advice.because)) : null,
        cautionPart(advice?.cautions ?? []),
        photos,
        open ? otherWays(job, trial, number, go) : null,
        answer?.runner_up ? secondChoice(answer.runner_up) : null,
        measured ? evidencePart(trial, title) : null,
        formerStrikes(trial),
    ];
    // What was done can be written down after any answer, against the advice too.
    if (open && answer?.verdict !== "change")
        body.push(
            h(
                "p",
                {},
                h("a", { class: "act less wide", href: `#/job/${job}/done/${id}` }, say("page.changed-something")),
            ),
        );
    if (open) body.push(nextOfTrial(job, id, answer));
    return { title, back, body, wide: true };
}

function retake(job, trial, number, go) {
    return strike(job, trial.id, {
        why: say("page.photos-taken-again"),
        what: say("page.the-trial", number),
        after: () => go(`#/job/${job}/new-trial`),
        undone: () => go(`#/job/${job}/trial/${trial.id}`),
    });
}

/// What the answer stands on: a side that is missing is said, not left to the photos.
function readLine({ origin, reading }) {
    const drawn = origin === "drawn",
        teeth = (one) => say(one.teeth === 1 ? "page.one-tooth" : "page.many-teeth", one.teeth);
    const { drive, coast } = reading.pattern;
    if (drive && coast) {
        const both = drawn ? say("page.drawn-both") : say("page.read-both", teeth(drive), teeth(coast));
        return h("p", { class: "forset" }, both);
    }
    const [only, missing] = (drive ? ["drive", "coast"] : ["coast", "drive"]).map(sideWords);
    const one = drawn
        ? say("page.drawn-one", only, missing)
        : say("page.read-one", only, teeth(drive ?? coast), missing);
    return h("p", { class: "forset one-side" }, one);
}

/// For which gear set the answer was worked out: a wrong one gives a wrong instruction.
export function setLine(job, view) {
    const { gear, signed_off: signedOff } = view;
    return h(
        "p",
        { class: "forset" },
        say("page.for-the-set", gear.teeth[1], gear.teeth[0], units.size(gear.ring_gear_diameter_mm)),
        signedOff ? null : [" ", h("a", { class: "target", href: `#/job/${job}/correct` }, say("page.not-this-set"))],
    );
}

// What was really done -----------------------------------------------------------------------------------------------

/// A stack that differs by more from what the change makes of the former one was not entered right: half a thousandth.
const STACK_SLACK_MM = 0.013;
/// Lengths that are one and the same.
const SAME_MM = 1e-6;
/// Changes beyond 0.030 in are asked about.
const LARGE_CHANGE_MM = 0.762;

/// What the advice would have changed in the pinion's shims; null: it said nothing of them.
function advisedChange(answer) {
    if (answer?.headline.amount_mm) return answer.shim_change_mm;
    return answer?.verdict === "change" ? 0 : null;
}

/// Which way the shims went, by how much, and the stack now, which follows from both until somebody types another one.
/// `before`: the stack as it was; null: not known.
function shimFields(view, advised, before) {
    const way = choice({
        label: view.gear.given.pinion_shim
            ? say("page.pinion-shims", shimPlace(view.gear))
            : say("page.pinion-shims-somewhere"),
        value: advised === null ? null : advised === 0 ? "leave" : advised > 0 ? "add" : "take",
        options: [
            ["add", "added"],
            ["take", say("page.taken-out")],
            ["leave", say("page.left-alone")],
        ],
        onchange: () => follow(),
    });
    const amount = lengthField({
        label: say("page.how-much"),
        mm: advised ? Math.abs(advised) : null,
        hint: say("page.really-changed-whatever-advised"),
    });
    const stack = lengthField({
        label: say("page.shims-place-now"),
        hint:
            before === null
                ? say("page.measured-micrometer-may-stay")
                : say("page.stack-before", units.bothLengths(before)),
        mm: before !== null && advised !== null ? before + advised : null,
    });
    const changeSaid = () => {
        const sign = { add: 1, take: -1, leave: 0 }[way.read()];
        const much = sign === 0 ? 0 : units.parseLength(amount.input.value);
        return sign === undefined || much === null || Number.isNaN(much) ? null : sign * Math.abs(much);
    };
    let typedStack = false;
    /// The stack as it follows; null: from nothing.
    const following = () => {
        const change = changeSaid();
        return before === null || change === null ? null : before + change;
    };
    // What follows from the change is no stack that somebody measured, after a reload either.
    stack.input.addEventListener("input", () => {
        const now = units.parseLength(stack.input.value),
            follows = following();
        typedStack =
            follows === null ||
            ![follows, units.parseLength(units.typedLength(follows))].some((mm) => Math.abs(now - mm) < SAME_MM);
    });
    function follow() {
        const follows = following();
        if (typedStack || follows === null) return;
        stack.input.value = units.typedLength(follows);
        stack.input.dispatchEvent(new Event("input"));
    }
    amount.input.addEventListener("input", follow);
    let confirmed = null;
    return {
        way,
        amount,
        stack,
        /// The change and the stack now. Throws with a sentence when something is missing, does not fit, or is very large
        /// and asked about for the first time.
        read() {
            if (way.read() === null) throw way.complaint(say("page.say-what-you-did-with-shims"));
            if (way.read() !== "leave" && amount.read() === null)
                throw amount.complaint(say("page.how-much-enter-first"));
            const change = changeSaid(),
                now = stack.read();
            refuseOtherStack(before, change, now);
            if (Math.abs(change) > LARGE_CHANGE_MM && confirmed !== change) {
                confirmed = change;
                throw new Error(say("page.change-very-large", units.bothLengths(Math.abs(change))));
            }
            return { change, now };
        },
    };
}

/// How far an adjuster was turned, and which way: the keys of many phones have no minus. `read` gives notches, tightened
/// ones positive; null: not said.
function notchesField(adjuster, label) {
    const way = choice({
        label: adjuster,
        options: [
            ["tighter", say("page.turned-tighter")],
            ["looser", say("page.turned-looser")],
        ],
    });
    const count = numberField({ refuse: tooManyNotches, label, hint: say("page.seen-along-pinion-may-stay") });
    return {
        element: h("div", { class: "two" }, way.element, count.element),
        read() {
            const notches = count.read();
            if (notches === null || notches === 0) return notches;
            // Who types a sign has said it, unless the choice says the opposite.
            const signed = notches < 0 ? "looser" : /^\s*\+/.test(count.input.value) ? "tighter" : null;
            const turned = way.read() ?? signed;
            if (turned === null || (signed !== null && signed !== turned))
                throw way.complaint(say("page.which-way-turned", adjuster));
            return turned === "looser" ? -Math.abs(notches) : notches;
        },
    };
}

function refuseOtherStack(before, change, now) {
    if (before === null || now === null || Math.abs(before + change - now) <= STACK_SLACK_MM) return;
    throw new Error(
        say(
            change < 0 ? "page.stack-does-not-fit-less" : "page.stack-does-not-fit",
            units.bothLengths(before),
            units.bothLengths(Math.abs(change)),
            units.bothLengths(before + change),
            units.bothLengths(now),
        ),
    );
}

export async function doneView(job, view, id, go) {
    const trial = view.record.trials.find((one) => one.id === id);
    const written = view.record.work.filter((entry) => !entry.struck && entry.after_trial === id).at(-1);
    const shims = shimFields(view, advisedChange(view.trials[id]?.answer), trial?.shim_stack_mm ?? null);
    const backlash = lengthField({
        label: say("page.backlash-now-dial"),
        required: true,
        most: MAX_BACKLASH_MM,
        ask: oddBacklash,
    });
    const left = notchesField(say("page.left-adjuster"), say("page.left-adjuster-notches")),
        right = notchesField(say("page.right-adjuster"), say("page.right-adjuster-notches"));
    const by = textField({ label: say("page.who"), value: myName(), autocomplete: "name" });
    const words = textField({ label: say("page.anything-else-may-stay"), long: true });
    const save = api.oneChange();
    const send = async () => {
        const here = stillHere();
        const { change, now } = shims.read();
        const body = {
            after_trial: id,
            by: by.read(),
            note: words.read(),
            shim_change_mm: change,
            backlash_mm: backlash.read(),
        };
        for (const [key, value] of [
            ["shim_stack_mm", now],
            ["left_notches", left.read()],
            ["right_notches", right.read()],
        ])
            if (value !== null) body[key] = value;
        await save(`/api/jobs/${encodeURIComponent(job)}/entries/work`, body);
        await entered.forget();
        if (here()) go(`#/job/${job}/new-trial`, { replace: true });
    };
    const preload = h(
        "a",
        { class: "target", href: `#/job/${job}/measure/preload` },
        say("page.pinion-preload-read-again"),
    );
    const main = form({
        fields: [
            shims.way.element,
            shims.amount.element,
            backlash.element,
            shims.stack.element,
            view.gear.adjusters ? [left.element, right.element] : null,
            by.element,
            words.element,
            h("p", { class: "small" }, preload),
        ],
        button: say("page.save-go-next-trial"),
        send,
    });
    const entered = await keepEntered(`done/${job}/${id}`, main);
    return {
        title: say("page.what-was-done"),
        back: [`#/job/${job}/trial/${id}`, say("page.trial")],
        body: [
            h("h1", {}, say("page.really-done")),
            h("p", {}, say("page.next-trial-learns-so")),
            written ? note("warn", say("page.change-written-already", units.when(written.at))) : null,
            main,
        ],
    };
}
