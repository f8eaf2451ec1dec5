# SPDX-FileCopyrightText: 2026 Shimsight developers
# SPDX-License-Identifier: MIT
"""Trains the flank finder on shards of make_training_set. See README.md beside this file for the one command.

Writes OUT/checkpoint.pt, OUT/flank-finder.onnx, OUT/scores.json and OUT/log.txt again and again; a run that is cut short
goes on from --resume.
"""
import argparse
import json
import math
import pathlib
import time

import torch
import torch.nn.functional as F

import augment
import data
import export
import network
import prints

CLASS_WEIGHT = [0.6, 1.2, 1.2, 1.2, 1.0]  # background is most of every picture
NAMES = ["background", "convex", "concave", "top land", "root"]


def loss_of(planes, target, late=0.0):
    """`late` 0..1: how much more coordinates and the sides of small flanks count, once the flanks are found."""
    kind, coords, offset, flank, known, painted = target
    weight = torch.tensor(CLASS_WEIGHT, device=planes.device)
    logits = planes[:, :network.CLASSES]
    classes = F.cross_entropy(logits, kind, weight=weight)
    mask = flank.float()
    area = mask.sum().clamp(min=1)
    # Flanks of small gears count as much as large ones: every picture's flanks are averaged first, in part.
    off = (planes[:, 5:7] - coords).abs()
    each = (off.sum(1) * mask).sum((1, 2)) / mask.sum((1, 2)).clamp(min=12)
    uv = 0.5 * (off.sum(1) * mask).sum() / area + 0.5 * each.mean()
    aim = F.smooth_l1_loss(planes[:, 7:9], offset, reduction="none", beta=0.1).sum(1)
    aim = (aim * known.float()).sum() / known.float().sum().clamp(min=1)
    # Laplace scale of the coordinates' error, learnt without pulling at the coordinates themselves.
    spread = planes[:, 9].clamp(-6, 3)
    doubt = ((off.sum(1).detach() * torch.exp(-spread) + spread) * mask).sum() / area
    # Side alone, every picture with flanks counting alike: small gears would hardly weigh otherwise.
    side = F.cross_entropy(logits[:, 1:3], (kind == 2).long(), reduction="none")
    side = ((side * mask).sum((1, 2)) / mask.sum((1, 2)).clamp(min=12)).mean()
    # Whether the flank's tooth is painted, every picture with flanks counting alike.
    paint = F.binary_cross_entropy_with_logits(planes[:, 10], painted.float(), reduction="none")
    paint = ((paint * mask).sum((1, 2)) / mask.sum((1, 2)).clamp(min=12)).mean()
    total = classes + (2.0 + 1.5 * late) * uv + 0.5 * aim + 0.05 * doubt + 0.3 * late * side + 0.2 * paint
    return total, dict(classes=classes, uv=uv, aim=aim, doubt=doubt, side=side, paint=paint)


def taught_loss(planes, guide, flank):
    """How far the planes lie from those of the teacher: its doubts about classes tell more than the labels' one class."""
    kind = guide[:, :network.CLASSES].argmax(1)
    weight = torch.tensor(CLASS_WEIGHT, device=planes.device)[kind]
    classes = F.kl_div(F.log_softmax(planes[:, :network.CLASSES], 1), F.log_softmax(guide[:, :network.CLASSES], 1), reduction="none", log_target=True).sum(1)
    mask = flank.float()
    area = mask.sum().clamp(min=1)
    uv = ((planes[:, 5:7] - guide[:, 5:7]).abs().sum(1) * mask).sum() / area
    aim = (F.smooth_l1_loss(planes[:, 7:9], guide[:, 7:9], reduction="none", beta=0.1).sum(1) * mask).sum() / area
    paint = (F.binary_cross_entropy_with_logits(planes[:, 10], torch.sigmoid(guide[:, 10]), reduction="none") * mask).sum() / area
    return (classes * weight).mean() + 3.0 * uv + 0.5 * aim + 0.2 * paint


