// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// Correcting what was found: corners dragged under a magnifier, sides changed, teeth dropped and added.
import { announce, h, note, s, stillHere, tellingBar } from "./dom.js";
import { say } from "./words.js";
import * as api from "./api.js";
import { choice, myName } from "./fields.js";
import { SLOT_NAMES, photoUrl } from "./photo.js";
import * as store from "./store.js";

const CORNERS = [say("page.toe-root"), say("page.toe-tip"), say("page.heel-tip"), say("page.heel-root")];
const LENS_ZOOM = 3,
    LENS_SIZE = 136,
    LENS_ABOVE = 96,
    STEP_PX = 2,
    LARGE_STEP_PX = 12,
    MAX_ZOOM = 16;
/// A finger this far from every corner moves the photo, not a corner.
const REACH_PX = 48;
/// Share of the view that the chosen tooth fills after say("page.closer").
const TOOTH_SHARE = 0.6;

function linesOf(measured) {
    return (measured?.flanks ?? []).map((flank) => ({
        side: flank.side,
        corners: flank.outline_px.map((point) => [...point]),
    }));
}

/// The photo with the outlines of its teeth, the corners of the chosen one to be dragged. `flanks`: what stands there and
/// is changed in place; `told`: {keep(): after each change, undoable(): what can be undone has changed}.
class CornerBoard {
    constructor(image, url, flanks, told) {
        this.image = image;
        this.flanks = flanks;
        this.told = told;
        this.chosen = flanks.length ? 0 : -1;
        this.zoom = 1;
        this.undoable = [];
        this.width = image.naturalWidth;
        this.height = image.naturalHeight;
        this.held = null;
        this.build(url);
        this.hearFingers();
        this.hearKeys();
    }

    build(url) {
        const viewBox = `0 0 ${this.width} ${this.height}`;
        this.overlay = s("svg", { viewBox, preserveAspectRatio: "none", "aria-hidden": "true" });
        this.handles = CORNERS.map((words, corner) =>
            h("button", {
                class: corner < 2 ? "corner toe" : "corner",
                type: "button",
                "aria-label": say("page.corner-move-arrow-keys", words),
            }),
        );
        this.board = h("div", { class: "board" }, this.image, this.overlay, this.handles);
        this.stage = h(
            "div",
            { class: "stage", tabindex: 0, role: "group", "aria-label": say("page.photo-corners-chosen-tooth") },
            this.board,
        );
        this.lens = h("div", { class: "lens", hidden: true, "aria-hidden": "true" });
        this.lens.style.backgroundImage = `url("${url}")`;
        this.lensLines = s("svg", { "aria-hidden": "true" });
        this.lens.append(this.lensLines);
    }

    /// The tooth that is chosen; undefined: none.
    get tooth() {
        return this.flanks[this.chosen];
    }

    /// Pixels of the page for one of the photo.
    get scale() {
        return this.board.clientWidth / this.width;
    }

    /// Before each change: what stands now can be brought back.
    remember() {
        this.undoable.push(JSON.stringify(this.flanks));
    }

    undo() {
        this.flanks.splice(0, this.flanks.length, ...JSON.parse(this.undoable.pop()));
        this.chosen = Math.min(Math.max(this.chosen, 0), this.flanks.length - 1);
    }

    draw() {
        this.board.style.width = `${this.zoom * 100}%`;
        this.overlay.replaceChildren(...this.flanks.flatMap((flank, number) => this.outline(flank, number)));
        this.handles.forEach((handle, corner) => {
            handle.hidden = this.chosen < 0;
            if (this.chosen < 0) return;
            const [x, y] = this.tooth.corners[corner];
            handle.style.left = `${(100 * x) / this.width}%`;
            handle.style.top = `${(100 * y) / this.height}%`;
        });
    }

    /// A tooth's outline with its number; the chosen one's toe is named.
    outline(flank, number) {
        const size = Math.max(this.width, this.height) / 34 / this.zoom;
        const points = pointsOf(flank),
            [x, y] = middleOf(flank),
            [root, tip] = flank.corners;
        const here = number === this.chosen;
        const toe = { x: (root[0] + tip[0]) / 2, y: (root[1] + tip[1]) / 2, "font-size": size * 0.8 };
        return [
            s("polygon", { class: "flankhalo", points }),
            s("polygon", { class: `flankline of-${here ? flank.side : "none"}`, points }),
            s("text", { class: "flanktext", x, y, "font-size": size }, number + 1),
            here ? s("text", { class: "flanktext", ...toe }, "toe") : null,
        ].filter(Boolean);
    }

    put(corner, x, y) {
        this.tooth.corners[corner] = [Math.min(this.width, Math.max(0, x)), Math.min(this.height, Math.max(0, y))];
        this.told.keep();
        this.draw();
    }

