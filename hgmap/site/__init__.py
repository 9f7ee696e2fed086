"""What the surveyor brings, read and judged: plans, readings, levels, units."""
