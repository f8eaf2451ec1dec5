// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// The training bench: what there is, lessons, the chart of a set.
import { bar, h } from "./dom.js";
import * as api from "./api.js";
import * as units from "./units.js";
import { markup, picker, rendered, save, script, waitWords } from "./training_server.js";
import { say } from "./words.js";

export const BENCH = ["#/training", say("page.training")];

const card = (href, title, text, tag) =>
    h(
        "li",
        {},
        h(
            "a",
            { class: "sheet cardlink", href },
            h("strong", {}, title),
            tag ? h("span", { class: "tag warn" }, tag) : null,
            h("p", { class: "quiet" }, text),
        ),
    );

export async function trainingView() {
    const all = await api.get("/api/training");
    return {
        title: say("page.training-bench"),
        back: ["#/", say("page.jobs")],
        wide: true,
        body: [
            h("h1", {}, say("page.training-bench")),
            h("p", {}, say("page.learn-read-tooth-without")),
            h(
                "div",
                { class: "spread" },
                h(
                    "div",
                    {},
                    h("h2", {}, say("page.try-it")),
                    h(
                        "ul",
                        { class: "plain" },
                        all.exam
                            ? card(
                                  "#/training/exam",
                                  say("page.exam"),
                                  say(
                                      "page.questions-level-each-can",
                                      all.exam.questions,
                                      all.exam.level,
                                      all.exam.level_words,
                                  ),
                                  say("page.is-on"),
                              )
                            : null,
                        card("#/training/live", say("page.live-tooth"), say("page.move-depth-backlash-watch")),
                        card("#/training/drill", say("page.drill"), say("page.say-where-mark-would")),
                        card("#/training/game", say("page.set-up-game"), say("page.bring-gear-set-into")),
                        card("#/training/chart", say("page.chart-of-a-set"), say("page.nine-settings-depth-backlash")),
                        all.keeps_sheets && !all.exam
                            ? card("#/training/sheets", say("page.score-sheets"), say("page.everybody-answered-drill"))
                            : null,
                    ),
                ),
                h(
                    "div",
                    {},
                    h("h2", {}, say("page.lessons")),
                    h(
                        "ol",
                        { class: "plain numbered" },
                        all.lessons.map((one, i) =>
                            h(
                                "li",
                                {},
                                h(
                                    "a",
                                    { href: `#/training/lesson/${one.name}` },
                                    h("span", { class: "count", "aria-hidden": "true" }, i + 1),
                                    h(
                                        "span",
                                        {},
                                        h("strong", {}, one.title),
                                        h("span", { class: "small quiet" }, one.summary),
                                    ),
                                ),
                            ),
                        ),
                    ),
                ),
            ),
            h("p", { class: "small quiet" }, say("page.makers-sheet-axle-always")),
        ],
    };
}

export async function lessonView(name) {
    const lesson = await api.get(`/api/training/lessons/${encodeURIComponent(name)}`);
    const article = markup(lesson.article).querySelector("article");
    article.querySelector("h2")?.remove();
    for (const place of article.querySelectorAll("[data-photo]")) place.prepend(photoPlace(lesson, place));
    article.querySelectorAll(".scroll").forEach((table, i) => {
        table.setAttribute("role", "region");
        table.setAttribute("aria-label", say("page.table-number", i + 1));
    });
    return {
        title: lesson.title,
        back: BENCH,
        wide: true,
        body: [
            h("h1", {}, lesson.title),
            h("div", { class: "training" }, article),
            h(
                "div",
                { class: "row" },
                lesson.before
                    ? h(
                          "a",
                          { class: "act less", href: `#/training/lesson/${lesson.before.name}` },
                          say("page.before", lesson.before.title),
                      )
                    : null,
                h("a", { class: "act less", href: "#/training/live" }, say("page.try-live-tooth")),
            ),
            bar(
                lesson.next
                    ? h(
                          "a",
                          { class: "act first", href: `#/training/lesson/${lesson.next.name}` },
                          say("page.next", lesson.next.title),
                      )
                    : h("a", { class: "act first", href: "#/training/drill" }, say("page.to-the-drill")),
            ),
        ],
        /// The figures to try come to life when their scripts and gear sets are there; the lesson does not wait for them.
        enter() {
            if (!article.querySelector(".try")) return null;
            let gone = false,
                letGo = null;
            Promise.all([
                figureData(),
                script("/lesson/words.js")
                    .then(() => script("/lesson/contact.js"))
                    .then(() => script("/lesson/flank.js"))
                    .then(() => script("/lesson/figures.js")),
            ])
                .then(([data]) => {
                    if (!gone) letGo = window.lessonFigures.start(article, data, { length: (mm) => units.bothNow(mm) });
                })
                .catch(() => {});
            return () => {
                gone = true;
                letGo?.();
            };
        },
    };
}

