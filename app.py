"""Start file of the page: `streamlit run app.py`, or `plugread page`."""

from plugread.page.main import run

run()
