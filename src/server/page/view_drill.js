// The drill: where is the mark, what would you change. What is right is asked for with the answer, not before.
import { bar, h, note, say, words } from "./dom.js";
import * as api from "./api.js";
import * as units from "./units.js";
import { choice, form, myName, numberField, setMyName, textField } from "./fields.js";
import { changeSliders, drawnSeed, facts, isMove, moveSentence, pair, picker, pointer, remembered, rendered, save, SIDES, waitWords } from "./training_parts.js";
import { BENCH } from "./view_training.js";

const memory = remembered("shimsight-drill");
let run = memory.last;
function keep(next) {
    run = next;
    memory.keep(next);
}

const blank = () => ({ drive: { along: null, up: null, dot: null }, coast: { along: null, up: null, dot: null }, remedy: null, move: { deeper: 0, more: 0 }, id: api.newId() });
const begun = (more) => ({ number: 1, done: [], told: null, draft: blank(), ...more });

/// The places of those in the list, mixed by a seed.
function mixed(count, seed) {
    const places = Array.from({ length: count }, (_, i) => i);
    let state = seed >>> 0;
    for (let i = count - 1; i > 0; --i) {
        state = (Math.imul(state, 1664525) + 1013904223) >>> 0;
        const other = state % (i + 1);
        [places[i], places[other]] = [places[other], places[i]];
    }
    return places;
}

// Before --------------------------------------------------------------------------------------------------------------

async function startView(refresh) {
    const [all, { trials }] = await Promise.all([api.get("/api/training"), api.get("/api/training/trials")]);
    const name = all.keeps_sheets ? textField({ label: "Your name", hint: "Your answers go on the score sheet of this name. Empty: they are not kept.", value: myName(), autocomplete: "name" }) : null;
    const kind = choice({ label: "What you look at", value: "drawn", tall: true, options: [["drawn", "the mark, drawn on the flank"], ["photo", "a rendered photo of the gear (some seconds each)"], ...(trials.length ? [["jobs", `photos from this shop's jobs (${trials.length})`]] : [])], onchange: (key) => { level.element.hidden = more.hidden = key === "jobs"; } });
    const level = choice({ label: "Level", value: "1", tall: true, options: all.levels.map((one) => [String(one.level), `${one.level}: ${one.words}`]) });
    const questions = numberField({ label: "Questions", value: "5", whole: true, hint: `1 to ${all.most_questions}.` });
    const seed = numberField({ label: "Number of the questions", whole: true, hint: "The same number asks everybody the same questions. Empty: drawn." });
    const set = picker({ label: "Gear set", options: [["", "the program's own, by level"], ...all.sets.map((one) => [one.id, one.name])], value: "" });
    const more = h("details", {}, h("summary", {}, "Gear set, same questions for all"), set.element, seed.element);
    return {
        title: "Drill", back: BENCH,
        body: [h("h1", {}, "Drill"), h("p", {}, "Say where both marks are, then what you would change. You see at once where your change would have ended."),
            all.keeps_sheets ? null : note("", "No score sheets are kept: the program was started without a folder for them (shimsight serve --scores DIR)."),
            form({ fields: [name?.element, kind.element, level.element, questions.element, more], button: "Begin", busyWords: "Drawing\u2026", async send() {
                const count = questions.read() ?? 5, wanted = seed.read();
                if (count < 1 || count > all.most_questions) throw new Error(`Questions: 1 to ${all.most_questions}.`);
                if (wanted !== null && (wanted < 0 || wanted > 1e9)) throw new Error("Number of the questions: a whole number up to 1000000000.");
                const who = name ? name.read() : "";
                if (who) setMyName(who);
                const number = wanted ?? drawnSeed();
                const next = begun({ kind: kind.read(), name: who, seed: number, level: Number(level.read()), set: set.read(), questions: count });
                if (next.kind === "jobs") Object.assign(next, { trials: mixed(trials.length, number).slice(0, count).map((i) => trials[i]), questions: Math.min(count, trials.length) });
                keep(next);
                await question();  // what cannot be drawn is told here
                await refresh();
            } })],
    };
}

