# SPDX-FileCopyrightText: 2026 Shimsight developers
# SPDX-License-Identifier: MIT
"""Flat things that are no gear: labels, text, tables, dials, tiles, shelves, brickwork, grilles, seen at a slant."""
import math

import cv2
import numpy as np

import data

_FONTS = [cv2.FONT_HERSHEY_SIMPLEX, cv2.FONT_HERSHEY_DUPLEX, cv2.FONT_HERSHEY_COMPLEX, cv2.FONT_HERSHEY_TRIPLEX,
          cv2.FONT_HERSHEY_SCRIPT_COMPLEX]


def _colour(random):
    grey = random.uniform(0, 255)
    return tuple(float(c) for c in np.clip(grey + random.uniform(0, 90) * random.standard_normal(3), 0, 255))


def _letters(random, count):
    return "".join(random.choice(list("ABCDEFGHIJKLMNOPRSTUVWXYZabcdefghiklmnoprstuvwxyz0123456789 .,-/")) for _ in range(count))


def _text(canvas, random):
    h, w = canvas.shape[:2]
    size, ink = random.uniform(0.4, 2.6), _colour(random)
    step, y = int(32 * size), int(30 * size)
    font, thick = _FONTS[random.integers(len(_FONTS))], int(random.integers(1, 1 + max(2, int(3 * size))))
    while y < h:
        cv2.putText(canvas, _letters(random, int(random.integers(3, 40))), (int(random.integers(0, w // 3)), y), font, size, ink, thick, cv2.LINE_AA)
        y += step


def _table(canvas, random):
    h, w = canvas.shape[:2]
    ink, dx, dy = _colour(random), int(random.integers(12, 120)), int(random.integers(10, 70))
    for x in range(0, w, dx):
        cv2.line(canvas, (x, 0), (x, h), ink, int(random.integers(1, 4)))
    for y in range(0, h, dy):
        cv2.line(canvas, (0, y), (w, y), ink, int(random.integers(1, 4)))
        cv2.putText(canvas, _letters(random, 30), (4, y - 4), _FONTS[0], dy / 45, ink, 1, cv2.LINE_AA)


def _bars(canvas, random):
    h, w = canvas.shape[:2]
    x = 0
    while x < w:
        wide = int(random.integers(2, 30))
        cv2.rectangle(canvas, (x, int(0.2 * h)), (x + wide, int(0.8 * h)), _colour(random) if random.random() < 0.3 else (10, 10, 10), -1)
        x += wide + int(random.integers(2, 30))


def _tiles(canvas, random):
    h, w = canvas.shape[:2]
    dx, dy, joint = int(random.integers(14, 140)), int(random.integers(12, 120)), int(random.integers(1, 8))
    shift = random.random() < 0.5
    one, other = np.array(_colour(random)), np.array(_colour(random))
    for j, y in enumerate(range(0, h, dy)):
        for x in range(-dx, w, dx):
            tone = (one if random.random() < 0.8 else other) + random.normal(0, 12)
            left = x + (dx // 2 if shift and j % 2 else 0)
            cv2.rectangle(canvas, (left, y), (left + dx - joint, y + dy - joint), tuple(np.clip(tone, 0, 255).tolist()), -1)


def _shelf(canvas, random):
    h, w = canvas.shape[:2]
    y = 0
    while y < h:
        high, x = int(random.integers(30, 130)), 0
        wood = _colour(random)
        while x < w:
            wide, tall = int(random.integers(8, 70)), int(high * random.uniform(0.4, 0.95))
            tone = _colour(random)
            if random.random() < 0.6:
                for k in range(wide):  # round: darker to the sides
                    shade = math.sqrt(max(0.05, 1 - (2 * k / wide - 1) ** 2))
                    cv2.line(canvas, (x + k, y + high - tall), (x + k, y + high), tuple(c * shade for c in tone), 1)
            else:
                cv2.rectangle(canvas, (x, y + high - tall), (x + wide, y + high), tone, -1)
                cv2.putText(canvas, _letters(random, 3), (x + 2, y + high - tall // 2), _FONTS[0], wide / 60, _colour(random), 1, cv2.LINE_AA)
            x += wide + int(random.integers(0, 12))
        cv2.rectangle(canvas, (0, y + high), (w, y + high + 8), wood, -1)
        y += high + 8


def _dial(canvas, random):
    h, w = canvas.shape[:2]
    centre, radius = (int(random.uniform(0.2, 0.8) * w), int(random.uniform(0.2, 0.8) * h)), int(random.uniform(0.25, 0.6) * h)
    cv2.circle(canvas, centre, radius, _colour(random), -1, cv2.LINE_AA)
    ink, marks, turn = _colour(random), int(random.integers(12, 120)), random.uniform(0, 6.28)
    inner, thick = random.uniform(0.5, 0.9), int(random.integers(1, 7))
    slant = random.uniform(-0.5, 0.5) if random.random() < 0.4 else 0.0
    for k in range(marks):
        a = turn + 2 * math.pi * k / marks
        one = (int(centre[0] + 0.97 * radius * math.cos(a)), int(centre[1] + 0.97 * radius * math.sin(a)))
        two = (int(centre[0] + inner * radius * math.cos(a + slant)), int(centre[1] + inner * radius * math.sin(a + slant)))
        cv2.line(canvas, one, two, ink, thick, cv2.LINE_AA)


def _slats(canvas, random):
    h, w = canvas.shape[:2]
    pitch, share = int(random.integers(8, 60)), random.uniform(0.2, 0.8)
    light, dark = np.array(_colour(random)), np.array(_colour(random)) * 0.4
    bend, slope = random.uniform(-60, 60), random.uniform(-0.6, 0.6)
    x = np.arange(w)[None].repeat(h, 0) + bend * np.sin(np.arange(h)[:, None] / h * 3) + slope * np.arange(h)[:, None]
    phase = (x % pitch) / pitch
    ramp = np.clip(phase / share, 0, 1)
    canvas[:] = np.where((phase < share)[..., None], light * (0.5 + 0.5 * ramp[..., None]), dark).clip(0, 255).astype(np.uint8)


def _scatter(canvas, random):
    """Nuts, washers, leaves: many alike, anyhow."""
    h, w = canvas.shape[:2]
    size, corners, filled = random.uniform(6, 40), int(random.integers(3, 12)), random.random() < 0.6
    for _ in range(int(random.integers(30, 300))):
        x, y, r, turn = random.uniform(0, w), random.uniform(0, h), size * random.uniform(0.6, 1.2), random.uniform(0, 6.28)
        a = turn + np.arange(corners) * 2 * math.pi / corners
        ring = np.stack([x + r * np.cos(a), y + random.uniform(0.3, 1) * r * np.sin(a)], 1).astype(np.int32)
        if filled:
            cv2.fillPoly(canvas, [ring], _colour(random), cv2.LINE_AA)
        cv2.polylines(canvas, [ring], True, _colour(random), int(random.integers(1, 4)), cv2.LINE_AA)


def one(random):
    h, w = 480, 640
    canvas = np.empty((h, w, 3), np.uint8)
    canvas[:] = np.array(_colour(random)).astype(np.uint8)
    makers = [_text, _table, _bars, _tiles, _shelf, _dial, _slats, _scatter]
    for _ in range(int(random.integers(1, 3))):
        makers[random.integers(len(makers))](canvas, random)
    corners = np.float32([[0, 0], [w, 0], [w, h], [0, h]])
    turn, slant = random.uniform(0, 2 * math.pi) if random.random() < 0.5 else random.normal(0, 0.2), random.uniform(0, 110)
    middle = np.float32([w / 2, h / 2])
    spin = np.float32([[math.cos(turn), -math.sin(turn)], [math.sin(turn), math.cos(turn)]])
    moved = ((corners - middle) * np.float32(random.uniform(0.6, 1.6))) @ spin.T + np.float32([data.WIDTH / 2, data.HEIGHT / 2])
    moved += random.uniform(-1, 1, (4, 2)).astype(np.float32) * slant
    sheet = cv2.warpPerspective(canvas, cv2.getPerspectiveTransform(corners, moved.astype(np.float32)), (data.WIDTH, data.HEIGHT),
                                flags=cv2.INTER_AREA, borderMode=cv2.BORDER_CONSTANT, borderValue=_colour(random)).astype(np.float32)
    shade = cv2.resize(random.uniform(0.5, 1.3, (3, 4)).astype(np.float32), (data.WIDTH, data.HEIGHT), interpolation=cv2.INTER_CUBIC)
    return (sheet * shade[..., None] + random.normal(0, 4, sheet.shape)).clip(0, 255).astype(np.uint8)


def bank(count, seed):
    random = np.random.default_rng(seed)
    return np.stack([one(random) for _ in range(count)]).transpose(0, 3, 1, 2).copy()
