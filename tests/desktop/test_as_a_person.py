"""A whole survey at the screen, as a person does it: seen, pointed at, typed, saved, read again."""

from __future__ import annotations

import contextlib
import csv
import json
import math
import shutil
import signal
import subprocess
import sys
import time
import tomllib
import zipfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image, ImageDraw
from scipy import ndimage

from tests.desktop.screen import SLOW_S, Screen, missing, screen

needed = [*missing(), *(name for name in ("pdftotext",) if shutil.which(name) is None)]
pytestmark = pytest.mark.skipif(bool(needed), reason=f"not on this machine: {', '.join(needed)}")

PX_PER_M = 75
WEST_PX, TOP_PX, MIDDLE_PX, EAST_PX, FOOT_PX = 50, 50, 500, 950, 650
DOOR_PX = (MIDDLE_PX, 400)
MARKS_PX = ((120, 600), (870, 600))
SPOT_PX = 9
BLINKS_PX = 60
"""A cursor that blinks in a field changes no more of the picture than this."""
SHOWN = 0.6
"""How strongly the image under the plan shows at first."""


def paint_plan(path: Path) -> None:
    """Paint two rooms side by side: red corners, a green door, blue marks 10 m apart."""
    image = Image.new("RGB", (1000, 700), "white")
    pen = ImageDraw.Draw(image)
    for box in ((WEST_PX, TOP_PX, MIDDLE_PX, FOOT_PX), (MIDDLE_PX, TOP_PX, EAST_PX, FOOT_PX)):
        pen.rectangle(box, outline="#999999", width=3)

    def spot(x: int, y: int, colour: str) -> None:
        pen.ellipse((x - SPOT_PX, y - SPOT_PX, x + SPOT_PX, y + SPOT_PX), fill=colour)

    for x in (WEST_PX, MIDDLE_PX, EAST_PX):
        for y in (TOP_PX, FOOT_PX):
            spot(x, y, "#ff0000")
    spot(*DOOR_PX, "#00ff00")
    for x, y in MARKS_PX:
        spot(x, y, "#0000ff")
    image.save(path)


def faint(red: int, green: int, blue: int) -> tuple[int, int, int]:
    """Return a colour of the image as it shows under the plan, on white paper."""
    r, g, b = (round(255 + SHOWN * (one - 255)) for one in (red, green, blue))
    return r, g, b


REMEDIATE = (0xC7, 0x4A, 0x00)
RED, GREEN, BLUE = faint(255, 0, 0), faint(0, 255, 0), faint(0, 0, 255)


SPREADSHEET = """
import sys
from PySide6.QtWidgets import QApplication, QPlainTextEdit
app = QApplication([])
sheet = QPlainTextEdit(sys.argv[1])
sheet.setWindowTitle("cells of a spreadsheet")
sheet.show()
app.exec()
"""
"""Another program, of which cells are copied; it has to run until they are pasted."""


class Person:
    """Sits at the screen; what is seen on the way is kept as pictures."""

    def __init__(self, one: Screen, album: Path) -> None:
        self.one, self.album, self.shots = one, album, 0
        album.mkdir(exist_ok=True)

    def look(self, what: str) -> None:
        """Keep a picture."""
        self.shots += 1
        self.one.picture(self.album / f"{self.shots:02d}-{what}.png")

    def to(self, title: str) -> None:
        """Bring a window to the front."""

        def there() -> bool:
            found = self.one.hand("search", "--onlyvisible", "--name", title).split()
            if not found:
                return False
            self.one.hand("windowactivate", "--sync", found[0])
            return title in self.one.hand("getactivewindow", "getwindowname")

        self.one.wait_for(there, f"no window {title} comes to the front")

    def sees(self, title: str) -> None:
        """Wait for a window's title."""
        self.one.wait_for(lambda: self.one.title_holds(title), f"no window is called {title}")

    def finds(self, colour: tuple[int, int, int], count: int, within: int = 30) -> Places:
        """Wait until so many spots of a colour are there and stay; return their middles."""
        found: list[Places] = [[]]

        def still() -> bool:
            before = found[0]
            found[0] = self.one.spots(colour, within=within, least_px=30)
            return len(found[0]) == count and before == found[0]

        self.one.wait_for(still, f"not {count} spots of {colour} on the screen")
        return found[0]

    def still(self, least_s: float = 0.6) -> None:
        """Wait until the picture does not change any more."""
        last: list[Any] = [self.one.picture(), time.monotonic()]

        def calm() -> bool:
            now = self.one.picture()
            if (now != last[0]).any(axis=2).sum() > BLINKS_PX:
                last[:] = now, time.monotonic()
            return time.monotonic() - last[1] >= least_s

        self.one.wait_for(calm, "the screen does not come to rest")

    @contextlib.contextmanager
    def copied(self, text: str, back_to: str) -> Iterator[None]:
        """Copy cells in another program, and come back."""
        process = subprocess.Popen([sys.executable, "-c", SPREADSHEET, text],
                                   env=self.one.environment)  # fmt: skip
        try:
            self.to("cells of a spreadsheet")
            self.one.key("ctrl+a", "ctrl+c")
            self.to(back_to)
            yield
        finally:
            process.kill()
            process.wait(timeout=SLOW_S)


