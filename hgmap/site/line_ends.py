"""Line ends and byte-order mark of a text file that is changed: they stay as they were."""

from __future__ import annotations

from typing import Final

BOM: Final = b"\xef\xbb\xbf"


def plain_ends(text: str) -> str:
    r"""Return a text whose lines all end with CRLF with plain line ends; another as it is.

    Examples
    --------
    >>> plain_ends("a\r\nb\r\n"), plain_ends("a\r\nb\n")
    ('a\nb\n', 'a\r\nb\n')
    """
    return text.replace("\r\n", "\n") if _all_crlf(text) else text


def in_form_of(text: str, before: bytes) -> bytes:
    r"""Write a text of plain line ends as UTF-8 with the line ends and mark of what it replaces.

    Parameters
    ----------
    text : str
        Made of what :func:`plain_ends` gave.
    before : bytes
        The file as it stands, UTF-8; empty where there is none.

    Examples
    --------
    >>> in_form_of("a\nb\n", b"\xef\xbb\xbfa\r\n")
    b'\xef\xbb\xbfa\r\nb\r\n'
    """
    if _all_crlf(before.decode("utf-8-sig", errors="replace")):
        text = text.replace("\n", "\r\n")
    return (BOM if before.startswith(BOM) else b"") + text.encode()


def _all_crlf(text: str) -> bool:
    return "\r\n" in text and "\n" not in text.replace("\r\n", "")
