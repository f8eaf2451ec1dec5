// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// The drill, the exam and the score sheets at the bench: questions and grades come from the server. The pages of a drill
// are drill_run.js.
import { bar, h, note } from "./dom.js";
import * as api from "./api.js";
import * as units from "./units.js";
import { begun, blank, cards, lessonsPart, runView } from "./drill_run.js";
import { choice, form, numberField, ownName, setMyName, textField } from "./fields.js";
import { moveSentence, SIDES } from "./training_parts.js";
import { drawnSeed, picker, remembered, rendered, save, waitWords } from "./training_server.js";
import { BENCH } from "./view_training.js";
import { say } from "./words.js";

const memory = remembered("shimsight-drill");
let run = memory.last;
function keep(next) {
    run = next;
    memory.keep(next);
}

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

/// What is chosen before a drill. `trials`: of the shop's jobs; `read()` gives the run that is begun.
function drillFields(all, trials) {
    const name = all.keeps_sheets
        ? textField({
              label: say("page.name"),
              hint: say("page.answers-go-score-sheet"),
              value: ownName(),
              autocomplete: "name",
          })
        : null;
    const kind = choice({
        label: say("page.look"),
        value: "drawn",
        tall: true,
        options: [
            ["drawn", say("page.mark-drawn-flank")],
            ["photo", say("page.rendered-photo-gear-some")],
            ...(trials.length ? [["jobs", say("page.photos-shops-jobs", trials.length)]] : []),
        ],
        onchange: (key) => {
            level.element.hidden = more.hidden = key === "jobs";
        },
    });
    const level = choice({
        label: say("page.level"),
        value: "1",
        tall: true,
        options: all.levels.map((one) => [String(one.level), `${one.level}: ${one.words}`]),
    });
    const questions = numberField({
        label: say("page.questions"),
        value: "5",
        whole: true,
        hint: say("page.one", all.most_questions),
    });
    const seed = numberField({
        label: say("page.number-questions"),
        whole: true,
        hint: say("page.same-number-asks-everybody"),
    });
    const set = picker({
        label: say("page.gear-set"),
        options: [["", say("page.programs-own-level")], ...all.sets.map((one) => [one.id, one.name])],
        value: "",
    });
    const more = h("details", {}, h("summary", {}, say("page.gear-set-same-questions")), set.element, seed.element);
    return {
        elements: [name?.element, kind.element, level.element, questions.element, more],
        read() {
            const count = questions.read() ?? 5,
                wanted = seed.read();
            if (count < 1 || count > all.most_questions) throw new Error(say("page.questions-one", all.most_questions));
            if (wanted !== null && (wanted < 0 || wanted > 1e9))
                throw new Error(say("page.number-questions-whole-number"));
            const who = name ? name.read() : "";
            if (who) setMyName(who);
            return runOf(all, trials, {
                kind: kind.read(),
                name: who,
                seed: wanted ?? drawnSeed(),
                level: Number(level.read()),
                set: set.read(),
                questions: count,
            });
        },
    };
}

/// A run as it is chosen: levels on photos take photos, the shop's jobs are mixed.
function runOf(all, trials, chosen) {
    const next = begun(chosen);
    if (next.kind === "drawn" && all.levels[next.level - 1].on_photos) next.kind = "photo";
    if (next.kind === "jobs")
        Object.assign(next, {
            trials: mixed(trials.length, chosen.seed)
                .slice(0, chosen.questions)
                .map((i) => trials[i]),
            questions: Math.min(chosen.questions, trials.length),
        });
    return next;
}

async function startView(refresh) {
    const [all, { trials }] = await Promise.all([api.get("/api/training"), api.get("/api/training/trials")]);
    const chosen = drillFields(all, trials);
    return {
        title: say("page.drill"),
        back: BENCH,
        body: [
            h("h1", {}, say("page.drill")),
            h("p", {}, say("page.say-where-both-marks")),
            all.keeps_sheets ? null : note("", say("page.no-score-sheets-kept")),
            form({
                fields: chosen.elements,
                button: say("page.begin"),
                busyWords: say("page.drawing"),
                async send() {
                    keep(chosen.read());
                    await question(run); // what cannot be drawn is told here
                    await refresh();
                },
            }),
        ],
    };
}

