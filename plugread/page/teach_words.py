"""All wording of teaching: the lesson under a plug's photo, and the page that learns from the lessons."""

from __future__ import annotations

PAGE = "Teach"

# ---- under the photo of a plug -----------------------------------------------------------------------------

KEEP_TICKED = "Keep as a lesson: {name}"
KEEP_SHOWN = "It is {name}: keep as a lesson"
KEEP_HELP = (
    "Lessons teach plugread your own plugs, on the page Teach. Keep only what you know from the plug in your hand: a lesson that "
    "repeats the screen teaches nothing."
)
KEPT = "Kept as a lesson: {name}."
FORGET = "Take this lesson back"

# ---- the page ----------------------------------------------------------------------------------------------

TITLE = "Teach it your own plugs"
INTRO = (
    "Photos whose reading you confirmed on the bench stand here as lessons. From three plugs each of two readings on it can "
    "learn from them; from about a hundred plugs it is worth it. Nothing leaves this machine."
)
NONE = "No lessons yet. On the bench, tick what you see on a plug and keep its photo as a lesson."
TABLE = ("Reading", "Photos", "Plugs")
LEARN = "Learn from these"
MEASURING = "Measuring photo {done} of {of}…"
THINKING = "Learning, and checking on plugs held back…"
WHERE = "The lessons lie in {folder}; “plugread train” reads the same folder."

REPORT = "What it learned"
LEARNED = "From {photos} photos of {plugs} plugs, checked on others."
USED = "This model reads your photos now."
USED_OTHER = "Another model, learned earlier, reads your photos now."
NOT_USED = "It is not used yet: the colour rules read your photos."
USE = "Read with it"
STOP = "Back to the colour rules"
RIGHT = ("Reading", "Plugs", "Right (95 % interval)")
SHARE = "{right:.0f} % ({low:.0f} to {high:.0f})"
TOO_FEW = "Not learned, fewer than three plugs: {names}."
MIXED = "Still mixed up: {rows}."
MIXED_ROW = "{truth} taken for {said} ({photos})"
MIXED_NONE = "Nothing was mixed up."
PASSED_OVER = "Passed over ({n})"
PICTURES = "Pictures"
CONFUSION_ALT = "What it takes for what: a row for each true reading, a column for each answer, with the number of photos."
CURVE_ALT = "Share right on plugs held back, against the number of plugs it was taught."
BAD_MODEL = "The taught model cannot be used: {why}. The colour rules read instead."
