# SPDX-FileCopyrightText: 2026 Shimsight developers
# SPDX-License-Identifier: MIT
"""What cameras, light and chance do to a picture, for a whole batch on the GPU. Every step is drawn for each picture anew."""
import math

import torch
import torch.nn.functional as F

import data
import network


def draw(n, low, high, device):
    return torch.rand(n, device=device) * (high - low) + low


def chance(n, probability, device):
    return torch.rand(n, device=device) < probability


def cloud(n, channels, rows, columns, height, width, device):
    """Smooth random fields, standard normal before smoothing."""
    return F.interpolate(torch.randn(n, channels, rows, columns, device=device), (height, width), mode="bicubic",
                         align_corners=False)


def targets(labels, centres, matrix, valid):
    """Planes to learn from labels already sampled at the output cells.

    labels: n x 4 x h x w bytes; centres in the source picture's pixels; matrix: n x 2 x 3, output pixels from source
    pixels. Returns class (long), coordinates n x 2, offsets n x 2, flank mask, offset mask, painted mask.
    """
    n, _, h, w = labels.shape
    device = labels.device
    kind = torch.where(valid, (labels[:, 0] & 15).long(), torch.zeros((), dtype=torch.long, device=device))
    flank = (kind == 1) | (kind == 2)
    coords = torch.stack([data.coordinate(labels[:, 1]), data.coordinate(labels[:, 2])], 1)
    moved = torch.einsum("nij,ntsj->ntsi", matrix[:, :, :2], centres) + matrix[:, None, None, :, 2]
    slot = labels[:, 3].long().clamp(0, data.TEETH - 1) * 2 + (kind == 2).long()
    picked = moved.reshape(n, -1, 2).gather(1, slot.reshape(n, -1, 1).expand(-1, -1, 2)).reshape(n, h, w, 2)
    x = (torch.arange(w, device=device) + 0.5) * network.STRIDE
    y = (torch.arange(h, device=device) + 0.5) * network.STRIDE
    offset = torch.stack([picked[..., 0] - x, picked[..., 1] - y[:, None]], 1) / network.CENTRE_UNIT
    known = flank & torch.isfinite(offset).all(1)
    return kind, coords, torch.nan_to_num(offset, 0.0, 0.0, 0.0).clamp(-12, 12), flank, known, (labels[:, 0] & 16) > 0


def geometry(rgb, labels, centres, strength):
    """Turned, scaled, mirrored, shifted. Returns picture (float 0..1), labels at the output cells, matrix, masks."""
    n, _, h, w = rgb.shape
    device = rgb.device
    angle = torch.where(chance(n, 0.5, device), draw(n, -0.35, 0.35, device), draw(n, -math.pi, math.pi, device)) * strength
    scale = torch.exp(draw(n, math.log(0.45), math.log(2.2), device) * strength)
    scale = torch.where(chance(n, 0.25, device), torch.ones_like(scale), scale)
    stretch = torch.exp(draw(n, -0.08, 0.08, device) * strength)
    flip = torch.where(chance(n, 0.5 * min(1.0, strength), device), -1.0, 1.0)
    shear = draw(n, -0.08, 0.08, device) * strength
    zero = torch.zeros_like(angle)
    c, s = torch.cos(angle), torch.sin(angle)
    turn = torch.stack([c, -s, s, c], 1).view(n, 2, 2)
    shape = torch.stack([scale * stretch * flip, shear * scale, zero, scale / stretch], 1).view(n, 2, 2)
    linear = turn @ shape
    # The picture's middle goes near the middle; large pictures may slide far, so that crops of any place are seen.
    reach = (0.12 + 0.45 * (scale - 1).clamp(min=0)) * strength
    shift = torch.stack([draw(n, -1, 1, device) * reach * w, draw(n, -1, 1, device) * reach * h], 1)
    middle = torch.tensor([w / 2, h / 2], device=device)
    offset = middle + shift - (linear @ middle)
    matrix = torch.cat([linear, offset[:, :, None]], 2)
    inverse = torch.linalg.inv(linear)

    def source(xs, ys):
        p = torch.stack(torch.meshgrid(xs, ys, indexing="xy"), -1).view(-1, 2)
        q = torch.einsum("nij,npj->npi", inverse, p[None] - offset[:, None])
        return q.view(n, len(ys), len(xs), 2)

    def grid(q):
        return torch.stack([2 * q[..., 0] / w - 1, 2 * q[..., 1] / h - 1], -1)

    full = source(torch.arange(w, device=device) + 0.5, torch.arange(h, device=device) + 0.5)
    picture = F.grid_sample(rgb.float() / 255, grid(full), mode="bilinear", padding_mode="border", align_corners=False)
    inside = ((full[..., 0] > 0) & (full[..., 0] < w) & (full[..., 1] > 0) & (full[..., 1] < h))
    columns, rows = w // network.STRIDE, h // network.STRIDE
    cells = source((torch.arange(columns, device=device) + 0.5) * network.STRIDE, (torch.arange(rows, device=device) + 0.5) * network.STRIDE)
    valid = ((cells[..., 0] > 0) & (cells[..., 0] < w) & (cells[..., 1] > 0) & (cells[..., 1] < h))
    # A cell's answer is the label right there; a hair aside, so that ties between two pixels do not lean one way.
    jitter = (torch.rand(n, 1, 1, 2, device=device) - 0.5)
    ix = (cells[..., 0] + jitter[..., 0] * 1e-2).floor().long().clamp(0, w - 1)
    iy = (cells[..., 1] + jitter[..., 1] * 1e-2).floor().long().clamp(0, h - 1)
    index = (iy * w + ix).view(n, 1, -1).expand(-1, 4, -1)
    sampled = labels.view(n, 4, -1).gather(2, index).view(n, 4, rows, columns)
    return picture, inside, sampled, valid, matrix


