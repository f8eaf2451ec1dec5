// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// Gear sets: choosing one for a job, typing one by what is seen on the bench, and the shop's own ones.
import { h, note, write } from "./dom.js";
import * as api from "./api.js";
import * as units from "./units.js";
import { choice, form, keepEntered, lengthField, numberField, oddDiameter, textField } from "./fields.js";
import { backlashOf, shimPlace } from "./limits.js";
import { CARRIER_SETTINGS, CUTS, HANDS, PINION_POSITIONS, SHIM_PLACES } from "./pictures.js";
import { offerUndo } from "./undo.js";
import { say } from "./words.js";

/// From so many on a list is searched rather than read.
const SEARCHED_FROM = 6;
// What the gear-set reader takes; told here at the field, in the unit of the page.
const PINION_TEETH = [4, 60],
    RING_TEETH = [8, 200],
    DIAMETER_MM = [20, 2000],
    MAX_NOTCHES = 200;

const change = (body) => api.post("/api/gear-sets", body);
const inOneLine = (gear) =>
    say("page.set-in-one-line", gear.teeth[1], gear.teeth[0], units.size(gear.ring_gear_diameter_mm));

function wholeWithin([least, most]) {
    return (value) => (value < least || value > most ? say("page.teeth-range", least, most) : null);
}

/// Both numbers of teeth, with the ratio that they make.
function teethFields(typed) {
    const pinion = numberField({
        label: say("page.teeth-pinion"),
        required: true,
        whole: true,
        value: typed.pinion_teeth?.toString(),
        refuse: wholeWithin(PINION_TEETH),
    });
    const ring = numberField({
        label: say("page.teeth-ring-gear"),
        required: true,
        whole: true,
        value: typed.ring_teeth?.toString(),
        refuse: (value) =>
            wholeWithin(RING_TEETH)(value) ??
            (value <= Number(pinion.input.value) ? say("page.tooth-more-ring") : null),
    });
    const ratio = h("p", { class: "hint", role: "status" });
    const showRatio = () => {
        const [a, b] = [Number(pinion.input.value), Number(ring.input.value)];
        write(ratio, a > 0 && b > a ? say("page.ratio-is", (b / a).toFixed(2)) : "");
    };
    for (const field of [pinion, ring]) field.input.addEventListener("input", showRatio);
    showRatio();
    return { pinion, ring, ratio };
}

/// Ring-gear diameter and pinion offset.
function sizeFields(typed) {
    const diameter = lengthField({
        label: say("page.ring-gear-diameter"),
        required: true,
        large: true,
        ask: oddDiameter,
        mm: typed.ring_gear_diameter_mm,
        refuse: (mm) =>
            mm < DIAMETER_MM[0] || mm > DIAMETER_MM[1]
                ? `${say("page.diameter-range", units.size(DIAMETER_MM[0]), units.size(DIAMETER_MM[1]))} ${say("page.right-unit")}`
                : null,
    });
    const offset = lengthField({
        label: say("page.pinion-offset"),
        hint: say("page.zero-pinion-points-ring"),
        required: true,
        large: true,
        mm: typed.offset_mm,
        refuse: (mm) => {
            const whole = units.parseLength(diameter.input.value, true);
            return mm < 0 || (whole > 0 && mm >= whole / 2)
                ? say("page.offset-range", units.length((whole || DIAMETER_MM[1]) / 2))
                : null;
        },
    });
    return { diameter, offset };
}

/// What is seen on the bench, each with its pictures, by the name of the field it fills.
function buildQuestions(typed) {
    const asked = (label, options, pictures, value) =>
        choice({
            label,
            value: value ?? null,
            tall: true,
            options: [...options.map(([key, words]) => [key, words, pictures[key]()]), ["", say("page.not-known")]],
        });
    return {
        pinion_shim: asked(
            say("page.where-pinion-shims-sit"),
            [
                ["behind-pinion-head", say("common.behind-pinion-head")],
                ["under-bearing-cup", say("page.under-inner-bearing-cup")],
                ["under-pinion-support", say("page.under-bolted-pinion-support")],
            ],
            SHIM_PLACES,
            typed.pinion_shim,
        ),
        carrier: asked(
            say("page.sets-backlash"),
            [
                ["threaded-adjusters", say("page.threaded-adjusters")],
                ["carrier-shims", say("page.shims-inside-caps")],
                ["outboard-shims", say("page.shims-outside-bearings")],
            ],
            CARRIER_SETTINGS,
            typed.carrier,
        ),
        pinion: asked(
            say("page.pinion-lies"),
            [
                ["below", say("page.pinion-below")],
                ["above", say("page.pinion-above")],
            ],
            PINION_POSITIONS,
            typed.pinion,
        ),
        cut: asked(
            say("page.tooth-form"),
            [
                ["face-milled", say("page.lower-at-toe")],
                ["face-hobbed", say("page.as-high-at-toe")],
            ],
            CUTS,
            typed.cut,
        ),
        hand: asked(
            say("page.spiral-question"),
            [
                ["right", say("page.bends-clockwise")],
                ["left", say("page.bends-counter")],
            ],
            HANDS,
            typed.hand,
        ),
    };
}

