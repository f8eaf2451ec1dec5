// What the pages of drill and game share, at the bench and on a stick: marks to point at, sliders, what is known.
import { h, newName, s, setAttribute, sketch, write } from "./dom.js";
import * as units from "./units.js";
import { say } from "./words.js";

// Marks ---------------------------------------------------------------------------------------------------------------

export const SIDES = [
    ["drive", say("common.drive-side-title")],
    ["coast", say("common.coast-side-title")],
];

/// Both sides; each a sketch as the program drew it, or an element.
export const pair = (sketches) =>
    h(
        "div",
        { class: "pairs" },
        SIDES.filter(([side]) => sketches[side]).map(([side, title]) =>
            h(
                "figure",
                {},
                sketches[side] instanceof Node ? sketches[side] : sketch(sketches[side]),
                h("figcaption", {}, title),
            ),
        ),
    );

const numbersOf = (path) => (path.match(/-?[\d.]+/g) ?? []).map(Number);

/// An empty flank, for pointing where a photo shows the mark.
const EMPTY = `<svg class="fk" viewBox="0 0 340 160" role="img"><path class="fk-steel" d="M40 137L300 137L300 19L40 45Z"/><text class="fk-word" x="19" y="95">${say("common.toe")}</text><text class="fk-word" x="322" y="95">${say("common.heel")}</text><text class="fk-word" x="170" y="24">${say("common.tip")}</text><text class="fk-word" x="170" y="155">${say("common.root")}</text></svg>`;

const ALONG = [
        ["toe", say("common.toe")],
        ["centre", say("page.middle")],
        ["heel", say("common.heel")],
    ],
    UP = [
        ["face", say("page.tip-half")],
        ["centre", say("page.mid-height")],
        ["flank", say("page.root-half")],
    ];
/// The same zones as the program's own words for a pattern.
const zone = (value, low, high) => (value < 0.42 ? low : value > 0.58 ? high : "centre");

/// A flank on which somebody points at the middle of the mark, and the same as choices. `place`: {along, up, dot}, which
/// is changed in place. `above`: a photo of it.
export function pointer(title, text, place, onchange, above = null) {
    const svg = sketch(text ?? EMPTY, { whole: true });
    svg.setAttribute("aria-label", text ? say("page.tap-on-the-mark", title) : say("page.tap-on-the-flank", title));
    svg.classList.add("aim");
    const [left, foot, right, , , heelTip, , toeTip] = numbersOf(svg.querySelector(".fk-steel").getAttribute("d"));
    const head = (u) => toeTip + (heelTip - toeTip) * u;
    const dot = s("g", { class: "aimed" });
    svg.append(dot);
    const group = (label, options, key) => {
        const name = newName();
        const inputs = options.map(([value, words]) => ({
            value,
            element: h("input", {
                type: "radio",
                name,
                value,
                checked: place[key] === value,
                onchange: () => {
                    place[key] = value;
                    place.dot = null;
                    drawDot();
                    onchange();
                },
            }),
            words,
        }));
        return {
            element: h(
                "fieldset",
                { class: "tight" },
                h("legend", {}, label),
                h(
                    "div",
                    { class: "choices even" },
                    inputs.map((one) => h("label", {}, one.element, one.words)),
                ),
            ),
            show: () =>
                inputs.forEach((one) => {
                    one.element.checked = place[key] === one.value;
                }),
        };
    };
    const along = group(say("page.along-tooth"), ALONG, "along"),
        up = group(say("page.up-tooth"), UP, "up");
    function drawDot() {
        dot.replaceChildren();
        if (!place.dot) return;
        const [u, v] = place.dot;
        const at = { cx: left + (right - left) * u, cy: foot - (foot - head(u)) * v, r: 8 };
        dot.append(s("circle", { class: "halo", ...at }), s("circle", { class: "ring", ...at }));
    }
    svg.addEventListener("click", (event) => {
        const at = new DOMPoint(event.clientX, event.clientY).matrixTransform(svg.getScreenCTM().inverse());
        const keep = (value) => Math.min(Math.max(value, 0), 1);
        const u = keep((at.x - left) / (right - left)),
            v = keep((foot - at.y) / (foot - head(u)));
        place.dot = [u, v];
        place.along = zone(u, "toe", "heel");
        place.up = zone(v, "flank", "face");
        along.show();
        up.show();
        drawDot();
        onchange();
    });
    drawDot();
    return h(
        "section",
        { class: "sheet", "aria-label": title },
        h("h2", {}, title),
        above,
        svg,
        along.element,
        up.element,
    );
}

// Changes -------------------------------------------------------------------------------------------------------------

/// How far the sliders reach, mm.
export const REACH_MM = { depth: 0.6096, backlash: 0.3048 };
export const stepsOf = (reach, step) => Math.floor(reach / step + 1e-6);

function slider(label, [reach, step], value, tell, onchange) {
    const most = stepsOf(reach, step);
    const name = newName();
    const output = h("output", { for: name }, tell(value));
    const input = h("input", {
        type: "range",
        id: name,
        min: -most,
        max: most,
        step: 1,
        value: Math.round(value / step),
        "aria-valuetext": tell(value),
        oninput: () => {
            const mm = Number(input.value) * step;
            write(output, tell(mm));
            setAttribute(input, "aria-valuetext", tell(mm));
            onchange(mm);
        },
    });
    return h("div", { class: "field slide" }, h("label", { for: name }, h("span", {}, label), " ", output), input);
}

/// Depth and backlash to change, in the steps that the shims and the dial have. `move`: {deeper, more} in millimetres,
/// which is changed in place; where `one` asks for a shim, `deeper` is how much thicker it gets.
export function changeSliders(move, one, onchange) {
    const steps = one.steps_mm;
    const tell = (plus, minus) => (mm) =>
        mm === 0 ? say("page.as-it-is") : `${units.bothLengths(Math.abs(mm))} ${mm > 0 ? plus : minus}`;
    return h(
        "div",
        {},
        slider(
            one.shim ?? say("page.pinion-depth"),
            [REACH_MM.depth, steps.depth],
            move.deeper,
            one.shim ? tell("thicker", "thinner") : tell("deeper", "shallower"),
            (mm) => {
                move.deeper = mm;
                onchange();
            },
        ),
        slider(say("page.backlash"), [REACH_MM.backlash, steps.backlash], move.more, tell("more", "less"), (mm) => {
            move.more = mm;
            onchange();
        }),
        h("p", { class: "small quiet" }, say("page.shims-step-by", units.bothLengths(steps.depth))),
    );
}

/// say("page.leave-it") for what the program calls accept, with a capital.
export function moveSentence(text) {
    const said = text === "accept" ? say("page.leave-it") : text;
    return said.charAt(0).toUpperCase() + said.slice(1);
}

export const isMove = (move) => move.deeper !== 0 || move.more !== 0;

/// Gear set, cut, backlash and its limits.
export const facts = (one) =>
    h(
        "dl",
        { class: "facts tightly" },
        h("dt", {}, say("page.gear-set")),
        h("dd", {}, `${one.gear_set}${one.cut_words ? `, ${one.cut_words}` : ""}`),
        h("dt", {}, say("page.backlash-now")),
        h(
            "dd",
            {},
            one.backlash_mm > 0 ? units.bothLengths(one.backlash_mm) : say("page.none-teeth-jammed"),
            h(
                "span",
                { class: "small" },
                say(
                    one.backlash_limits_given === false ? "page.limits-usual" : "page.limits",
                    units.bothLengths(one.backlash_limits_mm[0]),
                    units.bothLengths(one.backlash_limits_mm[1]),
                ),
            ),
        ),
    );
