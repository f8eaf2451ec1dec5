// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// A photo on the whole screen: two fingers make it larger, one moves it, a double tap goes in and out.
import { h } from "./dom.js";
import { flanksOver } from "./photo.js";
import { say } from "./words.js";

const MAX_SCALE = 8,
    DOUBLE_TAP_MS = 300,
    TAP_SCALE = 3;

/// The photo on its stage: where it lies and how large, moved by fingers, wheel and keys.
class ZoomStage {
    constructor(image, found) {
        this.board = h("div", { class: "board" }, image);
        if (found?.width) {
            this.board.style.aspectRatio = `${found.width} / ${found.height}`;
            this.board.append(flanksOver(found.width, found.height, found));
        }
        this.element = h(
            "div",
            { class: "whole", tabindex: 0, "aria-label": say("page.photo-whole-screen"), role: "group" },
            this.board,
        );
        this.scale = 1;
        this.x = 0;
        this.y = 0;
        this.tapped = 0;
        this.fingers = new Map();
        this.hear();
    }

    place() {
        const { board, scale } = this;
        const within = (value, size, room) => {
            const slack = Math.min(0, room - size * scale);
            return slack === 0 ? (room - size * scale) / 2 : Math.max(slack, Math.min(0, value));
        };
        this.x = within(this.x, board.offsetWidth, this.element.clientWidth);
        this.y = within(this.y, board.offsetHeight, this.element.clientHeight);
        board.style.transform = new DOMMatrix([scale, 0, 0, scale, this.x, this.y]).toString();
        board.dataset.scale = scale.toFixed(2);
    }

    zoomAt(factor, atX, atY) {
        const next = Math.max(1, Math.min(MAX_SCALE, this.scale * factor));
        this.x = atX - ((atX - this.x) * next) / this.scale;
        this.y = atY - ((atY - this.y) * next) / this.scale;
        this.scale = next;
        this.place();
    }

    zoom(factor) {
        this.zoomAt(factor, this.element.clientWidth / 2, this.element.clientHeight / 2);
    }

    /// Between the fingers, and how far the first two lie apart.
    middle() {
        const all = [...this.fingers.values()];
        return {
            x: all.reduce((sum, one) => sum + one.x / all.length, 0),
            y: all.reduce((sum, one) => sum + one.y / all.length, 0),
            apart: all.length > 1 ? Math.hypot(all[0].x - all[1].x, all[0].y - all[1].y) : 0,
        };
    }

    hear() {
        const { element, fingers } = this;
        element.addEventListener("pointerdown", (event) => this.touch(event));
        element.addEventListener("pointermove", (event) => this.move(event));
        for (const kind of ["pointerup", "pointercancel"])
            element.addEventListener(kind, (event) => fingers.delete(event.pointerId));
        element.addEventListener("wheel", (event) => {
            event.preventDefault();
            this.zoomAt(event.deltaY < 0 ? 1.2 : 1 / 1.2, event.clientX, event.clientY);
        });
        element.addEventListener("keydown", (event) => {
            if (event.key === "+") this.zoom(1.6);
            if (event.key === "-") this.zoom(0.6);
        });
    }

    touch(event) {
        this.element.setPointerCapture(event.pointerId);
        this.fingers.set(event.pointerId, { x: event.clientX, y: event.clientY });
        if (this.fingers.size === 1 && event.timeStamp - this.tapped < DOUBLE_TAP_MS)
            this.zoomAt(this.scale > 1 ? 1 / this.scale : TAP_SCALE, event.clientX, event.clientY);
        this.tapped = event.timeStamp;
    }

    move(event) {
        if (!this.fingers.has(event.pointerId)) return;
        const before = this.middle();
        this.fingers.set(event.pointerId, { x: event.clientX, y: event.clientY });
        const now = this.middle();
        this.x += now.x - before.x;
        this.y += now.y - before.y;
        if (before.apart > 0) this.zoomAt(now.apart / before.apart, now.x, now.y);
        else this.place();
    }
}

/// `found`: the flanks with width and height of their photo, or null.
export function showLarge(url, found) {
    const image = h("img", { src: url, alt: say("page.photo-whole-screen"), draggable: "false" });
    const stage = new ZoomStage(image, found);
    const tool = (words, onclick, kind = "less") =>
        h("button", { class: `act ${kind}`, type: "button", onclick }, words);
    const dialog = h("dialog", { class: "large", "aria-label": say("page.photo-whole-screen") });
    dialog.append(
        stage.element,
        h(
            "div",
            { class: "tools" },
            tool(say("page.farther"), () => stage.zoom(0.6)),
            tool(say("page.closer"), () => stage.zoom(1.6)),
            tool(say("page.close"), () => dialog.close(), "first"),
        ),
    );
    // The phone's own way back closes it, and leaves the page below where it is.
    const closed = () => dialog.close();
    history.pushState({ large: true }, "");
    window.addEventListener("popstate", closed, { once: true });
    dialog.addEventListener("close", () => {
        window.removeEventListener("popstate", closed);
        dialog.remove();
        if (history.state?.large) history.back();
    });
    document.body.append(dialog);
    dialog.showModal();
    const place = () => stage.place();
    image.decode().then(place, place);
}
