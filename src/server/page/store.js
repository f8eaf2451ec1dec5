// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// What was entered and not sent yet, kept by the browser: it outlives a page, a tab, a reload and an empty battery.
// Where the browser keeps nothing (a private window), it lasts as long as the page.

const DATABASE = "shimsight",
    STORES = ["drafts", "photos"];
const memory = new Map(STORES.map((name) => [name, new Map()]));

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

async function ask(store, mode, what) {
    const database = await opened;
    if (!database) return undefined;
    return new Promise((done, failed) => {
        const transaction = database.transaction(store, mode);
        const request = what(transaction.objectStore(store));
        transaction.oncomplete = () => done(request.result);
        transaction.onerror = transaction.onabort = () => failed(transaction.error);
    });
}

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
        // A full disk, or a browser that keeps nothing: it stays in memory.
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
