"""The window: PySide6 paints and asks; everything that is decided is decided in the core."""

from __future__ import annotations


def main() -> None:
    """Open the window without a terminal (the entry point of the desktop's own starter)."""
    import sys

    from hgmap.desktop.app import run

    sys.exit(run(sys.argv[1:2]))
