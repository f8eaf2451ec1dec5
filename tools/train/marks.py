# SPDX-FileCopyrightText: 2026 Shimsight developers
# SPDX-License-Identifier: MIT
"""Trains the mark reader on shards of make_mark_set while they are being made. README.md beside this file has the command.

Writes OUT/weights.pt, OUT/mark-reader.onnx and OUT/scores.json again and again. --resume goes on from weights.pt.
"""
import argparse
import copy
import inspect
import json
import math
import pathlib
import threading
import time

import numpy as np
import torch
import torch.nn as nn
import torch.nn.functional as F

import augment
import network

WIDTH, HEIGHT = 192, 96
ROWS, COLUMNS = HEIGHT // 2, WIDTH // 2
NOTES = 16
RECORD = 3 * WIDTH * HEIGHT + 5 * ROWS * COLUMNS + NOTES
LOW_U, HIGH_U, LOW_V, HIGH_V = -0.08, 1.08, -0.25, 1.20  # as in src/flank/rectified_flank.h
HIDDEN = 0.3  # how much a hidden place of a rolled flank counts beside a seen one
PLANES = 9  # contact, compound, seen; u and v less nominal ones (tenths); bare, not rolled, wiped, transferred
STATES = ["bare", "not rolled", "wiped", "transferred"]


class MarkReader(nn.Module):
    def __init__(self, widths=(16, 24, 48, 80, 112), depths=(1, 2, 3)):
        super().__init__()
        a, b, c, d, e = widths
        conv, neck = network.ConvNorm, network.Bottleneck
        self.stem = nn.Sequential(conv(3, a, 3, 2), network.Separable(a))
        self.down4 = nn.Sequential(conv(a, b, 3, 2), neck(b, 2, 3))
        self.down8 = nn.Sequential(conv(b, c, 3, 2), *[neck(c, 2, 3) for _ in range(depths[0])])
        self.down16 = nn.Sequential(conv(c, d, 3, 2), *[neck(d, 2, 3) for _ in range(depths[1])])
        self.down32 = nn.Sequential(conv(d, e, 3, 2), *[neck(e, 2, 3) for _ in range(depths[2])], network.Gate(e))
        self.up16, self.mix16 = conv(e, d, 1, relu=False), neck(d, 2, 3)
        self.up8, self.mix8 = conv(d, c, 1, relu=False), neck(c, 2, 3)
        self.up4, self.mix4 = conv(c, b, 1, relu=False), neck(b, 2, 3)
        self.up2, self.mix2 = conv(b, a, 1, relu=False), network.Separable(a)
        self.head = nn.Conv2d(a, 5, 3, padding=1)
        self.state = nn.Conv2d(e, 4, 1)

    def forward(self, photo):
        def grown(x, scale=2.0):
            return F.interpolate(x, scale_factor=scale, mode="nearest")

        x2 = self.stem(photo)
        x4 = self.down4(x2)
        x8 = self.down8(x4)
        x16 = self.down16(x8)
        x32 = self.down32(x16)
        y16 = self.mix16(F.relu(x16 + grown(self.up16(x32))))
        y8 = self.mix8(F.relu(x8 + grown(self.up8(y16))))
        y4 = self.mix4(F.relu(x4 + grown(self.up4(y8))))
        y2 = self.mix2(F.relu(x2 + grown(self.up2(y4))))
        return torch.cat([self.head(y2), grown(self.state(x32), 16.0)], 1)


TEACHER = dict(widths=(48, 72, 144, 240, 336), depths=(2, 4, 3))  # three times as wide, deeper; grown from the small one's weights


