"""Tables of what was written down: cells are edited as text, and what cannot be read stays."""
