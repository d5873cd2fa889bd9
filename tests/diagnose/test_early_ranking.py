"""The ranking that is told before the rest is worked out, and the network that several cases share."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from plugread import pipeline
from plugread.casefile import load_case
from plugread.diagnose.network import Network
from plugread.engine import Engine
from plugread.records import Ranking

CASES = sorted((Path(__file__).resolve().parents[1] / "cases").glob("*.toml"))[::40]


@pytest.mark.parametrize("path", CASES, ids=lambda path: path.stem)
def test_the_early_ranking_is_the_final_one(path: Path) -> None:
    """What is told early differs from the answer only in the ranges, which it does not have yet."""
    told: list[Ranking] = []
    found = pipeline.diagnose_case(load_case(path), reads={}, on_ranking=told.append)
    bare = tuple(replace(cause, band=None, stays_first=None, stays_first_interval=None) for cause in found.causes)
    assert [(r.comparison, r.causes, r.none_listed) for r in told] == [(found.comparison, bare, found.none_listed)]


@pytest.mark.parametrize("path", CASES, ids=lambda path: path.stem)
def test_a_shared_network_changes_nothing(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """With the network kept from an earlier case and with one built for this case alone, the answer is the same."""
    case = load_case(path)
    kept = pipeline.diagnose_case(case, reads={})
    monkeypatch.setattr(pipeline, "_network", lambda engine, rules: Network(rules, Engine(engine.spec)))
    assert pipeline.diagnose_case(case, reads={}) == kept


class _NotWantedError(Exception):
    """Stands for a newer tick."""


@pytest.mark.parametrize("path", CASES, ids=lambda path: path.stem)
def test_an_answer_no_longer_wanted_stops_between_pieces(path: Path) -> None:
    """The ranking is told, then the work asks again and again whether it is wanted, and ends with what the question raises."""
    asked, told = [0], list[Ranking]()

    def between() -> None:
        asked[0] += 1
        if asked[0] == 3:
            raise _NotWantedError

    with pytest.raises(_NotWantedError):
        pipeline.diagnose_case(load_case(path), reads={}, on_ranking=told.append, between=between)
    assert (len(told), asked[0]) == (1, 3)
