"""Score maps of the horseshoe: ``python -m tests.bench.horseshoe``. Asserts nothing.

Nine rows of readings and noise (:mod:`tests.truth.horseshoe`). Targets: rmse at or below that of
the soap film in all nine, 95 % interval covering 93 to 97 %.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Sequence
from typing import Final

import numpy as np

from tests.truth.horseshoe import (
    NOISES,
    SIZES,
    SOAP_FILM,
    ReadingSet,
    make_floor,
    make_readings,
    nodes,
    shared_readings,
    truth,
)
from tests.truth.methods import Method, doors_kriging, straight_idw, straight_kriging
from tests.truth.scores import number, score, table

STEP: Final = 0.05
"""Of the cells that carry the covariance."""

METHODS: Final[dict[str, Method]] = {
    "no-flux kriging": doors_kriging(None, step_m=STEP),
    "straight kriging": straight_kriging(None),
    "straight IDW p=2": straight_idw(2.0),
}
"""What is scored. Add a method here."""

HEADERS: Final = ("method", "n", "noise", "sets", "rmse", "soap film", "ratio", "cover %", "s")


def row(name: str, n: int, noise_sd: float, sets: Sequence[ReadingSet]) -> list[str]:
    """Score one method on the reading sets of one row: means over the sets."""
    floor, targets = make_floor(), nodes()
    known, scores, seconds = truth(targets), [], []
    for one in sets:
        start = time.perf_counter()
        mean, sd = METHODS[name].estimate(floor, one.xy, one.values, targets)
        seconds.append(time.perf_counter() - start)
        scores.append(score(mean, sd, known))
    rmse = float(np.mean([one.rmse for one in scores]))
    soap_film = float(np.mean([one.soap_film for one in sets]))
    soap_film = soap_film if np.isfinite(soap_film) else SOAP_FILM[n, noise_sd]
    return [
        name,
        str(n),
        f"{noise_sd:g}",
        str(len(sets)),
        number(rmse, ".4f"),
        number(soap_film, ".4f"),
        number(rmse / soap_film, ".2f"),
        number(100 * float(np.mean([one.coverage for one in scores])), ".1f"),
        number(float(np.median(seconds)), ".2f"),
    ]


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--seeds", type=int, default=5, help="reading sets a row")
    parser.add_argument("--methods", nargs="+", choices=tuple(METHODS), default=tuple(METHODS))
    parser.add_argument("--own", action="store_true", help="draw the reading sets, use no file")
    chosen = parser.parse_args()
    shared = None if chosen.own else shared_readings()
    print(
        "Own reading sets; soap film: its means over other sets"
        if shared is None
        else "The reading sets that the soap film was scored on"
    )
    rows = []
    for name in chosen.methods:
        for n in SIZES:
            for noise_sd in NOISES:
                sets = (
                    [make_readings(n, noise_sd, seed) for seed in range(chosen.seeds)]
                    if shared is None
                    else shared[n, noise_sd][: chosen.seeds]
                )
                rows.append(row(name, n, noise_sd, sets))
    print(table(HEADERS, rows))


if __name__ == "__main__":
    main()
