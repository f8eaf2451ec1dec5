// The readings beside the pattern: preload, backlash round the ring gear, runout, carrier, check lists.
import { h, note, s, say } from "./dom.js";
import * as api from "./api.js";
import * as units from "./units.js";
import { choice, form, keepEntered, lengthField, myName, numberField, oddBacklash, textField, torqueField } from "./fields.js";

const RESULT = { pass: ["good", "within limits"], fail: ["bad", "outside limits"], "no-limit-known": ["", "no limit known"] };

function history(job, view, list, show, refresh) {
    if (!list.length) return null;
    return [h("h2", {}, "Entered so far"), [...list].reverse().map((entry) => {
        const judged = view.record.judgements.filter((one) => one.entry === entry.id);
        return h("div", { class: "sheet" }, h("strong", {}, show(entry)), h("p", { class: "small quiet" }, `${units.when(entry.at)}${entry.by ? `, ${entry.by}` : ""}${entry.note ? `: ${entry.note}` : ""}`),
            judged.map((one) => h("p", { class: "small" }, h("span", { class: `tag ${RESULT[one.result][0]}` }, RESULT[one.result][1]), " ", one.sentence, one.source ? h("span", { class: "quiet" }, ` Limit: ${one.source}.`) : null)),
            entry.struck ? h("p", { class: "small" }, h("span", { class: "tag warn" }, "struck out"), ` ${entry.struck.why}`)
                : view.signed_off ? null : strikeButton(job, entry, refresh));
    })];
}

function strikeButton(job, entry, refresh) {
    const why = textField({ label: "Why it is wrong", required: true });
    return h("details", {}, h("summary", {}, "Strike out"), form({ fields: [why.element], button: "Strike it out", async send() {
        await api.post(`/api/jobs/${encodeURIComponent(job)}/entries/strike-out`, { entry: entry.id, by: myName(), why: why.read() });
        await refresh();
    } }));
}

/// What was saved last, so that the page says so beside the entry.
let saved = null;

async function page(job, view, { title, intro, fields, send, kind, list, show, extra }, refresh) {
    const remark = textField({ label: "Note (may stay empty)" });
    const place = `${job}/${kind}`;
    let request = api.newId();
    const main = view.signed_off ? null : form({ fields: [fields.map((field) => field.element), remark.element], button: "Save", async send() {
        const body = { by: myName(), ...send() };
        if (remark.read()) body.note = remark.read();
        try {
            await api.post(`/api/jobs/${encodeURIComponent(job)}/entries/${kind}`, body, request);
        } finally {
            request = api.newId();
        }
        await entered.forget();
        saved = place;
        say("Saved.");
        await refresh();
    } });
    const entered = main ? await keepEntered(`entry/${place}`, main) : null;
    const before = saved === place ? note("good", "Saved.") : null;
    saved = null;
    return {
        title, back: [`#/job/${job}`, "Job"],
        body: [h("h1", {}, title), h("p", {}, intro), extra ?? null, main ?? note("", "The job is signed off; reopen it to add to it."), before, history(job, view, list, show, refresh)],
    };
}

const given = (pairs) => Object.fromEntries(pairs.filter(([, value]) => value !== null && value !== ""));

function preload(job, view, refresh) {
    const limits = view.record.bearings === "new" ? view.gear.preload_new_nm : view.gear.preload_used_nm;
    const torque = torqueField({ label: "Turning torque of the pinion", hint: limits ? `Wanted: ${units.torque(limits[0])} to ${units.torque(limits[1])}, ${view.record.bearings} bearings.` : "No limit is in the gear set: the maker's sheet has it.", required: true });
    const stack = lengthField({ label: "Shims beside the solid spacer", hint: "Empty with a crush sleeve." });
    const seal = choice({ label: "Oil seal", value: "out", options: [["out", "not fitted"], ["in", "fitted, it drags"]] });
    return page(job, view, { title: "Pinion preload", intro: "Turn the pinion steadily with an inch-pound wrench, before the carrier goes in.", fields: [torque, stack, seal], kind: "preload", list: view.record.preload,
        send: () => ({ ...given([["torque_nm", torque.read()], ["stack_mm", stack.read()]]), with_oil_seal: seal.read() === "in" }),
        show: (entry) => `${units.torque(entry.torque_nm)}${entry.stack_mm === null ? "" : `, shims ${units.length(entry.stack_mm)}`}${entry.with_oil_seal ? ", with oil seal" : ""}` }, refresh);
}

