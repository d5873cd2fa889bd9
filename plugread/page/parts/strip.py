"""The engine strip: which engine this is, a dialog to change it, a new visit."""

from __future__ import annotations

import re
from dataclasses import replace
from html import escape

import streamlit as st

from plugread.engine import Engine
from plugread.errors import CaseError
from plugread.notebook import draft as drafts
from plugread.notebook.draft import Draft
from plugread.notebook.engines import presets
from plugread.page import state, words
from plugread.records import EngineSpec

COUNTS = tuple(range(1, 13))


def strip(draft: Draft) -> None:
    """Draw the strip at the head of the bench."""
    spec = draft.engine
    name, facts = (
        words.engine_name(spec.layout, spec.cylinders),
        words.engine_facts(spec.induction, spec.ignition, spec.firing_order),
    )
    with st.container(horizontal=True, horizontal_alignment="distribute", vertical_alignment="center", key="strip"):
        st.html(f'<p class="pr-strip"><b>{escape(name)}</b><span>{escape(facts)}</span></p>')
        with st.container(horizontal=True, width="content", gap="small", key="strip_buttons"):
            if st.button(words.ENGINE_CHANGE, key="engine_change", icon=":material/tune:", help=words.ENGINE_CHANGE_HELP):
                _dialog(draft)
            if not draft.empty:
                st.button(
                    words.NEW_VISIT, key="new_visit", on_click=state.new_visit, icon=":material/add:", help=words.NEW_VISIT_HELP
                )
    if draft.sample:
        st.caption(words.SAMPLE_NOTE)


@st.dialog(words.ENGINE_TITLE)
def _dialog(draft: Draft) -> None:
    """Ask for the engine; a preset fills the boxes, the book's values change them."""
    names = [words.ENGINE_PRESET_NONE, *presets()]
    chosen = st.selectbox(words.ENGINE_PRESET, names, key="e_preset")
    spec = presets().get(chosen, draft.engine)
    layout = st.segmented_control(
        words.ENGINE_LAYOUT,
        list(words.LAYOUT),
        default=spec.layout,
        required=True,
        key=f"e_layout{chosen}",
        format_func=lambda i: words.LAYOUT[i],
    )
    count = (
        st.segmented_control(words.ENGINE_COUNT, COUNTS, default=spec.cylinders, required=True, key=f"e_count{chosen}")
        or spec.cylinders
    )
    order = st.text_input(
        words.ENGINE_ORDER, value=_order_text(spec, count), key=f"e_order{chosen}{count}", help=words.ENGINE_ORDER_HELP
    )
    induction = st.selectbox(
        words.ENGINE_INDUCTION,
        list(words.INDUCTION),
        index=list(words.INDUCTION).index(spec.induction),
        key=f"e_fuel{chosen}",
        format_func=lambda i: words.INDUCTION[i],
    )
    ignition = st.selectbox(
        words.ENGINE_IGNITION,
        list(words.IGNITION),
        index=list(words.IGNITION).index(spec.ignition),
        key=f"e_spark{chosen}",
        format_func=lambda i: words.IGNITION[i],
    )
    loop = induction != "carburettor" and st.checkbox(
        words.ENGINE_LOOP, value=spec.closed_loop or spec.induction == "carburettor", key=f"e_loop{chosen}{induction}"
    )
    head = st.segmented_control(
        words.ENGINE_HEAD,
        list(words.HEAD),
        default=spec.head,
        required=True,
        key=f"e_head{chosen}",
        format_func=lambda i: words.HEAD[i],
    )
    threads = list(dict.fromkeys((None, *words.THREAD, spec.plug.thread)))
    thread = st.selectbox(
        words.ENGINE_THREAD,
        threads,
        index=threads.index(spec.plug.thread),
        key=f"e_thread{chosen}",
        format_func=lambda i: words.THREAD.get(i, i) if i else words.ENGINE_UNKNOWN,
    )
    with st.container(horizontal=True, key="e_plug"):
        gap = st.number_input(
            words.ENGINE_GAP,
            min_value=0.2,
            max_value=3.0,
            value=spec.plug.gap_mm,
            step=0.05,
            format="%.2f",
            key=f"e_gap{chosen}",
            placeholder=words.ENGINE_UNKNOWN,
        )
        distance = st.number_input(
            words.ENGINE_DISTANCE,
            min_value=0.0,
            value=spec.plug.distance_km,
            step=1000.0,
            format="%.0f",
            key=f"e_km{chosen}",
            placeholder=words.ENGINE_UNKNOWN,
        )
    if st.button(words.ENGINE_SAVE, key="e_save", type="primary", width="stretch"):
        same_groups = (layout, count, induction, ignition) == (spec.layout, spec.cylinders, spec.induction, spec.ignition)
        groups = spec if same_groups else replace(spec, banks=None, neighbours=None, feeds=None, coils=None)
        _save(
            replace(
                groups,
                layout=layout or spec.layout,
                cylinders=count,
                firing_order=_numbers(order),
                induction=induction,
                ignition=ignition,
                closed_loop=loop,
                head=head,
                plug=replace(spec.plug, thread=thread, gap_mm=gap, distance_km=distance),
            )
        )


def _save(spec: EngineSpec) -> None:
    try:
        Engine(spec)
    except CaseError as problem:
        st.error(words.sentence(str(problem)), icon=":material/error:")
        return
    state.change(lambda d: drafts.with_engine(d, spec))
    state.fresh_boxes()
    st.rerun()


def _order_text(spec: EngineSpec, count: int) -> str:
    """Return the firing order of the engine, or of the commonest preset with that many cylinders; "" where none is known."""
    known = [spec, *presets().values()]
    order = next((s.firing_order for s in known if s.cylinders == count), tuple(range(1, count + 1)) if count <= 2 else ())
    return "-".join(map(str, order))


def _numbers(text: str) -> tuple[int, ...]:
    return tuple(int(number) for number in re.findall(r"\d+", text))
