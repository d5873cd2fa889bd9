"""Start file of the page: `streamlit run app.py`, or `plugread page`."""

import streamlit as st

from plugread.page import front, main

if __name__ == "__main__":  # one run of the page's script
    main.run()
else:  # the web server, which reads this file as a module
    app = st.App(__file__, middleware=front.middleware(), lifespan=front.lifespan)
