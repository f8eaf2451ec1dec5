// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// What the views of the training bench share: scripts and markup that the server has, pictures it renders, lists.
import { adopt, h, newName } from "./dom.js";
import * as api from "./api.js";
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
    return adopt(document.importNode(root, true));
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
