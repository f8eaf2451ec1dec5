// The set-up game's page: from an unknown error, change by change at a cost in hours, beside the program's own way.
(function () {
    "use strict";
    var data = JSON.parse(document.getElementById("game-data").textContent),
        start = data.exercise,
        set = data.set;
    var sides = ["drive", "coast"],
        thou = 0.0254,
        length = flankWords.length,
        mostChanges = 12;
    var element = function (id) {
        return document.getElementById(id);
    };
    var error, hours, changes, trail, marks;
    set.flank = {};
    sides.forEach(function (side) {
        set.flank[side] = contact.flank(set.rates[side]);
    });

    function hoursWords(h) {
        return h.toFixed(2) + "\u00a0h";
    }

    function draw() {
        sides.forEach(function (side) {
            flankCanvas.draw(element(side), {
                separation: marks[side].separation,
                filmMm: start.film_mm,
                pattern: marks[side].pattern,
                zone: set.acceptance,
                trail: trail[side],
            });
        });
    }

    function look() {
        marks = {};
        sides.forEach(function (side) {
            var seen = (marks[side] = marking.look(contact, set, start, side, error)),
                p = seen.pattern;
            if (p) trail[side].push([p.toeHeel, p.rootTip]);
            var off = flankWords.edges(p),
                words = flankWords.place(p) + (off.length ? "; runs off the " + off.join(" and ") : "");
            element(side + "-words").textContent = words;
            element(side).setAttribute("aria-label", side + " flank: " + words);
        });
        var limits = set.limits_backlash_mm;
        element("now").textContent = hoursWords(hours) + " so far";
        var lash = marking.backlash(set, error);
        element("facts").textContent =
            set.name +
            ", " +
            set.cut +
            ". " +
            (lash > 0
                ? "Backlash now " + length(lash)
                : "No backlash: the teeth are jammed. Do not turn them; give more backlash") +
            ", limits " +
            length(limits[0]) +
            " to " +
            length(limits[1]) +
            ".";
        draw();
    }

    function moveOf() {
        return { deeper: +element("depth").value * thou, more: +element("lash").value * thou };
    }

    function outputs() {
        var move = moveOf();
        element("missing").textContent = "";
        element("depth-out").textContent = move.deeper
            ? length(move.deeper) + (move.deeper > 0 ? " deeper" : " shallower")
            : "as it is";
        element("lash-out").textContent = move.more
            ? length(move.more) + (move.more > 0 ? " more" : " less")
            : "as it is";
        element("change").textContent =
            "Make this change" + (move.deeper || move.more ? ": " + hoursWords(marking.hours(data.costs, move)) : "");
    }

    function change(event) {
        event.preventDefault();
        var move = moveOf();
        if (!move.deeper && !move.more) {
            element("missing").textContent = "Set first how much you would change.";
            return;
        }
        var cost = marking.hours(data.costs, move),
            row = document.createElement("tr");
        hours += cost;
        ++changes;
        error = marking.moved(set, error, move);
        element("move").reset();
        look();
        outputs();
        [
            marking.moveWords(length, move),
            cost.toFixed(2),
            flankWords.place(marks.drive.pattern),
            flankWords.place(marks.coast.pattern),
        ].forEach(function (text) {
            var cell = document.createElement("td");
            cell.textContent = text;
            row.append(cell);
        });
        element("rows").append(row);
        element("none").hidden = true;
        element("moves").hidden = false;
        if (changes >= mostChanges)
            end("So many changes would wear the bolts out. The game ends here, after " + hoursWords(hours) + ".");
        else element("now").focus();
    }

    function end(words) {
        element("move").hidden = true;
        element("result").hidden = false;
        element("verdict").textContent = words;
        element("best").textContent =
            start.remedy === "change"
                ? "From the start, this would have set it right in one step: " +
                  marking.moveWords(length, start.needed) +
                  "."
                : start.remedy === "accept"
                  ? "It was good from the start."
                  : "No depth and no backlash makes both sides good here.";
        element("path").replaceChildren.apply(
            element("path"),
            data.path.steps.map(function (text) {
                var item = document.createElement("li");
                item.textContent = text;
                return item;
            }),
        );
        element("path").hidden = !data.path.steps.length;
        element("path-end").textContent = data.path.end;
        element("verdict").focus();
    }

    function accept() {
        end(
            marking.goodness(contact, set, start, error) > 0
                ? "Good. You needed " + hoursWords(hours) + "."
                : "Not good yet after " + hoursWords(hours) + ": it would come back.",
        );
    }

    function giveUp() {
        end(
            start.remedy === "no-shim"
                ? "Right: no shim helps here. You saw it after " + hoursWords(hours) + "."
                : "A shim does help here. You gave up after " + hoursWords(hours) + ".",
        );
    }

    function begin() {
        error = start.error.slice();
        hours = changes = 0;
        trail = { drive: [], coast: [] };
        element("rows").textContent = "";
        element("none").hidden = false;
        element("moves").hidden = element("result").hidden = true;
        element("move").hidden = false;
        element("move").reset();
        look();
        outputs();
    }

    element("about").textContent =
        "Level " +
        data.level +
        ", " +
        data.level_words +
        ". Seed " +
        data.seed +
        ": the same seed starts from the same error. Bring both marks and the backlash into the rule with as few bench hours as you can. A round of setting, painting and rolling is " +
        hoursWords(data.costs.trial) +
        "; a pinion shim is " +
        hoursWords(data.costs.pinion_shim) +
        " more, a move of the ring gear " +
        hoursWords(data.costs.ring_gear) +
        ". The dashed box is where the middle of each mark should lie.";
    element("move").addEventListener("submit", change);
    element("move").addEventListener("input", outputs);
    element("accept").addEventListener("click", accept);
    element("no-shim").addEventListener("click", giveUp);
    element("again").addEventListener("click", function () {
        begin();
        element("now").focus();
    });
    if (window.matchMedia) {
        var dark = window.matchMedia("(prefers-color-scheme: dark)");
        if (dark.addEventListener)
            dark.addEventListener("change", function () {
                flankCanvas.readColours();
                draw();
            });
    }
    begin();
})();
