"""The invented demo, copied to where a person may change it."""

from __future__ import annotations

import shutil
from pathlib import Path

import hgmap
from hgmap.errors import HgmapError

_PARTS = ("site.toml", "sampling-plan.csv", "plans", "readings", "instruments")


def demo_source() -> Path | None:
    """Return the demo beside the program; None where it was installed without."""
    here = Path(hgmap.__file__).parent
    for folder in (here.parent / "demo_site", here / "demo_site"):
        if (folder / "site.toml").is_file():
            return folder
    return None


def demo_copy(root: Path) -> Path:
    """Copy the demo into a folder of the person's own; a copy that is there is opened as it is.

    Raises
    ------
    HgmapError
        If there is no demo, or it cannot be copied.
    """
    target = root / "demo_site"
    if (target / "site.toml").is_file():
        return target
    source = demo_source()
    if source is None:
        raise HgmapError(
            "the demo is not installed with the program",
            todo="open the folder demo_site of the source code",
        )
    try:
        for name in _PARTS:
            part = source / name
            if part.is_dir():
                shutil.copytree(part, target / name, dirs_exist_ok=True)
            elif name != "site.toml":
                target.mkdir(parents=True, exist_ok=True)
                shutil.copy2(part, target / name)
        shutil.copy2(source / "site.toml", target / "site.toml")  # last: it says the copy is whole
    except OSError as error:
        raise HgmapError(
            f"the demo cannot be copied ({error.strerror or error})", where=str(target),
            todo="check the folder's rights and the space left on the disk",
        ) from None  # fmt: skip
    return target
