"""Taking the light out: each reference, and each reason not to use one."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from plugread.colour import delta_e_2000, lab_to_linear_srgb, linear_srgb_to_lab
from plugread.photo.behind import body_outline
from plugread.photo.estimate import sheet_chance
from plugread.photo.references import load_references
from plugread.photo.sheet import Sheet
from plugread.photo.white import apply, find_white, from_sheets
from plugread.pipeline import read_photo
from plugread.pixels import crop_linear
from plugread.records import PARTS, FiringEnd, PartMap, Photo, White
from plugread.resources import samples_dir
from tests.photo.scenes import CARD_CORNERS, DAY, LAMP, NOSE, PAPER_CORNERS, Scene, end

TAN = np.array([62.0, 9.0, 21.0])
PAPER, CARD = 0.885, 0.18
PAPER_BOX, CARD_BOX = (60, 60, 100, 80), (460, 330, 100, 80)


def _nose_lab(photo: Photo, white: White) -> np.ndarray:
    linear = crop_linear(photo, NOSE).reshape(-1, 3)
    return linear_srgb_to_lab(apply(white, np.median(linear, axis=0)))


def _bench() -> Scene:
    return Scene().nose(lab_to_linear_srgb(TAN))


@pytest.mark.parametrize("light", [DAY, LAMP], ids=["daylight", "lamp"])
def test_paper_that_is_pointed_out_takes_the_light_out(light: np.ndarray) -> None:
    """With a user's box on white paper the nose comes out within 1 dE00, whatever the lamp."""
    photo = _bench().sheet(PAPER_CORNERS, PAPER).photo(light, exposure=0.7)
    white = find_white(photo, (end(),), paper_box=PAPER_BOX)
    assert (white.method, white.detail, white.level_known) == ("paper", "white paper", True)
    assert delta_e_2000(_nose_lab(photo, white), TAN) < 1


@pytest.mark.parametrize("light", [DAY, LAMP], ids=["daylight", "lamp"])
def test_a_grey_card_that_is_pointed_out_takes_the_light_out(light: np.ndarray) -> None:
    """With a user's box on an 18 % card the nose comes out within 1 dE00."""
    photo = _bench().sheet(CARD_CORNERS, CARD).photo(light, exposure=0.7)
    white = find_white(photo, (end(),), card_box=CARD_BOX)
    assert (white.method, white.detail) == ("card", "grey card")
    assert delta_e_2000(_nose_lab(photo, white), TAN) < 1


def test_paper_is_found_without_being_pointed_out() -> None:
    """A plain, bright, straight-edged sheet beside the plug is used, and its box lies on it."""
    photo = _bench().sheet(PAPER_CORNERS, PAPER).photo(exposure=0.8)
    white = find_white(photo, (end(),))
    assert white.method == "paper"
    assert white.reference_box is not None
    x, y, w, h = white.reference_box
    assert 30 < x < x + w < 200
    assert 25 < y < y + h < 170
    assert delta_e_2000(_nose_lab(photo, white), TAN) < 2


def test_a_grey_card_is_told_from_paper_by_the_plugs_metal() -> None:
    """Alone on the bench, an 18 % sheet is taken as a card, not as paper in bad light."""
    photo = _bench().sheet(CARD_CORNERS, CARD).photo(exposure=0.8)
    white = find_white(photo, (end(),))
    assert white.method == "card"
    assert delta_e_2000(_nose_lab(photo, white), TAN) < 2


@pytest.mark.parametrize("tone", [0.8, 1.25])
def test_paper_and_card_together_take_a_tone_curve_out(tone: float) -> None:
    """A power-law tone curve that leaves paper alone 4 dE00 and more off is undone by both: within 1.5 dE00."""
    photo = _bench().sheet(PAPER_CORNERS, PAPER).sheet(CARD_CORNERS, CARD).photo(LAMP, exposure=0.6, tone=tone)
    both = find_white(photo, (end(),))
    paper = find_white(photo, (end(),), paper_box=PAPER_BOX)
    assert both.detail == "white paper and grey card"
    assert delta_e_2000(_nose_lab(photo, both), TAN) < 1.5
    assert delta_e_2000(_nose_lab(photo, paper), TAN) > 4


