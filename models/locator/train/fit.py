"""Train one of the nets for a given time, going on where the last run stopped.

Normally started by `models.locator.train.run`, which trains both nets. Time, not the number of steps, drives the learning
rate (cosine over `--budget` seconds, counted over all runs), so a slower machine only makes fewer steps.
"""

from __future__ import annotations

import argparse
import json
import math
import random
import time
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import torch
from torch import Tensor

from models.locator.train.camera import photographed
from models.locator.train.losses import distillation, loss, targets
from models.locator.train.mixing import load_photos, mixed, with_photos
from models.locator.train.net import Answer, Locator, build, normalised
from models.locator.train.score import scores
from models.locator.train.shards import Scenes, Store, rows, scenes_of
from models.locator.train.warp import random_view, warp

RATE, LAST_RATE, WEIGHT_DECAY, WARM_UP_STEPS = 2.5e-3, 2e-6, 0.02, 200
EMA_DECAY = 0.9985
CLIP_NORM = 2.0
CROPS = {"fine": (352, 416, 480), "quick": (320, 384, 448), "smoke": (128, 160)}
PIXELS_A_STEP = {"fine": 24 * 416**2, "quick": 32 * 384**2, "smoke": 4 * 128**2}
SCORED_WIDTHS = {"fine": (512, 640), "quick": (384, 512), "smoke": (256,)}
"""By kind of net; a smoke run uses its own figures for every net."""
LAST_COMMAND = 1.6
"""A command is taken for the last one if the budget left over is less than this many times its own time."""

CHECK_STEPS, SAVE_SECONDS, WATCH_SECONDS = 100, 45.0, 15.0


@dataclass
class Run:
    """All that changes while a net is trained."""

    net: Locator
    mean: dict[str, Tensor]
    """Exponential moving average of all weights: what is kept in the end."""
    optimiser: torch.optim.Optimizer
    steps: int = 0
    spent_seconds: float = 0.0
    log: list[dict[str, float]] = field(default_factory=list)


@dataclass
class Teacher:
    """A larger net whose answers a smaller one learns from; read again whenever its file changes."""

    path: Path
    device: torch.device
    net: Locator | None = None
    stamp: float = 0.0

    def refresh(self) -> None:
        """Read the weights if the file is there and newer than those in use."""
        stamp = self.path.stat().st_mtime if self.path.is_file() else 0.0
        if stamp > self.stamp:
            self.net, self.stamp = load_weights("fine", self.path).to(self.device, memory_format=torch.channels_last), stamp

    @torch.no_grad()
    def answer(self, rgb: Tensor) -> Answer | None:
        """Return the larger net's answer, or None as long as there is none."""
        return None if self.net is None else self.net(rgb)


def save_weights(weights: dict[str, Tensor], path: Path) -> None:
    """Write all weights to an npz, in one move, so that a reader never sees half a file."""
    part = path.with_suffix(".part.npz")
    np.savez(part, **{name: value.float().cpu().numpy() for name, value in weights.items() if value.is_floating_point()})
    part.rename(path)


def load_weights(kind: str, path: Path) -> Locator:
    """Return the net of `kind` with the weights of an npz, ready to answer."""
    net = build(kind)
    with np.load(path) as file:
        net.load_state_dict({name: torch.from_numpy(file[name]) for name in file.files}, strict=False)
    return net.eval()


def start(kind: str, out: Path, device: torch.device, first: Path | None = None) -> Run:
    """Return the run stored in `out`, or a new one: with the weights of the npz `first`, or untrained."""
    torch.manual_seed(1)
    net = load_weights(kind, first) if first else build(kind)
    net = net.to(device, memory_format=torch.channels_last)
    decayed = [p for p in net.parameters() if p.ndim == 4]
    plain = [p for p in net.parameters() if p.ndim != 4]
    groups = [{"params": decayed, "weight_decay": WEIGHT_DECAY}, {"params": plain, "weight_decay": 0.0}]
    run = Run(net, {}, torch.optim.AdamW(groups, RATE))
    stored = out / f"{kind}.ckpt"
    if stored.is_file():
        state = torch.load(stored, map_location=device, weights_only=True)
        net.load_state_dict(state["net"])
        run.optimiser.load_state_dict(state["optimiser"])
        run.mean, run.steps, run.spent_seconds, run.log = state["mean"], state["steps"], state["spent_seconds"], state["log"]
    else:
        run.mean = {name: value.detach().clone() for name, value in net.state_dict().items()}
    return run


