// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// The start: open jobs, and a new one.
import { bar, h, newName, note, stillHere, write } from "./dom.js";
import { say } from "./words.js";
import * as api from "./api.js";
import * as units from "./units.js";
import { choice, form, keepEntered, lengthField, myName, setMyName, textField } from "./fields.js";
import { getOrKept, keptNote } from "./kept.js";
import { setChoice } from "./gear_sets.js";

/// Jobs of one page of the list.
const PAGE_JOBS = 30;

const cardOf = (job) =>
    h(
        "li",
        {},
        h(
            "a",
            { class: "sheet cardlink", href: `#/job/${job.id}` },
            job.fault
                ? [
                      h("strong", {}, job.id),
                      h("span", { class: "tag bad" }, say("page.damaged")),
                      h("p", { class: "small" }, job.fault),
                  ]
                : [
                      h("strong", {}, job.axle),
                      h(
                          "span",
                          { class: "quiet small" },
                          [
                              job.customer,
                              job.trials === 1 ? say("page.one-trial") : say("page.many-trials", job.trials),
                              units.when(job.changed_at),
                          ]
                              .filter(Boolean)
                              .map((part, i) => (i === 0 && job.customer ? part : part.replace(/([^,]) /g, "$1\u00a0")))
                              .join(" \u00b7 "),
                      ),
                      h(
                          "p",
                          {},
                          job.signed_off
                              ? h("span", { class: "tag good" }, say("page.is-signed-off"))
                              : job.step
                                ? say("page.next", job.step)
                                : job.next,
                      ),
                  ],
        ),
    );

/// A list that grows page by page; `asked` gives what is wanted of it.
function jobList(asked) {
    const list = h("ul", { class: "plain" }),
        none = h("p", { class: "quiet", hidden: true }, say("page.no-job-fits")),
        more = h(
            "button",
            { class: "act less wide", type: "button", hidden: true, onclick: () => add() },
            say("page.more-jobs"),
        );
    let round = 0;
    async function add(anew = false) {
        const mine = ++round;
        const skip = anew ? 0 : list.childElementCount;
        const query = new URLSearchParams({ ...asked(), skip, limit: PAGE_JOBS });
        const { jobs, found } = (await getOrKept(`/api/jobs?${query}`)).answer;
        if (mine !== round) return found;
        const cards = jobs.map(cardOf);
        if (anew) list.replaceChildren(...cards);
        else list.append(...cards);
        none.hidden = list.childElementCount > 0;
        more.hidden = list.childElementCount >= found;
        return found;
    }
    return { element: h("div", {}, list, none, more), add };
}

/// Typing stops for this long before the list follows.
const QUIET_MS = 250;

/// Words, days and closed jobs that the list is searched by. `wanted()` gives the search as the server takes it.
function jobSearch(onchange) {
    const search = textField({ label: say("page.search-jobs") });
    const day = (label) => {
        const name = newName();
        const input = h("input", { type: "date", id: name });
        return { input, element: h("div", { class: "field" }, h("label", { for: name }, label), input) };
    };
    const from = day(say("page.from-day")),
        to = day(say("page.to-day"));
    const closedToo = h("input", { type: "checkbox", id: "closed-too" });
    for (const input of [search.input, from.input, to.input, closedToo]) input.addEventListener("input", onchange);
    return {
        parts: [
            search.element,
            h(
                "details",
                {},
                h("summary", {}, say("page.by-date")),
                h("div", { class: "two" }, from.element, to.element),
                h("p", { class: "tick" }, closedToo, h("label", { for: "closed-too" }, say("page.show-closed"))),
            ),
        ],
        wanted: () => ({
            ...(search.input.value.trim() ? { search: search.input.value.trim() } : {}),
            ...(from.input.value ? { from: from.input.value } : {}),
            ...(to.input.value ? { to: to.input.value } : {}),
            ...(closedToo.checked ? {} : { state: "open" }),
        }),
    };
}

/// The jobs that are signed off, asked for when they are unfolded.
function closedJobs(count) {
    if (!count) return null;
    const closed = jobList(() => ({ state: "signed-off" }));
    const ontoggle = (event) => {
        if (event.currentTarget.open) closed.add(true);
    };
    return h("details", { ontoggle }, h("summary", {}, say("page.signed-off-count", count)), closed.element);
}

