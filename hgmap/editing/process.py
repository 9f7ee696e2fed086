"""Whether the process that left something behind still lives."""

from __future__ import annotations

import os
import sys
from pathlib import Path
from typing import Any, NamedTuple


class Owner(NamedTuple):
    """A process: its number, and when it started, for numbers are used again.

    ``start`` is empty where the system does not tell (all but Linux): there a number that another
    process got since looks as if the first one still lived.
    """

    pid: int
    start: str

    @classmethod
    def this(cls) -> Owner:
        """Return this process."""
        return cls(os.getpid(), start_of(os.getpid()))

    @property
    def alive(self) -> bool:
        """Whether it still runs on this machine; in doubt, it does."""
        if self.pid <= 0 or not _runs(self.pid):
            return False
        return not self.start or start_of(self.pid) in ("", self.start)


def start_of(pid: int) -> str:
    """Return when a process started: the machine's start and the ticks since; empty: unknown."""
    try:
        about = Path(f"/proc/{pid}/stat").read_text("utf-8", errors="replace")
        boot = Path("/proc/sys/kernel/random/boot_id").read_text("ascii").strip()
    except OSError:
        return ""
    # the name of the program stands in brackets and may hold any character
    fields = about.rpartition(")")[2].split()
    if len(fields) < 20 or fields[0] in ("Z", "X"):  # dead, and not yet buried
        return "dead" if fields and fields[0] in ("Z", "X") else ""
    return f"{boot} {fields[19]}"


def _runs(pid: int) -> bool:
    if sys.platform == "win32":
        return _runs_on_windows(pid)
    try:
        os.kill(pid, 0)
    except (ProcessLookupError, OverflowError):
        return False
    except OSError:  # it is somebody else's
        return True
    return True


def _runs_on_windows(pid: int) -> bool:
    # there os.kill would end the process that it asks about; from the system's documentation,
    # not run by us
    import ctypes

    query, still_active = 0x1000, 259
    kernel: Any = ctypes.WinDLL("kernel32")  # type: ignore[attr-defined, unused-ignore]
    handle = kernel.OpenProcess(query, False, pid)
    if not handle:
        return False
    code = ctypes.c_ulong()
    known = kernel.GetExitCodeProcess(handle, ctypes.byref(code))
    kernel.CloseHandle(handle)
    return not known or code.value == still_active
