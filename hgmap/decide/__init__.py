"""The rulings: zones, and where to measure again."""
