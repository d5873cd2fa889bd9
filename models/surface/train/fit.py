"""Train the surface net for a given time, taking in shards as they are rendered.

    python -m models.surface.train.fit --data DATA --out OUT --device cuda:0 --budget 1500 [--wait 1500] [--until EPOCH_SECONDS]

Writes `surface.npz` (averaged weights) and `surface_scores.json` (what it was trained on, scores of the rounded net on
pictures kept back).
"""

from __future__ import annotations

import argparse
import json
import math
import time
from pathlib import Path

import numpy as np
import torch
from torch import Tensor
from torch.nn import functional as nnf

from models.locator.train.fit import save_weights
from models.locator.train.net import normalised
from models.locator.train.shards import Store, batches, rows
from models.surface.train.crops import CloseUps, close_ups_of, plain_crops, random_crops
from models.surface.train.net import SurfaceNet
from models.surface.train.rounded import coarsened, noisy

RATE, WEIGHT_DECAY, WARM_UP_STEPS, EMA_DECAY, CLIP_NORM = 2e-3, 0.05, 300, 0.999, 2.0
BATCH = 160
SMOOTHING = 0.05
"""Share of each target spread over all readings: renders are labelled by how they were made, not by what can be seen."""

LOOK_SECONDS, SAVE_SECONDS = 6.0, 40.0


def targets(amounts: Tensor) -> Tensor:
    """Return the share of each answer in what a close-up shows, (n, readings + 1), smoothed; the last for no firing end."""
    shown = torch.cat([amounts, (amounts.sum(1, keepdim=True) == 0).float()], 1)
    share = shown / shown.sum(1, keepdim=True)
    return share * (1 - SMOOTHING) + SMOOTHING / share.shape[1]


def train(net: SurfaceNet, mean: dict[str, Tensor], store: Store[CloseUps], options: argparse.Namespace) -> dict[str, float]:
    """Step until the budget is spent; `mean` is kept as the moving average of the weights."""
    optimiser = torch.optim.AdamW(net.parameters(), RATE, weight_decay=WEIGHT_DECAY)
    began = looked = saved = time.time()
    end = min(began + options.budget, options.until or math.inf)
    steps, smooth = 0, 0.0
    net.train()
    while (now := time.time()) < end:
        for group in optimiser.param_groups:
            group["lr"] = (
                RATE * min(1.0, (steps + 1) / WARM_UP_STEPS) * 0.5 * (1 + math.cos(math.pi * (now - began) / (end - began)))
            )
        loss = _step(net, optimiser, store)
        steps += 1
        decay = min(EMA_DECAY, steps / (steps + 20))
        for name, value in net.state_dict().items():
            mean[name].lerp_(value, 1 - decay) if value.is_floating_point() else mean[name].copy_(value)
        if now - looked > LOOK_SECONDS:
            added, looked, smooth = store.follow(), now, float(loss)
            print(f"{now - began:.0f} s, {steps} steps, loss {smooth:.3f}, {store.count} close-ups (+{added})", flush=True)
        if now - saved > SAVE_SECONDS:
            save_weights(mean, options.out / "surface.npz")
            saved = now
    save_weights(mean, options.out / "surface.npz")
    return {"steps": steps, "seconds": round(time.time() - began), "loss": smooth}


def _step(net: SurfaceNet, optimiser: torch.optim.Optimizer, store: Store[CloseUps]) -> Tensor:
    chosen = torch.randint(0, store.count, (BATCH,), device=store.device)
    pictures = rows(store.scenes, chosen)
    with torch.no_grad():
        rgb = normalised(random_crops(pictures)).contiguous(memory_format=torch.channels_last)
    with noisy(net), torch.autocast(store.device.type, dtype=torch.bfloat16, enabled=store.device.type == "cuda"):
        answer = net(rgb)
        loss = nnf.cross_entropy(answer.float(), targets(pictures.amounts))
        optimiser.zero_grad()
        loss.backward()
    torch.nn.utils.clip_grad_norm_(net.parameters(), CLIP_NORM)
    optimiser.step()
    return loss.detach()


@torch.no_grad()
def scores(net: SurfaceNet, store: Store[CloseUps]) -> dict[str, object]:
    """Return how often the likeliest answer is the strongest one, all answers counting alike, in plain and random crops."""
    net.eval()
    truth = targets(store.scenes.amounts).argmax(1)
    found: dict[str, object] = {"pictures": store.count}
    for name, crops in (("plain", plain_crops), ("random", random_crops)):
        said = torch.cat([net(normalised(crops(batch))) for batch in batches(store.scenes, 64)])
        right = [float((said[truth == k].argmax(1) == k).float().mean()) for k in range(said.shape[1]) if (truth == k).any()]
        found[name] = {"balanced": round(float(np.mean(right)), 3), "loss": round(float(nnf.cross_entropy(said, truth)), 3)}
    return found


def load_weights(path: Path) -> SurfaceNet:
    """Return the net with the weights of an npz, ready to answer."""
    net = SurfaceNet()
    with np.load(path) as file:
        net.load_state_dict({name: torch.from_numpy(file[name]) for name in file.files}, strict=False)
    return net.eval()


def parsed() -> argparse.Namespace:
    """Return the command's options."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--data", type=Path, required=True)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--device", default="cpu")
    parser.add_argument("--budget", type=float, default=1500.0, help="seconds")
    parser.add_argument("--until", type=float, default=0.0, help="stop at this time, seconds since 1970")
    parser.add_argument("--wait", type=int, default=500, help="start when so many close-ups are there")
    parser.add_argument("--capacity", type=int, default=25_000)
    return parser.parse_args()


def main() -> None:
    """Train, then score the averaged weights, rounded as they are shipped, on pictures kept back."""
    options = parsed()
    options.out.mkdir(parents=True, exist_ok=True)
    device = torch.device(options.device)
    torch.manual_seed(1)
    store = Store(options.data, ("train",), close_ups_of, device=device, capacity=options.capacity)
    while not store.refresh() or store.count < options.wait:
        time.sleep(2)
    net = SurfaceNet().to(device, memory_format=torch.channels_last)
    mean = {name: value.detach().clone() for name, value in net.state_dict().items()}
    report: dict[str, object] = dict(train(net, mean, store, options))
    report["trained_on"] = store.known()
    kept = coarsened(load_weights(options.out / "surface.npz")).to(device)
    for split in ("val", "test"):
        back = Store(options.data, (split,), close_ups_of, device=device, capacity=2000)
        if back.refresh():
            report[split] = scores(kept, back)
    (options.out / "surface_scores.json").write_text(json.dumps(report))
    print(json.dumps(report))


if __name__ == "__main__":
    main()
