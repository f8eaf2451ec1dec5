// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// Keeps the page's own files in the browser, so that it opens without a connection and shows the answers that it keeps.
// Nothing of a job goes through here: what /api says is asked for anew, and kept by the page itself (store.js).
const FILES = "shimsight-files";

const isFile = (url) =>
    url.origin === location.origin && !url.pathname.startsWith("/api/") && !url.pathname.startsWith("/documents/");

async function keep(request, answer) {
    if (answer.ok) await (await caches.open(FILES)).put(request, answer);
}

/// A shop computer that is asked too much says so, and is asked again after so many milliseconds.
const WAITS_MS = [500, 1500, 3000];
const isBusy = (answer) => answer.status === 429 || answer.status === 503;
async function patiently(request) {
    for (const wait of WAITS_MS) {
        const answer = await fetch(request.clone(), { cache: "no-store" });
        if (!isBusy(answer)) return answer;
        await new Promise((done) => setTimeout(done, wait));
    }
    return fetch(request, { cache: "no-store" });
}

/// What the shop computer has rules; the copy is for when it does not answer.
async function fresh(request) {
    try {
        const answer = await patiently(request);
        await keep(request, answer.clone());
        return answer;
    } catch (problem) {
        const kept = await caches.match(request, { ignoreSearch: true });
        if (kept) return kept;
        throw problem;
    }
}

self.addEventListener("install", () => self.skipWaiting());
self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim()));
self.addEventListener("fetch", (event) => {
    if (event.request.method === "GET" && isFile(new URL(event.request.url))) event.respondWith(fresh(event.request));
});
// What the page had loaded before this one was there.
self.addEventListener("message", (event) =>
    event.waitUntil(
        Promise.all(
            event.data.files
                .filter((file) => isFile(new URL(file)))
                .map(async (file) => keep(file, await fetch(file, { cache: "no-store" })).catch(() => {})),
        ),
    ),
);
