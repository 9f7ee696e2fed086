"""What a key of a settings file wants, in plain words, where its value does not fit."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

_WANTED: Final = {
    "string_type": "a text in quotes",
    "string_too_short": "{min_length} or more letters",
    "string_too_long": "at most {max_length} letters",
    "int_type": "a whole number",
    "int_parsing": "a whole number",
    "int_from_float": "a whole number",
    "float_type": "a number",
    "float_parsing": "a number",
    "finite_number": "a number",
    "bool_type": "true or false",
    "bool_parsing": "true or false",
    "greater_than_equal": "{ge:g} or more",
    "greater_than": "more than {gt:g}",
    "less_than_equal": "at most {le:g}",
    "less_than": "less than {lt:g}",
    "tuple_type": "a list in square brackets",
    "list_type": "a list in square brackets",
    "too_long": "at most {max_length} of them",
    "too_short": "{min_length} or more of them",
    "dict_type": "a table",
    "model_type": "a table",
    "literal_error": "{expected}",
}
"""By pydantic's name of an error; in braces what pydantic says of it."""

_MOST_FOUND: Final = 40


def wrong_value(error: Mapping[str, Any]) -> str:
    """Say what was wanted of a value and what was found, of one error as pydantic lists them.

    Examples
    --------
    >>> wrong_value({"type": "tuple_type", "msg": "a valid tuple", "input": "one text"})
    "a list in square brackets, found 'one text'"
    >>> wrong_value({"type": "value_error", "msg": "Value error, a colour as #rrggbb", "input": 3})
    'a colour as #rrggbb, found 3'
    """
    wanted = _WANTED.get(error["type"])
    if wanted is None:
        wanted = str(error["msg"]).removeprefix("Value error, ")
    else:
        wanted = wanted.format(**error.get("ctx", {}))
    found = repr(error.get("input"))
    if len(found) > _MOST_FOUND:
        found = found[: _MOST_FOUND - 3] + "..."
    return f"{wanted}, found {found}"
