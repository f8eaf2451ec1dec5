// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// Small drawings beside a question about a gear set: what to look at on the bench. The part that is asked about is filled.
import { s } from "./dom.js";

const shape = (d, kind = "part") => s("path", { class: kind, d });
const picture = (...parts) => s("svg", { class: "picture", viewBox: "0 0 96 64", "aria-hidden": "true" }, parts);

// The pinion lies with its head to the right; the housing wall is hatched by its heavy line.
const PINION = () => [shape("M6 27H58V37H6Z"), shape("M66 22L86 10V54L66 42Z"), shape("M58 27H66V37H58Z")];
const INNER_BEARING = () => [shape("M44 18L56 21V27H44Z"), shape("M44 46L56 43V37H44Z")];
const CUP = () => [shape("M44 12H58V18L44 14Z"), shape("M44 52H58V46L44 50Z")];
const WALL = () => [shape("M34 4V12H62", "wall"), shape("M34 60V52H62", "wall")];

export const SHIM_PLACES = {
    "behind-pinion-head": () =>
        picture(
            WALL(),
            CUP(),
            PINION(),
            INNER_BEARING(),
            shape("M58 16H63V27H58Z", "asked"),
            shape("M58 37H63V48H58Z", "asked"),
        ),
    "under-bearing-cup": () =>
        picture(
            WALL(),
            CUP(),
            PINION(),
            INNER_BEARING(),
            shape("M37 12H43V22H37Z", "asked"),
            shape("M37 42H43V52H37Z", "asked"),
        ),
    "under-pinion-support": () =>
        picture(
            PINION(),
            INNER_BEARING(),
            CUP(),
            shape("M18 4H26V20H58V12M18 60H26V44H58V52"),
            shape("M18 4V20H26M18 60V44H26"),
            shape("M27 3H31V12H27Z", "asked"),
            shape("M27 52H31V61H27Z", "asked"),
            shape("M33 2V11H62", "wall"),
            shape("M33 62V53H62", "wall"),
        ),
};

// The carrier from behind: its bearings left and right between the housing's seats, the ring gear on it.
const CARRIER = () => [shape("M32 16H62V48H32Z"), shape("M62 8H70V56H62Z"), shape("M70 12L76 16V48L70 52Z")];
const SEATS = () => [shape("M2 6V58", "wall"), shape("M94 6V58", "wall")];
export const CARRIER_SETTINGS = {
    "threaded-adjusters": () =>
        picture(
            SEATS(),
            CARRIER(),
            shape("M20 20H32V44H20Z"),
            shape("M76 20H84V44H76Z"),
            shape("M6 18H12V15H18V49H12V46H6V40H9V34H6V28H9V22H6Z", "asked"),
            shape("M92 18H88V15H85V49H88V46H92V40H90V34H92V28H90V22H92Z", "asked"),
        ),
    "carrier-shims": () =>
        picture(
            SEATS(),
            CARRIER(),
            shape("M6 18H24V46H6Z"),
            shape("M80 18H91V46H80Z"),
            shape("M26 18H31V46H26Z", "asked"),
            shape("M76 18H79V46H76Z", "asked"),
        ),
    "outboard-shims": () =>
        picture(
            SEATS(),
            CARRIER(),
            shape("M14 18H32V46H14Z"),
            shape("M76 18H86V46H76Z"),
            shape("M6 14H12V50H6Z", "asked"),
            shape("M88 14H92V50H88Z", "asked"),
        ),
};

const PINION_AT = (y) =>
    picture(
        s("circle", { class: "part", cx: 40, cy: 32, r: 26 }),
        s("circle", { class: "part", cx: 40, cy: 32, r: 15 }),
        shape("M2 32H94", "line"),
        shape(`M52 ${y - 6}H92V${y + 6}H52Z`, "asked"),
    );
export const PINION_POSITIONS = { below: () => PINION_AT(46), above: () => PINION_AT(18) };

// One tooth of the ring gear from the side, its toe at the left.
export const CUTS = {
    "face-milled": () => picture(shape("M10 52H86", "wall"), shape("M12 50L14 34L84 12L86 50Z", "asked")),
    "face-hobbed": () => picture(shape("M10 52H86", "wall"), shape("M12 50L14 22L84 22L86 50Z", "asked")),
};

/// The ring gear from the side of its teeth. Right hand: outward a tooth bends clockwise (gear makers' rule).
const SPIRAL = (turn) =>
    picture(
        s("circle", { class: "part", cx: 48, cy: 32, r: 30 }),
        s("circle", { class: "part", cx: 48, cy: 32, r: 14 }),
        Array.from({ length: 12 }, (_, i) => {
            const at = (radius, degrees) => {
                const angle = ((30 * i + degrees * turn) * Math.PI) / 180;
                return `${(48 + radius * Math.sin(angle)).toFixed(1)} ${(32 - radius * Math.cos(angle)).toFixed(1)}`;
            };
            return shape(`M${at(14, 0)}Q${at(21, 8)} ${at(30, 34)}`, "tooth");
        }),
    );
export const HANDS = { right: () => SPIRAL(1), left: () => SPIRAL(-1) };
