// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// Fields of forms: lengths and torques with their unit, choices, words.
import { announce, h, newName, write } from "./dom.js";
import * as store from "./store.js";
import * as units from "./units.js";
import { say } from "./words.js";

/// An error that a form shows where it belongs, and brings into view: at `at`. `shown`: it stands there already.
const faultAt = (at, sentence, shown) => Object.assign(new Error(sentence), { at, shown });
/// As `faultAt`, put in words below the field, in `below`, until something is entered.
function complaintAt(input, below, sentence) {
    write(below, sentence);
    below.classList.add("bad");
    input.setAttribute("aria-invalid", "true");
    input.focus({ preventScroll: true });
    return faultAt(input, sentence, true);
}

/// `value`: of the text that is there at first, by the unit. `typed`: in which kind of unit it is typed.
/// `ask`: a question about a value that is odd, null for one that is not.
/// `refuse`: why a value cannot be, in the page's words; null where it can.
/// `signed`: the keys of a phone that has a minus.
function field({
    label,
    hint = "",
    unit,
    value = () => "",
    parse,
    tell,
    required = false,
    typed,
    ask = () => null,
    refuse = () => null,
    signed = false,
}) {
    const name = newName();
    const below = h("span", { class: "hint", id: `${name}-hint` }, hint);
    const input = h("input", {
        type: "text",
        inputmode: signed ? "text" : "decimal",
        id: name,
        autocomplete: "off",
        "aria-describedby": `${name}-hint`,
        "data-typed": typed,
        required,
        value: value(),
    });
    const check = () => {
        const parsed = parse(input.value);
        const refused = parsed === null || Number.isNaN(parsed) ? null : refuse(parsed);
        const wrong = Number.isNaN(parsed) || refused !== null;
        below.classList.toggle("bad", wrong);
        input.setAttribute("aria-invalid", wrong ? "true" : "false");
        // The hint, often a limit, stays in view while one types.
        const odd = parsed === null || wrong ? null : ask(parsed);
        const said = wrong ? (refused ?? say("page.no-number-can-used")) : parsed === null ? "" : tell(parsed);
        write(below, [odd, said, said === hint ? "" : hint].filter(Boolean).join(" "));
        below.classList.toggle("odd", odd !== null);
        return refused === null ? parsed : NaN;
    };
    input.addEventListener("input", check);
    if (typed) turnable(input, typed, value, check);
    return {
        element: h(
            "div",
            { class: "field" },
            h("label", { for: name }, label),
            h("div", { class: "withunit" }, input, h("span", { class: "unit", "aria-hidden": "true" }, unit)),
            below,
        ),
        input,
        complaint: (sentence) => complaintAt(input, below, sentence),
        /// The value; null: left empty. Throws with a sentence when it cannot be used.
        read() {
            const parsed = check();
            if (required && parsed === null) throw complaintAt(input, below, say("page.enter-first", label));
            if (Number.isNaN(parsed)) {
                input.focus({ preventScroll: true });
                // What stands below the field says it in full.
                throw faultAt(input, `${label}: ${below.textContent}`, false);
            }
            return parsed;
        },
    };
}

/// What no axle has is said at the field, in the unit of the page.
const within = (least, most, words) => (value) =>
    value < least || value > most ? say("page.from-to", words(least), words(most)) : null;
/// As the record takes them.
const MAX_MM = 50,
    MAX_TURNING_NM = 100,
    MAX_BOLT_NM = 3000,
    MAX_NOTCHES = 1000;
export const tooManyNotches = within(-MAX_NOTCHES, MAX_NOTCHES, String);
export const MAX_BACKLASH_MM = 5,
    MAX_RUNOUT_MM = 10;

/// A length, typed in the unit of the switch or with its own. `large`: inches are whole ones (a ring gear's diameter).
/// `most`: of the record, millimetres.
export const lengthField = ({
    label,
    hint,
    mm,
    required,
    large,
    ask,
    most = MAX_MM,
    refuse = within(0, most, units.length),
    signed,
}) =>
    field({
        label,
        hint,
        required,
        ask,
        refuse,
        signed,
        typed: large ? "large" : "length",
        unit: units.unitName("length"),
        value: () => units.typedLength(mm),
        // What stands there untouched is what it was, not what is left of it in the unit of the page.
        parse: (text) =>
            typeof mm === "number" && text === units.typedLength(mm) ? mm : units.parseLength(text, large),
        tell: (value) => `= ${units.bothLengths(value)}.`,
    });

/// Backlash that no set-up is left with: typed wrongly, or a fault to look at first.
const LARGE_BACKLASH_MM = 0.5;
export const oddBacklash = (mm) =>
    mm <= 0 ? say("page.backlash-none") : mm > LARGE_BACKLASH_MM ? say("page.backlash-far-more") : null;
