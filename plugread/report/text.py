"""Plain text for a person: one photo's reading, and the whole case as a mechanic would note it down."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable

from plugread.chances import in_words
from plugread.records import Case, CauseRank, CheckAdvice, Diagnosis, Measured, PhotoRead, PlugRead, Reason
from plugread.rules.tables import Rules

WIDTH = 100
CAUSES_SHOWN, CHECKS_SHOWN, REASONS_SHOWN = 5, 3, 3
WORTH_SAYING = 0.15
"""A reading below this probability is not mentioned."""
ACTIONS = {"carry_on": "FIT THE PLUGS AND CARRY ON", "investigate": "INVESTIGATE FIRST", "do_not_run": "DO NOT RUN THE ENGINE"}


# ---- one photo -------------------------------------------------------------------------------------------


def photo_text(photo: PhotoRead) -> str:
    """Return a few lines on what one photo shows and what it does not."""
    lines = [f"{photo.file}: {_photo_head(photo)}"]
    for k, plug in enumerate(photo.plugs, 1):
        lines += _indented(_plug_lines(plug), f"plug {k}: " if photo.lineup else "")
    if photo.white is not None:
        known = "" if photo.white.level_known else "; compare plugs in the same light rather than trust the shade"
        lines.append(f"  light: {photo.white.method} ({photo.white.detail}){known}")
        lines += [f"  light: {photo.white.why}"] if photo.white.why else []
    return "\n".join(lines + [f"  note: {note}" for note in photo.notes])


def _photo_head(photo: PhotoRead) -> str:
    if photo.status == "refused":
        return f"refused: {photo.why}"
    return f"{len(photo.plugs)} plugs in a row" if photo.lineup else photo.status


def _plug_lines(plug: PlugRead) -> list[str]:
    reading, measures = plug.reading, plug.measures
    if reading.status == "refused":
        return [f"refused: {reading.why}"]
    shares = sorted(reading.probability.items(), key=lambda item: -item[1])[:3]
    looks = ", ".join(f"{_words(name)} {p:.0%}" for name, p in shares if p >= 0.05)
    lines = [f"looks like: {looks}" + (f" ({reading.why})" if reading.why else "")]
    if measures.lab and measures.lightness:
        light, a, b = measures.lab
        lines.append(f"nose colour: L* {light:.0f}, a* {a:.0f}, b* {b:.0f} (L* within {measures.lightness.spread:.0f})")
    lines.append(
        f"gap: {_number(measures.gap_mm)}" if measures.gap_mm else f"gap: not measured, {measures.why.get('gap', '')}"
    )
    return lines + [f"better photo: {advice}" for advice in plug.quality.advice]


def _number(measured: Measured) -> str:
    return f"{measured.value:.2f} ± {measured.spread:.2f} {measured.unit}"


# ---- the whole case --------------------------------------------------------------------------------------


def diagnosis_text(diagnosis: Diagnosis, case: Case, rules: Rules) -> str:
    """Return the whole answer as a note: what is seen, what it means, how sure, what next, what not to do."""
    parts = [
        case.title,
        _section("What is seen", _seen(diagnosis, rules)),
        _section("What it means", _meaning(diagnosis, rules)),
        _section("How sure", _sureness(diagnosis)),
        _section("What next", _next(diagnosis, rules)),
        _section("Verdict", [f"{ACTIONS[diagnosis.verdict.action]}. {diagnosis.verdict.why}"]),
        _section("Mind", _mind(diagnosis)),
    ]
    return "\n\n".join(part for part in parts if part)


def _section(title: str, lines: Iterable[str]) -> str:
    body = [line for text in lines for line in _wrapped(text)]
    return "\n".join([title, *body]) if body else ""


def _wrapped(text: str) -> list[str]:
    indent = "  " + " " * (len(text) - len(text.lstrip()))
    return textwrap.wrap(text.strip(), WIDTH, initial_indent=indent, subsequent_indent=indent + "  ") or []


def _seen(diagnosis: Diagnosis, rules: Rules) -> list[str]:
    numbers = sorted({*diagnosis.readings, *diagnosis.photo_problems})
    lines = [f"Cylinder {n}: {_plug_words(diagnosis, n, rules)}" for n in numbers]
    return [*lines, f"Together: {diagnosis.comparison.pattern}"] if diagnosis.readings else [*lines, "No plug was looked at."]


def _plug_words(diagnosis: Diagnosis, number: int, rules: Rules) -> str:
    if number not in diagnosis.readings:
        return f"not read: {diagnosis.photo_problems[number]}"
    shares = sorted(diagnosis.readings[number].items(), key=lambda item: -item[1])
    said = [f"{_name(rules, name).lower()} ({p:.0%})" for name, p in shares if p >= WORTH_SAYING]
    words = ", ".join(said) or "nothing stands out"
    if number in diagnosis.photo_problems:
        words += f"; photo not used: {diagnosis.photo_problems[number]}"
    delta = diagnosis.comparison.delta_e.get(number)
    if delta is not None:
        words += f"; colour {delta:.0f} dE from the set's median"
    return words + (" — THE ODD ONE" if number in diagnosis.comparison.odd else "")


def _meaning(diagnosis: Diagnosis, rules: Rules) -> list[str]:
    lines: list[str] = []
    for k, cause in enumerate(diagnosis.causes[:CAUSES_SHOWN], 1):
        lines.append(f"{k}. {_cause_name(cause, rules)}: {in_words(cause.probability)} ({cause.probability:.0%}{_band(cause)})")
        lines += [f"   {line}" for line in _reasons(cause, rules)]
        if cause.group:
            others = ", ".join(_cause_words(rules, name).lower() for name in cause.group)
            lines.append(f"   cannot be told from: {others}")
    lines.append(f"None of the causes on the list: {in_words(diagnosis.none_listed)} ({diagnosis.none_listed:.0%})")
    return lines + ([f"This pattern speaks against: {diagnosis.comparison.rules_out}"] if diagnosis.comparison.rules_out else [])


def _band(cause: CauseRank) -> str:
    return f", {cause.band[0]:.0%} to {cause.band[1]:.0%} if the rule base is off" if cause.band else ""


def _cause_name(cause: CauseRank, rules: Rules) -> str:
    name = _cause_words(rules, cause.id)
    return f"{name}, cylinder{'s' if len(cause.cylinders) > 1 else ''} {_and(cause.cylinders)}" if cause.cylinders else name


def _reasons(cause: CauseRank, rules: Rules) -> list[str]:
    ranked = sorted(cause.because, key=lambda reason: -abs(reason.weight))
    pros = [_reason(r, rules) for r in ranked if r.weight > 0.1][:REASONS_SHOWN]
    cons = [_reason(r, rules) for r in ranked if r.weight < -0.1][:REASONS_SHOWN]
    return ([f"for: {'; '.join(pros)}"] if pros else []) + ([f"against: {'; '.join(cons)}"] if cons else [])


def _reason(reason: Reason, rules: Rules) -> str:
    where = f" on {reason.cylinder}" if reason.cylinder is not None else ""
    return f"{_name(rules, reason.finding).lower()}{where} ({reason.weight:+.1f})"


def _sureness(diagnosis: Diagnosis) -> list[str]:
    lines = []
    first = diagnosis.causes[0] if diagnosis.causes else None
    if first and first.stays_first is not None and first.stays_first_interval is not None:
        low, high = first.stays_first_interval
        share = f"{first.stays_first:.0%} ({low:.0%} to {high:.0%})"
        lines.append(f"The first cause stays first in {share} of rule bases shaken by about half a word.")
    if diagnosis.verdict.close_call:
        lines.append("The verdict is a close call: a little more evidence may turn it.")
    return lines + list(diagnosis.notes)


def _next(diagnosis: Diagnosis, rules: Rules) -> list[str]:
    return [line for k, check in enumerate(diagnosis.next_checks[:CHECKS_SHOWN], 1) for line in _check(k, check, rules)]


def _check(k: int, check: CheckAdvice, rules: Rules) -> list[str]:
    known = rules.checks.get(check.id)
    where = f", cylinder{'s' if len(check.cylinders) > 1 else ''} {_and(check.cylinders)}" if check.cylinders else ""
    lines = [f"{k}. {known.name if known else _words(check.id)}{where}: about {check.minutes:.0f} min. {check.why}"]
    lines += [f"   how: {known.how}"] if known and known.how and k == 1 else []
    return lines + [f"   caution: {caution}" for caution in check.cautions if k == 1]


def _mind(diagnosis: Diagnosis) -> list[str]:
    ending = "The engine's own book wins over any general value here; where in doubt, ask a licensed technician."
    return [*diagnosis.cautions, ending]


# ---- words -----------------------------------------------------------------------------------------------


def _name(rules: Rules, finding: str) -> str:
    """Name a finding, a look, or a check outcome written "check.outcome"."""
    if finding in rules.findings:
        return rules.findings[finding].name
    check, _, outcome = finding.partition(".")
    if check in rules.checks:
        known = {o.id: o.name for o in rules.checks[check].outcomes}
        return f"{rules.checks[check].name}: {known.get(outcome, _words(outcome))}" if outcome else rules.checks[check].name
    return _words(finding)


def _cause_words(rules: Rules, cause: str) -> str:
    return rules.causes[cause].name if cause in rules.causes else _words(cause)


def _words(identifier: str) -> str:
    return identifier.replace("_", " ")


def _and(numbers: Iterable[int]) -> str:
    words = [str(n) for n in numbers]
    return " and ".join([", ".join(words[:-1]), words[-1]] if len(words) > 1 else words)


def _indented(lines: list[str], first: str) -> list[str]:
    return [f"  {first if k == 0 else ' ' * len(first)}{line}" for k, line in enumerate(lines)]