export async function startView() {
    const { answer: counts, keptAt } = await getOrKept("/api/jobs?limit=0");
    const total = counts.open + counts.signed_off;
    let timer = 0;
    const search = jobSearch(() => {
        clearTimeout(timer);
        timer = setTimeout(async () => {
            const found = await list.add(true);
            write(told, found === 1 ? say("page.jobs-found-one") : say("page.jobs-found", found));
        }, QUIET_MS);
    });
    const list = jobList(search.wanted);
    const told = h("p", { class: "quiet small", role: "status" });
    if (counts.open) await list.add(true);
    return {
        title: say("page.jobs"),
        body: [
            keptNote(keptAt),
            h("h1", {}, counts.open ? say("page.open-jobs") : say("page.no-open-jobs")),
            total > 4 ? h("search", {}, search.parts, told) : null,
            total ? list.element : h("p", { class: "quiet" }, say("page.job-one-set-up")),
            closedJobs(counts.signed_off),
            h(
                "a",
                { class: "sheet cardlink quietly", href: "#/training" },
                h("strong", {}, say("page.training-bench")),
                h("span", { class: "quiet small" }, say("page.lessons-live-tooth-drill")),
            ),
            h(
                "div",
                { class: "row" },
                h("a", { class: "act less", href: "#/gear-sets" }, say("page.gear-sets")),
                h("a", { class: "act less", href: "#/devices" }, say("page.devices")),
            ),
            bar(h("a", { class: "act first", href: "#/new" }, say("page.new-job"))),
        ],
    };
}

/// Which set goes in: as in the last job, one of the known ones, or another that is typed.
function setOfJob(sets, jobs) {
    const last = jobs.find((job) => !job.fault);
    return setChoice({
        sets,
        first: last
            ? [
                  [
                      "same-as-last",
                      [
                          say("page.same-as-last-job", last.gear_set.name),
                          h("span", { class: "quiet small" }, last.axle),
                      ],
                  ],
              ]
            : [],
        body: last ? { "same-as-last": { same_as: last.id } } : {},
    });
}

/// What goes in, and how.
function buildFields() {
    const build = choice({
        label: say("page.what-goes-in"),
        value: "new-gears",
        tall: true,
        options: [
            ["new-gears", say("page.new-ring-pinion")],
            ["used-gears", say("page.gears-ran-together-before")],
            ["check-only", say("page.nothing-only-check")],
        ],
    });
    const bearings = choice({
        label: say("page.bearings"),
        value: "new",
        options: [
            ["new", "new"],
            ["used", "used"],
        ],
    });
    const spacer = choice({
        label: say("page.between-pinion-bearings"),
        value: "not-said",
        tall: true,
        options: [
            ["crush-sleeve", say("page.crush-sleeve")],
            ["solid-spacer", say("page.solid-spacer-shims")],
            ["not-said", say("page.not-known-yet")],
        ],
    });
    return { build, bearings, spacer };
}

/// Shims on hand and limits of the backlash: both may stay empty.
function handFields() {
    const shims = textField({
        label: say("page.pinion-shims-hand-may"),
        hint: say("page.thicknesses-commas-between-such", units.either("0.003, 0.005, 0.010", "0.10, 0.25, 0.50")),
        typed: "list",
    });
    const low = lengthField({ label: say("page.backlash-least") }),
        high = lengthField({ label: say("page.backlash-most"), hint: say("page.makers-sheet-empty-gear") });
    const readShims = () =>
        shims.read() === ""
            ? []
            : shims
                  .read()
                  .split(/[,;]+|\s+(?=[\d.+-])/)
                  .map((word) => word.trim())
                  .filter(Boolean)
                  .map((word) => {
                      const mm = units.parseLength(word);
                      if (!(mm > 0)) throw new Error(say("page.pinion-shims-hand-no", word));
                      return mm;
                  });
    return {
        elements: [shims.element, h("div", { class: "two" }, low.element, high.element)],
        read() {
            const body = {},
                onHand = readShims();
            if (onHand.length) body.shims_mm = onHand;
            const least = low.read(),
                most = high.read();
            if ((least === null) !== (most === null)) throw new Error(say("page.backlash-give-both-least"));
            if (least !== null) body.backlash_mm = [least, most];
            return body;
        },
    };
}

