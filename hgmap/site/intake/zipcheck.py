"""What a workbook unpacks to, found out before anything of it is read."""

from __future__ import annotations

import io
import zipfile
import zlib
from typing import Final

from hgmap.errors import ReadingsError

MOST_UNPACKED: Final = 2**30
"""Most bytes that a workbook may unpack to (1 GiB: a million rows of a dozen columns fit)."""

MOST_BESIDE_SHEETS: Final = 256 * 2**20
"""Most bytes of the parts that are held in memory whole: texts, styles, names."""

MOST_PARTS: Final = 5000
_STEP: Final = 2**18


def check_zip(
    data: bytes, *, where: str, most: int = MOST_UNPACKED, most_beside: int = MOST_BESIDE_SHEETS
) -> None:
    """Refuse a workbook that is cut short, or that unpacks to more than it should.

    The directory of the archive is believed only as far as it forbids: every part is unpacked,
    piece by piece into nothing, and counted.

    Raises
    ------
    ReadingsError
        Saying which.
    """
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            parts = archive.infolist()
    except (zipfile.BadZipFile, zipfile.LargeZipFile, OSError, ValueError, NotImplementedError):
        raise ReadingsError(
            "is cut short or damaged", where=where, todo="save the workbook again"
        ) from None
    if len(parts) > MOST_PARTS or sum(part.file_size for part in parts) > most:
        raise _too_large(where, most)
    names = {part.filename for part in parts}
    if "[Content_Types].xml" not in names or not any(name.startswith("xl/") for name in names):
        raise ReadingsError("is no XLSX workbook", where=where, todo="save it as XLSX or CSV")
    total = beside = 0
    for part in parts:
        if part.flag_bits & 1:
            raise ReadingsError(
                "is locked with a password", where=where, todo="save it without a password"
            )
        size, head = _unpacked_size(data, part, where=where, most=most - total)
        if size is None or size > part.file_size:
            raise _too_large(where, most)
        total += size
        beside += 0 if part.filename.startswith("xl/worksheets/") else size
        if total > most:
            raise _too_large(where, most)
        if beside > most_beside:
            raise _too_large(where, most_beside, " beside its sheets")
        if b"<!DOCTYPE" in head:
            raise ReadingsError(
                "holds a definition that no spreadsheet writes", where=where, todo="save it again"
            )


def _too_large(where: str, most: int, what: str = "") -> ReadingsError:
    return ReadingsError(
        f"unpacks to more than {most / 2**20:.0f} MiB{what}",
        where=where,
        todo="save the sheet with the readings alone, or as CSV",
    )


def _unpacked_size(
    data: bytes, part: zipfile.ZipInfo, *, where: str, most: int
) -> tuple[int | None, bytes]:
    """Return the true size of a part, None where it passes ``most``; and its first bytes."""
    # local header: 30 bytes, then a name and an extra field of lengths at 26 and 28
    offset = part.header_offset
    local = data[offset : offset + 30]
    if len(local) < 30 or not local.startswith(b"PK\x03\x04"):
        raise ReadingsError("is cut short or damaged", where=where, todo="save the workbook again")
    start = offset + 30 + int.from_bytes(local[26:28], "little")
    start += int.from_bytes(local[28:30], "little")
    end = start + part.compress_size
    if part.compress_type == zipfile.ZIP_STORED:
        return (part.compress_size if part.compress_size <= most else None), data[start:][:4096]
    if part.compress_type != zipfile.ZIP_DEFLATED:
        raise ReadingsError("is packed in an unusual way", where=where, todo="save it again")
    inflate = zlib.decompressobj(-zlib.MAX_WBITS)
    size, head = 0, b""
    pending = b""
    try:
        while (pending or start < end) and not inflate.eof:
            if not pending:
                pending = data[start : min(start + _STEP, end)]
                start += len(pending)
                if not pending:
                    break
            piece = inflate.decompress(pending, 4 * _STEP)
            pending = inflate.unconsumed_tail
            head = head or piece[:4096]
            size += len(piece)
            if size > most or size > part.file_size:
                return None, head
    except zlib.error:
        raise ReadingsError(
            "is cut short or damaged", where=where, todo="save the workbook again"
        ) from None
    return size, head
