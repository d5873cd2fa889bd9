"""Scene generator for the sample pictures and the training world (development only)."""
