"""Readings as people bring them: spreadsheets, exports, pasted text."""