/// Farther apart than two pinions of one kind are: 0.015 in, as the record asks (common practice, no source).
const ODD_DEPTH_MM = 0.381;
export const farApart = (a, b) => a !== null && b !== null && Math.abs(a - b) > ODD_DEPTH_MM;
/// A depth figure etched on a pinion: thousandths of an inch, or hundredths of a millimetre, with its sign.
const MAX_FIGURE_MM = 1;
export const noFigure = (mm) =>
    Math.abs(mm) > MAX_FIGURE_MM ? say("page.figure-too-large", units.length(MAX_FIGURE_MM)) : null;
/// What a pinion's depth can be at all, as the record takes it.
export const noDepth = within(5, 500, units.length);
/// Of the height of a pinion bearing, cone in cup.
export const noBearing = within(0, 150, units.length);
/// A ring gear of less than 2 in or more than 3 ft was typed in the other unit.
export const oddDiameter = (mm) => (mm < 50 || mm > 900 ? say("page.right-unit") : null);

/// Beyond what any joint of an axle, and five times what new bearings ask for: as the record asks (common practice, no
/// source).
const ODD_BOLT_NM = [5, 1800],
    ODD_TURNING_NM = 12;
const oddTorque = (bolts) => (nm) =>
    (bolts ? nm < ODD_BOLT_NM[0] || nm > ODD_BOLT_NM[1] : nm > ODD_TURNING_NM) ? say("page.right-unit") : null;

export const torqueField = ({
    label,
    hint,
    bolts,
    required,
    refuse = within(0, bolts ? MAX_BOLT_NM : MAX_TURNING_NM, (nm) => units.torque(nm, bolts)),
}) =>
    field({
        label,
        hint,
        required,
        refuse,
        ask: oddTorque(bolts),
        typed: bolts ? "bolts" : "torque",
        unit: units.unitName(bolts ? "bolts" : "torque"),
        parse: (text) => units.parseTorque(text, bolts),
        tell: (nm) => `= ${units.torque(nm, bolts)}.`,
    });

export const numberField = ({ label, hint, required, value, whole, refuse }) =>
    field({
        label,
        hint,
        required,
        refuse,
        unit: "",
        value: () => value ?? "",
        parse: (text) =>
            text.trim() === ""
                ? null
                : (whole ? /^[+-]?\d+$/ : /^[+-]?\d+([.,]\d+)?$/).test(text.trim())
                  ? Number(text.trim().replace(",", "."))
                  : NaN,
        tell: () => hint ?? "",
    });

/// `typed`: "list" for lengths with commas between.
export function textField({
    label,
    hint = "",
    value = "",
    required = false,
    long = false,
    autocomplete = "off",
    typed,
}) {
    const name = newName();
    const input = h(long ? "textarea" : "input", {
        ...(long ? {} : { type: "text" }),
        id: name,
        autocomplete,
        maxlength: 500,
        required,
        value,
        "aria-describedby": `${name}-hint`,
        "data-typed": typed,
    });
    if (typed) turnable(input, typed, () => value);
    const below = h("span", { class: "hint", id: `${name}-hint` }, hint);
    input.addEventListener("input", () => {
        if (!below.classList.contains("bad")) return;
        below.classList.remove("bad");
        input.removeAttribute("aria-invalid");
        write(below, hint);
    });
    return {
        element: h("div", { class: "field" }, h("label", { for: name }, label), input, below),
        input,
        read() {
            if (required && input.value.trim() === "") throw complaintAt(input, below, say("page.enter-first", label));
            return input.value.trim();
        },
    };
}

/// How each field takes the turn of the unit switch: a function to call before it gives one to call after it.
const turns = new WeakMap();
function turnable(input, typed, value, then = () => {}) {
    turns.set(input, () => {
        const untouched = input.value === value();
        const kept = units.withUnit(input.value, typed);
        return () => {
            input.value = untouched ? value() : kept;
            then();
        };
    });
}

/// Names both units on the switch, the one in use filled: what it does is seen before it is touched.
export function nameUnits(button) {
    const inch = units.currentUnit() === "in";
    button.replaceChildren(
        ...["in", "mm"].flatMap((unit, place) => [
            place ? " " : "",
            h("span", { class: (unit === "in") === inch ? "now" : "" }, unit),
        ]),
    );
    button.setAttribute(
        "aria-label",
        inch ? say("page.lengths-inches-switch-millimetres") : say("page.mm-lengths-millimetres-switch"),
    );
}

/// What was typed keeps its meaning when the unit is switched: a bare number gets the unit in which it was typed.
export function beforeUnitTurn(root) {
    const after = [...root.querySelectorAll("input, textarea")].map((input) => turns.get(input)?.());
    return () => after.forEach((one) => one?.());
}

const isChoice = (input) => input.type === "radio" || input.type === "checkbox";

/// The inputs below `root` by what they are called, so that what was kept never lands in another one when choices came or
/// went since.
function namedInputs(root) {
    const all = new Map();
    for (const input of root.querySelectorAll("input:not([type=file]), textarea, select")) {
        // Not input.labels: the form may not be on the page yet.
        const label = root.querySelector(`label[for="${input.id}"]`) ?? input.closest("label");
        const words = (input.closest("fieldset")?.querySelector("legend") ?? label)?.textContent ?? "";
        const name = input.type === "radio" ? `${words}|${input.value}` : words;
        let twin = 1;
        while (all.has(`${name}|${twin}`)) ++twin;
        all.set(`${name}|${twin}`, input);
    }
    return all;
}

