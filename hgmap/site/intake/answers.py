"""What a person answers about a table, and the file that keeps it for the next one."""

from __future__ import annotations

import datetime as dt
import difflib
import tomllib
from collections.abc import Sequence
from pathlib import Path
from typing import Literal

import tomlkit
from pydantic import BaseModel, ConfigDict, Field, ValidationError

from hgmap.errors import HgmapError, ReadingsError
from hgmap.site.files import read_bytes, write_text
from hgmap.site.intake.synonyms import concentration_unit
from hgmap.site.units import parse_unit


class Answers(BaseModel):
    """Everything that can be said about a table; None where nothing was.

    ``columns`` maps ours to theirs; an empty text: none of theirs.
    """

    model_config = ConfigDict(extra="forbid", frozen=True)

    columns: dict[str, str] = Field(default_factory=dict)
    unit: str | None = None
    dates: Literal["day-first", "month-first"] | None = None
    decimal: Literal["comma", "point"] | None = None
    sheet: str | None = None
    date: dt.date | None = None
    floor: str | None = None


def read_columns(texts: Sequence[str]) -> dict[str, str]:
    """Read ``ours=theirs``, as many as were given.

    Raises
    ------
    ReadingsError
        If one has no equals sign, or two say the same column of ours.
    """
    columns: dict[str, str] = {}
    for text in texts:
        ours, equals, theirs = text.partition("=")
        key = ours.strip().casefold()
        if not equals or not key:
            raise ReadingsError(
                f"{text!r} is not a column", where="--column", todo='write ours=theirs, as '
                'value="Hg (ng/m3)"',
            )  # fmt: skip
        if key in columns:
            raise ReadingsError(f"{key!r} was said twice", where="--column", todo="say it once")
        columns[key] = theirs.strip()
    return columns


def checked_unit(text: str) -> str:
    """Return the unit of ``--unit`` as we print it.

    Raises
    ------
    ReadingsError
        If it is none.
    """
    try:
        return parse_unit(text).symbol
    except HgmapError as error:
        raise ReadingsError(error.message, where="--unit", todo=error.todo) from None


def load_answers(path: Path) -> Answers:
    """Read a mapping file.

    Raises
    ------
    ReadingsError
        On a syntax error or a key that is not known.
    """
    where = str(path)
    data = read_bytes(path, where=where, most_bytes=2**20)
    try:
        raw = tomllib.loads(data.decode("utf-8-sig"))
    except (ValueError, RecursionError) as error:  # TOML syntax, or no UTF-8
        raise ReadingsError(f"TOML syntax: {error}", where=where, todo="mend that line") from None
    try:
        answers = Answers.model_validate(raw)
    except ValidationError as error:
        first = error.errors()[0]
        key = ".".join(map(str, first["loc"]))
        near = difflib.get_close_matches(key, Answers.model_fields, n=1)
        hint = f"did you mean {near[0]!r}?" if near else f"known: {', '.join(Answers.model_fields)}"
        raise ReadingsError(
            f"key {key!r}: {first['msg'].lower()}", where=where, todo=hint
        ) from None
    if answers.unit is not None and not concentration_unit(answers.unit):
        checked_unit(answers.unit)
    return answers


def merged(saved: Answers | None, said: Answers) -> Answers:
    """Return the saved answers with those of the command line over them."""
    if saved is None:
        return said
    new = said.model_dump(exclude_none=True)
    new["columns"] = {**saved.columns, **said.columns}
    return Answers(**{**saved.model_dump(), **new})


def save_answers(path: Path, answers: Answers) -> None:
    """Write a mapping file, in one step."""
    document = tomlkit.document()
    document.add(tomlkit.comment("Mapping of a table of readings: ours = theirs."))
    table = answers.model_dump(exclude_none=True)
    columns = table.pop("columns")
    for key, value in table.items():
        document[key] = value
    document["columns"] = columns
    write_text(path, tomlkit.dumps(document))
