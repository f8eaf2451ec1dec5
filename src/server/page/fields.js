// Fields of forms: lengths and torques with their unit, choices, words.
import { h, newName } from "./dom.js";
import * as units from "./units.js";
import { say } from "./words.js";

function field({ label, hint = "", unit, value = "", parse, tell, required = false, typed }) {
    const name = newName();
    const below = h("span", { class: "hint", id: `${name}-hint` }, hint);
    const input = h("input", { type: "text", inputmode: "decimal", id: name, autocomplete: "off", "aria-describedby": `${name}-hint`, "data-typed": typed, required, value });
    const check = () => {
        const parsed = parse(input.value);
        const wrong = Number.isNaN(parsed);
        below.classList.toggle("bad", wrong);
        input.setAttribute("aria-invalid", wrong ? "true" : "false");
        below.textContent = wrong ? say("page.no-number-can-used") : parsed === null ? hint : tell(parsed);
        return parsed;
    };
    input.addEventListener("input", check);
    return {
        element: h("div", { class: "field" }, h("label", { for: name }, label), h("div", { class: "withunit" }, input, h("span", { class: "unit", "aria-hidden": "true" }, unit)), below),
        input,
        /// The value; null: left empty. Throws with a sentence when it cannot be used.
        read() {
            const parsed = check();
            if (Number.isNaN(parsed) || (required && parsed === null)) {
                input.focus();
                throw new Error(parsed === null ? say("page.enter-first", label) : say("page.this-is-no-number", label));
            }
            return parsed;
        },
    };
}

/// A length, typed in the unit of the switch or with its own. `large`: inches are whole ones (a ring gear's diameter).
export const lengthField = ({ label, hint, mm, required, large }) => field({
    label, hint, required, typed: large ? "large" : "length", unit: units.currentUnit() === "mm" ? "mm" : "in", value: units.typedLength(mm),
    parse: (text) => units.parseLength(text, large), tell: (value) => `= ${units.bothLengths(value)}`,
});

export const torqueField = ({ label, hint, bolts, required }) => field({
    label, hint, required, typed: bolts ? "bolts" : "torque", unit: units.torqueUnit(bolts), parse: (text) => units.parseTorque(text, bolts), tell: (nm) => `= ${units.torque(nm, bolts)}`,
});

export const numberField = ({ label, hint, required, value, whole }) => field({
    label, hint, required, unit: "", value,
    parse: (text) => (text.trim() === "" ? null : (whole ? /^[+-]?\d+$/ : /^[+-]?\d+([.,]\d+)?$/).test(text.trim()) ? Number(text.trim().replace(",", ".")) : NaN),
    tell: () => hint ?? "",
});

export function textField({ label, hint = "", value = "", required = false, long = false, autocomplete = "off" }) {
    const name = newName();
    const input = h(long ? "textarea" : "input", { ...(long ? {} : { type: "text" }), id: name, autocomplete, maxlength: 500, required, value, "aria-describedby": `${name}-hint` });
    return {
        element: h("div", { class: "field" }, h("label", { for: name }, label), input, h("span", { class: "hint", id: `${name}-hint` }, hint)),
        input,
        read() {
            if (required && input.value.trim() === "") {
                input.focus();
                throw new Error(say("page.enter-first", label));
            }
            return input.value.trim();
        },
    };
}

/// One of a few: large targets side by side.
export function choice({ label, options, value, tall = false, onchange }) {
    const name = newName();
    const inputs = options.map(([key, words]) => {
        const input = h("input", { type: "radio", name, value: key, checked: key === value, onchange: () => onchange?.(key) });
        return [input, h("label", {}, input, words)];
    });
    return {
        element: h("fieldset", {}, h("legend", {}, label), h("div", { class: tall ? "choices tall" : "choices" }, inputs.map(([, element]) => element))),
        read: () => inputs.find(([input]) => input.checked)?.[0].value ?? null,
        set: (key) => inputs.forEach(([input]) => { input.checked = input.value === key; }),
    };
}

export const myName = () => localStorage.getItem("shimsight-by") ?? "";
export const setMyName = (name) => localStorage.setItem("shimsight-by", name);

/// A form with one large button. `send` throws with a sentence when something is wrong.
export function form({ fields, button, send, busyWords = say("page.saving") }) {
    const problem = h("div", { class: "note bad", role: "alert", hidden: true });
    const submit = h("button", { class: "act first wide", type: "submit" }, button);
    return h("form", {
        novalidate: true,
        async onsubmit(event) {
            event.preventDefault();
            problem.hidden = true;
            submit.disabled = true;
            submit.textContent = busyWords;
            try {
                await send();
            } catch (fault) {
                problem.textContent = fault.message;
                problem.hidden = false;
                problem.scrollIntoView({ block: "nearest" });
            } finally {
                submit.disabled = false;
                submit.textContent = button;
            }
        },
    }, fields, problem, submit);
}