    /// The corner of the chosen tooth next to a finger; -1: none within its reach.
    nearest(event) {
        if (this.chosen < 0) return -1;
        const box = this.board.getBoundingClientRect(),
            scale = this.scale;
        const far = this.tooth.corners.map(([x, y]) =>
            Math.hypot(box.left + x * scale - event.clientX, box.top + y * scale - event.clientY),
        );
        const least = Math.min(...far);
        return least <= REACH_PX ? far.indexOf(least) : -1;
    }

    /// The chosen tooth in the middle of the view, as large as the zoom shows it.
    centre() {
        if (this.chosen < 0) return;
        const [x, y] = middleOf(this.tooth);
        this.stage.scrollLeft = x * this.scale - this.stage.clientWidth / 2;
        this.stage.scrollTop = y * this.scale - this.stage.clientHeight / 2;
    }

    closer() {
        const xs = this.chosen < 0 ? [] : this.tooth.corners.map(([x]) => x);
        const fits =
            this.chosen < 0
                ? 2 * this.zoom
                : (TOOTH_SHARE * this.width) / Math.max(1, Math.max(...xs) - Math.min(...xs));
        this.zoom = Math.min(MAX_ZOOM, Math.max(2 * this.zoom, Math.min(fits, 4 * this.zoom)));
        this.draw();
        this.centre();
    }

    farther() {
        this.zoom = Math.max(1, this.zoom / 2);
        this.draw();
        this.centre();
    }

    showLens(event, corner) {
        const { lens } = this;
        const [x, y] = this.tooth.corners[corner];
        const shown = this.scale * LENS_ZOOM;
        lens.hidden = false;
        lens.style.backgroundSize = `${this.width * shown}px ${this.height * shown}px`;
        lens.style.backgroundPosition = `${LENS_SIZE / 2 - x * shown}px ${LENS_SIZE / 2 - y * shown}px`;
        // The line under the finger, as it lies on the tooth.
        const half = LENS_SIZE / 2 / shown,
            points = pointsOf(this.tooth);
        this.lensLines.setAttribute("viewBox", `${x - half} ${y - half} ${2 * half} ${2 * half}`);
        this.lensLines.replaceChildren(
            s("polygon", { class: "flankhalo", points }),
            s("polygon", { class: `flankline of-${this.tooth.side}`, points }),
            s("circle", { class: "underfinger", cx: x, cy: y, r: half / 14 }),
        );
        const left = Math.min(window.innerWidth - LENS_SIZE - 6, Math.max(6, event.clientX - LENS_SIZE / 2));
        const above = event.clientY - LENS_ABOVE - LENS_SIZE / 2;
        lens.style.left = `${left}px`;
        // Where there is no room above the finger it goes below it.
        lens.style.top = `${above > 6 ? above : event.clientY + LENS_ABOVE - LENS_SIZE / 2}px`;
    }

    // A finger takes the nearest corner, however close two of them lie; the buttons on them are for keys and to be seen.
    hearFingers() {
        const { board } = this;
        board.addEventListener("pointerdown", (event) => this.take(event));
        board.addEventListener("pointermove", (event) => this.drag(event));
        board.addEventListener("pointerup", () => this.release());
        board.addEventListener("pointercancel", () => this.release());
        // Near a corner the finger drags it; elsewhere it moves the photo.
        board.addEventListener(
            "touchstart",
            (event) => {
                if (event.touches.length === 1 && this.nearest(event.touches[0]) >= 0) event.preventDefault();
            },
            { passive: false },
        );
    }

    take(event) {
        const corner = this.nearest(event);
        if (corner < 0) return;
        event.preventDefault();
        this.remember();
        this.handles[corner].focus({ preventScroll: true });
        this.board.setPointerCapture(event.pointerId);
        const [x, y] = this.tooth.corners[corner];
        this.held = { corner, x, y, atX: event.clientX, atY: event.clientY, moved: false };
        this.showLens(event, corner);
    }

    drag(event) {
        const { held, scale } = this;
        if (!held) return;
        held.moved = true;
        this.put(held.corner, held.x + (event.clientX - held.atX) / scale, held.y + (event.clientY - held.atY) / scale);
        this.showLens(event, held.corner);
    }

    release() {
        if (this.held && !this.held.moved) this.undoable.pop();
        this.held = null;
        this.lens.hidden = true;
        this.told.undoable();
    }

