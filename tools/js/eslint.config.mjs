// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// Rules for the JavaScript of the pages and of the tests. Format is prettier's matter (.prettierrc.json).
import js from "@eslint/js";
import globals from "globals";

// Scripts of pages of one file each define a name in the page and use those of the scripts before them.
const PAGE_NAMES = [
    "Three",
    "contact",
    "flankCanvas",
    "flankWords",
    "lengths",
    "lessonFigures",
    "lessonWords",
    "liveTooth",
    "marking",
];
const pageGlobals = Object.fromEntries(PAGE_NAMES.map((name) => [name, "writable"]));
const unused = { args: "after-used", caughtErrors: "none" };

export default [
    { ignores: ["**/three.js", "**/node_modules/**", "build/**"] },
    js.configs.recommended,
    {
        rules: {
            eqeqeq: "error",
            "no-redeclare": ["error", { builtinGlobals: false }],
            "no-unused-vars": ["error", unused],
        },
    },
    {
        files: ["src/server/page/*.js", "src/training/page/*.js"],
        languageOptions: { sourceType: "module", globals: globals.browser },
    },
    {
        // The contact model also runs under Node, in the tests.
        files: ["src/lesson/page/*.js", "src/review/page/*.js"],
        languageOptions: {
            sourceType: "script",
            globals: { ...globals.browser, ...pageGlobals, module: "readonly", Buffer: "readonly" },
        },
        rules: { "no-unused-vars": ["error", { ...unused, varsIgnorePattern: `^(${PAGE_NAMES.join("|")})$` }] },
    },
    { files: ["src/lesson/page/lengths.js"], languageOptions: { sourceType: "module" } },
    {
        files: ["tests/browser/*.mjs", "tools/**/*.js", "tools/**/*.mjs"],
        languageOptions: { globals: { ...globals.node, ...globals.browser, axe: "readonly" } },
    },
    { files: ["tests/unit/**/*.js"], languageOptions: { sourceType: "commonjs", globals: globals.node } },
];
