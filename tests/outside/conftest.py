"""Data that test dependencies carry; nothing of it stands in this repository."""

from __future__ import annotations

import csv
import importlib.util
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray


@dataclass(frozen=True)
class Meuse:
    """155 top-soil samples by the river Meuse: places (m, RD New) and zinc (mg/kg)."""

    xy: NDArray[np.float64]
    zinc: NDArray[np.float64]

    @property
    def log_zinc(self) -> NDArray[np.float64]:
        return np.log(self.zinc)


@pytest.fixture(scope="session")
def meuse() -> Meuse:
    # the file is found without importing the package, which takes seconds
    package = importlib.util.find_spec("skgstat")
    assert package is not None, "scikit-gstat is a test dependency"
    assert package.origin is not None
    path = Path(package.origin).parent / "data" / "samples" / "meuse.txt"
    with path.open(newline="") as file:
        rows = list(csv.DictReader(file))
    data = Meuse(
        np.array([(float(row["x"]), float(row["y"])) for row in rows]),
        np.array([float(row["zinc"]) for row in rows]),
    )
    # R packages sp and gstat, data set meuse: the same rows in the same order
    assert len(data.zinc) == 155
    assert data.zinc.sum() == 72_806
    assert tuple(data.xy[0]) == (181_072, 333_611)
    assert data.zinc[0] == 1022
    return data