def save(run: Run, kind: str, out: Path) -> None:
    """Store the run for the next command, and the averaged weights by themselves."""
    state = {
        "net": run.net.state_dict(), "optimiser": run.optimiser.state_dict(), "mean": run.mean,
        "steps": run.steps, "spent_seconds": run.spent_seconds, "log": run.log,
    }  # fmt: skip
    part = out / f"{kind}.ckpt.part"
    torch.save(state, part)
    part.rename(out / f"{kind}.ckpt")
    save_weights(run.mean, out / f"{kind}.npz")


def step(run: Run, scale: str, store: Store[Scenes], photos: Tensor | None, teacher: Teacher | None) -> Tensor:
    """Make one step on fresh crops sized by `scale`; return the loss, still on the device."""
    size = random.choice(CROPS[scale])
    device = store.device
    with torch.no_grad():
        n = max(2, round(PIXELS_A_STEP[scale] / size**2))
        scenes = with_photos(rows(store.scenes, torch.randint(0, store.count, (n,), device=device)), photos)
        warped = mixed(warp(scenes, random_view(scenes, size)))
        shots = photographed(warped.linear)
        want = targets(warped, shots.quality)
        rgb = normalised(shots.rgb).contiguous(memory_format=torch.channels_last)
    with torch.autocast(device.type, dtype=torch.bfloat16, enabled=device.type == "cuda"):
        taught = teacher.answer(rgb) if teacher else None
        answer = run.net(rgb)
    total = loss(answer, want) + (distillation(answer, taught) if taught else 0.0)
    run.optimiser.zero_grad()
    total.backward()
    torch.nn.utils.clip_grad_norm_(run.net.parameters(), CLIP_NORM)
    run.optimiser.step()
    run.steps += 1
    _average(run)
    return total.detach()


def train(run: Run, kind: str, store: Store[Scenes], *, options: argparse.Namespace, deadline: float) -> None:
    """Step until `deadline` (seconds since the epoch) or until the budget is spent."""
    photos = load_photos(options.negatives, store.scenes.image.shape[-2:], store.device)
    teacher = Teacher(options.teacher, store.device) if options.teacher else None
    scale = "smoke" if options.smoke else kind
    began, before = time.time(), run.spent_seconds
    budget = _budget(options.budget, before, deadline - began)
    good, saved, watched = _copied(run), began, began
    random.seed(run.steps + 1)
    torch.manual_seed(run.steps + 1)
    run.net.train()
    while (now := time.time()) < deadline and run.spent_seconds < budget:
        run.spent_seconds = before + now - began
        _set_rate(run, run.spent_seconds / budget)
        value = step(run, scale, store, photos, teacher)
        if run.steps % CHECK_STEPS == 0:
            good = _checked(run, kind, float(value), good, time.time() - began)
            if teacher:
                teacher.refresh()
        if now - saved > SAVE_SECONDS:
            save(run, kind, options.out)
            saved = now
        if options.watch and now - watched > WATCH_SECONDS:
            added, watched = store.follow(), now
            print(f"{kind}: {added} more pictures, {store.count} in all", flush=True)
    save(run, kind, options.out)


def report(run: Run, known: dict[str, object], *, options: argparse.Namespace, device: torch.device) -> None:
    """Score the averaged weights on pictures kept back and write `<kind>_scores.json`; `known` says what was trained on."""
    kind = options.kind
    net = load_weights(kind, options.out / f"{kind}.npz").to(device, memory_format=torch.channels_last)
    answer: dict[str, object] = {
        "kind": kind,
        "steps": run.steps,
        "seconds": round(run.spent_seconds),
        "trained_on": known,
        "log": run.log,
    }
    for split in ("val", "test"):
        store = Store(options.data, (split,), scenes_of, device=device, capacity=options.scored)
        if store.refresh():
            answer[split] = [
                scores(net, store.scenes, width=width) for width in SCORED_WIDTHS["smoke" if options.smoke else kind]
            ]
    (options.out / f"{kind}_scores.json").write_text(json.dumps(answer, indent=1))
    print(json.dumps({key: value for key, value in answer.items() if key != "log"}), flush=True)


