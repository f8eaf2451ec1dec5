// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// The readings beside the pattern: preload, backlash round the ring gear, runout, carrier, check lists.
import { announce, h, note, s, stillHere, words } from "./dom.js";
import { say } from "./words.js";
import * as api from "./api.js";
import * as units from "./units.js";
import {
    choice,
    form,
    keepEntered,
    lengthField,
    myName,
    farApart,
    noBearing,
    noDepth,
    noFigure,
    numberField,
    tooManyNotches,
    MAX_BACKLASH_MM,
    MAX_RUNOUT_MM,
    oddBacklash,
    textField,
    torqueField,
} from "./fields.js";
import { wantedRound, wantedRunout } from "./limits.js";
import { restore, strike } from "./struck.js";
import { offerUndo } from "./undo.js";

const RESULT = {
    pass: ["good", say("page.within-limits")],
    fail: ["bad", say("page.outside-the-limits")],
    "no-limit-known": ["", say("page.no-limit-known")],
};

function history(job, view, { list, show, more = () => null }, refresh) {
    if (!list.length) return null;
    return [
        h("h2", {}, say("page.entered-so-far")),
        [...list].reverse().map((entry) => {
            const judged = view.record.judgements.filter((one) => one.entry === entry.id);
            return h(
                "div",
                { class: "sheet" },
                h("strong", {}, show(entry)),
                more(entry),
                h(
                    "p",
                    { class: "small quiet" },
                    `${units.when(entry.at)}${entry.by ? `, ${entry.by}` : ""}${entry.note ? `: ${entry.note}` : ""}`,
                ),
                judged.map((one) =>
                    h(
                        "p",
                        { class: "small" },
                        h("span", { class: `tag ${RESULT[one.result][0]}` }, RESULT[one.result][1]),
                        " ",
                        one.sentence,
                        one.source
                            ? h("span", { class: "quiet" }, " ", say("page.limit", one.source.replace(/\.$/, "")))
                            : null,
                    ),
                ),
                entry.struck
                    ? h(
                          "p",
                          { class: "small" },
                          h("span", { class: "tag warn" }, say("page.is-struck-out")),
                          ` ${entry.struck.why}`,
                      )
                    : null,
                entry.restored.map((back) =>
                    h(
                        "p",
                        { class: "small quiet" },
                        say(
                            "page.struck-and-restored",
                            units.when(back.struck.at),
                            back.struck.why,
                            units.when(back.at),
                        ),
                    ),
                ),
                view.signed_off
                    ? null
                    : entry.struck
                      ? putBackButton(job, entry, refresh)
                      : strikeButton(job, entry, show(entry), refresh),
            );
        }),
    ];
}

const strikeButton = (job, entry, what, refresh) =>
    h(
        "button",
        { class: "act less", type: "button", onclick: () => strike(job, entry.id, { what, after: refresh }) },
        say("page.strike-out"),
    );
const putBackButton = (job, entry, refresh) =>
    h(
        "button",
        {
            class: "act less",
            type: "button",
            async onclick() {
                await restore(job, entry.id);
                await refresh();
            },
        },
        say("page.put-back"),
    );

/// What was saved last and until when the page says so beside the entry, however often it is drawn meanwhile.
const SAVED_MS = 6000;
let saved = { place: null, until: 0 };

async function page(job, view, { title, intro, fields, send, kind, extra, ...told }, refresh) {
    const remark = textField({ label: say("page.note-may-stay-empty") });
    const place = `${job}/${kind}`;
    const change = api.oneChange();
    const main = view.signed_off
        ? null
        : form({
              fields: [fields.map((field) => field.element), remark.element],
              button: say("page.save"),
              async send() {
                  const body = { by: myName(), ...send() };
                  if (remark.read()) body.note = remark.read();
                  const here = stillHere();
                  await change(`/api/jobs/${encodeURIComponent(job)}/entries/${kind}`, body);
                  await entered.forget();
                  saved = { place, until: Date.now() + SAVED_MS };
                  announce(say("page.saved"));
                  if (here()) await refresh();
              },
          });
    const entered = main ? await keepEntered(`entry/${place}`, main) : null;
    const before = saved.place === place && Date.now() < saved.until ? note("good", say("page.saved")) : null;
    return {
        title,
        back: [`#/job/${job}`, say("page.job")],
        body: [
            h("h1", {}, title),
            h("p", {}, intro),
            extra ?? null,
            main ?? note("", say("page.job-signed-off-reopen")),
            before,
            history(job, view, told, refresh),
        ],
    };
}

