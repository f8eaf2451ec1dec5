// What the pages of the training bench share: scripts and markup that the server has, marks to point at, sliders.
import { h, newName, s, sketch } from "./dom.js";
import * as api from "./api.js";
import * as units from "./units.js";
import { say } from "./words.js";

const ELEMENTS = new Set(
    "article b br caption circle code details div em figcaption figure g h2 h3 h4 li ol p path section small span strong summary svg table tbody td text th thead tr ul".split(
        " ",
    ),
);
const ATTRIBUTES = new Set(
    "aria-label class cx cy d data-cut data-photo data-vary hidden id r role scope tabindex viewbox x y".split(" "),
);

const loading = new Map();
/// Loads a script of the program once; it defines a name for all pages.
export function script(path) {
    if (!loading.has(path)) {
        loading.set(
            path,
            new Promise((done, failed) => {
                const element = document.createElement("script");
                element.addEventListener("load", () => done());
                element.addEventListener("error", () => {
                    loading.delete(path);
                    element.remove();
                    failed(new Error(say("page.part-page-did-not")));
                });
                element.src = path;
                document.head.append(element);
            }),
        );
    }
    return loading.get(path);
}

/// What a page keeps under a name while its window is open: what was kept last, else null; null forgets it.
export function remembered(name) {
    return {
        last: JSON.parse(sessionStorage.getItem(name) ?? "null"),
        keep(next) {
            if (next) sessionStorage.setItem(name, JSON.stringify(next));
            else sessionStorage.removeItem(name);
        },
    };
}

/// Markup that the program made, as an element. What is no text, table or sketch is left out.
export function markup(html) {
    const root = new DOMParser().parseFromString(`<div>${html}</div>`, "text/html").body.firstElementChild;
    for (const element of [...root.querySelectorAll("*")]) {
        if (!ELEMENTS.has(element.localName)) element.remove();
        else
            for (const attribute of [...element.attributes])
                if (!ATTRIBUTES.has(attribute.name.toLowerCase())) element.removeAttribute(attribute.name);
    }
    // Where a style sheet takes a line break away, a space is left.
    for (const element of root.querySelectorAll("br")) element.before(" ");
    // Tables stay tables where the style sheet lays their rows out in another way.
    for (const [selector, role] of [
        ["table", "table"],
        ["thead, tbody", "rowgroup"],
        ["tr", "row"],
        ["th[scope=col]", "columnheader"],
        ["th[scope=row]", "rowheader"],
        ["td", "cell"],
    ])
        for (const element of root.querySelectorAll(selector)) element.setAttribute("role", role);
    return document.importNode(root, true);
}

/// A picture that the server renders on demand: paths of what was asked for at `path`, in its order.
export async function rendered(path, onState) {
    const { task } = await api.post(path, {});
    const { pictures } = await api.finished(task, onState);
    return Promise.all(
        pictures.map(async (key) => URL.createObjectURL(await api.blob(`/api/training/pictures/${key}`))),
    );
}

export const waitWords = (state) =>
    state.state === "waiting" && state.ahead > 0
        ? say("page.waiting-before-this", state.ahead)
        : say("page.rendering-photo");

// Marks ---------------------------------------------------------------------------------------------------------------

export const SIDES = [
    ["drive", say("page.drive-side-title")],
    ["coast", say("page.coast-side-title")],
];

/// Both sides as the server drew them; `words` of each below it.
export const pair = (sketches, words = {}) =>
    h(
        "div",
        { class: "pairs" },
        SIDES.filter(([side]) => sketches[side]).map(([side, title]) =>
            h("figure", {}, sketch(sketches[side]), h("figcaption", {}, words[side] ?? title)),
        ),
    );

const numbersOf = (path) => (path.match(/-?[\d.]+/g) ?? []).map(Number);

/// An empty flank, for pointing where a photo shows the mark.
const EMPTY =
    '<svg class="fk" viewBox="0 0 340 160" role="img"><path class="fk-steel" d="M40 137L300 137L300 19L40 45Z"/><text class="fk-word" x="19" y="95">toe</text><text class="fk-word" x="322" y="95">heel</text><text class="fk-word" x="170" y="27">tip</text><text class="fk-word" x="170" y="155">root</text></svg>';

const ALONG = [
        ["toe", "toe"],
        ["centre", "middle"],
        ["heel", "heel"],
    ],
    UP = [
        ["face", say("page.tip-half")],
        ["centre", "mid-height"],
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

const THOU = 0.0254,
    STEPS = { in: [THOU / 2, 0.4064, 0.2032], mm: [0.01, 0.4, 0.2] };

function slider(label, reach, step, value, tell, onchange) {
    const name = newName();
    const output = h("output", { for: name }, tell(value));
    const input = h("input", {
        type: "range",
        id: name,
        min: -reach,
        max: reach,
        step,
        value,
        "aria-valuetext": tell(value),
        oninput: () => {
            // Next to nothing is nothing: sliders step from their own low end.
            const mm = Math.abs(Number(input.value)) < step / 2 ? 0 : Number(input.value);
            output.textContent = tell(mm);
            input.setAttribute("aria-valuetext", tell(mm));
            onchange(mm);
        },
    });
    return h("div", { class: "field slide" }, h("label", { for: name }, h("span", {}, label), " ", output), input);
}

/// Depth and backlash to change. `move`: {deeper, more} in millimetres, which is changed in place.
export function changeSliders(move, onchange) {
    const [step, depth, lash] = STEPS[units.currentUnit() === "mm" ? "mm" : "in"];
    const tell = (plus, minus) => (mm) =>
        mm === 0 ? say("page.as-it-is") : `${units.bothNow(Math.abs(mm))} ${mm > 0 ? plus : minus}`;
    return h(
        "div",
        {},
        slider(say("page.pinion-depth"), depth, step, move.deeper, tell("deeper", "shallower"), (mm) => {
            move.deeper = mm;
            onchange();
        }),
        slider(say("page.backlash"), lash, step, move.more, tell("more", "less"), (mm) => {
            move.more = mm;
            onchange();
        }),
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
        h("dd", {}, `${one.gear_set}${one.cut ? `, ${one.cut}` : ""}`),
        h("dt", {}, say("page.backlash-now")),
        h(
            "dd",
            {},
            one.backlash_mm > 0 ? units.bothLengths(one.backlash_mm) : say("page.none-teeth-jammed"),
            h(
                "span",
                { class: "small" },
                say(
                    "page.limits",
                    units.bothLengths(one.backlash_limits_mm[0]),
                    units.bothLengths(one.backlash_limits_mm[1]),
                ),
            ),
        ),
    );

/// A list to choose from.
export function picker({ label, options, value, hint, onchange }) {
    const name = newName();
    const select = h(
        "select",
        { id: name, onchange: () => onchange?.(select.value), "aria-describedby": hint ? `${name}-hint` : undefined },
        options.map(([key, words]) => h("option", { value: key, selected: key === value }, words)),
    );
    return {
        element: h(
            "div",
            { class: "field" },
            h("label", { for: name }, label),
            select,
            hint ? h("span", { class: "hint", id: `${name}-hint` }, hint) : null,
        ),
        read: () => select.value,
    };
}

export const drawnSeed = () => crypto.getRandomValues(new Uint32Array(1))[0] % 1_000_000;

/// A file of the server's, kept by the browser.
export async function save(path, name) {
    const link = h("a", { href: URL.createObjectURL(await api.blob(path)), download: name });
    document.body.append(link);
    link.click();
    link.remove();
    setTimeout(() => URL.revokeObjectURL(link.href), 10000);
}
