// The start: open jobs, and a new one.
import { bar, h, note, write } from "./dom.js";
import * as api from "./api.js";
import * as units from "./units.js";
import { choice, form, keepEntered, lengthField, myName, numberField, oddDiameter, setMyName, textField } from "./fields.js";

export async function startView() {
    const { jobs } = await api.get("/api/jobs");
    const open = jobs.filter((job) => !job.signed_off), closed = jobs.filter((job) => job.signed_off);
    const card = (job) => h("li", {}, h("a", { class: "sheet cardlink", href: `#/job/${job.id}` },
        job.fault ? [h("strong", {}, job.id), h("span", { class: "tag bad" }, "damaged"), h("p", { class: "small" }, job.fault)]
            : [h("strong", {}, job.axle), h("span", { class: "quiet small" }, [job.customer, job.trials === 1 ? "1 trial" : `${job.trials} trials`, units.when(job.changed_at)].filter(Boolean).join(" \u00b7 ")), h("p", {}, job.signed_off ? h("span", { class: "tag good" }, "signed off") : job.next)]));
    return {
        title: "Jobs",
        body: [
            h("h1", {}, open.length ? "Open jobs" : "No open jobs"),
            open.length ? h("ul", { class: "plain" }, open.map(card)) : h("p", { class: "quiet" }, "A job is one set-up of one axle: its gear set, its trials, its readings. Begin one below."),
            closed.length ? h("details", {}, h("summary", {}, `Signed off (${closed.length})`), h("ul", { class: "plain" }, closed.map(card))) : null,
            h("a", { class: "sheet cardlink quietly", href: "#/training" }, h("strong", {}, "Training bench"), h("span", { class: "quiet small" }, "Lessons, a live tooth, the drill: learn to read a mark.")),
            bar(h("a", { class: "act first", href: "#/new" }, "New job")),
        ],
    };
}

function describedSet() {
    const name = textField({ label: "Name of the gear set", hint: "Your own words: which axle, which ratio.", required: true });
    const pinion = numberField({ label: "Teeth, pinion", required: true, whole: true });
    const ring = numberField({ label: "Teeth, ring gear", required: true, whole: true });
    const diameter = lengthField({ label: "Ring gear diameter", required: true, large: true, ask: oddDiameter });
    const offset = lengthField({ label: "Pinion offset", hint: "0 when the pinion points at the ring gear's middle.", required: true, large: true });
    const cut = choice({ label: "How the teeth are cut", value: "", options: [["", "not known"], ["face-milled", "face-milled, tapered depth"], ["face-hobbed", "face-hobbed, even depth"]], tall: true });
    const hand = choice({ label: "Spiral of the ring gear", value: "right", options: [["right", "right hand"], ["left", "left hand"]] });
    const shim = choice({ label: "Where the pinion shims sit", value: "behind-pinion-head", options: [["behind-pinion-head", "behind the pinion head"], ["under-bearing-cup", "under the inner bearing cup"], ["under-pinion-support", "under the bolted pinion support"]], tall: true });
    const carrier = choice({ label: "What sets the backlash", value: "threaded-adjusters", options: [["threaded-adjusters", "threaded adjusters"], ["carrier-shims", "shims inside the caps"], ["outboard-shims", "shims outside the bearings"]], tall: true });
    const notches = numberField({ label: "Notches round one adjuster", hint: "Leave empty when there are none or you do not know.", whole: true });
    return {
        element: h("div", {}, name.element, h("div", { class: "two" }, pinion.element, ring.element, diameter.element, offset.element), cut.element, hand.element, shim.element, carrier.element, notches.element),
        read: () => ({
            name: name.read(), pinion_teeth: pinion.read(), ring_teeth: ring.read(), ring_gear_diameter_mm: diameter.read(), offset_mm: offset.read(),
            ...(cut.read() ? { cut: cut.read() } : {}), hand: hand.read(), pinion_shim: shim.read(), carrier: carrier.read(), ...(notches.read() ? { notches: notches.read() } : {}),
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
        write(known, set ? `${set.gear.teeth[0]} and ${set.gear.teeth[1]} teeth, ring gear ${units.bothLengths(set.gear.ring_gear_diameter_mm)}, shims ${set.gear.shim_place}, backlash ${units.length(set.gear.backlash_mm[0])} to ${units.length(set.gear.backlash_mm[1])}.` : "");
    };
    const which = choice({ label: "Gear set", tall: true, value: usable.length ? null : "new", onchange: showKnown, options: [...usable.map((set) => [set.id, set.name]), ["new", "Another one: I enter tooth counts and sizes"]] });
    if (!usable.length) showKnown("new");
    const axle = textField({ label: "Which axle", hint: "Any words that you will know it by.", required: true });
    const customer = textField({ label: "For whom (may stay empty)" });
    const by = textField({ label: "Who sets it up", value: myName(), autocomplete: "name" });
    const build = choice({ label: "What goes in", value: "new-gears", tall: true, options: [["new-gears", "new ring and pinion"], ["used-gears", "gears that ran together before"], ["check-only", "nothing: only a check"]] });
    const bearings = choice({ label: "Bearings", value: "new", options: [["new", "new"], ["used", "used"]] });
    const spacer = choice({ label: "Between the pinion bearings", value: "not-said", tall: true, options: [["crush-sleeve", "crush sleeve"], ["solid-spacer", "solid spacer with shims"], ["not-said", "not known yet"]] });
    const shims = textField({ label: "Pinion shims on hand (may stay empty)", hint: `Thicknesses with commas between, such as ${units.either("0.003, 0.005, 0.010", "0.10, 0.25, 0.50")}. Empty: those of the gear set.`, typed: "list" });
    const low = lengthField({ label: "Backlash, least" }), high = lengthField({ label: "Backlash, most", hint: "From the maker's sheet. Empty: that of the gear set." });
    const readShims = () => shims.read() === "" ? [] : shims.read().split(/[,;]+|\s+(?=[\d.+-])/).map((word) => word.trim()).filter(Boolean).map((word) => {
        const mm = units.parseLength(word);
        if (!(mm > 0)) throw new Error(`Pinion shims on hand: "${word}" is no thickness.`);
        return mm;
    });
    let id = api.newId();
    const send = async () => {
        const body = { axle: axle.read(), customer: customer.read(), by: by.read(), build: build.read(), bearings: bearings.read(), spacer: spacer.read() };
        // Nothing is assumed: a wrong set gives a wrong instruction.
        if (which.read() === null) throw new Error("Gear set: choose the one that lies on the bench, or enter it.");
        if (which.read() === "new") body.new_gear_set = described.read();
        else body.gear_set = which.read();
        const onHand = readShims();
        if (onHand.length) body.shims_mm = onHand;
        const least = low.read(), most = high.read();
        if ((least === null) !== (most === null)) throw new Error("Backlash: give both the least and the most, or neither.");
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
            fields: [axle.element, which.element, known, place, by.element, customer.element, build.element,
                h("details", {}, h("summary", {}, "Bearings, shims on hand, backlash range"), bearings.element, spacer.element, shims.element, h("div", { class: "two" }, low.element, high.element))],
            button: "Begin the job", send,
        });
    const entered = await keepEntered("new-job", main);
    return {
        title: "New job",
        back: ["#/", "Jobs"],
        body: [
            h("h1", {}, "New job"),
            sets.some((set) => set.fault) ? note("warn", `Not usable: ${sets.filter((set) => set.fault).map((set) => set.fault).join(" ")}`) : null,
            main,
        ],
    };
}
