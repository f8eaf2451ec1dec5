// A trial: its photos in, its answer out.
import { bar, h, note, say, sketch, words } from "./dom.js";
import * as api from "./api.js";
import * as units from "./units.js";
import { choice, form, keepEntered, lengthField, myName, numberField, oddBacklash, textField } from "./fields.js";
import { questions } from "./looked.js";
import { lineLegend, photoFigure, sideWords } from "./photo.js";
import * as store from "./store.js";
import { upload } from "./uploads.js";

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

/// Whether marks or backlash of used gears from before they came apart are missing.
export function asksBefore(view) {
    const { build, before } = view.record, counting = before.filter((entry) => !entry.struck);
    return build === "used-gears" && !(counting.some((entry) => entry.backlash_mm !== null || entry.backlash_round.length) && counting.some((entry) => entry.reading?.pattern.drive || entry.reading?.pattern.coast));
}

/// The place of one side's photo: what is on its way, and the way to another one. `onTake`: another photo was chosen.
function photoSlot(side, photo, onTake) {
    const element = h("div", { class: "slot" });
    const progress = h("progress", { max: 1, value: 0, "aria-label": `Sending the ${sideWords(side)}` });
    const state = h("p", { role: "status" });
    const face = h("span", {});
    const input = h("input", { type: "file", accept: "image/*", "aria-label": `Photo of the ${sideWords(side)}`, onchange() {
        const file = input.files[0];
        if (!file) return;
        onTake();
        photo.take(file);
        input.value = "";
    } });
    const take = h("label", { class: "take" });
    const retry = h("button", { class: "act less", type: "button", onclick: () => photo.again() }, "Send it again");
    const drop = h("button", { class: "act less", type: "button", onclick: () => photo.forget() }, "Take it away");
    const choices = h("div", { class: "row" }, retry, drop);
    let shown = null;
    const show = () => {
        const { state: now, url } = photo;
        const name = side === "drive" ? "Drive side" : "Coast side";
        face.textContent = now === "received" ? `${name}: take again` : name;
        if (shown !== url || !take.childElementCount) {
            shown = url;
            const image = url ? h("img", { src: url, alt: "" }) : camera();
            image.addEventListener("error", () => image.replaceWith(camera()));
            take.replaceChildren(image, face, input);
        }
        progress.hidden = now !== "sending" && now !== "preparing";
        progress.value = photo.share;
        element.classList.toggle("full", now === "received");
        state.className = now === "failed" ? "small hint bad" : "small quiet";
        const words = { empty: "", preparing: "Making it ready\u2026", sending: "Sending\u2026", received: "Received.", failed: photo.problem }[now];
        if (state.textContent !== words) {
            state.textContent = words;
            if (now === "received") say(`The photo of the ${sideWords(side)} was received.`);
        }
        choices.hidden = now !== "failed";
    };
    show();
    element.append(take, progress, state, choices);
    return {
        element,
        /// While the view is shown; gives the function that ends it.
        listen() {
            photo.addEventListener("change", show);
            show();
            return () => photo.removeEventListener("change", show);
        },
    };
}

