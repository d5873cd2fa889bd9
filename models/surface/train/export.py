"""Turn the trained surface net into what is shipped: `surface.onnx` with float16 weights, and `card.json`.

    python -m models.surface.train.export OUT [--to models/surface]

OUT holds `surface.npz` and `surface_scores.json` as `models.surface.train.fit` leaves them. The file is run in `cv2.dnn` against
torch, both with the rounded weights, before it is accepted.
"""

from __future__ import annotations

import argparse
import datetime
import hashlib
import json
import tempfile
import warnings
from pathlib import Path

import cv2
import numpy as np
import onnx
import torch

from models.locator.train.export import OPSET, TOLERANCE, halve
from models.locator.train.net import INPUT_GAIN, INPUT_MEAN
from models.surface.train.fit import load_weights
from models.surface.train.net import SurfaceNet
from models.surface.train.rounded import coarsened
from plugread.reading.surface import ANSWERS, REACH, SIDE_PX


def export(net: SurfaceNet, path: Path) -> float:
    """Write the net to `path`; return the largest difference between `cv2.dnn` and torch, both with the rounded weights.

    Raises
    ------
    ValueError : if cv2.dnn answers differently.
    """
    net = coarsened(net).eval()
    with tempfile.TemporaryDirectory() as folder, warnings.catch_warnings():
        warnings.simplefilter("ignore")
        full = Path(folder) / "full.onnx"
        torch.onnx.export(
            net, (torch.zeros(1, 3, SIDE_PX, SIDE_PX),), str(full), opset_version=OPSET, dynamo=False,
            input_names=["rgb"], output_names=["shares"],
        )  # fmt: skip
        model = onnx.load(str(full))
    halve(model)
    path.write_bytes(model.SerializeToString())
    return _compared(net, path)


@torch.no_grad()
def _compared(net: SurfaceNet, path: Path) -> float:
    shipped = cv2.dnn.readNetFromONNX(str(path))
    x = np.random.default_rng(1).normal(0, 1, (1, 3, SIDE_PX, SIDE_PX)).astype(np.float32)
    shipped.setInput(x)
    expected = net(torch.from_numpy(x)).numpy().ravel()
    worst = float(np.abs(shipped.forward().ravel() - expected).max() / max(1.0, np.abs(expected).max()))
    if not worst <= TOLERANCE:
        raise ValueError(f"{path.name}: cv2.dnn differs by {worst:.2g} (limit {TOLERANCE:g})")
    return worst


def card(out: Path, file: Path) -> dict[str, object]:
    """Return what should be known of the file."""
    data = file.read_bytes()
    return {
        "purpose": "Says how much a firing end looks like each reading; its answers are features of a taught model.",
        "made": datetime.date.today().isoformat(),
        "file": file.name, "bytes": len(data), "sha256": hashlib.sha256(data).hexdigest(),
        "input": {"order": "RGB", "mean": INPUT_MEAN, "gain": INPUT_GAIN, "side_px": SIDE_PX, "light": "corrected"},
        "square": {"reach": REACH, "about": "nose, electrodes and rim"},
        "answers": ANSWERS,
        "data": "Path-traced close-ups of our own (sample_images/render/close_ups.py); no real photo of a plug was used.",
        "splits": "By seed range, see sample_images/render/families.py; 'test' also comes from another family of scenes.",
        "limits": [
            "Scores are on rendered close-ups cut out by their true outline; real photos will score lower.",
            "A reading is what the plug was made with; slight ones may hardly show in a view.",
        ],
        **json.loads((out / "surface_scores.json").read_text()),
    }  # fmt: skip


def main() -> None:
    """Export the trained net and write the card."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("out", type=Path)
    parser.add_argument("--to", type=Path, default=Path("models/surface"))
    options = parser.parse_args()
    path = options.to / "surface.onnx"
    difference = export(load_weights(options.out / "surface.npz"), path)
    print(f"{path}: {path.stat().st_size / 1e6:.2f} MB, cv2.dnn differs by {difference:.1e}")
    (options.to / "card.json").write_text(json.dumps(card(options.out, path), indent=1) + "\n")


if __name__ == "__main__":
    main()
