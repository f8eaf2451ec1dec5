// The set-up game from its start to its end: every change costs hours at the bench. The same at the bench and in a page
// on a stick.
import { bar, h, note } from "./dom.js";
import * as units from "./units.js";
import { changeSliders, facts, isMove, moveSentence, pair } from "./training_parts.js";
import { say } from "./words.js";

const hours = (value) => `${value.toFixed(2)}\u00a0h`;
const JAMMED = say("page.no-backlash-teeth-jammed");
const mm = (value) => Math.round(value * 1e4) / 1e4;

function stepLines(states) {
    return h(
        "ol",
        { class: "steps" },
        states.map((state, i) =>
            h(
                "li",
                { class: i + 1 === states.length ? "next" : "done" },
                h("span", { class: "dot", "aria-hidden": "true" }, i || "\u2013"),
                h(
                    "div",
                    {},
                    h("strong", {}, i === 0 ? say("page.as-it-came") : moveSentence(state.words)),
                    h(
                        "div",
                        { class: "small quiet" },
                        say(
                            "page.so-far",
                            state.backlash_mm > 0
                                ? say(
                                      state.backlash_inside ? "page.backlash-is" : "page.backlash-is-outside",
                                      units.bothLengths(state.backlash_mm),
                                  )
                                : say("page.no-backlash-jammed"),
                            hours(state.hours),
                        ),
                    ),
                ),
            ),
        ),
    );
}

/// What the change that is set would cost in hours, or what changes cost when none is set.
function priceWords(draft, cost) {
    if (!isMove(draft))
        return say(
            "page.setting-painting-rolling-again",
            hours(cost.trial),
            hours(cost.pinion_shim),
            hours(cost.ring_gear),
        );
    const { deeper, more } = draft;
    return say(
        "page.this-change",
        hours(cost.trial + (deeper ? cost.pinion_shim : 0) + (deeper || more ? cost.ring_gear : 0)),
    );
}

/// The change that comes next: its sliders with its price, and the button that makes it.
function changePart(game, view, keep, turn) {
    const price = h("p", { class: "quiet small" });
    const make = h(
        "button",
        {
            class: "act first",
            type: "button",
            onclick: () =>
                turn({
                    ...game,
                    moves: [...game.moves, { deeper_mm: mm(game.draft.deeper), more_backlash_mm: mm(game.draft.more) }],
                    draft: { deeper: 0, more: 0 },
                }),
        },
        say("page.make-change"),
    );
    const tell = () => {
        keep(game);
        price.textContent = priceWords(game.draft, view.costs_h);
        make.disabled = !isMove(game.draft);
    };
    tell();
    if (view.most_moves <= game.moves.length) return { element: note("", say("page.no-change-left-say")), make: null };
    const element = h(
        "section",
        { class: "sheet", "aria-label": say("page.change-heading") },
        h("h2", {}, say("page.your-change")),
        changeSliders(game.draft, view, tell),
        price,
    );
    return { element, make };
}

/// The marks as they are now, and as they were before the last change.
function marksPart(now, before) {
    return h(
        "div",
        {},
        h("h2", {}, say("page.marks-now")),
        now.sketches ? pair(now.sketches) : h("p", {}, say("page.jammed-shows-no-mark")),
        before?.sketches ? h("details", {}, h("summary", {}, say("page.marks-before")), pair(before.sketches)) : null,
    );
}

/// How far the game has come.
function headingWords(moves, { hours: spent }) {
    if (!moves) return say("page.as-it-came");
    return say("page.after", moves === 1 ? say("page.one-change") : say("page.many-changes", moves), hours(spent));
}

const less = (words, onclick) => h("button", { class: "act less", type: "button", onclick }, words);

/// The page of a game as it stands. `with_`: {view, keep, refresh, back, startsAnew}; view(game) gives what gameJson
/// gives, its sketches as text or as elements. `game`: {seed, level, moves, verdict, draft} and what else is kept.
export async function gameRunView(game, with_) {
    const { keep, refresh, back } = with_;
    const view = await with_.view(game);
    const now = view.states.at(-1);
    if (view.end) return endView(game, view, with_);
    const problem = h("div", { class: "note bad", role: "alert", hidden: true });
    const turn = async (next) => {
        problem.hidden = true;
        try {
            await with_.view(next);
            keep(next);
            await refresh();
        } catch (fault) {
            problem.textContent = fault.message;
            problem.hidden = false;
        }
    };
    const change = changePart(game, view, keep, turn);
    const end = async () => {
        keep(null);
        await refresh();
    };
    return {
        title: say("page.set-up-game"),
        back,
        wide: true,
        body: [
            h("h1", {}, headingWords(game.moves.length, now)),
            h("p", { class: "quiet small" }, say("page.level-and-what", game.level, view.level_words)),
            facts({ ...view, backlash_mm: now.backlash_mm }),
            now.backlash_inside
                ? null
                : note("warn", now.backlash_mm > 0 ? say("page.backlash-outside-limits") : JAMMED),
            h(
                "div",
                { class: "spread" },
                marksPart(now, view.states.at(-2)),
                h(
                    "div",
                    {},
                    change.element,
                    problem,
                    h(
                        "div",
                        { class: "row" },
                        less(say("page.leave-good"), () => turn({ ...game, verdict: "accept" })),
                        less(say("page.no-shim-will-help"), () => turn({ ...game, verdict: "no-shim" })),
                    ),
                    game.moves.length ? [h("h2", {}, say("page.your-way")), stepLines(view.states)] : null,
                ),
            ),
            h("p", {}, less(say("page.end-game"), end)),
            change.make ? bar(change.make) : null,
        ],
    };
}

function endView(game, view, { keep, refresh, back, startsAnew }) {
    const { end } = view,
        now = view.states.at(-1);
    const advised = end.advised.steps;
    return {
        title: say("page.set-up-game-end"),
        back,
        wide: true,
        body: [
            h("h1", {}, end.sentence),
            note(
                end.good ? "good" : "warn",
                h("p", {}, say("page.needed-shimsight-same-start", hours(now.hours), hours(end.advised.hours))),
                h(
                    "p",
                    {},
                    end.remedy === "accept"
                        ? say("page.start-good-already")
                        : end.remedy === "no-shim"
                          ? say("page.start-no-shim-could")
                          : say("page.start-would-have-set", end.truth),
                ),
            ),
            h(
                "div",
                { class: "spread" },
                h(
                    "div",
                    {},
                    h("h2", {}, say("page.your-way")),
                    stepLines(view.states),
                    end.last ? pair(end.last) : null,
                ),
                h(
                    "div",
                    {},
                    h("h2", {}, say("page.shimsights-way")),
                    stepLines([
                        { ...view.states[0] },
                        ...advised.map((one) => ({
                            ...one,
                            words: say("page.chance-of-a-good-pattern", one.words, units.percent(one.chance)),
                        })),
                    ]),
                    advised.length ? pair(advised.at(-1).sketches) : null,
                    h("p", {}, end.advised.sentence),
                ),
            ),
            h("p", { class: "legend" }, say("page.dashed-box")),
            h("p", { class: "small quiet" }, say("page.level-number-same-number", game.level, game.seed)),
            end.rule ? note("", end.rule) : null,
            bar(
                h(
                    "button",
                    {
                        class: "act first",
                        type: "button",
                        async onclick() {
                            keep(null);
                            await refresh();
                        },
                    },
                    startsAnew ? say("page.new-game") : say("page.from-the-start"),
                ),
            ),
        ],
    };
}
