"""Bringing a floor plan of an outside format into a site folder: one module for each format.

``geojson`` is such a format; ``features``, ``where``, ``placing``, ``outlines``, ``doors`` and
``names`` hold one step each that a format needs. An import is checked as a whole before the first
byte is written, and everything it mended or left out is listed in its report.
"""
