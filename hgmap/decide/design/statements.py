"""What is to be stated of the air, how many samples that takes, and what it takes for granted."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, Literal, get_args

from hgmap.decide.design.sample_size import (
    mean_test_samples,
    rank_sum_samples,
    sign_test_samples,
    tolerance_samples,
)
from hgmap.errors import EstimateError

TestName = Literal["sign", "rank-sum", "mean"]
ERRORS: Final = (0.05, 0.05)
"""Error chances where none are given (common practice, no source)."""

RANDOM: Final = (
    "it holds for samples that are independent and random; the places of a grid with a random "
    "start stand in for them, a corner chosen by eye does not"
)


@dataclass(frozen=True, slots=True)
class Statement:
    """A number of samples and the words for it.

    Attributes
    ----------
    samples : int
    name : str
        What they are for, in two or three words.
    says : str
        What can be stated with them.
    assumes : tuple of str
    """

    samples: int
    name: str
    says: str
    assumes: tuple[str, ...]


def tolerance_statement(coverage: float, confidence: float) -> Statement:
    """Return the samples of a tolerance statement (Wilks 1941).

    Raises
    ------
    EstimateError
        If a share is not between 0 and 1, or it takes too many.
    """
    none, one, two = (tolerance_samples(coverage, confidence, failures=k) for k in range(3))
    says = (
        f"{_per_cent(coverage)} of the air is below the level, with {_per_cent(confidence)} "
        f"confidence, where of {none} samples none is above, of {one} at most one, or of {two} at "
        "most two"
    )
    return Statement(none, "tolerance statement", says, (RANDOM,))


def check_test(name: str) -> TestName:
    """Return the name of a test, if there is one.

    Raises
    ------
    EstimateError
        Otherwise.
    """
    for known in get_args(TestName):
        if name == known:
            return known  # type: ignore[no-any-return]
    raise EstimateError(f"no test is called {name!r}", todo="use one of " + ", ".join(
        get_args(TestName)))  # fmt: skip


def statement_of_test(
    name: TestName, *, shift: float, sd: float, alpha: float, beta: float
) -> Statement:
    """Return the samples of a test.

    Parameters
    ----------
    name : {"sign", "rank-sum", "mean"}
    shift, sd : float
        Difference that has to be seen, and standard deviation of the readings; in one unit.
    alpha, beta : float
        Chance to release what is above, and to hold what is below.

    Raises
    ------
    EstimateError
        If a number is out of its range.
    """
    if not (math.isfinite(sd) and sd > 0):
        raise EstimateError(
            f"a standard deviation of {sd:g} cannot be used", todo="give one above 0"
        )
    errors = (
        f"with {_per_cent(alpha)} chance to release what is above and {_per_cent(beta)} to hold "
        "what is below"
    )
    seen = f"a difference of {shift:g} at a standard deviation of {sd:g}, {errors}"
    guess = "the standard deviation is a guess until there are readings: a larger one needs more"
    if name == "sign":
        n = sign_test_samples(shift / sd, alpha=alpha, beta=beta)
        says = (
            f"{n} samples for a sign test of the median against a level, to see {seen}; a fifth "
            "for lost ones is in it (NUREG-1575 rev. 1, eq. 5-2)"
        )
        normal = "the readings are taken as normal for the number, not for the test"
        return Statement(n, "sign test", says, (RANDOM, normal, guess))
    if name == "rank-sum":
        n = rank_sum_samples(shift / sd, alpha=alpha, beta=beta)
        says = (
            f"{n} samples in each of two areas, the one judged and one to compare with, for a "
            f"rank-sum test, to see {seen}; a fifth for lost ones is in it (NUREG-1575 rev. 1, "
            "eq. 5-1; its table asks for up to two more, its chances being rounded)"
        )
        shape = "both areas scatter alike, one only shifted"
        return Statement(n, "rank-sum test", says, (RANDOM, shape, guess))
    n = mean_test_samples(sd, shift, alpha=alpha, beta=beta).n
    says = (
        f"{n} samples for a t test of the mean against a level, to see {seen}; nothing for lost "
        "ones is in it (EPA QA/G-9S 2006)"
    )
    normal = "the mean of the readings is near to normal, no reading is a non-detect"
    return Statement(n, "t test of the mean", says, (RANDOM, normal, guess))


def _per_cent(share: float) -> str:
    """Write a share in per cent without rounding it up to what it is not."""
    return f"{share * 100:.6g} %"