def parse(arguments: list[str] | None = None) -> argparse.Namespace:
    """Return the options."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--kind", choices=sorted(CROPS), required=True)
    parser.add_argument("--data", type=Path, required=True, help="folder of shards")
    parser.add_argument("--out", type=Path, required=True, help="folder for checkpoints, weights and scores")
    parser.add_argument("--device", default="cuda" if torch.cuda.is_available() else "cpu")
    parser.add_argument("--seconds", type=float, default=math.inf, help="most seconds of training in this command")
    parser.add_argument("--until", type=float, default=math.inf, help="when it must stop, seconds since the epoch")
    parser.add_argument("--budget", type=float, default=900.0, help="seconds of training over all commands")
    parser.add_argument("--watch", action="store_true", help="take in new shards while training")
    parser.add_argument("--wait", type=int, default=1, help="start when so many pictures are there")
    parser.add_argument("--capacity", type=int, default=16000, help="most pictures held")
    parser.add_argument("--scored", type=int, default=800, help="most pictures scored of each split; 0 = do not score")
    parser.add_argument("--negatives", type=Path, help="npz of photos without a plug")
    parser.add_argument("--init", type=Path, help="weights to begin with (an npz of an earlier training) instead of random ones")
    parser.add_argument("--teacher", type=Path, help="weights of a larger net to learn from")
    parser.add_argument("--smoke", action="store_true", help="small crops and batches, to try the steps out")
    return parser.parse_args(arguments)


def main(arguments: list[str] | None = None) -> None:
    """Train, then score if the budget is spent."""
    options = parse(arguments)
    began, device = time.time(), torch.device(options.device)
    options.out.mkdir(parents=True, exist_ok=True)
    torch.backends.cudnn.benchmark = False
    torch.backends.cuda.matmul.allow_tf32 = True
    store = Store(options.data, ("train",), scenes_of, device=device, capacity=options.capacity)
    while store.refresh() + store.count < options.wait and time.time() < options.until:
        time.sleep(5)
    run = start(options.kind, options.out, device, options.init)
    print(f"{options.kind}: {store.count} pictures in {time.time() - began:.0f} s, from step {run.steps}", flush=True)
    train(run, options.kind, store, options=options, deadline=min(options.until, time.time() + options.seconds))
    known = store.known()
    del store
    if options.scored:
        report(run, known, options=options, device=device)


def _budget(planned: float, spent: float, left: float) -> float:
    """Return the seconds over which the rate falls: as planned, or up to the deadline if that comes a little earlier."""
    return spent + left if left < planned - spent < LAST_COMMAND * left else planned


def _set_rate(run: Run, share: float) -> None:
    warm = min(1.0, (run.steps + 1) / WARM_UP_STEPS)
    rate = LAST_RATE + RATE * warm * (0.5 + 0.5 * math.cos(math.pi * min(1.0, share)))
    for group in run.optimiser.param_groups:
        group["lr"] = rate


@torch.no_grad()
def _average(run: Run) -> None:
    decay = min(EMA_DECAY, (run.steps + 1) / (run.steps + 20))
    state = run.net.state_dict()
    names = [name for name, value in state.items() if value.is_floating_point()]
    torch._foreach_lerp_([run.mean[name] for name in names], [state[name] for name in names], 1 - decay)


def _copied(run: Run) -> dict[str, Tensor]:
    return {name: value.clone() for name, value in run.mean.items()}


def _checked(run: Run, kind: str, value: float, good: dict[str, Tensor], seconds: float) -> dict[str, Tensor]:
    """Log the loss; after a loss that is no number, go back to the last good average."""
    print(f"{kind}: step {run.steps} after {run.spent_seconds:.0f} s, loss {value:.3f}", flush=True)
    run.log.append({"step": run.steps, "seconds": round(run.spent_seconds, 1), "loss": round(value, 4)})
    if math.isfinite(value) and all(bool(torch.isfinite(v).all()) for v in run.mean.values() if v.is_floating_point()):
        return _copied(run)
    run.net.load_state_dict(good)
    run.mean = {name: v.clone() for name, v in good.items()}
    run.optimiser.state.clear()
    return good


if __name__ == "__main__":
    main()
