// The drill's page. Exercises, truth and the contact model stand in the page; answers stay in it.
(function () {
    "use strict";
    var data = JSON.parse(document.getElementById("drill-data").textContent);
    var sides = ["drive", "coast"],
        thou = 0.0254,
        length = flankWords.length;
    var element = function (id) {
        return document.getElementById(id);
    };
    var at = 0,
        done = [],
        dots = {},
        begun = new Date();

    function exercise() {
        return data.exercises[at];
    }
    function setOf(one) {
        var set = data.sets[one.set];
        if (!set.flank) {
            set.flank = {};
            sides.forEach(function (side) {
                set.flank[side] = contact.flank(set.rates[side]);
            });
        }
        return set;
    }

    function asked() {
        return sides.filter(function (side) {
            return exercise().asked[side];
        });
    }

    function drawSeen() {
        var one = exercise(),
            set = setOf(one);
        asked().forEach(function (side) {
            var seen = marking.look(contact, set, one, side, one.error);
            // Where there is a photo, the mark is to be found on it; the flank below is for pointing.
            flankCanvas.draw(
                element(side),
                one.photos
                    ? { dot: dots[side] }
                    : { separation: seen.separation, filmMm: one.film_mm, dot: dots[side] },
            );
        });
    }

    function show() {
        var one = exercise(),
            set = setOf(one),
            limits = set.limits_backlash_mm;
        dots = {};
        element("number").textContent = "Question " + (at + 1) + " of " + data.exercises.length;
        element("facts").textContent =
            (one.job ? one.job + ", trial " + one.trial + ". " : "") +
            set.name +
            ", " +
            set.cut +
            ". Backlash now " +
            length(one.backlash_mm) +
            ", limits " +
            length(limits[0]) +
            " to " +
            length(limits[1]) +
            ".";
        var photos = element("photos");
        photos.hidden = !one.photos;
        photos.textContent = "";
        (one.photos || []).forEach(function (photo) {
            var figure = document.createElement("figure"),
                image = new Image(),
                words = document.createElement("figcaption");
            figure.className = "photo";
            image.src = photo.src;
            image.alt = photo.alt;
            words.textContent = photo.words;
            figure.append(image, words);
            photos.append(figure);
        });
        sides.forEach(function (side) {
            element(side + "-place").hidden = !one.asked[side];
        });
        element("where").textContent =
            (one.photos ? "Find the middle of the mark on the photo and tap" : "Tap") +
            " on " +
            (asked().length > 1 ? "each flank where it lies" : "the flank where it lies") +
            ", or choose it below.";
        element("answer").reset();
        element("answer").hidden = false;
        element("result").hidden = true;
        element("missing").textContent = "";
        moves();
        drawSeen();
    }

    function moves() {
        var remedy = new FormData(element("answer")).get("remedy");
        element("moves").hidden = remedy !== "change";
        element("missing").textContent = "";
        var depth = +element("depth").value * thou,
            lash = +element("lash").value * thou;
        element("depth-out").textContent = depth ? length(depth) + (depth > 0 ? " deeper" : " shallower") : "as it is";
        element("lash-out").textContent = lash ? length(lash) + (lash > 0 ? " more" : " less") : "as it is";
    }

    function answerOf() {
        var seen = {},
            missing = false;
        asked().forEach(function (side) {
            seen[side] = { along: element(side + "-along").value, up: element(side + "-up").value };
            missing = missing || !seen[side].along || !seen[side].up;
        });
        var remedy = new FormData(element("answer")).get("remedy");
        if (missing) return asked().length > 1 ? "Say first where both marks are." : "Say first where the mark is.";
        if (!remedy) return "Choose what you would do.";
        var move = { deeper: +element("depth").value * thou, more: +element("lash").value * thou };
        if (remedy === "change" && !move.deeper && !move.more) return "Set how much you would change.";
        return { seen: seen, remedy: remedy, move: move };
    }

    function remedyWords(remedy, move) {
        return remedy === "accept"
            ? "leave it"
            : remedy === "no-shim"
              ? "no shim will help"
              : marking.moveWords(length, move);
    }

    function mark(event) {
        event.preventDefault();
        var answer = answerOf();
        element("missing").textContent = typeof answer === "string" ? answer : "";
        if (typeof answer === "string") return;
        var one = exercise(),
            set = setOf(one),
            result = marking.mark(contact, flankWords, set, one, answer);
        done.push({ exercise: one, answer: answer, place: result.place, correction: result.correction });
        element("answer").hidden = true;
        element("result").hidden = false;
        element("points").textContent =
            result.place +
            result.correction +
            " of 10 points: where " +
            result.place +
            " of 4, correction " +
            result.correction +
            " of 6.";
        element("words").replaceChildren.apply(
            element("words"),
            result.words.map(function (text) {
                var item = document.createElement("li");
                item.textContent = text;
                return item;
            }),
        );
        element("expected").hidden = answer.remedy !== "change";
        if (answer.remedy === "change") {
            sides.forEach(function (side) {
                var before = one.truth[side],
                    seen = marking.look(contact, set, one, side, result.after),
                    p = seen.pattern;
                flankCanvas.draw(element("after-" + side), {
                    separation: seen.separation,
                    filmMm: one.film_mm,
                    pattern: p,
                    zone: set.acceptance,
                    trail:
                        p && before
                            ? [
                                  [before.toeHeel, before.rootTip],
                                  [p.toeHeel, p.rootTip],
                              ]
                            : [],
                });
                element("after-" + side + "-words").textContent = flankWords.place(p);
            });
        }
        element("next").textContent = at + 1 < data.exercises.length ? "Next question" : "To the sheet";
        element("points").focus();
    }

    function next() {
        ++at;
        if (at < data.exercises.length) {
            show();
            element("number").focus();
            return;
        }
        element("question").hidden = true;
        element("sheet").hidden = false;
        var points = 0;
        element("rows").textContent = "";
        done.forEach(function (one, k) {
            points += one.place + one.correction;
            var row = document.createElement("tr");
            [
                k + 1,
                remedyWords(one.answer.remedy, one.answer.move),
                remedyWords(one.exercise.remedy, one.exercise.needed),
                one.place + one.correction,
            ].forEach(function (text) {
                var cell = document.createElement("td");
                cell.textContent = text;
                row.append(cell);
            });
            element("rows").append(row);
        });
        element("total").textContent = points + " of " + 10 * done.length + " points";
        element("total").focus();
    }

    // The same columns as shimsight lesson scores --csv.
    function csv() {
        var field = function (value) {
            var text = String(value).replace(/\u00a0/g, " ");
            if (/^[=+\-@\t\r]/.test(text)) text = "'" + text;
            return /[",\n\r]/.test(text) ? '"' + text.replace(/"/g, '""') + '"' : text;
        };
        var lines = [
            "name,at,seed,level,number,job,trial,gear_set,truth,drive_seen,coast_seen,correction,place_points,correction_points,points,of",
        ];
        done.forEach(function (one) {
            var seen = function (side) {
                var said = one.answer.seen[side];
                return said ? said.along + ", " + said.up : "not asked";
            };
            var orEmpty = function (value) {
                return value === null || value === undefined ? "" : value;
            };
            lines.push(
                [
                    element("name").value,
                    begun.toISOString().slice(0, 19) + "Z",
                    orEmpty(data.seed),
                    orEmpty(data.level),
                    one.exercise.number,
                    orEmpty(one.exercise.job),
                    orEmpty(one.exercise.trial),
                    data.sets[one.exercise.set].name,
                    remedyWords(one.exercise.remedy, one.exercise.needed),
                    seen("drive"),
                    seen("coast"),
                    remedyWords(one.answer.remedy, one.answer.move),
                    one.place,
                    one.correction,
                    one.place + one.correction,
                    10,
                ]
                    .map(field)
                    .join(","),
            );
        });
        return lines.join("\n") + "\n";
    }

    element("about").textContent =
        data.level === null
            ? "Trials of real jobs. What they needed is known from what was done next and read later."
            : "Level " +
              data.level +
              ", " +
              data.level_words +
              ". Seed " +
              data.seed +
              ": the same seed asks the same questions.";
    element("answer").addEventListener("submit", mark);
    element("answer").addEventListener("input", moves);
    element("next").addEventListener("click", next);
    element("again").addEventListener("click", function () {
        at = 0;
        done = [];
        begun = new Date();
        element("sheet").hidden = true;
        element("question").hidden = false;
        show();
        element("number").focus();
    });
    element("save").addEventListener("click", function () {
        var link = document.createElement("a");
        link.href = URL.createObjectURL(new Blob([csv()], { type: "text/csv" }));
        link.download = "drill.csv";
        link.click();
        setTimeout(function () {
            URL.revokeObjectURL(link.href);
        }, 1000);
    });
    sides.forEach(function (side) {
        element(side).addEventListener("click", function (event) {
            dots[side] = flankCanvas.placeOf(element(side), event);
            element(side + "-along").value = flankWords.along(dots[side][0]);
            element(side + "-up").value = flankWords.up(dots[side][1]);
            drawSeen();
        });
        ["along", "up"].forEach(function (way) {
            element(side + "-" + way).addEventListener("change", function () {
                delete dots[side];
                drawSeen();
            });
        });
    });
    if (window.matchMedia) {
        var dark = window.matchMedia("(prefers-color-scheme: dark)");
        if (dark.addEventListener)
            dark.addEventListener("change", function () {
                flankCanvas.readColours();
                if (!element("answer").hidden && !element("question").hidden) drawSeen();
            });
    }
    show();
})();