export async function examView(refresh, go) {
    if (run?.exam) return drillView(refresh, go);
    const all = await api.get("/api/training");
    if (!all.exam) return { title: "Exam", back: BENCH, body: [h("h1", {}, "There is no exam now"), h("p", {}, h("a", { href: "#/training/drill" }, "Practise with the drill"))] };
    const name = textField({ label: "Your name", hint: "As the instructor knows you.", value: myName(), required: true, autocomplete: "name" });
    return {
        title: "Exam", back: BENCH,
        body: [h("h1", {}, "Exam"), h("p", {}, `${all.exam.questions} questions, level ${all.exam.level}: ${all.exam.level_words}.`),
            note("", "Each question can be answered once. Points are shown at the end; what was right stays closed until the exam is over. You may go on later where you stopped."),
            form({ fields: [name.element], button: "Begin", busyWords: "Opening\u2026", async send() {
                const who = name.read();
                setMyName(who);
                const so = await api.get(`/api/training/exam?name=${encodeURIComponent(who)}`);
                const next = begun({ kind: "drawn", exam: true, name: who, questions: so.questions, level: all.exam.level });
                keep({ ...next, number: firstOpen(so) });
                await refresh();
            } })],
    };
}
const firstOpen = (so) => Array.from({ length: so.questions }, (_, i) => i + 1).find((number) => !so.answered.includes(number)) ?? so.questions + 1;

// A question ----------------------------------------------------------------------------------------------------------

let known = { key: "", question: null, photos: null };
const ofRun = (number) => (run.exam ? `questions/${number}?exam=1` : `questions/${number}?seed=${run.seed}&level=${run.level}&set=${encodeURIComponent(run.set)}`);
const trialNow = () => run.trials[run.number - 1];

async function question() {
    const path = run.kind === "jobs" ? `trials/${encodeURIComponent(trialNow().job)}/${trialNow().trial}` : `${ofRun(run.number)}${run.kind === "photo" ? "&photos=1" : ""}`;
    if (known.key !== path) known = { key: path, question: await api.get(`/api/training/${path}`), photos: null };
    return known.question;
}

const photosOf = (number, tell) => rendered(`/api/training/${ofRun(number).replace("?", "/photos?")}`, tell);

/// Figures of the question's photos, filled when they are there.
function photoFigures(one) {
    if (run.kind === "drawn") return [];
    const figures = run.kind === "photo" ? SIDES.map(([, title]) => title) : one.photos.map((photo) => SIDES.filter(([side]) => photo.sides.includes(side)).map(([, title]) => title).join(", ") || "No flank was read on it");
    const places = figures.map((title) => h("figure", { class: "sketch" }, h("div", { class: "shot" }, h("p", { class: "waiting" }, "Waiting for the photo\u2026")), h("figcaption", {}, title)));
    const show = (urls) => urls.forEach((url, i) => places[i].firstChild.replaceChildren(h("img", { src: url, alt: `Photo ${i + 1}: ${figures[i]}` })));
    const tell = (text) => places.forEach((place) => place.firstChild.replaceChildren(h("p", { class: "waiting" }, text)));
    const mine = known, number = run.number;
    known.photos ??= run.kind === "photo" ? photosOf(number, (state) => { mine.tell?.(waitWords(state)); })
        : Promise.all(one.photos.map(async (photo) => URL.createObjectURL(await api.blob(`/api/jobs/${encodeURIComponent(one.job)}/trials/${one.trial}/photos/${photo.number}`))));
    mine.tell = tell;
    mine.photos.then((urls) => {
        show(urls);
        // The next ones are rendered while this one is looked at.
        if (run?.kind === "photo" && number < run.questions) photosOf(number + 1).catch(() => {});
    }).catch((fault) => {
        mine.photos = null;
        tell(fault.message);
    });
    return places;
}

function answerBody(one) {
    const { draft } = run;
    const asked = SIDES.filter(([side]) => one.asked?.[side] ?? true);
    if (asked.some(([side]) => !draft[side].along || !draft[side].up)) throw new Error(asked.length === 2 ? "Say first where both marks are." : "Say first where the mark is.");
    if (!draft.remedy) throw new Error("Choose what you would do.");
    if (draft.remedy === "change" && !isMove(draft.move)) throw new Error("Set how much you would change.");
    const body = { remedy: draft.remedy };
    for (const [side] of asked) body[side] = { along: draft[side].along, up: draft[side].up };
    const mm = (value) => Math.round(value * 1e4) / 1e4;
    if (draft.remedy === "change") Object.assign(body, { deeper_mm: mm(draft.move.deeper), more_backlash_mm: mm(draft.move.more) });
    if (run.name) body.name = run.name;
    if (run.kind === "jobs") return { ...body, job: one.job, trial: one.trial };
    if (run.exam) return { ...body, exam: true, number: run.number };
    return { ...body, seed: run.seed, level: run.level, number: run.number, ...(run.set ? { set: run.set } : {}) };
}

