"""One floor mapped again and again while somebody edits it."""
