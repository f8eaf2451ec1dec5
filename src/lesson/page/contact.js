// The fast contact model of the program, cell by cell, as in ToothContact::predict (tooth_contact.h tells what the
// numbers are). No page in here: the test runs this file under Node.
var contact = {
    columns: 64,
    rows: 32,
    phases: 24,
    fadeStart: 0.85,
    fadeEnd: 1.15,
    // A mark runs off an edge that it covers by more than this, as in pattern.cpp.
    runsOffShare: 0.1,
    // The program works in single precision, and folds phases after adding this many pitches: a cell on the border of two
    // phases must fall to the same side here.
    manyPitches: 1000,
    // What stands in place of a slider that a page leaves out.
    right: { depth: 0, offset: 0, shaft: 0, film: 1, crown: 1, bias: 0 },

    floats(base64) {
        var text = typeof atob === "function" ? atob(base64) : Buffer.from(base64, "base64").toString("binary");
        var bytes = new Uint8Array(text.length);
        for (var k = 0; k < text.length; ++k) bytes[k] = text.charCodeAt(k);
        return new Float32Array(bytes.buffer);
    },

    // The rates of one flank as they stand in the page, decoded.
    flank(rates) {
        var columns = contact.columns,
            rows = contact.rows;
        return {
            perUnit: rates.per_unit.map(contact.floats),
            delay: rates.delay_per_unit.map(contact.floats),
            lever: contact.floats(rates.lever),
            phase: contact.floats(rates.phase_at_rest),
            slideLength: rates.slide_length,
            slideProfile: rates.slide_profile,
            rotation: new Float32Array(columns * rows),
            share: new Float32Array(columns * rows),
            whole: new Uint8Array(columns * rows),
            separation: new Float32Array(columns * rows),
        };
    },

    // A phase in which no cell comes into mesh takes its neighbours' value.
    fillEmpty(values) {
        var phases = contact.phases;
        for (var k = 0; k < phases; ++k) {
            for (var step = 1; values[k] === Infinity && step < phases; ++step)
                values[k] = Math.min(values[(k + step) % phases], values[(k + phases - step) % phases]);
        }
    },

    // Values at the borders of the phases: the mean of both neighbours.
    borders(values) {
        var phases = contact.phases;
        var at = new Float32Array(phases + 1);
        for (var k = 0; k < phases; ++k) at[k] = 0.5 * (values[k] + values[(k + phases - 1) % phases]);
        at[phases] = at[0];
        return at;
    },

    // error: [depth mm, ring mm, offset mm, shaft angle rad]; m: the modification as in a gear-set file.
    separation(f, error, m) {
        var columns = contact.columns,
            rows = contact.rows,
            phases = contact.phases;
        var slide = (by) => by[0] * error[0] + by[1] * error[1] + by[2] * error[2] + by[3] * error[3];
        var lengthShift = m.length_shift - slide(f.slideLength),
            profileShift = m.profile_shift - slide(f.slideProfile);
        var p = f.perUnit,
            d = f.delay,
            c,
            i,
            j,
            k;
        for (j = 0; j < rows; ++j) {
            var h = 2 * ((j + 0.5) / rows - 0.5 - profileShift);
            var high = 1e-3 * m.profile_crown_um * h * h;
            for (i = 0; i < columns; ++i) {
                var s = 2 * ((i + 0.5) / columns - 0.5 - lengthShift);
                c = j * columns + i;
                var gap =
                    1e-3 * (m.length_crown_um * s * s + m.bias_um * s * h) +
                    high +
                    error[0] * p[0][c] +
                    error[1] * p[1][c] +
                    error[2] * p[2][c] +
                    error[3] * p[3][c];
                f.rotation[c] = gap / f.lever[c];
                var turned = f.phase[c];
                for (k = 0; k < 4; ++k) turned = Math.fround(turned + Math.fround(Math.fround(error[k]) * d[k][c]));
                turned = Math.fround(turned + contact.manyPitches * phases);
                var whole = Math.floor(turned);
                f.share[c] = turned - whole;
                f.whole[c] = whole % phases;
            }
        }
        var smallest = new Float32Array(phases).fill(Infinity),
            rest = new Float32Array(phases).fill(Infinity);
        for (c = 0; c < columns * rows; ++c)
            if (f.rotation[c] < smallest[f.whole[c]]) smallest[f.whole[c]] = f.rotation[c];
        contact.fillEmpty(smallest);
        var node = contact.borders(smallest);
        for (c = 0; c < columns * rows; ++c) {
            k = f.whole[c];
            f.separation[c] = f.rotation[c] - (node[k] + f.share[c] * (node[k + 1] - node[k]));
            if (f.separation[c] < rest[k]) rest[k] = f.separation[c];
        }
        contact.fillEmpty(rest);
        var shift = contact.borders(rest);
        for (c = 0; c < columns * rows; ++c) {
            k = f.whole[c];
            f.separation[c] = (f.separation[c] - (shift[k] + f.share[c] * (shift[k + 1] - shift[k]))) * f.lever[c];
        }
        return f.separation;
    },

    mark(separationMm, filmMm) {
        var value = (contact.fadeEnd * filmMm - separationMm) / ((contact.fadeEnd - contact.fadeStart) * filmMm);
        return value < 0 ? 0 : value > 1 ? 1 : value;
    },

    quantile(sums, total, share) {
        for (var i = 0, below = 0; i < sums.length; below += sums[i], ++i)
            if (below + sums[i] >= share * total && sums[i] > 0)
                return (i + (share * total - below) / sums[i]) / sums.length;
        return 1;
    },

    // As measurePattern: the numbers that the page shows. null: no mark.
    pattern(grid) {
        var columns = contact.columns,
            rows = contact.rows;
        var along = new Float64Array(columns),
            up = new Float64Array(rows),
            total = 0,
            u = 0,
            v = 0;
        for (var j = 0; j < rows; ++j) {
            for (var i = 0; i < columns; ++i) {
                var value = grid[j * columns + i];
                along[i] += value;
                up[j] += value;
                total += value;
                u += value * i;
                v += value * j;
            }
        }
        if (!(total / (columns * rows) >= 0.002)) return null;
        var sum = (list, from, count) => {
            for (var n = 0, s = 0; n < count; ++n) s += list[from + n];
            return s;
        };
        return {
            toeHeel: (u / total + 0.5) / columns,
            rootTip: (v / total + 0.5) / rows,
            area: total / (columns * rows),
            length: contact.quantile(along, total, 0.99) - contact.quantile(along, total, 0.01),
            height: contact.quantile(up, total, 0.99) - contact.quantile(up, total, 0.01),
            off: {
                toe: sum(along, 0, 2) / (2 * rows) > contact.runsOffShare,
                heel: sum(along, columns - 2, 2) / (2 * rows) > contact.runsOffShare,
                tip: sum(up, rows - 2, 2) / (2 * columns) > contact.runsOffShare,
                root: sum(up, 0, 2) / (2 * columns) > contact.runsOffShare,
            },
        };
    },

    predict(f, error, m, filmMm) {
        var columns = contact.columns,
            rows = contact.rows;
        var s = contact.separation(f, error, m),
            grid = new Float32Array(columns * rows);
        for (var c = 0; c < grid.length; ++c) grid[c] = contact.mark(s[c], filmMm);
        return grid;
    },

    // A setting in a mechanic's terms (depth, offset and the wished `backlash` in mm, shaft angle in degrees) as what
    // the model takes: the ring gear goes where depth, offset and shaft angle give that backlash.
    setting(set, filmMm, now) {
        var rates = set.backlash_rates,
            middle = 0.5 * (set.limits_backlash_mm[0] + set.limits_backlash_mm[1]);
        var shaft = (now.shaft * Math.PI) / 180;
        var ring =
            (rates.per_offset * now.offset +
                rates.per_shaft_angle * shaft -
                rates.per_depth * now.depth -
                (now.backlash - middle)) /
            rates.per_ring_move;
        var modification = {};
        ["drive", "coast"].forEach((side) => {
            var m = (modification[side] = Object.assign({}, set.modification[side]));
            m.length_crown_um *= now.crown;
            m.profile_crown_um *= now.crown;
            m.bias_um += now.bias;
        });
        return {
            error: [now.depth, ring, now.offset, shaft],
            modification: modification,
            filmMm: filmMm * now.film,
        };
    },
};
if (typeof module === "object") module.exports = contact;