/// `before`: what used gears were before they came apart, in place of a trial.
export async function newTrialView(job, view, go, before = false) {
    const former = view.record.before.filter((entry) => !entry.struck && entry.backlash_mm !== null).at(-1);
    const wanted = former ? `Wanted: ${units.length(former.backlash_mm)}, as before.` : view.record.build === "used-gears" ? "Used gears: as it was before they came apart." : `Wanted: ${units.length(view.gear.backlash_mm[0])} to ${units.length(view.gear.backlash_mm[1])}.`;
    const key = `${before ? "before" : "trial"}/${job}`;
    const draft = (await store.get("drafts", key)) ?? {};
    draft.request ??= api.newId();
    const keep = () => store.put("drafts", key, draft);
    const last = before ? null : view.lastTrial;
    const work = view.record.work.filter((entry) => !entry.struck && last && entry.after_trial === last.id).at(-1);
    const backlash = lengthField({ label: "Backlash on the dial", ask: oddBacklash, hint: before ? "As it was, whatever the sheet wants of new gears." : wanted, mm: draft.backlash ?? work?.backlash_mm });
    const stack = lengthField({ label: "Pinion shims in place", hint: "All of them together. May stay empty.", mm: draft.stack ?? work?.shim_stack_mm ?? (work ? null : last?.shim_stack_mm) });
    // Kept with each key: a page may end at any moment.
    for (const [name, field] of [["backlash", backlash], ["stack", stack]])
        field.input.addEventListener("input", () => {
            const mm = units.parseLength(field.input.value);
            if (Number.isNaN(mm)) return;
            draft[name] = mm ?? undefined;
            keep();
        });

    const photos = Object.fromEntries(["drive", "coast"].map((side) => [side, upload(`${key}/${side}`)]));
    await Promise.all(Object.values(photos).map((photo) => photo.ready));
    const slots = Object.entries(photos).map(([side, photo]) => photoSlot(side, photo, () => {
        draft.request = api.newId();
        keep();
    }));
    const enter = () => {
        const ends = slots.map((slot) => slot.listen());
        return () => ends.forEach((end) => end());
    };

    const problem = h("div", { class: "note bad", role: "alert", hidden: true });
    const waiting = h("p", { class: "quiet", role: "status" });
    const button = h("button", { class: "act first", type: "button", async onclick() {
        problem.hidden = true;
        button.disabled = true;
        try {
            const body = { by: myName(), photos: [], ...(backlash.read() === null ? {} : { backlash_mm: backlash.read() }), ...(stack.read() === null ? {} : { shim_stack_mm: stack.read() }) };
            for (const side of ["drive", "coast"]) {
                const photo = photos[side];
                if (photo.state === "preparing" || photo.state === "sending") {
                    waiting.textContent = `Sending the ${sideWords(side)}\u2026`;
                    await photo.settled();
                }
                // A photo that was taken and did not arrive is never left out without a word.
                if (photo.state === "failed") throw new Error(`The photo of the ${sideWords(side)} did not arrive: ${photo.problem} Send it again, or take it away.`);
                if (photo.state === "received") body.photos.push({ upload: photo.id, side });
            }
            if (body.photos.length === 0 && before && body.backlash_mm === undefined) throw new Error("Take photos of the marks as they were, or enter the backlash as it was; best both.");
            if (body.photos.length === 0 && !before) throw new Error("Take a photo of the drive side, of the coast side, or better of both. Or draw the pattern.");
            const { task } = await api.post(`/api/jobs/${encodeURIComponent(job)}/${before ? "before" : "trials"}`, body, draft.request);
            const result = await api.finished(task, (state) => {
                waiting.textContent = state.state === "waiting" ? `Waiting for ${state.ahead === 1 ? "one other reading" : `${state.ahead} other readings`}, hardly more than ${Math.ceil(state.wait_s)} s.` : "Reading the photos\u2026";
            });
            await Promise.all([store.remove("drafts", key), ...Object.values(photos).map((photo) => photo.forget())]);
            // The phone's way back leads to the job, not to an empty trial.
            if (before) {
                go(`#/job/${job}`, { replace: true });
                return;
            }
            if (result.notes?.length) sessionStorage.setItem("shimsight-notes", JSON.stringify(result.notes));
            go(`#/job/${job}/trial/${result.trial}`, { replace: true });
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
    } }, before ? "Keep it" : "Read the pattern");
    if (before)
        return {
            title: "Before the gears came apart",
            enter,
            back: [`#/job/${job}`, "Job"],
            body: [
                h("h1", {}, "Before they came apart"),
                h("p", {}, "These gears ran together and are set to what they were. Paint, roll and photograph both sides before the axle is taken apart, and read the backlash; or take old photos. Without both, no correction can be worked out: a chart of new gears does not hold for worn teeth."),
                h("div", { class: "slots" }, slots.map((slot) => slot.element)),
                h("div", { class: "two" }, backlash.element, stack.element),
                problem, waiting,
                h("p", {}, h("a", { href: `#/job/${job}/new-trial` }, "Nobody knows any more: go on without.")),
                bar(button),
            ],
        };
    return {
        title: "New trial",
        enter,
        back: [`#/job/${job}`, "Job"],
        body: [
            h("h1", {}, `Trial ${view.nextNumber}`),
            asksBefore(view) ? note("warn", h("p", {}, "Used gears are set to what they were. Marks and backlash from before they came apart are not entered: the trial is kept and read, but no correction can be worked out. ", h("a", { href: `#/job/${job}/before` }, "Enter them"))) : null,
            h("p", {}, "Paint three or four teeth, roll them both ways, then photograph both sides, looking straight at the flanks."),
            h("div", { class: "slots" }, slots.map((slot) => slot.element)),
            h("div", { class: "two" }, backlash.element, stack.element),
            problem, waiting,
            h("p", {}, h("a", { href: `#/job/${job}/draw` }, "No photo possible? Draw the pattern on a tooth.")),
            h("details", {}, h("summary", {}, "How to take a good photo"), words(["The gear fills the picture; a flank is at least a tenth of its width long.", "Lamp to the side, no flash: no bright spot on the steel and no deep shadow.", "Tap on the teeth on the screen to focus there.", "Keep fingers out of the gears while anyone turns them."])),
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
    return h("section", { class: `answer ${look} ${answer.certainty}`, "aria-label": "What to do" },
        certaintyTag(answer),
        headline(answer),
        answer.look_first.length ? [h("h2", {}, "Look at this first"), words(answer.look_first)] : null,
        answer.backlash.target_mm !== null && !answer.stop ? h("p", { class: "way" }, `Backlash to set: ${units.bothLengths(answer.backlash.target_mm)}`) : null,
        answer.steps.length ? [h("h2", {}, "How"), h("ol", { class: "how" }, answer.steps.map((step) => h("li", {}, step)))] : null,
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
        const title = side === "drive" ? "Drive side" : "Coast side";
        figures.push(h("figure", { class: pair.next ? "" : "wide" }, sketch(pair.now), h("figcaption", {}, `${title}, now`)));
        if (pair.next) figures.push(h("figure", {}, sketch(pair.next), h("figcaption", {}, `${title}, expected`)));
    }
    if (!figures.length) return null;
    return [h("h2", {}, change ? "Before, and what to expect" : "The pattern"), h("div", { class: "pairs" }, figures), h("p", { class: "legend" }, "Toe at the left, tip at the top. Dashed box: where the middle of the mark should lie.")];
}

function numbers(reading) {
    const rows = [["lies at", (p) => `${p.length_position}, ${p.depth_position === "face" ? "tip half" : p.depth_position === "flank" ? "root half" : "mid-height"}`],
        ["centre, toe 0 to heel 1", (p) => `${p.centre.toe_heel.toFixed(2)} \u00b1 ${(2 * p.sigma.toe_heel).toFixed(2)}`], ["centre, root 0 to tip 1", (p) => `${p.centre.root_tip.toFixed(2)} \u00b1 ${(2 * p.sigma.root_tip).toFixed(2)}`],
        ["length of the face", (p) => units.percent(p.length)], ["height of the tooth", (p) => units.percent(p.height)], ["runs off", (p) => p.runs_off.join(", ") || "no edge"], ["teeth read", (p) => p.teeth]];
    const { drive, coast } = reading.pattern;
    return h("table", {}, h("thead", {}, h("tr", {}, h("th", { scope: "col" }, "Number"), h("th", { scope: "col" }, "Drive"), h("th", { scope: "col" }, "Coast"))),
        h("tbody", {}, rows.map(([label, value]) => h("tr", {}, h("th", { scope: "row" }, label), h("td", {}, drive ? value(drive) : "\u2013"), h("td", {}, coast ? value(coast) : "\u2013")))));
}

function photoPart(job, trial, signedOff) {
    const reading = trial.reading;
    if (!trial.photos.length) return null;
    return [h("h2", {}, trial.photos.length === 1 ? "The photo" : "The photos"),
        trial.photos.map((photo, place) => {
            const read = reading?.photos[place] ?? { flanks: [], refused_flanks: [], refused: null };
            const { element, text } = photoFigure(job, trial.id, place, read);
            const wrongSlot = ["drive side", "coast side"].includes(photo.original_name) && read.flanks.length && !read.flanks.some((flank) => sideWords(flank.side) === photo.original_name);
            const left = read.refused_flanks.length;
            return h("section", { "aria-label": `Photo ${place + 1}` }, element,
                read.refused ? note("warn", h("p", {}, h("strong", {}, "Not read: "), read.refused.reason), h("p", {}, read.refused.what_to_do)) : h("p", { class: "small" }, `${photo.original_name}: ${text}${left ? `; ${left} left out` : ""}.`),
                wrongSlot ? note("warn", `This was sent as the ${photo.original_name}, but shows the other side. It was read as what it shows.`) : null,
                signedOff ? null : h("a", { class: "act less wide", href: `#/job/${job}/trial/${trial.id}/mark/${place}` }, read.refused ? "Mark the teeth by hand" : "Correct the outlines"));
        }), lineLegend()];
}

export function trialView(job, view, id, go) {
    const trial = view.record.trials.find((one) => one.id === id);
    const extra = view.trials[id];
    if (!trial) return { title: "Trial", back: [`#/job/${job}`, "Job"], body: [h("h1", {}, "There is no such trial."), h("p", {}, h("a", { href: `#/job/${job}` }, "Back to the job"))] };
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
    const title = extra.number ? `Trial ${extra.number}` : `Reading ${id}`;
    const nothing = !reading || (!reading.pattern.drive && !reading.pattern.coast);
    const body = [
        trial.struck ? note("warn", `Struck out on ${units.when(trial.struck.at)}: ${trial.struck.why} It counts no more.`) : null,
        notes.map((sentence) => note("warn", sentence)),
        answer ? h("div", { class: "spread" }, answerCard(answer), h("div", {}, sketches(extra, change))) : null,
        open ? questions(job, advice, async () => go(`#/job/${job}/trial/${id}`)) : null,
        nothing ? [h("h1", { tabindex: -1 }, "No pattern was read"), note("warn", "Nothing is wrong with the job: this happens. Take the photo again, mark the teeth by hand, or draw the pattern.")] : null,
        !answer && !nothing ? h("h1", { tabindex: -1 }, "The pattern was read, but no advice could be worked out.") : null,
        answer ? null : sketches(extra, change),
        advice?.because.length ? [h("h2", {}, "Why"), words(advice.because)] : null,
        advice?.cautions.length ? [h("h2", {}, "Take care"), note("warn", words(advice.cautions))] : null,
        photoPart(job, trial, !open),
        open ? h("div", { class: "row" }, h("a", { class: "act less", href: `#/job/${job}/trial/${id}/draw` }, "Draw the pattern instead"), h("button", { class: "act less", type: "button", onclick: () => retake(job, trial, go) }, "Strike out and take again")) : null,
        answer?.runner_up ? h("details", {}, h("summary", {}, "Second choice"), h("p", {}, `${answer.runner_up.lead}; backlash ${units.bothLengths(answer.runner_up.backlash_mm)}: chance ${units.percent(answer.runner_up.chance)}.`)) : null,
        reading ? h("details", {}, h("summary", {}, "Evidence and numbers"),
            causes.length ? [h("h3", {}, "Causes beyond shims"), words(causes.map((one) => `${one.evidence} (chance ${units.percent(one.chance)})`))] : null,
            nothing ? null : numbers(reading),
            reading.notes.length ? [h("h3", {}, "To know"), words(reading.notes)] : null,
            reading.assumed.length ? [h("h3", {}, "Assumed, not given"), words(reading.assumed)] : null,
            h("p", { class: "small quiet" }, `${title}, ${units.when(trial.at)}${trial.by ? `, ${trial.by}` : ""}. Backlash ${trial.backlash_mm === null ? "not read" : units.bothLengths(trial.backlash_mm)}; shims in place ${trial.shim_stack_mm === null ? "not said" : units.bothLengths(trial.shim_stack_mm)}. Pattern ${trial.origin}.`)) : null,
    ];
    // What was done can be written down after any answer, against the advice too.
    if (open && !change) body.push(h("p", {}, h("a", { class: "act less wide", href: `#/job/${job}/done/${id}` }, "I changed something")));
    if (open) body.push(bar(change ? h("a", { class: "act first", href: `#/job/${job}/done/${id}` }, "I made this change")
        : answer?.stop?.kind === "wear-not-known" ? h("a", { class: "act first", href: `#/job/${job}/before` }, "What the gears were before")
        : answer?.stop ? h("a", { class: "act first", href: `#/job/${job}` }, "Go to the job") : answer?.verdict === "accept" ? h("a", { class: "act first", href: `#/job/${job}` }, "Go on with the job") : h("a", { class: "act first", href: `#/job/${job}/new-trial` }, "Take the photos again")));
    return { title, back: [`#/job/${job}`, "Job"], body, wide: true };
}

async function retake(job, trial, go) {
    await api.post(`/api/jobs/${encodeURIComponent(job)}/entries/strike-out`, { entry: trial.id, by: myName(), why: "Photos taken again." });
    go(`#/job/${job}/new-trial`);
}

// What was really done -----------------------------------------------------------------------------------------------

/// A stack that differs by more from what the change makes of the former one was not entered right: half a thousandth.
const STACK_SLACK_MM = 0.013;
/// Changes beyond 0.030 in are asked about.
const LARGE_CHANGE_MM = 0.762;

export async function doneView(job, view, id, go) {
    const trial = view.record.trials.find((one) => one.id === id);
    const answer = view.trials[id]?.answer;
    const advised = answer?.headline.amount_mm ? answer.shim_change_mm : answer?.verdict === "change" ? 0 : null;
    const before = trial?.shim_stack_mm ?? null;
    const way = choice({ label: `Pinion shims ${view.gear.shim_place}`, value: advised === null ? null : advised === 0 ? "leave" : advised > 0 ? "add" : "take", options: [["add", "added"], ["take", "taken out"], ["leave", "left alone"]], onchange: () => follow() });
    const amount = lengthField({ label: "How much", mm: advised ? Math.abs(advised) : null, hint: "What you really changed, whatever was advised." });
    const stack = lengthField({ label: "Shims in place now", hint: before === null ? "Measured with a micrometer. May stay empty." : `Before: ${units.bothLengths(before)}. Measured with a micrometer, or as it follows from the change.`, mm: before !== null && advised !== null ? before + advised : null });
    const backlash = lengthField({ label: "Backlash now, on the dial", required: true, ask: oddBacklash });
    const left = numberField({ label: "Left adjuster, notches", hint: "+ tightened, - loosened" }), right = numberField({ label: "Right adjuster, notches" });
    const by = textField({ label: "Who", value: myName(), autocomplete: "name" });
    const words = textField({ label: "Anything else (may stay empty)", long: true });
    const changeSaid = () => {
        const sign = { add: 1, take: -1, leave: 0 }[way.read()];
        const much = sign === 0 ? 0 : units.parseLength(amount.input.value);
        return sign === undefined || much === null || Number.isNaN(much) ? null : sign * Math.abs(much);
    };
    // The stack follows from the change until somebody types another one.
    let typedStack = false, following = false;
    stack.input.addEventListener("input", () => { typedStack ||= !following; });
    function follow() {
        const change = changeSaid();
        if (typedStack || before === null || change === null) return;
        following = true;
        stack.input.value = units.typedLength(before + change);
        stack.input.dispatchEvent(new Event("input"));
        following = false;
    }
    amount.input.addEventListener("input", follow);
    let confirmed = null, request = api.newId();
    const send = async () => {
        if (way.read() === null) throw new Error("Pinion shims: say whether you added, took out or left them.");
        if (way.read() !== "leave" && amount.read() === null) throw new Error("How much: enter it first.");
        const change = changeSaid(), now = stack.read();
        if (before !== null && now !== null && Math.abs(before + change - now) > STACK_SLACK_MM)
            throw new Error(`These do not fit: before ${units.bothLengths(before)}, ${change < 0 ? "less" : "and"} ${units.bothLengths(Math.abs(change))}, makes ${units.bothLengths(before + change)}; entered as in place now: ${units.bothLengths(now)}. Correct the one that is wrong.`);
        if (Math.abs(change) > LARGE_CHANGE_MM && confirmed !== change) {
            confirmed = change;
            throw new Error(`A change of ${units.bothLengths(Math.abs(change))} is very large. If it is right, press the button once more.`);
        }
        const body = { after_trial: id, by: by.read(), note: words.read(), shim_change_mm: change, backlash_mm: backlash.read() };
        for (const [key, value] of [["shim_stack_mm", now], ["left_notches", left.read()], ["right_notches", right.read()]]) if (value !== null) body[key] = value;
        try {
            await api.post(`/api/jobs/${encodeURIComponent(job)}/entries/work`, body, request);
        } finally {
            request = api.newId();
        }
        await entered.forget();
        go(`#/job/${job}/new-trial`, { replace: true });
    };
    const main = form({ fields: [way.element, amount.element, backlash.element, stack.element, view.gear.adjusters ? h("div", { class: "two" }, left.element, right.element) : null, by.element, words.element, h("p", { class: "small" }, h("a", { href: `#/job/${job}/measure/preload` }, "Pinion preload read again? Enter it here."))], button: "Save, and go on to the next trial", send });
    const entered = await keepEntered(`done/${job}/${id}`, main);
    return {
        title: "What was done",
        back: [`#/job/${job}/trial/${id}`, "Trial"],
        body: [h("h1", {}, "What was really done"),
            h("p", {}, "The next trial learns from it, so enter what you did, not what was advised."),
            main],
    };
}
