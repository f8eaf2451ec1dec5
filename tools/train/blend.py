# SPDX-FileCopyrightText: 2026 Shimsight developers
# SPDX-License-Identifier: MIT
"""One network from runs that began alike: the mean of their weights, its norms settled anew on training pictures.

    python3 tools/train/blend.py SHARD_FOLDER OUT_WEIGHTS WEIGHTS WEIGHTS...
"""
import sys

import torch

import augment
import data
import export
import network


@torch.no_grad()
def main():
    torch.manual_seed(1)
    device = torch.device("cuda" if torch.cuda.is_available() else "cpu")
    states = [torch.load(path, map_location="cpu") for path in sys.argv[3:]]
    mean = {k: sum(s["averaged"][k].double() for s in states).div(len(states)).to(v.dtype) for k, v in states[0]["averaged"].items()}
    model = network.FlankFinder(**network.SIZES[states[0]["size"]])
    model.load_state_dict(mean)
    model = model.to(device).train()
    for module in model.modules():
        if isinstance(module, torch.nn.BatchNorm2d):
            module.reset_running_stats()
            module.momentum = None  # plain mean over all batches
    pictures = data.Pictures(sys.argv[1], 2000 if device.type == "cuda" else 64, device)
    pictures.look()
    for _ in range(60 if device.type == "cuda" else 4):
        photo, _ = augment.batch(pictures, torch.randint(0, pictures.count, (32,), device=device), 0.8)
        model(photo)
    torch.save(dict(size=states[0]["size"], averaged={k: v.cpu() for k, v in model.state_dict().items()},
                    step=max(s["step"] for s in states), seconds=max(s["seconds"] for s in states),
                    pictures=max(s["pictures"] for s in states)), sys.argv[2])
    export.load(sys.argv[2])


if __name__ == "__main__":
    main()
