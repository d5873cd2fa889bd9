"""A procedural spark plug: what it is (`spec`), and the mesh built from that (`build`)."""