class Learner:
    """A network, the mean of its weights over the last steps, and what moves them."""

    def __init__(self, size, rate, device, fast):
        self.size, self.rate = size, rate
        self.model = network.FlankFinder(**network.SIZES[size]).to(device)
        self.averaged = network.FlankFinder(**network.SIZES[size]).to(device)
        self.fast = fast
        self.ready()
        if fast:
            self.model = self.model.to(memory_format=torch.channels_last)
        self.optimiser = torch.optim.AdamW(self.model.parameters(), lr=rate, weight_decay=0.02)

    def ready(self):
        """The mean begins where the network stands."""
        self.averaged.load_state_dict(self.model.state_dict())
        self.averaged.eval()

    def planes(self, photo):
        with torch.autocast(photo.device.type, dtype=torch.bfloat16, enabled=self.fast):
            return self.model(photo).float()

    @torch.no_grad()
    def guide(self, photo):
        with torch.autocast(photo.device.type, dtype=torch.bfloat16, enabled=self.fast):
            return self.averaged.eval()(photo).float()

    def learn(self, loss, step, share):
        rate = self.rate * min(1.0, (step + 1) / 300) * (0.5 + 0.5 * math.cos(math.pi * share)) + 1e-6
        for group in self.optimiser.param_groups:
            group["lr"] = rate
        self.optimiser.zero_grad(set_to_none=True)
        loss.backward()
        torch.nn.utils.clip_grad_norm_(self.model.parameters(), 5.0)
        self.optimiser.step()
        keep(self.averaged, self.model, min(0.9985, (step + 2) / (step + 11)))


@torch.no_grad()
def keep(averaged, model, decay):
    """Moves the mean of a network's weights toward where they are; batch norm's running values alike."""
    for old, new in zip(averaged.state_dict().values(), model.state_dict().values()):
        if old.dtype.is_floating_point:
            old.mul_(decay).add_(new.detach(), alpha=1 - decay)
        else:
            old.copy_(new)


def begin(model, weights):
    """Takes what fits from the weights of a network of another size; says what does not."""
    own = model.state_dict()
    fits = {k: v for k, v in weights.items() if k in own and own[k].shape == v.shape}
    model.load_state_dict(fits, strict=False)
    print("begins anew:", sorted({k.rsplit(".", 2)[0] for k in own if k not in fits}), flush=True)