Places = list[tuple[float, float]]


@pytest.fixture
def person(tmp_path: Path) -> Iterator[Person]:
    """Sit down at a screen."""
    with screen(tmp_path / "home") as one:
        yield Person(one, tmp_path / "seen")


NAME = "Mill house"


def begin(person: Person, image: Path) -> Path:
    """Begin a survey from an image; return its folder."""
    one = person.one
    person.sees("hgmap")
    person.to("hgmap")
    one.key("ctrl+n")
    person.still()
    one.type(NAME)
    one.key("Tab", "d")  # used as: dwelling
    one.key("Tab", "Tab", "Tab", "Tab", "Tab")  # folder, Choose, floor, way
    one.type(str(image))
    person.still()
    person.look("new-survey")
    one.key("ctrl+Return")
    person.sees(f"{NAME} - hgmap")
    person.finds(RED, 6)
    found = sorted(one.home.rglob("site.toml"))
    assert len(found) == 1, found
    return found[0].parent


def scale(person: Person) -> None:
    """Click on the two blue marks, which lie 10 m apart."""
    one = person.one
    person.look("begun")
    one.key("ctrl+alt+i")
    for place in person.finds(BLUE, 2):
        one.click(*place)
    person.still()
    person.look("scale-asked")
    one.type("10")
    one.key("Return")
    person.sees(f"{NAME}* - hgmap")
    person.still()
    person.look("scaled")


def trace(person: Person) -> None:
    """Trace both rooms and put a door between them."""
    one = person.one
    one.key("ctrl+0")
    person.still()
    red = person.finds(RED, 6)
    (door,) = person.finds(GREEN, 1)
    for name, corners in (("West room", (0, 1, 4, 3)), ("East room", (1, 2, 5, 4))):
        one.key("ctrl+alt+r")
        for corner in corners:
            one.click(*red[corner])
        person.look("corners")
        one.click(*red[corners[0]])
        person.still()
        one.type(name)
        one.key("Return")
        person.still()
        person.look("traced")
    one.key("ctrl+shift+d")
    one.click(*door)
    person.still()
    person.look("door")


def saved(person: Person) -> None:
    """Save, and wait until it is."""
    person.one.key("ctrl+s")
    person.sees(f"{NAME} - hgmap")


def building(picture: NDArray[np.uint8]) -> tuple[float, float, float]:
    """Return where its south-west corner is on the screen, and pixels per metre.

    The red spots reach as far as their radius over the corners, whatever is drawn over them.
    """
    apart = np.abs(picture.astype(int) - np.array(RED)).max(axis=2)
    rows, columns = np.nonzero(ndimage.binary_opening(apart <= 30, np.ones((3, 3))))
    wide = columns.max() - columns.min() + 1
    px_per_m = wide / ((EAST_PX - WEST_PX + 2 * SPOT_PX + 1) / PX_PER_M)
    reach = SPOT_PX / PX_PER_M * px_per_m
    return float(columns.min() + reach), float(rows.max() - reach), px_per_m