const given = (pairs) => Object.fromEntries(pairs.filter(([, value]) => value !== null && value !== ""));

/// What the gear set wants of the pinion's turning torque, without the oil seal and with it.
function preloadWanted({ record, gear }) {
    const range = (id, limits, ...more) =>
        limits ? say(id, units.torque(limits[0]), units.torque(limits[1]), ...more) : null;
    const { bearings } = record;
    const bare = bearings === "new" ? gear.preload_new_nm : gear.preload_used_nm;
    const sealed = record.gear_set.data.limits?.pinion_preload_with_seal_nm?.[bearings];
    return (
        [range("page.wanted-bearings", bare, bearings), range("page.wanted-with-seal", sealed)]
            .filter(Boolean)
            .join(" ") || say("page.no-limit-gear-set")
    );
}

/// What sets the pinion preload, by the job or else by its gear set.
function spacerOf({ record }) {
    return record.spacer === "not-said" ? (record.gear_set.data.build?.preload_spacer ?? "not-said") : record.spacer;
}

function preload(job, view, refresh) {
    const spacer = spacerOf(view);
    const torque = torqueField({
        label: say("page.turning-torque-pinion"),
        hint: preloadWanted(view),
        required: true,
    });
    // A sleeve has no shims beside it, and it is crushed once: before the pattern is right it is the old one that is read.
    const sleeve = spacer === "crush-sleeve";
    const stack = lengthField({
        label: say("page.shims-beside-solid-spacer"),
        hint: spacer === "solid-spacer" ? "" : say("page.empty-crush-sleeve"),
    });
    const rolling = sleeve && view.status.steps.some((one) => one.key === "trial-preload" && one.state !== "done");
    const sealIsIn = view.record.checks.some((line) => line.key === "oil-seals" && line.state === "done");
    const seal = choice({
        label: say("page.oil-seal"),
        value: sealIsIn ? "in" : "out",
        options: [
            ["out", say("page.not-fitted")],
            ["in", say("page.fitted-drags")],
        ],
    });
    const use = choice({
        label: say("page.read-for"),
        value: rolling ? "trial" : "good",
        options: [
            ["good", say("page.for-good")],
            ["trial", say("page.for-rolling")],
        ],
    });
    return page(
        job,
        view,
        {
            title: say("page.pinion-preload"),
            intro: say("page.turn-pinion-steadily-inch"),
            fields: [torque, ...(sleeve ? [] : [stack]), seal, use],
            kind: "preload",
            list: view.record.preload,
            send: () => ({
                ...given([
                    ["torque_nm", torque.read()],
                    ["stack_mm", sleeve ? null : stack.read()],
                ]),
                with_oil_seal: seal.read() === "in",
                for_trial: use.read() === "trial",
            }),
            show: (entry) =>
                [
                    units.torque(entry.torque_nm),
                    entry.stack_mm === null ? "" : say("page.shims", units.length(entry.stack_mm)),
                    entry.with_oil_seal ? say("page.with-oil-seal") : "",
                    entry.for_trial ? say("page.for-rolling") : "",
                ]
                    .filter(Boolean)
                    .join(", "),
        },
        refresh,
    );
}

