"""Records of ours as JSON and back: what one process made, another reads; no code travels.

Only dataclasses and named tuples of hgmap, geometries, arrays of numbers and plain values are
written. What was one object is one object again. A record that is read back compares and prints as
the first one did.
"""

from __future__ import annotations

import base64
import dataclasses
import importlib
import json
import zlib
from collections.abc import Callable
from datetime import date, datetime, time
from pathlib import PurePath
from typing import Any, Final

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from hgmap.errors import HgmapError

_PLAIN: Final = (str, int, float, bool, type(None))
_TIMES: Final[dict[str, Callable[[str], Any]]] = {
    "datetime": datetime.fromisoformat,
    "date": date.fromisoformat,
    "time": time.fromisoformat,
}


def to_plain(value: Any) -> str:
    """Write a value as JSON.

    Raises
    ------
    TypeError
        If something in it is none of the kinds that can be read back.
    """
    writer = _Writer()
    root = writer.write(value)
    return json.dumps({"records": writer.records, "value": root}, ensure_ascii=False)


def from_plain(text: str) -> Any:
    """Read what :func:`to_plain` wrote.

    Raises
    ------
    HgmapError
        If it is damaged, or not of this program.
    """
    try:
        found = json.loads(text)
        records: list[Any] = []
        for one in found["records"]:
            records.append(_read_record(one, records))
        return _read(found["value"], records)
    except (ValueError, TypeError, KeyError, IndexError, AttributeError, ImportError, zlib.error,
            shapely.errors.ShapelyError) as error:  # fmt: skip
        raise HgmapError(
            f"what was kept cannot be read ({type(error).__name__})",
            todo="run again without --resume",
        ) from None


class _Writer:
    """Writes each record once, however often it is met."""

    def __init__(self) -> None:
        self.records: list[Any] = []
        self._known: dict[int, int] = {}
        self._held: list[Any] = []  # an id is one object's only as long as that lives

    def write(self, value: Any) -> Any:
        if type(value) in _PLAIN:
            return value
        if isinstance(value, np.generic):
            return {"number": [value.dtype.str, value.item()]}
        if isinstance(value, PurePath):
            return {"path": str(value)}
        if type(value).__name__ in _TIMES:
            return {type(value).__name__: value.isoformat()}
        for kind, name in ((tuple, "tuple"), (list, "list"), (frozenset, "frozenset")):
            if type(value) is kind:
                # a set has no order of its own, and the same input gives the same bytes
                items = sorted(value, key=repr) if kind is frozenset else value
                return {name: [self.write(one) for one in items]}
        if type(value) is dict:
            return {"dict": [[self.write(key), self.write(one)] for key, one in value.items()]}
        return {"record": self._record(value)}

    def _record(self, value: Any) -> int:
        if id(value) not in self._known:
            written = self._written(value)
            self._held.append(value)
            self._known[id(value)] = len(self.records)
            self.records.append(written)
        return self._known[id(value)]

    def _written(self, value: Any) -> Any:
        kind = type(value)
        if isinstance(value, BaseGeometry):
            return {"shape": shapely.to_wkb(value, hex=True)}
        if isinstance(value, np.ndarray) and value.dtype.kind in "biuf":
            data = zlib.compress(np.ascontiguousarray(value).tobytes(), 1)
            return {"array": [value.dtype.str, list(value.shape), base64.b64encode(data).decode()]}
        if dataclasses.is_dataclass(value) and kind.__module__.startswith("hgmap."):
            fields = {
                one.name: self.write(getattr(value, one.name)) for one in dataclasses.fields(value)
            }
            return {"kind": f"{kind.__module__}:{kind.__qualname__}", "fields": fields}
        if _is_named_tuple(kind) and kind.__module__.startswith("hgmap."):
            fields = {name: self.write(getattr(value, name)) for name in kind._fields}
            return {"kind": f"{kind.__module__}:{kind.__qualname__}", "fields": fields}
        raise TypeError(f"{kind.__module__}.{kind.__qualname__} cannot be kept")


def _is_named_tuple(kind: type) -> bool:
    return issubclass(kind, tuple) and hasattr(kind, "_fields")


def _read(value: Any, records: list[Any]) -> Any:
    if not isinstance(value, dict):
        return value
    ((kind, inner),) = value.items()
    if kind == "record":
        return records[inner]
    if kind == "number":
        return np.dtype(inner[0]).type(inner[1])
    if kind == "path":
        from pathlib import Path

        return Path(inner)
    if kind in _TIMES:
        return _TIMES[kind](inner)
    if kind == "dict":
        return {_read(key, records): _read(one, records) for key, one in inner}
    return {"tuple": tuple, "list": list, "frozenset": frozenset}[kind](
        [_read(one, records) for one in inner]
    )


def _read_record(value: Any, records: list[Any]) -> Any:
    if "shape" in value:
        return shapely.from_wkb(value["shape"])
    if "array" in value:
        dtype, shape, data = value["array"]
        raw = zlib.decompress(base64.b64decode(data, validate=True))
        return np.frombuffer(raw, dtype=np.dtype(dtype)).reshape(shape).copy()
    module, _, name = str(value["kind"]).partition(":")
    if not module.startswith("hgmap."):
        raise ValueError("a record of another program")
    kind = getattr(importlib.import_module(module), name)
    if not (isinstance(kind, type) and (dataclasses.is_dataclass(kind) or _is_named_tuple(kind))):
        raise ValueError("not a record")
    return kind(**{key: _read(one, records) for key, one in value["fields"].items()})
