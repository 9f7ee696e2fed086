"""A screen without a monitor, and a hand: Xvfb, a window manager, xdotool.

What a person sees is a picture, so places are found by their colour in it.
"""

from __future__ import annotations

import ctypes
import os
import shutil
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from io import BytesIO
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image
from scipy import ndimage

from tests.desktop.patience import SLOW_S

NEEDED = ("Xvfb", "openbox", "xdotool", "import")
LIBRARIES = (
    "libxcb-cursor.so.0", "libxcb-icccm.so.4", "libxcb-keysyms.so.1", "libxcb-shape.so.0",
    "libxkbcommon-x11.so.0",
)  # fmt: skip
"""What a window of ours wants on a screen, and a screen in memory does without."""


def missing() -> list[str]:
    """Return the programs and libraries that are not on this machine."""
    programs = [name for name in NEEDED if shutil.which(name) is None]
    return [*programs, *(name for name in LIBRARIES if not _loads(name))]


def _loads(library: str) -> bool:
    try:
        ctypes.CDLL(library)
    except OSError:
        return False
    return True


class Screen:
    """One screen; what is typed and clicked goes to the window in front."""

    def __init__(self, display: str, home: Path) -> None:
        self.display, self.home = display, home
        self.environment = {
            **{k: v for k, v in os.environ.items() if not k.startswith(("QT_", "XDG_"))},
            "DISPLAY": display,
            "HOME": str(home),
            "XDG_DATA_HOME": str(home / "data"),
            "XDG_CONFIG_HOME": str(home / "config"),
            "XDG_CACHE_HOME": str(home / "cache"),
            "QT_QPA_PLATFORM": "xcb",
            "LC_ALL": "C.UTF-8",
        }

    def hand(self, *words: object) -> str:
        """Do one thing with xdotool and return what it says."""
        done = subprocess.run(
            ["xdotool", *(str(word) for word in words)], env=self.environment, text=True,
            capture_output=True, check=False, timeout=SLOW_S,
        )  # fmt: skip
        return done.stdout.strip()

    def key(self, *names: str) -> None:
        """Press keys, one after another."""
        for name in names:
            self.hand("key", "--clearmodifiers", name)
            time.sleep(0.08)

    def type(self, text: str) -> None:
        """Type a text."""
        self.hand("type", "--delay", 15, "--", text)
        time.sleep(0.1)

    def move(self, x: float, y: float) -> None:
        """Move the pointer there, as a hand does: not in one leap."""
        self.hand("mousemove", round(x) - 3, round(y) - 2)
        time.sleep(0.03)
        self.hand("mousemove", round(x), round(y))
        time.sleep(0.08)

    def click(self, x: float, y: float, button: int = 1) -> None:
        """Click there."""
        self.move(x, y)
        self.hand("click", button)
        time.sleep(0.15)

    def drag(self, start: tuple[float, float], end: tuple[float, float]) -> None:
        """Press, pull, let go."""
        self.move(*start)
        self.hand("mousedown", 1)
        for share in (0.3, 0.6, 0.9, 1.0):
            x = start[0] + share * (end[0] - start[0])
            y = start[1] + share * (end[1] - start[1])
            self.hand("mousemove", round(x), round(y))
            time.sleep(0.06)
        self.hand("mouseup", 1)
        time.sleep(0.2)

    def windows(self) -> list[str]:
        """Return the titles of the windows that can be seen."""
        numbers = self.hand("search", "--onlyvisible", "--name", ".").split()
        return [self.hand("getwindowname", number) for number in numbers]

    def title_holds(self, text: str) -> bool:
        """Tell whether a window's title holds a text."""
        return any(text in one for one in self.windows())

    def picture(self, keep: Path | None = None) -> NDArray[np.uint8]:
        """Return what is on the screen, rows by columns by RGB."""
        done = subprocess.run(
            ["import", "-window", "root", "png:-"], env=self.environment, capture_output=True,
            check=True, timeout=SLOW_S,
        )  # fmt: skip
        if keep is not None:
            keep.write_bytes(done.stdout)
        return np.asarray(Image.open(BytesIO(done.stdout)).convert("RGB"))

    def spots(
        self, colour: tuple[int, int, int], *, within: int = 40, least_px: int = 12
    ) -> list[tuple[float, float]]:
        """Return the middles (x, y in pixels) of all spots of a colour, row by row."""
        apart = np.abs(self.picture().astype(int) - np.array(colour)).max(axis=2)
        labels, count = ndimage.label(apart <= within)
        found = []
        for number in range(1, count + 1):
            rows, columns = np.nonzero(labels == number)
            if len(rows) >= least_px:
                found.append((float(columns.mean()), float(rows.mean())))
        return sorted(found, key=lambda place: (round(place[1] / 10), place[0]))

    def wait_for(self, what: Callable[[], object], why: str) -> None:
        """Wait until something is so; a picture of the screen is kept where it never is."""
        end = time.monotonic() + SLOW_S
        while time.monotonic() < end:
            if what():
                return
            time.sleep(0.2)
        self.picture(self.home / "stuck.png")
        raise AssertionError(f"{why}; windows: {self.windows()}; see {self.home / 'stuck.png'}")

    @contextmanager
    def program(self, *words: object) -> Iterator[subprocess.Popen[bytes]]:
        """Start hgmap's window; it is killed at the end if it still runs."""
        with (self.home / "stderr.txt").open("ab") as log:
            process = subprocess.Popen(
                [sys.executable, "-m", "hgmap", "desktop", *(str(word) for word in words)],
                env=self.environment, stdout=log, stderr=log,
            )  # fmt: skip
            try:
                yield process
            finally:
                if process.poll() is None:
                    process.kill()
                process.wait(timeout=SLOW_S)


@contextmanager
def screen(home: Path, size: str = "1280x800") -> Iterator[Screen]:
    """Open a screen of a size, with a window manager on it, for as long as it is wanted."""
    home.mkdir(parents=True, exist_ok=True)
    read, write = os.pipe()
    server = subprocess.Popen(
        ["Xvfb", "-displayfd", str(write), "-screen", "0", f"{size}x24", "-nolisten", "tcp"],
        pass_fds=(write,), stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
    )  # fmt: skip
    os.close(write)
    manager = None
    try:
        with os.fdopen(read) as said:
            number = said.readline().strip()
        assert number, "Xvfb did not start"
        one = Screen(f":{number}", home)
        manager = subprocess.Popen(
            ["openbox"], env=one.environment, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
        )
        time.sleep(0.5)
        yield one
    finally:
        for process in (manager, server):
            if process is not None:
                process.terminate()
                process.wait(timeout=SLOW_S)