/// The readings round the ring gear, the limits as a band where the file gives any, the mean, and how far it swings.
export function waveChart(points, limits, wave) {
    const values = points.map((point) => point.backlash_mm);
    const low = Math.min(...values, ...(limits ?? [])),
        high = Math.max(...values, ...(limits ?? [])),
        room = (high - low) * 0.15 || 0.02;
    const x = (deg) => 44 + (deg / 360) * 300,
        y = (mm) => 150 - ((mm - low + room) / (high - low + 2 * room)) * 130;
    const closed = [...points].sort((a, b) => a.position_deg - b.position_deg);
    closed.push({ position_deg: 360 + closed[0].position_deg, backlash_mm: closed[0].backlash_mm });
    // Smooth between the readings, level at none of them: slopes of the neighbours.
    const slope = (i) => {
        const n = closed.length - 1,
            before = closed[(i - 1 + n) % n],
            after = closed[(i + 1) % n || n];
        const span = (after.position_deg - before.position_deg + 720) % 360 || 360;
        return (after.backlash_mm - before.backlash_mm) / span;
    };
    let path = `M${x(closed[0].position_deg)} ${y(closed[0].backlash_mm)}`;
    for (let i = 1; i < closed.length; ++i) {
        const a = closed[i - 1],
            b = closed[i],
            third = (b.position_deg - a.position_deg) / 3;
        path += `C${x(a.position_deg + third)} ${y(a.backlash_mm + third * slope(i - 1))} ${x(b.position_deg - third)} ${y(b.backlash_mm - third * slope(i % (closed.length - 1)))} ${x(b.position_deg)} ${y(b.backlash_mm)}`;
    }
    const mean = wave?.mean_mm ?? values.reduce((sum, value) => sum + value, 0) / values.length;
    const words = [
        say(
            "page.backlash-round-ring-gear",
            points.length,
            units.bothLengths(Math.min(...values)),
            units.bothLengths(Math.max(...values)),
        ),
        wave
            ? say(
                  "page.swings-either-way-once",
                  units.bothLengths(wave.amplitude_mm),
                  units.length(2 * wave.amplitude_sigma_mm),
              )
            : "",
    ]
        .filter(Boolean)
        .join(" ");
    return h(
        "figure",
        { class: "sketch" },
        s(
            "svg",
            { class: "chart", viewBox: "0 0 360 180", role: "img", "aria-label": words },
            limits
                ? s("rect", {
                      class: "band",
                      x: x(0),
                      y: y(limits[1]),
                      width: x(360) - x(0),
                      height: y(limits[0]) - y(limits[1]),
                  })
                : null,
            s("path", { class: "mean", d: `M${x(0)} ${y(mean)}H${x(360)}` }),
            points.length > 2 ? s("path", { class: "curve", d: path }) : null,
            closed
                .slice(0, -1)
                .map((point) => s("circle", { cx: x(point.position_deg), cy: y(point.backlash_mm), r: 4.5 })),
            (limits ?? [low, high]).map((mm) => s("text", { x: 2, y: y(mm) + 4 }, units.bareLength(mm))),
            [0, 90, 180, 270, 360].map((deg) =>
                s("text", { x: x(deg), y: 172, "text-anchor": "middle" }, `${deg}\u00b0`),
            ),
        ),
        h("figcaption", {}, words),
    );
}

function backlash(job, view, refresh) {
    let fields = [];
    const place = h("div", { class: "eight" });
    const build = (count) => {
        fields = Array.from({ length: count }, (_, i) =>
            lengthField({
                label: `${Math.round((360 * i) / count)}\u00b0`,
                required: true,
                most: MAX_BACKLASH_MM,
                ask: oddBacklash,
            }),
        );
        place.replaceChildren(...fields.map((field) => field.element));
    };
    const count = choice({
        label: say("page.places-round-ring-gear"),
        value: "4",
        options: [
            ["1", "1"],
            ["3", "3"],
            ["4", "4"],
            ["8", "8"],
        ],
        onchange: (key) => build(Number(key)),
    });
    const dial = choice({
        label: say("page.dial-stands"),
        value: view.record.gear_set.data.limits?.backlash_dial ?? "square-to-tooth",
        tall: true,
        options: [
            ["square-to-tooth", say("page.square-tooth-middle")],
            ["square-at-heel", say("page.square-tooth-heel")],
            ["outer-circumference", say("page.along-circle-heel")],
        ],
    });
    build(4);
    const newest = view.record.backlash.filter((entry) => !entry.struck).at(-1);
    return page(
        job,
        view,
        {
            title: say("page.backlash-round-the-ring"),
            intro: wantedRound(view),
            fields: [count, { element: place }, dial],
            kind: "backlash",
            list: view.record.backlash,
            extra:
                newest && newest.points.length > 2
                    ? waveChart(
                          newest.points,
                          view.record.build === "used-gears" ? null : view.gear.backlash_mm,
                          view.waves[newest.id],
                      )
                    : null,
            send: () => ({
                dial: dial.read(),
                points: fields.map((field, i) => ({
                    position_deg: (360 * i) / fields.length,
                    backlash_mm: field.read(),
                })),
            }),
            show: (entry) => entry.points.map((point) => units.length(point.backlash_mm)).join(", "),
        },
        refresh,
    );
}

