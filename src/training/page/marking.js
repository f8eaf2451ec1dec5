// How answers are marked, as markAnswer in the program; held to it by a test. `exercise` is one of the drill's page.
var marking = (function () {
    "use strict";
    var noMove = 0.0025,
        near = 0.03,
        closeBy = 0.03;

    function inside(range, value) {
        return 1 - Math.abs(value - 0.5 * (range[0] + range[1])) / Math.max(0.5 * (range[1] - range[0]), 1e-6);
    }

    function moved(set, error, move) {
        var rates = set.backlash_rates;
        var ring = error[1] - (move.deeper * rates.per_depth) / rates.per_ring_move - move.more / rates.per_ring_move;
        return [error[0] + move.deeper, ring, error[2], error[3]];
    }

    function backlash(set, error) {
        var rates = set.backlash_rates,
            limits = set.limits_backlash_mm;
        return (
            0.5 * (limits[0] + limits[1]) -
            rates.per_depth * error[0] -
            rates.per_ring_move * error[1] +
            rates.per_offset * error[2] +
            rates.per_shaft_angle * error[3]
        );
    }

    // Separation and pattern of one side.
    function look(contact, set, exercise, side, error) {
        var separation = contact.separation(set.flank[side], error, exercise.modification[side]).slice();
        var grid = new Float32Array(separation.length);
        for (var c = 0; c < grid.length; ++c) grid[c] = contact.mark(separation[c], exercise.film_mm);
        return { separation: separation, pattern: contact.pattern(grid), grid: grid };
    }

    // Share of each edge's band that is marked, as measurePattern has it.
    function worstEdge(grid, columns, rows) {
        var sums = [0, 0, 0, 0];
        for (var j = 0; j < rows; ++j) {
            for (var i = 0; i < columns; ++i) {
                var value = grid[j * columns + i];
                if (i < 2) sums[0] += value / (2 * rows);
                if (i >= columns - 2) sums[1] += value / (2 * rows);
                if (j < 2) sums[2] += value / (2 * columns);
                if (j >= rows - 2) sums[3] += value / (2 * columns);
            }
        }
        return Math.max.apply(null, sums);
    }

    function goodness(contact, set, exercise, error) {
        var rule = set.acceptance,
            worst = 1;
        ["drive", "coast"].forEach(function (side) {
            var seen = look(contact, set, exercise, side, error),
                p = seen.pattern;
            if (!p) {
                worst = Math.min(worst, -4);
                return;
            }
            worst = Math.min(
                worst,
                inside(rule.toe_heel, p.toeHeel),
                inside(rule.root_tip, p.rootTip),
                inside(rule.length, p.length),
            );
            if (!rule.may_run_off && (p.off.toe || p.off.heel || p.off.tip || p.off.root))
                worst = Math.min(worst, -worstEdge(seen.grid, contact.columns, contact.rows));
        });
        return Math.min(worst, 1, 2 * inside(set.limits_backlash_mm, backlash(set, error)));
    }

    // Near a border of the zones both neighbours count.
    function same(said, value, word) {
        return said === word(value) || said === word(value - near) || said === word(value + near);
    }

    function rightWay(chosen, needed, little) {
        if (Math.abs(needed) < little) return Math.abs(chosen - needed) < 2 * little;
        return chosen * needed > 0 && Math.abs(chosen) > noMove;
    }

    // sure: how well the needed amount is known.
    function tell(words, length, chosen, needed, sure, plus, minus, what) {
        var beyond = chosen - needed,
            close = Math.max(closeBy, sure),
            way = needed > 0 ? plus : minus;
        if (Math.abs(chosen) < noMove && Math.abs(needed) < close) return;
        if (Math.abs(chosen) < noMove) {
            words.push("You left the " + what + " alone; it needed " + length(needed) + " " + way + ".");
            return;
        }
        var yours = "Your " + length(chosen) + " " + (chosen > 0 ? plus : minus);
        if (Math.abs(beyond) <= close) words.push(yours + " is right within " + length(close) + ".");
        else if (Math.abs(needed) < close) words.push(yours + " was not needed: the " + what + " was right.");
        else if (chosen * needed < 0)
            words.push(yours + " goes the wrong way: it needed " + length(needed) + " " + way + ".");
        else if (Math.abs(chosen) > Math.abs(needed))
            words.push(yours + " would have overshot by " + length(beyond) + ".");
        else words.push(yours + " stops " + length(beyond) + " short.");
    }

    function moveWords(length, move) {
        var words = [];
        if (Math.abs(move.deeper) > noMove)
            words.push((move.deeper > 0 ? "deeper " : "shallower ") + length(move.deeper));
        if (Math.abs(move.more) > noMove)
            words.push("backlash " + (move.more > 0 ? "more " : "less ") + length(move.more));
        return words.join(", ") || "no change";
    }

    // answer: {seen: {drive: {along, up}, coast: ...}, remedy: accept|change|no-shim, move: {deeper, more} in mm}; of a
    // side that is not asked nothing need be seen.
    function mark(contact, flankWords, set, exercise, answer) {
        var result = marked(contact, flankWords, set, exercise, answer);
        result.words = result.words.concat(exercise.told);
        return result;
    }

    // Whether the plain rule of depth would have told this one.
    function isTheRule(exercise) {
        var up = 0;
        ["drive", "coast"].forEach(function (side) {
            if (exercise.truth[side]) up += exercise.truth[side].rootTip - 0.5;
        });
        return up * exercise.needed.deeper > 0;
    }

    function marked(contact, flankWords, set, exercise, answer) {
        var result = { place: 0, correction: 0, words: [] },
            length = flankWords.length,
            sure = exercise.sure_mm;
        var worth = exercise.asked.drive && exercise.asked.coast ? 1 : 2;
        ["drive", "coast"].forEach(function (side) {
            if (!exercise.asked[side]) return;
            var truth = exercise.truth[side],
                said = answer.seen[side];
            var along = same(said.along, truth.toeHeel, flankWords.along),
                up = same(said.up, truth.rootTip, flankWords.up);
            result.place += worth * (along + up);
            if (!along || !up)
                result.words.push(
                    "The " +
                        side +
                        " mark is at: " +
                        flankWords.place(truth) +
                        " (" +
                        Math.round(100 * truth.toeHeel) +
                        "\u00a0% from toe to heel, " +
                        Math.round(100 * truth.rootTip) +
                        "\u00a0% from root to tip).",
                );
        });
        var move = answer.remedy === "change" ? answer.move : { deeper: 0, more: 0 },
            needed = exercise.needed;
        var after = moved(set, exercise.error, move),
            limits = set.limits_backlash_mm;
        var lash = backlash(set, after),
            lashInside = lash >= limits[0] - 1e-6 && lash <= limits[1] + 1e-6;
        result.after = after;
        result.lash = lash;
        result.ended =
            goodness(contact, set, exercise, after) > 0 ||
            (Math.abs(move.deeper - needed.deeper) < sure.deeper && Math.abs(move.more - needed.more) < sure.more);
        if (exercise.remedy === "accept") {
            if (answer.remedy === "accept") {
                result.correction = 6;
                result.words.push("Right: this setting is good. Leave it.");
            } else if (answer.remedy === "change" && result.ended) {
                result.correction = 2;
                result.words.push("It was good already, and still is after your change; each change is work.");
            } else {
                result.words.push("This setting is good. Leave it.");
            }
            return result;
        }
        if (exercise.remedy === "no-shim") {
            if (answer.remedy === "no-shim") result.correction = 6;
            result.words.push(
                (answer.remedy === "no-shim" ? "Right: no" : "No") +
                    " depth and no backlash makes both sides good here. Set nothing, and find the cause.",
            );
            result.words.push(
                "Exchanged sides or another cut can make the same marks: look at these first. This exercise was made with the housing's offset " +
                    length(exercise.error[2]) +
                    " too " +
                    (exercise.error[2] > 0 ? "large." : "small."),
            );
            return result;
        }
        if (answer.remedy !== "change") {
            result.words.push(
                (answer.remedy === "accept" ? "It is not good yet: " : "Shims do help here: ") +
                    moveWords(length, needed) +
                    " would set it right.",
            );
            return result;
        }
        var depthWay = rightWay(move.deeper, needed.deeper, 0.03);
        var lashWay =
            lashInside ||
            (rightWay(move.more, needed.more, 0.03) && Math.abs(move.more) <= Math.abs(needed.more) + 0.03);
        var better = goodness(contact, set, exercise, after) > goodness(contact, set, exercise, exercise.error);
        var beyond = Math.abs(move.deeper) - Math.abs(needed.deeper);
        var overshot =
            !result.ended &&
            move.deeper * needed.deeper > 0 &&
            beyond > 0 &&
            (beyond >= Math.abs(needed.deeper) || !better);
        result.correction = overshot ? 0 : 2 * depthWay + 2 * lashWay;
        if (result.ended) result.correction = 6;
        else if (!overshot && depthWay && lashWay && better) ++result.correction;
        tell(result.words, length, move.deeper, needed.deeper, sure.deeper, "deeper", "shallower", "pinion depth");
        if (overshot)
            result.words.push(
                "That drives the mark past its place and on toward the other end of the tooth: it fails.",
            );
        if (move.deeper * needed.deeper < 0 && isTheRule(exercise))
            result.words.push("The rule: a mark near the tip wants the pinion deeper, one near the root shallower.");
        if (!lashInside)
            tell(result.words, length, move.more, needed.more, sure.more, "more backlash", "less backlash", "backlash");
        result.words.push(
            result.ended
                ? "Your correction ends in a good setting."
                : "Your correction does not end in a good setting. This one does: " + moveWords(length, needed) + ".",
        );
        return result;
    }

    // As benchHours: what a change costs.
    function hours(costs, move) {
        var deeper = Math.abs(move.deeper) > noMove,
            more = Math.abs(move.more) > noMove;
        return costs.trial + (deeper ? costs.pinion_shim : 0) + (deeper || more ? costs.ring_gear : 0);
    }

    return {
        mark: mark,
        look: look,
        moveWords: moveWords,
        moved: moved,
        backlash: backlash,
        goodness: goodness,
        hours: hours,
    };
})();
