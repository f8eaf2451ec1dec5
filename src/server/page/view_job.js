// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// One job: where it stands, its trials, its pages.
import { bar, h, note, sketch, words, write } from "./dom.js";
import * as api from "./api.js";
import * as units from "./units.js";
import { form, keepEntered, myName, textField } from "./fields.js";
import { subjectOf } from "./looked.js";
import { restore, strike, twinOf } from "./struck.js";
import { asksBefore, putBackButton, setLine } from "./view_trial.js";
import { say } from "./words.js";

const PAGES = {
    parts: "measure/parts",
    "start-depth": "measure/start-depth",
    "trial-preload": "measure/preload",
    "final-pattern": "new-trial",
    runout: "measure/runout",
    pinion: "measure/pinion",
    preload: "measure/preload",
    backlash: "measure/backlash",
    carrier: "measure/carrier",
    torques: "measure/torques",
    "final-assembly": "measure/final-assembly",
    "sign-off": "sign-off",
};

/// Those that the way to the photos leads to by itself.
const TRIAL_STEPS = ["pattern", "final-pattern", "sign-off"];

function headlineOf(answer) {
    if (!answer) return say("page.no-advice");
    const { lead, amount_mm: amount } = answer.headline;
    // Without an amount the lead says itself how sure it is.
    if (amount === null) return lead;
    const weak =
        answer.verdict === "change" && answer.certainty === "not-sure" && !answer.stop ? say("page.not-sure") : "";
    return `${weak}${lead} ${units.length(amount)}`;
}

/// The check lists are told by numbers; their lines stand on their page.
function detailOf(record, step) {
    const signed = record.sign_offs.at(-1);
    if (step.key === "sign-off" && signed && !signed.struck)
        return say("page.signed-off-by", signed.by, units.when(signed.at));
    const { lines, open_lines: open } = step;
    return lines.length && step.state !== "not-needed"
        ? say("page.checks-done", lines.length - open.length, lines.length)
        : step.detail;
}

function pathPart(view) {
    const figures = ["drive", "coast"]
        .filter((side) => view.path[side])
        .map((side) =>
            h(
                "figure",
                { class: "sketch" },
                sketch(view.path[side]),
                h("figcaption", {}, side === "drive" ? say("common.drive-side-title") : say("common.coast-side-title")),
            ),
        );
    const trials = view.record.trials.filter((trial) => !trial.struck).length;
    return figures.length && trials > 1
        ? [
              h("h2", {}, say("page.patterns-way-over-trials")),
              h("div", { class: "pairs" }, figures),
              h("p", { class: "legend" }, say("page.toe-left-tip-top")),
          ]
        : null;
}

/// What used gears were before they came apart.
function beforePart(base, view) {
    const entries = view.record.before.filter((entry) => !entry.struck);
    if (view.record.build !== "used-gears") return null;
    const line = (entry) =>
        `${units.when(entry.at)}: ${[entry.reading?.pattern.drive ? say("page.drive-mark") : "", entry.reading?.pattern.coast ? say("page.coast-mark") : "", entry.backlash_mm === null ? "" : say("page.backlash-amount", units.bothLengths(entry.backlash_mm))].filter(Boolean).join(", ") || say("page.nothing-could-read")}`;
    return [
        h("h2", {}, say("page.before-they-came-apart")),
        entries.length ? words(entries.map(line)) : h("p", { class: "quiet" }, say("page.nothing-entered")),
        view.signed_off
            ? null
            : h(
                  "p",
                  {},
                  h(
                      "a",
                      { class: "target", href: `${base}/before` },
                      asksBefore(view) ? say("page.enter-marks-backlash") : say("page.enter-another-reading"),
                  ),
              ),
    ];
}