const PLACES = [
    ["ring-gear", say("page.back-face-ring-gear")],
    ["carrier-flange", say("page.carrier-flange")],
    ["pinion-flange", say("page.pinion-flange")],
];
/// "Start with 0.032 in of shims": the total where the old stack is known, else the change.
function startWords({ change_mm: change, total_mm: total }) {
    if (total !== null) return say("page.start-with", units.bothLengths(total));
    if (Math.abs(change) < 5e-4) return say("page.start-as-it-was");
    return say(change > 0 ? "page.start-add" : "page.start-take-out", units.bothLengths(Math.abs(change)));
}
function startSheet(start) {
    return [
        start.stack_mm.length
            ? h("p", {}, say("page.start-stack", start.stack_mm.map((mm) => units.bothLengths(mm)).join(" + ")))
            : null,
        words(start.because),
        start.questions.length
            ? note("warn", h("p", {}, h("strong", {}, say("page.ask-first"))), words(start.questions))
            : null,
        words(start.cautions),
    ];
}

/// What goes with one way to find the start, and the fields of it.
function figureFields() {
    const old = lengthField({
        label: say("page.figure-old"),
        hint: say("page.figure-hint"),
        refuse: noFigure,
        signed: true,
    });
    const next = lengthField({
        label: say("page.figure-new"),
        hint: say("page.figure-none"),
        refuse: noFigure,
        signed: true,
        ask: (mm) => (farApart(mm, units.parseLength(old.input.value)) ? say("page.figures-far-apart") : null),
    });
    const stack = lengthField({ label: say("page.shims-of-old-pinion"), hint: say("page.stack-for-total"), most: 20 });
    const height = (label, hint) => lengthField({ label, hint, large: true, refuse: noBearing });
    const oldBearing = height(say("page.old-bearing"), say("page.bearing-hint"));
    const newBearing = height(say("page.new-bearing"), "");
    const housing = choice({
        label: say("page.old-pinion-ran-in"),
        value: "this",
        options: [
            ["this", say("page.this-housing")],
            ["other", say("page.other-housing")],
        ],
    });
    // A figure is a number: one typed in inches and the other in millimetres are asked about. 0 is the same in both.
    const inTwoUnits = () =>
        old.read() !== 0 && next.read() !== 0 && units.isMetric(old.input.value) !== units.isMetric(next.input.value);
    return {
        fields: [old, next, stack, oldBearing, newBearing, housing],
        body: () => {
            if (old.read() === null || next.read() === null) throw new Error(say("page.both-figures"));
            return {
                old_mark_mm: old.read(),
                new_mark_mm: next.read(),
                shim_stack_mm: stack.read(),
                marks_in_two_units: inTwoUnits() || null,
                old_bearing_mm: oldBearing.read(),
                new_bearing_mm: newBearing.read(),
                other_housing: housing.read() === "other" || null,
            };
        },
    };
}
function toolFields(nominal) {
    const depth = (label, hint, more = {}) => lengthField({ label, hint, large: true, refuse: noDepth, ...more });
    const measured = depth(say("page.depth-measured"), say("page.depth-measured-hint"), { required: true });
    const wanted = depth(
        say("page.depth-wanted"),
        nominal === null ? say("page.depth-wanted-hint") : say("page.depth-wanted-or", units.bothLengths(nominal)),
        {
            required: nominal === null,
            ask: (mm) =>
                farApart(mm, units.parseLength(measured.input.value, true)) ? say("page.depths-far-apart") : null,
        },
    );
    const figure =
        nominal === null
            ? null
            : lengthField({
                  label: say("page.figure-of-this-pinion"),
                  hint: say("page.figure-hint"),
                  refuse: noFigure,
                  signed: true,
              });
    const stack = lengthField({ label: say("page.shims-when-measured"), hint: say("page.stack-for-total"), most: 20 });
    return {
        fields: [measured, wanted, figure, stack].filter(Boolean),
        body: () => ({
            measured_mm: measured.read(),
            wanted_mm: wanted.read(),
            new_mark_mm: wanted.read() === null ? (figure?.read() ?? null) : null,
            shim_stack_mm: stack.read(),
        }),
    };
}

