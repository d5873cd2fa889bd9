"""Everything that is measured on one firing end, joined; each number may be missing, with its reason."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from plugread.measure import crust, gloss, nose_colour, specks
from plugread.measure.closer import shipped_look
from plugread.measure.gap import GapFound, find_gap
from plugread.measure.shape import shape_features
from plugread.measure.view import NoseView, nose_view
from plugread.pixels import Mask
from plugread.records import Box, FiringEnd, Photo, PlugMeasures, Quality, White


@dataclass(frozen=True, eq=False)
class MeasuredPlug:
    """The measures, and the nose pixels they come from (bool over `mask_box`, upright full-size pixels)."""

    measures: PlugMeasures
    nose_mask: Mask | None
    mask_box: Box | None


def shipped_gap(photo: Photo, end: FiringEnd, quality: Quality, thread: str | None = None) -> GapFound:
    """Return the gap as seen with the shipped net's closer look; parameters as for `find_gap`."""
    return find_gap(photo, end, quality, thread, shipped_look)


def gap_not_asked() -> GapFound:
    """Return the answer of a quick look, which has too few pixels for a gap."""
    return GapFound(None, "a quick look does not measure the gap")


def measure_plug(
    photo: Photo, end: FiringEnd, white: White, quality: Quality, gap_found: Callable[[], GapFound] = gap_not_asked
) -> MeasuredPlug:
    """Return colour, gloss, crust, specks and gap of a firing end that `quality` let through.

    Parameters
    ----------
    photo : decoded finely enough for the nose's surface; the gap wants all pixels and is found apart, by `shipped_gap`.
    gap_found : asked last, so that the gap can be measured beside the rest.
    """
    colour = nose_colour.measure(photo, end, white)
    nose = nose_view(photo, end, white, quality)
    shine, no_shine = gloss.measure(nose)
    rough, no_rough = crust.measure(nose)
    flecks, no_flecks = specks.measure(nose)
    gap = gap_found()
    reasons = {"colour": colour.why, "gloss": no_shine, "crust": no_rough, "specks": no_flecks, "gap": gap.why}
    measures = PlugMeasures(
        lightness=colour.lightness,
        a=colour.a,
        b=colour.b,
        gloss=shine,
        crust=rough,
        specks=flecks,
        gap_mm=gap.gap,
        why={name: why for name, why in reasons.items() if why},
        features=colour.features | _nose_features(nose) | shape_features(end),
        gap_line=gap.line if gap.gap else None,
        px_per_mm=gap.px_per_mm,
    )
    return MeasuredPlug(measures, colour.mask, colour.mask_box)


def _nose_features(nose: NoseView | None) -> dict[str, float]:
    return {} if nose is None else {"px_per_mm": nose.px_per_mm, "bright_share": nose.bright_share, "blur_mm": nose.blur_mm}
