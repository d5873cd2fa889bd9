"""All wording of the bench. The rule base brings its own names; `check_words` and `help_words` hold the rest."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

TITLE = "plugread"
OPENING = "Opening the bench…"
PAGES = {"bench": "Bench", "checks": "Checks", "help": "Help"}
NAV_LABEL = "Pages"

# ---- engine ----------------------------------------------------------------------------------------------

LAYOUT = {"inline": "Inline", "vee": "Vee", "flat": "Flat"}
INDUCTION = {
    "carburettor": "Carburettor",
    "single_point": "Single-point injection",
    "port_injection": "Port injection",
    "direct_injection": "Direct injection",
}
IGNITION = {
    "contact_breaker": "Contact breaker",
    "distributor": "Distributor",
    "wasted_spark": "Shared coils (wasted spark)",
    "coil_on_plug": "Coil on each plug",
    "magneto": "Magneto",
}
HEAD = {None: "Not sure", "aluminium": "Aluminium", "iron": "Iron"}
NUMBER = {1: "one", 2: "two", 3: "three", 4: "four", 5: "five", 6: "six", 8: "eight", 10: "ten", 12: "twelve"}
ORDER_DASH = "\u2060–\u2060"
"""A dash that a line does not break at."""
COIL, FEED, FRONT, ODD_TAG = "coil", "carb", "front", "odd"
PLACE = {
    "empty": "no photo yet",
    "ticked": "looked at, no photo",
    "read": "read",
    "unsure": "read, not sure",
    "refused": "photo cannot be used",
}

ENGINE_CHANGE = "Engine"
ENGINE_CHANGE_HELP = "Change the engine"
ENGINE_TITLE = "Your engine"
ENGINE_PRESET = "Start from"
ENGINE_PRESET_NONE = "As it is now"
ENGINE_LAYOUT = "Cylinders stand"
ENGINE_COUNT = "How many"
ENGINE_ORDER = "Firing order"
ENGINE_ORDER_HELP = "From the engine's book or cast on the manifold, like 1-3-4-2."
ENGINE_INDUCTION = "Fuel"
ENGINE_IGNITION = "Ignition"
ENGINE_LOOP = "Has an oxygen sensor and corrects its own mixture"
ENGINE_HEAD = "Cylinder head"
ENGINE_GAP = "Gap by the book, mm"
ENGINE_DISTANCE = "Distance on these plugs, km"
ENGINE_THREAD = "Plug thread, the scale for gaps in photos"
THREAD = {"M14x1.25": "M14", "M12x1.25": "M12", "M10x1.0": "M10", "M18x1.5": "M18"}
ENGINE_UNKNOWN = "not known"
ENGINE_SAVE = "Use this engine"
NEW_VISIT = "New"
NEW_VISIT_HELP = "Start a new visit; this one stays in the notebook"


def engine_name(layout: str, cylinders: int) -> str:
    """Return e.g. "Inline four"."""
    return f"{LAYOUT[layout]} {NUMBER.get(cylinders, str(cylinders))}" if cylinders > 1 else "Single cylinder"


def engine_facts(induction: str, ignition: str, firing_order: Sequence[int]) -> str:
    """Return what the engine strip says after the name."""
    order = f"fires {ORDER_DASH.join(map(str, firing_order))}" if len(firing_order) > 1 else ""
    spark = IGNITION[ignition].lower().split(" (")[0]
    return " · ".join(part for part in (INDUCTION[induction].lower(), spark, order) if part)


def drawing_alt(layout: str, places: Iterable[tuple[int, str, bool]]) -> str:
    """Return the engine drawing in words."""
    said = "; ".join(f"cylinder {n}: {state}{', the odd one' if odd else ''}" for n, state, odd in places)
    return f"{LAYOUT[layout]} engine seen from above. {said}."


# ---- photos ------------------------------------------------------------------------------------------------

START_TITLE = "Pulled the plugs? Photograph their firing ends."
START_TEXT = (
    "All in one photo in a row, or one photo each, on white paper so that the colours come out true. Not your engine above? "
    "Set it first."
)
SAMPLE_TITLE = "No plugs at hand? Try a sample engine:"
SAMPLES = {
    "engine_one_odd": "Four, one plug odd",
    "engine_healthy": "Four, all well",
    "engine_shared_six": "Six, a shared fault",
    "engine_shared_eight": "Eight, a shared fault",
}
NO_SAMPLE = "There is no sample engine “{name}”."
SAMPLE_NOTE = "Sample engine: an invented workshop, pictures made by computer."
PICK_LABEL = "Cylinder"
CAMERA_ONE = "Photograph plug {n}"
CAMERA_AGAIN = "Photograph plug {n} again"
CAMERA_ROW = "All plugs in one photo"
CAMERA_PICK = "Choose pictures"
CAMERA_SHRINKING = "Making the picture smaller…"
CAMERA_SENDING = "Sending… keep this page open"
LINK_LOST = "No link to plugread. Keep this page open: what you chose is kept and sent when the link is back."
CAMERA_WAITING = "No link. The picture is kept here and sent again by itself; keep this page open."
CAMERA_FAILED = "This device could not open that file as a picture. Take another, or save it as JPEG first."
PHOTOS_MORE = "Photos: take again, add, change places"
FULL_SIZE = "Full-size files"
FULL_SIZE_HELP = (
    "Pictures above are made smaller before sending. For the finest gap reading send the file as the camera wrote it."
)
FULL_SIZE_LABEL = "Full-size pictures of the plugs, in cylinder order"
FULL_SIZE_ROW = "The file shows all plugs in a row"
THINKING = "Working out the next check…"
READING = "Reading {what}…"
READING_ROW = "the row of plugs"
READING_ONE = "plug {n}"
PHOTOS_TITLE = "Which photo is which cylinder?"
PHOTOS_HELP = (
    "Photos go to the cylinders in the order you chose them. Put any that is wrong at its right cylinder; the two change places."
)
PHOTO_AT = "{name} shows plug"
PHOTO_NOWHERE = "remove"
PHOTO_ALT = "Plug photo {name}"
ROW_TITLE = "How the row lies"
ROW_HELP = "Left to right, as in the photo."
ROW_PLACE = "Place {k}"
ROW_TURN = "It lies the other way round"
ROW_REMOVE = "Remove the row photo"
ROW_LEFT_OUT = "Or say which {n} plug{s} to leave out, and the others are used"
ROW_ALT = "The row photo with the firing ends found outlined"
ROW_COUNT = (
    "{found} firing ends found in the row, but the engine has {wanted}. Lay all plugs clear of one another and take "
    "it again, or photograph them one by one."
)
NO_PLUG = "No firing end found. Fill the frame with the plug and take it again, or tap the nose in the photo."
SEVERAL = "{n} firing ends are in this photo. Cut it to one plug, or use “All plugs in one photo”."
UNPLACED = "{n} more photo{s} than cylinders: not used until you say which plug {it} show{v}."
AGAIN = (
    "{name} is the same picture as the one of {where}: not taken twice. If it was meant for another plug, photograph that plug."
)
AGAIN_PLUG, AGAIN_UNPLACED = "plug {n}", "an unplaced photo"
NOT_PICTURE = "{name} is not a picture this page can open. Take it again, or save it as JPEG, PNG or WebP."
MISSING = "No photo of {which} yet. What follows rests on the others."
SPOT_ALT = (
    "Photo of plug {n} with the parts found drawn on it. Tap the white nose to measure there; arrow keys move the "
    "spot, Enter measures."
)
SPOT_HELP = "Wrong spot? Tap the nose, the white cone round the centre electrode."
LINES_LABEL = "Lines on the photo"
LINES = {
    "nose": "nose",
    "centre": "centre electrode",
    "strap": "strap",
    "rim": "rim",
    "thread": "thread",
    "gap": "gap measured",
    "axis": "axis",
    "reference": "paper or card",
}
LINE_SPOT = "spot measured"
SPOT_RESET = "Back to the spot found"
PLUG_UNSURE = "Not sure: {why}"
RETAKE = "For a better photo: {advice}"
COLOUR_WORDS = "nose colour"
COLOUR_CALIBRATED = "light corrected from {what}"
COLOUR_UNCALIBRATED = "colour not calibrated: no white paper or card in the photo. Comparing plugs still works."
GAP = "Gap {value:.2f} mm, give or take {spread:.2f}"
GAP_NONE = "Gap not measured: {why}"
GAP_THREAD = "The thread of your plugs can be told under Engine."
GAP_BY_GAUGE = "Gap {value:.2f} mm by gauge"
GAP_GAUGE = "Gap by feeler gauge, mm"
GAP_GAUGE_HELP = "Beats the photo. Leave empty if not measured."
LOOKS_LIKE = "Looks like"
LOOKS_NONE = "Nothing stands out"
OVERRULED = "Your own look overrules it."

# ---- ticks -------------------------------------------------------------------------------------------------

LOOK_TITLE = "What do you see on plug {n}?"
LOOK_ONLY = "No photo? Tick what you see on plug {n}"
LOOK_WHY = "Look at the plug itself before the photo's reading is shown. Two independent looks are worth more than one."
LOOK_AFTER = "Ticked after the reading was shown, so it counts for less."
LOOK_DONE = "Looked, nothing else there"
LOOK_CLEAN = "Looked, nothing on it"
LOOK_UNDO = "Not looked after all"
LOOK_STATE = "Looked at: {said}."
LOOK_STATE_CLEAN = "nothing on it"
LOOK_STATE_REST = "the rest looked for and not there"
LOOK_MORE = "Outside of the plug, and how it came out"
LOOK_MIXUP = "Not to be mixed up with: {what}"
SHOW = "Show what the photos say"
SHOW_WAITS = "{looked} of {all} plugs looked at. First say what you see: ticks given after this count for less."
SHOW_FIRST = "The bench still waits for your own look at the plugs."
TICK_GROUPS = {
    "On the nose and shell": (
        "carbon_fouled", "oil_fouled", "fuel_wet", "ash_crust", "loose_powder", "additive_stain", "glazed", "lead_fouled",
        "splash_fouled", "coolant_wet", "coolant_crust",
    ),
    "Heat and wear": ("lean_white", "overheated", "worn", "gap_bridged", "preignition_melt"),
    "Damage": ("nose_cracked", "nose_piece_missing", "metal_specks", "detonation_damage", "struck"),
}  # fmt: skip
TICK_OTHER = "Other"
SIGNS_TITLE = "How does the engine run?"
SIGNS_HELP = "Tick what you noticed. Each one sharpens the ranking."
SIGNS_LABEL = "Noticed"
SIGNS_NONE = "None of the others"
SIGNS_COUNT = "So far {seen} noticed, {absent} ruled out."

# ---- answers -----------------------------------------------------------------------------------------------

COMPARE_TITLE = "Side by side"
COMPARE_ODD, COMPARE_ODD_ONES = "Odd one: {which}.", "Odd ones: {which}."
COMPARE_NONE_ODD = "No plug stands out."
COMPARE_RULES_OUT = "Speaks against: {what}"
COMPARE_DELTA = "off {delta:.0f}"
COMPARE_DELTA_HELP = "“off” is the colour difference to the middle of the set (CIEDE2000); about 2 is just visible side by side."
COMPARE_GAP = "gap {gap:.2f}"
COMPARE_NO_COLOUR = "no colour"
CLOSE_UP_ALT = "Firing end of plug {n}"
COMPARE_LABEL = "Plugs compared; press one to see it on the bench"
COMPARE_PICKED = "on show"
CAUSES_TITLE = "Likely causes"
CAUSES_MORE = "Less likely"
CAUSES_FOR, CAUSES_AGAINST = "For", "Against"
CAUSES_BAND = "{low:.0%} to {high:.0%} if the rules are somewhat off"
CAUSES_BAND_WAITS = "Working out how sure this is…"
CAUSES_STAYS = "Comes first in {share:.0%} of trials with the rules changed at random."
CAUSES_GROUP = "Cannot be told apart from: {others}."
CAUSES_REMEDY = "Put right by: {remedy}"
CAUSES_NONE = "None of these"
CAUSES_NONE_HELP = "Something that is not on the list."
CAUSES_EMPTY = "Nothing speaks for a fault yet."
MORE_NOTES = "Notes on this answer"
VERDICT = {
    "carry_on": "Fine, carry on",
    "investigate": "Check before driving on it",
    "do_not_run": "Stop, do not run it",
    "cannot_tell": "Cannot tell yet",
}
VERDICT_CLOSE = "Close call."
VERDICT_NEXT = "Next: {check}"
VERDICT_SPARE = "To be surer: {check}"
VERDICT_START = "Photograph or tick a plug first."
VERDICT_LABEL = "Verdict"
BOOK_FIRST = "The engine's own book wins over any general value here. If in doubt, ask a licensed technician."
PLOTS_TITLE = "Plots"
PLOT_COLOURS, PLOT_GAPS, PLOT_CAUSES = "Colours", "Gaps", "Causes"
PLOT_PICK = "Show"
PLOT_COLOURS_ALT = "Nose colours of all plugs in the a*b* plane: {points}"
PLOT_GAPS_ALT = "Electrode gap by cylinder: {points}"
PLOT_CAUSES_ALT = "Probability of each cause with its range: {points}"
PLOT_BOOK = "by the book"
PLOT_GAPS_NONE = "No gap was measured yet."
PLOT_COLOURS_NONE = "No nose colour was measured yet."
PLOT_AXES = {
    "a": "a*  (green to red)",
    "b": "b*  (blue to yellow)",
    "gap": "gap, mm",
    "cylinder": "cylinder",
}

# ---- the notebook ------------------------------------------------------------------------------------------

OTHER_TAB = (
    "Another tab or phone changed this visit. You see the newest state; where both changed the same thing, the later change won."
)
NOT_KEPT = "Not kept on disk: {why}. Your work stays on this page; keep it open."
GONE_VISIT = "That visit is not in the notebook on this machine. A new one was started."
DOOR_TITLE = "This page is for those with its address"
DOOR_TEXT = "Open the full address, with its key, as printed where plugread was started."
TROUBLE = "That did not work: {what}"


def about_cylinders(numbers: Iterable[int]) -> str:
    """Return "cylinder 3" or "cylinders 1 and 4"; "" for none."""
    said = [str(n) for n in numbers]
    if not said:
        return ""
    return f"cylinder {said[0]}" if len(said) == 1 else f"cylinders {', '.join(said[:-1])} and {said[-1]}"


def no_single_plug(found: int) -> str:
    """Return why a photo meant for one plug could not be used."""
    return SEVERAL.format(n=found) if found else NO_PLUG


def odd_ones(cylinders: Sequence[int]) -> str:
    """Return which plugs stand out of the set."""
    if not cylinders:
        return COMPARE_NONE_ODD
    return (COMPARE_ODD if len(cylinders) == 1 else COMPARE_ODD_ONES).format(which=about_cylinders(cylinders))


def mixup(what: str) -> str:
    """Return what a finding must not be mixed up with, as a sentence; "" if nothing is known."""
    return LOOK_MIXUP.format(what=what[:1].lower() + what[1:]) if what else ""


def looked(names: Sequence[str], *, rest: bool) -> str:
    """Return what was ticked on a plug; `rest` = all else was looked for and is not there."""
    said = [", ".join(name.lower() for name in names) or LOOK_STATE_CLEAN, *([LOOK_STATE_REST] if rest else [])]
    return LOOK_STATE.format(said="; ".join(said))


def signs_told(seen: int, absent: int) -> str:
    """Return how many of the engine's signs were told so far; "" for none."""
    return SIGNS_COUNT.format(seen=seen, absent=absent) if seen or absent else ""