    hearKeys() {
        const ways = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
        this.handles.forEach((handle, corner) =>
            handle.addEventListener("keydown", (event) => {
                const way = ways[event.key];
                if (!way) return;
                event.preventDefault();
                if (!event.repeat) this.remember();
                const step = event.shiftKey ? LARGE_STEP_PX : STEP_PX;
                const [x, y] = this.tooth.corners[corner];
                this.put(corner, x + way[0] * step, y + way[1] * step);
                this.told.undoable();
            }),
        );
    }

    // What changes the teeth as a whole. Each can be undone.

    turnRound() {
        this.remember();
        this.tooth.corners.reverse();
    }

    setSide(side) {
        this.remember();
        this.tooth.side = side;
        // Seen with the tip up, toe and heel lie the other way round on the other side.
        this.tooth.corners.reverse();
    }

    drop() {
        this.remember();
        this.flanks.splice(this.chosen, 1);
        this.chosen = this.flanks.length ? Math.min(this.chosen, this.flanks.length - 1) : -1;
    }

    /// Another tooth where the eye is, in the middle of what is seen now. `side`: where none is chosen; `hand`: of the set.
    add(side, hand) {
        const { stage, board, width, height, zoom } = this;
        const x = ((stage.scrollLeft + stage.clientWidth / 2) / board.clientWidth) * width,
            y =
                ((stage.scrollTop + Math.min(stage.clientHeight, board.clientHeight) / 2) / board.clientHeight) *
                height;
        // A quarter of the picture wide.
        const half = width / 6 / zoom,
            up = height / 12 / zoom;
        const drive = (this.tooth?.side ?? side) === "drive";
        const right = (hand === "right") === drive;
        const toe = right ? x + half : x - half,
            heel = right ? x - half : x + half;
        this.remember();
        this.flanks.push({
            side: drive ? "drive" : "coast",
            corners: [
                [toe, y + up],
                [toe, y - up],
                [heel, y - up],
                [heel, y + up],
            ],
        });
        this.chosen = this.flanks.length - 1;
    }

    /// The chosen tooth once more where the next one of its side should be: as far on as the two nearest lie apart.
    copyOn() {
        const from = this.tooth,
            [x, y] = middleOf(from);
        const steps = this.flanks
            .filter((one) => one !== from && one.side === from.side)
            .map((one) => middleOf(one))
            .map(([mx, my]) => [x - mx, y - my]);
        const [root, tip] = from.corners;
        const step = steps.sort((a, b) => Math.hypot(...a) - Math.hypot(...b))[0] ?? [
            1.4 * (tip[0] - root[0]),
            1.4 * (tip[1] - root[1]),
        ];
        this.remember();
        this.flanks.push({ side: from.side, corners: from.corners.map(([px, py]) => [px + step[0], py + step[1]]) });
        this.chosen = this.flanks.length - 1;
    }
}

const pointsOf = (flank) => flank.corners.map(([x, y]) => `${x},${y}`).join(" ");
const middleOf = (flank) => [0, 1].map((axis) => flank.corners.reduce((sum, point) => sum + point[axis] / 4, 0));
const less = (words, onclick, more = {}) => h("button", { class: "act less", type: "button", onclick, ...more }, words);

/// What stands below the photo: which tooth, its side, what can be done with it. `show()` follows the board; `changed`:
/// after each change to the teeth.
function toothTools(corners, changed) {
    const pick = h("div", {});
    const doing = (act) => () => {
        act();
        changed();
    };
    const side = choice({
        label: say("page.side-tooth"),
        value: "drive",
        options: [
            ["drive", "drive"],
            ["coast", "coast"],
        ],
        onchange: (next) => doing(() => corners.setSide(next))(),
    });
    const copy = () => {
        corners.copyOn();
        announce(say("page.tooth-copied"));
        changed();
        corners.centre();
    };
    const tools = h(
        "div",
        {},
        side.element,
        h(
            "div",
            { class: "row" },
            less(
                say("page.swap-toe-heel"),
                doing(() => corners.turnRound()),
            ),
            less(say("page.copy-to-next-tooth"), copy),
            less(
                say("page.drop-tooth"),
                doing(() => corners.drop()),
            ),
        ),
    );
    function show() {
        const picker = choice({
            label: say("page.tooth"),
            value: String(corners.chosen),
            options: corners.flanks.map((flank, number) => [String(number), `${number + 1}`]),
            onchange: (number) => {
                corners.chosen = Number(number);
                show();
                corners.centre();
            },
        });
        pick.replaceChildren(
            corners.flanks.length ? picker.element : h("p", { class: "quiet" }, say("page.no-tooth-outlined-add")),
        );
        tools.hidden = !corners.tooth;
        if (corners.tooth) side.set(corners.tooth.side);
        corners.told.undoable();
        corners.draw();
    }
    return { parts: [pick, tools], show };
}

