// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// A photo on the whole screen: two fingers make it larger, one moves it, a double tap goes in and out.
import { h } from "./dom.js";
import { flanksOver } from "./photo.js";
import { say } from "./words.js";

const MAX_SCALE = 8,
    DOUBLE_TAP_MS = 300,
    TAP_SCALE = 3;

/// `found`: the flanks with width and height of their photo, or null.
export function showLarge(url, found) {
    const image = h("img", { src: url, alt: say("page.photo-whole-screen"), draggable: "false" });
    const board = h("div", { class: "board" }, image);
    if (found?.width) {
        board.style.aspectRatio = `${found.width} / ${found.height}`;
        board.append(flanksOver(found.width, found.height, found));
    }
    const stage = h(
        "div",
        { class: "whole", tabindex: 0, "aria-label": say("page.photo-whole-screen"), role: "group" },
        board,
    );
    const dialog = h("dialog", { class: "large", "aria-label": say("page.photo-whole-screen") });
    const step = (factor) => () => zoomAt(factor, stage.clientWidth / 2, stage.clientHeight / 2);
    dialog.append(
        stage,
        h(
            "div",
            { class: "tools" },
            h("button", { class: "act less", type: "button", onclick: step(0.6) }, say("page.farther")),
            h("button", { class: "act less", type: "button", onclick: step(1.6) }, say("page.closer")),
            h("button", { class: "act first", type: "button", onclick: () => dialog.close() }, say("page.close")),
        ),
    );
    let scale = 1,
        x = 0,
        y = 0,
        tapped = 0;
    const fingers = new Map();
    const place = () => {
        const [width, height] = [board.offsetWidth, board.offsetHeight];
        const within = (value, size, room) => {
            const slack = Math.min(0, room - size * scale);
            return slack === 0 ? (room - size * scale) / 2 : Math.max(slack, Math.min(0, value));
        };
        x = within(x, width, stage.clientWidth);
        y = within(y, height, stage.clientHeight);
        board.style.transform = new DOMMatrix([scale, 0, 0, scale, x, y]).toString();
        board.dataset.scale = scale.toFixed(2);
    };
    function zoomAt(factor, atX, atY) {
        const next = Math.max(1, Math.min(MAX_SCALE, scale * factor));
        x = atX - ((atX - x) * next) / scale;
        y = atY - ((atY - y) * next) / scale;
        scale = next;
        place();
    }
    const middle = () => {
        const all = [...fingers.values()];
        return {
            x: all.reduce((sum, one) => sum + one.x / all.length, 0),
            y: all.reduce((sum, one) => sum + one.y / all.length, 0),
            apart: all.length > 1 ? Math.hypot(all[0].x - all[1].x, all[0].y - all[1].y) : 0,
        };
    };
    stage.addEventListener("pointerdown", (event) => {
        stage.setPointerCapture(event.pointerId);
        fingers.set(event.pointerId, { x: event.clientX, y: event.clientY });
        if (fingers.size === 1 && event.timeStamp - tapped < DOUBLE_TAP_MS)
            zoomAt(scale > 1 ? 1 / scale : TAP_SCALE, event.clientX, event.clientY);
        tapped = event.timeStamp;
    });
    stage.addEventListener("pointermove", (event) => {
        if (!fingers.has(event.pointerId)) return;
        const before = middle();
        fingers.set(event.pointerId, { x: event.clientX, y: event.clientY });
        const now = middle();
        x += now.x - before.x;
        y += now.y - before.y;
        if (before.apart > 0) zoomAt(now.apart / before.apart, now.x, now.y);
        else place();
    });
    for (const kind of ["pointerup", "pointercancel"])
        stage.addEventListener(kind, (event) => fingers.delete(event.pointerId));
    stage.addEventListener("wheel", (event) => {
        event.preventDefault();
        zoomAt(event.deltaY < 0 ? 1.2 : 1 / 1.2, event.clientX, event.clientY);
    });
    stage.addEventListener("keydown", (event) => {
        if (event.key === "+") step(1.6)();
        if (event.key === "-") step(0.6)();
    });
    dialog.addEventListener("close", () => dialog.remove());
    document.body.append(dialog);
    dialog.showModal();
    image.decode().then(place, place);
}