def taught_loss(planes, guide, labels):
    """How far the planes lie from those of the teacher."""
    here, inside = (labels[:, 2] > 0.5).float(), (labels[:, 2] > 1.5).float()

    def bits(plane, weight):
        each = F.binary_cross_entropy_with_logits(planes[:, plane], torch.sigmoid(guide[:, plane]), reduction="none")
        return (each * weight).sum() / weight.sum().clamp(min=1)

    off = F.smooth_l1_loss(planes[:, 3:5], guide[:, 3:5], reduction="none", beta=0.1)
    off = (off * here[:, None]).sum() / here.sum().clamp(min=1)
    states = F.kl_div(F.log_softmax(planes[:, 5:9].mean((2, 3)), 1), F.log_softmax(guide[:, 5:9].mean((2, 3)), 1), reduction="batchmean", log_target=True)
    return bits(0, inside) + 0.2 * bits(1, here) + 0.4 * bits(2, torch.ones_like(here)) + 0.7 * off + 0.5 * states


class Learner:
    """A network, the mean of its weights over the last steps, and what moves them."""

    def __init__(self, rate, device, shape):
        self.rate = rate
        self.model, self.averaged = MarkReader(**shape).to(device), MarkReader(**shape).to(device)
        self.optimiser = torch.optim.AdamW(self.model.parameters(), lr=rate, weight_decay=0.02)
        self.ready()

    def ready(self):
        """The mean begins where the network stands."""
        self.averaged.load_state_dict(self.model.state_dict())

    def planes(self, photo):
        with torch.autocast(photo.device.type, dtype=torch.bfloat16, enabled=photo.is_cuda):
            return self.model(photo).float()

    @torch.no_grad()
    def guide(self, photo):
        with torch.autocast(photo.device.type, dtype=torch.bfloat16, enabled=photo.is_cuda):
            return self.averaged.eval()(photo).float()

    def learn(self, loss, step, share):
        for group in self.optimiser.param_groups:
            group["lr"] = self.rate * min(1.0, (step + 1) / 200) * (0.5 + 0.5 * math.cos(math.pi * share)) + 1e-6
        self.optimiser.zero_grad(set_to_none=True)
        loss.backward()
        torch.nn.utils.clip_grad_norm_(self.model.parameters(), 5.0)
        self.optimiser.step()
        with torch.no_grad():
            keep = min(0.998, (step + 1) / (step + 51))
            for a, b in zip(self.averaged.state_dict().values(), self.model.state_dict().values()):
                if a.dtype.is_floating_point:
                    a.mul_(keep).add_(b, alpha=1 - keep)
                else:
                    a.copy_(b)


def export_onnx(model, path):
    model = network.fused(copy.deepcopy(model).float().cpu().eval())
    options = dict(opset_version=12, input_names=["flank"], output_names=["marks"], do_constant_folding=True)
    if "dynamo" in inspect.signature(torch.onnx.export).parameters:
        options["dynamo"] = False
    with torch.no_grad():
        torch.onnx.export(model, torch.zeros(1, 3, HEIGHT, WIDTH), str(path), **options)
    return model


class Flanks:
    """Shards on the GPU, grown while they are being written."""

    def __init__(self, folder, room, device):
        self.folder, self.device, self.room = pathlib.Path(folder), device, room
        self.rgb = torch.empty(room, 3, HEIGHT, WIDTH, dtype=torch.uint8, device=device)
        self.labels = torch.empty(room, 5, ROWS, COLUMNS, dtype=torch.uint8, device=device)
        self.notes = torch.zeros(room, NOTES, dtype=torch.uint8, device=device)
        self.count, self.taken, self.stopped = 0, set(), False
        self.asked, self.seldom = -1, []

    def look(self):
        for file in sorted(f for f in self.folder.glob("*.raw") if f.name not in self.taken):
            if self.count >= self.room or self.stopped:
                break
            raw = np.fromfile(file, np.uint8).reshape(-1, RECORD)[: self.room - self.count]
            self.taken.add(file.name)
            n, at, p = len(raw), self.count, 3 * WIDTH * HEIGHT
            if n == 0:
                continue
            block = torch.from_numpy(raw).to(self.device)
            self.rgb[at:at + n] = block[:, :p].reshape(n, HEIGHT, WIDTH, 3).permute(0, 3, 1, 2)
            self.labels[at:at + n] = block[:, p:-NOTES].reshape(n, 5, ROWS, COLUMNS)
            self.notes[at:at + n] = block[:, -NOTES:]
            if self.device.type == "cuda":
                torch.cuda.synchronize(self.device)
            self.count = at + n

    def rare(self):
        if len(self.seldom) == 0 or self.asked != self.count:
            self.asked = self.count
            self.seldom = torch.nonzero(self.notes[:self.asked, 0] == 1).view(-1)
        return self.seldom

    def watch(self):
        def work():
            while not self.stopped:
                self.look()
                time.sleep(1)
        threading.Thread(target=work, daemon=True).start()


