// The drill: where is the mark, what would you change. What is right is asked for with the answer, not before.
import { announce, bar, h, note, words } from "./dom.js";
import * as api from "./api.js";
import * as units from "./units.js";
import { choice, form, myName, numberField, setMyName, textField } from "./fields.js";
import {
    changeSliders,
    drawnSeed,
    facts,
    isMove,
    moveSentence,
    pair,
    picker,
    pointer,
    remembered,
    rendered,
    save,
    SIDES,
    waitWords,
} from "./training_parts.js";
import { BENCH } from "./view_training.js";
import { say } from "./words.js";

const memory = remembered("shimsight-drill");
let run = memory.last;
function keep(next) {
    run = next;
    memory.keep(next);
}

const blank = () => ({
    drive: { along: null, up: null, dot: null },
    coast: { along: null, up: null, dot: null },
    remedy: null,
    move: { deeper: 0, more: 0 },
    id: api.newId(),
});
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
    const name = all.keeps_sheets
        ? textField({
              label: say("page.name"),
              hint: say("page.answers-go-score-sheet"),
              value: myName(),
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
        title: say("page.drill"),
        back: BENCH,
        body: [
            h("h1", {}, say("page.drill")),
            h("p", {}, say("page.say-where-both-marks")),
            all.keeps_sheets ? null : note("", say("page.no-score-sheets-kept")),
            form({
                fields: [name?.element, kind.element, level.element, questions.element, more],
                button: say("page.begin"),
                busyWords: say("page.drawing"),
                async send() {
                    const count = questions.read() ?? 5,
                        wanted = seed.read();
                    if (count < 1 || count > all.most_questions)
                        throw new Error(say("page.questions-one", all.most_questions));
                    if (wanted !== null && (wanted < 0 || wanted > 1e9))
                        throw new Error(say("page.number-questions-whole-number"));
                    const who = name ? name.read() : "";
                    if (who) setMyName(who);
                    const number = wanted ?? drawnSeed();
                    const next = begun({
                        kind: kind.read(),
                        name: who,
                        seed: number,
                        level: Number(level.read()),
                        set: set.read(),
                        questions: count,
                    });
                    if (next.kind === "jobs")
                        Object.assign(next, {
                            trials: mixed(trials.length, number)
                                .slice(0, count)
                                .map((i) => trials[i]),
                            questions: Math.min(count, trials.length),
                        });
                    keep(next);
                    await question(); // what cannot be drawn is told here
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
    const name = textField({
        label: say("page.name"),
        hint: say("page.instructor-knows"),
        value: myName(),
        required: true,
        autocomplete: "name",
    });
    return {
        title: say("page.exam"),
        back: BENCH,
        body: [
            h("h1", {}, say("page.exam")),
            h("p", {}, say("page.questions-level", all.exam.questions, all.exam.level, all.exam.level_words)),
            note("", say("page.each-question-can-answered")),
            form({
                fields: [name.element],
                button: say("page.begin"),
                busyWords: say("page.opening"),
                async send() {
                    const who = name.read();
                    setMyName(who);
                    const so = await api.get(`/api/training/exam?name=${encodeURIComponent(who)}`);
                    const next = begun({
                        kind: "drawn",
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
const trialNow = () => run.trials[run.number - 1];

async function question() {
    const path =
        run.kind === "jobs"
            ? `trials/${encodeURIComponent(trialNow().job)}/${trialNow().trial}`
            : `${ofRun(run.number)}${run.kind === "photo" ? "&photos=1" : ""}`;
    if (known.key !== path) known = { key: path, question: await api.get(`/api/training/${path}`), photos: null };
    return known.question;
}

const photosOf = (number, tell) => rendered(`/api/training/${ofRun(number).replace("?", "/photos?")}`, tell);

/// Figures of the question's photos, filled when they are there.
function photoFigures(one) {
    if (run.kind === "drawn") return [];
    const figures =
        run.kind === "photo"
            ? SIDES.map(([, title]) => title)
            : one.photos.map(
                  (photo) =>
                      SIDES.filter(([side]) => photo.sides.includes(side))
                          .map(([, title]) => title)
                          .join(", ") || say("page.no-flank-read"),
              );
    const places = figures.map((title) =>
        h(
            "figure",
            { class: "sketch" },
            h("div", { class: "shot" }, h("p", { class: "waiting" }, say("page.waiting-photo"))),
            h("figcaption", {}, title),
        ),
    );
    const show = (urls) =>
        urls.forEach((url, i) =>
            places[i].firstChild.replaceChildren(h("img", { src: url, alt: say("page.photo", i + 1, figures[i]) })),
        );
    const tell = (text) =>
        places.forEach((place) => place.firstChild.replaceChildren(h("p", { class: "waiting" }, text)));
    const mine = known,
        number = run.number;
    known.photos ??=
        run.kind === "photo"
            ? photosOf(number, (state) => {
                  mine.tell?.(waitWords(state));
              })
            : Promise.all(
                  one.photos.map(async (photo) =>
                      URL.createObjectURL(
                          await api.blob(
                              `/api/jobs/${encodeURIComponent(one.job)}/trials/${one.trial}/photos/${photo.number}`,
                          ),
                      ),
                  ),
              );
    mine.tell = tell;
    mine.photos
        .then((urls) => {
            show(urls);
            // The next ones are rendered while this one is looked at.
            if (run?.kind === "photo" && number < run.questions) photosOf(number + 1).catch(() => {});
        })
        .catch((fault) => {
            mine.photos = null;
            tell(fault.message);
        });
    return places;
}

function answerBody(one) {
    const { draft } = run;
    const asked = SIDES.filter(([side]) => one.asked?.[side] ?? true);
    if (asked.some(([side]) => !draft[side].along || !draft[side].up))
        throw new Error(asked.length === 2 ? say("page.say-first-where-both") : say("page.say-first-where-mark"));
    if (!draft.remedy) throw new Error(say("page.choose-would-do"));
    if (draft.remedy === "change" && !isMove(draft.move)) throw new Error(say("page.set-how-much-would"));
    const body = { remedy: draft.remedy };
    for (const [side] of asked) body[side] = { along: draft[side].along, up: draft[side].up };
    const mm = (value) => Math.round(value * 1e4) / 1e4;
    if (draft.remedy === "change")
        Object.assign(body, { deeper_mm: mm(draft.move.deeper), more_backlash_mm: mm(draft.move.more) });
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
    const remedy = choice({
        label: say("page.would-do"),
        value: draft.remedy,
        tall: true,
        options: [
            ["change", say("page.change-it")],
            ["accept", say("page.leave-good")],
            ["no-shim", say("page.no-shim-will-help")],
        ],
        onchange: (key) => {
            draft.remedy = key;
            sliders.hidden = key !== "change";
            changed();
        },
    });
    const send = h(
        "button",
        {
            class: "act first",
            type: "button",
            async onclick() {
                send.disabled = true;
                try {
                    const told = await api.post("/api/training/answers", answerBody(one), draft.id);
                    if (told.marked)
                        keep({
                            ...run,
                            told,
                            done: [
                                ...run.done,
                                { points: told.points, of: told.of, correction: told.correction, truth: told.truth },
                            ],
                        });
                    else keep({ ...run, number: run.number + 1, draft: blank() });
                    if (!told.marked) announce(say("page.kept"));
                    await refresh();
                } catch (fault) {
                    problem.textContent = fault.message;
                    problem.hidden = false;
                    problem.scrollIntoView({ block: "center" });
                } finally {
                    send.disabled = false;
                }
            },
        },
        run.exam ? say("page.hand") : say("page.mark-it"),
    );
    const photos = photoFigures(one);
    return {
        title: say("page.question", run.number),
        back: BENCH,
        wide: true,
        body: [
            h("h1", {}, say("page.question-of-many", run.number, run.questions)),
            h(
                "p",
                { class: "quiet small" },
                [
                    run.exam
                        ? say("page.exam")
                        : run.kind === "jobs"
                          ? say("page.from-a-job")
                          : say("page.level-and-what", one.level, one.level_words),
                    run.name,
                ]
                    .filter(Boolean)
                    .join(" \u00b7 "),
            ),
            facts(one),
            run.kind === "jobs" ? h("div", { class: "photos" }, photos) : null,
            h("p", {}, run.kind === "drawn" ? say("page.tap-each-flank-where") : say("page.find-mark-photo-tap")),
            h(
                "div",
                { class: "spread" },
                SIDES.filter(([side]) => one.asked?.[side] ?? true).map(([side, title], i) =>
                    pointer(title, one.sketches?.[side], draft[side], changed, run.kind === "photo" ? photos[i] : null),
                ),
            ),
            h("section", { class: "sheet", "aria-label": say("page.correction") }, remedy.element, sliders),
            problem,
            stopPart(refresh),
            bar(send),
        ],
    };
}

const stopPart = (refresh) =>
    h(
        "p",
        {},
        h(
            "button",
            {
                class: "act less",
                type: "button",
                async onclick() {
                    keep(null);
                    await refresh();
                },
            },
            run.exam ? say("page.leave-the-exam") : say("page.end-drill"),
        ),
    );

function toldView(one, refresh) {
    const { told } = run;
    const last = run.number >= run.questions;
    return {
        title: say("page.question-marked", run.number),
        back: BENCH,
        wide: true,
        body: [
            h("h1", {}, say("page.points", told.points, told.of)),
            h(
                "p",
                { class: "quiet" },
                say(
                    told.kept ? "page.points-in-parts-kept" : "page.points-in-parts",
                    told.place_points,
                    told.correction_points,
                ),
            ),
            note(told.points >= 8 ? "good" : "", words(told.words)),
            h(
                "div",
                { class: "spread" },
                h(
                    "div",
                    {},
                    h("h2", {}, run.kind === "jobs" ? say("page.marks-they-read") : say("page.marks-their-middle")),
                    pair(told.now),
                ),
                told.after
                    ? h(
                          "div",
                          {},
                          h("h2", {}, say("page.choice-would-give")),
                          pair(told.after),
                          h("p", {}, say("page.backlash-then", units.bothLengths(told.backlash_after_mm))),
                      )
                    : null,
            ),
            h(
                "p",
                { class: "legend" },
                [
                    say("page.dashed-box"),
                    told.after ? say("page.arrow-leads-to-your-choice") : "",
                    run.kind === "jobs" ? say("page.dotted-size-as-read") : "",
                ]
                    .filter(Boolean)
                    .join(" "),
            ),
            h("p", { class: "small quiet" }, say("page.exercise-real-axle-makers")),
            stopPart(refresh),
            bar(
                h(
                    "button",
                    {
                        class: "act first",
                        type: "button",
                        async onclick() {
                            keep({ ...run, number: run.number + 1, told: null, draft: blank() });
                            await refresh();
                        },
                    },
                    last ? say("page.result") : say("page.next-question"),
                ),
            ),
        ],
    };
}

// After ---------------------------------------------------------------------------------------------------------------

async function resultView(refresh) {
    const again = (label, number) =>
        h(
            "button",
            {
                class: "act first",
                type: "button",
                async onclick() {
                    keep(
                        number === null
                            ? null
                            : begun({ ...run, number: 1, done: [], told: null, draft: blank(), seed: number }),
                    );
                    await refresh();
                },
            },
            label,
        );
    if (run.exam) {
        const so = await api.get(`/api/training/exam?name=${encodeURIComponent(run.name)}`);
        if (!so.results) {
            keep({ ...run, number: firstOpen(so), draft: blank() });
            return drillView(refresh);
        }
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
                bar(again(say("page.done"), null)),
            ],
        };
    }
    const points = run.done.reduce((sum, one) => sum + one.points, 0),
        of = run.done.reduce((sum, one) => sum + one.of, 0);
    return {
        title: say("page.drill"),
        back: BENCH,
        body: [
            h("h1", {}, say("page.points", points, of)),
            run.name ? h("p", {}, run.name) : null,
            cards(
                run.done.map((one, i) => ({
                    title: say("page.question-points", i + 1, one.points, one.of),
                    lines: [
                        say("page.yours", moveSentence(one.correction)),
                        say("page.right", moveSentence(one.truth)),
                    ],
                })),
            ),
            run.kind === "jobs"
                ? null
                : h("p", { class: "small quiet" }, say("page.level-questions-number-same", run.level, run.seed)),
            h(
                "div",
                { class: "row" },
                run.name ? h("a", { class: "act less", href: "#/training/sheets" }, say("page.score-sheets")) : null,
                run.kind === "jobs"
                    ? null
                    : h(
                          "button",
                          {
                              class: "act less",
                              type: "button",
                              async onclick() {
                                  keep(begun({ ...run, number: 1, done: [], told: null, draft: blank() }));
                                  await refresh();
                              },
                          },
                          say("page.same-questions-again"),
                      ),
            ),
            bar(again(say("page.new-drill"), null)),
        ],
    };
}

const cards = (list) =>
    h(
        "ul",
        { class: "plain" },
        list.map((one) =>
            h(
                "li",
                { class: "sheet" },
                h("strong", {}, one.title),
                one.lines.map((line) => h("p", { class: "small" }, line)),
            ),
        ),
    );

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
    const csv = h(
        "button",
        {
            class: "act less",
            type: "button",
            async onclick() {
                try {
                    await save("/api/training/sheets.csv", "scores.csv");
                } catch (fault) {
                    problem.textContent = fault.message;
                }
            },
        },
        say("page.save-all-table-csv"),
    );
    if (name) {
        const [sheet] = sheets;
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
                cards(
                    [...sheet.answers].reverse().map((one) => ({
                        title: say(
                            "page.points-and-right",
                            one.points,
                            one.level
                                ? say("page.level-question", one.level, one.number)
                                : say("page.trial-job", one.trial),
                        ),
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
    return {
        title: say("page.score-sheets"),
        back: BENCH,
        body: [
            h("h1", {}, say("page.score-sheets")),
            faults.map((fault) => note("warn", fault)),
            sheets.length
                ? h(
                      "ul",
                      { class: "plain" },
                      sheets.map((one) =>
                          h(
                              "li",
                              {},
                              h(
                                  "a",
                                  {
                                      class: "sheet cardlink",
                                      href: `#/training/sheets/${encodeURIComponent(one.name)}`,
                                  },
                                  h("strong", {}, one.name),
                                  h(
                                      "span",
                                      { class: "quiet small" },
                                      say(
                                          "page.points-answers-and-when",
                                          one.points,
                                          one.of,
                                          one.answered === 1
                                              ? say("page.one-answer")
                                              : say("page.many-answers", one.answered),
                                          one.last_at ? ` \u00b7 ${units.when(one.last_at)}` : "",
                                      ),
                                  ),
                              ),
                          ),
                      ),
                  )
                : h("p", { class: "quiet" }, say("page.nobody-has-answered-yet")),
            sheets.length ? h("div", { class: "row" }, csv) : null,
            problem,
        ],
    };
}
