"""What a row of each table must hold: its fields, their kind, and what their words may be."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

GRADES = ("standard", "handbook", "paper", "trade_text", "common_practice", "our_estimate")
PUBLISHED = ("standard", "handbook", "paper", "trade_text")
"""Grades that need a source."""

NEEDS: Mapping[str, tuple[str, ...]] = {
    "layout": ("inline", "vee", "flat"),
    "induction": ("carburettor", "single_point", "port_injection", "direct_injection"),
    "ignition": ("contact_breaker", "distributor", "wasted_spark", "coil_on_plug", "magneto"),
    "closed_loop": ("true", "false"),
    "head": ("aluminium", "iron"),
    "cylinders": tuple(f"{count}+" for count in range(2, 13)),
}
"""What a cause or check can ask of an engine, and the words an engine can answer with."""

SCALES = ("prior", "link", "leak", "look", "severity", "put_right")
CHANCES = ("prior", "link", "leak")
"""Scales whose numbers are chances strictly between 0 and 1; `look` may reach 1, the others are losses."""

LOSSES = ("hourly", "standing_still", "close_call_share")

BAND_RULES = (
    "share_of_highest",
    "rise_over_dry",
    "leak_with_place",
    "lead_per_metre",
    "outlier_of_set",
    "outlier_or_above",
    "below",
    "above",
    "against_spec",
    "drop_from_average",
    "told",
    "gauge",
    "distance",
)
"""Rules of the band tables; each is explained in a comment beside its limits."""


@dataclass(frozen=True)
class Field:
    """One field of a row.

    `kind` is text, texts, flag, whole, number, map or rows. `words` are the only words allowed; `names` is the table or scale
    ("scales.prior") the words must be found in.
    """

    kind: str
    required: bool = True
    words: tuple[str, ...] = ()
    names: str = ""


TEXT, TEXTS, NUMBER = Field("text"), Field("texts"), Field("number")
REMARK, FLAG = Field("text", required=False), Field("flag", required=False)
BACKING: Mapping[str, Field] = {"grade": Field("text", words=GRADES), "sources": Field("texts", required=False)}
CAUSE, FINDING = Field("text", names="cause"), Field("text", names="finding")
NEEDED = Field("map", required=False)

SHAPES: Mapping[str, Mapping[str, Field]] = {
    "source": {
        "id": TEXT,
        "publisher": TEXT,
        "title": TEXT,
        "edition": TEXT,
        "read": Field("text", words=("full", "excerpt", "memory")),
        "note": REMARK,
    },
    "finding": {
        "id": TEXT,
        "name": TEXT,
        "level": Field("text", words=("cylinder", "engine")),
        "kind": Field("text", words=("firing_end", "outside", "removal", "sign")),
        "seen": TEXT,
        "confused_with": REMARK,
        "severity": Field("whole"),
        "leak": Field("text", names="scales.leak"),
        "danger": FLAG,
        "photo": FLAG,
        "stop": REMARK,
        "note": REMARK,
        "implies": Field("texts", required=False, names="finding"),
        "excludes": Field("texts", required=False, names="finding"),
        **BACKING,
    },
    "cause": {
        "id": TEXT,
        "name": TEXT,
        "scope": Field("text", words=("engine", "bank", "feed", "coil", "neighbours", "cylinder")),
        "prior": Field("text", names="scales.prior"),
        "severity": Field("text", names="scales.severity"),
        "put_right": Field("text", names="scales.put_right"),
        "remedy": TEXT,
        "hint": TEXT,
        "needs": NEEDED,
        "note": REMARK,
        **BACKING,
    },
    "link": {"cause": CAUSE, "finding": FINDING, "strength": Field("text", names="scales.link"), **BACKING},
    "context": {
        "sign": FINDING,
        "finding": FINDING,
        "leak": Field("text", required=False, names="scales.leak"),
        "shows": Field("text", required=False, names="scales.look"),
        "note": REMARK,
        **BACKING,
    },
    "check": {
        "id": TEXT,
        "name": TEXT,
        "per": Field("text", words=("engine", "cylinder", "all_cylinders")),
        "engine": Field("text", words=("off", "cranked", "running")),
        "minutes": NUMBER,
        "setup_minutes": Field("number", required=False),
        "tools": TEXT,
        "how": TEXT,
        "separates": TEXT,
        "cautions": Field("texts", names="caution"),
        "outcomes": Field("rows"),
        "answers": Field("rows"),
        "needs": NEEDED,
        "bands": Field("text", required=False, names="band"),
        "after": Field("text", required=False, names="check"),
        "note": REMARK,
        **BACKING,
    },
    "outcome": {
        "id": TEXT,
        "name": TEXT,
        "fallthrough": FLAG,
        "false_alarm": Field("text", required=False, names="scales.leak"),
        "danger": FLAG,
        "advice": REMARK,
    },
    "answer": {"outcome": TEXT, "cause": CAUSE, "strength": Field("text", names="scales.link"), **BACKING},
    "pattern": {
        "id": TEXT,
        "name": TEXT,
        "points_to": TEXT,
        "rules_out": TEXT,
        "first_checks": Field("texts", names="check"),
        **BACKING,
    },
    "band": {
        "id": TEXT,
        "check": Field("text", required=False, names="check"),
        "unit": TEXT,
        "rule": Field("text", words=BAND_RULES),
        "limits": Field("map"),
        "note": REMARK,
        **BACKING,
    },
}
