"""The conditions of a clearance round against the guidance that the site chose."""

from __future__ import annotations

import difflib
import statistics
from dataclasses import dataclass
from typing import Literal

from hgmap.site.model import Round, Site
from hgmap.site.quality.figures import figure
from hgmap.site.quality.guidance import NAMES, UNITS, Condition, disagreements, guidances
from hgmap.site.quality.temperature import LEAST_STEP_C, own_temperatures, round_temperature

Status = Literal["met", "unmet", "missing"]


@dataclass(frozen=True, slots=True)
class ConditionFinding:
    """One condition: what is asked, what was written down, who asks."""

    name: str
    status: Status
    text: str
    source: str


@dataclass(frozen=True, slots=True)
class ConditionsCheck:
    """The conditions of one round.

    Attributes
    ----------
    asked : bool
        Whether the round is a clearance round; else nothing is asked of it.
    guidance : str
        Name of the chosen guidance; empty where none is chosen, or there is none of that name.
    findings : tuple of ConditionFinding
    problem : str
        Why nothing could be checked; empty where it was.
    notes : tuple of str
        Where the guidances contradict each other, and what the chosen one adds.
    """

    asked: bool
    guidance: str
    findings: tuple[ConditionFinding, ...]
    problem: str
    notes: tuple[str, ...]

    def named(self, status: Status) -> list[str]:
        """Names of the conditions with a status."""
        return [one.name for one in self.findings if one.status == status]

    @property
    def met(self) -> bool:
        """Whether everything that is asked is met."""
        return not self.problem and all(one.status == "met" for one in self.findings)


def missing_conditions(site: Site, round_: Round) -> ConditionsCheck:
    """Say which conditions of the chosen guidance a round meets, misses, or does not mention.

    Only a clearance round is asked; nothing is assumed where nobody wrote it down.
    """
    if round_.purpose != "clearance":
        return ConditionsCheck(False, "", (), "", ())
    known = {one.name: one for one in guidances()}
    apart = tuple(f"guidances differ on {text}" for text in disagreements())
    listed = "; ".join(f"{one.name} ({one.title})" for one in known.values())
    wanted = site.trust.guidance
    if wanted is None:
        problem = (
            "a clearance round, and no guidance is chosen: write its name in [clearance] guidance "
            f"of site.toml; there are {listed}"
        )
        return ConditionsCheck(True, "", (), problem, apart)
    chosen = known.get(wanted)
    if chosen is None:
        near = difflib.get_close_matches(wanted, known, n=1)
        hint = f"did you mean {near[0]!r}?" if near else ""
        problem = f"no guidance is called {wanted!r}; {hint or 'there are ' + listed}"
        return ConditionsCheck(True, "", (), problem, apart)
    findings = tuple(_finding(site, round_, one) for one in chosen.condition)
    notes = apart if chosen.note is None else (chosen.note, *apart)
    return ConditionsCheck(True, chosen.name, findings, "", notes)


def _finding(site: Site, round_: Round, condition: Condition) -> ConditionFinding:
    name = NAMES[condition.key]
    found: float | str | bool | None = getattr(round_.conditions, condition.key)
    from_readings = False
    against = ""
    if condition.key == "temperature_c" and found is None:
        found = round_temperature(round_, site.readings)
        from_readings = found is not None
    elif condition.key == "temperature_c" and isinstance(found, int | float):
        own = own_temperatures(round_, site.readings)
        if own and statistics.median(own) < found - LEAST_STEP_C:
            against = f"; {figure(float(found))} °C was stated"
            found, from_readings = statistics.median(own), True  # the lower: in doubt, not met
    asks = f"{name}: {condition.words}"
    if found is None:
        return ConditionFinding(name, "missing", f"{asks}; nobody wrote it down", condition.source)
    if isinstance(found, bool):
        shown = "yes" if found else "no"
    elif isinstance(found, float | int):
        shown = f"{figure(float(found))}{UNITS.get(condition.key, '')}"
    else:
        shown = found
    if from_readings:
        shown += f" (median of the readings' own{against})"
    least = condition.at_least
    if condition.at_least_occupied:
        least = site.trust.occupied_temperature_c
        if least is None:
            text = f"{asks}, which site.toml does not state ([clearance] occupied_temperature_c)"
            return ConditionFinding(name, "missing", text, condition.source)
        asks += f", {figure(least)} °C"
    if condition.stated:
        met = True
    elif least is not None:
        met = isinstance(found, float | int) and found >= least
    else:
        met = found == condition.is_
    return ConditionFinding(name, "met" if met else "unmet", f"{asks}; was {shown}",
                            condition.source)  # fmt: skip
