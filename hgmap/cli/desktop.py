"""The command line's ``desktop``: the window, or a picture of it."""

from __future__ import annotations

import os
import re
import sys
from pathlib import Path
from typing import Annotated

import typer

from hgmap.errors import HgmapError

MISSING_QT = 'the window needs PySide6-Essentials: pip install "hgmap[desktop]"'


def desktop_command(
    site: Annotated[
        Path | None, typer.Argument(help="Folder of the site; none: the start page.")
    ] = None,
    picture: Annotated[
        Path | None, typer.Option(help="Draw the window into this PNG and end.")
    ] = None,
    question: Annotated[
        int, typer.Option(min=1, max=5, help="Which of the five questions is chosen.")
    ] = 1,
    size: Annotated[str, typer.Option(help="Of the picture, in pixels.")] = "1280x800",
    dark: Annotated[bool, typer.Option("--dark", help="The dark look.")] = False,
) -> None:
    """Open the window, in which the whole survey is done."""
    found = re.fullmatch(r"(\d{3,5})x(\d{3,5})", size)
    if found is None:
        raise HgmapError(f"{size!r} is no size", where="--size", todo="write it as 1280x800")
    if picture is not None:
        if site is None:
            raise HgmapError("a picture of which site?", where="--picture", todo="name its folder")
        if _linux_without("QT_QPA_PLATFORM"):
            os.environ["QT_QPA_PLATFORM"] = "offscreen"
    elif _linux_without("QT_QPA_PLATFORM", "DISPLAY", "WAYLAND_DISPLAY"):
        raise HgmapError(
            "there is no screen to open the window on",
            todo="start it from a desktop, or draw it into a file with --picture",
        )
    try:
        from hgmap.desktop import app
    except ImportError as error:
        raise HgmapError(f"{MISSING_QT} ({error})") from None
    if picture is None:
        raise typer.Exit(app.run([] if site is None else [str(site)]))
    wide, high = (int(one) for one in found.groups())
    if not (640 <= wide <= 7680 and 480 <= high <= 4320):
        raise HgmapError(f"{size} cannot be drawn", where="--size", todo="640x480 to 7680x4320")
    app.draw_window(site, picture, question=question, size=(wide, high), night=dark)  # type: ignore[arg-type]
    typer.echo(str(picture))


def _linux_without(*names: str) -> bool:
    """Tell whether this is Linux and none of these variables says anything; Qt aborts then."""
    return sys.platform.startswith("linux") and not any(os.environ.get(name) for name in names)
