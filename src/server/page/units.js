// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// Lengths and torques as the bench reads and types them. The record holds millimetres and newton metres.
import { MM_PER_INCH, inches, lengthPair, sizePair } from "./lengths.js";
import { say } from "./words.js";

const NM_PER_INCH_POUND = 0.1129848,
    NM_PER_FOOT_POUND = 1.3558179;

/// What was chosen on this device; else what the page brings, which the shop wishes.
const chosen = localStorage.getItem("shimsight-unit");
let unit = (chosen ?? document.documentElement.dataset.units) === "mm" ? "mm" : "in";
export const currentUnit = () => unit;
export function setUnit(next) {
    unit = next;
    localStorage.setItem("shimsight-unit", next);
}
/// The shop's units ("in", "mm" or "both") rule as long as nobody turned the switch on this device.
export function setShopUnits(units) {
    if (localStorage.getItem("shimsight-unit") === null) unit = units === "mm" ? "mm" : "in";
}

const mmText = (mm) => lengthPair(mm).metric;
const inchText = (mm) => inches(lengthPair(mm));

// What depends on the switch is put into texts as a token, which dom.js turns into words, and again when the switch is
// turned: so no page is built anew for it, and nothing that was entered is touched.
const OPEN = "\uE000",
    CLOSE = "\uE001",
    TOKEN = /\uE000([a-z]+)\|([^\uE001]*)\uE001/g;
const token = (kind, value) => `${OPEN}${kind}|${value}${CLOSE}`;
const now = (mm) => (unit === "mm" ? mmText(mm) : inchText(mm));
const metricFirst = (mm) => unit === "mm" || lengthPair(mm).about;
const firstNow = (mm) => (metricFirst(mm) ? mmText(mm) : inchText(mm));
const secondNow = (mm) => (metricFirst(mm) ? inchText(mm) : mmText(mm));
const WORDS = {
    length: (mm) => now(Number(mm)),
    first: (mm) => firstNow(Number(mm)),
    second: (mm) => secondNow(Number(mm)),
    both: (mm) => bothNow(Number(mm)),
    bare: (mm) => bareNow(Number(mm)),
    torque: (nm) => torqueNow(Number(nm), false),
    bolts: (nm) => torqueNow(Number(nm), true),
    unit: (kind) => (kind === "length" ? unit : torqueUnit(kind === "bolts")),
    either: (texts) => texts.split("/")[unit === "mm" ? 1 : 0],
};
/// A text as it reads by the switch.
export const spelled = (text) => text.replace(TOKEN, (_, kind, value) => WORDS[kind](value));
const bareNow = (mm) => (unit === "mm" ? mmText(mm) : lengthPair(mm).inch).replace(/ .*/, "");

const INCHES_FIRST = /([+-]?[\d.]+ in) \(([+-]?[\d.]+ mm)\)/g;
/// Sentences of the program come with inches first; the switch turns each pair round.
export const turned = (text) => (unit === "mm" ? text.replace(INCHES_FIRST, "$2 ($1)") : text);
/// Whether turning the switch changes how it reads.
export const dependsOnUnit = (text) => text.includes(OPEN) || text.search(INCHES_FIRST) >= 0;

/// In the unit of the switch.
export const length = (mm) => token("length", mm);
/// The two halves of a pair, and the pair: in the unit of the switch first, but in millimetres first where the inches are
/// about so many.
export const firstLength = (mm) => token("first", mm);
export const secondLength = (mm) => token("second", mm);
export const bothLengths = (mm) => token("both", mm);
/// The number alone.
export const bareLength = (mm) => token("bare", mm);
/// The name of the unit that a field is typed in: "length", "torque" or "bolts".
export const unitName = (kind) => token("unit", kind);
/// One text where inches are on, the other where millimetres are.
export const either = (inches, millimetres) => token("either", `${inches}/${millimetres}`);
/// A ring gear's diameter, an offset: as a drawing has it. In the unit of the switch, and in both.
export const size = (mm) => either(inches(sizePair(mm)), sizePair(mm).metric);
export function bothSizes(mm) {
    const pair = sizePair(mm),
        metricFirst = `${pair.metric} (${inches(pair)})`;
    return either(pair.about ? metricFirst : `${pair.inch} (${pair.metric})`, metricFirst);
}
/// As it reads now, for what does not follow the switch by itself.
export const bothNow = (mm) => `${firstNow(mm)} (${secondNow(mm)})`;

