// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// Correcting what was found: corners dragged under a magnifier, sides changed, teeth dropped and added.
import { announce, bar, h, note, s } from "./dom.js";
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

function linesOf(reading) {
    return (reading?.flanks ?? []).map((flank) => ({
        side: flank.side,
        corners: flank.outline_px.map((point) => [...point]),
    }));
}

export async function marksView(job, view, id, place, go) {
    const trial = view.record.trials.find((one) => one.id === id);
    if (!trial?.photos[place])
        return { title: "Corners", back: [`#/job/${job}`, "Job"], body: [h("h1", {}, say("page.no-such-photo"))] };
    const key = `corners/${job}/${id}/${place}`;
    const kept = await store.get("drafts", key);
    const flanks = kept ?? linesOf(trial.reading?.photos[place]);
    let chosen = flanks.length ? 0 : -1,
        zoom = 1,
        touched = kept !== undefined;
    const undoable = [];
    /// Before each change: what stands now can be brought back.
    const remember = () => undoable.push(JSON.stringify(flanks));
    const keep = () => store.put("drafts", key, flanks);
    const url = await photoUrl(job, id, place);
    const image = h("img", { src: url, alt: say("page.photo-corners-set-buttons", place + 1), draggable: "false" });
    await image.decode();
    const width = image.naturalWidth,
        height = image.naturalHeight;
    const overlay = s("svg", { viewBox: `0 0 ${width} ${height}`, preserveAspectRatio: "none", "aria-hidden": "true" });
    const handles = CORNERS.map((words, corner) =>
        h("button", {
            class: corner < 2 ? "corner toe" : "corner",
            type: "button",
            "aria-label": say("page.corner-move-arrow-keys", words),
        }),
    );
    const board = h("div", { class: "board" }, image, overlay, handles);
    const stage = h(
        "div",
        { class: "stage", tabindex: 0, role: "group", "aria-label": say("page.photo-corners-chosen-tooth") },
        board,
    );
    const lens = h("div", { class: "lens", hidden: true, "aria-hidden": "true" });
    lens.style.backgroundImage = `url("${url}")`;
    const lensLines = s("svg", { "aria-hidden": "true" });
    lens.append(lensLines);

    const scale = () => board.clientWidth / width;
    function draw() {
        board.style.width = `${zoom * 100}%`;
        const size = Math.max(width, height) / 34 / zoom;
        overlay.replaceChildren(
            ...flanks.flatMap((flank, number) => {
                const points = flank.corners.map(([x, y]) => `${x},${y}`).join(" ");
                const [x, y] = [0, 1].map((axis) => flank.corners.reduce((sum, point) => sum + point[axis] / 4, 0));
                const [root, tip] = flank.corners;
                return [
                    s("polygon", { class: "flankhalo", points }),
                    s("polygon", { class: `flankline of-${number === chosen ? flank.side : "none"}`, points }),
                    s("text", { class: "flanktext", x, y, "font-size": size }, number + 1),
                    number === chosen
                        ? s(
                              "text",
                              {
                                  class: "flanktext",
                                  x: (root[0] + tip[0]) / 2,
                                  y: (root[1] + tip[1]) / 2,
                                  "font-size": size * 0.8,
                              },
                              "toe",
                          )
                        : null,
                ].filter(Boolean);
            }),
        );
        handles.forEach((handle, corner) => {
            handle.hidden = chosen < 0;
            if (chosen < 0) return;
            const [x, y] = flanks[chosen].corners[corner];
            handle.style.left = `${(100 * x) / width}%`;
            handle.style.top = `${(100 * y) / height}%`;
        });
    }
    function put(corner, x, y) {
        flanks[chosen].corners[corner] = [Math.min(width, Math.max(0, x)), Math.min(height, Math.max(0, y))];
        touched = true;
        keep();
        draw();
    }
    /// The corner of the chosen tooth next to a finger; -1: none within its reach.
    function nearest(event) {
        if (chosen < 0) return -1;
        const box = board.getBoundingClientRect();
        const far = flanks[chosen].corners.map(([x, y]) =>
            Math.hypot(box.left + x * scale() - event.clientX, box.top + y * scale() - event.clientY),
        );
        const least = Math.min(...far);
        return least <= REACH_PX ? far.indexOf(least) : -1;
    }
    /// The chosen tooth in the middle of the view, as large as the zoom shows it.
    function centre() {
        if (chosen < 0) return;
        const [x, y] = [0, 1].map((axis) => flanks[chosen].corners.reduce((sum, point) => sum + point[axis] / 4, 0));
        stage.scrollLeft = x * scale() - stage.clientWidth / 2;
        stage.scrollTop = y * scale() - stage.clientHeight / 2;
    }
    function closer() {
        const xs = chosen < 0 ? [] : flanks[chosen].corners.map(([x]) => x);
        const fits = chosen < 0 ? 2 * zoom : (TOOTH_SHARE * width) / Math.max(1, Math.max(...xs) - Math.min(...xs));
        zoom = Math.min(MAX_ZOOM, Math.max(2 * zoom, Math.min(fits, 4 * zoom)));
        draw();
        centre();
    }
    function farther() {
        zoom = Math.max(1, zoom / 2);
        draw();
        centre();
    }
    function showLens(event, corner) {
        const [x, y] = flanks[chosen].corners[corner];
        const shown = scale() * LENS_ZOOM;
        lens.hidden = false;
        lens.style.backgroundSize = `${width * shown}px ${height * shown}px`;
        lens.style.backgroundPosition = `${LENS_SIZE / 2 - x * shown}px ${LENS_SIZE / 2 - y * shown}px`;
        // The line under the finger, as it lies on the tooth.
        const half = LENS_SIZE / 2 / shown;
        lensLines.setAttribute("viewBox", `${x - half} ${y - half} ${2 * half} ${2 * half}`);
        const points = flanks[chosen].corners.map(([px, py]) => `${px},${py}`).join(" ");
        lensLines.replaceChildren(
            s("polygon", { class: "flankhalo", points }),
            s("polygon", { class: `flankline of-${flanks[chosen].side}`, points }),
            s("circle", { class: "underfinger", cx: x, cy: y, r: half / 14 }),
        );
        const left = Math.min(window.innerWidth - LENS_SIZE - 6, Math.max(6, event.clientX - LENS_SIZE / 2));
        const above = event.clientY - LENS_ABOVE - LENS_SIZE / 2;
        lens.style.left = `${left}px`;
        // Where there is no room above the finger it goes below it.
        lens.style.top = `${above > 6 ? above : event.clientY + LENS_ABOVE - LENS_SIZE / 2}px`;
    }
    // A finger takes the nearest corner, however close two of them lie; the buttons on them are for keys and to be seen.
    let held = null;
    board.addEventListener("pointerdown", (event) => {
        const corner = nearest(event);
        if (corner < 0) return;
        event.preventDefault();
        remember();
        handles[corner].focus({ preventScroll: true });
        board.setPointerCapture(event.pointerId);
        const [x, y] = flanks[chosen].corners[corner];
        held = { corner, x, y, atX: event.clientX, atY: event.clientY, moved: false };
        showLens(event, corner);
    });
    board.addEventListener("pointermove", (event) => {
        if (!held) return;
        held.moved = true;
        put(held.corner, held.x + (event.clientX - held.atX) / scale(), held.y + (event.clientY - held.atY) / scale());
        showLens(event, held.corner);
    });
    const release = () => {
        if (held && !held.moved) undoable.pop();
        held = null;
        lens.hidden = true;
        showUndo();
    };
    board.addEventListener("pointerup", release);
    board.addEventListener("pointercancel", release);
    // Near a corner the finger drags it; elsewhere it moves the photo.
    board.addEventListener(
        "touchstart",
        (event) => {
            if (event.touches.length === 1 && nearest(event.touches[0]) >= 0) event.preventDefault();
        },
        { passive: false },
    );
    handles.forEach((handle, corner) =>
        handle.addEventListener("keydown", (event) => {
            const way = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
            if (!way) return;
            event.preventDefault();
            if (!event.repeat) remember();
            const step = event.shiftKey ? LARGE_STEP_PX : STEP_PX;
            const [x, y] = flanks[chosen].corners[corner];
            put(corner, x + way[0] * step, y + way[1] * step);
            showUndo();
        }),
    );
    const undo = h(
        "button",
        {
            class: "act less",
            type: "button",
            onclick() {
                flanks.splice(0, flanks.length, ...JSON.parse(undoable.pop()));
                chosen = Math.min(Math.max(chosen, 0), flanks.length - 1);
                keep();
                refresh();
                announce(say("page.undone"));
            },
        },
        say("page.undo"),
    );
    function showUndo() {
        undo.disabled = undoable.length === 0;
    }

    const pick = h("div", {}),
        tools = h("div", {});
    const side = choice({
        label: say("page.side-tooth"),
        value: "drive",
        options: [
            ["drive", "drive"],
            ["coast", "coast"],
        ],
        onchange: (next) => {
            remember();
            flanks[chosen].side = next;
            // Seen with the tip up, toe and heel lie the other way round on the other side.
            flanks[chosen].corners.reverse();
            changed();
        },
    });
    function changed() {
        touched = true;
        keep();
        refresh();
    }
    function refresh() {
        const picker = choice({
            label: say("page.tooth"),
            value: String(chosen),
            options: flanks.map((flank, number) => [String(number), `${number + 1}`]),
            onchange: (number) => {
                chosen = Number(number);
                refresh();
                centre();
            },
        });
        pick.replaceChildren(
            flanks.length ? picker.element : h("p", { class: "quiet" }, say("page.no-tooth-marked-add")),
        );
        tools.hidden = chosen < 0;
        if (chosen >= 0) side.set(flanks[chosen].side);
        showUndo();
        draw();
    }
    function add() {
        const like = flanks[chosen];
        // A quarter of the picture wide, where the eye is: the middle of what is seen now.
        const x = ((stage.scrollLeft + stage.clientWidth / 2) / board.clientWidth) * width,
            y =
                ((stage.scrollTop + Math.min(stage.clientHeight, board.clientHeight) / 2) / board.clientHeight) *
                height;
        const half = width / 6 / zoom,
            up = height / 12 / zoom;
        const drive =
            (like?.side ?? (trial.photos[place].original_name === SLOT_NAMES.coast ? "coast" : "drive")) === "drive";
        const right = (view.gear.hand === "right") === drive;
        const toe = right ? x + half : x - half,
            heel = right ? x - half : x + half;
        remember();
        flanks.push({
            side: drive ? "drive" : "coast",
            corners: [
                [toe, y + up],
                [toe, y - up],
                [heel, y - up],
                [heel, y + up],
            ],
        });
        chosen = flanks.length - 1;
        announce(say("page.tooth-added-middle-photo"));
        changed();
    }
    /// The chosen tooth once more where the next one of its side should be: as far on as the two nearest lie apart.
    function copyOn() {
        const middle = (flank) => [0, 1].map((axis) => flank.corners.reduce((sum, point) => sum + point[axis] / 4, 0));
        const from = flanks[chosen],
            [x, y] = middle(from);
        const steps = flanks
            .filter((one) => one !== from && one.side === from.side)
            .map((one) => middle(one))
            .map(([mx, my]) => [x - mx, y - my]);
        const [root, tip] = from.corners;
        const step = steps.sort((a, b) => Math.hypot(...a) - Math.hypot(...b))[0] ?? [
            1.4 * (tip[0] - root[0]),
            1.4 * (tip[1] - root[1]),
        ];
        remember();
        flanks.push({ side: from.side, corners: from.corners.map(([px, py]) => [px + step[0], py + step[1]]) });
        chosen = flanks.length - 1;
        announce(say("page.tooth-copied"));
        changed();
        centre();
    }
    tools.append(
        side.element,
        h(
            "div",
            { class: "row" },
            h(
                "button",
                {
                    class: "act less",
                    type: "button",
                    onclick: () => {
                        remember();
                        flanks[chosen].corners.reverse();
                        changed();
                    },
                },
                say("page.swap-toe-heel"),
            ),
            h("button", { class: "act less", type: "button", onclick: copyOn }, say("page.copy-to-next-tooth")),
            h(
                "button",
                {
                    class: "act less",
                    type: "button",
                    onclick: () => {
                        remember();
                        flanks.splice(chosen, 1);
                        chosen = flanks.length ? Math.min(chosen, flanks.length - 1) : -1;
                        changed();
                    },
                },
                say("page.drop-tooth"),
            ),
        ),
    );
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
                    const body = { replaces: id, by: myName() };
                    if (marking.read()) body.marking = marking.read();
                    if (touched && flanks.length === 0) throw new Error(say("page.no-tooth-left-add"));
                    const outlines = [];
                    if (touched)
                        flanks.forEach((flank) =>
                            outlines.push({ photo: place, side: flank.side, corners_px: flank.corners.flat() }),
                        );
                    // Corrections made on the other photos before stay.
                    for (const flank of trial.outlines?.flanks ?? []) {
                        const other = trial.photos.findIndex((photo) => photo.file === flank.photo);
                        if (other >= 0 && (other !== place || !touched))
                            outlines.push({ photo: other, side: flank.side, corners_px: flank.corners_px.flat() });
                    }
                    if (outlines.length) body.outlines = outlines;
                    const { task } = await api.post(`/api/jobs/${encodeURIComponent(job)}/trials`, body);
                    const result = await api.finished(task);
                    await store.remove("drafts", key);
                    go(`#/job/${job}/trial/${result.trial}`, { replace: true });
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
    refresh();
    requestAnimationFrame(draw);
    return {
        title: say("page.corners"),
        back: [`#/job/${job}/trial/${id}`, say("page.trial")],
        body: [
            h("h1", {}, say("page.photo", place + 1, trial.photos[place].original_name)),
            trial.reading?.photos[place]?.refused
                ? note(
                      "warn",
                      h("p", {}, h("strong", {}, say("page.not-read")), trial.reading.photos[place].refused.reason),
                  )
                : null,
            h("p", { class: "small" }, say("page.drag-corner-square-ones")),
            stage,
            lens,
            h(
                "div",
                { class: "row" },
                h("button", { class: "act less", type: "button", onclick: closer }, say("page.closer")),
                h("button", { class: "act less", type: "button", onclick: farther }, say("page.farther")),
                undo,
                h("button", { class: "act less", type: "button", onclick: add }, say("page.add-tooth")),
            ),
            pick,
            tools,
            marking.element,
            problem,
            waiting,
            bar(again),
        ],
    };
}
