"""Bringing a floor plan of an outside format into a site folder: one module for each format.

``geojson`` is such a format. ``features``, ``where``, ``placing``, ``outlines``, ``doors`` and
``names`` hold one step each, and ``add_floor`` puts the result into the site. An import is checked
as a whole before the first byte is written, and lists all that it mended or left out.
"""
