"""Paints a piece: bare stuff, use, then each reading's coat in the order engines lay them down."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from sample_images.render.plug import dry, heat, outside, wet
from sample_images.render.plug.bare import bare, odd_base, odd_coat, used
from sample_images.render.plug.draws import draws
from sample_images.render.plug.marks import marked
from sample_images.render.plug.piece import Piece, Site
from sample_images.render.plug.shape import PlugSpec
from sample_images.render.plug.skin import Skin

Coat = Callable[[Skin, Site, float, np.random.Generator], None]

COATS: dict[str, Coat] = {
    "normal": dry.normal,
    "lean_white": heat.lean_white,
    "overheated": heat.overheated,
    "detonation_damage": heat.peppered,
    "additive_stain": dry.additive_stain,
    "lead_fouled": dry.lead_fouled,
    "ash_crust": dry.ash_crust,
    "carbon_fouled": dry.carbon_fouled,
    "loose_powder": dry.loose_powder,
    "coolant_crust": dry.coolant_crust,
    "splash_fouled": dry.splash_fouled,
    "oil_fouled": wet.oil_fouled,
    "glazed": wet.glazed,
    "fuel_wet": wet.fuel_wet,
    "coolant_wet": wet.coolant_wet,
    "metal_specks": heat.metal_specks,
    "corona_stain": outside.corona_stain,
    "gas_past_insulator": outside.gas_past_insulator,
    "flashover_track": outside.flashover_track,
    "body_cracked": outside.body_cracked,
    "gas_past_seat": outside.gas_past_seat,
    "water_in_well": outside.water_in_well,
    "oil_in_well": outside.oil_in_well,
}
"""Coats by reading, first laid first. Readings that are shapes rather than coats stand in `damage`."""


def painted(piece: Piece, spec: PlugSpec) -> Skin:
    """Return the piece's skin: bare, used, coated, then what damage left bare."""
    site = Site(spec, piece)
    skin = bare(site, draws(spec, "bare"))
    if spec.odd is not None:
        odd_base(skin, site, spec.odd)
    used(skin, site, draws(spec, "used"))
    for reading, coat in COATS.items():
        amount = spec.amount(reading)
        if amount > 0 and piece.stuff != "bright":
            coat(skin, site, amount, draws(spec, reading))
    if spec.odd is not None:
        odd_coat(skin, site, spec.odd, draws(spec, "odd"))
    marked(skin, site, draws(spec, "marks"))
    return skin
