"""Where the models, the sample pictures and the page's start file lie: inside the wheel, or beside the package in a checkout."""

from __future__ import annotations

from pathlib import Path


def data_root() -> Path:
    """Return the folder that holds `models`, `sample_images` and `app.py`."""
    package = Path(__file__).resolve().parent
    packed = package / "_data"
    return packed if packed.is_dir() else package.parent


def models_dir() -> Path:
    """Return the folder of shipped models (`locator`, `surface`, `classifier`)."""
    return data_root() / "models"


def samples_dir() -> Path:
    """Return the folder of the rendered sample pictures and sample engines."""
    return data_root() / "sample_images"


def app_file() -> Path:
    """Return the start file of the page."""
    return data_root() / "app.py"
