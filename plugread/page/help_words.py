"""Wording of the help page."""

from __future__ import annotations

TITLE = "Help"
PHOTO = "How to pull and photograph the plugs"
STEPS = {
    PHOTO: (
        "Engine cold, ignition off. Blow dirt out of the wells before loosening a plug. Lay the plugs in cylinder"
        " order and keep them so.",
        "Lay them on plain matt white paper, firing ends toward you, not touching one another.",
        "Light from the side: open shade or a lamp with a sheet of paper before it. No flash, for flash makes dry soot look wet.",
        "Hold the phone a hand's length away, a little above, so that you see the nose (the white cone round the "
        "centre electrode) and the gap.",
        "Let the paper fill a good part of the picture, in the same light as the plugs. It tells the page how white looks there.",
        "Tap the plug on the phone's screen to focus there. Blur is the commonest reason for a refused photo.",
    ),
    "What to do on the bench page": (
        "Choose your engine once; it is remembered.",
        "Photograph all plugs in a row, or one by one. The next cylinder is picked by itself.",
        "Say what you see on each plug, before the page says what it measured. Two independent looks are worth more than one.",
        "Or press “Show what the photos say” at the foot of the page.",
        "Read the answer, do the next check, enter what came out. The list changes at once.",
    ),
}
ROW_ALT = "Four plugs in a row on a sheet of white paper, firing ends up, a lamp at the side, numbers 1 to 4 under them."
ROW_CAPTION = "All in a row, in cylinder order, on white paper, light from the side."
GOOD_PHOTO = "engine_healthy/c3.jpg"
GOOD_ALT = "A single plug from the side: nose, strap and gap are sharp, with white paper and a grey card in the same light."
GOOD_CAPTION = "One plug: side-on, sharp, with paper in the same light. (Made by computer.)"
WORDS_TITLE = "What the words mean"
TERMS = {
    "Nose": "the ceramic cone round the centre electrode. Its colour is what is measured.",
    "Odd one": "a plug that differs from the others of the same engine. One odd plug points to its own cylinder; "
    "all alike point to something shared.",
    "About 3 in 5": "of all engines that look like this one, the rules expect about 3 in 5 to have this cause.",
    "If the rules are somewhat off": "the rules are judgements of the trade put into numbers. "
    "The range shows where the probability goes when all of them are shaken.",
    "None of these": "the chance that what is wrong is not on the list.",
    "Close call": "the next best decision is nearly as good. One more check may turn it.",
    r"L\*, a\*, b\*": "colour as a standard observer sees it in daylight: light to dark, green to red, blue to yellow.",
}
KINDS = {
    "Seen on the firing end": ("firing_end",),
    "Seen on the outside, and on removal": ("outside", "removal"),
    "Signs while driving": ("sign",),
}
LIMITS_TITLE = "Limits"
LIMITS = (
    "A photo shows colour and gloss, not smell, and not a hidden crack. A plug that looks perfect may still be dead.",
    "The nose shows the last minutes of running. Long idling before switching off paints soot on a sound engine.",
    "New plugs need some hundred kilometres before their colour means anything.",
    "Without white paper or a card in the picture the shade is a guess. Comparing plugs of one photo still works.",
    "The probabilities come from rules of the trade, not from counted repairs. They put a direction to the "
    "search; a check decides.",
    "Tried with Chromium at phone and desktop size. Not tried: real phones, other browsers, screen readers by ear.",
    "The engine's own book and the local rules come first. Fuel, high voltage and hot parts can hurt you: if in "
    "doubt, ask a licensed technician.",
)
