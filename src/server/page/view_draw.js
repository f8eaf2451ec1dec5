// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// The seen pattern drawn by hand on a tooth.
import { h, newName, stillHere, tellingBar } from "./dom.js";
import { say } from "./words.js";
import * as api from "./api.js";
import * as store from "./store.js";
import { keepEntered, lengthField, myName, MAX_BACKLASH_MM, oddBacklash } from "./fields.js";
import { offerUndo } from "./undo.js";

const WIDTH = 256,
    HEIGHT = 128,
    BRUSH = 13;

/// The paint on a tooth. `kept`: alpha of a drawing that a former page left; `onchange`: called with the alpha after each
/// stroke.
class Paint {
    constructor(title, kept, onchange) {
        this.canvas = h("canvas", { role: "img", "aria-label": say("page.drawing-pattern-sliders-below", title) });
        this.canvas.width = WIDTH;
        this.canvas.height = HEIGHT;
        this.context = this.canvas.getContext("2d", { willReadFrequently: true });
        const css = getComputedStyle(document.documentElement);
        this.colour = css.getPropertyValue("--fk-mark").trim() || "#0b5c94";
        this.drawn = false;
        this.byHand = false;
        this.onchange = onchange;
        this.hearFinger();
        if (kept) this.putBack(kept);
    }

    hearFinger() {
        const { canvas } = this;
        let from = null;
        canvas.addEventListener("pointerdown", (event) => {
            event.preventDefault();
            canvas.setPointerCapture(event.pointerId);
            from = this.at(event);
            this.line(from, from);
            this.byHand = true;
        });
        canvas.addEventListener("pointermove", (event) => {
            if (!from) return;
            const to = this.at(event);
            this.line(from, to);
            from = to;
        });
        for (const kind of ["pointerup", "pointercancel"])
            canvas.addEventListener(kind, () => {
                if (from) this.onchange(this.alpha());
                from = null;
            });
    }

    at(event) {
        const box = this.canvas.getBoundingClientRect();
        return [((event.clientX - box.left) / box.width) * WIDTH, ((event.clientY - box.top) / box.height) * HEIGHT];
    }

    line(a, b) {
        const { context } = this;
        context.strokeStyle = this.colour;
        context.lineWidth = 2 * BRUSH;
        context.lineCap = "round";
        context.lineJoin = "round";
        context.beginPath();
        context.moveTo(...a);
        context.lineTo(b[0] + 0.01, b[1]);
        context.stroke();
        this.drawn = true;
    }

    /// How dark each pixel is, a byte each; null: nothing drawn.
    alpha() {
        const pixels = this.context.getImageData(0, 0, WIDTH, HEIGHT).data;
        return this.drawn ? Uint8Array.from({ length: WIDTH * HEIGHT }, (_, i) => pixels[4 * i + 3]) : null;
    }

    clear() {
        this.context.clearRect(0, 0, WIDTH, HEIGHT);
        this.drawn = this.byHand = false;
    }
    /// Clears it; gives what puts back what was there, null where nothing was.
    wipe() {
        const former = this.alpha();
        this.clear();
        if (!former) return null;
        return () => {
            this.putBack(former);
            this.onchange(former);
        };
    }

    putBack(kept) {
        const { context } = this;
        const image = context.createImageData(WIDTH, HEIGHT);
        context.fillStyle = this.colour;
        context.fillRect(0, 0, 1, 1);
        const ink = context.getImageData(0, 0, 1, 1).data;
        kept.forEach((dark, i) => image.data.set([ink[0], ink[1], ink[2], dark], 4 * i));
        context.putImageData(image, 0, 0);
        this.drawn = this.byHand = true;
    }

    /// In place of what is drawn: middle, length and height as shares of the tooth.
    ellipse(u, v, length, height) {
        const { context } = this;
        this.clear();
        context.fillStyle = this.colour;
        context.beginPath();
        context.ellipse(u * WIDTH, (1 - v) * HEIGHT, (length * WIDTH) / 2, (height * HEIGHT) / 2, 0, 0, 2 * Math.PI);
        context.fill();
        this.drawn = true;
        this.onchange(this.alpha());
    }
}

