"""The help page: how to take the photo, what each word means, where the limits are."""

from __future__ import annotations

import streamlit as st

from plugread.page import help_words, reads, web, words


def page() -> None:
    """Draw the help page."""
    st.header(help_words.TITLE, anchor=False)
    for title, lines in help_words.PHOTO.items():
        st.subheader(title, anchor=False)
        st.markdown("\n".join(f"{k}. {line}" for k, line in enumerate(lines, 1)))
    st.image(web.text("row.svg"), alt=help_words.PHOTO_ALT, width=560)
    _meanings()
    st.subheader(help_words.LIMITS_TITLE, anchor=False)
    st.markdown("\n".join(f"- {line}" for line in help_words.LIMITS))


def _meanings() -> None:
    """Explain every finding in the rule base's own words."""
    st.subheader(help_words.WORDS_TITLE, anchor=False)
    rules = reads.rules()
    st.markdown("\n".join(f"- **{term}**: {meaning}" for term, meaning in help_words.TERMS.items()))
    for title, kinds in help_words.KINDS.items():
        with st.expander(title, key=f"help.{title}"):
            for finding in rules.findings.values():
                if finding.kind in kinds:
                    st.markdown(f"**{finding.name}.** {finding.seen} {words.mixup(finding.confused_with)} {finding.note}")
