"""Words of a file in a place where Qt would take them for rich text: tooltips above all."""

from __future__ import annotations

import html

from PySide6.QtGui import Qt


def plain_tip(text: str) -> str:
    """Return what a tooltip has to be given so that it shows the text as it is written."""
    if not Qt.mightBeRichText(text):
        return text
    return f'<p style="white-space: pre-wrap">{html.escape(text, quote=False)}</p>'
