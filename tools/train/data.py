# SPDX-FileCopyrightText: 2026 Shimsight developers
# SPDX-License-Identifier: MIT
"""Shards of make_training_set, kept whole on the GPU and grown while they are still being written."""
import pathlib
import threading
import time

import cv2
import numpy as np
import torch

WIDTH, HEIGHT = 512, 384
PIXELS = WIDTH * HEIGHT
TEETH, NOTES = 64, 16
RECORD = 7 * PIXELS + 4 * 4 * TEETH + NOTES
NO_TOOTH = 255


def coordinate(byte):
    """u or v from its byte, as tools/make_training_set.cpp writes it."""
    return byte.float() / 255 * 1.2 - 0.1


def photo_bank(folder, held_out, seed=1):
    """Photos without a gear, n x 3 x h x w bytes: of every eight files the last is held out of training. Those to train
    on come twice, once as a closer cut."""
    random, bank = np.random.default_rng(seed), []
    for k, file in enumerate(sorted(pathlib.Path(folder).glob("*.jpg"))):
        if (k % 8 == 7) != held_out:
            continue
        photo = cv2.imread(str(file))[:, :, ::-1]
        for zoom in (1.0,) if held_out else (1.0, random.uniform(0.45, 0.8)):
            h, w = photo.shape[:2]
            scale = min(w / WIDTH, h / HEIGHT) * zoom
            cut_w, cut_h = int(WIDTH * scale), int(HEIGHT * scale)
            x, y = (int(random.integers(0, d + 1)) for d in (w - cut_w, h - cut_h))
            bank.append(cv2.resize(photo[y:y + cut_h, x:x + cut_w], (WIDTH, HEIGHT), interpolation=cv2.INTER_AREA if scale > 1 else cv2.INTER_LINEAR))
    return torch.from_numpy(np.stack(bank).transpose(0, 3, 1, 2).copy())


def of_photos(bank, device):
    """Photos without a gear as Pictures, for validation."""
    pictures = Pictures("", len(bank), device)
    pictures.rgb[:] = bank.to(device)
    pictures.labels[:] = 0
    pictures.labels[:, 3] = NO_TOOTH
    pictures.centres[:] = float("nan")
    pictures.count = len(bank)
    return pictures


class Pictures:
    """rgb: n x 3 x h x w bytes; labels: n x 4 x h x w bytes (class, u, v, tooth); centres: n x 64 x 2 x 2; hasGear: n."""

    def __init__(self, folder, room, device):
        self.folder, self.device, self.room = pathlib.Path(folder), device, room
        self.rgb = torch.empty(room, 3, HEIGHT, WIDTH, dtype=torch.uint8, device=device)
        self.labels = torch.empty(room, 4, HEIGHT, WIDTH, dtype=torch.uint8, device=device)
        self.centres = torch.empty(room, TEETH, 2, 2, device=device)
        self.notes = torch.zeros(room, NOTES, dtype=torch.uint8)
        self.count = 0
        self.taken = set()
        self.plain = []  # pictures without gear
        self.prints = None  # flat printed things, n x 3 x h x w bytes
        self.photos = None  # real photos without a gear, the same
        self.stopped = False

    def look(self):
        """Takes in the shards that are new. Returns how many."""
        fresh = sorted(f for f in self.folder.glob("*.raw") if f.name not in self.taken)
        for file in fresh:
            if self.count >= self.room or self.stopped:
                break
            raw = np.fromfile(file, np.uint8).reshape(-1, RECORD)[: self.room - self.count]
            self.taken.add(file.name)
            n, at = len(raw), self.count
            block = torch.from_numpy(raw)
            self.rgb[at:at + n] = block[:, :3 * PIXELS].to(self.device).view(n, HEIGHT, WIDTH, 3).permute(0, 3, 1, 2)
            self.labels[at:at + n] = block[:, 3 * PIXELS:7 * PIXELS].to(self.device).view(n, 4, HEIGHT, WIDTH)
            tail = np.ascontiguousarray(raw[:, 7 * PIXELS:7 * PIXELS + 16 * TEETH]).view("<f4").reshape(n, TEETH, 2, 2)
            self.centres[at:at + n] = torch.from_numpy(tail.copy()).to(self.device)
            self.notes[at:at + n] = block[:, 7 * PIXELS + 16 * TEETH:]
            if self.device.type == "cuda":
                torch.cuda.synchronize(self.device)
            self.plain += [at + k for k in range(n) if int(raw[k, 7 * PIXELS + 16 * TEETH]) == 0]
            self.count = at + n
        return len(fresh)

    def watch(self):
        """Goes on looking from a thread of its own."""
        def work():
            while not self.stopped:
                self.look()
                time.sleep(2)
        thread = threading.Thread(target=work, daemon=True)
        thread.start()
        return thread
