// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// Photos: made smaller before they travel, and shown with what was measured on them.
import { h, s } from "./dom.js";
import * as api from "./api.js";
import { say } from "./words.js";

/// Flanks are measured at 2000 pixels; some more keeps the corners sharp under the magnifier.
const LONG_SIDE = 2560,
    KEPT_BYTES = 3_000_000,
    QUALITY = 0.9;

/// The photo as it is sent: upright, at most LONG_SIDE long. What the browser cannot open goes as it is.
export async function shrunk(file) {
    if (file.size === 0) throw new Error(say("page.photo-file-empty"));
    let bitmap;
    try {
        bitmap = await createImageBitmap(file, { imageOrientation: "from-image" });
    } catch {
        return file;
    }
    const scale = LONG_SIDE / Math.max(bitmap.width, bitmap.height);
    if (scale >= 1 && file.size <= KEPT_BYTES) return file;
    const canvas = h("canvas", {});
    canvas.width = Math.round(bitmap.width * Math.min(1, scale));
    canvas.height = Math.round(bitmap.height * Math.min(1, scale));
    const context = canvas.getContext("2d");
    context.imageSmoothingQuality = "high";
    context.drawImage(bitmap, 0, 0, canvas.width, canvas.height);
    bitmap.close();
    const small = await new Promise((done) => canvas.toBlob(done, "image/jpeg", QUALITY));
    return small ?? file;
}

const urls = new Map();
/// Address of a photo of a trial within this page.
export async function photoUrl(job, trial, place) {
    const path = `/api/jobs/${encodeURIComponent(job)}/trials/${trial}/photos/${place}`;
    if (!urls.has(path))
        urls.set(
            path,
            api.blob(path).then((data) => URL.createObjectURL(data)),
        );
    try {
        return await urls.get(path);
    } catch (problem) {
        urls.delete(path);
        throw problem;
    }
}

/// What the record calls a photo that was sent as one of this side.
export const SLOT_NAMES = { drive: say("common.drive-side"), coast: say("common.coast-side") };
export const sideWords = (side) => (side === "coast" ? say("common.coast-side") : say("common.drive-side"));

function outline(corners, kind, width) {
    const points = corners.map(([x, y]) => `${x},${y}`).join(" ");
    return [
        s("polygon", { class: "flankhalo", points }),
        s("polygon", { class: `flankline of-${kind}`, points, "stroke-width": width }),
    ];
}

const middle = (corners) => [
    corners.reduce((sum, [x]) => sum + x / 4, 0),
    corners.reduce((sum, [, y]) => sum + y / 4, 0),
];

/// The flanks of a photo over it: drive solid, coast dashed, left out dotted; the toe named on the first of each side.
export function flanksOver(width, height, photo) {
    const size = Math.max(width, height) / 34;
    const shapes = photo.refused_flanks.flatMap((flank) => outline(flank.outline_px, "none"));
    const labels = [];
    const named = new Set();
    photo.flanks.forEach((flank, number) => {
        shapes.push(...outline(flank.outline_px, flank.used ? flank.side : "none"));
        const [x, y] = middle(flank.outline_px);
        labels.push(s("text", { class: "flanktext", x, y, "font-size": size }, number + 1));
        if (named.has(flank.side)) return;
        named.add(flank.side);
        const [root, tip] = flank.outline_px;
        labels.push(
            s(
                "text",
                { class: "flanktext", x: (root[0] + tip[0]) / 2, y: (root[1] + tip[1]) / 2, "font-size": size * 0.8 },
                "toe",
            ),
        );
    });
    return s("svg", { viewBox: `0 0 ${width} ${height}`, "aria-hidden": "true" }, shapes, labels);
}

function flanksMeasured(side, count) {
    if (side === "drive")
        return count === 1 ? say("page.drive-flank-read", count) : say("page.drive-flanks-read", count);
    return count === 1 ? say("page.coast-flank-read", count) : say("page.coast-flanks-read", count);
}

/// `size`: of the photo, so that it has its place before it has come; null in records of older programs.
export function photoFigure(job, trial, place, { photo, size }) {
    const shot = h("div", { class: "shot" }, h("p", { class: "waiting" }, say("page.loading-photo")));
    if (size) shot.style.aspectRatio = `${size.width} / ${size.height}`;
    const counts = ["drive", "coast"]
        .map((side) => [side, photo.flanks.filter((flank) => flank.side === side && flank.used).length])
        .filter(([, count]) => count > 0);
    const text = counts.length
        ? counts.map(([side, count]) => flanksMeasured(side, count)).join(", ")
        : say("page.nothing-read");
    photoUrl(job, trial, place)
        .then((url) => {
            const image = h("img", { src: url, alt: say("page.photo-trial", place + 1, text) });
            image.addEventListener("load", () => {
                shot.style.aspectRatio = `${image.naturalWidth} / ${image.naturalHeight}`;
                shot.replaceChildren(image, flanksOver(image.naturalWidth, image.naturalHeight, photo));
            });
            image.addEventListener("error", () =>
                shot.replaceChildren(h("p", { class: "waiting" }, say("page.browser-cannot-show-photo"))),
            );
        })
        .catch((problem) => shot.replaceChildren(h("p", { class: "waiting" }, problem.message)));
    return { element: shot, text };
}

export const lineLegend = () =>
    h(
        "ul",
        { class: "lines" },
        [
            ["drive", say("common.drive-side")],
            ["coast", say("common.coast-side")],
            ["none", say("page.left-out")],
        ].map(([kind, words]) =>
            h(
                "li",
                {},
                s(
                    "svg",
                    { viewBox: "0 0 32 10", "aria-hidden": "true" },
                    s("path", { class: `flankline of-${kind}`, d: "M0 5H32" }),
                ),
                words,
            ),
        ),
    );
