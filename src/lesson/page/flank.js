// A flank on a canvas of 656 x 310, as in the program's sketches: toe at the left, tip at the top, lower at the toe unless
// it is of even height.
var flankCanvas = {
    shape: { left: 34, top: 17, wide: 260, high: 118, toe: 0.78, milledToe: 0.78, scale: 2 },
    colours: {},
    scratch: null,

    pointX(u) {
        var shape = flankCanvas.shape;
        return shape.scale * (shape.left + shape.wide * u);
    },

    pointY(u, v) {
        var shape = flankCanvas.shape;
        return shape.scale * (shape.top + shape.high - shape.high * (shape.toe + (1 - shape.toe) * u) * v);
    },

    readColours() {
        var style = getComputedStyle(document.documentElement);
        ["steel", "edge", "mark", "markline", "zone", "word"].forEach((name) => {
            flankCanvas.colours[name] = style.getPropertyValue("--fk-" + name).trim();
        });
        var hex = flankCanvas.colours.mark.slice(1);
        flankCanvas.colours.rgb = [0, 2, 4].map((k) => parseInt(hex.slice(k, k + 2), 16));
    },

    // Where marks are drawn, pixel by pixel, before they are laid on a flank: as large as one can be, made once.
    scratchPad() {
        if (!flankCanvas.scratch) {
            var left = Math.ceil(flankCanvas.pointX(0)),
                top = Math.ceil(flankCanvas.pointY(1, 1));
            var scratch = (flankCanvas.scratch = document.createElement("canvas"));
            scratch.left = left;
            scratch.top = top;
            scratch.width = Math.floor(flankCanvas.pointX(1)) - left;
            scratch.height = Math.floor(flankCanvas.pointY(0, 0)) - top;
            scratch.pen = scratch.getContext("2d");
            scratch.image = scratch.pen.createImageData(scratch.width, scratch.height);
            scratch.words = new Uint32Array(scratch.image.data.buffer);
        }
        return flankCanvas.scratch;
    },

    // The separation runs straight between the centres of cells; the mark is drawn from it, as in the program's maps. Column
    // by column: between two rows of cells it is a straight line, so that most of the flank is passed over in whole pieces.
    drawMark(context, separation, filmMm) {
        var scratch = flankCanvas.scratchPad();
        var wide = scratch.width,
            high = scratch.height,
            x0 = scratch.left,
            y0 = scratch.top,
            opacity = 0.82;
        var pixels = scratch.words,
            columns = contact.columns,
            rows = contact.rows;
        var rgb = flankCanvas.colours.rgb,
            colour = rgb[0] | (rgb[1] << 8) | (rgb[2] << 16);
        var none = contact.fadeEnd * filmMm,
            whole = contact.fadeStart * filmMm,
            full = ((Math.round(255 * opacity) << 24) | colour) >>> 0;
        var steep = (255 * opacity) / (none - whole);
        pixels.fill(0);
        for (var x = 0; x < wide; ++x) {
            var u = (x0 + x + 0.5 - flankCanvas.pointX(0)) / (flankCanvas.pointX(1) - flankCanvas.pointX(0));
            var column = u * columns - 0.5,
                i = Math.min(Math.max(Math.floor(column), 0), columns - 2),
                right = column - i;
            var foot = flankCanvas.pointY(u, 0) - y0,
                head = flankCanvas.pointY(u, 1) - y0,
                cell = (foot - head) / rows;
            var c = i,
                low = separation[c] + right * (separation[c + 1] - separation[c]);
            // Beyond the outermost rows of cells the line goes on.
            for (var j = 0; j < rows - 1; ++j) {
                c += columns;
                var next = separation[c] + right * (separation[c + 1] - separation[c]);
                var from = j === rows - 2 ? head : foot - (j + 1.5) * cell,
                    to = j ? foot - (j + 0.5) * cell : foot;
                var step = (low - next) / cell,
                    value = low + step * (Math.ceil(from - 0.5) + 0.5 - (foot - (j + 0.5) * cell));
                var y = Math.max(0, Math.ceil(from - 0.5)),
                    end = Math.min(high, Math.ceil(to - 0.5));
                value += step * (y - Math.ceil(from - 0.5));
                if (y < end && Math.min(value, value + step * (end - 1 - y)) < none) {
                    for (var at = y * wide + x; y < end; ++y, at += wide, value += step)
                        if (value <= whole) pixels[at] = full;
                        else if (value < none) pixels[at] = (((steep * (none - value)) << 24) | colour) >>> 0;
                }
                low = next;
            }
        }
        scratch.pen.putImageData(scratch.image, 0, 0);
        context.drawImage(scratch, x0, y0);
    },

    outline(context, box) {
        context.beginPath();
        context.moveTo(flankCanvas.pointX(box[0]), flankCanvas.pointY(box[0], box[2]));
        context.lineTo(flankCanvas.pointX(box[1]), flankCanvas.pointY(box[1], box[2]));
        context.lineTo(flankCanvas.pointX(box[1]), flankCanvas.pointY(box[1], box[3]));
        context.lineTo(flankCanvas.pointX(box[0]), flankCanvas.pointY(box[0], box[3]));
        context.closePath();
    },

    // One path in several pens [width, colour], one over the other.
    strokes(context, pens, path) {
        pens.forEach((pen) => {
            context.beginPath();
            path();
            context.lineWidth = pen[0];
            context.strokeStyle = pen[1];
            context.stroke();
        });
    },

    drawZone(context, zone) {
        flankCanvas.outline(context, zone.toe_heel.concat(zone.root_tip));
        context.strokeStyle = flankCanvas.colours.zone;
        context.lineWidth = 3.2;
        context.setLineDash([11, 7]);
        context.stroke();
        context.setLineDash([]);
    },

    drawTrail(context, way) {
        var pens = [
            [8, "#101418"],
            [3.6, "#fff"],
        ];
        flankCanvas.strokes(context, pens, () => {
            way.forEach((p, k) => {
                context[k ? "lineTo" : "moveTo"](flankCanvas.pointX(p[0]), flankCanvas.pointY(p[0], p[1]));
            });
        });
    },

    drawCross(context, pattern) {
        var x = flankCanvas.pointX(pattern.toeHeel),
            y = flankCanvas.pointY(pattern.toeHeel, pattern.rootTip);
        var pens = [
            [8, "#101418"],
            [4, "#fff"],
        ];
        flankCanvas.strokes(context, pens, () => {
            context.moveTo(x - 15, y);
            context.lineTo(x + 15, y);
            context.moveTo(x, y - 15);
            context.lineTo(x, y + 15);
        });
    },

    drawWords(context) {
        var x = flankCanvas.pointX,
            y = flankCanvas.pointY;
        context.fillStyle = flankCanvas.colours.word;
        context.font = "24px system-ui, sans-serif";
        context.textAlign = "center";
        context.fillText(lessonWords.say("common.toe"), x(0) - 34, y(0, 0.5) + 8);
        context.fillText(lessonWords.say("common.heel"), x(1) + 36, y(0, 0.5) + 8);
        context.fillText(lessonWords.say("common.tip"), x(0.5), y(0.5, 1) - 10);
        context.fillText(lessonWords.say("common.root"), x(0.5), y(0.5, 0) + 30);
    },

    // what: {separation, filmMm} for a mark; even: a hobbed tooth; pattern: its centre gets a cross; zone: rule with the box
    // where the centre should lie; trail: places [u, v] that the centre took.
    draw(canvas, what) {
        var shape = flankCanvas.shape;
        shape.toe = what.even ? 1 : shape.milledToe;
        var context = canvas.getContext("2d");
        context.clearRect(0, 0, canvas.width, canvas.height);
        flankCanvas.outline(context, [0, 1, 0, 1]);
        context.fillStyle = flankCanvas.colours.steel;
        context.fill();
        if (what.separation) flankCanvas.drawMark(context, what.separation, what.filmMm);
        flankCanvas.outline(context, [0, 1, 0, 1]);
        context.lineJoin = context.lineCap = "round";
        context.strokeStyle = flankCanvas.colours.edge;
        context.lineWidth = 2.6;
        context.stroke();
        if (what.zone) flankCanvas.drawZone(context, what.zone);
        if (what.trail && what.trail.length > 1) flankCanvas.drawTrail(context, what.trail);
        if (what.pattern) flankCanvas.drawCross(context, what.pattern);
        if (!canvas.dataset.wordless) flankCanvas.drawWords(context);
    },
};
flankCanvas.readColours();

