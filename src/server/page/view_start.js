// The start: open jobs, and a new one.
import { bar, h, note, write } from "./dom.js";
import { say } from "./words.js";
import * as api from "./api.js";
import * as units from "./units.js";
import {
    choice,
    form,
    keepEntered,
    lengthField,
    myName,
    numberField,
    oddDiameter,
    setMyName,
    textField,
} from "./fields.js";

export async function startView() {
    const { jobs } = await api.get("/api/jobs");
    const open = jobs.filter((job) => !job.signed_off),
        closed = jobs.filter((job) => job.signed_off);
    const card = (job) =>
        h(
            "li",
            {},
            h(
                "a",
                { class: "sheet cardlink", href: `#/job/${job.id}` },
                job.fault
                    ? [
                          h("strong", {}, job.id),
                          h("span", { class: "tag bad" }, "damaged"),
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
                                  .join(" \u00b7 "),
                          ),
                          h(
                              "p",
                              {},
                              job.signed_off ? h("span", { class: "tag good" }, say("page.is-signed-off")) : job.next,
                          ),
                      ],
            ),
        );
    return {
        title: say("page.jobs"),
        body: [
            h("h1", {}, open.length ? say("page.open-jobs") : say("page.no-open-jobs")),
            open.length
                ? h("ul", { class: "plain" }, open.map(card))
                : h("p", { class: "quiet" }, say("page.job-one-set-up")),
            closed.length
                ? h(
                      "details",
                      {},
                      h("summary", {}, say("page.signed-off-count", closed.length)),
                      h("ul", { class: "plain" }, closed.map(card)),
                  )
                : null,
            h(
                "a",
                { class: "sheet cardlink quietly", href: "#/training" },
                h("strong", {}, say("page.training-bench")),
                h("span", { class: "quiet small" }, say("page.lessons-live-tooth-drill")),
            ),
            bar(h("a", { class: "act first", href: "#/new" }, say("page.new-job"))),
        ],
    };
}

function describedSet() {
    const name = textField({
        label: say("page.name-gear-set"),
        hint: say("page.own-words-axle-ratio"),
        required: true,
    });
    const pinion = numberField({ label: say("page.teeth-pinion"), required: true, whole: true });
    const ring = numberField({ label: say("page.teeth-ring-gear"), required: true, whole: true });
    const diameter = lengthField({
        label: say("page.ring-gear-diameter"),
        required: true,
        large: true,
        ask: oddDiameter,
    });
    const offset = lengthField({
        label: say("page.pinion-offset"),
        hint: say("page.zero-pinion-points-ring"),
        required: true,
        large: true,
    });
    const cut = choice({
        label: say("page.how-teeth-cut"),
        value: "",
        options: [
            ["", say("page.not-known")],
            ["face-milled", say("page.face-milled-tapered-depth")],
            ["face-hobbed", say("page.face-hobbed-even-depth")],
        ],
        tall: true,
    });
    const hand = choice({
        label: say("page.spiral-ring-gear"),
        value: "right",
        options: [
            ["right", say("page.right-hand")],
            ["left", say("page.left-hand")],
        ],
    });
    const shim = choice({
        label: say("page.where-pinion-shims-sit"),
        value: "behind-pinion-head",
        options: [
            ["behind-pinion-head", say("page.behind-pinion-head")],
            ["under-bearing-cup", say("page.under-inner-bearing-cup")],
            ["under-pinion-support", say("page.under-bolted-pinion-support")],
        ],
        tall: true,
    });
    const carrier = choice({
        label: say("page.sets-backlash"),
        value: "threaded-adjusters",
        options: [
            ["threaded-adjusters", say("page.threaded-adjusters")],
            ["carrier-shims", say("page.shims-inside-caps")],
            ["outboard-shims", say("page.shims-outside-bearings")],
        ],
        tall: true,
    });
    const notches = numberField({
        label: say("page.notches-round-one-adjuster"),
        hint: say("page.leave-empty-none-do"),
        whole: true,
    });
    return {
        element: h(
            "div",
            {},
            name.element,
            h("div", { class: "two" }, pinion.element, ring.element, diameter.element, offset.element),
            cut.element,
            hand.element,
            shim.element,
            carrier.element,
            notches.element,
        ),
        read: () => ({
            name: name.read(),
            pinion_teeth: pinion.read(),
            ring_teeth: ring.read(),
            ring_gear_diameter_mm: diameter.read(),
            offset_mm: offset.read(),
            ...(cut.read() ? { cut: cut.read() } : {}),
            hand: hand.read(),
            pinion_shim: shim.read(),
            carrier: carrier.read(),
            ...(notches.read() ? { notches: notches.read() } : {}),
        }),
    };
}