function unusableNote(sets) {
    const faults = sets.filter((set) => set.fault).map((set) => set.fault);
    return faults.length ? note("warn", say("page.not-usable", faults.join(" "))) : null;
}

export async function newJobView(go) {
    const [{ gear_sets: sets }, { jobs }] = await Promise.all([
        api.get("/api/gear-sets"),
        api.get("/api/jobs?limit=1"),
    ]);
    const which = setOfJob(sets, jobs);
    const axle = textField({ label: say("page.which-axle"), hint: say("page.any-words-will-know"), required: true });
    const customer = textField({ label: say("page.whom-may-stay-empty") });
    const by = textField({ label: say("page.who-sets-up"), value: myName(), autocomplete: "name" });
    const { build, bearings, spacer } = buildFields();
    const hand = handFields();
    const change = api.oneChange();
    const send = async () => {
        const here = stillHere();
        const body = {
            axle: axle.read(),
            customer: customer.read(),
            by: by.read(),
            build: build.read(),
            bearings: bearings.read(),
            spacer: spacer.read(),
            ...which.read(),
            ...hand.read(),
        };
        setMyName(body.by);
        const { job } = await change("/api/jobs", body);
        await entered.forget();
        if (here()) go(`#/job/${job}/${body.build === "used-gears" ? "before" : "new-trial"}`, { replace: true });
    };
    const more = h(
        "details",
        {},
        h("summary", {}, say("page.bearings-shims-hand-backlash")),
        bearings.element,
        spacer.element,
        hand.elements,
    );
    const main = form({
        fields: [axle.element, which.element, by.element, customer.element, build.element, more],
        button: say("page.begin-job"),
        send,
    });
    const entered = await keepEntered("new-job", main);
    return {
        title: say("page.new-job"),
        back: ["#/", say("page.jobs")],
        body: [h("h1", {}, say("page.new-job")), unusableNote(sets), main],
    };
}

/// What a job was begun with, corrected; its photos are measured again where the set is another one.
export async function correctView(job, view, go) {
    const { gear_sets: sets } = await api.get("/api/gear-sets");
    const axle = textField({ label: say("page.which-axle"), value: view.record.axle, required: true });
    const customer = textField({ label: say("page.whom-may-stay-empty"), value: view.record.customer });
    const own = sets.find((set) => set.own && set.id.endsWith(`/${view.record.gear_set.file}`));
    const which = setChoice({
        sets,
        typed: own?.typed,
        first: [
            [
                "as-it-is",
                [
                    say("page.set-as-it-is", view.gear.name),
                    h(
                        "span",
                        { class: "quiet small" },
                        say(
                            "page.set-in-one-line",
                            view.gear.teeth[1],
                            view.gear.teeth[0],
                            units.size(view.gear.ring_gear_diameter_mm),
                        ),
                    ),
                ],
            ],
        ],
        value: "as-it-is",
        body: { "as-it-is": {} },
    });
    const waiting = h("p", { class: "quiet", role: "status" });
    const change = api.oneChange();
    const main = form({
        fields: [axle.element, customer.element, which.element, waiting],
        button: say("page.save-correction"),
        async send() {
            const here = stillHere();
            const body = { by: myName(), axle: axle.read(), customer: customer.read(), ...which.read() };
            const path = `/api/jobs/${encodeURIComponent(job)}/correct`;
            try {
                const { read_again: again } = await change(path, body, ({ task }) => {
                    write(waiting, say("page.correcting"));
                    return api.finished(task);
                });
                await entered.forget();
                sessionStorage.setItem(
                    "shimsight-notes",
                    JSON.stringify([again ? say("page.was-corrected-and-read", again) : say("page.was-corrected")]),
                );
                if (here()) go(`#/job/${job}`, { replace: true });
            } finally {
                write(waiting, "");
            }
        },
    });
    const entered = await keepEntered(`correct/${job}`, main);
    return {
        title: say("page.correct-job"),
        back: [`#/job/${job}`, say("page.job")],
        body: [h("h1", {}, say("page.correct-job")), h("p", {}, say("page.correct-intro")), main],
    };
}