def measured() -> dict[str, tuple[float, float, float]]:
    """Return readings: x and y (m) from the south-west corner of the building, and ug/m3."""
    found = {}
    for k in range(12):
        room, at = divmod(k, 6)
        x, y = 6.0 * room + 1.0 + 2.0 * (at % 3), 2.0 + 4.0 * (at // 3)
        found[f"R{k + 1}"] = (x, y, (2.0 if room else 0.04) + 0.01 * at)
    return found


def corners_of(folder: Path) -> list[tuple[str, list[list[float]]]]:
    """Return name and outline of each room on the disk."""
    plan = json.loads((folder / "plans" / "ground.geojson").read_text("utf-8"))
    return [
        (one["properties"].get("name", ""), one["geometry"]["coordinates"][0])
        for one in plan["features"] if one["properties"]["kind"] == "room"
    ]  # fmt: skip


def in_building(folder: Path, x_px: float, y_px: float) -> tuple[float, float]:
    """Return where a pixel of the image lies on the plan (m), as the site on the disk says."""
    site = tomllib.loads((folder / "site.toml").read_text("utf-8"))
    lies = site["floors"][0]["picture"]
    assert lies["angle_deg"] == 0.0
    scale = lies["m_per_px"]
    return lies["origin_x_m"] + scale * x_px, lies["origin_y_m"] - scale * y_px


def readings_of(folder: Path) -> dict[str, dict[str, str]]:
    """Return the readings on the disk by their id."""
    (path,) = (folder / "readings").glob("*.csv")
    with path.open(encoding="utf-8-sig", newline="") as file:
        return {row["id"]: row for row in csv.DictReader(file)}


def paste(person: Person, folder: Path) -> tuple[float, float]:
    """Paste the readings; return where x and y were measured from, on the plan (m)."""
    one = person.one
    west, south = in_building(folder, WEST_PX, FOOT_PX)
    rows = ["id\tx\ty\theight\ttime\tvalue\tunit\tinstrument"]
    for k, (name, (x, y, value)) in enumerate(measured().items()):
        rows.append(f"{name}\t{west + x:.2f}\t{south + y:.2f}\t1.5\t2026-03-02 10:{k:02d}"
                    f"\t{value:.2f}\tug/m3\tA1")  # fmt: skip
    one.key("ctrl+2", "F7")
    with person.copied("\n".join(rows), NAME):
        one.key("ctrl+v")
        person.still()
        person.look("round-asked")  # the first readings: which round they are of comes first
        one.key("Return")
        person.still()
    person.look("pasted")
    one.key("Return")
    person.sees(f"{NAME}* - hgmap")
    saved(person)
    return west, south


def sees_a_zone(person: Person) -> None:
    """Wait until the map is there: much of the screen is in the ink of what is to be remediated."""

    def mapped() -> bool:
        apart = np.abs(person.one.picture().astype(int) - np.array(REMEDIATE)).max(axis=2)
        return int((apart < 12).sum()) > 1500

    person.one.wait_for(mapped, "no zone that is to be remediated is on the screen")


def choose_level(person: Person) -> None:
    """Take the third of the published levels, and make it the site's own."""
    one = person.one
    one.key("ctrl+3", "F8", "Down", "Down", "Down")
    person.still()
    one.key("ctrl+shift+o")
    person.sees(f"{NAME}* - hgmap")
    sees_a_zone(person)
    person.still()
    person.look("map")


def test_a_survey_is_done_from_an_image_to_its_map(person: Person, tmp_path: Path) -> None:
    one = person.one
    image = tmp_path / "plan.png"
    paint_plan(image)
    with one.program() as process:
        folder = begin(person, image)
        scale(person)
        trace(person)
        saved(person)
        west, south = paste(person, folder)
        choose_level(person)

        one.key("ctrl+2")
        person.still()
        x, y, px_per_m = building(one.picture())

        def seen(name: str) -> tuple[float, float]:
            along, up, _ = measured()[name]
            return x + along * px_per_m, y - up * px_per_m

        start = seen("R8")
        one.drag(start, (start[0] + 0.8 * px_per_m, start[1] - 1.2 * px_per_m))
        person.still()
        person.look("dragged")
        one.click(*seen("R5"))
        person.still()
        one.key("alt+shift+h")
        person.still()
        one.type("AB")
        one.key("Tab")
        one.type("door stood open")
        person.look("hold")
        one.key("Return")
        person.still()
        saved(person)

        one.key("ctrl+p")
        person.sees("Print and export")
        person.still()
        person.look("print")
        one.key("alt+i")
        person.still()
        one.key("alt+w")
        one.wait_for(lambda: [*folder.glob("results/**/map.pdf")], "no map.pdf is written")
        person.still()
        person.look("written")
        one.key("Escape")
        one.wait_for(lambda: not one.title_holds("Print and export"), "the page stays")
        person.to(NAME)
        one.key("ctrl+q")
        one.wait_for(lambda: process.poll() is not None, "the window does not close")
        assert process.returncode == 0

    named = ("site.toml", "plans/ground.geojson", "instruments/overrules.csv")
    before = {name: (folder / name).read_bytes() for name in named}
    check_plan(folder)
    readings = readings_of(folder)
    assert list(readings) == list(measured())
    for name, (along, up, value) in measured().items():
        row, moved = readings[name], name == "R8"
        assert float(row["value"]) == pytest.approx(value)
        assert float(row["x"]) == pytest.approx(west + along + 0.8 * moved, abs=0.1)
        assert float(row["y"]) == pytest.approx(south + up + 1.2 * moved, abs=0.1)
    with (folder / "instruments" / "overrules.csv").open(encoding="utf-8-sig", newline="") as file:
        (held,) = csv.DictReader(file)
    assert "R5" in held.values()
    assert {"AB", "door stood open"} <= set(held.values())
    assert tomllib.loads(before["site.toml"].decode())["level"]["name"]
    (pdf,) = folder.glob("results/**/map.pdf")
    text = subprocess.run(["pdftotext", pdf, "-"], capture_output=True, text=True, check=True)
    for word in (NAME, "West room", "East room"):
        assert word in text.stdout

    with one.program(folder):
        person.sees(f"{NAME} - hgmap")
        sees_a_zone(person)
        person.look("again")
    assert before == {name: (folder / name).read_bytes() for name in named}
    assert readings == readings_of(folder)
    assert "Traceback" not in (one.home / "stderr.txt").read_text()


def check_plan(folder: Path) -> None:
    """Compare the plan on the disk with what was clicked."""
    rooms = corners_of(folder)
    assert [name for name, _ in rooms] == ["West room", "East room"]
    for (_, outline), (left, right) in zip(
        rooms, ((WEST_PX, MIDDLE_PX), (MIDDLE_PX, EAST_PX)), strict=True
    ):
        assert len(outline) == 5
        for corner_px in ((left, TOP_PX), (right, TOP_PX), (right, FOOT_PX), (left, FOOT_PX)):
            place = in_building(folder, *corner_px)
            assert min(math.dist(place, one) for one in outline) < 0.1
    west, south = in_building(folder, WEST_PX, FOOT_PX)
    east, north = in_building(folder, EAST_PX, TOP_PX)
    assert (east - west, north - south) == pytest.approx((12.0, 8.0), abs=0.1)
    plan = json.loads((folder / "plans" / "ground.geojson").read_text("utf-8"))
    (door,) = (one for one in plan["features"] if one["properties"]["kind"] == "opening")
    (x1, y1), (x2, y2) = door["geometry"]["coordinates"]
    assert math.dist(((x1 + x2) / 2, (y1 + y2) / 2), in_building(folder, *DOOR_PX)) < 0.1
    assert math.dist((x1, y1), (x2, y2)) == pytest.approx(0.9, abs=0.01)


def test_what_was_drawn_outlives_a_window_that_is_killed(person: Person, tmp_path: Path) -> None:
    one = person.one
    image = tmp_path / "plan.png"
    paint_plan(image)
    with one.program() as process:
        folder = begin(person, image)
        scale(person)
        before = {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()}
        trace(person)

        def kept() -> bool:
            texts: list[bytes] = []
            with contextlib.suppress(OSError, zipfile.BadZipFile):  # it is being replaced
                for path in (one.home / "data").rglob("*.zip"):
                    with zipfile.ZipFile(path) as aside:
                        texts += [aside.read(name) for name in aside.namelist()]
            return any(b"East room" in text and b'"opening"' in text for text in texts)

        one.wait_for(kept, "nothing is kept aside")
        one.key("ctrl+alt+r")  # and in the middle of another room
        one.click(*person.finds(BLUE, 2)[0])
        process.send_signal(signal.SIGKILL)
        process.wait(timeout=SLOW_S)
    assert before == {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()}
    with one.program():
        person.to("hgmap")
        person.still()
        person.look("offer")
        one.key("alt+t")
        person.sees(f"{NAME}* - hgmap")
        person.still()
        person.look("taken-up")
        saved(person)
    check_plan(folder)
