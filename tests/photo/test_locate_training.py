"""What the training of the locator promises: pictures and their targets move together, and the camera is a plausible one."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

torch = pytest.importorskip("torch")

from models.locator.train import camera, jpeg, losses, warp  # noqa: E402 - only where torch is installed
from models.locator.train.shards import Scenes  # noqa: E402
from models.locator.train.targets import NOSE  # noqa: E402


def scenes(n: int = 6) -> Scenes:
    """Black pictures with one white square nose each, whose middle is the nose centre."""
    image = torch.zeros(n, 3, 96, 128, dtype=torch.float16)
    parts, plug = torch.zeros(n, 96, 128, dtype=torch.uint8), torch.zeros(n, 96, 128, dtype=torch.uint8)
    keys = torch.full((n, 8, 5, 2), float("nan"))
    for k in range(n):
        x, y = 40 + 6 * k, 30 + 5 * k
        image[k, :, y : y + 14, x : x + 14] = 1.0
        parts[k, y : y + 14, x : x + 14], plug[k, y : y + 14, x : x + 14] = NOSE, 1
        keys[k, 0] = torch.tensor([x + 7.0, y + 7.0])
    view = torch.zeros(n, 8, dtype=torch.uint8)
    view[:, 0] = 1
    return Scenes(image, parts, plug, keys, view)


def crops() -> warp.Warped:
    torch.manual_seed(4)
    given = scenes()
    return warp.warp(given, warp.random_view(given, 96))


def test_key_points_stay_on_their_part() -> None:
    """After any crop, turn, flip and tilt the nose centre still lies on the nose (within a cell of its middle)."""
    moved = crops()
    for parts, keys in zip(moved.parts, moved.keys[:, 0, 4], strict=True):
        rows, columns = np.nonzero((parts == NOSE).numpy())
        if len(rows) > 150 and 6 < keys[0] < 42 and 6 < keys[1] < 42:
            assert np.hypot(columns.mean() + 0.5 - keys[0], rows.mean() + 0.5 - keys[1]) < 4.0


def test_labels_stay_on_the_picture() -> None:
    """After any crop, turn, flip and tilt the white square is where the nose's label is."""
    moved = crops()
    light = torch.nn.functional.avg_pool2d(moved.linear.mean(1, keepdim=True), 2)[:, 0]
    inside = moved.parts != warp.IGNORED
    same = ((light > 0.5) == (moved.parts == NOSE))[inside].float().mean()
    assert float(same) > 0.97


def test_offsets_point_to_the_nose_centre() -> None:
    """A cell plus its offset is the nose centre."""
    moved = crops()
    want = losses.targets(moved, torch.zeros(len(moved.parts), dtype=torch.long))
    n, row, column = (int(v[0]) for v in torch.nonzero(want.owned, as_tuple=True))
    x = column + 0.5 + float(want.offset[n, 0, row, column]) * losses.OFFSET_CELLS
    y = row + 0.5 + float(want.offset[n, 1, row, column]) * losses.OFFSET_CELLS
    assert np.allclose((x, y), moved.keys[n, 0, 4].numpy(), atol=1e-2)


@pytest.mark.parametrize("quality", [50, 75, 92])
def test_jpeg_loss_is_that_of_a_real_encoder(quality: int) -> None:
    """Our loss differs from OpenCV's JPEG (4:2:0) of the same quality by less than half of what either takes from the picture."""
    rng = np.random.default_rng(2)
    smooth = cv2.GaussianBlur(rng.uniform(0, 255, (64, 96, 3)), (0, 0), 1.5)
    picture = np.clip((smooth - 127) * 4 + 127, 0, 255).astype(np.uint8)
    options = [cv2.IMWRITE_JPEG_QUALITY, quality, cv2.IMWRITE_JPEG_SAMPLING_FACTOR, cv2.IMWRITE_JPEG_SAMPLING_FACTOR_420]
    real = cv2.imdecode(cv2.imencode(".jpg", picture[..., ::-1], options)[1], cv2.IMREAD_COLOR)[..., ::-1].astype(float)
    given = torch.from_numpy(picture).permute(2, 0, 1)[None].float() / 255
    ours = jpeg.jpeg(given, torch.tensor([float(quality)]))[0].permute(1, 2, 0).numpy() * 255
    lost = np.abs(real - picture).mean()
    assert np.abs(ours - real).mean() < 0.5 * lost


def test_camera_gives_eight_bit_pictures() -> None:
    """What comes out of the camera are whole code values from 0 to 255."""
    torch.manual_seed(1)
    rgb = camera.photographed(torch.rand(4, 3, 64, 64)).rgb * 255
    assert bool(((rgb - rgb.round()).abs() < 1e-3).all() & (rgb >= 0).all() & (rgb <= 255).all())


def test_too_dark_pictures_are_dark() -> None:
    """A picture spoiled as too dark comes out darker than any left alone."""
    torch.manual_seed(1)
    shots = camera.photographed(torch.rand(200, 3, 32, 32))
    level = shots.rgb.mean((1, 2, 3))
    assert level[shots.quality == 3].max() < level[shots.quality == 0].median()
