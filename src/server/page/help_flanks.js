// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// Where the flanks lie in the help pictures. Written by tools/make_help_pictures.cpp.
export const HELP_FLANKS = {
    drive: {
        width: 560,
        height: 420,
        flanks: [
            [
                [168, 184],
                [175, 197],
                [297, 145],
                [281, 124],
            ],
            [
                [197, 201],
                [205, 215],
                [324, 178],
                [308, 156],
            ],
            [
                [221, 220],
                [229, 234],
                [340, 209],
                [326, 186],
            ],
            [
                [238, 239],
                [246, 253],
                [348, 239],
                [335, 216],
            ],
        ],
    },
    coast: {
        width: 560,
        height: 420,
        flanks: [
            [
                [368, 232],
                [379, 254],
                [228, 268],
                [214, 223],
            ],
            [
                [354, 199],
                [363, 221],
                [209, 213],
                [199, 168],
            ],
            [
                [345, 160],
                [352, 182],
                [197, 150],
                [191, 105],
            ],
        ],
    },
};
