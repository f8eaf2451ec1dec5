// A trial: its photos in, its answer out.
import { announce, bar, h, note, sketch, words } from "./dom.js";
import * as api from "./api.js";
import * as units from "./units.js";
import { choice, form, lengthField, myName, numberField, textField } from "./fields.js";
import { questions } from "./looked.js";
import { SLOT_NAMES, lineLegend, photoFigure, shrunk, sideWords } from "./photo.js";
import { say } from "./words.js";

const PIECE_BYTES = 262144;

function camera() {
    const ns = "http://www.w3.org/2000/svg";
    const svg = document.createElementNS(ns, "svg");
    svg.setAttribute("viewBox", "0 0 48 48");
    svg.setAttribute("aria-hidden", "true");
    const path = document.createElementNS(ns, "path");
    path.setAttribute("d", "M6 15h9l3-5h12l3 5h9a2 2 0 0 1 2 2v20a2 2 0 0 1-2 2H6a2 2 0 0 1-2-2V17a2 2 0 0 1 2-2zM24 19a8 8 0 1 0 0 16 8 8 0 0 0 0-16z");
    path.setAttribute("fill", "none");
    path.setAttribute("stroke", "currentColor");
    path.setAttribute("stroke-width", "3");
    path.setAttribute("stroke-linejoin", "round");
    svg.append(path);
    return svg;
}

/// What was sent already, so that a page that was closed goes on where it stopped.
const draftKey = (job, what) => `shimsight-draft-${what}${job}`;
function loadDraft(job, what) {
    try {
        return JSON.parse(sessionStorage.getItem(draftKey(job, what))) ?? {};
    } catch {
        return {};
    }
}

/// Whether marks or backlash of used gears from before they came apart are missing.
export function asksBefore(view) {
    const { build, before } = view.record, counting = before.filter((entry) => !entry.struck);
    return build === "used-gears" && !(counting.some((entry) => entry.backlash_mm !== null || entry.backlash_round.length) && counting.some((entry) => entry.reading?.pattern.drive || entry.reading?.pattern.coast));
}

