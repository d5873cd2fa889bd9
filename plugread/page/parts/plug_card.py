"""One plug: its photo with the parts found, the measured colour, the gap, what could not be measured and how to retake it."""

from __future__ import annotations

from html import escape

import streamlit as st

from plugread.chances import in_words
from plugread.notebook import draft as drafts
from plugread.notebook.draft import Draft, middle_of, window_round
from plugread.page import state, words
from plugread.page.parts.legend import legend
from plugread.page.parts.spot import WHOLE, spot
from plugread.page.reads import Seen, View, colour_of
from plugread.records import Diagnosis, PlugRead
from plugread.rules.tables import Rules

WORTH_SAYING = 0.15


def plug_card(draft: Draft, view: View, number: int) -> None:
    """Draw the photo of one plug and how a better one would be taken."""
    if number not in view.seen:
        return
    seen, k = view.seen[number]
    if seen.picture:
        _photo(draft, seen, k, number)
    plug = view.plugs.get(number)
    if plug is not None and plug.quality.advice and number not in view.problems:
        st.caption(words.RETAKE.format(advice=" ".join(words.sentence(advice) for advice in plug.quality.advice)))


def _photo(draft: Draft, seen: Seen, k: int, number: int) -> None:
    size = seen.photo.size
    assert size is not None
    end = seen.photo.plugs[k].end if 0 <= k < len(seen.photo.plugs) else None
    window = window_round(end.nose_box, size) if end else WHOLE
    at = middle_of(end.nose_box, size) if end else None
    shot = draft.shot(number)
    pointed = shot.spot if shot else None
    key = state.scripted(state.box(f"spot{number}"))
    spot(seen.picture, number=number, size=size, window=window, at=pointed or at, key=key, tapped=lambda at: _point(number, at))
    legend(seen.explained.lines, size, window, spot=(pointed or at) is not None)
    st.caption(words.SPOT_HELP)
    if pointed is not None:
        st.button(
            words.SPOT_RESET, key=state.box(f"unspot{number}"), on_click=_unpoint, args=(number,), icon=":material/my_location:"
        )


def _point(number: int, at: tuple[float, float]) -> None:
    state.change(lambda d: drafts.point(d, number, at))


def _unpoint(number: int) -> None:
    state.change(lambda d: drafts.point(d, number, None))


def measured(view: View, diagnosis: Diagnosis | None, draft: Draft, number: int, rules: Rules) -> None:
    """Draw what the photo of one plug gave: patch and numbers, gap, and what it looks like."""
    plug = view.plugs.get(number)
    if plug is None or plug.reading.status == "refused":
        return
    seen, _ = view.seen[number]
    colour = colour_of(plug)
    patch = f'<span class="patch" style="background:{colour}"></span>' if colour else '<span class="patch none"></span>'
    lines = [_looks(plug, diagnosis, draft, number, rules), _lab(plug), *_gap(plug, draft, number)]
    st.html(f'<div class="pr-plug">{patch}<div>{"".join(f"<p>{line}</p>" for line in lines if line)}</div></div>')
    st.caption(" ".join(words.sentence(remark) for remark in (_light(seen), *seen.photo.notes)))
    if plug.reading.status == "unsure":
        st.info(words.PLUG_UNSURE.format(why=words.sentence(plug.reading.why or "")), icon=":material/help:")


def _looks(plug: PlugRead, diagnosis: Diagnosis | None, draft: Draft, number: int, rules: Rules) -> str:
    """Say what the photo shows; struck through where the user's own look said otherwise."""
    shares = sorted(plug.reading.probability.items(), key=lambda item: -item[1])
    said = [
        f"{rules.findings[i].name if i in rules.findings else words.plain(i)} ({in_words(p)})"
        for i, p in shares
        if p >= WORTH_SAYING
    ][:2]
    text = escape("; ".join(said) or words.LOOKS_NONE)
    entry = draft.entry(number)
    overruled = plug.reading.top is not None and plug.reading.top in entry.not_seen
    return f"<b>{escape(words.LOOKS_LIKE)}</b> " + (f"<s>{text}</s> {escape(words.OVERRULED)}" if overruled else text)


def _lab(plug: PlugRead) -> str:
    m = plug.measures
    if m.lightness is None or m.a is None or m.b is None:
        return escape(m.why.get("colour", ""))
    named = (("L*", m.lightness), ("a*", m.a), ("b*", m.b))
    return ", ".join(f"{name} {words.whole(value.value)} ± {words.whole(value.spread)}" for name, value in named)


def _gap(plug: PlugRead, draft: Draft, number: int) -> list[str]:
    gap, gauge = plug.measures.gap_mm, draft.entry(number).gap_mm
    from_photo = escape(
        words.GAP.format(value=gap.value, spread=gap.spread)
        if gap
        else words.GAP_NONE.format(why=plug.measures.why.get("gap", ""))
    )
    if gauge is None:
        untold = gap is None and draft.engine.plug.thread is None
        return [from_photo, *([escape(words.GAP_THREAD)] if untold else [])]
    return [escape(words.GAP_BY_GAUGE.format(value=gauge)), *([f"<s>{from_photo}</s>"] if gap else [])]


def _light(seen: Seen) -> str:
    white = seen.photo.white
    if white is None or white.method == "estimated":
        return words.COLOUR_UNCALIBRATED + (f" {words.sentence(white.why)}" if white is not None and white.why else "")
    return words.COLOUR_CALIBRATED.format(what=white.detail)
