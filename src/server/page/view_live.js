// The live tooth: sliders, both marks, the gear pair. The numbers and drawings come from the lessons' own scripts.
import { h } from "./dom.js";
import * as api from "./api.js";
import * as units from "./units.js";
import { picker, script } from "./training_parts.js";
import { BENCH } from "./view_training.js";

const range = (id, label, props, small) => h("div", { class: "field slide" }, h("label", { for: id }, h("span", {}, label), " ", h("output", { id: `${id}-out`, for: id })), h("input", { type: "range", id, ...props }), small ? h("small", { class: "hint" }, small) : null);
const canvas = (side, title) => h("figure", {}, h("div", { class: "crop" }, h("canvas", { id: side, width: 656, height: 310, role: "img", "aria-label": `${title} flank` })), h("figcaption", {}, h("b", {}, title), " ", h("span", { id: `${side}-words` })));
const select = (id, label, options) => h("div", { class: "pick" }, h("label", { for: id }, label), h("select", { id }, options.map(([value, words]) => h("option", { value }, words))));
const MOST_MM = 0.3048, HALF_THOU_MM = 0.0127, HUNDREDTH_MM = 0.01;

/// Choosing another gear set shows the page anew: what was open stays open.
let moreOpen = false;

export async function liveView(set, go, job) {
    // All at once: the first marks must not wait. Without a name the server gives its first set.
    const [data, { sets }] = await Promise.all([api.get(`/api/training/live?${job ? `job=${encodeURIComponent(job)}` : `set=${encodeURIComponent(set ?? "")}`}`), job ? { sets: [] } : api.get("/api/training"), script("/lesson/contact.js").then(() => script("/lesson/flank.js")).then(() => script("/lesson/live.js"))]);
    const step = units.currentUnit() === "mm" ? HUNDREDTH_MM : HALF_THOU_MM, most = units.currentUnit() === "mm" ? 0.3 : MOST_MM;
    const chosen = sets.length ? picker({ label: "Gear set", options: sets.map((one) => [one.id, one.name]), value: set || sets[0].id, onchange: (id) => go(`#/training/live/${encodeURIComponent(id)}`) }) : null;
    return {
        title: "Live tooth", back: job ? [`#/job/${job}`, "Job"] : BENCH, wide: true,
        body: [h("h1", {}, "Live tooth"), h("p", { class: "quiet small", id: "set-words" }),
            h("div", { class: "live" },
                h("section", { class: "sheet flanks", "aria-label": "Contact marks" }, h("div", { class: "pairs" }, canvas("drive", "Drive side"), canvas("coast", "Coast side")), h("p", { id: "sentence", class: "sentence", "aria-live": "polite" })),
                h("section", { class: "sheet controls", "aria-label": "Setting" },
                    range("depth", "Pinion depth", { min: -most, max: most, step, value: 0 }), range("lash", "Backlash", { step }),
                    h("div", { class: "row" }, h("button", { type: "button", class: "act less", id: "right" }, "Right setting"), h("button", { type: "button", class: "act less", id: "clear" }, "Clear the trail")),
                    h("details", { open: moreOpen, ontoggle: (event) => { moreOpen = event.target.open; } }, h("summary", {}, "More"), chosen?.element, h("div", { class: "field", id: "set-field", hidden: true }, h("select", { id: "set" })),
                        h("div", { class: "field", id: "cut-field", hidden: true }, h("label", { for: "cut" }, "Cut of the teeth"), h("select", { id: "cut" }), h("span", { class: "hint" }, "The same set as if cut the other way.")), range("offset", "Offset error", { min: -most, max: most, step, value: 0 }), range("shaft", "Shaft angle", { min: -0.05, max: 0.05, step: 0.005, value: 0 }, "Of the housing, in minutes of a degree; 90 degrees is right."),
                        range("drag", "Drag while rolling", { min: -2, max: 2, step: 0.25, value: 0 }, "Harder drag squeezes the coat thinner."), range("film", "Coat of compound", { min: 0.4, max: 2.4, step: 0.05, value: 1 }),
                        range("crown", "Crown of the teeth", { min: 0.4, max: 2, step: 0.05, value: 1 }, "Wear takes crown away."), range("bias", "Bias", { min: -20, max: 20, step: 1, value: 0 }, "How the teeth were cut: it slants the marks.")),
                    h("p", { class: "small quiet" }, "Depth changes with the backlash held. Toe at the left, tip at the top. The dashed box is where the middle of the mark should lie; the line is the way that it took.")),
                h("section", { class: "sheet gears", "aria-label": "Gear pair" },
                    h("div", { id: "view", tabindex: 0, role: "img", "aria-label": "Pinion and ring gear in mesh. Drag sideways or use the arrow keys to turn the view." }),
                    h("p", { id: "no-view", class: "small quiet", hidden: true }, "This browser shows no three-dimensional pictures; the marks above do not need them."),
                    h("div", { class: "viewbar" }, h("div", { class: "field slide" }, h("label", { for: "roll" }, "Turn the gears"), h("input", { type: "range", id: "roll", min: 0, max: 1000, step: 1, value: 0 })),
                        h("div", { class: "row" }, h("button", { type: "button", class: "act less", id: "play", "aria-pressed": "false" }, "Let them turn")),
                        h("div", { class: "picks" }, select("pinion", "Pinion", [["glass", "see-through"], ["solid", "solid"], ["none", "left out"]]), select("look", "Look at", [["drive", "drive side"], ["coast", "coast side"]]))))),
            h("div", { class: "row" }, h("a", { class: "act less", href: job ? `#/job/${job}/chart` : "#/training/chart" }, "Chart of this set"), h("a", { class: "act less", href: "#/training/lesson/depth" }, "Lesson: what depth does")),
            h("p", { class: "small quiet" }, "The marks come from the set's real tooth surfaces, evaluated in this browser as in the program: within 1 % of the face width of its engine. How a set was cut and lapped adds to that. The maker's sheet for the axle always comes first. Vehicle on stands, fingers out of the gears.")],
        /// Runs when the body stands in the page; what it gives runs when it goes.
        enter() {
            const running = window.liveTooth.start(data, { length: (mm) => units.bothNow(mm).replaceAll(" in", "\u00a0in").replaceAll(" mm", "\u00a0mm"), three: script("/lesson/three.js") });
            return () => running.stop();
        },
    };
}