/// The same gear sets for all lessons.
let figures = null;
function figureData() {
    figures ??= api.get("/api/training/figures").catch((fault) => {
        figures = null;
        throw fault;
    });
    return figures;
}

/// Rendering takes some seconds of the shop's computer, so it is done for those who ask.
function photoPlace(lesson, figure) {
    const caption = figure.querySelector("figcaption").textContent;
    const place = h("div", { class: "shot asked" });
    const problem = h("p", { class: "hint bad", role: "alert" });
    const button = h(
        "button",
        {
            class: "act less",
            type: "button",
            async onclick() {
                button.disabled = true;
                problem.textContent = "";
                // As wide to its height as a rendered photo: what stands below moves now, under the finger that asked.
                place.classList.add("coming");
                const tell = (state) => {
                    button.textContent = waitWords(state);
                };
                tell({ state: "working" });
                try {
                    const [url] = await rendered(
                        `/api/training/lessons/${lesson.name}/photos/${figure.dataset.photo}`,
                        tell,
                    );
                    place.replaceChildren(h("img", { src: url, alt: say("page.rendered-photo", caption) }));
                } catch (fault) {
                    problem.textContent = fault.message;
                    place.classList.remove("coming");
                    button.disabled = false;
                    button.textContent = say("page.show-photo");
                }
            },
        },
        say("page.show-photo"),
    );
    place.append(button, problem);
    return place;
}

export async function chartView(path, go, job) {
    const [set, beside] = path;
    const { sets } = await api.get("/api/training");
    const first = job ? "" : set || sets[0].id;
    const query = `${job ? `job=${encodeURIComponent(job)}` : `set=${encodeURIComponent(first)}`}${beside ? `&beside=${encodeURIComponent(beside)}` : ""}`;
    const chart = await api.get(`/api/training/chart?${query}`);
    const options = sets.map((one) => [one.id, one.name]);
    const base = job ? `#/job/${job}/chart/-` : "#/training/chart";
    const problem = h("p", { class: "hint bad", role: "alert" });
    return {
        title: say("page.chart"),
        back: job ? [`#/job/${job}`, say("page.job")] : BENCH,
        wide: true,
        body: [
            h("h1", {}, job ? say("page.chart-gear-set") : say("page.chart-of-a-gear")),
            h("p", { class: "quiet" }, chart.how_to_read),
            h(
                "div",
                { class: "two stack noprint" },
                job
                    ? null
                    : picker({
                          label: say("page.gear-set"),
                          options,
                          value: first,
                          onchange: (id) => go(`${base}/${encodeURIComponent(id)}`),
                      }).element,
                picker({
                    label: say("page.beside"),
                    options: [["", "nothing"], ...options],
                    value: beside ?? "",
                    onchange: (id) =>
                        go(
                            `${base}${job ? "" : `/${encodeURIComponent(first)}`}${id ? `/${encodeURIComponent(id)}` : ""}`,
                        ),
                }).element,
            ),
            h("div", { class: "training" }, markup(chart.tables)),
            h("p", { class: "small quiet" }, say("page.two-standard-errors-model")),
            h(
                "div",
                { class: "row noprint" },
                h(
                    "button",
                    { class: "act less", type: "button", onclick: () => window.print() },
                    say("page.print-save-pdf"),
                ),
                h(
                    "button",
                    {
                        class: "act less",
                        type: "button",
                        async onclick() {
                            try {
                                await save(`/api/training/chart.svg?${query}`, "chart.svg");
                            } catch (fault) {
                                problem.textContent = fault.message;
                            }
                        },
                    },
                    say("page.save-picture-svg"),
                ),
                h(
                    "a",
                    {
                        class: "act less",
                        href: job ? `#/job/${job}/live` : `#/training/live/${encodeURIComponent(first)}`,
                    },
                    say("page.live-tooth-set"),
                ),
            ),
            problem,
        ],
    };
}
