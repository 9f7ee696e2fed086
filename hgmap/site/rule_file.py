"""Rules as data: a TOML file that comes with hgmap, checked by its model when it is read."""

from __future__ import annotations

import tomllib
from typing import TypeVar

from pydantic import BaseModel, ValidationError

from hgmap.errors import SiteError

Rules = TypeVar("Rules", bound=BaseModel)


def parse_rule_file(text: str, model: type[Rules], *, where: str) -> Rules:
    """Read a file of rules.

    Parameters
    ----------
    text : str
        TOML.
    model : type
        What it has to be, as pydantic knows it.
    where : str
        Name of the file, for messages.

    Raises
    ------
    SiteError
        If the text is not TOML, or does not fit: its first complaint, with the key.
    """
    try:
        return model.model_validate(tomllib.loads(text))
    except tomllib.TOMLDecodeError as error:
        raise SiteError(f"TOML syntax: {error}", where=where, todo="mend that line") from None
    except ValidationError as error:
        first = error.errors()[0]
        place = ".".join(str(part + 1 if isinstance(part, int) else part) for part in first["loc"])
        raise SiteError(f"{place}: {first['msg']}", where=where) from None
