// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// The way to the server. Every change bears an id made here, so that a retry never doubles it.
import { say } from "./words.js";

const TOKEN = "shimsight-token";
const RETRIES = 8,
    FIRST_WAIT_MS = 400,
    MAX_WAIT_MS = 4000,
    TASK_POLL_MS = 400,
    GIVE_UP_MS = 10 * 60 * 1000;

export class Refused extends Error {
    constructor(status, sentence) {
        super(sentence);
        this.status = status;
    }
}

export const token = () => localStorage.getItem(TOKEN) ?? "";
export const setToken = (value) => localStorage.setItem(TOKEN, value);

export function newId() {
    const bytes = crypto.getRandomValues(new Uint8Array(16));
    return [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
}

export const pause = (ms) =>
    new Promise((done) => {
        const timer = setTimeout(finish, ms);
        function finish() {
            clearTimeout(timer);
            window.removeEventListener("online", finish);
            done();
        }
        window.addEventListener("online", finish);
    });

let lost = false;
function setLost(now) {
    if (lost === now) return;
    lost = now;
    const place = document.getElementById("connection");
    place.hidden = !now;
    place.textContent = now ? say("page.no-connection-shop-computer") : "";
}

/// One try. Throws TypeError when there is no connection, Refused with the server's sentence.
export async function once(method, path, { body, id, headers = {} } = {}) {
    const response = await fetch(path, {
        method,
        headers: {
            "X-Shimsight-Token": token(),
            ...(id ? { "X-Shimsight-Request": id } : {}),
            ...(body && !(body instanceof Blob) ? { "Content-Type": "application/json" } : {}),
            ...headers,
        },
        body: body === undefined || body instanceof Blob ? body : JSON.stringify(body),
        cache: "no-store",
        credentials: "omit",
    });
    setLost(false);
    if (response.ok || response.status === 304) return response;
    let sentence = say("page.shop-computer-did-not");
    try {
        sentence = (await response.json()).error ?? sentence;
    } catch {
        // No JSON: the sentence above stands.
    }
    throw new Refused(response.status, sentence);
}

/// Tries again while there is no connection or the server is busy.
async function patient(method, path, options = {}, tries = RETRIES) {
    for (let attempt = 0; ; ++attempt) {
        try {
            return await once(method, path, options);
        } catch (problem) {
            const busy = problem instanceof Refused && (problem.status === 429 || problem.status === 503);
            if (problem instanceof Refused && !busy) throw problem;
            if (!busy) setLost(true);
            if (attempt + 1 >= tries)
                throw problem instanceof Refused
                    ? problem
                    : new Refused(0, say("page.no-connection-shop-computer-check"));
            await pause(Math.min(MAX_WAIT_MS, FIRST_WAIT_MS * 2 ** attempt));
        }
    }
}

export const get = async (path, tries) => (await patient("GET", path, {}, tries)).json();
export const blob = async (path) => (await patient("GET", path)).blob();
export const post = async (path, body, id = newId(), tries = 20) =>
    (await patient("POST", path, { body, id }, tries)).json();
/// Sends a change that a button makes. As long as nobody knows whether it arrived it is the same change, however often the
/// button is pressed; another one as soon as what is sent is another, or an answer came. `follow` waits for what the
/// answer only announces.
export function oneChange() {
    let id = newId(),
        sent = null;
    return async (path, body, follow = (answer) => answer) => {
        const text = JSON.stringify(body);
        if (sent !== text) id = newId();
        sent = text;
        try {
            const result = await follow(await post(path, body, id));
            sent = null;
            return result;
        } catch (problem) {
            if (problem.status !== 0) sent = null;
            throw problem;
        }
    };
}
export const remove = async (path) => (await patient("DELETE", path)).json();

/// The view of a job; null when nothing changed since `tag`.
export async function jobView(id, tag, tries = tag ? 1 : RETRIES) {
    const response = await patient(
        "GET",
        `/api/jobs/${encodeURIComponent(id)}`,
        { headers: tag ? { "If-None-Match": tag } : {} },
        tries,
    );
    if (response.status === 304) return null;
    return { view: await response.json(), tag: response.headers.get("ETag") };
}

/// Waits for a trial or a document; tells `onState` how it stands.
export async function finished(task, onState = () => {}, pollMs = TASK_POLL_MS) {
    const until = Date.now() + GIVE_UP_MS;
    while (Date.now() < until) {
        const state = await get(`/api/tasks/${task}`);
        if (state.state === "done") return state.result;
        if (state.state === "failed") throw new Refused(400, state.error);
        onState(state);
        await pause(pollMs);
    }
    throw new Refused(0, say("page.takes-too-long-look"));
}

/// Sends a photo in pieces; goes on where it stopped, however often the connection drops.
export async function sendPhoto(photo, id, pieceBytes, onShare, stopped = () => false) {
    let sent = 0;
    while (sent < photo.size && !stopped()) {
        const piece = photo.slice(sent, sent + pieceBytes);
        try {
            const state = await (
                await once("PUT", `/api/uploads/${id}?offset=${sent}&size=${photo.size}`, { body: piece })
            ).json();
            sent = state.received;
        } catch (problem) {
            if (problem instanceof Refused && problem.status !== 429 && problem.status !== 503) throw problem;
            if (!(problem instanceof Refused)) setLost(true);
            await pause(1000);
            try {
                sent = (await (await once("GET", `/api/uploads/${id}`)).json()).received;
            } catch (again) {
                if (again instanceof Refused && again.status === 401) throw again;
            }
        }
        onShare(sent / photo.size);
    }
}