function startDepth(job, view, refresh) {
    const ways = { figures: figureFields(), tool: toolFields(view.gear.pinion_depth_mm) };
    const place = h("div", {});
    const put = (key) => place.replaceChildren(...ways[key].fields.map((one) => one.element));
    const way = choice({
        label: say("page.start-from"),
        value: "figures",
        options: [
            ["figures", say("page.from-figures")],
            ["tool", say("page.from-tool")],
        ],
        onchange: put,
    });
    put("figures");
    return page(
        job,
        view,
        {
            title: say("page.start-of-depth"),
            intro: say("page.start-intro"),
            fields: [way, { element: place }],
            kind: "depth",
            list: view.record.depth,
            send: () => given(Object.entries(ways[way.read()].body())),
            show: (entry) => (view.starts[entry.id] ? startWords(view.starts[entry.id]) : say("page.start-of-depth")),
            more: (entry) => (view.starts[entry.id] && !entry.struck ? startSheet(view.starts[entry.id]) : null),
        },
        refresh,
    );
}

function runout(job, view, refresh) {
    const where = choice({ label: say("page.where"), value: "ring-gear", tall: true, options: PLACES });
    const amount = lengthField({
        label: say("page.total-reading-over-one"),
        hint: wantedRunout(view.gear),
        most: MAX_RUNOUT_MM,
        required: true,
    });
    return page(
        job,
        view,
        {
            title: say("page.runout"),
            intro: say("page.dial-face-one-slow"),
            fields: [where, amount],
            kind: "runout",
            list: view.record.runout,
            send: () => ({ place: where.read(), runout_mm: amount.read() }),
            show: (entry) =>
                `${units.bothLengths(entry.runout_mm)}, ${PLACES.find(([key]) => key === entry.place)?.[1] ?? ""}`,
        },
        refresh,
    );
}

function carrier(job, view, refresh) {
    const torque = torqueField({ label: say("page.turning-torque-carrier") });
    const notches = (label) => numberField({ refuse: tooManyNotches, label });
    // Where the gear set does not say what holds the carrier, either can be there.
    const known = view.gear.given.carrier;
    const parts = [
        ...(!known || view.gear.adjusters
            ? [
                  ["left_notches", notches(say("page.left-adjuster-notches-past"))],
                  ["right_notches", notches(say("page.right-adjuster-notches-past"))],
              ]
            : []),
        ...(!known || !view.gear.adjusters
            ? [
                  ["left_shims_mm", lengthField({ label: say("page.shims-left") })],
                  ["right_shims_mm", lengthField({ label: say("page.shims-right") })],
              ]
            : []),
    ];
    const spread = lengthField({ label: say("page.spread-housing-press-shims") });
    return page(
        job,
        view,
        {
            title: say("page.preload-carrier-bearings"),
            intro: say("page.enter-measured-one-number"),
            fields: [torque, ...parts.map(([, field]) => field), spread],
            kind: "carrier",
            list: view.record.carrier,
            send() {
                const body = given([
                    ["torque_nm", torque.read()],
                    ...parts.map(([key, field]) => [key, field.read()]),
                    ["spread_mm", spread.read()],
                ]);
                if (Object.keys(body).length === 0) throw new Error(say("page.enter-one-number"));
                return body;
            },
            show: (entry) =>
                [
                    entry.torque_nm === null ? null : units.torque(entry.torque_nm),
                    entry.left_notches === null ? null : say("page.left-notches", entry.left_notches),
                    entry.right_notches === null ? null : say("page.right-notches", entry.right_notches),
                    entry.left_shims_mm === null
                        ? null
                        : say("page.left-side-amount", units.length(entry.left_shims_mm)),
                    entry.right_shims_mm === null
                        ? null
                        : say("page.right-side-amount", units.length(entry.right_shims_mm)),
                    entry.spread_mm === null ? null : say("page.spread", units.length(entry.spread_mm)),
                ]
                    .filter(Boolean)
                    .join(", "),
        },
        refresh,
    );
}

