"""The pieces the pages are put together from, one file a piece."""
