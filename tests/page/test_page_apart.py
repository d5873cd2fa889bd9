"""The pages without a browser: what is asked, kept and told, with stand-ins behind them."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from streamlit.testing.v1 import AppTest

from plugread import pipeline
from plugread.errors import CaseError, ModelError
from plugread.notebook import draft as drafts
from plugread.notebook.draft import Draft, to_case
from plugread.notebook.engines import presets, usual
from plugread.notebook.store import Store
from plugread.page import check_words, reads, words
from plugread.records import CheckEntry, EngineSpec
from tests.page import stand_ins
from tests.page.conftest import picture

APP = Path(__file__).resolve().parents[2] / "app.py"


@pytest.fixture
def store(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Store:
    """A notebook of its own, and stand-ins behind the page for one test."""
    monkeypatch.setenv("PLUGREAD_HOME", str(tmp_path))
    monkeypatch.delenv("PLUGREAD_PAGE_KEY", raising=False)
    for name in ("read_photo", "diagnose_case", "list_causes", "explain_picture", "close_ups"):
        monkeypatch.setattr(pipeline, name, getattr(stand_ins, name))
    reads._seen.clear()
    reads._answers.clear()
    reads._lists.clear()
    return Store(tmp_path / "notebook.sqlite")


def opened(visit: str = "v", page: str | None = None) -> AppTest:
    app = AppTest.from_file(str(APP), default_timeout=20)
    app.query_params["visit"] = visit
    app.run()
    return app.switch_page(page).run() if page else app


def kept(store: Store, visit: str = "v") -> Draft:
    found = store.find(visit)
    assert found is not None
    return found.draft


def with_photos(store: Store, folder: Path, count: int = 4, dark: int = 2, engine: EngineSpec | None = None) -> None:
    photos = []
    for n in range(1, count + 1):
        data = Path(picture(folder / f"p{n}.jpg", dark=n == dark, seed=n)).read_bytes()
        photos.append((store.keep_photo(data), f"p{n}.jpg"))
    store.start("v", drafts.place(Draft(engine or usual()), photos, 1), "test")


def texts(app: AppTest) -> str:
    kinds: list[Any] = [app.text, app.caption, app.header, app.subheader, app.error, app.warning, app.info]
    said = " ".join(str(e.value) for kind in kinds for e in kind)
    return said + " ".join(str(e.proto.body) for e in app.get("html"))


def pills(app: AppTest, label: str) -> Any:
    return next(group for group in app.button_group if group.label == label)


def test_an_empty_bench_says_what_to_do(store: Store) -> None:
    """The first view asks for photos and writes nothing to disk."""
    app = opened()
    assert words.START_TITLE in texts(app) and not app.exception
    assert not store.path.exists()


def test_a_tick_is_on_disk_at_once(store: Store, tmp_path: Path) -> None:
    """What is ticked stands in the notebook after the same run."""
    with_photos(store, tmp_path)
    app = opened()
    pills(app, "Heat and wear").set_value(["worn"]).run()
    assert kept(store).entry(1).seen == ("worn",) and not kept(store).entry(1).tick_after_photo


def test_nothing_on_it_moves_on(store: Store, tmp_path: Path) -> None:
    """One press marks the plug as looked at and picks the next."""
    with_photos(store, tmp_path)
    app = opened()
    next(b for b in app.button if b.label == words.LOOK_CLEAN).click().run()
    assert (kept(store).entry(1).seen, kept(store).picked) == (("normal",), 2)


def test_show_reveals_the_answer(store: Store, tmp_path: Path) -> None:
    """Causes and comparison appear only once asked for."""
    with_photos(store, tmp_path)
    app = opened()
    assert words.CAUSES_TITLE not in texts(app)
    next(b for b in app.button if b.label == words.SHOW).click().run()
    assert words.CAUSES_TITLE in texts(app) and "Odd one: cylinder 2" in texts(app)


def test_ticks_alone_give_an_answer(store: Store) -> None:
    """Without any photo, ticks are enough, and nothing is hidden, for there is no reading to hide."""
    store.start("v", drafts.tick(Draft(usual()), 3, ["carbon_fouled"], ["carbon_fouled"]), "test")
    assert words.CAUSES_TITLE in texts(opened())


def test_the_plug_led_to_is_marked_as_soon_as_the_ranking_stands(store: Store, tmp_path: Path) -> None:
    """Where the answer is still worked out when the photos are let speak, the odd plug's card is marked from the start."""
    with_photos(store, tmp_path)
    store.change("v", lambda d: replace(d, shown=True), "test", Draft(usual()))
    app = AppTest.from_file(str(APP), default_timeout=20)
    app.query_params["visit"] = "v"
    app.session_state["lead"] = True
    app.run()
    row = next(one.proto for one in app.get("bidi_component") if one.proto.component_name == "plugread_compare")
    assert (kept(store).picked, json.loads(row.json)["picked"]) == (2, 2)


