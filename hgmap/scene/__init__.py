"""What a window shows of a floor, as display lists in metres; the same items that print."""