const entriesPath = (job) => `/api/jobs/${encodeURIComponent(job)}/entries/`;

/// What a line was ticked with, where that is more than the tick; null: nothing.
const wasTicked = ({ torque_nm: torque, note: remark, by }) =>
    torque === null && !remark
        ? null
        : {
              state: "done",
              by,
              ...given([
                  ["torque_nm", torque],
                  ["note", remark],
              ]),
          };

/// The box that a line of a check list is ticked in; `tell(words)` says what went wrong, null that nothing did. The line
/// of a joint is ticked with its torque: the box opens the `fields` for it.
function checkBox({ job, view, refresh, tell, isOpen }, item, name, fields) {
    const box = h("input", {
        type: "checkbox",
        id: name,
        checked: item.state === "done" && !isOpen(item),
        disabled: view.signed_off,
        async onchange() {
            tell(null);
            if (box.checked && fields) {
                box.checked = false;
                fields.open = true;
                fields.querySelector("input").focus();
                return;
            }
            box.disabled = true;
            const tick = (body) => api.post(`${entriesPath(job)}check`, { key: item.key, ...body });
            try {
                await tick({ state: box.checked ? "done" : "open", by: myName() });
                // The tick went with its torque and note: it comes back with them.
                if (!box.checked && wasTicked(item))
                    offerUndo(say("page.line-open-again", item.text), async () => {
                        await tick(wasTicked(item));
                        await refresh();
                    });
                await refresh();
                document.getElementById(name)?.focus({ preventScroll: true });
            } catch (fault) {
                tell(fault.message);
                box.checked = !box.checked;
                box.disabled = false;
            }
        },
    });
    return box;
}

/// The torque of one line of the check list, and what the maker's sheet wants.
async function torqueForm({ job, refresh }, item, name) {
    const torque = torqueField({ label: say("page.tightened"), bolts: true }),
        remark = textField({ label: say("page.torque-note") }),
        low = torqueField({ label: say("page.sheet-says-least"), bolts: true }),
        high = torqueField({ label: say("page.sheet-says-most"), bolts: true });
    const main = form({
        fields: [torque.element, h("div", { class: "two" }, low.element, high.element), remark.element],
        button: say("page.save"),
        async send() {
            const why = given([
                ["torque_nm", torque.read()],
                ["note", remark.read()],
            ]);
            if (Object.keys(why).length === 0) throw torque.complaint(say("page.torque-or-note"));
            const body = { key: item.key, state: "done", by: myName(), ...why };
            // One of the two alone is both.
            const least = low.read() ?? high.read(),
                most = high.read() ?? low.read();
            if (least !== null && least > most) throw new Error(say("page.least-above-most"));
            if (least !== null)
                Object.assign(body, { wanted_nm: [least, most], wanted_from: say("page.the-makers-sheet") });
            await api.post(`${entriesPath(job)}check`, body);
            await entered.forget();
            await refresh();
            // Its fields are folded away: the line comes back to where one looks.
            const again = document.getElementById(name);
            again?.focus({ preventScroll: true });
            again?.closest(".tick").scrollIntoView({ block: "nearest" });
        },
    });
    // A tick of another line draws the list anew: what was typed here stays, and in view.
    const entered = await keepEntered(`check/${job}/${item.key}`, main);
    const open = [torque, remark, low, high].some((field) => field.input.value !== "");
    return h("details", { open }, h("summary", {}, say("page.enter-torque")), main);
}

