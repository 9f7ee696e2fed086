"""Make the invented survey of demo_site again, byte for byte: ``python demo_site/make_demo.py``.

INVENTED: no such school, people, instrument or spill. Every constant below is chosen for the
story, not measured, and no reading comes out of an interpolator. The story is in README.md.

The air of the whole building is one steady balance, solved by finite volumes on square cells
(``story_air.py``). On each floor, for the concentration c(x, y) (µg/m³) over the room height::

    -∇·(D ω ∇c) + λ (c - c_outdoor) + k Σ (c - c') = E / H

D spreading (m²/h); ω the open fraction of a doorway, 1 in a room, no flow through a wall or a
partition; λ air changes with outdoors (1/h), 0 in a doorway; c' the same place on the next floor
of the stair with k its exchange (1/h); E emission (µg/(h m²)); H room height (m). At a height z
the air holds c · (1 + a exp(-z / z0)): a is the floor excess, or over droplets that of the nearest
patch, a_patch exp(-(r / 2 r_patch)²) at a distance r in the same room, if larger.

A reading is value · (1 + relative_sd n1) + additive_sd n2 with standard normal n1 and n2, kept to
0.01; below the detection limit it is a non-detect, above the top of the scale saturated. The
surveyor's two slips and one passing event stand in ``story_visits.py`` as ``typed_x``,
``typed_unit`` and ``event``.
"""

from __future__ import annotations

import argparse
import os
from pathlib import Path
from typing import Final

import numpy as np
from story_air import Air, Field, Spill, Trail, solve
from story_files import log_csv, plan_geojson, readings_csv, sampling_plan_csv, site_toml
from story_plan import storeys
from story_survey import Meter, walk
from story_visits import AFTER, BEFORE

SEED: Final = 20260302

# All chosen for the story.
AIR: Final = Air(
    cell_m=0.1,
    ceiling_m=3.0,  # H
    spreading_m2_per_h=20.0,  # D: people, heaters and draughts mix the air
    room_spreading_m2_per_h={"G04": 4.0},  # still air behind closed doors
    outdoor_ug_m3=0.005,  # c_outdoor
    air_changes_per_h=0.5,  # λ of a room that is not named below
    room_air_changes_per_h={
        "G04": 0.3, "G05": 0.3, "G06": 1.0, "G11": 2.0, "G12": 2.0, "G13": 0.1, "G14": 0.4,
        "F09": 2.0, "F10": 2.0, "F11": 0.2, "T02": 0.2, "T10": 0.2, "T11": 2.0, "T12": 1.0,
    },
    open_fraction={"open": 1.0, "closed": 0.03, "sealed": 0.0},  # ω of a doorway
    stair_rooms=("G08", "F07", "T08"),
    stair_exchange_per_h=1.0,  # k
    floor_excess=0.15,  # a away from droplets
    fade_height_m=0.25,  # z0
)  # fmt: skip

# Place (m), radius (m), emission (µg/h), a_patch.
SPILL_BEFORE: Final = Spill("ground", 26.0, 5.5, 0.4, 1350.0, 9.0)
SPILL_AFTER: Final = Spill("ground", 26.0, 5.5, 0.4, 11.0, 3.0)
# Corners (m), emission at its start (µg/h per m), fading length along the line (m), a_patch.
_STEPS: Final = ((25.0, 8.4), (24.4, 9.2), (13.8, 9.2), (13.8, 12.6))
_LANDING: Final = ((13.8, 12.6), (13.8, 9.2), (17.0, 9.2))
TRAILS_BEFORE: Final = (
    Trail("ground", _STEPS, 50.0, 9.0, 3.0),
    Trail("first", _LANDING, 25.0, 6.0, 2.0),
)
TRAILS_AFTER: Final = (
    Trail("ground", _STEPS, 3.0, 20.0, 1.0),
    Trail("first", _LANDING, 2.0, 6.0, 1.0),
)

METER: Final = Meter(
    relative_sd=0.05,
    additive_sd_ug_m3=0.02,
    detection_limit_ug_m3=0.05,
    top_of_scale_ug_m3=100.0,
    minutes_a_reading=2.0,
    name="gold-film analyser",
    principle="gold-film",
    serial="INVENTED-0417",
    certificate="2025-10-06",
)

NOT_PLANNED: Final = ("G13",)
"""Bricked up."""


def airs() -> dict[str, Field]:
    """Solve the air of both rounds."""
    before = [SPILL_BEFORE, *(piece for trail in TRAILS_BEFORE for piece in trail.pieces())]
    after = [SPILL_AFTER, *(piece for trail in TRAILS_AFTER for piece in trail.pieces())]
    return {
        "before": solve(storeys(), AIR, tuple(before)),
        "after": solve(storeys(), AIR, tuple(after)),
    }


def files() -> dict[str, str]:
    """Return the text of every file of the site folder that is made here."""
    building = storeys()
    made = {"site.toml": site_toml(building, METER, BEFORE, AFTER)}
    made["sampling-plan.csv"] = sampling_plan_csv(building, NOT_PLANNED)
    for one in building:
        made[f"plans/{one.name}.geojson"] = plan_geojson(one)
    log = []
    fields = airs()
    for number, visit in enumerate((BEFORE, AFTER)):
        noise = np.random.default_rng([SEED, number, 0])
        places = np.random.default_rng([SEED, number, 1])
        apart = np.random.default_rng([SEED, number, 2])
        rows, checks = walk(visit, building, fields[visit.round], METER, noise, places, apart)
        made[f"readings/{visit.begins:%Y-%m-%d}.csv"] = readings_csv(rows)
        log += checks
    made["instruments/log.csv"] = log_csv(log)
    return made


def write(folder: Path) -> None:
    """Write the files, each to a temporary file in its folder first."""
    for name, text in files().items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        half = path.with_name(f"{path.name}.tmp-{os.getpid()}")
        with half.open("w", encoding="utf-8", newline="\n") as stream:
            stream.write(text)
            stream.flush()
            os.fsync(stream.fileno())
        half.replace(path)


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description="Make the invented survey of demo_site again.")
    parser.add_argument("--into", type=Path, default=Path(__file__).parent, help="another folder")
    write(parser.parse_args().into)