@pytest.mark.parametrize("turn", range(4))
def test_turning_the_photo_changes_no_colour(turn: int) -> None:
    """The correction does not depend on which way up the sheet lies."""
    photo = _bench().sheet(PAPER_CORNERS, PAPER).photo(LAMP, exposure=0.7)
    rgb = np.ascontiguousarray(np.rot90(photo.rgb, turn))
    turned = replace(photo, rgb=rgb, size=rgb.shape[1::-1])
    assert find_white(turned, ()).gains == pytest.approx(find_white(photo, ()).gains, rel=0.03)


# ---- refusals --------------------------------------------------------------------------------------------


def test_burnt_out_paper_is_refused_and_said_so() -> None:
    """Codes at the limit hold no colour: the estimate is used and `why` says what to do."""
    photo = _bench().sheet(PAPER_CORNERS, PAPER).photo(exposure=1.4)
    white = find_white(photo, (end(),), paper_box=PAPER_BOX)
    assert white.method == "estimated"
    assert white.why is not None
    assert "overexposed" in white.why


def test_one_burnt_channel_is_enough_to_refuse() -> None:
    """Under a lamp only red may be at its limit; the sheet is useless all the same."""
    photo = _bench().sheet(PAPER_CORNERS, PAPER).photo(LAMP, exposure=0.9)
    white = find_white(photo, (end(),), paper_box=PAPER_BOX)
    assert white.why is not None
    assert "overexposed" in white.why


def test_a_sheet_in_sloping_light_is_refused_with_the_amount() -> None:
    """More than 15 % from end to end."""
    photo = _bench().sheet(CARD_CORNERS, CARD).slope(1.6).photo(exposure=0.55)
    white = find_white(photo, (end(),), card_box=CARD_BOX)
    assert white.method == "estimated"
    assert white.why is not None
    assert "its light changes by" in white.why


def test_a_printed_sheet_is_refused() -> None:
    """Print on the sheet is texture."""
    scene = _bench().sheet(PAPER_CORNERS, PAPER)
    print_ = np.random.default_rng(0).random((26, 34)) < 0.4
    scene.surface[40:170, 30:200][np.kron(print_, np.ones((5, 5))) > 0] = 0.1
    white = find_white(scene.photo(exposure=0.8), (end(),), paper_box=PAPER_BOX)
    assert white.why is not None
    assert "not plain" in white.why


def test_a_box_outside_the_picture_is_refused() -> None:
    """A box that holds no pixel cannot be measured."""
    white = find_white(_bench().photo(), (end(),), paper_box=(900, 900, 50, 50))
    assert white.method == "estimated"
    assert white.why is not None
    assert "outside the picture" in white.why


@pytest.mark.parametrize("colour", [(0.45, 0.30, 0.17), (0.1, 0.25, 0.5)], ids=["brown box", "blue box"])
def test_a_coloured_box_is_not_taken_for_a_reference(colour: tuple[float, float, float]) -> None:
    """Plain and straight-edged but not neutral by the plug's metal."""
    photo = _bench().sheet(PAPER_CORNERS, colour).photo()
    assert find_white(photo, (end(),)).method == "estimated"


def test_a_plain_table_is_not_taken_for_paper() -> None:
    """An even background without edges of its own is no sheet."""
    scene = _bench()
    plug = scene.surface[180:300, 240:400].copy()
    scene.surface[:] = 0.7
    scene.surface[180:300, 240:400] = plug
    assert find_white(scene.photo(), (end(),)).method == "estimated"