/// The readings round the ring gear, the limits as a band, the mean, and how far it swings.
export function waveChart(points, limits, wave) {
    const values = points.map((point) => point.backlash_mm);
    const low = Math.min(...values, limits[0]), high = Math.max(...values, limits[1]), room = (high - low) * 0.15 || 0.02;
    const x = (deg) => 44 + (deg / 360) * 300, y = (mm) => 150 - ((mm - low + room) / (high - low + 2 * room)) * 130;
    const closed = [...points].sort((a, b) => a.position_deg - b.position_deg);
    closed.push({ position_deg: 360 + closed[0].position_deg, backlash_mm: closed[0].backlash_mm });
    // Smooth between the readings, level at none of them: slopes of the neighbours.
    const slope = (i) => {
        const n = closed.length - 1, before = closed[(i - 1 + n) % n], after = closed[(i + 1) % n || n];
        const span = ((after.position_deg - before.position_deg + 720) % 360) || 360;
        return (after.backlash_mm - before.backlash_mm) / span;
    };
    let path = `M${x(closed[0].position_deg)} ${y(closed[0].backlash_mm)}`;
    for (let i = 1; i < closed.length; ++i) {
        const a = closed[i - 1], b = closed[i], third = (b.position_deg - a.position_deg) / 3;
        path += `C${x(a.position_deg + third)} ${y(a.backlash_mm + third * slope(i - 1))} ${x(b.position_deg - third)} ${y(b.backlash_mm - third * slope(i % (closed.length - 1)))} ${x(b.position_deg)} ${y(b.backlash_mm)}`;
    }
    const mean = wave?.mean_mm ?? values.reduce((sum, value) => sum + value, 0) / values.length;
    const words = `Backlash round the ring gear: ${points.length} readings from ${units.bothLengths(Math.min(...values))} to ${units.bothLengths(Math.max(...values))}.${wave ? ` It swings by ${units.bothLengths(wave.amplitude_mm)} either way once a turn, give or take ${units.length(2 * wave.amplitude_sigma_mm)}.` : ""}`;
    return h("figure", { class: "sketch" }, s("svg", { class: "chart", viewBox: "0 0 360 180", role: "img", "aria-label": words },
        s("rect", { class: "band", x: x(0), y: y(limits[1]), width: x(360) - x(0), height: y(limits[0]) - y(limits[1]) }),
        s("path", { class: "mean", d: `M${x(0)} ${y(mean)}H${x(360)}` }), points.length > 2 ? s("path", { class: "curve", d: path }) : null,
        closed.slice(0, -1).map((point) => s("circle", { cx: x(point.position_deg), cy: y(point.backlash_mm), r: 4.5 })),
        limits.map((mm) => s("text", { x: 2, y: y(mm) + 4 }, units.bareLength(mm))),
        [0, 90, 180, 270, 360].map((deg) => s("text", { x: x(deg), y: 172, "text-anchor": "middle" }, `${deg}\u00b0`))), h("figcaption", {}, words));
}

function backlash(job, view, refresh) {
    let fields = [];
    const place = h("div", { class: "eight" });
    const build = (count) => {
        fields = Array.from({ length: count }, (_, i) => lengthField({ label: `${Math.round((360 * i) / count)}\u00b0`, required: true, ask: oddBacklash }));
        place.replaceChildren(...fields.map((field) => field.element));
    };
    const count = choice({ label: "Places round the ring gear", value: "4", options: [["1", "1"], ["3", "3"], ["4", "4"], ["8", "8"]], onchange: (key) => build(Number(key)) });
    const dial = choice({ label: "The dial stands", value: "square-to-tooth", tall: true, options: [["square-to-tooth", "square to a tooth, at its middle"], ["outer-circumference", "along the circle at the heel"]] });
    build(4);
    const newest = view.record.backlash.filter((entry) => !entry.struck).at(-1);
    return page(job, view, { title: "Backlash round the ring gear", intro: `Wanted: ${units.bothLengths(view.gear.backlash_mm[0])} to ${units.bothLengths(view.gear.backlash_mm[1])}, varying by at most ${units.bothLengths(view.gear.backlash_variation_mm)}.`,
        fields: [count, { element: place }, dial], kind: "backlash", list: view.record.backlash,
        extra: newest && newest.points.length > 2 ? waveChart(newest.points, view.gear.backlash_mm, view.waves[newest.id]) : null,
        send: () => ({ dial: dial.read(), points: fields.map((field, i) => ({ position_deg: (360 * i) / fields.length, backlash_mm: field.read() })) }),
        show: (entry) => entry.points.map((point) => units.length(point.backlash_mm)).join(", ") }, refresh);
}

const PLACES = [["ring-gear", "back face of the ring gear"], ["carrier-flange", "carrier flange"], ["pinion-flange", "pinion flange"]];
function runout(job, view, refresh) {
    const where = choice({ label: "Where", value: "ring-gear", tall: true, options: PLACES });
    const amount = lengthField({ label: "Total reading over one turn", hint: `Ring gear: at most ${units.bothLengths(view.gear.ring_runout_mm)}.`, required: true });
    return page(job, view, { title: "Runout", intro: "Dial on the face, one slow turn, the largest reading less the smallest.", fields: [where, amount], kind: "runout", list: view.record.runout,
        send: () => ({ place: where.read(), runout_mm: amount.read() }), show: (entry) => `${units.bothLengths(entry.runout_mm)}, ${PLACES.find(([key]) => key === entry.place)?.[1] ?? ""}` }, refresh);
}

