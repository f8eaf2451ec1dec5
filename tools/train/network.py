# SPDX-FileCopyrightText: 2026 Shimsight developers
# SPDX-License-Identifier: MIT
"""The flank finder: photo 1 x 3 x 384 x 512 in, 11 planes of 96 x 128 out (models/flank-finder/README.md says which).

Plain convolutions where pictures are small, inverted bottlenecks with 5 x 5 depthwise kernels elsewhere; only layers that
OpenCV 4.6 reads: convolution, ReLU, nearest Resize, addition, and a squeeze-and-excite gate.
"""
import torch
from torch import nn
import torch.nn.functional as F

INPUT_WIDTH, INPUT_HEIGHT, STRIDE = 512, 384, 4
CLASSES = 5
PLANES = 11
CENTRE_UNIT = 64.0  # input pixels


class ConvNorm(nn.Sequential):
    def __init__(self, inside, outside, kernel=3, stride=1, groups=1, relu=True):
        layers = [nn.Conv2d(inside, outside, kernel, stride, kernel // 2, groups=groups, bias=False), nn.BatchNorm2d(outside)]
        super().__init__(*(layers + [nn.ReLU()] if relu else layers))


class Pair(nn.Sequential):
    """A 5 x 5 depthwise kernel as two of 3 x 3: OpenCV 4.6 runs these more than twice as fast."""

    def __init__(self, channels):
        super().__init__(ConvNorm(channels, channels, 3, groups=channels, relu=False),
                         ConvNorm(channels, channels, 3, groups=channels))


class Separable(nn.Sequential):
    """A 3 x 3 convolution as a depthwise one and a 1 x 1."""

    def __init__(self, channels):
        super().__init__(ConvNorm(channels, channels, 3, groups=channels, relu=False), ConvNorm(channels, channels, 1))


class Bottleneck(nn.Module):
    """Wider by `expand` between two 1 x 1 convolutions, depthwise kernel between them."""

    def __init__(self, channels, expand=2, kernel=5, quick=False):
        super().__init__()
        wide = channels * expand
        middle = Pair(wide) if quick and kernel == 5 else ConvNorm(wide, wide, kernel, groups=wide)
        self.body = nn.Sequential(ConvNorm(channels, wide, 1), middle, ConvNorm(wide, channels, 1, relu=False))

    def forward(self, x):
        return F.relu(x + self.body(x))


class Gate(nn.Module):
    """What the whole picture shows decides which channels count."""

    def __init__(self, channels):
        super().__init__()
        self.squeeze = nn.Conv2d(channels, channels // 4, 1)
        self.excite = nn.Conv2d(channels // 4, channels, 1)

    def forward(self, x):
        whole = F.adaptive_avg_pool2d(x, 1)
        return x * torch.sigmoid(self.excite(F.relu(self.squeeze(whole))))


class FlankFinder(nn.Module):
    def __init__(self, widths=(16, 32, 64, 128, 160), depths=(1, 2, 4, 3), quick=False):
        super().__init__()
        a, b, c, d, e = widths

        def wide(channels):
            return Bottleneck(channels, quick=quick)

        def mixed(channels):
            return Separable(channels) if quick else ConvNorm(channels, channels, 3)

        self.stem = ConvNorm(3, a, 3, 2)
        self.down4 = nn.Sequential(ConvNorm(a, b, 3, 2), *[Bottleneck(b, 2, 3) for _ in range(depths[0])])
        self.down8 = nn.Sequential(ConvNorm(b, c, 3, 2), *[wide(c) for _ in range(depths[1])])
        self.down16 = nn.Sequential(ConvNorm(c, d, 3, 2), *[wide(d) for _ in range(depths[2])])
        self.down32 = nn.Sequential(ConvNorm(d, e, 3, 2), *[wide(e) for _ in range(depths[3])], Gate(e))
        self.up16, self.mix16 = ConvNorm(e, d, 1, relu=False), wide(d)
        self.up8, self.mix8 = ConvNorm(d, c, 1, relu=False), wide(c)
        self.up4, self.mix4 = ConvNorm(c, b, 1, relu=False), mixed(b)
        self.head = nn.Sequential(ConvNorm(b, b, 3, groups=b, relu=False), nn.Conv2d(b, PLANES, 1)) if quick else nn.Conv2d(b, PLANES, 3, padding=1)

    def forward(self, photo):
        def grown(x):
            return F.interpolate(x, scale_factor=2.0, mode="nearest")

        x4 = self.down4(self.stem(photo))
        x8 = self.down8(x4)
        x16 = self.down16(x8)
        x32 = self.down32(x16)
        x = self.mix16(F.relu(grown(self.up16(x32)) + x16))
        x = self.mix8(F.relu(grown(self.up8(x)) + x8))
        x = self.mix4(F.relu(grown(self.up4(x)) + x4))
        return self.head(x)


SIZES = {
    # Three times as wide as "swift" and deeper: what is grown from its weights (`grown_from`) and teaches it.
    "teacher": dict(quick=True, widths=(48, 96, 192, 384, 480), depths=(1, 2, 5, 2)),
    "quick": dict(quick=True),  # "middle" with what OpenCV is slow at replaced
    "swift": dict(quick=True, depths=(0, 1, 3, 2)),  # and the last block of each step left out
    "small": dict(widths=(16, 32, 48, 96, 128), depths=(0, 1, 3, 3)),
    "middle": dict(widths=(16, 32, 64, 128, 160), depths=(1, 2, 4, 3)),
    "large": dict(widths=(24, 48, 96, 160, 192), depths=(1, 2, 5, 4)),
}


def grown_from(model, weights, noise=0.05):
    """Fills a wider and deeper model with the weights of a smaller one so that it begins by giving the same answers.

    Every channel is repeated (each of a layer's inputs then counts for its share), blocks that the smaller one lacks begin by adding
    nothing; `noise` (share of each weight) lets the copies part. Widths must be whole multiples. Net2Net: Chen, Goodfellow and
    Shlens, ICLR 2016.
    """
    own = model.state_dict()
    for name, tensor in own.items():
        old = weights.get(name)
        if old is None:
            continue
        if tensor.dim() == 0:
            tensor.copy_(old)
            continue
        times = [new // small for new, small in zip(tensor.shape, old.shape)]
        value = old.repeat(*times)
        if tensor.dim() == 4:
            value = value / times[1] * (1 + noise * torch.randn_like(value))
        tensor.copy_(value)
    model.load_state_dict(own)
    for name, module in model.named_modules():
        if isinstance(module, Bottleneck) and name + ".body.0.0.weight" not in weights:
            nn.init.zeros_(module.body[-1][1].weight)
    return model


def fused(model):
    """Batch norm folded into the convolutions before it; for export only."""
    from torch.nn.utils.fusion import fuse_conv_bn_eval
    model = model.eval()
    for module in model.modules():
        if isinstance(module, ConvNorm):
            module[0] = fuse_conv_bn_eval(module[0], module[1])
            module[1] = nn.Identity()
    for module in list(model.modules()):
        if isinstance(module, ConvNorm):
            relu = len(module) == 3
            conv = module[0]
            del module[2 if relu else 1]
            if relu:
                del module[1]
                module.add_module("1", nn.ReLU())
    return model