// What the pages say of marks and settings, as the program does; lessonWords has the table's entries.
var flankWords = {
    words: {
        toe: "common.toe",
        heel: "common.heel",
        tip: "common.tip",
        root: "common.root",
        face: "common.face",
        flank: "common.flank",
        "toe-side": "advice.toe-side",
    },

    // The magnitude, in the page's units.
    length(mm) {
        var words = lengths.lengthWords(Math.abs(mm), document.documentElement.dataset.units);
        return words.replace(/ (in|mm)/g, "\u00a0$1");
    },
    angle(degrees) {
        return (60 * Math.abs(degrees)).toFixed(1) + "\u2032";
    },
    percent(share) {
        return lessonWords.say("common.percent", Math.round(100 * share)).replace(" ", "\u00a0");
    },

    // The same zones as Pattern::lengthPosition and depthPosition. A good mark lies a little toward the toe: it is not
    // called "toe" for that.
    along(toeHeel) {
        if (toeHeel < 0.42) return toeHeel < 0.3 ? "toe" : "toe-side";
        return toeHeel > 0.58 ? "heel" : "";
    },
    up(rootTip) {
        return rootTip < 0.42 ? "flank" : rootTip > 0.58 ? "face" : "";
    },
    // Where a mark lies; `centre`: what is said of one in the middle.
    place(p, centre) {
        if (!p) return lessonWords.say("common.no-mark");
        var zones = [flankWords.along(p.toeHeel), flankWords.up(p.rootTip)].filter((zone) => zone !== "");
        return (
            zones.map((zone) => lessonWords.say(flankWords.words[zone])).join(", ") ||
            centre ||
            lessonWords.say("common.centre")
        );
    },
    // The same with its middle in numbers.
    mark(p) {
        var place = flankWords.place(p);
        if (!p) return place;
        return lessonWords.say("lesson.mark-at", place, flankWords.percent(p.toeHeel), flankWords.percent(p.rootTip));
    },
    // The edges that a mark runs off, in words; none: "".
    edges(p) {
        return Object.keys((p && p.off) || {})
            .filter((edge) => p.off[edge])
            .map((edge) => lessonWords.say(flankWords.words[edge]))
            .join(lessonWords.say("common.and"));
    },
    side(side, text) {
        return side === "drive"
            ? lessonWords.say("lesson.drive-flank-at", text)
            : lessonWords.say("lesson.coast-flank-at", text);
    },

    // What a slider says. `set`: as the page has it; `length`: how it says lengths.
    values: {
        depth(mm, set, length) {
            if (Math.abs(mm) <= set.no_move_mm) return lessonWords.say("lesson.value-right");
            var amount = length(Math.abs(mm));
            return mm > 0 ? lessonWords.say("lesson.too-deep", amount) : lessonWords.say("lesson.too-shallow", amount);
        },
        backlash(mm, set, length) {
            var amount = length(mm);
            if (flankWords.isUnder(mm, set)) return lessonWords.say("lesson.backlash-under", amount);
            if (flankWords.isOver(mm, set)) return lessonWords.say("lesson.backlash-over", amount);
            return lessonWords.say("lesson.backlash-inside", amount);
        },
        offset(mm, set, length) {
            if (Math.abs(mm) <= set.no_move_mm) return lessonWords.say("lesson.value-none");
            return flankWords.tooLarge(mm, length(Math.abs(mm)));
        },
        shaft(degrees) {
            if (Math.abs(degrees) < 1e-4) return lessonWords.say("lesson.value-right");
            return flankWords.tooLarge(degrees, flankWords.angle(degrees));
        },
        film(times) {
            return lessonWords.say("lesson.usual-coat", times.toFixed(2));
        },
        crown(times) {
            return lessonWords.say("lesson.own-crown", times.toFixed(2));
        },
        bias(um) {
            if (um === 0) return lessonWords.say("lesson.value-own");
            return (um > 0 ? "+" : "-") + Math.abs(um) + "\u00a0\u00b5m";
        },
    },
    tooLarge(value, amount) {
        return value > 0 ? lessonWords.say("lesson.too-large", amount) : lessonWords.say("lesson.too-small", amount);
    },
    isUnder(lashMm, set) {
        return lashMm < set.limits_backlash_mm[0] - 1e-9;
    },
    isOver(lashMm, set) {
        return lashMm > set.limits_backlash_mm[1] + 1e-9;
    },
};
