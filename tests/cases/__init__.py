"""An independent bank of cases and the answers an experienced mechanic would sign."""