def nominal(device):
    u = LOW_U + (HIGH_U - LOW_U) * (torch.arange(COLUMNS, device=device) + 0.5) / COLUMNS
    v = HIGH_V - (HIGH_V - LOW_V) * (torch.arange(ROWS, device=device) + 0.5) / ROWS
    return torch.stack([u[None].expand(ROWS, COLUMNS), v[:, None].expand(ROWS, COLUMNS)])


def moved(rgb, labels, strength):
    """Mirrored, shifted and stretched a little; the labels go along."""
    n, device = len(rgb), rgb.device
    flip = torch.where(augment.chance(n, 0.5, device), -1.0, 1.0)
    some = augment.chance(n, 0.6, device).float() * strength
    sx = flip * (1 + some * augment.draw(n, -0.05, 0.05, device))
    sy = 1 + some * augment.draw(n, -0.08, 0.08, device)
    slant = some * augment.draw(n, -0.06, 0.06, device)
    tx, ty = some * augment.draw(n, -0.05, 0.05, device), some * augment.draw(n, -0.10, 0.10, device)
    zero = torch.zeros_like(sx)
    matrix = torch.stack([sx, zero, tx, slant, sy, ty], 1).view(n, 2, 3)
    picture = F.grid_sample(rgb.float() / 255, F.affine_grid(matrix, (n, 3, HEIGHT, WIDTH), align_corners=False),
                            mode="bilinear", padding_mode="border", align_corners=False)
    grid = F.affine_grid(matrix, (n, 1, ROWS, COLUMNS), align_corners=False)
    labels = F.grid_sample(labels.float(), grid, mode="nearest", padding_mode="zeros", align_corners=False)
    u = labels[:, 3] / 255 * 1.6 - 0.3
    u = torch.where(flip.view(n, 1, 1) < 0, 1 - u, u)
    return picture, torch.cat([labels[:, :3], u[:, None], (labels[:, 4:5] / 255 * 1.6 - 0.3)], 1)


