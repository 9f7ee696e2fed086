"""The shape of site.toml, checked by pydantic; complaints name the key and the nearest one."""

from __future__ import annotations

import datetime as dt
import difflib
import tomllib
from collections import Counter
from collections.abc import Iterator, Sequence
from typing import Any, Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError, field_validator

from hgmap.errors import SiteError
from hgmap.site.map_frame import LEAST_SCALE, MOST_SCALE, MOST_SKEW_DEG
from hgmap.site.model import Medium, Use
from hgmap.site.plan_picture import COARSEST_M_PER_PX
from hgmap.site.textfile import printable
from hgmap.site.warnings import LEAST_GUARD_M, MOST_CLEAR_AT, MOST_REMEDIATE_AT
from hgmap.site.wrong_value import wrong_value

SCHEMA_VERSION = 1

FINEST_CELL_M = 1e-3
"""A millimetre: no reading is placed better than that."""


WIDEST_TAPE_M = 5.0
LARGEST_TAPE_M2 = 100.0
"""Least width (m) and area (m²) of a zone beyond which whole rooms are meant. Ours, no source."""


class _Table(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class LevelTable(_Table):
    """``[level]``: a name from the table, or a whole record of its own."""

    name: str | None = None
    value: float | None = Field(default=None, gt=0, allow_inf_nan=False)
    unit: str | None = None
    averaging: str | None = None
    height: str | None = None
    scenario: str | None = None
    source: str | None = None
    year: int | None = None
    purpose: str | None = Field(default=None, max_length=60)


class NestedLevelTable(_Table):
    """``[[nested_levels]]``: a further level, and what it is for."""

    name: str = Field(min_length=1, max_length=60)
    level: str = Field(min_length=1)


class GridTable(_Table):
    """``[[floors.grids]]``: a grid that was chalked on the floor."""

    name: str = Field(default="", max_length=60)
    origin_x_m: float = Field(allow_inf_nan=False)
    origin_y_m: float = Field(allow_inf_nan=False)
    pitch_x_m: float = Field(gt=0, allow_inf_nan=False)
    pitch_y_m: float = Field(gt=0, allow_inf_nan=False)
    angle_deg: float = Field(default=0.0, ge=-360, le=360)
    point: Literal["node", "centre"] = "node"


class PictureTable(_Table):
    """``[floors.picture]``: the image under the plan of the floor above it."""

    file: str = Field(min_length=1)
    m_per_px: float = Field(gt=0, le=COARSEST_M_PER_PX, allow_inf_nan=False)
    angle_deg: float = Field(default=0.0, ge=-360, le=360)
    origin_x_m: float = Field(default=0.0, allow_inf_nan=False)
    origin_y_m: float = Field(default=0.0, allow_inf_nan=False)
    guessed: bool = False


class FloorTable(_Table):
    """``[[floors]]``."""

    name: str = Field(min_length=1, max_length=60)
    title: str | None = None
    plan: str
    building: str | None = Field(default=None, min_length=1, max_length=60)
    north_deg: float | None = Field(default=None, ge=-360, le=360)
    grids: tuple[GridTable, ...] = ()
    picture: PictureTable | None = None


class ConditionsTable(_Table):
    """``[rounds.conditions]``: how the building stood."""

    temperature_c: float | None = Field(default=None, ge=-38, le=60)
    outdoor_temperature_c: float | None = Field(default=None, ge=-60, le=60)
    pressure_kpa: float | None = Field(default=None, ge=50, le=120)
    humidity_percent: float | None = Field(default=None, ge=0, le=100)
    ventilation: Literal["off", "as occupied", "raised"] | None = None
    windows: Literal["closed", "open"] | None = None
    hours_closed: float | None = Field(default=None, ge=0, le=10_000)
    hours_heated: float | None = Field(default=None, ge=0, le=10_000)
    occupied: bool | None = None
    note: str = ""


class RoundTable(_Table):
    """``[[rounds]]``."""

    name: str = Field(min_length=1, max_length=60)
    title: str | None = None
    date: dt.date | None = None
    readings: tuple[str, ...] = ()
    openings: dict[str, dict[str, Literal["open", "closed", "sealed"]]] = Field(
        default_factory=dict
    )
    purpose: Literal["survey", "clearance"] = "survey"
    conditions: ConditionsTable = ConditionsTable()


class HeightBandTable(_Table):
    """``[[height_bands]]``."""

    name: str = Field(min_length=1)
    from_m: float = Field(ge=0, allow_inf_nan=False)
    to_m: float = Field(ge=0, allow_inf_nan=False)
    breathing: bool = True


class MapTable(_Table):
    """``[map]``."""

    method: Literal["kriging", "idw"] = "kriging"
    scale: Literal["log", "linear"] = "log"
    cell_m: float | None = Field(default=None, ge=FINEST_CELL_M, allow_inf_nan=False)
    height_band: str | None = None
    remediate_at: float = Field(default=0.5, gt=0, lt=1)
    clear_at: float = Field(default=0.05, gt=0, lt=1)
    walls: bool | None = None
    guard_m: float = Field(default=1.5, ge=0, allow_inf_nan=False)
    doubt_share: float = Field(default=0.05, gt=0, lt=1)
    range_m: float | None = Field(default=None, gt=0, allow_inf_nan=False)
    nugget: float | None = Field(default=None, ge=0, allow_inf_nan=False)
    sill: float | None = Field(default=None, gt=0, allow_inf_nan=False)
    tape_width_m: float = Field(default=0.6, gt=0, le=WIDEST_TAPE_M, allow_inf_nan=False)
    tape_area_m2: float = Field(default=1.0, ge=0, le=LARGEST_TAPE_M2, allow_inf_nan=False)
    zones: Literal["taped", "whole rooms"] = "taped"

    @field_validator(
        "cell_m", "remediate_at", "clear_at", "guard_m", "doubt_share", "range_m", "nugget",
        "sill", "tape_width_m", "tape_area_m2", mode="before",
    )  # fmt: skip
    @classmethod
    def _no_yes_or_no(cls, value: object) -> object:
        """Refuse ``true`` in place of a number: it would be read as 1."""
        if isinstance(value, bool):
            raise ValueError(f"a number, not {str(value).lower()}")
        return value

    @field_validator("clear_at")
    @classmethod
    def _clear_at(cls, value: float) -> float:
        if value > MOST_CLEAR_AT:
            raise ValueError(
                f"at most {MOST_CLEAR_AT:g}: ground with a greater chance of being above the level "
                "is never clear"
            )
        return value

    @field_validator("remediate_at")
    @classmethod
    def _remediate_at(cls, value: float) -> float:
        if value > MOST_REMEDIATE_AT:
            raise ValueError(
                f"at most {MOST_REMEDIATE_AT:g}: ground with a greater chance of being above the "
                "level needs no other reading to be remediated"
            )
        return value

    @field_validator("guard_m")
    @classmethod
    def _guard_m(cls, value: float) -> float:
        if value < LEAST_GUARD_M:
            raise ValueError(
                f"at least {LEAST_GUARD_M:g}: an estimate clears no ground nearer to a reading in "
                "doubt"
            )
        return value


class ReadingsTable(_Table):
    """``[readings]``: what holds for every reading that does not say otherwise."""

    detection_limit: str | None = None
    height_m: float | None = Field(default=None, ge=0, allow_inf_nan=False)
    subtract: Literal["nothing", "background", "field blank"] = "nothing"


class TrustTable(_Table):
    """``[clearance]``: the conditions that a clearance round has to meet."""

    guidance: str | None = None
    occupied_temperature_c: float | None = Field(default=None, ge=-38, le=60)


class _FrameTable(_Table):
    """How a building's own metres lie on the map."""

    origin_x_m: float = Field(default=0.0, allow_inf_nan=False)
    origin_y_m: float = Field(default=0.0, allow_inf_nan=False)
    angle_deg: float = Field(default=0.0, ge=-360, le=360)
    scale: float = Field(default=1.0, ge=LEAST_SCALE, le=MOST_SCALE)
    scale_y: float | None = Field(default=None, ge=LEAST_SCALE, le=MOST_SCALE)
    skew_deg: float = Field(default=0.0, ge=-MOST_SKEW_DEG, le=MOST_SKEW_DEG)
    fitted: str = Field(default="", max_length=200)


class MapFrameTable(_FrameTable):
    """``[map_frame]``: the map, and how floors lie on it that name no building."""

    crs: str


class BuildingTable(_FrameTable):
    """``[[buildings]]``: one of several buildings, on the site's one map."""

    name: str = Field(min_length=1, max_length=60)


class TitleBlockTable(_Table):
    """``[title_block]``."""

    client: str = ""
    address: str = ""
    project: str = ""
    prepared_by: str = ""
    reviewed_by: str = ""
    instrument: str = ""
    revision: str = ""


class SiteTable(_Table):
    """The whole of site.toml."""

    schema_version: Literal[1] = 1
    name: str = Field(min_length=1)
    analyte: str = "elemental mercury vapour"
    medium: Medium = "air"
    use: Use | None = None
    invented: bool = False
    level: LevelTable | None = None
    title_block: TitleBlockTable = TitleBlockTable()
    floors: tuple[FloorTable, ...] = ()
    rounds: tuple[RoundTable, ...] = ()
    height_bands: tuple[HeightBandTable, ...] = ()
    map: MapTable = MapTable()
    readings: ReadingsTable = ReadingsTable()
    clearance: TrustTable = TrustTable()
    sampling_plan: str | None = None
    map_frame: MapFrameTable | None = None
    buildings: tuple[BuildingTable, ...] = ()
    nested_levels: tuple[NestedLevelTable, ...] = ()


_TABLES: dict[str, type[_Table]] = {
    "": SiteTable,
    "level": LevelTable,
    "nested_levels": NestedLevelTable,
    "floors": FloorTable,
    "floors.grids": GridTable,
    "floors.picture": PictureTable,
    "rounds": RoundTable,
    "height_bands": HeightBandTable,
    "map": MapTable,
    "readings": ReadingsTable,
    "clearance": TrustTable,
    "map_frame": MapFrameTable,
    "buildings": BuildingTable,
    "title_block": TitleBlockTable,
}


def parse_site_table(text: str, *, where: str) -> SiteTable:
    """Read site.toml.

    Raises
    ------
    SiteError
        On a syntax error (with its line) or on the first keys that do not fit, each named.
    """
    try:
        raw = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise SiteError(f"TOML syntax: {error}", where=where, todo="mend that line") from None
    except RecursionError:
        raise SiteError("TOML syntax: nested too deeply", where=where) from None
    except ValueError as error:  # a number of more digits than Python reads
        raise SiteError(f"TOML syntax: {error}", where=where) from None
    for path, value in _texts(raw):
        if printable(value) != value:
            raise SiteError(
                f"key {path!r} holds a control character", where=where, todo="write it without"
            )
    try:
        return SiteTable.model_validate(raw)
    except ValidationError as error:
        complaints = [_complaint(dict(one), text) for one in error.errors()[:3]]
        raise SiteError("; ".join(complaints), where=where) from None


def _texts(value: Any, path: str = "") -> Iterator[tuple[str, str]]:
    """Go through every text of a table, keys too, with the path of its key."""
    if isinstance(value, str):
        yield path, value
    elif isinstance(value, dict):
        for key, inner in value.items():
            yield path or "key", key
            yield from _texts(inner, f"{path}.{key}" if path else key)
    elif isinstance(value, list):
        for inner in value:
            yield from _texts(inner, path)


def _complaint(error: dict[str, Any], text: str) -> str:
    location: tuple[str | int, ...] = error["loc"]
    *path, key = location
    table = str(path[0]) if path else ""
    place = ".".join(
        f"{part}[{location[i + 1] + 1}]"  # type: ignore[operator]
        if i + 1 < len(location) and isinstance(location[i + 1], int)
        else str(part)
        for i, part in enumerate(location)
        if isinstance(part, str)
    )
    missing = error["type"] == "missing"
    line = None if missing else _line_of(text, location)
    place = f"key {place!r}" + (f" (line {line})" if line else "")
    if error["type"] == "extra_forbidden":
        whole = ".".join(part for part in path if isinstance(part, str))
        known = sorted((_TABLES.get(whole) or _TABLES.get(table, SiteTable)).model_fields)
        near = difflib.get_close_matches(str(key), known, n=1, cutoff=0.5)
        hint = f"did you mean {near[0]!r}?" if near else f"known keys: {', '.join(known)}"
        return f"{place} is not known; {hint}"
    if missing:
        return f"{place} is missing"
    return f"{place}: {wrong_value(error)}"


def _line_of(text: str, location: Sequence[str | int]) -> int | None:
    """Find the line of a key; None where no line starts with it (an inline table)."""
    words = [part for part in location if isinstance(part, str)]
    counts = [part for part in location if isinstance(part, int)]
    key, table = words[-1], words[0] if len(words) > 1 else ""
    which = counts[0] + 1 if table and counts else 1
    current, met = "", Counter([""])
    for number, line in enumerate(text.splitlines(), start=1):
        bare = line.split("#", 1)[0].strip()
        if bare.startswith("[") and bare.endswith("]"):
            current = bare.strip("[] \"'")
            met[current] += 1
            if not table and current == key:
                return number
        elif current == table and met[current] == which:
            head, equals, _ = bare.partition("=")
            if equals and head.strip().strip("\"'") == key:
                return number
    return None
