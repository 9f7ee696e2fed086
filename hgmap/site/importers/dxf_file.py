"""From the bytes of a DXF file to a document, mended where that can be told."""

from __future__ import annotations

import io
import logging
import re
import struct
from collections import Counter
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from itertools import compress
from typing import TYPE_CHECKING, Final

from hgmap.errors import PlanError
from hgmap.site.importers.dxf_plain import PlainShapes, plain_shapes
from hgmap.site.importers.names import one_line_text

if TYPE_CHECKING:
    from ezdxf.document import Drawing as Document
    from ezdxf.lldxf.types import DXFTag

MOST_BYTES: Final = 400 * 2**20
BINARY: Final = b"AutoCAD Binary DXF\r\n\x1a\x00"
"""How a binary DXF begins (DXF reference, "Binary DXF Files")."""
_BROKEN: Final = (
    ValueError, LookupError, TypeError, AttributeError, ArithmeticError, AssertionError,
    RecursionError, struct.error,
)  # fmt: skip
"""What ezdxf raises for broken files beside its own errors."""
_EXPORT: Final = "export the floor as DXF again (a version from R12 to 2018)"


@contextmanager
def _without_its_log() -> Iterator[None]:
    """Keep ezdxf's log of a broken file off the person's terminal: our notes say what matters."""
    log = logging.getLogger("ezdxf")
    before, log.disabled = log.disabled, True
    try:
        yield
    finally:
        log.disabled = before


@_without_its_log()
def open_dxf(data: bytes, *, file: str) -> tuple[Document, PlainShapes, list[str]]:
    """Open a text or binary DXF; where its structure is broken, mend it and say so.

    Returns
    -------
    document : ezdxf.document.Drawing
        Without what is plain.
    plain : PlainShapes
        Plain lines and arcs of its model space.
    doubts : list of str
        What was mended, by kind: walls may be missing.

    Raises
    ------
    PlanError
        If it is no DXF, ends early, is too large, or cannot be mended.
    """
    from ezdxf.document import Drawing
    from ezdxf.lldxf.const import DXFError

    _refuse_others(data, file=file)
    try:
        if data.startswith(BINARY):
            from ezdxf.lldxf.tagger import binary_tags_loader

            return Drawing.load(binary_tags_loader(data)), PlainShapes(), []
        return *_loaded(data), []
    except (DXFError, *_BROKEN) as error:
        if data.startswith(BINARY):
            raise PlanError(
                f"is a damaged binary DXF ({_short(error)})", where=file, todo=_EXPORT
            ) from None
        document, doubts = _mended(data, file=file)
        return document, PlainShapes(), doubts


def _loaded(data: bytes) -> tuple[Document, PlainShapes]:
    from ezdxf.document import Drawing

    codes, values = _columns(data)
    found = plain_shapes(codes, values)
    if found is None:
        return Drawing.load(_tags(codes, values)), PlainShapes()
    plain, rest = found
    document = Drawing.load(_tags(compress(codes, rest), compress(values, rest)))
    return document, plain.not_on(document.block_records.get("*Paper_Space").dxf.handle)


def _refuse_others(data: bytes, *, file: str) -> None:
    if len(data) > MOST_BYTES:
        raise PlanError(
            f"is larger than {MOST_BYTES // 2**20} MiB",
            where=file,
            todo="export one floor, without what is no wall, door, window, room or room name",
        )
    if not data.strip():
        raise PlanError("is empty", where=file, todo=_EXPORT)
    if re.match(rb"AC[0-9]{4}\x00", data) or re.match(rb"AC10[0-9]{2}[^\r\n]", data):
        raise PlanError("is a DWG, whatever its ending says", where=file, todo="export it as DXF")
    if data.startswith(BINARY):
        if not data.rstrip(b"\x00\r\n\x1a \t").endswith(b"EOF"):
            raise _ends_early(file)
        return
    head = data[:65536].lstrip(b"\xef\xbb\xbf")
    if head[:2] in (b"\xff\xfe", b"\xfe\xff") or not re.match(rb"\s*(999|0)\s*\r?[\r\n]", head):
        raise PlanError("is no DXF", where=file, todo=_EXPORT)
    if not re.search(rb"(^|[\r\n])[ \t]*0[ \t]*[\r\n]+[ \t]*SECTION", data[: 2**20]):
        raise PlanError("is no DXF: it has no section", where=file, todo=_EXPORT)
    if not re.search(rb"[\r\n][ \t]*EOF\s*\x1a?\s*\Z", data[-4096:]):
        raise _ends_early(file)


def _ends_early(file: str) -> PlanError:
    return PlanError(
        "ends before its last line (EOF): what is missing may be walls",
        where=file,
        todo="copy or export it again",
    )


def _columns(data: bytes) -> tuple[list[str], list[str]]:
    """Return the group codes and the values of a text DXF, without the ends of lines."""
    text = data.lstrip(b"\xef\xbb\xbf").decode(_encoding(data), errors="surrogateescape")
    lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    if not lines[-1]:
        lines.pop()
    return lines[::2][: len(lines) // 2], lines[1::2]


def _tags(codes: Iterable[str], values: Iterable[str]) -> Iterator[DXFTag]:
    """Yield the tags of a text DXF: ezdxf's own loader, a fifth faster."""
    from ezdxf.lldxf.types import DXFTag

    for code, text in zip(codes, values, strict=True):
        number = int(code)
        if number != 999:  # a comment
            yield DXFTag(number, text)
        if number == 0 and text == "EOF":
            return


def _encoding(data: bytes) -> str:
    from ezdxf.tools.codepage import toencoding

    version = re.search(rb"\$ACADVER\s+1\s+(AC[0-9]{4})", data[:65536])
    if data.startswith(b"\xef\xbb\xbf") or (version and version[1] >= b"AC1021"):
        return "utf-8"  # as the DXF reference says from version 2007 on
    page = re.search(rb"\$DWGCODEPAGE\s+3\s+(\S+)", data[:65536])
    return str(toencoding(page[1].decode("ascii", "replace"))) if page else "cp1252"


def _mended(data: bytes, *, file: str) -> tuple[Document, list[str]]:
    from ezdxf import recover
    from ezdxf.lldxf.const import DXFError

    try:
        document, audit = recover.read(io.BytesIO(data))
    except (DXFError, *_BROKEN) as error:
        raise PlanError(
            f"is damaged and cannot be mended ({_short(error)})", where=file, todo=_EXPORT
        ) from None
    kinds = Counter(_kind(entry.code) for entry in (*audit.fixes, *audit.errors))
    listed = ", ".join(f"{kind} {n}" for kind, n in sorted(kinds.items()))
    return document, [
        "the file is damaged and was mended as far as it could be"
        + (f" ({listed})" if listed else "")
        + ": look whether all walls are there"
    ]


def _kind(code: int) -> str:
    from ezdxf.audit import AuditError

    try:
        return AuditError(code).name.replace("_", " ").casefold()
    except ValueError:
        return "other"


def _short(error: BaseException) -> str:
    return one_line_text(error) or type(error).__name__
