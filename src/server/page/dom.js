// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// Small helpers to build the page. Text goes in as text, never as markup.
import { dependsOnUnit, spelled, turned } from "./units.js";
import { say } from "./words.js";

/// Below this width sketches go without words; room around the flank, in units of the sketch.
const NARROW_PX = 544,
    RIM = 4;
const SVG = "http://www.w3.org/2000/svg";

/// A number and its unit stay on one line, and so does what it may be off by.
const tied = (text) =>
    text
        .replace(/(\d) (in|mm|Nm|in-lb|ft-lb|%|MB)(?![a-z])/g, "$1\u00a0$2")
        .replace(/\b(in|ft)-lb\b/g, "$1\u2011lb")
        .replace(/\+\/- (?=\d)/g, "\u00b1\u00a0");

/// A text as a person reads it now.
const phrase = (text) => tied(turned(spelled(text)));

// What reads otherwise in the other unit is remembered as it was given, by node and by attribute.
const texts = new WeakMap(),
    attributes = new WeakMap();

function textNode(text) {
    const node = document.createTextNode(phrase(text));
    if (dependsOnUnit(text)) texts.set(node, text);
    return node;
}
export function setAttribute(element, key, text) {
    element.setAttribute(key, spelled(text));
    const others = { ...attributes.get(element), [key]: text };
    if (!dependsOnUnit(text)) delete others[key];
    attributes.set(element, others);
}

/// Puts a text in place of what an element holds.
export const write = (element, text) => element.replaceChildren(textNode(text));

/// Texts below `root` that were made elsewhere follow the switch from here on.
export function adopt(root) {
    const walker = document.createTreeWalker(root, NodeFilter.SHOW_TEXT);
    for (let node = walker.nextNode(); node; node = walker.nextNode()) {
        if (!dependsOnUnit(node.data)) continue;
        texts.set(node, node.data);
        node.data = phrase(node.data);
    }
    return root;
}

/// After the unit was switched: texts and attributes below `root` read in the new one; all else stays as it is.
export function rewrite(root) {
    const walker = document.createTreeWalker(root, NodeFilter.SHOW_TEXT | NodeFilter.SHOW_ELEMENT);
    for (let node = walker.currentNode; node; node = walker.nextNode()) {
        if (texts.has(node)) node.data = phrase(texts.get(node));
        for (const [key, text] of Object.entries(attributes.get(node) ?? {})) node.setAttribute(key, spelled(text));
    }
}

function filled(element, props, children) {
    for (const [key, value] of Object.entries(props ?? {})) {
        if (value === undefined || value === null || value === false) continue;
        if (key.startsWith("on")) element.addEventListener(key.slice(2), value);
        else if (key === "value") element.value = value;
        else setAttribute(element, key, value === true ? "" : String(value));
    }
    for (const child of children.flat(Infinity)) {
        if (child === undefined || child === null || child === false) continue;
        element.append(child instanceof Node ? child : textNode(String(child)));
    }
    return element;
}

export const h = (tag, props, ...children) => filled(document.createElement(tag), props, children);
export const s = (tag, props, ...children) => filled(document.createElementNS(SVG, tag), props, children);

/// A sketch that the server drew, as an element. Anything but plain shapes is left out. `whole`: with its words on narrow
/// screens too.
export function sketch(text, { whole = false } = {}) {
    const named = text.replace(/^<svg /, `<svg xmlns="${SVG}" `);
    const root = new DOMParser().parseFromString(named, "image/svg+xml").documentElement;
    if (root.namespaceURI !== SVG || root.localName !== "svg") return h("p", {}, say("page.sketch-cannot-shown"));
    for (const element of [...root.querySelectorAll("*")])
        if (!["path", "circle", "text", "g"].includes(element.localName)) element.remove();
    for (const element of [root, ...root.querySelectorAll("*")])
        for (const attribute of [...element.attributes])
            if (/^on|href|style/i.test(attribute.name)) element.removeAttribute(attribute.name);
    // On a phone two stand side by side, too small for words; the legend below them says how they lie.
    const steel = root.querySelector(".fk-steel");
    if (!whole && window.innerWidth < NARROW_PX && steel) {
        const numbers = (steel.getAttribute("d").match(/-?[\d.]+/g) ?? []).map(Number);
        const xs = numbers.filter((_, i) => i % 2 === 0),
            ys = numbers.filter((_, i) => i % 2 === 1);
        const left = Math.min(...xs) - RIM,
            top = Math.min(...ys) - RIM;
        root.setAttribute("viewBox", `${left} ${top} ${Math.max(...xs) + RIM - left} ${Math.max(...ys) + RIM - top}`);
        for (const word of root.querySelectorAll(".fk-word")) word.remove();
    }
    return document.importNode(root, true);
}

/// Which end of a small sketch is which: its own words would be too small there. On a wide screen it has them.
export const sketchEnds = () =>
    window.innerWidth < NARROW_PX
        ? h(
              "div",
              { class: "ends", "aria-hidden": "true" },
              h("span", {}, say("common.toe")),
              h("span", {}, say("common.heel")),
          )
        : null;

/// Whether the page of now is still the one that is shown: what took long leads on nobody who went elsewhere meanwhile.
export function stillHere() {
    const at = location.hash;
    return () => location.hash === at;
}

/// Tells it to those who cannot see the screen.
export function announce(sentence) {
    const place = document.getElementById("say");
    place.textContent = "";
    setTimeout(() => write(place, sentence), 50);
}

export const words = (items) =>
    h(
        "ul",
        { class: "words" },
        items.map((item) => h("li", {}, item)),
    );

export function note(kind, ...children) {
    return h(
        "div",
        { class: `note ${kind}`, role: kind === "bad" ? "alert" : undefined },
        children.map((child) => (child instanceof Node ? child : h("p", {}, child))),
    );
}

/// What begins in the middle of a sentence elsewhere, as one of its own.
export const sentence = (text) => text.charAt(0).toUpperCase() + text.slice(1);

let counter = 0;
export const newName = () => `f${++counter}`;

export function bar(...children) {
    return h("div", { class: "bar" }, h("div", {}, children));
}
/// A bar whose button tells how it goes, or what is wrong, right above itself: wherever on the page one is, it is seen.
export function tellingBar(told, ...children) {
    const whole = bar(children);
    whole.prepend(h("div", { class: "said" }, told));
    return whole;
}
