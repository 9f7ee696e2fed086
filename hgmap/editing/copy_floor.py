"""A floor copied upwards: its plan, names, openings and frame under another name."""

from __future__ import annotations

from hgmap.editing.floor_settings import add_floor, set_north
from hgmap.editing.plan_of_floor import draft_of, floor_entry
from hgmap.editing.site_files import SiteFiles
from hgmap.editing.toml_edit import table_of
from hgmap.errors import SiteError
from hgmap.site.importers.names import typed_name


def copy_floor(files: SiteFiles, floor: str, to: str, *, title: str = "") -> SiteFiles:
    """Return the files with a new floor at the end, its plan that of another.

    Names, ids, walls and openings with their states are the same, and so is where north is. The
    picture under the plan, grids, readings and what rounds say of doors belong to the floor that
    they were made on and are not copied.

    Raises
    ------
    SiteError
        If there is no such floor, or one of the new name, or a title that means another.
    """
    entry = floor_entry(table_of(files), floor)
    draft_of(files, floor)  # what is no plan at all is not copied
    name, title = (typed_name(one, "a floor") for one in (to, title))
    if not name:
        raise SiteError("a floor has a name", where="site.toml", todo="name the new floor")
    taken = {
        word.casefold(): one.name
        for one in table_of(files).floors
        for word in (one.name, one.title or one.name)
    }
    for word in (name, title):
        if word and word.casefold() in taken:
            raise SiteError(
                f"floor {taken[word.casefold()]!r} is called {word!r} already",
                where="site.toml", todo="choose another name",
            )  # fmt: skip
    files = add_floor(files, name, title=title or None, plan=files.data(entry.plan))
    return files if entry.north_deg is None else set_north(files, name, entry.north_deg)
