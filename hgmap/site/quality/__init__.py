"""What the readings say about themselves: replicates, blanks, drift, completeness, fitness."""
