"""The section on method: every setting with who says so."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from hgmap.field.variogram import AveragedFit
from hgmap.report.document.content import (
    Bullets,
    Facts,
    Heading,
    Paragraph,
    Part,
    Table,
    TableColumn,
)
from hgmap.report.document.survey import Survey, SurveyFloor
from hgmap.report.title_block import method_line
from hgmap.report.words import count, level_line, level_value, number, per_cent
from hgmap.site.instruments.rules import load_rules
from hgmap.site.model import MapSettings
from hgmap.site.rules import how_zones_are_cut

OURS: Final = "common practice, no source"
NOT_WRITTEN: Final = "not written down"

_MEANING: Final[dict[str, tuple[str, str]]] = {
    "remediate_at": ("chance of being above the level from which to remediate", OURS),
    "clear_at": ("chance of being above the level up to which ground may be clear", OURS),
    "guard_m": ("ground around a reading in doubt that may not be clear (m)", OURS),
    "doubt_share": ("doubt that may stay, as a share of the area", OURS),
    "zones": ("how zones are cut", OURS),
    "tape_width_m": ("least width of a zone (m)", OURS),
    "tape_area_m2": ("least area of a clear zone (m²)", OURS),
    "method": ("estimate between readings", "the user's choice"),
    "scale": ("working scale", "the user's choice"),
    "cell_m": ("cell of the estimate (m)", "the user's choice; 0.1 m where the floor allows"),
    "walls": ("through the doors (walls count)", "the user's choice; where the plan has doors"),
    "range_m": ("range (m)", "the user's choice; else weighed by the readings"),
    "nugget": ("nugget", "the user's choice; else weighed by the readings"),
    "sill": ("sill", "the user's choice; else weighed by the readings"),
    "height_band": ("height that is mapped", "the user's choice; else the one most readings have"),
}


def method(survey: Survey) -> Iterator[Part]:
    """Say how the survey was made and mapped, with every setting and its source."""
    site, level = survey.site, survey.level
    yield Heading("Method")
    yield Heading("Action level", 2)
    yield Facts(
        (
            ("value", level_value(level)),
            ("name, averaging, height, for whom, source", level_line(level)),
            ("value from memory", "yes: read it in its source" if level.from_memory else "no"),
            ("kind", level.kind),
        )
    )  # fmt: skip
    yield Heading("How the building stood", 2)
    yield Facts(tuple(_conditions(survey)))
    yield Heading("Heights", 2)
    columns = (TableColumn("height", 3.0, name=True), TableColumn("from (m)", 1.0, True),
               TableColumn("to (m)", 1.0, True), TableColumn("breathing", 1.0),
               TableColumn("readings of this round", 1.5, True),
               TableColumn("mapped here", 1.2))  # fmt: skip
    here = [one for one in site.readings if one.round == survey.round.name]
    yield Table("Height bands above the floor", columns, tuple(
        (one.name, f"{one.from_m:g}", f"{one.to_m:g}", "yes" if one.breathing else "no",
         str(sum(reading.band == one.name for reading in here)),
         "yes" if one.name == survey.band else "no")
        for one in site.height_bands
    ))  # fmt: skip
    yield Heading("How the ground between readings is estimated", 2)
    yield Paragraph(
        "Between readings the concentration is estimated, with its uncertainty; each square of the "
        "floor gets the chance that its air is above the level. A reading below its detection "
        "limit counts as anything from a hundredth of the limit to the limit, not as a number. A "
        "reading that is held counts nowhere, and ground near it is never clear."
    )
    yield Table("How each floor was estimated", (
        TableColumn("floor", 1.6, name=True), TableColumn("method", 5.0),
        TableColumn("range, nugget, sill", 3.2),
        TableColumn("each reading left out and predicted by the others", 3.4),
    ), tuple(_estimate(one) for one in survey.floors))  # fmt: skip
    yield Heading("How the zones are ruled", 2)
    yield Paragraph(
        "remediate: likely above the level. resample: in between, or too little is known. clear: "
        "the chance of being above is low, and nothing else speaks against it. no data: no reading "
        f"speaks for the place. {how_zones_are_cut(site.settings)[:1].upper()}"
        f"{how_zones_are_cut(site.settings)[1:]}."
    )
    yield Table("Settings", (
        TableColumn("setting", 1.4), TableColumn("what it means", 3.6),
        TableColumn("value", 1.6), TableColumn("built in", 1.4), TableColumn("source", 3.2),
    ), tuple(_settings(survey)))  # fmt: skip
    yield from _instrument_rules(survey)
    yield Paragraph(f"Made with hgmap {survey.version}; every input with its digest stands at the "
                    "end of the appendix.", "soft")  # fmt: skip


def _conditions(survey: Survey) -> Iterator[tuple[str, str]]:
    found = survey.round.conditions

    def of(value: float | None, unit: str) -> str:
        return NOT_WRITTEN if value is None else f"{value:g} {unit}"

    yield "temperature inside", of(found.temperature_c, "°C")
    yield "temperature outside", of(found.outdoor_temperature_c, "°C")
    yield "pressure", of(found.pressure_kpa, "kPa")
    yield "humidity", of(found.humidity_percent, "%")
    yield "ventilation", found.ventilation or NOT_WRITTEN
    yield "windows", found.windows or NOT_WRITTEN
    yield "closed before the first reading", of(found.hours_closed, "h")
    yield "heated before the first reading", of(found.hours_heated, "h")
    occupied = {None: NOT_WRITTEN, True: "yes", False: "no"}[found.occupied]
    yield "occupied during the round", occupied
    if found.note:
        yield "note", found.note
    for floor, opening, state in survey.round.openings:
        yield f"opening {opening}, {floor}", f"{state}, other than on the plan"
    yield "guidance that the conditions are held against", survey.site.trust.guidance or "none"
    yield "taken off the readings", survey.site.trust.subtract


def _estimate(one: SurveyFloor) -> tuple[str, str, str, str]:
    surface = one.surface
    method = method_line(surface, one.evidence)
    if surface is None:
        return one.floor.title, f"{method}: {one.no_surface}", "–", "–"
    fit, scores = surface.variogram, surface.scores
    parameters = "–"
    if fit is not None:
        spread = f"weighed over {count(fit.candidates, 'pair')}; " \
            if isinstance(fit, AveragedFit) else ""  # fmt: skip
        parameters = (
            f"{spread}{fit.origin}: range {number(fit.range_m)} m, nugget {number(fit.nugget)}, "
            f"sill without it {number(fit.psill)} ({fit.model})"
        )
        parameters += f"; {fit.note}" if fit.note else ""
    told = (
        f"{count(scores.n, 'place')}: mean error {number(scores.mean_error, 2)}, root mean square "
        f"{number(scores.rmse, 2)} on the working scale"
    )
    if scores.coverage_95 is not None:
        told += f", {per_cent(scores.coverage_95)} within their 95 % interval"
    if one.opinion is not None:
        told += (
            f"; another library's straight-line kriging differs by at most "
            f"{one.opinion.largest_mean_difference:.0e} at {one.opinion.points} points"
        )
    return one.floor.title, method, parameters, told if scores.n else "–"


def _settings(survey: Survey) -> Iterator[tuple[str, str, str, str, str]]:
    """Yield every setting: what it means, what it is, what is built in, and who says so."""
    ours, site = MapSettings(), survey.site.settings
    for name, (meaning, source) in _MEANING.items():
        value, usual = getattr(site, name), getattr(ours, name)
        if name == "height_band":
            value = survey.band
        said = "chosen for this site" if value != usual and name != "height_band" else source
        yield name, meaning, _value(value), _value(usual), said
    for name in ("cell_m", "walls", "model", "seed"):
        used = dict.fromkeys(
            _value(one.surface.settings[name])
            for one in survey.floors
            if one.surface is not None and name in one.surface.settings
        )
        if used:
            yield (f"{name}, as used", "one value, or those of the floors in turn",
                   ", ".join(used), "–", "recorded by the estimate")  # fmt: skip


def _value(value: object) -> str:
    if value is None:
        return "not set"
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value:g}" if isinstance(value, float) else str(value)


def _instrument_rules(survey: Survey) -> Iterator[Part]:
    """Tabulate the rules that the instruments of the log are held to, each with its source."""
    log = survey.site.log
    kinds = dict.fromkeys(one.principle for one in (log.instruments if log else ())
                          if one.principle)  # fmt: skip
    yield Heading("What the instrument is held to", 2)
    if not kinds:
        yield Paragraph("There is no instrument log whose rules could be named.")
        return
    columns = (TableColumn("rule", 1.7), TableColumn("asks for", 4.6),
               TableColumn("else the reading is", 1.3), TableColumn("source", 3.6))  # fmt: skip
    words = {"hold": "held", "caution": "used with a caution"}
    for kind in kinds:
        yield Table(f"Rules for {kind}", columns, tuple(
            (one.key, one.says, words[one.then], one.source)
            for one in load_rules().of(kind).values()
        ))  # fmt: skip
    assert log is not None
    yield Bullets(tuple(
        f"{one.name}: {one.principle or 'principle not stated'}, serial "
        f"{one.serial or 'not stated'}, certificate of {one.certificate or 'a day not stated'}"
        for one in log.instruments
    ))  # fmt: skip
    yield Paragraph("The error that these checks show widens the estimate.", "soft")