def patterns(n, h, w, device):
    """Gratings, spokes, checks and letters-like blots: regular things that are no gear."""
    y, x = torch.meshgrid(torch.linspace(-1, 1, h, device=device), torch.linspace(-1.33, 1.33, w, device=device), indexing="ij")
    cx, cy = draw(n, -1.2, 1.2, device)[:, None, None], draw(n, -0.9, 0.9, device)[:, None, None]
    r, a = torch.hypot(x - cx, y - cy), torch.atan2(y - cy, x - cx)
    turn = draw(n, 0, math.pi, device)[:, None, None]
    bend = cloud(n, 1, 4, 5, h, w, device)[:, 0] * draw(n, 0, 0.6, device)[:, None, None]
    straight = x * torch.cos(turn) + y * torch.sin(turn) + 0.3 * bend
    across = -x * torch.sin(turn) + y * torch.cos(turn)
    rate = torch.exp(draw(n, math.log(6.0), math.log(90.0), device))[:, None, None]
    spokes = torch.round(draw(n, 5, 60, device))[:, None, None]
    kinds = torch.stack([torch.sin(rate * straight), torch.sin(rate * straight) * torch.sin(rate * across),
                         torch.sin(spokes * a), torch.sin(rate * r), cloud(n, 1, 48, 64, h, w, device)[:, 0]], 1)
    which = torch.randint(0, 5, (n,), device=device)
    field = kinds[torch.arange(n, device=device), which]
    hard = torch.exp(draw(n, 0, 4, device))[:, None, None]
    field = torch.sigmoid(hard * (field + draw(n, -0.6, 0.6, device)[:, None, None]))[:, None]
    first, second = torch.rand(n, 3, 1, 1, device=device), torch.rand(n, 3, 1, 1, device=device)
    shade = 1 + 0.4 * cloud(n, 1, 3, 4, h, w, device)
    return ((first * field + second * (1 - field)) * shade + 0.03 * cloud(n, 3, 96, 128, h, w, device)).clamp(0, 1)


def kernels(n, device, strength):
    """9 x 9 kernels: sharp, blurred, dragged, oversharpened."""
    reach = torch.arange(-4, 5, device=device).float()
    ky, kx = torch.meshgrid(reach, reach, indexing="ij")
    turn = draw(n, 0, math.pi, device)[:, None, None]
    along = kx * torch.cos(turn) + ky * torch.sin(turn)
    across = -kx * torch.sin(turn) + ky * torch.cos(turn)
    small = torch.exp(draw(n, math.log(0.15), math.log(2.0), device)) * strength + 0.05
    long = small * torch.where(chance(n, 0.25, device), torch.exp(draw(n, 0, 1.1, device)), torch.ones(n, device=device))
    k = torch.exp(-0.5 * ((along / long[:, None, None]) ** 2 + (across / small[:, None, None]) ** 2))
    k = k / k.sum((1, 2), keepdim=True)
    identity = torch.zeros(9, 9, device=device)
    identity[4, 4] = 1
    plain = chance(n, 0.35, device)[:, None, None]
    k = torch.where(plain, identity, k)
    soft = torch.exp(-0.5 * (kx ** 2 + ky ** 2) / 1.2)
    soft = soft / soft.sum()
    amount = (torch.where(chance(n, 0.35, device), draw(n, 0, 2.5, device), torch.zeros(n, device=device)) * strength)[:, None, None]
    return k + torch.where(plain, amount * (identity - soft), torch.zeros((), device=device))


