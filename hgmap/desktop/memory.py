"""Memory that is given back as soon as nobody needs it."""

from __future__ import annotations

import ctypes
import sys
from typing import Final

M_MMAP_THRESHOLD: Final = -3
"""As of glibc's ``malloc.h`` (mallopt(3))."""

LARGE_BYTES: Final = 131072


def give_back_large_pieces() -> bool:
    """Let every array from 128 KiB on have pages of its own, and tell whether that was done.

    Else glibc raises that bound as it goes, and keeps what was freed between smaller pieces: some
    40 MB of 530 after a dozen maps. Other systems do it, or cannot be told.
    """
    if not sys.platform.startswith("linux"):
        return False
    mallopt = getattr(ctypes.CDLL(None), "mallopt", None)  # musl has none
    return mallopt is not None and mallopt(M_MMAP_THRESHOLD, LARGE_BYTES) == 1
