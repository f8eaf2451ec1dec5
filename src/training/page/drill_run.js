// A drill from its first question to its result: where is the mark, what would you change. The same at the bench and in
// a page on a stick. What is right comes with the grade, not before.
//
// `run`: what is kept of a drill. `with_`: {source, keep(run), refresh(), back}. A source has
//   question(run)                the question, as questionJson and trialJson give it
//   photos(run, one, tell)       null, or {titles, urls: promise}; `tell` is given words while it takes time
//   answer(run, one, body)       how the body was graded, as gradedJson; {graded: false} in an exam
//   after(run, one, body, told)  {drive: sketch or element, ...} of the marks that the answer gives, or null
//   ends(run)                    further parts of the page with the result
//   startsAnew, lessonHref       whether another drill can be begun; the address of a lesson by its name, or none
import { announce, bar, h, newName, note, words } from "./dom.js";
import { choice } from "./fields.js";
import * as units from "./units.js";
import { say } from "./words.js";
import { changeSliders, facts, isMove, moveSentence, pair, pointer, SIDES } from "./training_parts.js";

export const blank = () => ({
    drive: { along: null, up: null, dot: null },
    coast: { along: null, up: null, dot: null },
    remedy: null,
    move: { deeper: 0, more: 0 },
    id: newRequest(),
});
const newRequest = () =>
    Array.from(crypto.getRandomValues(new Uint8Array(16)), (byte) => byte.toString(16).padStart(2, "0")).join("");

export const begun = (more) => ({ number: 1, done: [], told: null, draft: blank(), ...more });

const hundredth = (mm) => Math.round(mm * 1e4) / 1e4;

/// The answer as it is sent. Throws with a sentence when something is missing.
function answerBody(run, one) {
    const { draft } = run;
    const asked = SIDES.filter(([side]) => one.asked[side]);
    if (asked.some(([side]) => !draft[side].along || !draft[side].up))
        throw new Error(asked.length === 2 ? say("page.say-first-where-both") : say("page.say-first-where-mark"));
    if (draft.remedy === null) throw new Error(one.story ? say("page.choose-check") : say("page.choose-would-do"));
    const body = {};
    for (const [side] of asked) body[side] = { along: draft[side].along, up: draft[side].up };
    if (one.story) return { ...body, check: Number(draft.remedy) };
    body.remedy = draft.remedy;
    if (draft.remedy !== "change") return body;
    if (!isMove(draft.move)) throw new Error(say("page.set-how-much-would"));
    body[one.shim ? "thicker_mm" : "deeper_mm"] = hundredth(draft.move.deeper);
    body.more_backlash_mm = hundredth(draft.move.more);
    return body;
}

const REMEDIES = [
    ["change", say("page.change-it")],
    ["accept", say("page.leave-good")],
    ["no-shim", say("page.no-shim-will-help")],
];

/// What is chosen to be done: a change with its sliders, or what to check of a story.
function remedyPart(one, draft, changed) {
    const sliders = h(
        "div",
        { hidden: draft.remedy !== "change" },
        one.story ? null : changeSliders(draft.move, one, changed),
    );
    const remedy = choice({
        label: one.story ? say("page.check-first") : say("page.would-do"),
        value: draft.remedy,
        tall: true,
        options: one.story ? one.story.checks.map((text, i) => [String(i), text]) : REMEDIES,
        onchange: (key) => {
            draft.remedy = key;
            sliders.hidden = key !== "change";
            changed();
        },
    });
    return h("section", { class: "sheet", "aria-label": say("page.correction") }, remedy.element, sliders);
}

/// Figures of the question's photos, filled when they are there.
function photoFigures(run, one, source) {
    const places = [];
    const tell = (text) =>
        places.forEach((place) => place.firstChild.replaceChildren(h("p", { class: "waiting" }, text)));
    const photos = source.photos(run, one, tell);
    if (!photos) return places;
    for (const title of photos.titles)
        places.push(
            h(
                "figure",
                { class: "sketch" },
                h("div", { class: "shot" }, h("p", { class: "waiting" }, say("page.waiting-photo"))),
                h("figcaption", {}, title),
            ),
        );
    photos.urls
        .then((urls) =>
            urls.forEach((src, i) =>
                places[i].firstChild.replaceChildren(
                    h("img", { src, alt: say("page.photo", i + 1, photos.titles[i]) }),
                ),
            ),
        )
        .catch((fault) => tell(fault.message));
    return places;
}

const stopPart = (run, { keep, refresh }) =>
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

const levelWords = (run, one) =>
    run.exam
        ? say("page.exam")
        : one.level
          ? say("page.level-and-what", one.level, one.level_words)
          : say("page.trial-of", one.axle, one.trial);