function questionView(one, refresh) {
    const { draft } = run;
    const problem = h("div", { class: "note bad", role: "alert", hidden: true });
    const changed = () => {
        problem.hidden = true;
        keep(run);
    };
    const sliders = h("div", { hidden: draft.remedy !== "change" }, changeSliders(draft.move, changed));
    const remedy = choice({ label: "What would you do?", value: draft.remedy, tall: true, options: [["change", "Change it"], ["accept", "Leave it, it is good"], ["no-shim", "No shim will help"]], onchange: (key) => {
        draft.remedy = key;
        sliders.hidden = key !== "change";
        changed();
    } });
    const send = h("button", { class: "act first", type: "button", async onclick() {
        send.disabled = true;
        try {
            const told = await api.post("/api/training/answers", answerBody(one), draft.id);
            if (told.marked) keep({ ...run, told, done: [...run.done, { points: told.points, of: told.of, correction: told.correction, truth: told.truth }] });
            else keep({ ...run, number: run.number + 1, draft: blank() });
            if (!told.marked) say("Kept.");
            await refresh();
        } catch (fault) {
            problem.textContent = fault.message;
            problem.hidden = false;
            problem.scrollIntoView({ block: "center" });
        } finally {
            send.disabled = false;
        }
    } }, run.exam ? "Hand it in" : "Mark it");
    const photos = photoFigures(one);
    return {
        title: `Question ${run.number}`, back: BENCH, wide: true,
        body: [h("h1", {}, `Question ${run.number} of ${run.questions}`),
            h("p", { class: "quiet small" }, [run.exam ? "Exam" : run.kind === "jobs" ? "From a job" : `Level ${one.level}: ${one.level_words}`, run.name].filter(Boolean).join(" \u00b7 ")), facts(one), run.kind === "jobs" ? h("div", { class: "photos" }, photos) : null,
            h("p", {}, run.kind === "drawn" ? "Tap on each flank where the middle of the mark lies, or choose it below." : "Find the mark on the photo; tap on the flank where its middle lies, or choose it below."),
            h("div", { class: "spread" }, SIDES.filter(([side]) => one.asked?.[side] ?? true).map(([side, title], i) => pointer(title, one.sketches?.[side], draft[side], changed, run.kind === "photo" ? photos[i] : null))),
            h("section", { class: "sheet", "aria-label": "Correction" }, remedy.element, sliders), problem,
            stopPart(refresh), bar(send)],
    };
}

const stopPart = (refresh) => h("p", {}, h("button", { class: "act less", type: "button", async onclick() {
    keep(null);
    await refresh();
} }, run.exam ? "Leave the exam for now" : "End the drill"));

function toldView(one, refresh) {
    const { told } = run;
    const last = run.number >= run.questions;
    return {
        title: `Question ${run.number}, marked`, back: BENCH, wide: true,
        body: [h("h1", {}, `${told.points} of ${told.of} points`), h("p", { class: "quiet" }, `Where: ${told.place_points} of 4. Correction: ${told.correction_points} of 6.${told.kept ? " On your score sheet." : ""}`),
            note(told.points >= 8 ? "good" : "", words(told.words)),
            h("div", { class: "spread" },
                h("div", {}, h("h2", {}, run.kind === "jobs" ? "The marks as they were read" : "The marks, with their middle"), pair(told.now)),
                told.after ? h("div", {}, h("h2", {}, "What your choice would give"), pair(told.after), h("p", {}, `Backlash then: ${units.bothLengths(told.backlash_after_mm)}.`)) : null),
            h("p", { class: "legend" }, `Dashed box: where the middle of the mark should lie.${told.after ? " The arrow leads from the mark that you saw to the one that your choice gives." : ""}${run.kind === "jobs" ? " Dotted: the size of the mark as it was read." : ""}`),
            h("p", { class: "small quiet" }, "An exercise. On a real axle the maker's sheet comes first."),
            stopPart(refresh), bar(h("button", { class: "act first", type: "button", async onclick() {
                keep({ ...run, number: run.number + 1, told: null, draft: blank() });
                await refresh();
            } }, last ? "To the result" : "Next question"))],
    };
}

// After ---------------------------------------------------------------------------------------------------------------