@torch.no_grad()
def score(model, pictures, device, size=32):
    model.eval()
    confusion = torch.zeros(5, 5, dtype=torch.long, device=device)
    du, dv, aims = [], [], []
    swapped = flanks = 0
    paint = torch.zeros(2, 3, dtype=torch.long)  # truly bare, painted; by told bare, unsure, painted
    plain_pixels = plain_wrong = plain_pictures = plain_false = 0
    for first in range(0, pictures.count, size):
        index = torch.arange(first, min(first + size, pictures.count), device=device)
        photo, (kind, coords, offset, flank, known, painted) = augment.untouched(pictures, index)
        planes = model(photo).float()
        guess = planes[:, :5].argmax(1)
        confusion += torch.bincount((kind * 5 + guess).view(-1), minlength=25).view(5, 5)
        both = flank & ((guess == 1) | (guess == 2))
        off = (planes[:, 5:7] - coords).abs()
        du.append(off[:, 0][both][::7])
        dv.append(off[:, 1][both][::7])
        aims.append(((planes[:, 7:9] - offset) * network.CENTRE_UNIT).norm(dim=1)[both & known][::7])
        # Side and paint of whole flanks: the majority over a tooth's side with 10 cells or more.
        tooth = pictures.labels[index][:, 3, 2::4, 2::4].long()
        for k in range(len(index)):
            code = torch.where(both[k], tooth[k] * 2 + (kind[k] == 2).long(), torch.full_like(kind[k], 511))
            right = torch.bincount(code.view(-1), weights=(guess[k] == kind[k]).float().view(-1), minlength=512)[:511]
            total = torch.bincount(code.view(-1), minlength=512)[:511]
            large = total >= 10
            flanks += int(large.sum())
            swapped += int((large & (right < 0.5 * total)).sum())
            told = torch.bincount(code.view(-1), weights=torch.where(both[k], planes[k, 10], planes[k, 10] * 0).view(-1), minlength=512)[:511]
            truly = torch.bincount(code.view(-1), weights=painted[k].float().view(-1), minlength=512)[:511]
            for is_painted in (0, 1):
                logits = (told / total.clamp(min=1))[large & ((truly > 0.5 * total) == bool(is_painted))]
                paint[is_painted] += torch.tensor([int((logits < -2).sum()), int((logits.abs() <= 2).sum()), int((logits > 2).sum())])
        no_gear = pictures.notes[index.cpu(), 0] == 0
        if no_gear.any():
            wrong = ((guess == 1) | (guess == 2))[no_gear.to(device)].flatten(1).sum(1)
            plain_pictures += int(no_gear.sum())
            plain_pixels += int(wrong.sum())
            plain_false += int((wrong > 10).sum())
    model.train()
    confusion = confusion.double()
    union = confusion.sum(0) + confusion.sum(1) - confusion.diag()
    side = confusion[1:3, 1:3]
    if not du:
        return {}
    du, dv, aims = torch.cat(du), torch.cat(dv), torch.cat(aims)

    def part(values, q):
        return round(float(torch.quantile(values[:: max(1, len(values) // 1000000)], q)), 5) if len(values) else None

    return {
        "pictures": pictures.count,
        "iou": {name: round(float(confusion[i, i] / union[i].clamp(min=1)), 4) for i, name in enumerate(NAMES)},
        "flank_cells_found": round(float(side.sum() / confusion[1:3].sum().clamp(min=1)), 4),
        "side_swapped_cells": round(float((side[0, 1] + side[1, 0]) / side.sum().clamp(min=1)), 5),
        "flanks_of_10_cells": flanks, "flanks_side_swapped": swapped,
        "du_median": part(du, 0.5), "du_95": part(du, 0.95), "dv_median": part(dv, 0.5), "dv_95": part(dv, 0.95),
        "centre_px_median": part(aims, 0.5), "centre_px_95": part(aims, 0.95),
        "paint_true_by_told_bare_unsure_painted": paint.tolist(),
        "without_gear_pictures": plain_pictures, "without_gear_over_10_cells": plain_false, "without_gear_cells": plain_pixels,
    }


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("--data", required=True)
    parser.add_argument("--validation", required=True)
    parser.add_argument("--out", required=True)
    parser.add_argument("--resume", help="goes on where this checkpoint.pt ended, in time and rate too")
    parser.add_argument("--begin-from", help="weights.pt to start a new run from")
    parser.add_argument("--plain", help="shards without gear, for false alarms")
    parser.add_argument("--shop", help="shards with paint as shops have it, for scores of their own")
    parser.add_argument("--photos", help="folder of real photos without a gear: grounds and negatives; every eighth is held out for the scores")
    parser.add_argument("--size", default="middle", choices=sorted(network.SIZES))
    parser.add_argument("--minutes", type=float, default=17)
    parser.add_argument("--first", type=int, default=256, help="begin when so many pictures are there")
    parser.add_argument("--room", type=int, default=18000)
    parser.add_argument("--batch", type=int, default=64)
    parser.add_argument("--rate", type=float, default=2e-3)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--every", type=float, default=60, help="seconds between checkpoints")
    parser.add_argument("--teacher", metavar="WEIGHTS", help="a larger network, grown from these weights, learns beside and teaches")
    parser.add_argument("--teacher-rate", type=float, default=8e-4)
    parser.add_argument("--by-teacher", type=float, default=1.0, help="how much the teacher's answers count beside half of the labels")
    parser.add_argument("--steps", type=int, default=10 ** 9, help="stop after so many steps (trial runs)")
    parser.add_argument("--device", default="cuda:0")
    options = parser.parse_args()

    torch.manual_seed(options.seed)
    device = torch.device(options.device)
    fast = device.type == "cuda"
    if fast:
        torch.cuda.set_device(device)
        torch.backends.cudnn.benchmark = True
        torch.backends.cuda.matmul.allow_tf32 = torch.backends.cudnn.allow_tf32 = True
    out = pathlib.Path(options.out)
    out.mkdir(parents=True, exist_ok=True)
    log = open(out / "log.txt", "a")

    def say(*words):
        print(*words, flush=True)
        print(*words, file=log, flush=True)

    learner = Learner(options.size, options.rate, device, fast)
    model, averaged, optimiser = learner.model, learner.averaged, learner.optimiser
    step, spent = 0, 0.0
    if options.resume:
        state = torch.load(options.resume, map_location=device)
        # weights.pt holds the average only; checkpoint.pt everything.
        model.load_state_dict(state.get("model", state["averaged"]))
        averaged.load_state_dict(state["averaged"])
        if "optimiser" in state:
            optimiser.load_state_dict(state["optimiser"])
        step, spent = state["step"], state["seconds"]
        say("goes on from step", step)

    if options.begin_from and not options.resume:
        state = torch.load(options.begin_from, map_location=device)
        begin(model, state["averaged"])
        learner.ready()
    teacher = None
    if options.teacher:
        teacher = Learner("teacher", options.teacher_rate, device, fast)
        network.grown_from(teacher.model, torch.load(options.teacher, map_location=device)["averaged"])
        teacher.ready()

    pictures = data.Pictures(options.data, options.room, device)
    pictures.prints = torch.from_numpy(prints.bank(320, options.seed)).to(device)
    if options.photos:
        pictures.photos = data.photo_bank(options.photos, False).to(device)
    pictures.watch()
    while pictures.count < options.first:
        time.sleep(0.5)
    check = data.Pictures(options.validation, 768, device)
    check.look()
    plain = data.Pictures(options.plain or options.validation, 512, device)
    shop = data.Pictures(options.shop or options.validation, 512, device)
    held_out = data.of_photos(data.photo_bank(options.photos, True), device) if options.photos else None
    say("begins with", pictures.count, "pictures,", check.count, "to validate")

    def save():
        # Batch norm's running values of the average are those of the model averaged alike.
        state = dict(size=options.size, model=model.state_dict(), averaged=averaged.state_dict(), optimiser=optimiser.state_dict(),
                     step=step, seconds=spent, pictures=pictures.count, options=vars(options))
        torch.save(state, out / "checkpoint.part")
        (out / "checkpoint.part").rename(out / "checkpoint.pt")
        small = {k: state[k] for k in ("size", "averaged", "step", "seconds", "pictures")}
        torch.save(small, out / "weights.part")
        (out / "weights.part").rename(out / "weights.pt")
        try:
            export.export(averaged, out / "flank-finder.onnx")
        except Exception as problem:  # the weights are safe, and export.py can be run anywhere
            say("no ONNX written:", problem)
        check.look()
        scores = dict(step=step, seconds=round(spent), trained_on=pictures.count, **score(averaged, check, device))
        if teacher:
            scores["teacher"] = score(teacher.averaged, check, device)
            torch.save(dict(size="teacher", averaged=teacher.averaged.state_dict()), out / "teacher.pt")
        if options.plain:
            plain.look()
            scores["plain"] = {k: v for k, v in score(averaged, plain, device).items() if k.startswith("without")} if plain.count else {}
        if options.shop:
            shop.look()
            scores["shop"] = score(averaged, shop, device) if shop.count else {}
        if held_out:
            scores["photos"] = {k: v for k, v in score(averaged, held_out, device).items() if k.startswith("without")}
        (out / "scores.json").write_text(json.dumps(scores, indent=1) + "\n")
        say(json.dumps(scores))

    whole = options.minutes * 60
    if options.begin_from and not options.resume:
        say("before:", json.dumps(score(averaged, check, device)))
        if teacher:
            say("teacher before:", json.dumps(score(teacher.averaged, check, device)))
    last_save, began = time.time(), time.time() - spent
    sums = {}
    while spent < whole and step < options.steps:
        spent = time.time() - began
        share = min(1.0, spent / whole)
        index = torch.randint(0, pictures.count, (options.batch,), device=device)
        if pictures.plain:  # more of those without a gear than were drawn: false alarms are learnt away slowly
            some = torch.randint(0, len(pictures.plain), (options.batch // 10,)).tolist()
            index[:len(some)] = torch.tensor([pictures.plain[k] for k in some], device=device)
        # Toward the end the pictures come closer to real ones.
        strength = 1.0 if share < 0.8 else 0.8
        with torch.no_grad():
            photo, target = augment.batch(pictures, index, strength)
        if fast:
            photo = photo.contiguous(memory_format=torch.channels_last)
        late = min(1.0, max(0.0, 4 * share - 1))
        loss, parts = loss_of(planes := learner.planes(photo), target, late)
        if teacher:
            taught, _ = loss_of(teacher.planes(photo), target, late)
            teacher.learn(taught, step, share)
            parts["teacher"] = taught
            parts["away"] = taught_loss(planes, teacher.guide(photo), target[3])
            loss = 0.5 * loss + options.by_teacher * parts["away"]
        learner.learn(loss, step, share)
        step += 1
        if step % 100 == 0 or step == options.steps:
            parts = {k: round(float(v.detach()), 4) for k, v in parts.items()}
            say(f"step {step} {spent:.0f} s pictures {pictures.count} loss {float(loss.detach()):.4f} {parts}")
        if time.time() - last_save > options.every:
            save()
            last_save = time.time()
    save()
    pictures.stopped = True
    say("done")


if __name__ == "__main__":
    main()