/// `before`: what used gears were before they came apart, in place of a trial.
export async function newTrialView(job, view, go, before = false) {
    const what = before ? "before-" : "";
    const former = view.record.before.filter((entry) => !entry.struck && entry.backlash_mm !== null).at(-1);
    const wanted = former ? say("page.wanted-before", units.length(former.backlash_mm)) : view.record.build === "used-gears" ? say("page.used-gears-before-they") : say("page.wanted", units.length(view.gear.backlash_mm[0]), units.length(view.gear.backlash_mm[1]));
    const draft = { photos: {}, ...loadDraft(job, what) };
    draft.request ??= api.newId();
    const keep = () => sessionStorage.setItem(draftKey(job, what), JSON.stringify(draft));
    const last = before ? null : view.lastTrial;
    const work = view.record.work.filter((entry) => !entry.struck && last && entry.after_trial === last.id).at(-1);
    const backlash = lengthField({ label: say("page.backlash-dial"), hint: before ? say("page.whatever-sheet-wants-new") : wanted, mm: draft.backlash ?? work?.backlash_mm });
    const stack = lengthField({ label: say("page.pinion-shims-place"), hint: say("page.all-them-together-may"), mm: draft.stack ?? work?.shim_stack_mm ?? (work ? null : last?.shim_stack_mm) });
    backlash.input.addEventListener("change", () => { draft.backlash = units.parseLength(backlash.input.value); keep(); });
    stack.input.addEventListener("change", () => { draft.stack = units.parseLength(stack.input.value); keep(); });

    const sending = {};
    function slot(side) {
        const element = h("div", { class: "slot" });
        const progress = h("progress", { max: 1, value: 0, "aria-label": say("page.sending-side", sideWords(side)), hidden: true });
        const state = h("p", { class: "small quiet", role: "status" });
        const face = h("span", {}, side === "drive" ? say("page.drive-side-title") : say("page.coast-side-title"));
        const input = h("input", { type: "file", accept: "image/*", "aria-label": say("page.photo-of-the", sideWords(side)), async onchange() {
            const file = input.files[0];
            if (!file) return;
            const id = api.newId();
            let stopped = false;
            sending[side]?.stop();
            const mine = { stop: () => { stopped = true; }, done: null };
            sending[side] = mine;
            delete draft.photos[side];
            draft.request = api.newId();
            keep();
            progress.hidden = false;
            progress.value = 0;
            state.className = "small quiet";
            state.textContent = say("page.making-ready");
            mine.done = (async () => {
                const small = await shrunk(file);
                const image = h("img", { src: URL.createObjectURL(small), alt: "" });
                image.addEventListener("error", () => image.replaceWith(camera()));
                take.replaceChildren(image, face, input);
                state.textContent = say("page.sending");
                await api.sendPhoto(small, id, PIECE_BYTES, (share) => { progress.value = share; }, () => stopped);
                if (stopped) return;
                draft.photos[side] = id;
                keep();
                element.classList.add("full");
                face.textContent = side === "drive" ? say("page.drive-side-take-again") : say("page.coast-side-take-again");
                state.textContent = say("page.received");
                progress.hidden = true;
                announce(say("page.photo-received", sideWords(side)));
                input.value = "";
            })();
            try {
                await mine.done;
            } catch (problem) {
                progress.hidden = true;
                element.classList.remove("full");
                state.className = "small hint bad";
                state.textContent = problem.message;
                input.value = "";
            }
        } });
        const take = h("label", { class: "take" }, camera(), face, input);
        if (draft.photos[side]) {
            element.classList.add("full");
            face.textContent = side === "drive" ? say("page.drive-side-take-again") : say("page.coast-side-take-again");
            state.textContent = say("page.received-before");
        }
        element.append(take, progress, state);
        return element;
    }

    const problem = h("div", { class: "note bad", role: "alert", hidden: true });
    const waiting = h("p", { class: "quiet", role: "status" });
    const button = h("button", { class: "act first", type: "button", async onclick() {
        problem.hidden = true;
        button.disabled = true;
        try {
            const body = { by: myName(), photos: [], ...(backlash.read() === null ? {} : { backlash_mm: backlash.read() }), ...(stack.read() === null ? {} : { shim_stack_mm: stack.read() }) };
            for (const side of ["drive", "coast"]) {
                if (sending[side]) {
                    waiting.textContent = say("page.sending-side-now", sideWords(side));
                    await sending[side].done;
                }
                if (draft.photos[side]) body.photos.push({ upload: draft.photos[side], side });
            }
            if (body.photos.length === 0 && before && body.backlash_mm === undefined) throw new Error(say("page.take-photos-marks-they"));
            if (body.photos.length === 0 && !before) throw new Error(say("page.take-photo-drive-side"));
            const { task } = await api.post(`/api/jobs/${encodeURIComponent(job)}/${before ? "before" : "trials"}`, body, draft.request);
            const result = await api.finished(task, (state) => {
                waiting.textContent = state.state === "waiting" ? (state.ahead === 1 ? say("page.waiting-one-other-reading", Math.ceil(state.wait_s)) : say("page.waiting-other-readings-hardly", state.ahead, Math.ceil(state.wait_s))) : say("page.reading-photos");
            });
            sessionStorage.removeItem(draftKey(job, what));
            if (before) {
                go(`#/job/${job}`);
                return;
            }
            if (result.notes?.length) sessionStorage.setItem("shimsight-notes", JSON.stringify(result.notes));
            go(`#/job/${job}/trial/${result.trial}`);
        } catch (fault) {
            // A trial that failed gets another id: the same one would give the same answer.
            draft.request = api.newId();
            keep();
            waiting.textContent = "";
            problem.textContent = fault.message;
            problem.hidden = false;
        } finally {
            button.disabled = false;
        }
    } }, before ? say("page.keep-it") : say("page.read-pattern"));
    if (before)
        return {
            title: say("page.before-gears-came-apart"),
            back: [`#/job/${job}`, say("page.job")],
            body: [
                h("h1", {}, say("page.before-they-came-apart")),
                h("p", {}, say("page.these-gears-ran-together")),
                h("div", { class: "slots" }, slot("drive"), slot("coast")),
                h("div", { class: "two" }, backlash.element, stack.element),
                problem, waiting,
                h("p", {}, h("a", { href: `#/job/${job}/new-trial` }, say("page.nobody-knows-any-more"))),
                bar(button),
            ],
        };
    return {
        title: say("page.new-trial"),
        back: [`#/job/${job}`, say("page.job")],
        body: [
            h("h1", {}, say("page.trial-number", view.nextNumber)),
            asksBefore(view) ? note("warn", h("p", {}, say("page.used-gears-set-they"), " ", h("a", { href: `#/job/${job}/before` }, say("page.enter-them")))) : null,
            h("p", {}, say("page.paint-three-four-teeth")),
            h("div", { class: "slots" }, slot("drive"), slot("coast")),
            h("div", { class: "two" }, backlash.element, stack.element),
            problem, waiting,
            h("p", {}, h("a", { href: `#/job/${job}/draw` }, say("page.no-photo-possible-draw"))),
            h("details", {}, h("summary", {}, say("page.how-take-good-photo")), words([say("page.gear-fills-picture-flank"), say("page.lamp-side-no-flash"), say("page.tap-teeth-screen-focus"), say("page.keep-fingers-out-gears")])),
            bar(button),
        ],
    };
}