/// The form for a set as it lies on the bench. Nothing about its build is chosen beforehand; `typed`: what was said before.
export function describedSet(typed = {}) {
    const name = textField({
        label: say("page.name-gear-set"),
        hint: say("page.own-words-axle-ratio"),
        required: true,
        value: typed.name ?? "",
    });
    const { pinion, ring, ratio } = teethFields(typed);
    const { diameter, offset } = sizeFields(typed);
    const questions = buildQuestions(typed);
    const notches = numberField({
        label: say("page.notches-round-one-adjuster"),
        hint: say("page.leave-empty-none-do"),
        whole: true,
        value: typed.notches?.toString(),
        refuse: (value) => (value < 1 || value > MAX_NOTCHES ? say("page.notches-range") : null),
    });
    return {
        element: h(
            "div",
            {},
            name.element,
            h("div", { class: "two" }, pinion.element, ring.element),
            ratio,
            h("div", { class: "two" }, diameter.element, offset.element),
            note("", say("page.see-bench-ask")),
            Object.values(questions).map((one) => one.element),
            notches.element,
        ),
        read: () => ({
            name: name.read(),
            pinion_teeth: pinion.read(),
            ring_teeth: ring.read(),
            ring_gear_diameter_mm: diameter.read(),
            offset_mm: offset.read(),
            ...Object.fromEntries(
                Object.entries(questions)
                    .map(([key, one]) => [key, one.read()])
                    .filter(([, value]) => value),
            ),
            ...(notches.read() ? { notches: notches.read() } : {}),
        }),
    };
}

/// What a chosen set is, in one line; nothing where it is typed.
function factsOf(gear) {
    if (!gear) return "";
    return say(
        "page.teeth-ring-gear-shims",
        gear.teeth[0],
        gear.teeth[1],
        units.bothSizes(gear.ring_gear_diameter_mm),
        gear.given.pinion_shim ? shimPlace(gear) : say("page.not-known"),
        backlashOf(gear),
    );
}

/// A field that leaves those sets of a choice in view that fit its words, and what is said where none does.
function setSearch(which, usable) {
    const search = textField({ label: say("page.search-gear-sets") });
    const none = h("p", { class: "quiet", hidden: true }, say("page.no-set-fits"));
    search.input.addEventListener("input", () => {
        const words = search.input.value.toLowerCase().split(/\s+/).filter(Boolean);
        let seen = 0;
        which.options.forEach(({ key, element }) => {
            const set = usable.find((one) => one.id === key);
            const text = set
                ? `${set.name} ${set.gear.teeth.join(" ")} ${[...set.gear.teeth].reverse().join("/")}`.toLowerCase()
                : "";
            element.hidden = set !== undefined && !words.every((word) => text.includes(word));
            seen += set !== undefined && !element.hidden;
        });
        none.hidden = seen > 0 || !usable.length;
    });
    return { search, none };
}

/// Once one is chosen the others are a tap away: what else a job asks comes up to it. By keys one goes through all.
function foldedChoice(which, search) {
    const others = h(
        "button",
        { class: "act less wide", type: "button", hidden: true, onclick: () => showAll() },
        say("page.choose-another-set"),
    );
    function showChosen() {
        const chosen = which.options.find(({ key }) => key === which.read());
        if (!chosen || which.options.length < SEARCHED_FROM) return;
        const former = chosen.element.getBoundingClientRect().top;
        for (const { element } of which.options) element.hidden = element !== chosen.element;
        search.element.hidden = true;
        others.hidden = false;
        window.scrollBy(0, chosen.element.getBoundingClientRect().top - former);
    }
    function showAll() {
        others.hidden = true;
        search.element.hidden = false;
        search.input.dispatchEvent(new Event("input"));
        which.options
            .find(({ key }) => key === which.read())
            ?.element.querySelector("input")
            .focus();
    }
    which.element.addEventListener("click", (event) => {
        if (event.detail > 0 && event.target.closest("label")) setTimeout(showChosen, 0);
    });
    return { others, showChosen };
}