export async function examView(refresh, go) {
    if (run?.exam) return drillView(refresh, go);
    const all = await api.get("/api/training");
    if (!all.exam)
        return {
            title: say("page.exam"),
            back: BENCH,
            body: [
                h("h1", {}, say("page.no-exam-now")),
                h("p", {}, h("a", { href: "#/training/drill" }, say("page.practise-drill"))),
            ],
        };
    const { names } = all.exam;
    const name = names.length
        ? choice({ label: say("page.name"), options: names.map((one) => [one, one]), value: null, tall: true })
        : textField({
              label: say("page.name"),
              hint: say("page.instructor-knows"),
              value: ownName(),
              required: true,
              autocomplete: "name",
          });
    return {
        title: say("page.exam"),
        back: BENCH,
        body: [
            h("h1", {}, say("page.exam")),
            h("p", {}, say("page.questions-level", all.exam.questions, all.exam.level, all.exam.level_words)),
            note(
                "",
                say("page.each-question-can-answered"),
                say(names.length ? "page.exam-points-at-end" : "page.exam-points-closed"),
            ),
            form({
                fields: [name.element],
                button: say("page.begin"),
                busyWords: say("page.opening"),
                async send() {
                    const who = name.read();
                    if (!who) throw new Error(say("page.choose-your-name"));
                    setMyName(who);
                    const so = await api.get(`/api/training/exam?name=${encodeURIComponent(who)}`);
                    const next = begun({
                        kind: all.exam.on_photos ? "photo" : "drawn",
                        exam: true,
                        name: who,
                        questions: so.questions,
                        level: all.exam.level,
                    });
                    keep({ ...next, number: firstOpen(so) });
                    await refresh();
                },
            }),
        ],
    };
}
const firstOpen = (so) =>
    Array.from({ length: so.questions }, (_, i) => i + 1).find((number) => !so.answered.includes(number)) ??
    so.questions + 1;

// A question ----------------------------------------------------------------------------------------------------------

let known = { key: "", question: null, photos: null };
const ofRun = (number) =>
    run.exam
        ? `questions/${number}?exam=1`
        : `questions/${number}?seed=${run.seed}&level=${run.level}&set=${encodeURIComponent(run.set)}`;

async function question() {
    const trial = run.kind === "jobs" ? run.trials[run.number - 1] : null;
    const path = trial
        ? `trials/${encodeURIComponent(trial.job)}/${trial.trial}`
        : `${ofRun(run.number)}${run.kind === "photo" ? "&photos=1" : ""}`;
    if (known.key !== path) known = { key: path, question: await api.get(`/api/training/${path}`), photos: null };
    return known.question;
}

const photosOf = (number, tell) => rendered(`/api/training/${ofRun(number).replace("?", "/photos?")}`, tell);
const jobPhoto = async (one, number) =>
    URL.createObjectURL(
        await api.blob(`/api/jobs/${encodeURIComponent(one.job)}/trials/${one.trial}/photos/${number}`),
    );

/// The photos of the question that is shown; rendered ones are rendered once, and the next ones meanwhile.
function photos(_, one, tell) {
    if (run.kind === "drawn") return null;
    const mine = known,
        number = run.number;
    mine.tell = tell;
    mine.photos ??=
        run.kind === "photo"
            ? photosOf(number, (state) => mine.tell(waitWords(state)))
            : Promise.all(one.photos.map((photo) => jobPhoto(one, photo.number)));
    const titles =
        run.kind === "photo"
            ? SIDES.map(([, title]) => title)
            : one.photos.map(
                  (photo) =>
                      SIDES.filter(([side]) => photo.sides.includes(side))
                          .map(([, title]) => title)
                          .join(", ") || say("page.no-flank-read"),
              );
    mine.photos
        .then(() => {
            if (run?.kind === "photo" && number < run.questions) photosOf(number + 1).catch(() => {});
        })
        .catch(() => {
            mine.photos = null;
        });
    return { titles, urls: mine.photos };
}

function answer(_, one, body) {
    const sent = { ...body, ...(run.name ? { name: run.name } : {}) };
    if (run.kind === "jobs") Object.assign(sent, { job: one.job, trial: one.trial });
    else if (run.exam) Object.assign(sent, { exam: true, number: run.number });
    else Object.assign(sent, { seed: run.seed, level: run.level, number: run.number });
    if (run.set && run.kind !== "jobs" && !run.exam) sent.set = run.set;
    return api.post("/api/training/answers", sent, run.draft.id);
}

const lessonHref = (name) => `#/training/lesson/${name}`;
const served = {
    question,
    photos,
    answer,
    after: (_, one, body, told) => told.after,
    ends: () =>
        run.name
            ? [
                  h(
                      "div",
                      { class: "row" },
                      h("a", { class: "act less", href: "#/training/sheets" }, say("page.score-sheets")),
                  ),
              ]
            : [],
    startsAnew: true,
    lessonHref,
};