_LUMA = torch.tensor([[16, 11, 10, 16, 24, 40, 51, 61], [12, 12, 14, 19, 26, 58, 60, 55], [14, 13, 16, 24, 40, 57, 69, 56],
                      [14, 17, 22, 29, 51, 87, 80, 62], [18, 22, 37, 56, 68, 109, 103, 77], [24, 35, 55, 64, 81, 104, 113, 92],
                      [49, 64, 78, 87, 103, 121, 120, 101], [72, 92, 95, 98, 112, 100, 103, 99]]).float()
_CHROMA = torch.full((8, 8), 99.0)
_CHROMA[:4, :4] = torch.tensor([[17, 18, 24, 47], [18, 21, 26, 66], [24, 26, 56, 99], [47, 66, 99, 99]]).float()


def jpeg(picture, quality):
    """Baseline JPEG's loss: 8 x 8 cosine blocks, the standard's example tables, chroma at half size. Picture 0..1."""
    n, _, h, w = picture.shape
    device = picture.device
    k = torch.arange(8, device=device).float()
    basis = torch.cos((2 * k[None] + 1) * k[:, None] * math.pi / 16) * 0.5
    basis[0] *= math.sqrt(0.5)
    percent = torch.where(quality < 50, 5000 / quality, 200 - 2 * quality) / 100

    def lossy(plane, table):
        rows, columns = plane.shape[1:]
        blocks = plane.view(n, rows // 8, 8, columns // 8, 8).permute(0, 1, 3, 2, 4)
        step = (table.to(device)[None] * percent[:, None, None]).clamp(min=1)[:, None, None]
        spectrum = torch.round((basis @ blocks @ basis.T) / step) * step
        return (basis.T @ spectrum @ basis).permute(0, 1, 3, 2, 4).reshape(n, rows, columns)

    r, g, b = (picture * 255).unbind(1)
    luma = 0.299 * r + 0.587 * g + 0.114 * b
    planes = torch.stack([(b - luma) * 0.564, (r - luma) * 0.713], 1)
    small = F.avg_pool2d(planes, 2)
    blue, red = [F.interpolate(lossy(small[:, i].contiguous(), _CHROMA)[:, None], scale_factor=2.0, mode="bilinear", align_corners=False)[:, 0]
                 for i in (0, 1)]
    luma = lossy((luma - 128).contiguous(), _LUMA) + 128
    r, b = luma + red / 0.713, luma + blue / 0.564
    g = (luma - 0.299 * r - 0.114 * b) / 0.587
    return (torch.stack([r, g, b], 1) / 255).clamp(0, 1)


def light(picture, strength):
    """Exposure, colour, contrast, uneven light, glare."""
    n, _, h, w = picture.shape
    device = picture.device

    def each(low, high):
        return draw(n, low * strength, high * strength, device).view(n, 1, 1, 1)

    picture = picture.clamp(1e-4, 1) ** torch.exp(each(-0.5, 0.5))
    colour = torch.exp(draw(n * 3, -0.22, 0.22, device).view(n, 3, 1, 1) * strength)
    picture = picture * colour * torch.exp(each(-0.35, 0.3))
    grey = picture.mean(1, keepdim=True)
    amount = torch.where(chance(n, 0.06, device), torch.zeros(n, device=device), torch.exp(draw(n, -0.8, 0.5, device) * strength))
    picture = grey + (picture - grey) * amount.view(n, 1, 1, 1)
    # Hue: a small turn about the grey axis.
    turn = torch.where(chance(n, 0.2, device), draw(n, -math.pi, math.pi, device), draw(n, -0.25, 0.25, device)) * strength
    c, s = torch.cos(turn), torch.sin(turn)
    third, root = (1 - c) / 3, s / math.sqrt(3.0)
    hue = torch.stack([third + c, third - root, third + root, third + root, third + c, third - root, third - root, third + root, third + c], 1)
    picture = torch.einsum("nij,njhw->nihw", hue.view(n, 3, 3), picture)
    middle = picture.mean((1, 2, 3), keepdim=True)
    picture = middle + (picture - middle) * torch.exp(each(-0.4, 0.35))
    uneven = chance(n, 0.5, device).view(n, 1, 1, 1)
    picture = torch.where(uneven, picture * torch.exp(each(0, 0.45) * cloud(n, 1, 3, 4, h, w, device)), picture)
    glare = chance(n, 0.15, device).view(n, 1, 1, 1)
    spots = torch.sigmoid(6 * (cloud(n, 1, 9, 12, h, w, device) - draw(n, 0.9, 2.0, device).view(n, 1, 1, 1)))
    picture = torch.where(glare, picture + spots * each(0.2, 1.0), picture)
    haze = chance(n, 0.15, device).view(n, 1, 1, 1)
    return torch.where(haze, picture * 0.75 + 0.25 * torch.rand(n, 3, 1, 1, device=device) * strength, picture)


def some(n, share, device):
    """Places of a fixed share of the batch, drawn anew."""
    return torch.randperm(n, device=device)[:max(1, int(n * share + torch.rand(1).item()))]


def wide_mean(picture, reach):
    n, _, h, w = picture.shape
    small = F.interpolate(picture, (max(2, h // reach), max(2, w // reach)), mode="area")
    return F.interpolate(small, (h, w), mode="bilinear", align_corners=False)


def painted(picture, reach):
    """Edges kept, texture gone: each pixel takes the calmest of four neighbouring squares' means (M. Kuwahara, 1976)."""
    size = reach + 1
    padded = F.pad(picture, (reach, reach, reach, reach), mode="replicate")
    grey = padded.mean(1, keepdim=True)
    mean, level = F.avg_pool2d(padded, size, 1), F.avg_pool2d(grey, size, 1)
    unrest = F.avg_pool2d(grey * grey, size, 1) - level * level
    h, w = picture.shape[2:]
    best, least = None, None
    for y in (0, reach):
        for x in (0, reach):
            m, v = mean[:, :, y:y + h, x:x + w], unrest[:, :, y:y + h, x:x + w]
            best, least = (m, v) if best is None else (torch.where(v < least, m, best), torch.minimum(v, least))
    return best


def developed(picture, strength):
    """What other cameras and other programs make of a picture: curves, local contrast, smoothing, scaling, colour noise."""
    n, _, h, w = picture.shape
    device = picture.device
    picture = picture.clamp(0, 1)

    k = some(n, 0.35, device)  # curves, a little different by channel, some without a lift or with crushed blacks
    part = picture[k]
    bend = (draw(len(k), -0.9, 0.9, device)[:, None] + 0.25 * torch.randn(len(k), 3, device=device)).clamp(-0.95, 0.95) * strength
    part = part - bend[:, :, None, None] * torch.sin(2 * math.pi * part) / (2 * math.pi)
    low = draw(len(k), -0.15, 0.15, device).view(-1, 1, 1, 1) * strength
    high = 1 - draw(len(k), -0.2, 0.25, device).view(-1, 1, 1, 1) * strength
    picture[k] = (low + part * (high - low)).clamp(0, 1)

    k = some(n, 0.25, device)  # local contrast, more or less of it
    reach = int(2 ** (3 + 3 * torch.rand(1).item()))
    amount = draw(len(k), -0.6, 1.6, device).view(-1, 1, 1, 1) * strength
    picture[k] = (picture[k] + amount * (picture[k] - wide_mean(picture[k], reach))).clamp(0, 1)

    k = some(n, 0.12, device)
    smooth = painted(picture[k], int(torch.randint(1, 5, (1,)).item()))
    if torch.rand(1).item() < 0.4:
        smooth = painted(smooth, 2)
    picture[k] = smooth

    k = some(n, 0.06, device)  # few tones
    levels = torch.round(draw(len(k), 5, 24, device)).view(-1, 1, 1, 1)
    picture[k] = torch.round(picture[k] * levels) / levels

    k = some(n, 0.18, device)  # down and up again
    by = 0.3 + 0.6 * torch.rand(1).item()
    small = F.interpolate(picture[k], (int(h * by), int(w * by)), mode="area" if torch.rand(1).item() < 0.6 else "nearest")
    picture[k] = F.interpolate(small, (h, w), mode="bicubic" if torch.rand(1).item() < 0.5 else "bilinear", align_corners=False)

    k = some(n, 0.25, device)  # blotches of colour
    reach = int(2 ** (1 + 3 * torch.rand(1).item()))
    noise = torch.randn(len(k), 3, h // reach, w // reach, device=device)
    noise = noise - noise.mean(1, keepdim=True)
    sigma = draw(len(k), 0.0, 0.09, device).view(-1, 1, 1, 1) * strength
    picture[k] = picture[k] + sigma * F.interpolate(noise, (h, w), mode="bilinear", align_corners=False)
    return picture.clamp(0, 1)


def hard_light(picture, strength):
    """A shaft of light with hard edges, or its shadow: sun through a door, a lamp behind a post."""
    n, _, h, w = picture.shape
    device = picture.device
    y, x = torch.meshgrid(torch.linspace(-0.75, 0.75, h, device=device), torch.linspace(-1, 1, w, device=device), indexing="ij")
    lit = torch.ones(n, h, w, device=device)
    for _ in range(2):
        turn = draw(n, 0, 2 * math.pi, device)[:, None, None]
        at = x * torch.cos(turn) + y * torch.sin(turn) + draw(n, -0.5, 0.5, device)[:, None, None]
        soft = torch.exp(draw(n, 3.0, 6.0, device))[:, None, None]
        lit = lit * torch.where(chance(n, 0.75, device)[:, None, None], torch.sigmoid(at * soft), torch.ones_like(at))
    shade = torch.exp(draw(n, -2.2, -0.3, device) * strength).view(n, 1, 1, 1)
    tint = 1 + 0.15 * strength * torch.randn(n, 3, 1, 1, device=device)
    gain = torch.exp(draw(n, 0.0, 0.5, device) * strength).view(n, 1, 1, 1)
    lit = lit[:, None]
    return picture * (lit * gain + (1 - lit) * shade * tint.clamp(0.5, 1.5))


def phone(picture, strength):
    """What phones and messengers do: haloes, strong colours, small sizes saved and saved again."""
    n, _, h, w = picture.shape
    device = picture.device
    k = some(n, 0.25, device)  # sharpened with a wide halo
    reach = int(torch.randint(2, 5, (1,)).item())
    amount = draw(len(k), 0.3, 2.2, device).view(-1, 1, 1, 1) * strength
    picture[k] = (picture[k] + amount * (picture[k] - wide_mean(picture[k], reach))).clamp(0, 1)
    k = some(n, 0.2, device)  # strong colours, most where they were weak
    part = picture[k]
    grey = part.mean(1, keepdim=True)
    weak = 1 - (part.amax(1, keepdim=True) - part.amin(1, keepdim=True))
    picture[k] = (grey + (part - grey) * (1 + draw(len(k), 0.2, 1.6, device).view(-1, 1, 1, 1) * weak * strength)).clamp(0, 1)
    k = some(n, 0.15, device)  # a messenger: small, saved, enlarged; the last saving comes at the end for all
    by = 0.35 + 0.5 * torch.rand(1).item()
    rows, columns = int(h * by / 16) * 16, int(w * by / 16) * 16
    small = jpeg(F.interpolate(picture[k], (rows, columns), mode="area"), draw(len(k), 25, 80, device))
    picture[k] = F.interpolate(small, (h, w), mode="bilinear", align_corners=False)
    return picture.clamp(0, 1)


def screen(picture, device):
    """Bars of one tone along two opposite borders, as a screenshot has them, with a few marks. Returns picture, bars."""
    n, _, h, w = picture.shape
    y, x = torch.meshgrid(torch.linspace(0, 1, h, device=device), torch.linspace(0, 1, w, device=device), indexing="ij")
    upright = chance(n, 0.5, device)[:, None, None]
    at, along = torch.where(upright, x, y), torch.where(upright, y, x)
    low, high = draw(n, 0.0, 0.2, device)[:, None, None], draw(n, 0.8, 1.0, device)[:, None, None]
    bar = ((at < low) | (at > high)).float()[:, None]
    tone = torch.where(chance(n, 0.6, device)[:, None], torch.round(torch.rand(n, 1, device=device)).expand(n, 3), torch.rand(n, 3, device=device))
    rate = draw(n, 30, 120, device)[:, None, None]
    marks = (torch.sin(rate * along) * torch.sin(0.37 * rate * along + 5 * at) > 0.55).float()[:, None] * ((at * 40) % 1 > 0.6).float()[:, None]
    tone = tone[:, :, None, None]
    return picture * (1 - bar) + bar * (tone + marks * (0.7 - 1.4 * tone)).clamp(0, 1), bar


def some_photos(pictures, n):
    """n real photos, bytes, half of them mirrored."""
    picked = pictures.photos[torch.randint(0, len(pictures.photos), (n,), device=pictures.device)]
    return torch.where(chance(n, 0.5, pictures.device).view(n, 1, 1, 1), picked.flip(3), picked)


def on_real_grounds(rgb, labels, pictures):
    """Real photos in place of bench, cloth and room of some pictures, and whole ones in place of others: no gear there."""
    n, device = len(rgb), rgb.device
    k = some(n, 0.35, device)
    ground = ((labels[k, 0:1] >> 5) & 1).float()
    # The border is shared, and a pixel of the old ground goes with it.
    ground = F.avg_pool2d(F.pad(ground, (1, 1, 1, 1), mode="replicate"), 3, 1) ** 0.5
    photo = some_photos(pictures, len(k)).float() * torch.exp(draw(len(k), -0.9, 0.2, device)).view(-1, 1, 1, 1)
    rgb[k] = (rgb[k] * (1 - ground) + photo * ground).clamp(0, 255).byte()
    k = some(n, 0.1, device)
    rgb[k] = some_photos(pictures, len(k))
    labels[k] = 0
    labels[k, 3] = data.NO_TOOTH
    return rgb, labels


def portrait(picture, near):
    """Blurred away from the teeth, as phones do it. `near`: 1 at the teeth, at the cells."""
    h, w = picture.shape[2:]
    wide = F.avg_pool2d(F.max_pool2d(near, 9, 1, 4), 5, 1, 2)
    keep = F.interpolate(wide, (h, w), mode="bilinear", align_corners=False)
    return picture * keep + wide_mean(picture, int(torch.randint(4, 13, (1,)).item())) * (1 - keep)


def batch(pictures, index, strength=1.0):
    """A batch for training. Returns the network's input and the target planes."""
    device = pictures.device
    n = len(index)
    rgb, labels = pictures.rgb[index], pictures.labels[index]
    if pictures.photos is not None:
        rgb, labels = on_real_grounds(rgb, labels, pictures)
    picture, inside, labels, valid, matrix = geometry(rgb, labels, pictures.centres[index], strength)
    h, w = picture.shape[2:]
    other = picture
    known = list(pictures.plain)  # a copy: another thread adds to it
    if known:
        plain = torch.tensor(known, device=device)[torch.randint(0, len(known), (n,), device=device)]
        other = pictures.rgb[plain].float() / 255
        other = torch.where(chance(n, 0.5, device).view(n, 1, 1, 1), other.flip(3), other)
        other = torch.where(chance(n, 0.5, device).view(n, 1, 1, 1), other.flip(2), other)
    if pictures.photos is not None:
        other = torch.where(chance(n, 0.5, device).view(n, 1, 1, 1), some_photos(pictures, n).float() / 255, other)
    drawn = patterns(n, h, w, device)
    if pictures.prints is not None:
        chosen = pictures.prints[torch.randint(0, len(pictures.prints), (n,), device=device)].float() / 255
        chosen = torch.where(chance(n, 0.5, device).view(n, 1, 1, 1), chosen.flip(3), chosen)
        drawn = torch.where(chance(n, 0.5, device).view(n, 1, 1, 1), drawn, chosen)
    other = torch.where(chance(n, 0.3, device).view(n, 1, 1, 1), drawn, other)
    even = torch.rand(n, 3, 1, 1, device=device) * (1 + 0.15 * cloud(n, 3, 6, 8, h, w, device))
    other = torch.where(chance(n, 0.2, device).view(n, 1, 1, 1), even, other)

    # Beyond the picture: stretched border, even grey or another picture.
    beyond = torch.rand(n, device=device).view(n, 1, 1, 1)
    fill = torch.where(beyond < 0.35, torch.full_like(picture, 0.498), torch.where(beyond < 0.7, other, picture))
    picture = torch.where(inside[:, None], picture, fill)

    # Things in front: blobs of another picture, with soft or hard borders.
    field = cloud(n, 1, 5, 6, h, w, device)
    level = torch.quantile(field.view(n, -1)[:, ::37], 0.85, dim=1) + draw(n, -0.1, 1.0, device)
    level = torch.where(chance(n, 0.35, device), level, torch.full_like(level, 1e3))
    cover = torch.sigmoid((field - level.view(n, 1, 1, 1)) * 60)
    picture = picture * (1 - cover) + other * cover
    hidden = F.avg_pool2d(cover, network.STRIDE)[:, 0] > 0.5

    # A background of another kind around teeth and gear, where the labels say that nothing of the teeth is.
    teeth = ((labels[:, 0:1] & 15) > 0).float() * valid[:, None]
    near = F.max_pool2d(F.max_pool2d(teeth, 5, 1, 2), 5, 1, 2)
    far = F.interpolate(1 - near, (h, w), mode="bilinear", align_corners=False)
    swap = (torch.sigmoid(30 * cloud(n, 1, 4, 5, h, w, device)) * far) * chance(n, 0.25, device).view(n, 1, 1, 1)
    picture = picture * (1 - swap) + other * swap
    # Teeth cut out and laid on one even tone, as in a drawing or a shop's picture.
    alone = far * chance(n, 0.07, device).view(n, 1, 1, 1)
    picture = picture * (1 - alone) + torch.rand(n, 3, 1, 1, device=device) * alone

    k = some(n, 0.07, device)
    picture[k] = portrait(picture[k], near[k])
    k = some(n, 0.15, device)
    picture[k] = hard_light(picture[k], strength)

    # Nothing but patterns, now and then.
    only = chance(n, 0.05, device)
    picture = torch.where(only.view(n, 1, 1, 1), drawn, picture)
    valid = valid & ~hidden & ~only.view(n, 1, 1)

    picture = phone(developed(light(picture, strength), strength), strength)
    if strength > 0:
        framed = some(n, 0.05, device)
        picture[framed], bar = screen(picture[framed], device)
        valid[framed] = valid[framed] & (F.avg_pool2d(bar, network.STRIDE)[:, 0] < 0.5)
    k = kernels(n, device, strength)
    picture = F.conv2d(picture.reshape(1, n * 3, h, w), k.repeat_interleave(3, 0)[:, None], padding=4, groups=n * 3).view(n, 3, h, w)
    sigma = torch.exp(draw(n, math.log(0.003), math.log(0.07), device)).view(n, 1, 1, 1) * strength
    grain = torch.randn_like(picture)
    coarse = F.interpolate(torch.randn(n, 3, h // 2, w // 2, device=device), (h, w), mode="bilinear", align_corners=False)
    picture = picture + sigma * torch.where(chance(n, 0.5, device).view(n, 1, 1, 1), grain, coarse)
    picture = picture.clamp(0, 1)
    squeezed = jpeg(picture, draw(n, 12, 95, device))
    picture = torch.where(chance(n, 0.7, device).view(n, 1, 1, 1), squeezed, picture)
    return (torch.round(picture * 255) - 127.5) / 127.5, targets(labels, pictures.centres[index], matrix, valid)


def untouched(pictures, index):
    """Pictures as rendered, for validation."""
    rgb, labels = pictures.rgb[index], pictures.labels[index]
    n, _, h, w = rgb.shape
    matrix = torch.tensor([[1.0, 0, 0], [0, 1, 0]], device=rgb.device).expand(n, 2, 3)
    # A cell's middle is the corner where four pixels meet: the mean of two opposite ones, where they are of one flank.
    step, first = network.STRIDE, network.STRIDE // 2
    cells, other = labels[:, :, first::step, first::step].clone(), labels[:, :, first - 1::step, first - 1::step]
    same = (cells[:, 0] == other[:, 0]) & (cells[:, 3] == other[:, 3])
    for plane in (1, 2):
        mean = ((cells[:, plane].int() + other[:, plane].int()) // 2).byte()
        cells[:, plane] = torch.where(same, mean, cells[:, plane])
    valid = torch.ones(n, h // step, w // step, dtype=torch.bool, device=rgb.device)
    return (rgb.float() - 127.5) / 127.5, targets(cells, pictures.centres[index], matrix, valid)