def refused(cylinders: Sequence[int], why: str) -> str:
    """Return that the photos of some plugs cannot be read, and why."""
    one = len(cylinders) == 1
    which = f"plug {cylinders[0]}" if one else about_cylinders(cylinders).replace("cylinders", "plugs")
    return f"The photo{'' if one else 's'} of {which} cannot be read: {sentence(without_figures(why))}"


def without_figures(text: str) -> str:
    """Return a remark without what was measured in brackets, which only a log needs."""
    return re.sub(r" \([^()]*\d[^()]*\)", "", text)


def stop(name: str, cylinder: int | None, why: str) -> str:
    """Return why the engine must not run, naming the finding and its cylinder."""
    where = f", {about_cylinders([cylinder])}" if cylinder is not None else ""
    return f"{name}{where}. {sentence(why)}"


def whole(number: float) -> str:
    """Return a number without decimals, and without a minus before nought."""
    text = f"{number:.0f}"
    return "0" if text == "-0" else text


def alternatives(text: str) -> list[str]:
    """Return a remark of the form "a. Or: b. Or: c." as its parts."""
    return [sentence(part) for part in text.split(" Or: ")]


def sentence(text: str) -> str:
    """Return the text with a capital first letter and a full stop."""
    text = text.strip()
    if not text:
        return ""
    return text[0].upper() + text[1:] + ("" if text[-1] in ".!?" else ".")


def plain(identifier: str) -> str:
    """Return an id as words, for one the rule base has no name for."""
    return identifier.replace("_", " ").replace(".", ": ")