def test_a_plug_left_out_is_told(store: Store, tmp_path: Path) -> None:
    """With three photos for four cylinders the answer says which is missing."""
    with_photos(store, tmp_path, count=3)
    store.change("v", lambda d: replace(d, shown=True), "test", Draft(usual()))
    assert "No photo of cylinder 4 yet" in texts(opened())


def test_compression_numbers_are_kept_with_their_unit(store: Store) -> None:
    """Numbers typed on the checks page stand in the notebook by cylinder, with the unit; a cleared one goes."""
    store.start("v", drafts.tick(Draft(usual()), 3, ["carbon_fouled"], ["carbon_fouled"]), "test")
    app = AppTest.from_function(checks_page, default_timeout=20)
    app.query_params["visit"] = "v"
    app.run()
    for n, psi in ((1, 150.0), (2, 148.0), (3, 90.0)):
        next(box for box in app.number_input if box.label == f"Cylinder {n}, psi").set_value(psi).run()
    next(box for box in app.number_input if box.label == "Cylinder 2, psi").set_value(None).run()
    assert kept(store).checks == (CheckEntry("compression_dry", unit="psi", values={1: 150.0, 3: 90.0}),)
    assert not app.exception


def checks_of(store: Store, check: str, engine: EngineSpec) -> AppTest:
    """Open the checks page at one check, on an engine with one plug ticked."""
    store.start("v", drafts.tick(Draft(engine), 3, ["carbon_fouled"], ["carbon_fouled"]), "test")
    app = AppTest.from_function(checks_page, default_timeout=20)
    app.query_params["visit"] = "v"
    app.run()
    next(box for box in app.selectbox if box.label == check_words.PAGE_PICK).set_value(check).run()
    return app


def typed(app: AppTest, label: str, number: float | None) -> None:
    next(box for box in app.number_input if box.label == label).set_value(number).run()


def test_lead_lengths_are_kept_beside_the_resistance(store: Store) -> None:
    """A length may be typed before its resistance; alone it is no result, and it stays when the resistance is cleared."""
    app = checks_of(
        store, "lead_resistance", replace(usual(), ignition="distributor", induction="carburettor", closed_loop=False)
    )
    typed(app, "Length of lead 2, m", 0.6)
    assert to_case(kept(store)).checks == ()
    typed(app, "Cylinder 2, kΩ", 9.0)
    assert kept(store).checks == (CheckEntry("lead_resistance", unit="kohm", values={2: 9.0}, lengths_m={2: 0.6}),)
    typed(app, "Cylinder 2, kΩ", None)
    assert kept(store).checks == (CheckEntry("lead_resistance", unit="kohm", lengths_m={2: 0.6}),)
    assert not app.exception


def test_the_book_may_give_a_value_or_a_range(store: Store) -> None:
    """One number by the book is a value, two are a range; without the first the second goes too."""
    app = checks_of(store, "fuel_pressure", usual())
    typed(app, "Measured, bar", 2.1)
    typed(app, "By the book, bar", 2.7)
    assert kept(store).checks == (CheckEntry("fuel_pressure", unit="bar", value=2.1, spec=2.7),)
    typed(app, "up to, if a range, bar", 3.3)
    assert kept(store).checks == (CheckEntry("fuel_pressure", unit="bar", value=2.1, spec=(2.7, 3.3)),)
    typed(app, "By the book, bar", None)
    assert kept(store).checks == (CheckEntry("fuel_pressure", unit="bar", value=2.1),)


