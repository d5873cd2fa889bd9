"""The page with stand-ins behind it; started by the browser tests."""

import os
from pathlib import Path

import streamlit as st

from plugread import resources
from plugread.errors import StoreError
from plugread.notebook.store import Store
from plugread.page import bench, front, main, state
from tests.page import stand_ins

stand_ins.install()
samples = os.environ.get("PLUGREAD_TEST_SAMPLES")
if samples:
    for module in (resources, bench, state):
        module.samples_dir = lambda: Path(samples)
if "PLUGREAD_TEST_FULL_DISK" in os.environ:

    def full(*_: object, **__: object) -> None:
        raise StoreError("the notebook cannot be used (database or disk is full)", "free some disk space")

    Store.change = Store.keep_photo = full  # type: ignore[assignment, method-assign]
if __name__ == "__main__":
    main.run()
else:
    app = st.App(__file__, middleware=front.middleware(), lifespan=front.lifespan)
