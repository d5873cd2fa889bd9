"""The help page: how to take the photo, what each word means, where the limits are."""

from __future__ import annotations

import streamlit as st

from plugread.notebook.samples import sample_photo
from plugread.page import help_words, reads, web, words
from plugread.page.parts.folded import folded
from plugread.resources import samples_dir


def page() -> None:
    """Draw the help page."""
    st.header(help_words.TITLE, anchor=False)
    for title, lines in help_words.STEPS.items():
        st.subheader(title, anchor=False)
        if title == help_words.PHOTO:
            _examples()
        st.markdown("\n".join(f"{k}. {line}" for k, line in enumerate(lines, 1)))
    _meanings()
    st.subheader(help_words.LIMITS_TITLE, anchor=False)
    st.markdown("\n".join(f"- {line}" for line in help_words.LIMITS))


def _examples() -> None:
    """Show how a row lies, and a photo as it should be."""
    with st.container(horizontal=True, key="examples"):
        st.image(web.text("row.svg"), alt=help_words.ROW_ALT, caption=help_words.ROW_CAPTION, width=280)
        photo = sample_photo(samples_dir(), help_words.GOOD_PHOTO)
        if photo is not None:
            st.image(photo, alt=help_words.GOOD_ALT, caption=help_words.GOOD_CAPTION, width=280)


def _meanings() -> None:
    """Explain every finding in the rule base's own words."""
    st.subheader(help_words.WORDS_TITLE, anchor=False)
    rules = reads.rules()
    st.markdown("\n".join(f"- **{term}**: {meaning}" for term, meaning in help_words.TERMS.items()))
    for title, kinds in help_words.KINDS.items():
        with folded(title, f"help.{title}") as is_open:
            for finding in rules.findings.values():
                if is_open and finding.kind in kinds:
                    st.markdown(f"**{finding.name}.** {finding.seen} {words.mixup(finding.confused_with)} {finding.note}")