export function questionView(run, one, with_) {
    const { source, keep, refresh, back } = with_;
    const { draft } = run;
    const problem = h("div", { class: "note bad", role: "alert", hidden: true });
    const changed = () => {
        problem.hidden = true;
        keep(run);
    };
    const hand = async () => {
        const body = answerBody(run, one);
        const told = await source.answer(run, one, body);
        if (!told.graded) {
            keep({ ...run, number: run.number + 1, draft: blank() });
            announce(say("page.kept"));
        } else {
            const entry = { body, number: one.number, points: told.points, of: told.of };
            Object.assign(entry, { correction: told.correction, truth: told.truth, lesson: told.lesson });
            Object.assign(entry, { place_points: told.place_points, correction_points: told.correction_points });
            keep({ ...run, told, done: [...run.done, entry] });
        }
        await refresh();
    };
    const send = h(
        "button",
        {
            class: "act first",
            type: "button",
            async onclick() {
                send.disabled = true;
                try {
                    await hand();
                } catch (fault) {
                    problem.textContent = fault.message;
                    problem.hidden = false;
                    problem.scrollIntoView({ block: "center" });
                } finally {
                    send.disabled = false;
                }
            },
        },
        run.exam ? say("page.hand") : say("page.check-it"),
    );
    const photos = photoFigures(run, one, source);
    // A photo of each side stands above its flank; others stand together.
    const paired = photos.length === 2 && !one.axle;
    return {
        title: say("page.question", run.number),
        back,
        wide: true,
        body: [
            h("h1", {}, say("page.question-of-many", run.number, run.questions)),
            h("p", { class: "quiet small" }, [levelWords(run, one), run.name].filter(Boolean).join(" \u00b7 ")),
            one.story ? note("", one.story.complaint) : null,
            facts(one),
            photos.length && !paired ? h("div", { class: "photos" }, photos) : null,
            h("p", {}, photos.length ? say("page.find-mark-photo-tap") : say("page.tap-each-flank-where")),
            h(
                "div",
                { class: "spread" },
                SIDES.filter(([side]) => one.asked[side]).map(([side, title], i) =>
                    pointer(title, one.sketches?.[side], draft[side], changed, paired ? photos[i] : null),
                ),
            ),
            remedyPart(one, draft, changed),
            problem,
            stopPart(run, with_),
            bar(send),
        ],
    };
}

export function toldView(run, one, with_) {
    const { source, keep, refresh, back } = with_;
    const { told } = run;
    const after = source.after(run, one, run.done.at(-1).body, told);
    return {
        title: say("page.question-checked", run.number),
        back,
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
                    h("h2", {}, one.level ? say("page.marks-their-middle") : say("page.marks-they-read")),
                    pair(told.now),
                ),
                after
                    ? h(
                          "div",
                          {},
                          h("h2", {}, say("page.choice-would-give")),
                          told.backlash_after_mm > 0 ? pair(after) : null,
                          h(
                              "p",
                              {},
                              told.backlash_after_mm > 0
                                  ? say("page.backlash-then", units.bothLengths(told.backlash_after_mm))
                                  : say("page.no-backlash-teeth-jammed"),
                          ),
                      )
                    : null,
            ),
            h(
                "p",
                { class: "legend" },
                [
                    say("page.dashed-box"),
                    after ? say("page.arrow-leads-to-your-choice") : "",
                    one.level ? "" : say("page.dotted-size-as-read"),
                ]
                    .filter(Boolean)
                    .join(" "),
            ),
            h("p", { class: "small quiet" }, say("page.exercise-real-axle-makers")),
            stopPart(run, with_),
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
                    run.number >= run.questions ? say("page.result") : say("page.next-question"),
                ),
            ),
        ],
    };
}

export const cards = (list) =>
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

/// The lessons to read after these answers, those of most mistakes first.
export function lessonsPart(lessons, href) {
    const found = new Map();
    for (const lesson of lessons.filter(Boolean))
        found.set(lesson.name, {
            ...lesson,
            mistakes: (found.get(lesson.name)?.mistakes ?? 0) + (lesson.mistakes ?? 1),
        });
    const list = [...found.values()].sort((a, b) => b.mistakes - a.mistakes);
    if (!list.length) return null;
    const name = newName();
    return h(
        "section",
        { class: "sheet", "aria-labelledby": name },
        h("h2", { id: name }, say("page.lessons-to-read")),
        h(
            "ol",
            {},
            list.map((one) =>
                h("li", {}, href ? h("a", { href: href(one.name) }, one.title) : one.title, ` (${one.mistakes})`),
            ),
        ),
    );
}

export function resultView(run, { source, keep, refresh, back }) {
    const points = run.done.reduce((sum, one) => sum + one.points, 0),
        of = run.done.reduce((sum, one) => sum + one.of, 0);
    const again = (next, label, kind) =>
        h(
            "button",
            {
                class: `act ${kind}`,
                type: "button",
                async onclick() {
                    keep(next());
                    await refresh();
                },
            },
            label,
        );
    return {
        title: say("page.drill"),
        back,
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
            lessonsPart(
                run.done.map((one) => one.lesson),
                source.lessonHref,
            ),
            run.seed === null || run.seed === undefined || run.kind === "jobs"
                ? null
                : h("p", { class: "small quiet" }, say("page.level-questions-number-same", run.level, run.seed)),
            ...source.ends(run),
            h(
                "div",
                { class: "row" },
                again(
                    () => begun({ ...run, number: 1, done: [], told: null, draft: blank() }),
                    say("page.same-questions-again"),
                    "less",
                ),
            ),
            source.startsAnew ? bar(again(() => null, say("page.new-drill"), "first")) : null,
        ],
    };
}

/// The page of a run as it stands.
export async function runView(run, with_) {
    if (run.number > run.questions) return resultView(run, with_);
    const one = await with_.source.question(run);
    return run.told ? toldView(run, one, with_) : questionView(run, one, with_);
}