/// A typed length in millimetres; null: empty; NaN: not understood. In inches "9" and "0.009" are the same: no shim and no
/// backlash is an inch thick.
export function parseLength(text, large = false) {
    const clean = text
        .trim()
        .replace(/\.$/, "")
        .replace(",", ".")
        .replace(/\u2212/g, "-")
        .toLowerCase();
    if (clean === "") return null;
    const match = /^([+-]?(?:\d+\.?\d*|\.\d+))\s*(mm|in|inch|"|thou)?$/.exec(clean);
    if (!match) return NaN;
    const value = Number(match[1]);
    const given = match[2] ?? unit;
    if (given === "mm") return value;
    if (given === "thou") return (value / 1000) * MM_PER_INCH;
    const thousandths = !match[2] && !large && Math.abs(value) >= 1;
    return (thousandths ? value / 1000 : value) * MM_PER_INCH;
}

/// Whether a typed length is in millimetres: by its own unit, else by the switch.
export const isMetric = (text) => {
    const own = /(mm|in|inch|"|thou)\s*\.?$/i.exec(text.trim());
    return own ? own[1].toLowerCase() === "mm" : unit === "mm";
};

/// A typed value with the unit that it was meant in, so that it stays the same when the switch is turned. "list": lengths
/// with commas between.
export function withUnit(text, kind) {
    if (kind === "list") return text.replace(/[^,;\s]+(\s*(mm|in|inch|thou|"))?/gi, (one) => withUnit(one, "length"));
    if (text.trim() === "" || /[a-z"]\s*$/i.test(text)) return text;
    if (kind === "torque" || kind === "bolts") return `${text} ${torqueUnit(kind === "bolts")}`;
    if (unit === "mm") return `${text} mm`;
    return `${text} ${kind === "length" && Math.abs(Number(text.replace(",", "."))) >= 1 ? "thou" : "in"}`;
}

/// As it is put into a field; with its unit where the one of the switch would change it.
export function typedLength(mm) {
    if (mm === null || mm === undefined) return "";
    return unit === "in" && lengthPair(mm).about ? mmText(mm) : bareNow(mm);
}

export const torqueUnit = (bolts) => (unit === "mm" ? "Nm" : bolts ? "ft-lb" : "in-lb");
export const torque = (nm, bolts) => token(bolts ? "bolts" : "torque", nm);
function torqueNow(nm, bolts) {
    const us = bolts ? `${(nm / NM_PER_FOOT_POUND).toFixed(0)} ft-lb` : `${(nm / NM_PER_INCH_POUND).toFixed(1)} in-lb`;
    const si = `${nm.toFixed(bolts ? 0 : 2)} Nm`;
    return unit === "mm" ? `${si} (${us})` : `${us} (${si})`;
}
export function parseTorque(text, bolts) {
    const clean = text.trim().replace(",", ".");
    if (clean === "") return null;
    const match = /^(\d+\.?\d*|\.\d+)\s*(nm|in-lb|ft-lb)?$/i.exec(clean);
    if (!match) return NaN;
    const given = (match[2] ?? torqueUnit(bolts)).toLowerCase();
    return Number(match[1]) * (given === "nm" ? 1 : given === "ft-lb" ? NM_PER_FOOT_POUND : NM_PER_INCH_POUND);
}

/// Nothing is quite sure.
export function percent(chance) {
    if (chance < 0.01) return say("common.under-one-percent");
    if (chance > 0.99) return say("common.over-99-percent");
    return say("common.percent", Math.round(100 * chance));
}

export function when(time) {
    const at = new Date(time);
    return Number.isNaN(at.getTime()) ? time : at.toLocaleString([], { dateStyle: "medium", timeStyle: "short" });
}