/// Everything that was struck out, with a way back for each.
function struckPart(job, view, refresh) {
    const { record } = view;
    const named = {
        trials: (entry) => (view.trials[entry.id] ? say("page.measurement", entry.id) : entry.id),
        before: () => say("page.kind-before"),
        depth: () => say("page.start-of-depth"),
        preload: (entry) => say("page.a-reading-of", say("page.kind-preload"), units.torque(entry.torque_nm)),
        backlash: (entry) =>
            say(
                "page.a-reading-of",
                say("page.kind-backlash"),
                entry.points.map((point) => units.length(point.backlash_mm)).join(", "),
            ),
        runout: (entry) => say("page.a-reading-of", say("page.kind-runout"), units.length(entry.runout_mm)),
        carrier: () => say("page.kind-carrier"),
        checked: (entry) => say("page.a-reading-of", say("page.kind-checked"), subjectOf(entry.kind)),
        work: (entry) => say("page.a-reading-of", say("page.kind-work"), workWords(view, entry)),
    };
    const struck = Object.entries(named).flatMap(([list, words]) =>
        record[list].filter((entry) => entry.struck).map((entry) => ({ list, entry, words: words(entry) })),
    );
    if (!struck.length) return null;
    struck.sort((a, b) => b.entry.struck.at.localeCompare(a.entry.struck.at));
    // Where outlines were corrected nobody struck anything out: the measurement before that has a list of its own.
    const isFormer = ({ list, entry }) => list === "trials" && twinOf(record, entry) !== null;
    const line = ({ list, entry, words: what }) =>
        h(
            "li",
            { class: "sheet putback" },
            h(
                "span",
                {},
                list === "trials"
                    ? h("a", { class: "target", href: `#/job/${job}/trial/${entry.id}` }, h("strong", {}, what))
                    : h("strong", {}, what),
                h(
                    "span",
                    { class: "quiet small block" },
                    say(
                        isFormer({ list, entry }) ? "page.replaced-by-why" : "page.struck-by-why",
                        units.when(entry.struck.at),
                        entry.struck.why,
                    ),
                ),
            ),
            view.signed_off
                ? null
                : list === "trials"
                  ? putBackButton(job, view, entry, refresh)
                  : h(
                        "button",
                        {
                            class: "act less",
                            type: "button",
                            async onclick() {
                                await restore(job, entry.id);
                                await refresh();
                            },
                        },
                        say("page.put-back"),
                    ),
        );
    const folded = (title, some) =>
        some.length
            ? h("details", {}, h("summary", {}, say(title, some.length)), h("ul", { class: "plain" }, some.map(line)))
            : null;
    return [
        folded(
            "page.struck-out-count",
            struck.filter((one) => !isFormer(one)),
        ),
        folded("page.former-readings", struck.filter(isFormer)),
    ];
}

/// One trial in the list: its advice in a line, when it was, its backlash.
function trialCard(base, view, trial) {
    const extra = view.trials[trial.id];
    return h(
        "li",
        {},
        h(
            "a",
            { class: "sheet cardlink", href: `${base}/trial/${trial.id}` },
            h(
                "strong",
                {},
                `${extra.number ? say("page.trial-number", extra.number) : say("page.measurement", trial.id)}: ${headlineOf(extra.answer)}`,
            ),
            h(
                "span",
                { class: "quiet small" },
                [
                    units.when(trial.at),
                    trial.backlash_mm === null ? "" : say("page.backlash-amount", units.length(trial.backlash_mm)),
                    trial.struck ? say("page.is-struck-out") : "",
                ]
                    .filter(Boolean)
                    .join(" \u00b7 "),
            ),
        ),
    );
}

/// A step of the whole set-up, with the way to its page.
function stepLine(base, record, one) {
    return h(
        "li",
        { class: one.state },
        h(
            "span",
            { class: "dot", "aria-hidden": "true" },
            { done: "\u2713", next: "\u203a", open: "", "not-needed": "\u2013" }[one.state],
        ),
        h(
            "div",
            {},
            PAGES[one.key] ? h("a", { href: `${base}/${PAGES[one.key]}` }, one.title) : h("strong", {}, one.title),
            h("span", { class: "unseen" }, `, ${one.state}. `),
            h("div", { class: "small quiet" }, detailOf(record, one)),
        ),
    );
}

