"""What a site says of itself: its name, use, level, map and title block. Pure: files to files.

Each function gives back files that can be read, or raises the one line that says why not.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict

from hgmap.editing.site_files import SiteFiles
from hgmap.editing.toml_edit import Values, put, put_table, table_of, with_text, with_values
from hgmap.errors import SiteError
from hgmap.site.level_in_force import level_in_force
from hgmap.site.model import LevelRequest, MapSettings, Site, TitleBlock
from hgmap.site.new_site import check_use, with_use
from hgmap.site.schema import SiteTable


def set_site_name(files: SiteFiles, name: str) -> SiteFiles:
    """Give the building another name."""
    return with_values(files, lambda values: put(values, "name", name.strip()))


def set_use(files: SiteFiles, use: str | None) -> SiteFiles:
    """Say what the building is used for; None: nobody has said it.

    Raises
    ------
    SiteError
        If the use is not known.
    """
    if use is None:
        return with_values(files, lambda values: put(values, "use", None))
    check_use(use)
    return with_text(
        files, lambda text: with_use(text, use), lambda values: put(values, "use", use)
    )


def set_level(files: SiteFiles, level: LevelRequest | str | None) -> SiteFiles:
    """Choose the action level: a name from the table, a record, or None for none.

    Raises
    ------
    LevelError
        If there is no such level, or it is not for this building or for what was measured.
    """
    if isinstance(level, str):
        level = LevelRequest(name=level)
    keys: dict[str, object] = dict.fromkeys(asdict(LevelRequest()))
    if level is not None:
        keys |= asdict(level)
        table = table_of(files)
        level_in_force(_bare_site(files, table, level), None)
    return with_values(files, lambda values: put_table(values, "level", keys))


def set_map(files: SiteFiles, **keys: object) -> SiteFiles:
    """Set keys of ``[map]``; None takes one away, and the built-in choice holds again."""
    return _set_keys(files, "map", keys)


def set_title_block(files: SiteFiles, **keys: str | None) -> SiteFiles:
    """Set keys of ``[title_block]``; None or an empty text takes one away."""
    return _set_keys(files, "title_block", {key: value or None for key, value in keys.items()})


def set_readings_defaults(files: SiteFiles, **keys: object) -> SiteFiles:
    """Set keys of ``[readings]``: detection_limit, height_m, subtract."""
    return _set_keys(files, "readings", keys)


def set_clearance(files: SiteFiles, **keys: object) -> SiteFiles:
    """Set keys of ``[clearance]``: guidance, occupied_temperature_c."""
    return _set_keys(files, "clearance", keys)


def _set_keys(files: SiteFiles, name: str, keys: Mapping[str, object]) -> SiteFiles:
    """Set some keys of a table; one that it does not know is refused, also where it goes."""
    known = SiteTable.model_fields[name].annotation
    fields = getattr(known, "model_fields", {})
    for key in keys:
        if key not in fields:
            raise SiteError(
                f"no key {key!r} in [{name}]", where=files.place("site.toml"),
                todo=f"known keys: {', '.join(fields)}",
            )  # fmt: skip

    def change(values: Values) -> None:
        put_table(values, name, keys)

    return with_values(files, change)


def _bare_site(files: SiteFiles, table: SiteTable, level: LevelRequest) -> Site:
    """Return as much of the site as a level is judged by."""
    return Site(
        folder=files.folder,
        name=table.name,
        analyte=table.analyte,
        medium=table.medium,
        use=table.use,
        invented=table.invented,
        level=level,
        floors=(),
        rounds=(),
        height_bands=(),
        readings=(),
        settings=MapSettings(),
        title_block=TitleBlock(),
        problems=(),
    )