/// The mark set by sliders, for those who cannot draw it. A drawing that they take the place of can be put back.
function paintSliders(title, paint) {
    const inputs = [];
    const ellipse = () => {
        const putBack = paint.byHand ? paint.wipe() : null;
        paint.ellipse(...inputs.map((input) => Number(input.value) / 100));
        if (putBack) offerUndo(say("page.drawing-replaced", title), putBack);
    };
    const slider = ([label, value]) => {
        const name = newName();
        const input = h("input", { type: "range", id: name, min: 2, max: 100, value, oninput: ellipse });
        inputs.push(input);
        return h("div", { class: "field" }, h("label", { for: name }, label), input);
    };
    return h(
        "details",
        {},
        h("summary", {}, say("page.set-sliders")),
        [
            [say("page.middle-toe-heel"), 45],
            [say("page.middle-root-tip"), 50],
            [say("page.length"), 55],
            [say("page.height"), 50],
        ].map(slider),
    );
}

function pad(title, kept, onchange) {
    const paint = new Paint(title, kept, onchange);
    const clear = () => {
        const putBack = paint.wipe();
        onchange(null);
        if (putBack) offerUndo(say("page.drawing-cleared", title), putBack);
    };
    return {
        element: h(
            "section",
            { class: "drawing", "aria-label": title },
            h("h2", {}, title),
            h("p", { class: "padend" }, say("common.tip")),
            h(
                "div",
                { class: "padrow" },
                h("span", {}, say("common.toe")),
                h("div", { class: "pad" }, paint.canvas),
                h("span", {}, say("common.heel")),
            ),
            h("p", { class: "padend" }, say("common.root")),
            h("button", { class: "act less", type: "button", onclick: clear }, say("page.clear")),
            paintSliders(title, paint),
        ),
        /// Base64 of the flank map; null: nothing drawn.
        map() {
            const dark = paint.alpha();
            return dark && btoa(Array.from(dark, (value) => String.fromCharCode(value)).join(""));
        },
    };
}

export async function drawView(job, view, id, go) {
    const key = `draw/${job}/${id ?? "new"}`,
        kept = (await store.get("drafts", key)) ?? {};
    const keeping = (side) => (alpha) => {
        kept[side] = alpha;
        store.put("drafts", key, kept);
    };
    const drive = pad(say("common.drive-side-title"), kept.drive, keeping("drive")),
        coast = pad(say("common.coast-side-title"), kept.coast, keeping("coast"));
    const backlash = id
            ? null
            : lengthField({ label: say("page.backlash-dial"), most: MAX_BACKLASH_MM, ask: oddBacklash }),
        stack = id ? null : lengthField({ label: say("page.pinion-shims-place"), hint: say("page.may-stay-empty") });
    const problem = h("div", { class: "note bad", role: "alert", hidden: true });
    const change = api.oneChange();
    const send = h(
        "button",
        {
            class: "act first",
            type: "button",
            async onclick() {
                const here = stillHere();
                problem.hidden = true;
                send.disabled = true;
                try {
                    const drawn = {},
                        body = { by: myName(), drawn };
                    for (const [side, one] of [
                        ["drive", drive],
                        ["coast", coast],
                    ]) {
                        const map = one.map();
                        if (map) drawn[side] = map;
                    }
                    if (!drawn.drive && !drawn.coast) throw new Error(say("page.draw-mark-see-least"));
                    if (id) body.replaces = id;
                    else
                        for (const [key, value] of [
                            ["backlash_mm", backlash.read()],
                            ["shim_stack_mm", stack.read()],
                        ])
                            if (value !== null) body[key] = value;
                    const path = `/api/jobs/${encodeURIComponent(job)}/trials`;
                    const result = await change(path, body, ({ task }) => api.finished(task));
                    await Promise.all([store.remove("drafts", key), entered?.forget()]);
                    if (here()) go(`#/job/${job}/trial/${result.trial}`, { replace: true });
                } catch (fault) {
                    problem.textContent = fault.message;
                    problem.hidden = false;
                } finally {
                    send.disabled = false;
                }
            },
        },
        say("page.use-pattern"),
    );
    const readings = backlash && h("div", {}, backlash.element, stack.element);
    const entered = readings && (await keepEntered(`${key}/readings`, readings));
    return {
        title: say("page.draw-pattern"),
        back: id ? [`#/job/${job}/trial/${id}`, say("page.trial")] : [`#/job/${job}/new-trial`, say("page.trial")],
        body: [
            h("h1", {}, say("page.draw-mark-see")),
            h("p", {}, say("page.finger-lies-flank-toe")),
            drive.element,
            coast.element,
            readings,
            tellingBar(problem, send),
        ],
        wide: false,
    };
}
