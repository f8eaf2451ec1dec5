"""Weights to train on with, from an exported network: what remains when the checkpoint is lost.

    python3 tools/train/from_onnx.py ONNX SHARD_FOLDER OUT_WEIGHTS [--parity FOLDER] [--quick OUT_WEIGHTS]

The export has every batch norm folded into the convolution before it. Here each norm is made to change nothing on real
pictures: its running mean and variance become the batch's, its scale the standard deviation, its shift the mean plus the
folded bias. --quick also writes the quick size, its kernels fitted to those of the middle one.
"""
import argparse
import pathlib

import numpy as np
import onnx
import onnx.numpy_helper
import torch

import augment
import data
import network


def convolutions(path):
    """Weight and bias of each convolution, in the order of execution."""
    graph = onnx.load(path).graph
    values = {t.name: onnx.numpy_helper.to_array(t).copy() for t in graph.initializer}
    for node in graph.node:
        if node.op_type == "Constant":
            values[node.output[0]] = onnx.numpy_helper.to_array(node.attribute[0].t).copy()
    return [[torch.from_numpy(values[name]) for name in node.input[1:]] for node in graph.node if node.op_type == "Conv"]


@torch.no_grad()
def restored(path, photo):
    """The network of the export with its norms set on `photo`."""
    for name, size in network.SIZES.items():
        model = network.FlankFinder(**size).eval()
        order = []
        hooks = [m.register_forward_hook(lambda m, *_: order.append(m)) for m in model.modules() if isinstance(m, torch.nn.Conv2d)]
        model(photo[:1])
        for hook in hooks:
            hook.remove()
        given = convolutions(path)
        if [tuple(m.weight.shape) for m in order] == [tuple(w.shape) for w, _ in given]:
            break
    else:
        raise SystemExit("no size of network.py has these convolutions")
    shift_of = {}
    for module, (weight, shift) in zip(order, given):
        module.weight.copy_(weight)
        if module.bias is not None:
            module.bias.copy_(shift)
        else:
            shift_of[module] = shift

    settle(model, shift_of, photo)
    return name, model, shift_of


@torch.no_grad()
def settle(model, shift_of, photo):
    """Sets every norm so that it only adds the shift of the convolution before it."""
    def setter(norm, shift):
        def hook(_, inputs):
            mean, variance = inputs[0].mean((0, 2, 3)), inputs[0].var((0, 2, 3), unbiased=False)
            norm.running_mean.copy_(mean)
            norm.running_var.copy_(variance)
            norm.weight.copy_((variance + norm.eps).sqrt())
            norm.bias.copy_(mean + shift)
        return hook

    hooks = [m[1].register_forward_pre_hook(setter(m[1], shift_of[m[0]])) for m in model.modules() if isinstance(m, network.ConvNorm)]
    model(photo)
    for hook in hooks:
        hook.remove()


def pair_of(kernels, steps=600):
    """Two 3 x 3 kernels whose chain is nearest to each 5 x 5 kernel, by least squares."""
    n = len(kernels)
    first = kernels[:, :, 1:4, 1:4].clone()
    second = torch.zeros(n, 1, 3, 3)
    second[:, :, 1, 1] = 1
    second += 0.05 * torch.randn(n, 1, 3, 3)
    first.requires_grad_(), second.requires_grad_()
    size = kernels.detach().pow(2).sum((1, 2, 3), keepdim=True).sqrt().clamp(min=1e-6)
    optimiser = torch.optim.Adam([first, second], lr=0.02)

    def chained():
        padded = torch.nn.functional.pad(first.view(1, n, 3, 3), (2, 2, 2, 2))
        return torch.nn.functional.conv2d(padded, second.flip(2, 3), groups=n).view(n, 1, 5, 5)

    for _ in range(steps):
        loss = ((chained() - kernels) / size).pow(2).sum()
        optimiser.zero_grad()
        loss.backward()
        optimiser.step()
    return first.detach(), second.detach(), float(loss) / n


def quick_of(model, shift_of, photo):
    """The quick size after the middle one."""
    quick = network.FlankFinder(**network.SIZES["quick"]).eval()
    shifts = {}
    old = dict(model.named_modules())
    for name, module in quick.named_modules():
        given = old.get(name)
        if isinstance(module, network.Pair):
            first, second, left = pair_of(given[0].weight.detach())
            print(name, "left over by the pair of kernels:", round(left, 4))
            module[0][0].weight.data.copy_(first)
            module[1][0].weight.data.copy_(second)
            shifts[module[0][0]], shifts[module[1][0]] = torch.zeros(len(first)), shift_of[given[0]]
        elif isinstance(module, network.Separable) or name == "head":
            given = given[0] if isinstance(given, network.ConvNorm) else given
            weight = given.weight.detach()  # each input channel's share by its own best rank-one product
            u, s, v = torch.linalg.svd(weight.permute(1, 0, 2, 3).flatten(2), full_matrices=False)
            last = module[1][0] if isinstance(module[1], network.ConvNorm) else module[1]
            module[0][0].weight.data.copy_((v[:, 0] * s[:, :1].sqrt()).view_as(module[0][0].weight))
            last.weight.data.copy_((u[:, :, 0] * s[:, :1].sqrt()).T[:, :, None, None])
            shifts[module[0][0]] = torch.zeros(weight.shape[1])
            if last.bias is None:
                shifts[last] = shift_of[given]
            else:
                last.bias.data.copy_(given.bias)
        elif isinstance(module, torch.nn.Conv2d) and isinstance(given, torch.nn.Conv2d) and given.weight.shape == module.weight.shape:
            module.weight.data.copy_(given.weight)
            if module.bias is not None:
                module.bias.data.copy_(given.bias)
            else:
                shifts[module] = shift_of[given]
    settle(quick, shifts, photo)
    return quick


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("onnx")
    parser.add_argument("shards")
    parser.add_argument("out")
    parser.add_argument("--parity")
    parser.add_argument("--quick")
    parser.add_argument("--batch", type=int, default=32)
    options = parser.parse_args()
    torch.manual_seed(1)
    pictures = data.Pictures(options.shards, options.batch, torch.device("cpu"))
    pictures.look()
    with torch.no_grad():
        photo, _ = augment.batch(pictures, torch.arange(pictures.count))
    name, model, shift_of = restored(options.onnx, photo)
    if options.parity:
        rgb = np.fromfile(pathlib.Path(options.parity) / "input.rgb", np.uint8).reshape(network.INPUT_HEIGHT, network.INPUT_WIDTH, 3)
        wanted = np.fromfile(pathlib.Path(options.parity) / "output.f32", "<f4").reshape(network.PLANES, 48, 64)
        with torch.no_grad():
            got = model(torch.from_numpy(rgb).permute(2, 0, 1)[None].float().sub(127.5).div(127.5))[0, :, ::4, ::4].numpy()
        print("largest difference from the parity case:", float(np.abs(got - wanted).max()))
    torch.save(dict(size=name, averaged=model.state_dict(), step=0, seconds=0.0, pictures=0), options.out)
    if options.quick:
        quick = quick_of(model, shift_of, photo)
        with torch.no_grad():
            print("typical difference of the quick size:", (quick(photo) - model(photo)).abs().mean((0, 2, 3)))
        torch.save(dict(size="quick", averaged=quick.state_dict(), step=0, seconds=0.0, pictures=0), options.quick)


if __name__ == "__main__":
    main()
