"""Learning a model from photos whose reading is known: folder -> photos measured -> groups -> model, checked -> report."""
