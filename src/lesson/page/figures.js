// Figures of lessons that can be tried: sliders, and both marks that follow. lessonFigures.start(root, data, options) brings
// every <figure class="try" hidden> under `root` to life whose gear set is in data.sets (as for the live tooth), told by
// its cut; options.length(mm) words lengths. It returns a function that lets go.
var lessonFigures = (function () {
    "use strict";
    var kinds = {
        depth: {
            label: "Pinion depth",
            low: -0.254,
            high: 0.254,
            step: 0.0127,
            words: function (v, length) {
                return Math.abs(v) < 0.0025 ? "right" : length(v) + (v > 0 ? " too deep" : " too shallow");
            },
        },
        lash: { label: "Backlash", low: -0.1143, high: 0.1524, step: 0.0127 },
        offset: {
            label: "Offset error",
            low: -0.3048,
            high: 0.3048,
            step: 0.0127,
            words: function (v, length) {
                return Math.abs(v) < 0.0025 ? "none" : length(v) + (v > 0 ? " too large" : " too small");
            },
        },
        shaft: {
            label: "Shaft angle",
            low: -0.05,
            high: 0.05,
            step: 0.005,
            words: function (v) {
                return Math.abs(v) < 1e-4
                    ? "right"
                    : (60 * Math.abs(v)).toFixed(1) + "\u2032" + (v > 0 ? " too large" : " too small");
            },
        },
        film: {
            label: "Coat of compound",
            low: 0.4,
            high: 2.4,
            step: 0.05,
            words: function (v) {
                return v.toFixed(2) + " times the usual coat";
            },
        },
        crown: {
            label: "Crown of the teeth",
            low: 0.4,
            high: 2,
            step: 0.05,
            words: function (v) {
                return v.toFixed(2) + " times its own";
            },
        },
        bias: {
            label: "Bias",
            low: -20,
            high: 20,
            step: 1,
            words: function (v) {
                return v === 0 ? "its own" : (v > 0 ? "+" : "-") + Math.abs(v) + "\u00a0\u00b5m";
            },
        },
    };
    var count = 0;

    function made(tag, attributes, children) {
        var element = document.createElement(tag);
        Object.keys(attributes).forEach(function (name) {
            element.setAttribute(name, attributes[name]);
        });
        (children || []).forEach(function (child) {
            element.append(child);
        });
        return element;
    }

    function bring(figure, data, set, length) {
        var middle = 0.5 * (set.limits_backlash_mm[0] + set.limits_backlash_mm[1]),
            now = Object.assign({ lash: middle }, contact.right);
        var canvases = {},
            words = {},
            trail = { drive: [], coast: [] },
            outputs = {},
            inputs = {},
            asked = false;
        if (!set.flank) set.flank = { drive: contact.flank(set.rates.drive), coast: contact.flank(set.rates.coast) };

        function draw() {
            asked = false;
            var stands = contact.setting(set, data.film_mm, now);
            ["drive", "coast"].forEach(function (side) {
                var separation = contact.separation(set.flank[side], stands.error, stands.modification[side]);
                var grid = new Float32Array(separation.length);
                for (var c = 0; c < grid.length; ++c) grid[c] = contact.mark(separation[c], stands.filmMm);
                var p = contact.pattern(grid),
                    way = trail[side],
                    end = way[way.length - 1];
                if (p && (!end || Math.hypot(p.toeHeel - end[0], p.rootTip - end[1]) > 0.004))
                    way.push([p.toeHeel, p.rootTip]);
                if (way.length > 60) way.shift();
                flankCanvas.draw(canvases[side], {
                    separation: separation,
                    filmMm: stands.filmMm,
                    even: set.even_height,
                    pattern: p,
                    zone: set.acceptance,
                    trail: way,
                });
                var off = flankWords.edges(p),
                    text =
                        flankWords.place(p) +
                        (p
                            ? ", " +
                              Math.round(100 * p.toeHeel) +
                              "\u00a0% from the toe, " +
                              Math.round(100 * p.rootTip) +
                              "\u00a0% from the root"
                            : "") +
                        (off.length ? "; runs off the " + off.join(" and ") : "");
                words[side].textContent = text;
                canvases[side].setAttribute("aria-label", side + " flank: " + text);
            });
            Object.keys(outputs).forEach(function (name) {
                var limits = set.limits_backlash_mm;
                var text =
                    name !== "lash"
                        ? kinds[name].words(now[name], length)
                        : length(now.lash) +
                          (now.lash < limits[0] - 1e-9
                              ? ", under the limits"
                              : now.lash > limits[1] + 1e-9
                                ? ", over the limits"
                                : ", inside the limits");
                outputs[name].textContent = text;
                inputs[name].setAttribute("aria-valuetext", text);
            });
        }
        function ask() {
            if (asked) return;
            asked = true;
            requestAnimationFrame(draw);
        }

        var pair = made("div", { class: "pair" });
        ["drive", "coast"].forEach(function (side) {
            canvases[side] = made("canvas", { width: 656, height: 310, role: "img" });
            words[side] = made("span", {});
            pair.append(
                made("div", {}, [
                    made("p", { class: "say" }, [
                        made("b", {}, [side === "drive" ? "Drive side " : "Coast side "]),
                        words[side],
                    ]),
                    canvases[side],
                ]),
            );
        });
        figure.prepend(pair);
        var caption = figure.querySelector("figcaption");
        figure.dataset.vary.split(" ").forEach(function (name) {
            var kind = kinds[name],
                id = "try-" + ++count,
                shift = name === "lash" ? middle : 0;
            outputs[name] = made("output", { for: id });
            inputs[name] = made("input", {
                type: "range",
                id: id,
                min: kind.low + shift,
                max: kind.high + shift,
                step: kind.step,
            });
            inputs[name].value = now[name];
            inputs[name].addEventListener("input", function () {
                now[name] = parseFloat(this.value);
                ask();
            });
            figure.insertBefore(
                made("div", { class: "field" }, [
                    made("label", { for: id }, [kind.label + " ", outputs[name]]),
                    inputs[name],
                ]),
                caption,
            );
        });
        figure.hidden = false;
        draw();
        return ask;
    }

    function start(root, data, options) {
        var length = (options && options.length) || flankWords.length,
            redraw = [];
        root.querySelectorAll("figure.try[hidden]").forEach(function (figure) {
            var set = data.sets.filter(function (one) {
                return one.cut === figure.dataset.cut;
            })[0];
            if (set) redraw.push(bring(figure, data, set, length));
        });
        var dark = window.matchMedia && window.matchMedia("(prefers-color-scheme: dark)");
        var recolour = function () {
            flankCanvas.readColours();
            redraw.forEach(function (one) {
                one();
            });
        };
        if (dark && dark.addEventListener) dark.addEventListener("change", recolour);
        // The page says lengths in the other unit from here on.
        window.addEventListener("unitturn", recolour);
        return function () {
            window.removeEventListener("unitturn", recolour);
            if (dark && dark.removeEventListener) dark.removeEventListener("change", recolour);
        };
    }

    return { start: start };
})();