def test_a_round_white_thing_is_not_taken_for_paper() -> None:
    """A plate is white and plain but has no straight edge."""
    scene = _bench()
    y, x = np.mgrid[:480, :640]
    scene.surface[np.hypot(x - 110, y - 110) < 80] = 0.8
    assert find_white(scene.photo(exposure=0.8), (end(),)).method == "estimated"


# ---- estimate --------------------------------------------------------------------------------------------


def test_without_a_reference_the_light_is_estimated_and_said_so() -> None:
    """The method is "estimated", lightness is not claimed, spreads are wider than with paper."""
    white = find_white(_bench().photo(), (end(),))
    known = load_references().spread
    assert (white.method, white.level_known) == ("estimated", False)
    assert all(e > p for e, p in zip(white.spread_lab, known["paper"], strict=True))
    assert white.why is not None
    assert "put white paper" in white.why


def test_the_plugs_metal_tells_the_lamp_where_the_bench_would_mislead() -> None:
    """On a strongly coloured bench the estimate stays within 4 degrees of the light."""
    photo = Scene(bench=(0.35, 0.12, 0.06)).nose(lab_to_linear_srgb(TAN)).photo()
    gains = find_white(photo, (end(),)).gains
    cosine = gains.sum() / (np.linalg.norm(gains) * np.sqrt(3))
    assert np.degrees(np.arccos(cosine)) < 4


def test_an_estimate_takes_most_of_a_lamp_out() -> None:
    """The nose under a lamp is at least twice as near to its true hue as without correction."""
    photo = _bench().photo(LAMP, exposure=0.8)
    raw = linear_srgb_to_lab(np.median(crop_linear(photo, NOSE).reshape(-1, 3), axis=0))
    corrected = _nose_lab(photo, find_white(photo, (end(),)))
    assert np.hypot(*(corrected - TAN)[1:]) < 0.5 * np.hypot(*(raw - TAN)[1:])


@pytest.mark.parametrize("rgb", [(0, 0, 0), (255, 255, 255), (255, 0, 0)], ids=["black", "white", "red"])
def test_a_picture_of_one_colour_still_gives_finite_gains(rgb: tuple[int, int, int]) -> None:
    """Nothing to go by: gains stay finite and within the limits of any light."""
    photo = Photo("x", np.full((120, 160, 3), rgb, np.uint8), 1, (160, 120), np.eye(3))
    white = find_white(photo, ())
    assert np.isfinite(white.gains).all()
    assert (white.gains > 0).all()


# ---- what is no reference --------------------------------------------------------------------------------


def _long_plug() -> FiringEnd:
    """A firing end at the left of the picture whose thread runs to the right, as far as the finder marks it."""
    probability = np.zeros((len(PARTS), 480, 640), np.float32)
    for name, left, right in (("nose", 40, 70), ("thread", 70, 230)):
        probability[PARTS.index(name), 200:280, left:right] = 1
    probability[0] = 1 - probability[1:].sum(0)
    return FiringEnd((40, 200, 30, 80), "side", {"side": 1.0}, PartMap(probability, 0.0, 0.0, 1.0), {}, 0.9, 0.9)


def test_white_porcelain_behind_the_thread_is_no_paper() -> None:
    """The insulator continues the plug; plain and white as it is, it is not used, while the same sheet beside the plug is."""
    porcelain, beside = ([(330, y), (470, y), (470, y + 60), (330, y + 60)] for y in (210, 380))
    for corners, method in ((porcelain, "estimated"), (beside, "paper")):
        photo = Scene().sheet(corners, 0.8).photo(exposure=0.8)
        assert find_white(photo, (_long_plug(),)).method == method


def test_the_body_lies_behind_the_thread() -> None:
    """The strip reaches from the middle of the thread away from the nose, wider than the thread."""
    body = body_outline(_long_plug())
    assert body is not None
    assert body[:, 0].min() > 100
    assert body[:, 0].max() > 400
    assert body[:, 1].min() < 200
    assert body[:, 1].max() > 280