/// One of many sets, or another that is typed. `first`: choices before all sets, as [key, words]; `value`: what is chosen.
/// `read` gives {gear_set}, {new_gear_set}, {same_as} or what `first` says of its key. `typed`: what was typed of the set of
/// now, to be corrected where another one would be typed.
export function setChoice({ sets, first = [], value = null, body = {}, typed }) {
    const usable = sets.filter((set) => !set.fault);
    const described = describedSet(typed);
    const place = h("div", { hidden: true }, described.element);
    const known = h("div", { class: "quiet small" });
    const showKnown = (key) => {
        place.hidden = key !== "new";
        write(known, factsOf(usable.find((one) => one.id === key)?.gear));
    };
    const which = choice({
        label: say("page.gear-set"),
        tall: true,
        value: value ?? (usable.length || first.length ? null : "new"),
        onchange(key) {
            showKnown(key);
            // Put back from what was kept, before the page shows it.
            if (!place.isConnected) folded.showChosen();
        },
        options: [
            ...first,
            ...usable.map((set) => [set.id, [set.name, h("span", { class: "quiet small" }, inOneLine(set.gear))]]),
            ["new", say(typed ? "page.correct-what-was-typed" : "page.another-one-i-enter")],
        ],
    });
    if (!usable.length && !first.length) showKnown("new");
    const { search, none } = setSearch(which, usable);
    const folded = foldedChoice(which, search);
    return {
        element: h(
            "div",
            {},
            usable.length >= SEARCHED_FROM ? search.element : null,
            which.element,
            none,
            folded.others,
            known,
            place,
            sets.some((set) => set.own)
                ? h("p", {}, h("a", { class: "act less", href: "#/gear-sets" }, say("page.manage-gear-sets")))
                : null,
        ),
        read() {
            const key = which.read();
            // Nothing is assumed: a wrong set gives a wrong instruction.
            if (key === null) throw which.complaint(say("page.choose-gear-set"));
            if (key === "new") return { new_gear_set: described.read() };
            return body[key] ?? { gear_set: key };
        },
    };
}

// The shop's own sets ------------------------------------------------------------------------------------------------

/// The form of one of the shop's own sets; without `set` of a new one.
async function setForm(id, set, go) {
    const described = describedSet(set?.typed ?? {});
    const main = form({
        fields: [described.element],
        button: say("page.save-set"),
        async send() {
            await change({ ...(set ? { gear_set: set.id } : {}), new_gear_set: described.read() });
            await entered.forget();
            go("#/gear-sets", { replace: true });
        },
    });
    const entered = await keepEntered(`gear-set/${id}`, main);
    const title = set ? say("page.change-gear-set") : say("page.new-gear-set");
    return { title, back: ["#/gear-sets", say("page.sets")], body: [h("h1", {}, title), main] };
}

/// One of the shop's own sets in the list; `again` shows the list anew.
function ownSetLine(one, again) {
    const edit = h(
        "a",
        { class: "act less", href: `#/gear-sets/${encodeURIComponent(one.id)}` },
        say("page.change-set"),
    );
    const remove = async () => {
        await change({ gear_set: one.id, deleted: true });
        offerUndo(say("page.set-deleted", one.name), async () => {
            await change({ gear_set: one.id, deleted: false });
            again();
        });
        again();
    };
    return h(
        "li",
        { class: "sheet" },
        h("strong", {}, one.name || one.id),
        h("p", { class: "quiet small" }, one.fault ?? inOneLine(one.gear)),
        h(
            "div",
            { class: "row" },
            one.fault ? null : edit,
            h("button", { class: "act less", type: "button", onclick: remove }, say("page.delete-set")),
        ),
    );
}

/// The sets that were deleted, with a way back for each.
function deletedSets(deleted, again) {
    const line = (one) => {
        const onclick = async () => {
            await change({ gear_set: one.id, deleted: false });
            again();
        };
        return h(
            "li",
            { class: "sheet putback" },
            h("span", {}, one.name),
            h("button", { class: "act less", type: "button", onclick }, say("page.put-back")),
        );
    };
    return deleted.length
        ? h(
              "details",
              {},
              h("summary", {}, `${say("page.deleted-sets")} (${deleted.length})`),
              h("ul", { class: "plain" }, deleted.map(line)),
          )
        : null;
}

export async function gearSetsView(id, go) {
    const { gear_sets: all, deleted } = await api.get("/api/gear-sets");
    const own = all.filter((set) => set.own);
    if (id)
        return setForm(
            id,
            own.find((one) => one.id === id),
            go,
        );
    const again = () => go("#/gear-sets");
    return {
        title: say("page.gear-sets"),
        back: ["#/", say("page.jobs")],
        body: [
            h("h1", {}, say("page.gear-sets")),
            h("p", {}, say("page.gear-sets-intro")),
            own.length
                ? h(
                      "ul",
                      { class: "plain" },
                      own.map((one) => ownSetLine(one, again)),
                  )
                : h("p", { class: "quiet" }, say("page.no-own-sets")),
            h("a", { class: "act wide", href: "#/gear-sets/new" }, say("page.new-gear-set")),
            deletedSets(deleted, again),
        ],
    };
}
