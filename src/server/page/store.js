// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// What was entered and not sent yet, kept by the browser: it outlives a page, a tab, a reload and an empty battery.
// Where the browser keeps nothing (a private window), it lasts as long as the page.

const DATABASE = "shimsight",
    STORES = ["drafts", "photos"];
const memory = new Map(STORES.map((name) => [name, new Map()]));
/// A database that does not answer for so long is done without: nobody waits for it before a page that the shop computer
/// has ready. What was to be put there still gets there when it answers.
const PATIENCE_MS = 4000,
    PATIENCE_WITH_SILENT_MS = 200;
let silent = false;

function inTime(answer) {
    let waiting;
    const patience = new Promise((_, failed) => {
        waiting = setTimeout(
            () => {
                silent = true;
                failed(new Error("silent"));
            },
            silent ? PATIENCE_WITH_SILENT_MS : PATIENCE_MS,
        );
    });
    answer
        .then(() => (silent = false))
        .catch(() => {})
        .finally(() => clearTimeout(waiting));
    return Promise.race([answer, patience]);
}

const opened = new Promise((done) => {
    let request;
    try {
        request = indexedDB.open(DATABASE, 1);
    } catch {
        done(null);
        return;
    }
    request.onupgradeneeded = () => STORES.forEach((name) => request.result.createObjectStore(name));
    request.onsuccess = () => done(request.result);
    request.onerror = () => done(null);
    request.onblocked = () => done(null);
});

async function transact(store, mode, what) {
    const database = await opened;
    if (!database) return undefined;
    return new Promise((done, failed) => {
        const transaction = database.transaction(store, mode);
        const request = what(transaction.objectStore(store));
        transaction.oncomplete = () => done(request.result);
        transaction.onerror = transaction.onabort = () => failed(transaction.error);
    });
}
const ask = (store, mode, what) => inTime(transact(store, mode, what));

/// `store`: "drafts" or "photos". undefined: nothing is kept under this key.
export async function get(store, key) {
    if (memory.get(store).has(key)) return memory.get(store).get(key);
    try {
        return await ask(store, "readonly", (objects) => objects.get(key));
    } catch {
        return undefined;
    }
}

/// Kept at once for this page; on the disk soon after.
export async function put(store, key, value) {
    memory.get(store).set(key, value);
    try {
        await ask(store, "readwrite", (objects) => objects.put(value, key));
    } catch {
        // A full disk, a silent database, or a browser that keeps nothing: it stays in memory.
    }
}

export async function remove(store, key) {
    memory.get(store).delete(key);
    try {
        await ask(store, "readwrite", (objects) => objects.delete(key));
    } catch {
        // As above.
    }
}