/// Every outline that the measuring anew takes: of this photo where it was touched, and those set on the other photos before.
function outlinesFor(trial, place, flanks, touched) {
    const outlines = [];
    if (touched)
        flanks.forEach((flank) => outlines.push({ photo: place, side: flank.side, corners_px: flank.corners.flat() }));
    // Corrections made on the other photos before stay.
    for (const flank of trial.outlines?.flanks ?? []) {
        const other = trial.photos.findIndex((photo) => photo.file === flank.photo);
        if (other >= 0 && (other !== place || !touched))
            outlines.push({ photo: other, side: flank.side, corners_px: flank.corners_px.flat() });
    }
    return outlines;
}

/// How the contact shows, and the button that reads the photos again; `send(marking)` does it.
function readAgain(send) {
    const marking = choice({
        label: say("page.how-contact-shows-all"),
        value: "",
        tall: true,
        options: [
            ["", say("page.told-photo")],
            ["wiped", say("page.wiped-clear-painted-flank")],
            ["transferred", say("page.printed-clean-flank")],
        ],
    });
    const problem = h("div", { class: "note bad", role: "alert", hidden: true });
    const waiting = h("p", { class: "quiet", role: "status" });
    const again = h(
        "button",
        {
            class: "act first",
            type: "button",
            async onclick() {
                problem.hidden = true;
                again.disabled = true;
                waiting.textContent = say("page.reading-again");
                try {
                    await send(marking.read());
                } catch (fault) {
                    waiting.textContent = "";
                    problem.textContent = fault.message;
                    problem.hidden = false;
                } finally {
                    again.disabled = false;
                }
            },
        },
        say("page.read-again"),
    );
    const folded = h("details", {}, h("summary", {}, say("page.contact-shows-otherwise")), marking.element);
    return [folded, tellingBar([problem, waiting], again)];
}

export async function outlinesView(job, view, id, place, go) {
    const trial = view.record.trials.find((one) => one.id === id);
    if (!trial?.photos[place])
        return {
            title: say("page.corners"),
            back: [`#/job/${job}`, say("page.job")],
            body: [h("h1", {}, say("page.no-such-photo"))],
        };
    const key = `corners/${job}/${id}/${place}`;
    const kept = await store.get("drafts", key);
    const flanks = kept ?? linesOf(trial.reading?.photos[place]);
    let touched = kept !== undefined;
    const url = await photoUrl(job, id, place);
    const image = h("img", { src: url, alt: say("page.photo-corners-set-buttons", place + 1), draggable: "false" });
    await image.decode();
    const corners = new CornerBoard(image, url, flanks, {
        keep() {
            touched = true;
            return store.put("drafts", key, flanks);
        },
        undoable: () => {
            undo.disabled = corners.undoable.length === 0;
        },
    });
    const changed = () => {
        corners.told.keep();
        tools.show();
    };
    const tools = toothTools(corners, changed);
    const undo = less(say("page.undo"), () => {
        corners.undo();
        changed();
        announce(say("page.undone"));
    });
    const add = () => {
        corners.add(trial.photos[place].original_name === SLOT_NAMES.coast ? "coast" : "drive", view.gear.hand);
        announce(say("page.tooth-added-middle-photo"));
        changed();
    };
    const change = api.oneChange();
    const send = async (marking) => {
        if (touched && flanks.length === 0) throw new Error(say("page.no-tooth-left-add"));
        const outlines = outlinesFor(trial, place, flanks, touched);
        const body = { replaces: id, by: myName(), ...(marking ? { marking } : {}) };
        if (outlines.length) body.outlines = outlines;
        const here = stillHere();
        const path = `/api/jobs/${encodeURIComponent(job)}/trials`;
        const result = await change(path, body, ({ task }) => api.finished(task));
        await store.remove("drafts", key);
        if (here()) go(`#/job/${job}/trial/${result.trial}`, { replace: true });
    };
    tools.show();
    requestAnimationFrame(() => corners.draw());
    const refused = trial.reading?.photos[place]?.refused;
    return {
        title: say("page.corners"),
        back: [`#/job/${job}/trial/${id}`, say("page.trial")],
        body: [
            h("h1", {}, say("page.photo", place + 1, trial.photos[place].original_name)),
            refused ? note("warn", h("p", {}, h("strong", {}, say("page.not-read")), refused.reason)) : null,
            h("p", { class: "small" }, say("page.drag-corner-square-ones")),
            corners.stage,
            corners.lens,
            h(
                "div",
                { class: "row" },
                less(say("page.closer"), () => corners.closer()),
                less(say("page.farther"), () => corners.farther()),
                undo,
                less(say("page.add-tooth"), add),
            ),
            tools.parts,
            readAgain(send),
        ],
    };
}
