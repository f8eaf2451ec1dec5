// Small helpers to build the page. Text goes in as text, never as markup.

const SVG = "http://www.w3.org/2000/svg";

function filled(element, props, children) {
    for (const [key, value] of Object.entries(props ?? {})) {
        if (value === undefined || value === null || value === false) continue;
        if (key.startsWith("on")) element.addEventListener(key.slice(2), value);
        else if (key === "value") element.value = value;
        else element.setAttribute(key, value === true ? "" : String(value));
    }
    for (const child of children.flat(Infinity)) {
        if (child === undefined || child === null || child === false) continue;
        element.append(child instanceof Node ? child : document.createTextNode(String(child)));
    }
    return element;
}

export const h = (tag, props, ...children) => filled(document.createElement(tag), props, children);
export const s = (tag, props, ...children) => filled(document.createElementNS(SVG, tag), props, children);

/// A sketch that the server drew, as an element. Anything but plain shapes is left out.
export function sketch(text) {
    const named = text.replace(/^<svg /, `<svg xmlns="${SVG}" `);
    const root = new DOMParser().parseFromString(named, "image/svg+xml").documentElement;
    if (root.namespaceURI !== SVG || root.localName !== "svg") return h("p", {}, "The sketch cannot be shown.");
    for (const element of [...root.querySelectorAll("*")])
        if (!["path", "circle", "text", "g"].includes(element.localName)) element.remove();
    for (const element of [root, ...root.querySelectorAll("*")])
        for (const attribute of [...element.attributes])
            if (/^on|href|style/i.test(attribute.name)) element.removeAttribute(attribute.name);
    return document.importNode(root, true);
}

/// Tells it to those who cannot see the screen.
export function say(sentence) {
    const place = document.getElementById("say");
    place.textContent = "";
    setTimeout(() => { place.textContent = sentence; }, 50);
}

export const words = (items) => h("ul", { class: "words" }, items.map((item) => h("li", {}, item)));

export function note(kind, ...children) {
    return h("div", { class: `note ${kind}`, role: kind === "bad" ? "alert" : undefined }, children.map((child) => child instanceof Node ? child : h("p", {}, child)));
}

let counter = 0;
export const newName = () => `f${++counter}`;

export function bar(...children) {
    return h("div", { class: "bar" }, h("div", {}, children));
}
