// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// Watches while the page opens. Where one of its files does not come (the shop computer was too busy, the connection
// dropped), nothing of the page could say so: this script belongs to none of its modules, and its words stand in
// index.html. It says what happened, and loads the page anew, by itself and by a button.
{
    /// Between one try and the next, seconds; the last one again and again.
    const WAITS_S = [1, 2, 4, 8, 15, 30];
    /// Whoever waits for so long is told that it takes its time.
    const SLOW_MS = 15000;
    /// A page without its looks works: its looks are asked for again this often.
    const LOOKS_TRIES = 5;
    const TRIES = "shimsight-opening";

    const part = (name) => document.getElementById(`unopened${name}`);
    let slow = 0,
        again = 0;
    const triedBefore = () => {
        try {
            return Number(sessionStorage.getItem(TRIES)) || 0;
        } catch (problem) {
            return WAITS_S.length; // A browser that keeps nothing: the longest wait, each time.
        }
    };
    const remember = (tries) => {
        try {
            sessionStorage.setItem(TRIES, String(tries));
        } catch (problem) {
            // As above.
        }
    };
    const reload = () => {
        clearTimeout(again);
        location.reload();
    };

    /// Shows one of the reasons; nothing once the page itself is shown, which has taken the place of these words.
    const tell = (reason) => {
        if (!part("")) return false;
        part("").hidden = false;
        part("-yet").hidden = true;
        for (const one of ["-missing", "-slow", "-old"]) part(one).hidden = one !== reason;
        part("-act").onclick = reload;
        return true;
    };
    const missing = () => {
        if (document.readyState === "loading") {
            document.addEventListener("DOMContentLoaded", missing);
            return;
        }
        if (again || !tell("-missing")) return;
        const tries = triedBefore();
        remember(tries + 1);
        again = setTimeout(reload, 1000 * WAITS_S[Math.min(tries, WAITS_S.length - 1)]);
        window.addEventListener("online", reload);
    };
    const looksAgain = (link) => {
        const tries = Number(link.getAttribute("data-tries")) || 0;
        if (tries >= LOOKS_TRIES) return;
        const next = link.cloneNode();
        next.setAttribute("data-tries", String(tries + 1));
        setTimeout(() => link.replaceWith(next), 1000 * WAITS_S[tries]);
    };

    window.addEventListener(
        "error",
        (event) => {
            const { target } = event;
            if (target instanceof HTMLScriptElement) missing();
            else if (target instanceof HTMLLinkElement && target.rel === "stylesheet") looksAgain(target);
            // A script that came and cannot run.
            else if (target === window) tell("-old");
        },
        true,
    );
    slow = setTimeout(() => tell("-slow"), SLOW_MS);
    window.addEventListener("load", () => {
        clearTimeout(slow);
        if (!again) remember(0);
    });
}
