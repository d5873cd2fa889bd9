"""From image bytes to firing ends: decode, white, locate, line-up, quality."""