/// What "Next" names is the first button; the way to the photos stays beside it.
function nextBar(base, view, trials) {
    const { record, status } = view;
    const last = trials.at(-1);
    const lastAnswer = last ? view.trials[last.id].answer : null;
    const worked = last && record.work.some((entry) => !entry.struck && entry.after_trial === last.id);
    const next = status.steps.find((one) => one.state === "next");
    const nextStep =
        next && PAGES[next.key] && !TRIAL_STEPS.includes(next.key)
            ? h("a", { class: "act first", href: `${base}/${PAGES[next.key]}` }, next.title)
            : null;
    const act = (href, words) => h("a", { class: nextStep ? "act less" : "act first", href }, words);
    const trialWay = () => {
        if (asksBefore(view) && !trials.length) return act(`${base}/before`, say("page.gears-before"));
        if (last && lastAnswer?.verdict === "change" && !status.stop && !worked)
            return act(`${base}/trial/${last.id}`, say("page.show-change"));
        if (lastAnswer?.verdict === "accept" && !status.stop && !worked) {
            if (nextStep) return null;
            if (next?.key === "sign-off") return act(`${base}/sign-off`, say("page.check-sign-off"));
        }
        return act(`${base}/new-trial`, last ? say("page.next-trial") : say("page.first-trial"));
    };
    return bar(nextStep, trialWay());
}

/// A change that was made, in a line.
function workWords(view, entry) {
    const parts = [];
    if (entry.shim_change_mm !== null)
        parts.push(
            entry.shim_change_mm === 0
                ? say("page.shims-left-alone")
                : `${entry.shim_change_mm > 0 ? "added" : say("page.took-out")} ${units.length(Math.abs(entry.shim_change_mm))}`,
        );
    if (entry.backlash_mm !== null) parts.push(say("page.backlash-amount", units.length(entry.backlash_mm)));
    const number = view.trials[entry.after_trial]?.number;
    return say(
        "page.after-and-what",
        number ? say("page.trial-in-a-list", number) : entry.after_trial || say("page.start"),
        parts.join(", ") || say("page.see-note"),
        entry.note ? `. ${entry.note}` : "",
    );
}

/// Where the job stands: signed off or what comes next, a stop, what asks for attention.
function standing({ record, status, signed_off: signedOff }) {
    return [
        signedOff
            ? record.sign_offs.at(-1).open.length
                ? note("warn", say("page.job-signed-off-open"))
                : note("good", say("page.job-signed-off"))
            : note("", h("p", {}, h("strong", {}, say("page.next-step")), status.next)),
        status.stop && !signedOff
            ? note("bad", h("p", {}, h("strong", {}, say("page.stop-found")), status.stop.found))
            : null,
        status.attention.map((sentence) => note("warn", sentence)),
    ];
}

/// What was looked into and found right.
function lookedPart({ checked }) {
    const line = (entry) => `${subjectOf(entry.kind)}: ${units.when(entry.at)}${entry.by ? `, ${entry.by}` : ""}`;
    return checked.length
        ? h(
              "details",
              {},
              h("summary", {}, say("page.looked-into-right")),
              words(checked.filter((entry) => !entry.struck).map(line)),
          )
        : null;
}

/// The changes that were made, each of which can be struck out.
function workPart(job, view, refresh) {
    const { work } = view.record;
    if (!work.length) return null;
    const line = (entry) => {
        const what = workWords(view, entry);
        const onclick = () => strike(job, entry.id, { what, after: refresh });
        return h(
            "li",
            { class: "sheet putback" },
            h("span", {}, what),
            view.signed_off
                ? null
                : h("button", { class: "act less", type: "button", onclick }, say("page.strike-out")),
        );
    };
    return h(
        "details",
        {},
        h("summary", {}, say("page.work-done")),
        h("ul", { class: "plain" }, work.filter((entry) => !entry.struck).map(line)),
    );
}

