"""Reading and writing files without surprises: inside their folder, whole or not at all."""

from __future__ import annotations

import hashlib
import os
import re
import stat
import tempfile
import unicodedata
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final

from hgmap.errors import HgmapError, SiteError


def inside_folder(
    folder: Path, relative: str, *, where: str, folder_name: str = "the site folder"
) -> Path:
    """Return ``folder / relative``, refusing whatever would leave the folder.

    Raises
    ------
    SiteError
        If the path is absolute, climbs out with ``..``, or leaves through a link.
    """
    root = folder.resolve()
    try:
        path = (root / relative).resolve()
    except (OSError, RuntimeError, ValueError):  # a loop of links; a NUL
        raise SiteError(f"{relative!r} is not a path", where=where, todo="mend it") from None
    if Path(relative).is_absolute() or not path.is_relative_to(root):
        raise SiteError(
            f"{relative!r} lies outside {folder_name}",
            where=where,
            todo="copy the file into the folder and name it relative to that",
        )
    return path


def read_bytes(path: Path, *, where: str, most_bytes: int = 512 * 2**20) -> bytes:
    """Read a whole file, or say in one line why not."""
    try:
        about = path.stat()
        if not stat.S_ISREG(about.st_mode):  # a pipe would be waited for without end
            raise SiteError("is not a file", where=where, todo="name a file")
        if about.st_size > most_bytes:
            raise SiteError(f"the file is larger than {most_bytes / 2**20:.0f} MiB", where=where)
        return path.read_bytes()
    except FileNotFoundError:
        raise SiteError(
            "no such file", where=where, todo="check the name or put the file there"
        ) from None
    except OSError as error:
        raise SiteError(f"cannot be read ({error.strerror})", where=where) from None


@contextmanager
def in_one_line(what: str, *, where: str, todo: str) -> Iterator[None]:
    """Turn what the system says of files into one line; ``what`` could not be done.

    Raises
    ------
    HgmapError
        In place of an OSError.
    """
    try:
        yield
    except OSError as error:
        raise HgmapError(f"{what} ({error.strerror or error})", where=where, todo=todo) from None


def digest(data: bytes) -> str:
    """Return the SHA-256 of a file's bytes, in hexadecimal."""
    return hashlib.sha256(data).hexdigest()


def write_atomically(path: Path, write: Callable[[Path], None]) -> None:
    """Let ``write`` fill a temporary file beside ``path``, then put it in place in one step.

    Raises
    ------
    HgmapError
        If the folder cannot be written; what stood at ``path`` is left as it was.
    """
    temporary: Path | None = None
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(prefix=".tmp-", suffix=path.suffix, dir=path.parent)
        os.close(handle)
        temporary = Path(name)
        write(temporary)
        with temporary.open("rb+") as file:
            os.fsync(file.fileno())
        temporary.chmod(0o644)
        temporary.replace(path)
        temporary = None
    except OSError as error:
        raise HgmapError(
            f"cannot be written ({error.strerror or error})",
            where=str(path),
            todo="check the folder's rights and the space left on the disk",
        ) from None
    finally:
        if temporary is not None:
            temporary.unlink(missing_ok=True)


def write_text(path: Path, text: str) -> None:
    """Write UTF-8 text in one step."""
    write_atomically(path, lambda temporary: _fill(temporary, text.encode()))


def write_bytes(path: Path, data: bytes) -> None:
    """Write bytes in one step."""
    write_atomically(path, lambda temporary: _fill(temporary, data))


def _fill(path: Path, data: bytes) -> None:
    path.write_bytes(data)


_DEVICE: Final = re.compile(r"con|prn|aux|nul|(com|lpt)[0-9\u00b9\u00b2\u00b3]", re.IGNORECASE)
"""Names that Windows keeps for devices, whatever ending follows.

From memory of its published rules for the names of files.
"""


def slug(name: str) -> str:
    """Turn a floor's or round's name into a file name that every system takes.

    Examples
    --------
    >>> slug("Ground floor / east")
    'Ground-floor-east'
    >>> slug("Aux")
    'Aux_'
    """
    text = unicodedata.normalize("NFC", name).strip()
    # a basement called -1 is not the floor called 1
    text = re.sub(r"^[-\u2212](?=\d)", "minus-", text)
    # no dot: a floor called "zones.csv" must not take the place of that file
    text = re.sub(r"[^\w-]+", "-", text).strip("-")
    text = text.encode()[:200].decode(errors="ignore").strip("-") or "unnamed"
    return f"{text}_" if _DEVICE.fullmatch(text) else text
