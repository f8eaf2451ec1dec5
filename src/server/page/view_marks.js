// Correcting what was found: corners dragged under a magnifier, sides changed, teeth dropped and added.
import { announce, bar, h, note, s } from "./dom.js";
import * as api from "./api.js";
import { choice, myName } from "./fields.js";
import { SLOT_NAMES, photoUrl } from "./photo.js";
import { say } from "./words.js";

const CORNERS = [say("page.toe-root"), say("page.toe-tip"), say("page.heel-tip"), say("page.heel-root")];
const LENS_ZOOM = 3, LENS_SIZE = 136, LENS_ABOVE = 96, STEP_PX = 2, LARGE_STEP_PX = 12, MAX_ZOOM = 4;

function linesOf(reading) {
    return (reading?.flanks ?? []).map((flank) => ({ side: flank.side, corners: flank.outline_px.map((point) => [...point]) }));
}

export async function marksView(job, view, id, place, go) {
    const trial = view.record.trials.find((one) => one.id === id);
    if (!trial?.photos[place]) return { title: say("page.corners"), back: [`#/job/${job}`, say("page.job")], body: [h("h1", {}, say("page.no-such-photo"))] };
    const flanks = linesOf(trial.reading?.photos[place]);
    let chosen = flanks.length ? 0 : -1, zoom = 1, touched = false;
    const url = await photoUrl(job, id, place);
    const image = h("img", { src: url, alt: say("page.photo-corners-set-buttons", place + 1), draggable: "false" });
    await image.decode();
    const width = image.naturalWidth, height = image.naturalHeight;
    const overlay = s("svg", { viewBox: `0 0 ${width} ${height}`, preserveAspectRatio: "none", "aria-hidden": "true" });
    const handles = CORNERS.map((words, corner) => h("button", { class: corner < 2 ? "corner toe" : "corner", type: "button", "aria-label": say("page.corner-move-arrow-keys", words) }));
    const board = h("div", { class: "board" }, image, overlay, handles);
    const stage = h("div", { class: "stage", tabindex: 0, role: "group", "aria-label": say("page.photo-corners-chosen-tooth") }, board);
    const lens = h("div", { class: "lens", hidden: true, "aria-hidden": "true" });
    lens.style.backgroundImage = `url("${url}")`;

    const scale = () => board.clientWidth / width;
    function draw() {
        board.style.width = `${zoom * 100}%`;
        const size = Math.max(width, height) / 34 / zoom;
        overlay.replaceChildren(...flanks.flatMap((flank, number) => {
            const points = flank.corners.map(([x, y]) => `${x},${y}`).join(" ");
            const [x, y] = [0, 1].map((axis) => flank.corners.reduce((sum, point) => sum + point[axis] / 4, 0));
            const [root, tip] = flank.corners;
            return [s("polygon", { class: "flankhalo", points }), s("polygon", { class: `flankline of-${number === chosen ? flank.side : "none"}`, points }),
                s("text", { class: "flanktext", x, y, "font-size": size }, number + 1),
                number === chosen ? s("text", { class: "flanktext", x: (root[0] + tip[0]) / 2, y: (root[1] + tip[1]) / 2, "font-size": size * 0.8 }, "toe") : null].filter(Boolean);
        }));
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
        draw();
    }
    function showLens(event, corner) {
        const [x, y] = flanks[chosen].corners[corner];
        const shown = scale() * LENS_ZOOM;
        lens.hidden = false;
        lens.style.backgroundSize = `${width * shown}px ${height * shown}px`;
        lens.style.backgroundPosition = `${LENS_SIZE / 2 - x * shown}px ${LENS_SIZE / 2 - y * shown}px`;
        const left = Math.min(window.innerWidth - LENS_SIZE - 6, Math.max(6, event.clientX - LENS_SIZE / 2));
        const above = event.clientY - LENS_ABOVE - LENS_SIZE / 2;
        lens.style.left = `${left}px`;
        // Where there is no room above the finger it goes below it.
        lens.style.top = `${above > 6 ? above : event.clientY + LENS_ABOVE - LENS_SIZE / 2}px`;
    }
    handles.forEach((handle, corner) => {
        let start = null;
        handle.addEventListener("pointerdown", (event) => {
            event.preventDefault();
            handle.focus({ preventScroll: true });
            handle.setPointerCapture(event.pointerId);
            const [x, y] = flanks[chosen].corners[corner];
            start = { x, y, atX: event.clientX, atY: event.clientY };
            showLens(event, corner);
        });
        handle.addEventListener("pointermove", (event) => {
            if (!start) return;
            put(corner, start.x + (event.clientX - start.atX) / scale(), start.y + (event.clientY - start.atY) / scale());
            showLens(event, corner);
        });
        const end = () => {
            start = null;
            lens.hidden = true;
        };
        handle.addEventListener("pointerup", end);
        handle.addEventListener("pointercancel", end);
        handle.addEventListener("keydown", (event) => {
            const way = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
            if (!way) return;
            event.preventDefault();
            const step = event.shiftKey ? LARGE_STEP_PX : STEP_PX;
            const [x, y] = flanks[chosen].corners[corner];
            put(corner, x + way[0] * step, y + way[1] * step);
        });
    });

    const pick = h("div", {}), tools = h("div", {});
    const side = choice({ label: say("page.side-tooth"), value: "drive", options: [["drive", "drive"], ["coast", "coast"]], onchange: (next) => {
        flanks[chosen].side = next;
        // Seen with the tip up, toe and heel lie the other way round on the other side.
        flanks[chosen].corners.reverse();
        changed();
    } });
    function changed() {
        touched = true;
        refresh();
    }
    function refresh() {
        const picker = choice({ label: say("page.tooth"), value: String(chosen), options: flanks.map((flank, number) => [String(number), `${number + 1}`]), onchange: (key) => { chosen = Number(key); refresh(); } });
        pick.replaceChildren(flanks.length ? picker.element : h("p", { class: "quiet" }, say("page.no-tooth-marked-add")));
        tools.hidden = chosen < 0;
        if (chosen >= 0) side.set(flanks[chosen].side);
        draw();
    }
    function add() {
        const like = flanks[chosen];
        // A quarter of the picture wide, where the eye is: the middle of what is seen now.
        const x = ((stage.scrollLeft + stage.clientWidth / 2) / board.clientWidth) * width, y = ((stage.scrollTop + Math.min(stage.clientHeight, board.clientHeight) / 2) / board.clientHeight) * height;
        const half = width / 6 / zoom, up = height / 12 / zoom;
        const drive = (like?.side ?? (trial.photos[place].original_name === SLOT_NAMES.coast ? "coast" : "drive")) === "drive";
        const right = (view.gear.hand === "right") === drive;
        const toe = right ? x + half : x - half, heel = right ? x - half : x + half;
        flanks.push({ side: drive ? "drive" : "coast", corners: [[toe, y + up], [toe, y - up], [heel, y - up], [heel, y + up]] });
        chosen = flanks.length - 1;
        announce(say("page.tooth-added-middle-photo"));
        changed();
    }
    tools.append(side.element, h("div", { class: "row" },
        h("button", { class: "act less", type: "button", onclick: () => { flanks[chosen].corners.reverse(); changed(); } }, say("page.swap-toe-heel")),
        h("button", { class: "act less", type: "button", onclick: () => { flanks.splice(chosen, 1); chosen = flanks.length ? Math.min(chosen, flanks.length - 1) : -1; changed(); } }, say("page.drop-tooth"))));
    const marking = choice({ label: say("page.how-contact-shows-all"), value: "", tall: true, options: [["", say("page.told-photo")], ["wiped", say("page.wiped-clear-painted-flank")], ["transferred", say("page.printed-clean-flank")]] });
    const problem = h("div", { class: "note bad", role: "alert", hidden: true });
    const waiting = h("p", { class: "quiet", role: "status" });
    const again = h("button", { class: "act first", type: "button", async onclick() {
        problem.hidden = true;
        again.disabled = true;
        waiting.textContent = say("page.reading-again");
        try {
            const body = { replaces: id, by: myName() };
            if (marking.read()) body.marking = marking.read();
            if (touched && flanks.length === 0) throw new Error(say("page.no-tooth-left-add"));
            const outlines = [];
            if (touched) flanks.forEach((flank) => outlines.push({ photo: place, side: flank.side, corners_px: flank.corners.flat() }));
            // Corrections made on the other photos before stay.
            for (const flank of trial.outlines?.flanks ?? []) {
                const other = trial.photos.findIndex((photo) => photo.file === flank.photo);
                if (other >= 0 && (other !== place || !touched)) outlines.push({ photo: other, side: flank.side, corners_px: flank.corners_px.flat() });
            }
            if (outlines.length) body.outlines = outlines;
            const { task } = await api.post(`/api/jobs/${encodeURIComponent(job)}/trials`, body);
            const result = await api.finished(task);
            go(`#/job/${job}/trial/${result.trial}`);
        } catch (fault) {
            waiting.textContent = "";
            problem.textContent = fault.message;
            problem.hidden = false;
        } finally {
            again.disabled = false;
        }
    } }, say("page.read-again"));
    refresh();
    requestAnimationFrame(draw);
    return {
        title: say("page.corners"), back: [`#/job/${job}/trial/${id}`, say("page.trial")],
        body: [h("h1", {}, say("page.photo", place + 1, trial.photos[place].original_name)),
            trial.reading?.photos[place]?.refused ? note("warn", h("p", {}, h("strong", {}, say("page.not-read")), trial.reading.photos[place].refused.reason)) : null,
            h("p", { class: "small" }, say("page.drag-corner-square-ones")),
            stage, lens,
            h("div", { class: "row" },
                h("button", { class: "act less", type: "button", onclick: () => { zoom = Math.min(MAX_ZOOM, zoom * 2); draw(); } }, say("page.closer")),
                h("button", { class: "act less", type: "button", onclick: () => { zoom = Math.max(1, zoom / 2); draw(); } }, say("page.farther")),
                h("button", { class: "act less", type: "button", onclick: add }, say("page.add-tooth"))),
            pick, tools, marking.element, problem, waiting, bar(again)],
    };
}

