"""The frozen records that pass between the stages.

Flow: photo -> parts found -> measured -> reading -> all cylinders compared -> causes -> next check -> verdict.
"""

from plugread.records.case import (
    Case,
    CheckEntry,
    EngineSpec,
    Lineup,
    PlugEntry,
    PlugType,
)
from plugread.records.measuring import (
    KEY_POINTS,
    PARTS,
    Box,
    FiringEnd,
    Measured,
    PartMap,
    Photo,
    PhotoRead,
    PlugMeasures,
    PlugRead,
    Quality,
    Reading,
    ReadStatus,
    View,
    White,
    WhiteMethod,
)
from plugread.records.reasoning import (
    Action,
    CauseRank,
    CheckAdvice,
    Comparison,
    Diagnosis,
    Evidence,
    Reason,
    Verdict,
)

__all__ = [
    "KEY_POINTS",
    "PARTS",
    "Action",
    "Box",
    "Case",
    "CauseRank",
    "CheckAdvice",
    "CheckEntry",
    "Comparison",
    "Diagnosis",
    "EngineSpec",
    "Evidence",
    "FiringEnd",
    "Lineup",
    "Measured",
    "PartMap",
    "Photo",
    "PhotoRead",
    "PlugEntry",
    "PlugMeasures",
    "PlugRead",
    "PlugType",
    "Quality",
    "ReadStatus",
    "Reading",
    "Reason",
    "Verdict",
    "View",
    "White",
    "WhiteMethod",
]