async function resultView(refresh) {
    const again = (label, number) => h("button", { class: "act first", type: "button", async onclick() {
        keep(number === null ? null : begun({ ...run, number: 1, done: [], told: null, draft: blank(), seed: number }));
        await refresh();
    } }, label);
    if (run.exam) {
        const so = await api.get(`/api/training/exam?name=${encodeURIComponent(run.name)}`);
        if (!so.results) {
            keep({ ...run, number: firstOpen(so), draft: blank() });
            return drillView(refresh);
        }
        const points = so.results.reduce((sum, one) => sum + one.points, 0);
        return {
            title: "Exam", back: BENCH,
            body: [h("h1", {}, `${points} of ${so.of * so.results.length} points`), h("p", {}, `${run.name}: the exam is handed in. What was right is told when it is over.`),
                cards(so.results.map((one) => ({ title: `Question ${one.number}: ${one.points} of ${so.of} points`, lines: [`Yours: ${moveSentence(one.correction)}.`, `Where: ${one.place_points} of 4. Correction: ${one.correction_points} of 6.`] }))), bar(again("Done", null))],
        };
    }
    const points = run.done.reduce((sum, one) => sum + one.points, 0), of = run.done.reduce((sum, one) => sum + one.of, 0);
    return {
        title: "Drill", back: BENCH,
        body: [h("h1", {}, `${points} of ${of} points`), run.name ? h("p", {}, run.name) : null,
            cards(run.done.map((one, i) => ({ title: `Question ${i + 1}: ${one.points} of ${one.of} points`, lines: [`Yours: ${moveSentence(one.correction)}.`, `Right: ${moveSentence(one.truth)}.`] }))),
            run.kind === "jobs" ? null : h("p", { class: "small quiet" }, `Level ${run.level}, questions number ${run.seed}: the same number asks the same questions.`),
            h("div", { class: "row" }, run.name ? h("a", { class: "act less", href: "#/training/sheets" }, "Score sheets") : null, run.kind === "jobs" ? null : h("button", { class: "act less", type: "button", async onclick() {
                keep(begun({ ...run, number: 1, done: [], told: null, draft: blank() }));
                await refresh();
            } }, "The same questions again")),
            bar(again("New drill", null))],
    };
}

const cards = (list) => h("ul", { class: "plain" }, list.map((one) => h("li", { class: "sheet" }, h("strong", {}, one.title), one.lines.map((line) => h("p", { class: "small" }, line)))));

export async function drillView(refresh) {
    if (!run) return startView(refresh);
    try {
        if (run.number > run.questions) return await resultView(refresh);
        const one = await question();
        return run.told ? toldView(one, refresh) : questionView(one, refresh);
    } catch (fault) {
        // A gear set or a job that is gone: the run cannot go on.
        if (fault.status === 400 || fault.status === 404) keep(null);
        throw fault;
    }
}

// Sheets --------------------------------------------------------------------------------------------------------------

export async function sheetsView(name) {
    const { sheets, faults } = await api.get(`/api/training/sheets${name ? `?name=${encodeURIComponent(name)}` : ""}`);
    const problem = h("p", { class: "hint bad", role: "alert" });
    const csv = h("button", { class: "act less", type: "button", async onclick() {
        try {
            await save("/api/training/sheets.csv", "scores.csv");
        } catch (fault) {
            problem.textContent = fault.message;
        }
    } }, "Save all as a table (CSV)");
    if (name) {
        const [sheet] = sheets;
        return {
            title: `Score sheet of ${name}`, back: ["#/training/sheets", "Sheets"], wide: true,
            body: [h("h1", {}, name), h("p", {}, sheet.answered ? `${sheet.points} of ${sheet.of} points in ${sheet.answered} answers.` : "No answers yet."),
                cards([...sheet.answers].reverse().map((one) => ({ title: `${one.points} points: ${one.level ? `level ${one.level}, question ${one.number}` : `trial ${one.trial} of a job`}`, lines: [`${units.when(one.at)}. ${one.gear_set}.`, `Answered: ${moveSentence(one.correction)}.`, `Right: ${moveSentence(one.truth)}.`] })))],
        };
    }
    return {
        title: "Score sheets", back: BENCH,
        body: [h("h1", {}, "Score sheets"), faults.map((fault) => note("warn", fault)), sheets.length ? h("ul", { class: "plain" }, sheets.map((one) => h("li", {}, h("a", { class: "sheet cardlink", href: `#/training/sheets/${encodeURIComponent(one.name)}` }, h("strong", {}, one.name), h("span", { class: "quiet small" }, `${one.points} of ${one.of} points \u00b7 ${one.answered === 1 ? "1 answer" : `${one.answered} answers`}${one.last_at ? ` \u00b7 ${units.when(one.last_at)}` : ""}`)))))
            : h("p", { class: "quiet" }, "Nobody has answered yet."), sheets.length ? h("div", { class: "row" }, csv) : null, problem],
    };
}