/// Why a line that was ticked is open again, beside a wrong torque, which its judgement tells.
const OPEN_AGAIN = {
    "without-torque": say("page.without-torque"),
    "before-change": say("page.before-last-change"),
};
function openAgain({ view }, item) {
    const words = OPEN_AGAIN[view.open_again[item.key]];
    return words ? h("span", { class: "tag warn" }, words) : null;
}

async function checkLine(page, item, number) {
    const { view } = page;
    const name = `check-${number}`;
    const judged = view.record.judgements.find((one) => one.entry === item.key);
    const fields = view.joints.includes(item.key) && !view.signed_off ? await torqueForm(page, item, name) : null;
    return h(
        "li",
        { class: "tick" },
        checkBox(page, item, name, fields),
        h(
            "div",
            {},
            h("label", { for: name }, item.text),
            item.only_at_the_end ? h("span", { class: "tag" }, say("page.only-end")) : null,
            item.state === "not-needed" ? h("span", { class: "tag" }, say("page.not-needed")) : null,
            openAgain(page, item),
            item.torque_nm === null ? null : h("p", { class: "small" }, units.torque(item.torque_nm, true)),
            judged
                ? h(
                      "p",
                      { class: "small" },
                      h("span", { class: `tag ${RESULT[judged.result][0]}` }, RESULT[judged.result][1]),
                      " ",
                      judged.sentence,
                  )
                : null,
            item.by && item.state === "done"
                ? h("p", { class: "small quiet" }, `${units.when(item.at)}, ${item.by}`)
                : null,
            item.note && item.state !== "open" ? h("p", { class: "small" }, item.note) : null,
            fields,
        ),
    );
}

/// A line of one's own at the end of a check list.
async function ownLineForm(job, list, refresh) {
    const own = textField({ label: say("page.line-own"), required: true });
    const main = form({
        fields: [own.element],
        button: say("page.add-the-line"),
        aside: true,
        async send() {
            await api.post(`${entriesPath(job)}own-check`, { list, text: own.read() });
            await entered.forget();
            await refresh();
        },
    });
    const entered = await keepEntered(`own-check/${job}/${list}`, main);
    return main;
}

/// The steps of a job that are check lists, and the list of each.
const LISTS = { parts: "parts", pinion: "pinion", torques: "torque", "final-assembly": "final-assembly" };

async function checks(job, view, key, refresh) {
    const list = LISTS[key];
    const [title, intro] = {
        parts: [say("page.parts"), say("page.parts-before-work")],
        pinion: [
            say("page.pinion-for-good"),
            say(spacerOf(view) === "crush-sleeve" ? "page.pinion-with-sleeve" : "page.pinion-without-sleeve"),
        ],
        torques: [say("page.torques"), say("page.values-come-makers-sheet")],
        "final-assembly": [say("page.final-assembly"), say("page.closed-when-rolled")],
    }[key];
    const step = view.status.steps.find((one) => one.key === key);
    const items = view.record.checks.filter((item) => item.list === list);
    const problem = h("div", { class: "note bad", role: "alert", hidden: true });
    const tell = (text) => {
        problem.textContent = text ?? "";
        problem.hidden = text === null;
    };
    const page = { job, view, refresh, tell, isOpen: (item) => step.open_lines.includes(item.key) };
    return {
        title,
        back: [`#/job/${job}`, say("page.job")],
        body: [
            h("h1", {}, title),
            h("p", {}, intro),
            problem,
            h("ul", { class: "plain" }, await Promise.all(items.map((item, number) => checkLine(page, item, number)))),
            view.signed_off ? null : await ownLineForm(job, list, refresh),
        ],
    };
}

export function measureView(job, view, what, refresh) {
    if (what in LISTS) return checks(job, view, what, refresh);
    return ({ preload, backlash, runout, carrier, "start-depth": startDepth }[what] ?? preload)(job, view, refresh);
}
