"""Writing a whole site into a new folder: for a disk that is full, a folder that is gone."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from hgmap.editing.begin import beside
from hgmap.editing.new_folder import look_at
from hgmap.editing.site_files import SiteFiles
from hgmap.errors import SiteError
from hgmap.site.files import in_one_line, write_bytes


def save_elsewhere(files: SiteFiles, folder: Path) -> SiteFiles:
    """Write every file of a site into a folder that is not there yet, or is empty.

    It appears there whole, or not at all; the folder that the site was read from is not touched.
    Files that could not be read are not there to be written.

    Returns
    -------
    SiteFiles
        The same files, of the new folder.

    Raises
    ------
    SiteError
        If something else stands there.
    HgmapError
        If it cannot be written; nothing is left behind.
    """
    folder = folder.absolute()
    state = look_at(folder)
    if state.why:
        raise SiteError(state.why.rstrip("."), where=str(folder))
    with beside(folder) as stage:
        for name, data in files.contents.items():
            path = stage / name
            with in_one_line(
                "cannot be written", where=str(folder),
                todo="nothing was left behind; check the folder's rights and the space on the disk",
            ):  # fmt: skip
                path.parent.mkdir(parents=True, exist_ok=True)
            write_bytes(path, data)
    return replace(files, folder=folder)
