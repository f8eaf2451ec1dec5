// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// What a gear set says, in words: where its shims sit, and what readings should be, by the limits of the gear-set file, or what is usual where it gives none.
import * as units from "./units.js";
import { say } from "./words.js";

const SHIM_PLACES = {
    "behind-pinion-head": say("common.behind-pinion-head"),
    "under-bearing-cup": say("common.under-bearing-cup"),
    "under-pinion-support": say("common.under-pinion-support"),
};
/// Where the pinion shims of a gear set sit.
export const shimPlace = (gear) => SHIM_PLACES[gear.pinion_shim];

/// What the backlash of a trial should be: as it was before the gears came apart, or as the gear set wants it.
export function wantedBacklash({ record, gear }) {
    const former = record.before.filter((entry) => !entry.struck && entry.backlash_mm !== null).at(-1);
    if (former) return say("page.wanted-before", units.length(former.backlash_mm));
    if (record.build === "used-gears") return say("page.used-gears-before-they");
    const [low, high] = (gear.backlash_mm ?? gear.usual.backlash_mm).map(units.length);
    return say(gear.backlash_mm ? "page.wanted" : "page.usual", low, high);
}

/// The same of several places, with how much they may differ.
export function wantedRound(view) {
    const { gear } = view,
        most = gear.backlash_variation_mm;
    const variation =
        most === null
            ? say("page.usual-variation", units.bothLengths(gear.usual.backlash_variation_mm))
            : say("page.variation-at-most", units.bothLengths(most));
    return `${wantedBacklash(view)} ${variation}`;
}

export const wantedRunout = (gear) =>
    gear.ring_runout_mm === null
        ? say("page.ring-gear-usual", units.bothLengths(gear.usual.ring_runout_mm))
        : say("page.ring-gear-most", units.bothLengths(gear.ring_runout_mm));

/// A gear set's backlash in a line of its facts.
export function backlashOf(gear) {
    const [low, high] = (gear.backlash_mm ?? gear.usual.backlash_mm).map(units.length);
    return say(gear.backlash_mm ? "page.set-backlash" : "page.set-backlash-usual", low, high);
}
