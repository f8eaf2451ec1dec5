// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// Lengths in words on every page, as lengthPair and sizePair of the program: tables hold both (tests/support/lengths.txt,
// sizes.txt).
export const MM_PER_INCH = 25.4;
const METRIC_STEP_MM = 0.01,
    SIZE_STEP_MM = 0.1,
    HALVES_BELOW_INCH = 0.1,
    SAME_STEP = 1e-3;

const isWhole = (steps) => Math.abs(steps - Math.round(steps)) < SAME_STEP;
const inchText = (halves) => `${(halves / 2000).toFixed(halves % 2 ? 4 : 3)} in`;

/// Of an amount in hundredths of a millimetre: the coarsest of thousandths and halves of them that convert back, else the
/// nearest thousandth.
function pairOfMetric(mm) {
    const metric = `${mm.toFixed(2)} mm`,
        thou = (mm / MM_PER_INCH) * 1000;
    for (const halves of [2 * Math.round(thou), Math.round(2 * thou)])
        if (Math.abs((halves / 2000) * MM_PER_INCH - mm) <= METRIC_STEP_MM / 2)
            return { inch: inchText(halves), metric, about: false };
    return { inch: inchText(2 * Math.round(thou)), metric, about: true };
}

/// {inch: "0.005 in", metric: "0.12 mm", about: whether the inches are the nearest thousandth only}
export function lengthPair(length) {
    const mm = Math.abs(length),
        halves = (mm / MM_PER_INCH) * 2000;
    let pair;
    if (isWhole(mm / METRIC_STEP_MM) && !isWhole(halves)) {
        pair = pairOfMetric(mm);
    } else {
        // Rounded once, to the step of the inches that are shown; the millimetres are those of these inches.
        const shown = mm / MM_PER_INCH < HALVES_BELOW_INCH ? Math.round(halves) : 2 * Math.round(halves / 2);
        pair = { inch: inchText(shown), metric: `${((shown / 2000) * MM_PER_INCH).toFixed(2)} mm`, about: false };
    }
    const signed = (text) => (length < 0 && Number.parseFloat(text) > 0 ? `-${text}` : text);
    return { inch: signed(pair.inch), metric: signed(pair.metric), about: pair.about };
}

/// A diameter, an offset, a face width: as lengthPair gives it, but never finer than a thousandth.
export function sizePair(mm) {
    const thou = (mm / MM_PER_INCH) * 1000,
        inch = inchText(2 * Math.round(thou)),
        fromInches = (Math.round(thou) / 1000) * MM_PER_INCH;
    if (isWhole(mm / SIZE_STEP_MM)) return { inch, metric: `${mm.toFixed(1)} mm`, about: false };
    if (isWhole(mm / METRIC_STEP_MM) && !isWhole(thou) && Math.abs(fromInches - mm) > METRIC_STEP_MM / 2)
        return { inch, metric: `${mm.toFixed(2)} mm`, about: true };
    return { inch, metric: `${fromInches.toFixed(2)} mm`, about: false };
}

/// The inches alone, "about" before them where they are about so many.
export const inches = ({ inch, about }) => (about ? `about ${inch}` : inch);

/// In the units that are wished: "in", "mm" or "both".
export function lengthWords(mm, units) {
    const pair = lengthPair(mm);
    if (units === "in") return inches(pair);
    if (units === "mm") return pair.metric;
    return pair.about ? `${pair.metric} (${inches(pair)})` : `${pair.inch} (${pair.metric})`;
}
