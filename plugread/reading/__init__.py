"""From numbers and ticks to readings."""
