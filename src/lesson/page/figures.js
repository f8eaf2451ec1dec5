// Figures of lessons that can be tried: sliders, and both marks that follow. lessonFigures.start(root, data, options) brings
// every <figure class="try" hidden> under `root` to life whose gear set is in data.sets (as for the live tooth), told by
// its cut; options.length(mm) words lengths. It returns a function that lets go.
var TriedFigure = class {
    constructor(figure, data, set, length) {
        this.data = data;
        this.set = set;
        this.length = length;
        this.middle = 0.5 * (set.limits_backlash_mm[0] + set.limits_backlash_mm[1]);
        this.now = Object.assign({ backlash: this.middle }, contact.right);
        this.canvases = {};
        this.words = {};
        this.trail = { drive: [], coast: [] };
        this.outputs = {};
        this.inputs = {};
        this.asked = false;
        if (!set.flank) set.flank = { drive: contact.flank(set.rates.drive), coast: contact.flank(set.rates.coast) };
        figure.prepend(this.pair());
        var caption = figure.querySelector("figcaption");
        figure.dataset.vary.split(" ").forEach((name) => {
            figure.insertBefore(this.slider(name), caption);
        });
        figure.hidden = false;
        this.draw();
    }

    ask() {
        if (this.asked) return;
        this.asked = true;
        requestAnimationFrame(() => this.draw());
    }

    // Both flanks with their words.
    pair() {
        var made = lessonFigures.made;
        var part = (side) => {
            this.canvases[side] = made("canvas", { width: 656, height: 310, role: "img" });
            this.words[side] = made("span", {});
            var title = made("b", {}, [
                side === "drive"
                    ? lessonWords.say("common.drive-side-title")
                    : lessonWords.say("common.coast-side-title"),
                " ",
            ]);
            return made("div", {}, [made("p", { class: "say" }, [title, this.words[side]]), this.canvases[side]]);
        };
        return made("div", { class: "pair" }, [part("drive"), part("coast")]);
    }

    slider(name) {
        var made = lessonFigures.made,
            kind = lessonFigures.kinds[name],
            id = "try-" + ++lessonFigures.count,
            shift = name === "backlash" ? this.middle : 0;
        this.outputs[name] = made("output", { for: id });
        var input = (this.inputs[name] = made("input", {
            type: "range",
            id: id,
            min: kind.low + shift,
            max: kind.high + shift,
            step: kind.step,
        }));
        input.value = this.now[name];
        input.addEventListener("input", () => {
            this.now[name] = parseFloat(input.value);
            this.ask();
        });
        var label = made("label", { for: id }, [kind.label + " ", this.outputs[name]]);
        return made("div", { class: "field" }, [label, input]);
    }

    draw() {
        this.asked = false;
        var stands = contact.setting(this.set, this.data.film_mm, this.now);
        ["drive", "coast"].forEach((side) => this.drawFlank(side, stands));
        Object.keys(this.outputs).forEach((name) => {
            var text = flankWords.values[name](this.now[name], this.set, this.length);
            this.outputs[name].textContent = text;
            this.inputs[name].setAttribute("aria-valuetext", text);
        });
    }

    drawFlank(side, stands) {
        var separation = contact.separation(this.set.flank[side], stands.error, stands.modification[side]);
        var grid = new Float32Array(separation.length);
        for (var c = 0; c < grid.length; ++c) grid[c] = contact.mark(separation[c], stands.filmMm);
        var p = contact.pattern(grid),
            way = this.trail[side],
            end = way[way.length - 1];
        if (p && (!end || Math.hypot(p.toeHeel - end[0], p.rootTip - end[1]) > 0.004)) way.push([p.toeHeel, p.rootTip]);
        if (way.length > 60) way.shift();
        flankCanvas.draw(this.canvases[side], {
            separation: separation,
            filmMm: stands.filmMm,
            even: this.set.even_height,
            pattern: p,
            zone: this.set.acceptance,
            trail: way,
        });
        var text = this.markWords(p);
        this.words[side].textContent = text;
        this.canvases[side].setAttribute("aria-label", flankWords.side(side, text));
    }

    // Where the mark lies, and what it runs off.
    markWords(p) {
        var mark = flankWords.mark(p),
            edges = flankWords.edges(p);
        return edges ? lessonWords.say("lesson.mark-runs-off", mark, edges) : mark;
    }
};

var lessonFigures = {
    count: 0,
    kinds: {
        depth: { label: lessonWords.say("page.pinion-depth"), low: -0.254, high: 0.254, step: 0.0127 },
        backlash: { label: lessonWords.say("page.backlash"), low: -0.1143, high: 0.1524, step: 0.0127 },
        offset: { label: lessonWords.say("page.offset-error"), low: -0.3048, high: 0.3048, step: 0.0127 },
        shaft: { label: lessonWords.say("page.shaft-angle"), low: -0.05, high: 0.05, step: 0.005 },
        film: { label: lessonWords.say("page.coat-compound"), low: 0.4, high: 2.4, step: 0.05 },
        crown: { label: lessonWords.say("page.crown-teeth"), low: 0.4, high: 2, step: 0.05 },
        bias: { label: lessonWords.say("page.bias"), low: -20, high: 20, step: 1 },
    },

    made(tag, attributes, children) {
        var element = document.createElement(tag);
        Object.keys(attributes).forEach((name) => {
            element.setAttribute(name, attributes[name]);
        });
        (children || []).forEach((child) => {
            element.append(child);
        });
        return element;
    },

    start(root, data, options) {
        var length = (options && options.length) || flankWords.length,
            redraw = [];
        root.querySelectorAll("figure.try[hidden]").forEach((figure) => {
            var set = data.sets.filter((one) => one.cut === figure.dataset.cut)[0];
            if (set) {
                var tried = new TriedFigure(figure, data, set, length);
                redraw.push(() => tried.ask());
            }
        });
        var dark = window.matchMedia && window.matchMedia("(prefers-color-scheme: dark)");
        var recolour = () => {
            flankCanvas.readColours();
            redraw.forEach((one) => {
                one();
            });
        };
        if (dark && dark.addEventListener) dark.addEventListener("change", recolour);
        // The page says lengths in the other unit from here on.
        window.addEventListener("unitturn", recolour);
        // Paper has no folds to open: what stands in them is printed.
        var unfolded = [];
        var unfold = () => {
            unfolded = Array.from(root.querySelectorAll("details:not([open])"));
            unfolded.forEach((fold) => {
                fold.open = true;
            });
        };
        var foldAgain = () => {
            unfolded.forEach((fold) => {
                fold.open = false;
            });
        };
        window.addEventListener("beforeprint", unfold);
        window.addEventListener("afterprint", foldAgain);
        return () => {
            window.removeEventListener("beforeprint", unfold);
            window.removeEventListener("afterprint", foldAgain);
            window.removeEventListener("unitturn", recolour);
            if (dark && dark.removeEventListener) dark.removeEventListener("change", recolour);
        };
    },
};
