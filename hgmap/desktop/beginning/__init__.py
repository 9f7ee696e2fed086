"""The parts of the page on which a site is begun, one question each."""