/// What is entered below `root` is kept by the browser under `key` with each change, and put back now. Gives `forget`, for
/// when it was sent.
export async function keepEntered(key, root) {
    const kept = await store.get("drafts", key);
    // One after the other: a choice may bring further fields. What an older page kept by numbers is let go.
    for (const [name, value] of kept instanceof Map ? kept : []) {
        const input = namedInputs(root).get(name);
        if (!input || isChoice(input) !== (typeof value === "boolean")) continue;
        if (!isChoice(input)) {
            if (input.value === value) continue;
            input.value = value;
            input.dispatchEvent(new Event("input"));
        } else if (input.checked !== value) {
            input.checked = value;
            if (value) input.dispatchEvent(new Event("change"));
        }
    }
    const valueOf = (input) =>
        isChoice(input)
            ? input.checked
            : input.dataset.typed
              ? units.withUnit(input.value, input.dataset.typed)
              : input.value;
    const keep = () =>
        store.put("drafts", key, new Map([...namedInputs(root)].map(([name, input]) => [name, valueOf(input)])));
    root.addEventListener("input", keep);
    root.addEventListener("change", keep);
    return { forget: () => store.remove("drafts", key) };
}

/// One of a few: large targets side by side.
export function choice({ label, options, value, tall = false, onchange }) {
    const name = newName();
    const inputs = options.map(([key, words, picture]) => {
        const input = h("input", {
            type: "radio",
            name,
            value: key,
            checked: key === value,
            onchange: () => onchange?.(key),
        });
        return [input, h("label", picture ? { class: "pictured" } : {}, input, picture, h("span", {}, words))];
    });
    const below = h("span", { class: "hint bad", hidden: true });
    const element = h(
        "fieldset",
        {},
        h("legend", {}, label),
        below,
        h(
            "div",
            { class: tall ? "choices tall" : "choices" },
            inputs.map(([, one]) => one),
        ),
    );
    element.addEventListener("change", () => {
        below.hidden = true;
    });
    return {
        element,
        /// The fault that nothing, or the wrong thing, is chosen: told above the choices.
        complaint(sentence) {
            write(below, sentence);
            below.hidden = false;
            inputs[0][0].focus({ preventScroll: true });
            return faultAt(element, sentence, true);
        },
        options: inputs.map(([input, element]) => ({ key: input.value, element })),
        read: () => inputs.find(([input]) => input.checked)?.[0].value ?? null,
        set: (key) =>
            inputs.forEach(([input]) => {
                input.checked = input.value === key;
            }),
    };
}

/// The name that was given on this device.
export const ownName = () => localStorage.getItem("shimsight-by") ?? "";
let shopName = "";
/// Who enters things in this shop, until a name is given on this device.
export function setShopName(name) {
    shopName = name ?? "";
}
export const myName = () => localStorage.getItem("shimsight-by") ?? shopName;
export const setMyName = (name) => localStorage.setItem("shimsight-by", name);

/// A form with one large button, not a calling one where it is `aside`. `send` throws with a sentence when something is wrong.
export function form({ fields, button, send, aside = false, busyWords = say("page.saving") }) {
    const problem = h("div", { class: "note bad", role: "alert", hidden: true });
    const submit = h("button", { class: aside ? "act less wide" : "act first wide", type: "submit" }, button);
    const main = h(
        "form",
        {
            novalidate: true,
            async onsubmit(event) {
                event.preventDefault();
                const at = location.hash;
                problem.hidden = true;
                submit.disabled = true;
                submit.textContent = busyWords;
                const sending = (async () => send())();
                // What is typed now would be gone when the page is drawn again with the answer.
                const typed = [...main.querySelectorAll("input, textarea")].filter((one) => !one.readOnly);
                for (const one of typed) one.readOnly = true;
                try {
                    await sending;
                } catch (fault) {
                    // Whoever went elsewhere meanwhile is told there, too.
                    if (!main.isConnected) {
                        const detail = { sentence: say("page.was-not-saved", fault.message), at };
                        window.dispatchEvent(new CustomEvent("notsaved", { detail }));
                        return;
                    }
                    // At its field, however far above the button that is.
                    problem.hidden = fault.shown === true;
                    if (!fault.shown) write(problem, fault.message);
                    const place = fault.at?.closest(".field, fieldset");
                    if (place) {
                        place.scrollIntoView({ block: place.localName === "fieldset" ? "start" : "center" });
                        announce(fault.message);
                    } else problem.scrollIntoView({ block: "nearest" });
                } finally {
                    for (const one of typed) one.readOnly = false;
                    submit.disabled = false;
                    submit.textContent = button;
                }
            },
        },
        fields,
        problem,
        submit,
    );
    return main;
}
