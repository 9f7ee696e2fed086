"""The instrument log, and what it says about each reading."""