// The answer ---------------------------------------------------------------------------------------------------------

function headline(answer) {
    const { lead, amount_mm: amount, place } = answer.headline;
    if (amount === null) return h("h1", { tabindex: -1 }, lead);
    return h("h1", { tabindex: -1 }, lead, " ", h("span", { class: "amount" }, units.length(amount)), " ", h("span", { class: "other" }, units.otherLength(amount)), ` ${place}.`);
}

/// Sure, likely, not sure and stop look different without their colours, too: by their frame, their sign and their words.
const LOOKS = { sure: "\u2713", likely: "\u2248", "not-sure": "?", stop: "!" };
function certaintyTag(answer) {
    const look = answer.stop ? "stop" : answer.certainty;
    return h("p", { class: `certainty ${look}` }, h("span", { "aria-hidden": "true" }, LOOKS[look]), " ", answer.certainty_words);
}

export function answerCard(answer) {
    const look = answer.stop || answer.verdict === "no-shim-will-help" ? "stop" : answer.verdict === "accept" ? "accept" : "";
    const chance = answer.chance_next ?? answer.chance_now;
    const told = !answer.stop || answer.steps.length > 0;
    return h("section", { class: `answer ${look} ${answer.certainty}`, "aria-label": say("page.what-to-do") },
        certaintyTag(answer),
        headline(answer),
        answer.look_first.length ? [h("h2", {}, say("page.look-first")), words(answer.look_first)] : null,
        answer.backlash.target_mm !== null && !answer.stop ? h("p", { class: "way" }, say("page.backlash-set", units.bothLengths(answer.backlash.target_mm))) : null,
        answer.steps.length ? [h("h2", {}, say("page.how")), h("ol", { class: "how" }, answer.steps.map((step) => h("li", {}, step)))] : null,
        told ? h("div", { class: "sure" }, h("div", { class: "gauge", "aria-hidden": "true" }, gaugeFill(chance)), h("p", { class: "small" }, answer.how_sure)) : null);
}

function gaugeFill(chance) {
    const fill = h("div", {});
    fill.style.width = `${Math.round(100 * chance)}%`;
    return fill;
}

function sketches(extra, change) {
    const figures = [];
    for (const side of ["drive", "coast"]) {
        const pair = extra.sketches[side];
        if (!pair) continue;
        const title = side === "drive" ? say("page.drive-side-title") : say("page.coast-side-title");
        figures.push(h("figure", { class: pair.next ? "" : "wide" }, sketch(pair.now), h("figcaption", {}, say("page.now", title))));
        if (pair.next) figures.push(h("figure", {}, sketch(pair.next), h("figcaption", {}, say("page.expected", title))));
    }
    if (!figures.length) return null;
    return [h("h2", {}, change ? say("page.before-expect") : say("page.pattern")), h("div", { class: "pairs" }, figures), h("p", { class: "legend" }, say("page.toe-left-tip-top"))];
}

function numbers(reading) {
    const rows = [[say("page.lies"), (p) => `${p.length_position}, ${p.depth_position === "face" ? say("page.tip-half") : p.depth_position === "flank" ? say("page.root-half") : "mid-height"}`],
        [say("page.centre-toe-zero-heel"), (p) => `${p.centre.toe_heel.toFixed(2)} \u00b1 ${(2 * p.sigma.toe_heel).toFixed(2)}`], [say("page.centre-root-zero-tip"), (p) => `${p.centre.root_tip.toFixed(2)} \u00b1 ${(2 * p.sigma.root_tip).toFixed(2)}`],
        [say("page.length-face"), (p) => units.percent(p.length)], [say("page.height-tooth"), (p) => units.percent(p.height)], [say("page.runs-off"), (p) => p.runs_off.join(", ") || say("page.no-edge")], [say("page.teeth-read"), (p) => p.teeth]];
    const { drive, coast } = reading.pattern;
    return h("table", {}, h("thead", {}, h("tr", {}, h("th", { scope: "col" }, say("page.number-heading")), h("th", { scope: "col" }, say("page.drive-heading")), h("th", { scope: "col" }, say("page.coast-heading")))),
        h("tbody", {}, rows.map(([label, value]) => h("tr", {}, h("th", { scope: "row" }, label), h("td", {}, drive ? value(drive) : "\u2013"), h("td", {}, coast ? value(coast) : "\u2013")))));
}

