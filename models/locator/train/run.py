"""Train both nets with one command, on two GPUs, one, or none.

    python -m models.locator.train.run --data DATA --out OUT --budget 900 --seconds 560 [--watch] [--until EPOCH]
    python -m models.locator.train.run --data DATA --out OUT --smoke

Run it again with the same folders to go on. OUT then holds for each net: `<kind>.npz` (averaged weights),
`<kind>_scores.json` and `<kind>.ckpt` (to go on from). `--home DIR` copies the first two there as they change, so that
they come back even if the command is cut off.
"""

from __future__ import annotations

import argparse
import shutil
import subprocess
import sys
import time
from pathlib import Path

import torch

FINE_SHARE = 0.7
"""Part of the time that the large net has where both share one device."""

SCORING_SECONDS = 45.0
"""Kept back at the end of a command for scoring."""

HOME_FILES = ("*.npz", "*_scores.json")


def parse() -> argparse.Namespace:
    """Return the options."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--data", type=Path, required=True, help="folder of shards")
    parser.add_argument("--out", type=Path, required=True, help="folder for checkpoints, weights and scores")
    parser.add_argument("--home", type=Path, help="folder that also gets the small results, again and again")
    parser.add_argument("--negatives", type=Path, default=Path(".whl/negatives.npz"), help="photos without a plug")
    parser.add_argument("--seconds", type=float, default=560.0, help="length of this command, scoring included")
    parser.add_argument("--until", type=float, default=float("inf"), help="when it must be over, seconds since the epoch")
    parser.add_argument("--budget", type=float, default=900.0, help="seconds of training of each net over all commands")
    parser.add_argument("--wait", type=int, default=1, help="start when so many pictures are there")
    parser.add_argument("--capacity", type=int, default=16000, help="most pictures held on each device")
    parser.add_argument("--watch", action="store_true", help="take in new shards while training")
    parser.add_argument("--no-score", action="store_true", help="train only")
    parser.add_argument("--smoke", action="store_true", help="all steps in miniature, in under a minute")
    return parser.parse_args()


def command(options: argparse.Namespace, kind: str, device: str, *, end: float, budget: float) -> list[str]:
    """Return the command line that trains one net until `end`, seconds since the epoch."""
    words = [sys.executable, "-m", "models.locator.train.fit", "--kind", kind, "--device", device]
    words += ["--data", options.data, "--out", options.out, "--negatives", options.negatives]
    words += ["--until", end, "--budget", budget, "--capacity", options.capacity, "--wait", options.wait]
    words += ["--scored", 0 if options.no_score else 20 if options.smoke else 800]
    words += ["--watch"] * options.watch + ["--smoke"] * options.smoke
    words += ["--teacher", options.out / "fine.npz"] if kind == "quick" else []
    return [str(word) for word in words]


def follow(running: list[subprocess.Popen[bytes]], options: argparse.Namespace) -> int:
    """Wait for all, copying small results home meanwhile; return the worst exit status."""
    while any(process.poll() is None for process in running):
        time.sleep(1)
        if options.home and int(time.time()) % 20 == 0:
            take_home(options.out, options.home)
    if options.home:
        take_home(options.out, options.home)
    return max(abs(process.returncode) for process in running)


def take_home(out: Path, home: Path) -> None:
    """Copy weights and scores to `home`."""
    home.mkdir(parents=True, exist_ok=True)
    for pattern in HOME_FILES:
        for path in out.glob(pattern):
            if ".part" not in path.name:
                shutil.copyfile(path, home / path.name)


def main() -> int:
    """Train as the machine allows; return the exit status."""
    options = parse()
    options.out.mkdir(parents=True, exist_ok=True)
    end = min(options.until, time.time() + options.seconds) - (0 if options.no_score else SCORING_SECONDS)
    if options.smoke:
        return smoke(options)
    if torch.cuda.device_count() > 1:
        pairs = (("fine", "cuda:0"), ("quick", "cuda:1"))
        both = [command(options, kind, device, end=end, budget=options.budget) for kind, device in pairs]
        return follow([subprocess.Popen(words) for words in both], options)
    device = "cuda" if torch.cuda.is_available() else "cpu"
    middle = time.time() + FINE_SHARE * (end - time.time())
    plan = (("fine", middle, FINE_SHARE), ("quick", end, 1 - FINE_SHARE))
    for kind, stop, share in plan:
        words = command(options, kind, device, end=stop, budget=options.budget * share)
        if status := follow([subprocess.Popen(words)], options):
            return status
    return 0


def smoke(options: argparse.Namespace) -> int:
    """Train each net for a few seconds, the first in two goes, and score; return the exit status."""
    device = "cuda" if torch.cuda.is_available() else "cpu"
    options.capacity = 60
    for kind, budget in (("fine", 3.0), ("fine", 6.0), ("quick", 4.0)):
        words = command(options, kind, device, end=float("inf"), budget=budget)
        if status := follow([subprocess.Popen(words)], options):
            return status
    return 0


if __name__ == "__main__":
    sys.exit(main())
