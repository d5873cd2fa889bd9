"""Small pieces of plain English for reasons and verdicts: names of causes with their place, chances as spoken."""

from __future__ import annotations

from collections.abc import Sequence

from plugread.chances import in_words
from plugread.diagnose.network import Instance
from plugread.rules.tables import Rules


def spoken(chance: float) -> str:
    """Return a chance as one says it, with the figure: "about 2 in 3 (66 %)"."""
    return f"{in_words(chance)} ({100 * chance:.0f} %)"


def place(cylinders: Sequence[int]) -> str:
    """Return where something is: "" for the engine, "cylinder 3", "cylinders 2 and 3"."""
    if not cylinders:
        return ""
    return f"cylinder{'s' * (len(cylinders) > 1)} {listed([str(number) for number in cylinders])}"


def named(rules: Rules, instance: Instance) -> str:
    """Return a cause in the words people use, with its place."""
    where = place(instance.cylinders)
    name = small(rules.causes[instance.cause].name)
    return f"{name} ({where})" if where else name


def listed(parts: Sequence[str], last: str = "and") -> str:
    """Join parts as in a sentence."""
    return parts[0] if len(parts) == 1 else f"{', '.join(parts[:-1])} {last} {parts[-1]}" if parts else ""


def small(text: str) -> str:
    """Return the text with a small first letter, unless its first word is an abbreviation."""
    return text if text[1:2].isupper() else text[:1].lower() + text[1:]
