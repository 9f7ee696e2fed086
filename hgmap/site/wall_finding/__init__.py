"""Walls proposed from a placed image of a drawing or of a laser map; never used unasked."""
