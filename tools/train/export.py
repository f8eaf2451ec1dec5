# SPDX-FileCopyrightText: 2026 Shimsight developers
# SPDX-License-Identifier: MIT
"""Checkpoint to ONNX for OpenCV 4.6, and a parity case: one input and the framework's own output.

    python3 tools/train/export.py CHECKPOINT ONNX [--parity FOLDER --picture RGB_FILE]
"""
import argparse
import copy
import inspect
import pathlib

import numpy as np
import torch

import network


def export(model, path):
    model = network.fused(copy.deepcopy(model).float().cpu())
    photo = torch.zeros(1, 3, network.INPUT_HEIGHT, network.INPUT_WIDTH)
    options = dict(opset_version=12, input_names=["photo"], output_names=["flanks"], do_constant_folding=True)
    if "dynamo" in inspect.signature(torch.onnx.export).parameters:
        options["dynamo"] = False
    with torch.no_grad():
        torch.onnx.export(model, photo, str(path), **options)
    return model


def load(checkpoint):
    state = torch.load(checkpoint, map_location="cpu")
    model = network.FlankFinder(**network.SIZES[state["size"]])
    model.load_state_dict(state["averaged"])
    return model.eval()


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("checkpoint")
    parser.add_argument("onnx")
    parser.add_argument("--parity", help="folder for input.rgb and output.f32")
    parser.add_argument("--picture", help="512 x 384 x 3 bytes, RGB")
    options = parser.parse_args()
    model = load(options.checkpoint)
    plain = export(model, options.onnx)
    if options.parity:
        folder = pathlib.Path(options.parity)
        folder.mkdir(parents=True, exist_ok=True)
        rgb = np.fromfile(options.picture, np.uint8).reshape(network.INPUT_HEIGHT, network.INPUT_WIDTH, 3)
        photo = torch.from_numpy(rgb).permute(2, 0, 1)[None].float().sub(127.5).div(127.5)
        with torch.no_grad():
            whole, folded = model(photo), plain(photo)
        print("largest change by folding the norms:", float((whole - folded).abs().max()))
        rgb.tofile(folder / "input.rgb")
        # Every other cell each way keeps the case small.
        whole[0, :, ::2, ::2].numpy().astype("<f4").tofile(folder / "output.f32")


if __name__ == "__main__":
    main()