function photoPart(job, trial, signedOff) {
    const reading = trial.reading;
    if (!trial.photos.length) return null;
    return [h("h2", {}, trial.photos.length === 1 ? say("page.the-photo") : say("page.the-photos")),
        trial.photos.map((photo, place) => {
            const read = reading?.photos[place] ?? { flanks: [], refused_flanks: [], refused: null };
            const { element, text } = photoFigure(job, trial.id, place, read);
            const wrongSlot = Object.values(SLOT_NAMES).includes(photo.original_name) && read.flanks.length && !read.flanks.some((flank) => SLOT_NAMES[flank.side] === photo.original_name);
            const left = read.refused_flanks.length;
            return h("section", { "aria-label": say("page.photo-number", place + 1) }, element,
                read.refused ? note("warn", h("p", {}, h("strong", {}, say("page.not-read")), read.refused.reason), h("p", {}, read.refused.what_to_do)) : h("p", { class: "small" }, left ? say("page.photo-read-and-left-out", photo.original_name, text, left) : say("page.photo-read", photo.original_name, text)),
                wrongSlot ? note("warn", say("page.sent-but-shows-other", photo.original_name)) : null,
                signedOff ? null : h("a", { class: "act less wide", href: `#/job/${job}/trial/${trial.id}/mark/${place}` }, read.refused ? say("page.mark-teeth-hand") : say("page.correct-outlines")));
        }), lineLegend()];
}

export function trialView(job, view, id, go) {
    const trial = view.record.trials.find((one) => one.id === id);
    const extra = view.trials[id];
    if (!trial) return { title: say("page.trial"), back: [`#/job/${job}`, say("page.job")], body: [h("h1", {}, say("page.no-such-trial")), h("p", {}, h("a", { href: `#/job/${job}` }, say("page.back-job")))] };
    const { answer } = extra;
    const reading = trial.reading;
    const advice = reading?.advice;
    const isLast = view.lastTrial?.id === id;
    const open = isLast && !view.signed_off;
    const change = answer?.verdict === "change";
    // Questions stand on the card, once.
    const causes = (advice?.diagnoses ?? []).filter((one) => !one.question);
    const notes = JSON.parse(sessionStorage.getItem("shimsight-notes") ?? "[]");
    sessionStorage.removeItem("shimsight-notes");
    const title = extra.number ? say("page.trial-number", extra.number) : say("page.reading", id);
    const nothing = !reading || (!reading.pattern.drive && !reading.pattern.coast);
    const body = [
        trial.struck ? note("warn", say("page.struck-out-counts-no", units.when(trial.struck.at), trial.struck.why)) : null,
        notes.map((sentence) => note("warn", sentence)),
        answer ? h("div", { class: "spread" }, answerCard(answer), h("div", {}, sketches(extra, change))) : null,
        open ? questions(job, advice, async () => go(`#/job/${job}/trial/${id}`)) : null,
        nothing ? [h("h1", { tabindex: -1 }, say("page.no-pattern-read")), note("warn", say("page.nothing-wrong-job-happens"))] : null,
        !answer && !nothing ? h("h1", { tabindex: -1 }, say("page.pattern-read-but-no")) : null,
        answer ? null : sketches(extra, change),
        advice?.because.length ? [h("h2", {}, say("page.why")), words(advice.because)] : null,
        advice?.cautions.length ? [h("h2", {}, say("page.take-care")), note("warn", words(advice.cautions))] : null,
        photoPart(job, trial, !open),
        open ? h("div", { class: "row" }, h("a", { class: "act less", href: `#/job/${job}/trial/${id}/draw` }, say("page.draw-pattern-instead")), h("button", { class: "act less", type: "button", onclick: () => retake(job, trial, go) }, say("page.strike-out-take-again"))) : null,
        answer?.runner_up ? h("details", {}, h("summary", {}, say("page.second-choice")), h("p", {}, say("page.backlash-chance", answer.runner_up.lead, units.bothLengths(answer.runner_up.backlash_mm), units.percent(answer.runner_up.chance)))) : null,
        reading ? h("details", {}, h("summary", {}, say("page.evidence-numbers")),
            causes.length ? [h("h3", {}, say("page.causes-beyond-shims")), words(causes.map((one) => say("page.chance", one.evidence, units.percent(one.chance))))] : null,
            nothing ? null : numbers(reading),
            reading.notes.length ? [h("h3", {}, say("page.to-know")), words(reading.notes)] : null,
            reading.assumed.length ? [h("h3", {}, say("page.assumed-not-given")), words(reading.assumed)] : null,
            h("p", { class: "small quiet" }, say("page.backlash-shims-place-pattern", title, units.when(trial.at), trial.by ? `, ${trial.by}` : "", trial.backlash_mm === null ? say("page.is-not-read") : units.bothLengths(trial.backlash_mm), trial.shim_stack_mm === null ? say("page.not-said") : units.bothLengths(trial.shim_stack_mm), trial.origin))) : null,
    ];
    if (open) body.push(bar(change ? h("a", { class: "act first", href: `#/job/${job}/done/${id}` }, say("page.i-made-change"))
        : answer?.stop?.kind === "wear-not-known" ? h("a", { class: "act first", href: `#/job/${job}/before` }, say("page.gears-before"))
        : answer?.stop ? h("a", { class: "act first", href: `#/job/${job}` }, say("page.go-job")) : answer?.verdict === "accept" ? h("a", { class: "act first", href: `#/job/${job}` }, say("page.go-on-with-the")) : h("a", { class: "act first", href: `#/job/${job}/new-trial` }, say("page.take-photos-again"))));
    return { title, back: [`#/job/${job}`, say("page.job")], body, wide: true };
}

