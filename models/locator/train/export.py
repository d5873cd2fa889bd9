"""Turn trained weights into what is shipped: two ONNX files with float16 weights and `card.json`.

    python -m models.locator.train.export OUT [--to models/locator]

OUT holds `fine.npz`, `quick.npz` and their `_scores.json`, as `models.locator.train.run` leaves them, and perhaps
`finder_*.json` from `models.locator.train.evaluate --json`, which then stand in the card. Batch norms are folded
into the convolutions, weights are stored as float16 (they are widened when loaded), and each file is run in `cv2.dnn`
against torch before it is accepted.
"""

from __future__ import annotations

import argparse
import copy
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
from onnx import TensorProto, helper, numpy_helper
from torch import Tensor, nn
from torch.nn.utils.fusion import fuse_conv_bn_eval

from models.locator.train.fit import load_weights
from models.locator.train.net import INPUT_GAIN, INPUT_MEAN, Locator, Separable
from models.locator.train.targets import HEATS, OFFSET_CELLS, PARTS, QUALITIES, VIEWS

KINDS = ("fine", "quick")
OUTPUTS = ("dense", "whole")
TOLERANCE = 1e-3
"""Largest difference allowed between cv2.dnn and torch with the same rounded weights, relative to the largest answer."""

OPSET = 13


class _Plain(nn.Module):
    """The net with a plain tuple as its answer, which the exporter needs."""

    def __init__(self, net: Locator) -> None:
        super().__init__()
        self.net = net

    def forward(self, x: Tensor) -> tuple[Tensor, Tensor]:
        answer = self.net(x)
        return answer.dense, answer.whole


def folded(net: Locator) -> Locator:
    """Return a copy with each batch norm folded into the convolution before it and all weights rounded to float16."""
    net = copy.deepcopy(net).eval()
    for module in list(net.modules()):
        if isinstance(module, Separable):
            module.depth, module.depth_norm = fuse_conv_bn_eval(module.depth, module.depth_norm), nn.Identity()
            module.point, module.point_norm = fuse_conv_bn_eval(module.point, module.point_norm), nn.Identity()
        if isinstance(module, nn.Sequential) and len(module) > 1 and isinstance(module[1], nn.BatchNorm2d):
            module[0], module[1] = fuse_conv_bn_eval(module[0], module[1]), nn.Identity()
    for parameter in net.parameters():
        parameter.data = parameter.data.half().float()
    return net


def export(net: Locator, path: Path) -> float:
    """Write the net to `path`; return the largest difference between `cv2.dnn` and torch, both with the rounded weights.

    Raises
    ------
    ValueError : if cv2.dnn answers differently.
    """
    net = folded(net)
    axes = {"rgb": {2: "h", 3: "w"}, "dense": {2: "h2", 3: "w2"}}
    with tempfile.TemporaryDirectory() as folder, warnings.catch_warnings():
        warnings.simplefilter("ignore")
        full = Path(folder) / "full.onnx"
        torch.onnx.export(
            _Plain(net).eval(), (torch.zeros(1, 3, 64, 96),), str(full), opset_version=OPSET, dynamo=False,
            input_names=["rgb"], output_names=list(OUTPUTS), dynamic_axes=axes,
        )  # fmt: skip
        model = onnx.load(str(full))
    halve(model)
    path.write_bytes(model.SerializeToString())
    return _compared(net, path)


def halve(model: onnx.ModelProto) -> None:
    """Store the weights as float16, each with a node that widens it again."""
    casts = []
    for weight in model.graph.initializer:
        values = numpy_helper.to_array(weight)
        if values.dtype == np.float32 and values.ndim:
            name = weight.name
            weight.CopyFrom(numpy_helper.from_array(values.astype(np.float16), f"{name}_half"))
            casts.append(helper.make_node("Cast", [f"{name}_half"], [name], to=TensorProto.FLOAT))
    nodes = [*casts, *model.graph.node]
    del model.graph.node[:]
    model.graph.node.extend(nodes)


@torch.no_grad()
def _compared(net: Locator, path: Path) -> float:
    shipped = cv2.dnn.readNetFromONNX(str(path))
    worst = 0.0
    for height, width in ((384, 512), (352, 256)):
        x = np.random.default_rng(1).normal(0, 1, (1, 3, height, width)).astype(np.float32)
        shipped.setInput(x, "rgb")
        for mine, theirs in zip(shipped.forward(list(OUTPUTS)), net(torch.from_numpy(x)), strict=True):
            expected = theirs.numpy()
            worst = max(worst, float(np.abs(mine.reshape(expected.shape) - expected).max() / max(1.0, np.abs(expected).max())))
    if not worst <= TOLERANCE:
        raise ValueError(f"{path.name}: cv2.dnn differs by {worst:.2g} (limit {TOLERANCE:g})")
    return worst


def shipped(out: Path) -> list[str]:
    """Return the kinds of net whose trained weights lie in `out`."""
    return [kind for kind in KINDS if (out / f"{kind}.npz").is_file()]


def card(out: Path, to: Path, facts: dict[str, object]) -> dict[str, object]:
    """Return what should be known of the two files."""
    nets = {}
    for kind in shipped(out):
        data = (to / f"{kind}.onnx").read_bytes()
        scores = json.loads((out / f"{kind}_scores.json").read_text()) if (out / f"{kind}_scores.json").is_file() else {}
        scores.pop("log", None)
        nets[kind] = {"file": f"{kind}.onnx", "bytes": len(data), "sha256": hashlib.sha256(data).hexdigest(), **scores}
    return {
        "purpose": "Marks the parts of spark plug firing ends in a photo; says the view and whether the photo can be read.",
        "made": datetime.date.today().isoformat(),
        "input": {"order": "RGB", "mean": INPUT_MEAN, "gain": INPUT_GAIN, "multiple_of": 32},
        "dense": {"cells_px": 2, "parts": PARTS, "heats": HEATS, "offset_cells": OFFSET_CELLS},
        "whole": {"views": VIEWS, "qualities": QUALITIES},
        "data": "Path-traced scenes of our own (sample_images/render); no real photo of a plug was used in training or testing. "
        "Photos without a plug from the wheels of scikit-image and scikit-learn as negatives.",
        "splits": "By seed range, see sample_images/render/families.py; 'test' also comes from another family of scenes.",
        "limits": [
            "Scores are on rendered pictures sent through a simulated camera; real photos will score lower.",
            "Key points place a crop; edges for the gap are taken at full size elsewhere.",
            "Probabilities are not calibrated on real photos.",
        ],
        **facts,
        "finder": {path.stem.removeprefix("finder_"): json.loads(path.read_text()) for path in sorted(out.glob("finder_*.json"))},
        "nets": nets,
    }


def main() -> None:
    """Export the trained nets and write the card."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("out", type=Path)
    parser.add_argument("--to", type=Path, default=Path("models/locator"))
    parser.add_argument("--facts", type=json.loads, default={}, help="further entries of the card, as JSON")
    options = parser.parse_args()
    for kind in shipped(options.out):
        path = options.to / f"{kind}.onnx"
        difference = export(load_weights(kind, options.out / f"{kind}.npz"), path)
        print(f"{path}: {path.stat().st_size / 1e6:.2f} MB, cv2.dnn differs by {difference:.1e}")
    (options.to / "card.json").write_text(json.dumps(card(options.out, options.to, options.facts), indent=1) + "\n")


if __name__ == "__main__":
    main()