export async function newJobView(go) {
    const { gear_sets: sets } = await api.get("/api/gear-sets");
    const usable = sets.filter((set) => !set.fault);
    const described = describedSet();
    const place = h("div", { hidden: true }, described.element);
    const known = h("div", { class: "quiet small" });
    const showKnown = (key) => {
        place.hidden = key !== "new";
        const set = usable.find((one) => one.id === key);
        write(
            known,
            set
                ? say(
                      "page.teeth-ring-gear-shims",
                      set.gear.teeth[0],
                      set.gear.teeth[1],
                      units.bothLengths(set.gear.ring_gear_diameter_mm),
                      set.gear.shim_place,
                      units.length(set.gear.backlash_mm[0]),
                      units.length(set.gear.backlash_mm[1]),
                  )
                : "",
        );
    };
    const which = choice({
        label: say("page.gear-set"),
        tall: true,
        value: usable.length ? null : "new",
        onchange: showKnown,
        options: [...usable.map((set) => [set.id, set.name]), ["new", say("page.another-one-i-enter")]],
    });
    if (!usable.length) showKnown("new");
    const axle = textField({ label: say("page.which-axle"), hint: say("page.any-words-will-know"), required: true });
    const customer = textField({ label: say("page.whom-may-stay-empty") });
    const by = textField({ label: say("page.who-sets-up"), value: myName(), autocomplete: "name" });
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
    let id = api.newId();
    const send = async () => {
        const body = {
            axle: axle.read(),
            customer: customer.read(),
            by: by.read(),
            build: build.read(),
            bearings: bearings.read(),
            spacer: spacer.read(),
        };
        // Nothing is assumed: a wrong set gives a wrong instruction.
        if (which.read() === null) throw new Error(say("page.choose-gear-set"));
        if (which.read() === "new") body.new_gear_set = described.read();
        else body.gear_set = which.read();
        const onHand = readShims();
        if (onHand.length) body.shims_mm = onHand;
        const least = low.read(),
            most = high.read();
        if ((least === null) !== (most === null)) throw new Error(say("page.backlash-give-both-least"));
        if (least !== null) body.backlash_mm = [least, most];
        setMyName(body.by);
        try {
            const { job } = await api.post("/api/jobs", body, id);
            await entered.forget();
            go(`#/job/${job}/${body.build === "used-gears" ? "before" : "new-trial"}`, { replace: true });
        } finally {
            id = api.newId();
        }
    };
    const main = form({
        fields: [
            axle.element,
            which.element,
            known,
            place,
            by.element,
            customer.element,
            build.element,
            h(
                "details",
                {},
                h("summary", {}, say("page.bearings-shims-hand-backlash")),
                bearings.element,
                spacer.element,
                shims.element,
                h("div", { class: "two" }, low.element, high.element),
            ),
        ],
        button: say("page.begin-job"),
        send,
    });
    const entered = await keepEntered("new-job", main);
    return {
        title: say("page.new-job"),
        back: ["#/", say("page.jobs")],
        body: [
            h("h1", {}, say("page.new-job")),
            sets.some((set) => set.fault)
                ? note(
                      "warn",
                      say(
                          "page.not-usable",
                          sets
                              .filter((set) => set.fault)
                              .map((set) => set.fault)
                              .join(" "),
                      ),
                  )
                : null,
            main,
        ],
    };
}
