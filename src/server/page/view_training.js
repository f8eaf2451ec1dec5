// The training bench: what there is, lessons, the chart of a set.
import { bar, h, note } from "./dom.js";
import * as api from "./api.js";
import * as units from "./units.js";
import { markup, picker, rendered, save, script, waitWords } from "./training_parts.js";

export const BENCH = ["#/training", "Training"];

const card = (href, title, text, tag) => h("li", {}, h("a", { class: "sheet cardlink", href }, h("strong", {}, title), tag ? h("span", { class: "tag warn" }, tag) : null, h("p", { class: "quiet" }, text)));

export async function trainingView() {
    const all = await api.get("/api/training");
    return {
        title: "Training bench", back: ["#/", "Jobs"], wide: true,
        body: [h("h1", {}, "Training bench"),
            h("p", {}, "Learn to read a tooth without a gear on the bench. Every mark is computed from real tooth surfaces, by the engine that gives the advice."),
            h("div", { class: "spread" },
                h("div", {}, h("h2", {}, "Try it"), h("ul", { class: "plain" },
                    all.exam ? card("#/training/exam", "Exam", `${all.exam.questions} questions, level ${all.exam.level}: ${all.exam.level_words}. Each can be answered once.`, "is on") : null,
                    card("#/training/live", "Live tooth", "Move depth and backlash and watch both marks and the gear pair follow."),
                    card("#/training/drill", "Drill", "Say where the mark is and what you would change; see where your choice would have ended."),
                    card("#/training/game", "Set-up game", "Bring a gear set into its rule with as few bench hours as you can."),
                    card("#/training/chart", "Chart of a set", "Nine settings of depth and backlash at a glance, to print."),
                    all.keeps_sheets && !all.exam ? card("#/training/sheets", "Score sheets", "What everybody answered in the drill.") : null)),
                h("div", {}, h("h2", {}, "Lessons"), h("ol", { class: "plain numbered" }, all.lessons.map((one, i) =>
                    h("li", {}, h("a", { href: `#/training/lesson/${one.name}` }, h("span", { class: "count", "aria-hidden": "true" }, i + 1), h("span", {}, h("strong", {}, one.title), h("span", { class: "small quiet" }, one.summary)))))))),
            h("p", { class: "small quiet" }, "The maker's sheet for the axle always comes first. Vehicle on stands, fingers out of the gears.")],
    };
}

export async function lessonView(name) {
    const lesson = await api.get(`/api/training/lessons/${encodeURIComponent(name)}`);
    const article = markup(lesson.article).querySelector("article");
    article.querySelector("h2")?.remove();
    for (const place of article.querySelectorAll("[data-photo]")) place.prepend(photoPlace(lesson, place));
    article.querySelectorAll(".scroll").forEach((table, i) => {
        table.setAttribute("role", "region");
        table.setAttribute("aria-label", `Table ${i + 1}`);
    });
    return {
        title: lesson.title, back: BENCH, wide: true,
        body: [h("h1", {}, lesson.title), h("div", { class: "training" }, article),
            h("div", { class: "row" }, lesson.before ? h("a", { class: "act less", href: `#/training/lesson/${lesson.before.name}` }, `Before: ${lesson.before.title}`) : null, h("a", { class: "act less", href: "#/training/live" }, "Try it on the live tooth")),
            bar(lesson.next ? h("a", { class: "act first", href: `#/training/lesson/${lesson.next.name}` }, `Next: ${lesson.next.title}`) : h("a", { class: "act first", href: "#/training/drill" }, "To the drill"))],
        /// The figures to try come to life when their scripts and gear sets are there; the lesson does not wait for them.
        enter() {
            if (!article.querySelector(".try")) return null;
            let gone = false, letGo = null;
            Promise.all([figureData(), script("/lesson/contact.js").then(() => script("/lesson/flank.js")).then(() => script("/lesson/figures.js"))]).then(([data]) => {
                if (!gone) letGo = window.lessonFigures.start(article, data, { length: (mm) => units.bothNow(mm) });
            }).catch(() => {});
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
    const button = h("button", { class: "act less", type: "button", async onclick() {
        button.disabled = true;
        problem.textContent = "";
        const tell = (state) => { button.textContent = waitWords(state); };
        tell({ state: "working" });
        try {
            const [url] = await rendered(`/api/training/lessons/${lesson.name}/photos/${figure.dataset.photo}`, tell);
            place.replaceChildren(h("img", { src: url, alt: `Rendered photo: ${caption}` }));
        } catch (fault) {
            problem.textContent = fault.message;
            button.disabled = false;
            button.textContent = "Show it as a photo";
        }
    } }, "Show it as a photo");
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
        title: "Chart", back: job ? [`#/job/${job}`, "Job"] : BENCH, wide: true,
        body: [h("h1", {}, job ? "Chart of this gear set" : "Chart of a gear set"), h("p", { class: "quiet" }, chart.how_to_read),
            h("div", { class: "two stack noprint" },
                job ? null : picker({ label: "Gear set", options, value: first, onchange: (id) => go(`${base}/${encodeURIComponent(id)}`) }).element,
                picker({ label: "Beside it", options: [["", "nothing"], ...options], value: beside ?? "", onchange: (id) => go(`${base}${job ? "" : `/${encodeURIComponent(first)}`}${id ? `/${encodeURIComponent(id)}` : ""}`) }).element),
            h("div", { class: "training" }, markup(chart.tables)),
            h("p", { class: "small quiet" }, "The +/- are two standard errors of the model; how a set was cut and lapped adds to them. The maker's sheet for the axle always comes first."),
            h("div", { class: "row noprint" },
                h("button", { class: "act less", type: "button", onclick: () => window.print() }, "Print, or save as PDF"),
                h("button", { class: "act less", type: "button", async onclick() {
                    try {
                        await save(`/api/training/chart.svg?${query}`, "chart.svg");
                    } catch (fault) {
                        problem.textContent = fault.message;
                    }
                } }, "Save as a picture (SVG)"),
                h("a", { class: "act less", href: job ? `#/job/${job}/live` : `#/training/live/${encodeURIComponent(first)}` }, "Live tooth of this set")), problem],
    };
}
