"""Paper: the display list, the sheet, tables, GeoPackage, summary."""