// After ---------------------------------------------------------------------------------------------------------------

async function examResultView(refresh) {
    const so = await api.get(`/api/training/exam?name=${encodeURIComponent(run.name)}`);
    if (!so.handed_in) {
        keep({ ...run, number: firstOpen(so), draft: blank() });
        return drillView(refresh);
    }
    const done = async () => {
        keep(null);
        await refresh();
    };
    const end = bar(h("button", { class: "act first", type: "button", onclick: done }, say("page.done")));
    if (!so.results)
        return {
            title: say("page.exam"),
            back: BENCH,
            body: [h("h1", {}, say("page.exam-handed-in")), h("p", {}, say("page.exam-all-told", run.name)), end],
        };
    const points = so.results.reduce((sum, one) => sum + one.points, 0);
    return {
        title: say("page.exam"),
        back: BENCH,
        body: [
            h("h1", {}, say("page.points", points, so.of * so.results.length)),
            h("p", {}, say("page.exam-handed-right-told", run.name)),
            cards(
                so.results.map((one) => ({
                    title: say("page.question-points", one.number, one.points, so.of),
                    lines: [
                        say("page.yours", moveSentence(one.correction)),
                        say("page.where-of-four-correction", one.place_points, one.correction_points),
                    ],
                })),
            ),
            end,
        ],
    };
}

export async function drillView(refresh) {
    if (!run) return startView(refresh);
    try {
        if (run.exam && run.number > run.questions) return await examResultView(refresh);
        return await runView(run, { source: served, keep, refresh, back: BENCH });
    } catch (fault) {
        // A gear set or a job that is gone: the run cannot go on.
        if (fault.status === 400 || fault.status === 404) keep(null);
        throw fault;
    }
}

// Sheets --------------------------------------------------------------------------------------------------------------

/// The button that saves all sheets as a table, and where it tells what went wrong.
function tableButton() {
    const problem = h("p", { class: "hint bad", role: "alert" });
    const onclick = async () => {
        try {
            await save("/api/training/sheets.csv", "scores.csv");
        } catch (fault) {
            problem.textContent = fault.message;
        }
    };
    const csv = h("button", { class: "act less", type: "button", onclick }, say("page.save-all-table-csv"));
    return { csv, problem };
}

/// One sheet of the list, with the way to it.
function sheetLine(one) {
    const answers = one.answered === 1 ? say("page.one-answer") : say("page.many-answers", one.answered);
    const at = one.last_at ? ` \u00b7 ${units.when(one.last_at)}` : "";
    return h(
        "li",
        {},
        h(
            "a",
            { class: "sheet cardlink", href: `#/training/sheets/${encodeURIComponent(one.name)}` },
            h("strong", {}, one.name),
            h("span", { class: "quiet small" }, say("page.points-answers-and-when", one.points, one.of, answers, at)),
        ),
    );
}

/// The answers of one person, the newest first.
function sheetView(name, sheet) {
    const which = (one) =>
        one.level ? say("page.level-question", one.level, one.number) : say("page.trial-job", one.trial);
    return {
        title: say("page.score-sheet-of", name),
        back: ["#/training/sheets", say("page.sheets")],
        wide: true,
        body: [
            h("h1", {}, name),
            h(
                "p",
                {},
                sheet.answered
                    ? say("page.points-answers", sheet.points, sheet.of, sheet.answered)
                    : say("page.no-answers-yet"),
            ),
            lessonsPart(sheet.lessons, lessonHref),
            cards(
                [...sheet.answers].reverse().map((one) => ({
                    title: say("page.points-and-right", one.points, which(one)),
                    lines: [
                        `${units.when(one.at)}. ${one.gear_set}.`,
                        say("page.answered", moveSentence(one.correction)),
                        say("page.right", moveSentence(one.truth)),
                    ],
                })),
            ),
        ],
    };
}

export async function sheetsView(name) {
    const { sheets, faults } = await api.get(`/api/training/sheets${name ? `?name=${encodeURIComponent(name)}` : ""}`);
    if (name) return sheetView(name, sheets[0]);
    const { csv, problem } = tableButton();
    return {
        title: say("page.score-sheets"),
        back: BENCH,
        body: [
            h("h1", {}, say("page.score-sheets")),
            faults.map((fault) => note("warn", fault)),
            sheets.length
                ? h("ul", { class: "plain" }, sheets.map(sheetLine))
                : h("p", { class: "quiet" }, say("page.nobody-has-answered-yet")),
            sheets.length ? h("div", { class: "row" }, csv) : null,
            problem,
        ],
    };
}