def test_a_long_strip_is_no_sheet() -> None:
    """A light plank, ten times as long as wide, is not taken for paper."""
    photo = _bench().sheet([(20, 30), (600, 40), (600, 90), (20, 80)], 0.8).photo(exposure=0.8)
    assert find_white(photo, (end(),)).method == "estimated"


def test_paper_in_falling_light_is_used_where_it_lies_nearest() -> None:
    """A whole sheet whose light falls too much from end to end: an even part near the plug serves, and its box says which."""
    corners = [(20, 330), (330, 325), (335, 465), (25, 470)]
    photo = _bench().sheet(corners, PAPER).slope(1.9).photo(exposure=0.4)
    white = find_white(photo, (end(),))
    assert white.method == "paper"
    assert white.reference_box is not None
    assert white.reference_box[2] < 100


def test_paper_and_card_in_different_light_are_said_so() -> None:
    """Card in deep shade beside lit paper: no camera's tone curve does that; the power is held and the reason stated."""
    paper, card = (Sheet(kind, (0, 0, 9, 9), np.full(3, level), 0.0) for kind, level in (("paper", 0.8), ("card", 0.04)))
    white = from_sheets(paper, card, (PAPER, CARD))
    assert white.why is not None
    assert "different light" in white.why
    assert white.power.min() == 0.75


def test_each_channel_has_its_own_power() -> None:
    """A tone curve that bends the channels differently is undone: paper and card both come out grey, at their reflectances."""
    paper, card = (
        Sheet("paper", (0, 0, 9, 9), np.array([0.8, 0.82, 0.7]), 0.0),
        Sheet("card", (0, 0, 9, 9), np.full(3, 0.15), 0.0),
    )
    white = from_sheets(paper, card, (PAPER, CARD))
    for sheet, reflectance in ((paper, PAPER), (card, CARD)):
        assert (white.gains * sheet.rgb_linear) ** white.power == pytest.approx(np.full(3, reflectance), rel=1e-6)


@pytest.mark.parametrize(("chance", "method"), [(0.004, "estimated"), (0.4, "paper")])
def test_the_finder_has_a_say_in_what_is_a_sheet(chance: float, method: str) -> None:
    """The same white thing, cut off by the frame: used where the finder sees a sheet there, not where it sees bench."""
    corners = [(-30, -40), (190, -40), (170, 130), (-30, 150)]
    assert find_white(_bench().sheet(corners, PAPER).photo(exposure=0.8), (_seen_as(chance),)).method == method


def _seen_as(chance: float) -> FiringEnd:
    from dataclasses import replace

    plain = end()
    probability = plain.parts.probability.copy()
    told = np.minimum(probability[0], chance)
    probability[0] -= told
    probability[PARTS.index("sheet")] += told
    return replace(plain, parts=replace(plain.parts, probability=probability))


# ---- what the finder says of sheets ----------------------------------------------------------------------


def test_the_whole_look_speaks_where_no_closer_look_was() -> None:
    """Without it cells far from a plug are unknown; with it they are as it says, and near the plug the surer of both counts."""
    photo = _bench().photo()
    whole = np.tile(np.linspace(0.1, 0.9, 40, dtype=np.float32), (30, 1))
    near, both = (sheet_chance(photo, (replace(end(), sheets=plane),), (40, 30)) for plane in (None, whole))
    assert np.isnan(near).any()
    assert both == pytest.approx(np.fmax(near, whole))


@pytest.mark.parametrize(("engine", "plugs"), [("engine_one_odd", 4), ("engine_shared_six", 6), ("engine_shared_eight", 8)])
def test_paper_and_card_beside_a_sample_row_are_found(engine: str, plugs: int) -> None:
    """They lie at the edge of a row, further from the plugs than any closer look reaches; the map that told is not kept."""
    read = read_photo(samples_dir() / engine / "row.jpg", expected=plugs)
    assert read.white is not None
    assert read.white.method in ("paper", "card")
    assert [plug.end.sheets for plug in read.plugs if plug.end is not None] == [None] * plugs
