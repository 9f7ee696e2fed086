"""Where to sample before there is a reading, and how good a survey was that we have."""
