// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// What was done at once can be undone for a while, what was done elsewhere can be looked at: a line above the page's own
// button, on whatever page one is.
import { announce, h, write } from "./dom.js";
import { say } from "./words.js";

/// Long enough to look up from the axle.
const OFFERED_MS = 20_000;
const ROOM_PX = 8;
let ends = 0;

/// The line stands above the page's own button, however high that is: also after another page came under it.
export function aboveBar() {
    const bar = document.querySelector(".bar");
    document.getElementById("undo").style.bottom = `${(bar?.offsetHeight ?? 0) + ROOM_PX}px`;
}

/// `sentence` says what was done; the button `called` leads on by `act`, and `done` is said after it.
export function offer(sentence, called, act, done = "") {
    const place = document.getElementById("undo");
    clearTimeout(ends);
    const words = h("p", {}, sentence);
    const close = () => place.replaceChildren();
    const button = h(
        "button",
        {
            class: "act",
            type: "button",
            async onclick() {
                button.disabled = true;
                clearTimeout(ends);
                try {
                    await act();
                    close();
                    if (done) announce(done);
                } catch (fault) {
                    write(words, fault.message);
                    button.disabled = false;
                }
            },
        },
        called,
    );
    place.replaceChildren(
        h(
            "div",
            {},
            words,
            button,
            h(
                "button",
                { class: "act less", type: "button", "aria-label": say("page.close"), onclick: close },
                "\u2715",
            ),
        ),
    );
    aboveBar();
    announce(sentence);
    ends = setTimeout(close, OFFERED_MS);
}

/// `undo` does it; `sentence` says what was done.
export const offerUndo = (sentence, undo) => offer(sentence, say("page.undo"), undo, say("page.undone"));