def test_the_rest_in_one_tap(store: Store) -> None:
    """The ordinary outcome is entered for every cylinder that has none, in one tap, and leaves the others alone."""
    draft = drafts.record(
        drafts.tick(Draft(usual()), 3, ["carbon_fouled"], ["carbon_fouled"]), CheckEntry("cylinder_drop", 3, "no_drop")
    )
    store.start("v", draft, "test")
    app = AppTest.from_function(checks_page, default_timeout=20)
    app.query_params["visit"] = "v"
    app.run()
    next(box for box in app.selectbox if box.label == check_words.PAGE_PICK).set_value("cylinder_drop").run()
    next(button for button in app.button if "cylinders 1, 2 and 4" in button.label).click().run()
    assert {entry.cylinder: entry.outcome for entry in kept(store).checks} == {3: "no_drop", 1: "drops", 2: "drops", 4: "drops"}


def checks_page() -> None:
    from plugread.page import checks

    checks.page()


@pytest.mark.parametrize("name", list(presets()))
def test_every_preset_draws(store: Store, name: str) -> None:
    """Each engine to start from gives a bench without a fault."""
    store.start("v", drafts.tick(Draft(presets()[name]), 1, ["worn"], ["worn"]), "test")
    app = opened()
    assert not app.exception and words.CAUSES_TITLE in texts(app)


def test_a_damaged_notebook_is_told(store: Store) -> None:
    """A notebook that is no data base gives a line on the page, not a trace."""
    store.path.write_bytes(b"this is no data base, only some text that is long enough" * 30)
    app = opened()
    assert not app.exception and "Not kept on disk" in texts(app)


def test_without_the_key_nothing_is_shown(store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where a key is asked for, a visit's address alone does not open it."""
    store.start("v", drafts.tick(Draft(usual()), 3, ["carbon_fouled"], ["carbon_fouled"]), "test")
    monkeypatch.setenv("PLUGREAD_PAGE_KEY", "open-sesame")
    app = opened()
    assert words.DOOR_TITLE in texts(app) and words.CAUSES_TITLE not in texts(app)


def test_a_missing_model_is_told(store: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """When photos cannot be read at all the page says why for each, and ticks still give an answer."""

    def broken(*_: object, **__: object) -> None:
        raise ModelError("the locator is not there", "install the package again")

    with_photos(store, tmp_path, count=2)
    monkeypatch.setattr(pipeline, "read_photo", broken)
    step = drafts.tick(kept(store), 1, ["carbon_fouled"], ["carbon_fouled"])
    store.change("v", lambda _: replace(step, shown=True), "test", Draft(usual()))
    app = opened()
    assert not app.exception and words.CAUSES_TITLE in texts(app)
    assert "The photos of plugs 1 and 2 cannot be read: The locator is not there; install the package again." in texts(app)


def test_a_result_that_contradicts_itself_is_told(store: Store) -> None:
    """What the reasoning refuses is said in one line, and the page stays."""

    def refuse(*_: object, **__: object) -> None:
        raise CaseError("compression_dry: the unit 'furlong' is not known", "use psi, kPa or bar")

    store.start("v", drafts.tick(Draft(usual()), 3, ["worn"], ["worn"]), "test")
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(pipeline, "diagnose_case", refuse)
        app = opened()
    assert not app.exception and "the unit 'furlong' is not known" in texts(app)


def test_a_danger_is_told_before_all_else(store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    """A finding that forbids running the engine is named with its cylinder and what to do."""
    monkeypatch.undo()
    monkeypatch.setenv("PLUGREAD_HOME", str(store.path.parent))
    store.start("v", drafts.tick(Draft(usual()), 2, ["nose_piece_missing"], ["nose_piece_missing"]), "test")
    app = opened()
    stop = pipeline.default_rules().findings["nose_piece_missing"].stop
    assert not app.exception and words.VERDICT["do_not_run"] in " ".join(str(e.proto.body) for e in app.get("html"))
    assert any("cylinder 2" in str(error.value) and stop[:30].lower() in str(error.value).lower() for error in app.error)