async function retake(job, trial, go) {
    await api.post(`/api/jobs/${encodeURIComponent(job)}/entries/strike-out`, { entry: trial.id, by: myName(), why: say("page.photos-taken-again") });
    go(`#/job/${job}/new-trial`);
}

// What was really done -----------------------------------------------------------------------------------------------

export function doneView(job, view, id, go) {
    const trial = view.record.trials.find((one) => one.id === id);
    const answer = view.trials[id]?.answer;
    const advised = answer?.verdict === "change" ? answer.shim_change_mm : null;
    const way = choice({ label: say("page.pinion-shims", view.gear.shim_place), value: advised === null || advised === 0 ? "leave" : advised > 0 ? "add" : "take", options: [["add", "added"], ["take", say("page.taken-out")], ["leave", say("page.left-alone")]] });
    const amount = lengthField({ label: say("page.how-much"), mm: advised ? Math.abs(advised) : null, hint: say("page.really-changed-whatever-advised") });
    const stack = lengthField({ label: say("page.shims-place-now"), hint: say("page.measured-micrometer-may-stay"), mm: trial?.shim_stack_mm !== null && trial && advised !== null ? trial.shim_stack_mm + advised : null });
    const backlash = lengthField({ label: say("page.backlash-now-dial"), required: true });
    const left = numberField({ label: say("page.left-adjuster-notches"), hint: say("page.tightened-loosened") }), right = numberField({ label: say("page.right-adjuster-notches") });
    const by = textField({ label: say("page.who"), value: myName(), autocomplete: "name" });
    const words = textField({ label: say("page.anything-else-may-stay"), long: true });
    const request = api.newId();
    const send = async () => {
        const sign = { add: 1, take: -1, leave: 0 }[way.read()];
        const much = amount.read();
        if (sign !== 0 && much === null) throw new Error(say("page.how-much-enter-first"));
        const body = { after_trial: id, by: by.read(), note: words.read(), shim_change_mm: sign === 0 ? 0 : sign * Math.abs(much), backlash_mm: backlash.read() };
        for (const [key, value] of [["shim_stack_mm", stack.read()], ["left_notches", left.read()], ["right_notches", right.read()]]) if (value !== null) body[key] = value;
        await api.post(`/api/jobs/${encodeURIComponent(job)}/entries/work`, body, request);
        go(`#/job/${job}/new-trial`);
    };
    return {
        title: say("page.what-was-done"),
        back: [`#/job/${job}/trial/${id}`, say("page.trial")],
        body: [h("h1", {}, say("page.really-done")),
            h("p", {}, say("page.next-trial-learns-so")),
            form({ fields: [way.element, amount.element, backlash.element, stack.element, view.gear.adjusters ? h("div", { class: "two" }, left.element, right.element) : null, by.element, words.element, h("p", { class: "small" }, h("a", { href: `#/job/${job}/measure/preload` }, say("page.pinion-preload-read-again")))], button: say("page.save-go-next-trial"), send })],
    };
}
