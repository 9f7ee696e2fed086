"""Many sites and floors side by side, kept as they are finished."""