function remarksPart({ remarks }) {
    return remarks.length
        ? h(
              "details",
              {},
              h("summary", {}, say("page.remarks")),
              words(remarks.map((one) => `${units.when(one.at)}: ${one.text}`)),
          )
        : null;
}

export function jobView(job, view, about, refresh) {
    const { record, status } = view;
    const base = `#/job/${job}`;
    const kept = JSON.parse(sessionStorage.getItem("shimsight-notes") ?? "[]");
    sessionStorage.removeItem("shimsight-notes");
    const trials = record.trials.filter((trial) => !trial.struck);
    const cards = [...trials].reverse().map((trial) => trialCard(base, view, trial));
    const steps = status.steps.map((one) => stepLine(base, record, one));
    return {
        title: record.axle,
        back: ["#/", say("page.jobs")],
        wide: true,
        body: [
            h("h1", {}, record.axle),
            h(
                "p",
                { class: "quiet" },
                [view.gear.name, record.customer, record.set_up_by].filter(Boolean).join(" \u00b7 "),
            ),
            setLine(job, view),
            kept.map((sentence) => note("good", sentence)),
            standing(view),
            h(
                "div",
                { class: "spread" },
                h(
                    "div",
                    {},
                    h("h2", {}, say("page.trials")),
                    cards.length
                        ? h("ul", { class: "plain" }, cards)
                        : h("p", { class: "quiet" }, say("page.none-yet")),
                    pathPart(view),
                ),
                h("div", {}, h("h2", {}, say("page.whole-set-up")), h("ol", { class: "steps" }, steps)),
            ),
            beforePart(base, view),
            lookedPart(record),
            workPart(job, view, refresh),
            struckPart(job, view, refresh),
            remarksPart(record),
            h("h2", {}, say("page.this-gear-set")),
            h(
                "div",
                { class: "row" },
                h("a", { class: "act less", href: `${base}/live` }, say("page.see-shim-does")),
                h("a", { class: "act less", href: `${base}/chart` }, say("page.chart-marks")),
            ),
            documents(job, about.documents),
            status.cautions.length ? [h("h2", {}, say("page.take-care")), words(status.cautions)] : null,
            view.signed_off ? null : nextBar(base, view, trials),
        ],
    };
}

const DOCUMENT_WORDS = {
    review: say("page.review-job"),
    sheet: say("page.build-sheet-print"),
    "sheet-pdf": say("page.pdf-sheet"),
};

/// Links of the sheet that live until they are taken back.
function links(job) {
    const path = `/api/jobs/${encodeURIComponent(job)}/links`;
    const list = h("ul", { class: "plain" }),
        told = h("p", { class: "quiet", role: "status" });
    const line = (one) => {
        const address = location.origin + one.path;
        const share = navigator.share
            ? h(
                  "button",
                  {
                      class: "act less",
                      type: "button",
                      onclick: () => navigator.share({ url: address }).catch(() => {}),
                  },
                  say("page.share-link"),
              )
            : h(
                  "button",
                  {
                      class: "act less",
                      type: "button",
                      async onclick() {
                          await navigator.clipboard?.writeText(address);
                          write(told, say("page.link-copied"));
                      },
                  },
                  say("page.copy-link"),
              );
        return h(
            "li",
            { class: "sheet" },
            h("a", { class: "target address", href: one.path, target: "_blank", rel: "noopener" }, address),
            h("p", { class: "quiet small" }, say("page.link-made-at", units.when(one.made_at))),
            h(
                "div",
                { class: "row" },
                navigator.share || navigator.clipboard ? share : null,
                h(
                    "button",
                    {
                        class: "act less",
                        type: "button",
                        async onclick() {
                            show(await api.remove(`${path}/${one.ticket}`));
                            write(told, say("page.link-gone"));
                        },
                    },
                    say("page.take-link-back"),
                ),
            ),
        );
    };
    const show = ({ links: all }) => list.replaceChildren(...all.map(line));
    const make = h(
        "button",
        {
            class: "act less wide",
            type: "button",
            async onclick() {
                make.disabled = true;
                write(told, say("page.making-page"));
                try {
                    const { task } = await api.post(path, {});
                    await api.finished(task);
                    show(await api.get(path));
                    write(told, "");
                } catch (fault) {
                    write(told, fault.message);
                } finally {
                    make.disabled = false;
                }
            },
        },
        say("page.link-to-sheet"),
    );
    api.get(path).then(show, () => {});
    return h("section", {}, make, h("p", { class: "small quiet" }, say("page.link-intro")), told, list);
}