def batch(flanks, index, strength):
    device = flanks.device
    n = len(index)
    picture, labels = moved(flanks.rgb[index], flanks.labels[index], strength)
    # Things in front.
    field = augment.cloud(n, 1, 3, 6, HEIGHT, WIDTH, device)
    level = torch.where(augment.chance(n, 0.12, device), augment.draw(n, 1.2, 2.2, device), torch.full((n,), 1e3, device=device))
    cover = torch.sigmoid((field - level.view(n, 1, 1, 1)) * 30)
    picture = picture * (1 - cover) + torch.rand(n, 3, 1, 1, device=device) * cover
    labels[:, 2] = torch.where(F.avg_pool2d(cover, 2)[:, 0] > 0.5, torch.zeros_like(labels[:, 2]), labels[:, 2])
    # Seen from afar: less detail.
    k = augment.some(n, 0.4, device)
    by = 0.25 + 0.6 * torch.rand(1).item()
    small = F.interpolate(picture[k], (int(HEIGHT * by), int(WIDTH * by)), mode="area")
    picture[k] = F.interpolate(small, (HEIGHT, WIDTH), mode="bilinear", align_corners=False)
    k = augment.some(n, 0.12, device)
    picture[k] = augment.hard_light(picture[k], 0.7 * strength)
    picture = augment.developed(augment.light(picture, strength), 0.7 * strength)
    picture = augment.phone(picture, 0.7 * strength)
    kernel = augment.kernels(n, device, strength)
    picture = F.conv2d(picture.reshape(1, n * 3, HEIGHT, WIDTH), kernel.repeat_interleave(3, 0)[:, None], padding=4,
                       groups=n * 3).view(n, 3, HEIGHT, WIDTH)
    sigma = torch.exp(augment.draw(n, math.log(0.003), math.log(0.06), device)).view(n, 1, 1, 1) * strength
    coarse = F.interpolate(torch.randn(n, 3, HEIGHT // 2, WIDTH // 2, device=device), (HEIGHT, WIDTH), mode="bilinear", align_corners=False)
    picture = (picture + sigma * torch.where(augment.chance(n, 0.5, device).view(n, 1, 1, 1), torch.randn_like(picture), coarse)).clamp(0, 1)
    squeezed = augment.jpeg(picture, augment.draw(n, 20, 95, device))
    picture = torch.where(augment.chance(n, 0.5, device).view(n, 1, 1, 1), squeezed, picture)
    return (torch.round(picture * 255) - 127.5) / 127.5, labels, flanks.notes[index, 0].long()


def loss_of(planes, labels, state, place):
    n = len(state)
    here, inside = (labels[:, 2] > 0.5).float(), (labels[:, 2] > 1.5).float()
    rolled = (state >= 2).float().view(n, 1, 1)
    contact = labels[:, 0] / 255
    # What a tooth in front hides: the contact goes on there, and a good guess is better than a cut.
    working = ((labels[:, 3] > 0) & (labels[:, 3] < 1) & (labels[:, 4] > 0) & (labels[:, 4] < 1)).float()
    hidden = working * (1 - here) * rolled
    weight = inside * (0.25 + 0.75 * rolled) + HIDDEN * hidden
    counted = torch.maximum(inside, HIDDEN * hidden)
    each = F.binary_cross_entropy_with_logits(planes[:, 0], contact, reduction="none") * weight
    probability = torch.sigmoid(planes[:, 0]) * counted
    both = (probability * contact).sum((1, 2))
    dice = 1 - (2 * both + 20) / (probability.sum((1, 2)) + (contact * counted).sum((1, 2)) + 20)
    marks = each.sum() / weight.sum().clamp(min=1) + 0.5 * (dice * rolled.view(n)).mean()
    compound = (F.binary_cross_entropy_with_logits(planes[:, 1], labels[:, 1] / 255, reduction="none") * here).sum() / here.sum().clamp(min=1)
    seen = F.binary_cross_entropy_with_logits(planes[:, 2], inside)
    slip = (labels[:, 3:5] - place) * 10
    off = F.smooth_l1_loss(planes[:, 3:5], slip, reduction="none", beta=0.1)
    off = (off * here[:, None]).sum() / here.sum().clamp(min=1)
    mean = planes[:, 5:9].mean((2, 3))
    states = F.cross_entropy(mean, state)
    return marks + 0.2 * compound + 0.4 * seen + 0.5 * off + 0.4 * states, dict(marks=marks, compound=compound, seen=seen, off=off, states=states)


@torch.no_grad()
def score(model, flanks, device):
    model.eval()
    place = nominal(device)
    right = torch.zeros(4, 4, dtype=torch.long)
    errors, placed = [], []
    for first in range(0, flanks.count, 64):
        index = torch.arange(first, min(first + 64, flanks.count), device=device)
        planes = model((flanks.rgb[index].float() - 127.5) / 127.5).float()
        labels = flanks.labels[index].float()
        u, v = labels[:, 3] / 255 * 1.6 - 0.3, labels[:, 4] / 255 * 1.6 - 0.3
        inside = labels[:, 2] > 1.5
        state = flanks.notes[index, 0].long()
        guess = planes[:, 5:9].mean((2, 3)).argmax(1)
        right += torch.bincount((state * 4 + guess).cpu(), minlength=16).view(4, 4)
        slip = planes[:, 3:5] / 10
        for k in range(len(index)):
            if state[k] < 2 or guess[k] < 2:
                continue
            truth = inside[k] & (labels[k, 0] > 127)
            found = (planes[k, 0] > 0) & (planes[k, 2] > 0)
            if truth.sum() < 40 or found.sum() < 10:
                continue
            # The slip as one shift and stretch over the whole flank is what the reader uses; its mean stands for it here.
            good = planes[k, 2] > 0
            du, dv = (float((slip[k, a] * good).sum() / good.sum().clamp(min=1)) for a in (0, 1))
            tu, tv = float(u[k][truth].mean()), float(v[k][truth].mean())
            errors.append((abs(float(place[0][found].mean()) + du - tu), abs(float(place[1][found].mean()) + dv - tv)))
            area = inside[k]
            placed.append((abs(du - float((u[k] - place[0])[area].mean())), abs(dv - float((v[k] - place[1])[area].mean()))))
    model.train()

    def part(values, axis, q):
        return round(float(np.quantile([v[axis] for v in values], q)), 4) if values else None

    return {"flanks": flanks.count, "states_true_by_guess": right.tolist(), "read": len(errors),
            "centre_u": [part(errors, 0, q) for q in (0.5, 0.9, 0.95)], "centre_v": [part(errors, 1, q) for q in (0.5, 0.9, 0.95)],
            "slip_u": [part(placed, 0, q) for q in (0.5, 0.95)], "slip_v": [part(placed, 1, q) for q in (0.5, 0.95)]}


def write_parity(weights, shard, number, folder):
    """One flank and the framework's own answer for it, to hold OpenCV to."""
    model = MarkReader()
    model.load_state_dict(torch.load(weights, map_location="cpu")["averaged"])
    rgb = np.fromfile(shard, np.uint8).reshape(-1, RECORD)[number, : 3 * WIDTH * HEIGHT].reshape(HEIGHT, WIDTH, 3)
    with torch.no_grad():
        planes = model.eval()((torch.from_numpy(rgb).permute(2, 0, 1)[None].float() - 127.5) / 127.5)
    folder = pathlib.Path(folder)
    folder.mkdir(parents=True, exist_ok=True)
    rgb.tofile(folder / "input.rgb")
    planes[0].numpy().astype("<f4").tofile(folder / "output.f32")


def write_mean(weights, folder):
    """The mean of the weights of runs of which one began with the other, norms too."""
    states = [torch.load(path, map_location="cpu") for path in weights]
    mean = {k: sum(s["averaged"][k].double() for s in states).div(len(states)).to(v.dtype) for k, v in states[0]["averaged"].items()}
    model, folder = MarkReader(), pathlib.Path(folder)
    model.load_state_dict(mean)
    folder.mkdir(parents=True, exist_ok=True)
    torch.save(dict(states[-1], averaged=mean), folder / "weights.pt")
    export_onnx(model, folder / "mark-reader.onnx")


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("--data")
    parser.add_argument("--mean", nargs="+", metavar="WEIGHTS", help="write OUT/weights.pt and mark-reader.onnx with the mean of these weights, and end")
    parser.add_argument("--validation")
    parser.add_argument("--out", required=True)
    parser.add_argument("--parity", type=int, metavar="N", help="write OUT/input.rgb and output.f32 for flank N of the file DATA with the weights of --resume, and end")
    parser.add_argument("--resume")
    parser.add_argument("--minutes", type=float, default=5)
    parser.add_argument("--first", type=int, default=600)
    parser.add_argument("--room", type=int, default=40000)
    parser.add_argument("--batch", type=int, default=96)
    parser.add_argument("--rate", type=float, default=2e-3)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--every", type=float, default=60)
    parser.add_argument("--teacher", metavar="WEIGHTS", help="a larger network, grown from these weights, learns beside and teaches")
    parser.add_argument("--teacher-rate", type=float, default=1e-3)
    parser.add_argument("--by-teacher", type=float, default=1.0, help="how much the teacher's answers count beside half of the labels")
    parser.add_argument("--steps", type=int, default=10 ** 9)
    parser.add_argument("--device", default="cuda:0")
    options = parser.parse_args()
    if options.mean:
        write_mean(options.mean, options.out)
        return
    if options.parity is not None:
        write_parity(options.resume, options.data, options.parity, options.out)
        return
    torch.manual_seed(options.seed)
    device = torch.device(options.device)
    fast = device.type == "cuda"
    if fast:
        torch.backends.cudnn.benchmark = True
        torch.backends.cuda.matmul.allow_tf32 = torch.backends.cudnn.allow_tf32 = True
    out = pathlib.Path(options.out)
    out.mkdir(parents=True, exist_ok=True)
    learner = Learner(options.rate, device, {})
    model, averaged = learner.model, learner.averaged
    if options.resume:
        own, given = model.state_dict(), torch.load(options.resume, map_location=device)["averaged"]
        fits = {k: v for k, v in given.items() if k in own and own[k].shape == v.shape}
        model.load_state_dict(fits, strict=False)
        print("begins anew:", sorted(k for k in own if k not in fits), flush=True)
    learner.ready()
    teacher = None
    if options.teacher:
        teacher = Learner(options.teacher_rate, device, TEACHER)
        network.grown_from(teacher.model, torch.load(options.teacher, map_location=device)["averaged"])
        teacher.ready()
    flanks = Flanks(options.data, options.room, device)
    flanks.watch()
    while flanks.count < options.first:
        time.sleep(0.5)
    check = Flanks(options.validation, 3000, device)
    place = nominal(device)
    print("begins with", flanks.count, flush=True)
    step, began, last = 0, time.time(), time.time()

    def save():
        check.look()
        torch.save(dict(averaged=averaged.state_dict(), step=step, seconds=time.time() - began, flanks=flanks.count), out / "weights.part")
        (out / "weights.part").rename(out / "weights.pt")
        try:
            export_onnx(averaged, out / "mark-reader.onnx")
        except Exception as problem:
            print("no ONNX written:", problem, flush=True)
        scores = dict(step=step, seconds=round(time.time() - began), trained_on=flanks.count, **(score(averaged, check, device) if check.count else {}))
        if teacher:
            scores["teacher"] = score(teacher.averaged, check, device) if check.count else {}
            torch.save(dict(averaged=teacher.averaged.state_dict()), out / "teacher.pt")
        (out / "scores.json").write_text(json.dumps(scores, indent=1) + "\n")
        print(json.dumps(scores), flush=True)

    while time.time() - began < 60 * options.minutes and step < options.steps:
        share = (time.time() - began) / (60 * options.minutes)
        index = torch.randint(0, flanks.count, (options.batch,), device=device)
        rare = flanks.rare()  # painted teeth that were not rolled: one in thirty as drawn, one in ten here
        if len(rare):
            index[:options.batch // 14] = rare[torch.randint(0, len(rare), (options.batch // 14,), device=device)]
        with torch.no_grad():
            photo, labels, state = batch(flanks, index, 1.0 if share < 0.8 else 0.7)
        loss, parts = loss_of(planes := learner.planes(photo), labels, state, place)
        if teacher:
            taught, _ = loss_of(teacher.planes(photo), labels, state, place)
            teacher.learn(taught, step, share)
            parts["teacher"] = taught.detach()
            parts["away"] = taught_loss(planes, teacher.guide(photo), labels)
            loss = 0.5 * loss + options.by_teacher * parts["away"]
        learner.learn(loss, step, share)
        step += 1
        if step % 200 == 0:
            print(step, flanks.count, {k: round(float(v.detach()), 4) for k, v in parts.items()}, flush=True)
        if time.time() - last > options.every:
            save()
            last = time.time()
    save()
    flanks.stopped = True


if __name__ == "__main__":
    main()