function carrier(job, view, refresh) {
    const torque = torqueField({ label: "Turning torque with the carrier in" });
    const parts = view.gear.adjusters ? [["left_notches", numberField({ label: "Left adjuster, notches past zero play" })], ["right_notches", numberField({ label: "Right adjuster, notches past zero play" })]]
        : [["left_shims_mm", lengthField({ label: "Shims at the left" })], ["right_shims_mm", lengthField({ label: "Shims at the right" })]];
    const spread = lengthField({ label: "Spread of the housing, or press of the shims" });
    return page(job, view, { title: "Preload of the carrier bearings", intro: "Enter what you measured; one number is enough.", fields: [torque, ...parts.map(([, field]) => field), spread], kind: "carrier", list: view.record.carrier,
        send: () => given([["torque_nm", torque.read()], ...parts.map(([key, field]) => [key, field.read()]), ["spread_mm", spread.read()]]),
        show: (entry) => [entry.torque_nm === null ? null : units.torque(entry.torque_nm), entry.left_notches === null ? null : `left ${entry.left_notches} notches`, entry.right_notches === null ? null : `right ${entry.right_notches} notches`,
            entry.left_shims_mm === null ? null : `left ${units.length(entry.left_shims_mm)}`, entry.right_shims_mm === null ? null : `right ${units.length(entry.right_shims_mm)}`, entry.spread_mm === null ? null : `spread ${units.length(entry.spread_mm)}`].filter(Boolean).join(", ") }, refresh);
}

function checks(job, view, list, refresh) {
    const torques = list === "torque";
    const items = view.record.checks.filter((item) => item.list === list);
    const path = `/api/jobs/${encodeURIComponent(job)}/entries/`;
    const problem = h("div", { class: "note bad", role: "alert", hidden: true });
    const line = (item, number) => {
        const name = `check-${number}`;
        const box = h("input", { type: "checkbox", id: name, checked: item.state === "done", disabled: view.signed_off, async onchange() {
            problem.hidden = true;
            box.disabled = true;
            try {
                await api.post(`${path}check`, { key: item.key, state: box.checked ? "done" : "open", by: myName() });
                await refresh();
                document.getElementById(name)?.focus({ preventScroll: true });
            } catch (fault) {
                problem.textContent = fault.message;
                problem.hidden = false;
                box.checked = !box.checked;
                box.disabled = false;
            }
        } });
        const judged = view.record.judgements.find((one) => one.entry === item.key);
        const torque = torques ? torqueField({ label: "Tightened to", bolts: true, required: true }) : null, low = torques ? torqueField({ label: "Sheet says, least", bolts: true }) : null, high = torques ? torqueField({ label: "Sheet says, most", bolts: true }) : null;
        return h("li", { class: "tick" }, box, h("div", {}, h("label", { for: name }, item.text), item.only_at_the_end ? h("span", { class: "tag" }, "only at the end") : null, item.state === "not-needed" ? h("span", { class: "tag" }, "not needed") : null,
            item.torque_nm === null ? null : h("p", { class: "small" }, units.torque(item.torque_nm, true)), judged ? h("p", { class: "small" }, h("span", { class: `tag ${RESULT[judged.result][0]}` }, RESULT[judged.result][1]), " ", judged.sentence) : null,
            item.by && item.state === "done" ? h("p", { class: "small quiet" }, `${units.when(item.at)}, ${item.by}`) : null,
            torques && !view.signed_off ? h("details", {}, h("summary", {}, "Enter the torque"), form({ fields: [torque.element, h("div", { class: "two" }, low.element, high.element)], button: "Save", async send() {
                const body = { key: item.key, state: "done", by: myName(), torque_nm: torque.read() };
                if (low.read() !== null && high.read() !== null) Object.assign(body, { wanted_nm: [low.read(), high.read()], wanted_from: "the maker's sheet" });
                await api.post(`${path}check`, body);
                await refresh();
            } })) : null));
    };
    const own = textField({ label: "A line of your own", required: true });
    return {
        title: torques ? "Torques" : "Final assembly", back: [`#/job/${job}`, "Job"],
        body: [h("h1", {}, torques ? "Torques" : "Final assembly"), h("p", {}, torques ? "Values come from the maker's sheet only." : "Oil seals and O-ring go in when the pattern is accepted, not before."), problem, h("ul", { class: "plain" }, items.map(line)),
            view.signed_off ? null : form({ fields: [own.element], button: "Add the line", async send() { await api.post(`${path}own-check`, { list, text: own.read() }); await refresh(); } })],
    };
}

export function measureView(job, view, what, refresh) {
    if (what === "torques") return checks(job, view, "torque", refresh);
    if (what === "final-assembly") return checks(job, view, "final-assembly", refresh);
    return ({ preload, backlash, runout, carrier }[what] ?? preload)(job, view, refresh);
}