function documents(job, kinds) {
    if (!kinds.length) return null;
    const state = h("p", { class: "quiet", role: "status" });
    const button = (kind) =>
        h(
            "button",
            {
                class: "act less",
                type: "button",
                async onclick() {
                    // Opened at once: a window that opens later counts as one nobody asked for.
                    const page = window.open("", "_blank");
                    if (page) page.document.body.textContent = say("page.making-page");
                    state.textContent = say("page.making-page");
                    try {
                        const { task } = await api.post(`/api/jobs/${encodeURIComponent(job)}/documents/${kind}`, {});
                        const { path } = await api.finished(task);
                        state.replaceChildren(
                            h(
                                "a",
                                { href: path, target: "_blank", rel: "noopener" },
                                say("page.open", DOCUMENT_WORDS[kind]),
                            ),
                        );
                        if (page) page.location = path;
                    } catch (fault) {
                        page?.close();
                        state.textContent = fault.message;
                    }
                },
            },
            DOCUMENT_WORDS[kind],
        );
    return [h("h2", {}, say("page.read-print")), h("div", { class: "row" }, kinds.map(button)), state, links(job)];
}

/// A form whose entry goes to the job, kept until it is sent.
async function entryForm(job, kind, { fields, button, body }, go) {
    const main = form({
        fields: fields.map((field) => field.element),
        button,
        async send() {
            await api.post(`/api/jobs/${encodeURIComponent(job)}/entries/${kind}`, body());
            await entered.forget();
            go(`#/job/${job}`);
        },
    });
    const entered = await keepEntered(`${kind}/${job}`, main);
    return main;
}

export async function signOffView(job, view, go) {
    const open = view.status.steps.filter(
        (step) => step.key !== "sign-off" && (step.state === "open" || step.state === "next"),
    );
    const by = textField({ label: say("page.who-signs"), value: myName(), required: true, autocomplete: "name" });
    const why = textField({
        label: open.length ? say("page.why-stays-open") : say("page.note-may-stay-empty"),
        long: true,
        required: open.length > 0,
    });
    const reason = textField({ label: say("page.why-reopened"), required: true });
    const step = view.status.steps.find((one) => one.key === "sign-off");
    return {
        title: say("page.sign-off-title"),
        back: [`#/job/${job}`, say("page.job")],
        body: view.signed_off
            ? [
                  h("h1", {}, say("page.signed-off")),
                  standing(view),
                  h("p", {}, detailOf(view.record, step)),
                  await entryForm(
                      job,
                      "reopen",
                      {
                          fields: [reason],
                          button: say("page.open-job-again"),
                          body: () => ({ by: myName(), why: reason.read() }),
                      },
                      go,
                  ),
              ]
            : [
                  h("h1", {}, say("page.sign-job-off")),
                  open.length
                      ? note(
                            "warn",
                            h("p", {}, h("strong", {}, say("page.still-open"))),
                            words(open.map((one) => `${one.title}. ${detailOf(view.record, one)}`)),
                        )
                      : note("good", say("page.everything-done")),
                  await entryForm(
                      job,
                      "sign-off",
                      {
                          fields: [by, why],
                          button: say("page.sign-off"),
                          body: () => ({ by: by.read(), note: why.read() }),
                      },
                      go,
                  ),
              ],
    };
}
