"""Whether a room may be given back: its statistics, and the outcome under a named rule."""
