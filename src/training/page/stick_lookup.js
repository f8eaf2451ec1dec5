// What the program put into the page on a stick for every answer, looked up. Nothing is graded here.
import { say } from "./words.js";

const SIDES = ["drive", "coast"];

const sentences = (table, places) => places.map((place) => table[place]);
/// Where a slider stands in a table that has its middle in the middle.
const place = (list, mm, step) => Math.round(mm / step) + (list.length - 1) / 2;

/// What the program says of a correction: [points, ended, lesson, sentences...], and the correction in words.
function corrected(one, body) {
    const { steps_mm } = one.question;
    if (body.check !== undefined) return [one.corrections.checks[body.check], one.question.story.checks[body.check]];
    if (body.remedy !== "change") return [one.corrections[body.remedy], one.correction_words[body.remedy]];
    const depth = body.thicker_mm ?? body.deeper_mm;
    const row = place(one.corrections.changes, depth, steps_mm.depth);
    const column = place(one.corrections.changes[row], body.more_backlash_mm, steps_mm.backlash);
    const words = [one.correction_words.depth[row], one.correction_words.backlash[column]].filter(Boolean);
    return [one.corrections.changes[row][column], words.join(", ")];
}

/// How an answer of the drill is graded, as the server tells it. `one`: of data.questions; `body`: as it would be sent.
export function graded(data, one, body) {
    const told = { graded: true, kept: false, of: 10, place_points: 0, words: [] };
    let placesRight = true;
    for (const side of SIDES.filter((key) => one.question.asked[key])) {
        const [points, wrong] = one.places[side].answers[`${body[side].along},${body[side].up}`];
        told.place_points += points;
        if (!wrong) continue;
        placesRight = false;
        told.words.push(one.places[side].words);
    }
    const [[points, ended, lesson, ...words], correction] = corrected(one, body);
    const toRead = lesson >= 0 ? lesson : placesRight ? -1 : data.lessons.length - 1;
    told.words.push(...sentences(one.sentences, words));
    if (toRead >= 0) told.words.push(data.lessons[toRead].words);
    told.words.push(...one.told);
    return Object.assign(told, {
        correction_points: points,
        points: told.place_points + points,
        ended: ended === 1,
        correction,
        truth: one.truth,
        now: one.now,
        lesson: toRead >= 0 ? data.lessons[toRead] : null,
        backlash_after_mm: body.remedy === "change" ? one.question.backlash_mm + body.more_backlash_mm : null,
    });
}

/// The same columns as shimsight lesson scores --csv.
export function csv(data, run, name) {
    const field = (value) => {
        let text = String(value ?? "");
        if (/^[=+\-@\t\r]/.test(text)) text = `'${text}`;
        return /[",\n\r]/.test(text) ? `"${text.replace(/"/g, '""')}"` : text;
    };
    const lines = run.done.map((done) => {
        const { question } = data.questions[done.place];
        const seen = (side) =>
            done.body[side] ? `${done.body[side].along}, ${done.body[side].up}` : say("page.not-asked");
        const known = [name, run.at, data.seed, data.level, question.number, question.axle, question.trial];
        const said = [question.gear_set, done.truth, seen("drive"), seen("coast"), done.correction];
        return [...known, ...said, done.place_points, done.correction_points, done.points, done.of];
    });
    return [data.csv_head, ...lines.map((line) => line.map(field).join(","))].join("\n") + "\n";
}

/// The set-up error after so much depth and backlash.
export const errorAfter = (model, deeper, more) =>
    model.error.map((value, i) => value + deeper * model.per_deeper[i] + more * model.per_more[i]);

/// A game so far, as the server tells it but for the sketches: each state has its set-up error instead.
export function gameStates(data, game) {
    const { model, steps_mm, costs_h, table, move_words } = data.game;
    let deeper = 0,
        more = 0,
        hours = 0;
    const stateNow = (words) => {
        const row = place(table.good, deeper, steps_mm.depth),
            column = place(table.inside, more, steps_mm.backlash);
        if (table.good[row] === undefined || table.inside[column] === undefined)
            throw new Error(say("page.no-shims-that-far"));
        return {
            words,
            hours,
            backlash_mm: data.game.backlash_mm + more,
            backlash_inside: table.inside[column] === "1",
            good: table.good[row][column] === "1",
            error: errorAfter(model, deeper, more),
        };
    };
    const states = [stateNow("")];
    for (const move of game.moves) {
        deeper += move.deeper_mm;
        more += move.more_backlash_mm;
        hours += costs_h.trial + (move.deeper_mm !== 0 ? costs_h.pinion_shim : 0) + costs_h.ring_gear;
        const words = [
            move_words.depth[place(move_words.depth, move.deeper_mm, steps_mm.depth)],
            move_words.backlash[place(move_words.backlash, move.more_backlash_mm, steps_mm.backlash)],
        ];
        states.push(stateNow(words.filter(Boolean).join(", ")));
    }
    return states;
}
