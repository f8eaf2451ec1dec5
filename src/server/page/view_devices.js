// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// Who is paired with the shop's computer; seen and changed on that computer alone.
import { h, note, write } from "./dom.js";
import * as api from "./api.js";
import * as units from "./units.js";
import { say } from "./words.js";

/// Where the browser keeps what the pairing address said of the certificate.
export const FINGERPRINT = "shimsight-fingerprint";

/// To compare with what the browser shows of this page's certificate; null where nothing is encrypted.
function fingerprintPart() {
    const digits = localStorage.getItem(FINGERPRINT);
    if (location.protocol !== "https:" || !digits) return null;
    return [
        h("h2", {}, say("page.certificate")),
        h("p", {}, say("page.compare-certificate")),
        // Lines end between two pairs.
        h(
            "p",
            { class: "address" },
            [...digits.toUpperCase().matchAll(/../g)].map(([pair], i) => [i ? [":", h("wbr")] : null, pair]),
        ),
    ];
}

export async function devicesView() {
    const back = ["#/", say("page.jobs")],
        title = say("page.devices");
    let state;
    try {
        state = await api.get("/api/devices");
    } catch (problem) {
        if (problem.status !== 403) throw problem;
        return { title, back, body: [h("h1", {}, title), note("", problem.message), fingerprintPart()] };
    }
    const list = h("ul", { class: "plain" }),
        told = h("div", { role: "status" }),
        address = h("p", { class: "address" });
    const line = (one) =>
        h(
            "li",
            { class: "sheet putback" },
            h(
                "span",
                {},
                h("strong", {}, one.name || say("page.unnamed-device")),
                h(
                    "span",
                    { class: "quiet small block" },
                    say("page.paired-and-seen", units.when(one.paired_at), units.when(one.seen_at)),
                ),
            ),
            h(
                "button",
                {
                    class: "act less",
                    type: "button",
                    async onclick() {
                        show(await api.remove(`/api/devices/${one.id}`));
                        told.replaceChildren(
                            note("good", say("page.device-away", one.name || say("page.unnamed-device"))),
                        );
                    },
                },
                say("page.send-device-away"),
            ),
        );
    function show({ devices, code }) {
        list.replaceChildren(
            ...(devices.length ? devices.map(line) : [h("li", { class: "quiet" }, say("page.no-devices"))]),
        );
        const print = location.protocol === "https:" ? localStorage.getItem(FINGERPRINT) : null;
        write(address, `${location.origin}/#${code}${print ? `-${print}` : ""}`);
    }
    show(state);
    return {
        title,
        back,
        body: [
            h("h1", {}, title),
            h("p", {}, say("page.devices-intro")),
            told,
            list,
            h("h2", {}, say("page.pair-address")),
            address,
            h(
                "button",
                {
                    class: "act less wide",
                    type: "button",
                    async onclick() {
                        show(await api.post("/api/devices/code", {}));
                        told.replaceChildren(note("good", say("page.code-renewed")));
                    },
                },
                say("page.renew-code"),
            ),
            fingerprintPart(),
        ],
    };
}
