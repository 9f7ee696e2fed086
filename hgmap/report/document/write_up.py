"""A survey written up: the parts of its report, in their order."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from hgmap.report.document.changed import changed
from hgmap.report.document.cleared import clearance
from hgmap.report.document.content import (
    Document,
    Heading,
    Maps,
    Paragraph,
    Part,
    Table,
    TableColumn,
)
from hgmap.report.document.found import cautions_of, floors, resample, summary, whose
from hgmap.report.document.method import method
from hgmap.report.document.names import with_names_ended
from hgmap.report.document.plan_view import plan_key, plan_view
from hgmap.report.document.records import appendix, limits, quality, signatures
from hgmap.report.document.survey import Survey
from hgmap.report.sheet_setup import A4, PaperSize
from hgmap.report.title_block import INVENTED, scale_number
from hgmap.report.words import round_line
from hgmap.site.cautions import screening


def write_up(survey: Survey, house_cautions: Sequence[str] = (), paper: PaperSize = A4) -> Document:
    """Put a survey into the parts of a report.

    Parameters
    ----------
    survey : Survey
    house_cautions : sequence of str
        Printed after ours, never in their place.
    paper : PaperSize
        Of the text.
    """
    site, round_ = survey.site, survey.round
    return with_names_ended(Document(
        site.name,
        f"Report of the survey: {round_line(round_)}",
        site.title_block.prepared_by,
        INVENTED if site.invented else "",
        f"{site.name}  ·  {round_line(round_)}",
        screening(site.medium),
        whose(survey),
        tuple(_parts(survey, tuple(house_cautions))),
        paper,
    ), _names(survey))  # fmt: skip


def _names(survey: Survey) -> Iterator[str]:
    """Go through every name that somebody gave and a sentence may hold."""
    site, block = survey.site, survey.site.title_block
    yield from (site.name, block.client, block.prepared_by, block.reviewed_by)
    for one in site.rounds:
        yield from (one.name, one.title)
    for floor in site.floors:
        yield from (floor.name, floor.title)
        for room in floor.rooms:
            yield from (room.id, room.name)
    yield from (one.id for one in site.readings)


def _parts(survey: Survey, house: tuple[str, ...]) -> Iterator[Part]:
    yield from summary(survey)
    yield from clearance(survey)
    yield from floors(survey)
    yield Heading("Maps")
    yield _sheets_that_follow(survey)
    yield Paragraph(
        "Zones differ by hatching and outline as well as by colour. Every map is of one height and "
        "one level, which stand on it."
    )
    yield plan_key()
    if survey.site_map is not None:
        yield Maps("All buildings", (("site map", survey.site_map),), None)
    for one in survey.floors:
        yield Maps(one.floor.title, one.sheets, plan_view(one))
    yield from changed(survey)
    yield from resample(survey)
    yield from method(survey)
    yield from quality(survey)
    yield from limits(survey)
    yield Heading("Cautions")
    for text in (*cautions_of(survey), *house):
        yield Paragraph(text, "caution")
    yield from signatures(survey)
    yield from appendix(survey)


def _sheets_that_follow(survey: Survey) -> Table:
    """List every sheet of the report with its number and scale, in the order of their pages."""
    shown = [] if survey.site_map is None else [("site map", survey.site_map, "–")]
    for one in survey.floors:
        shown += [(kind, sheet, f"{n} of {len(one.sheets)}")
                  for n, (kind, sheet) in enumerate(one.sheets, start=1)]  # fmt: skip
    changes = () if survey.change is None else survey.change.floors
    shown += [("change", sheet, f"{n} of {len(changes)}")
              for n, (_, sheet) in enumerate(changes, start=1)]  # fmt: skip
    return Table(
        "The sheets on paper",
        (TableColumn("what it shows", 5.0, name=True), TableColumn("sheet", 0.8),
         TableColumn("scale", 1.0, number=True), TableColumn("sheet is", 1.3)),
        tuple(
            (
                sheet.title.removeprefix(f"{survey.site.name}: ") + (", zones" * (kind == "map")),
                which,
                f"1 : {scale_number(sheet.frames[0].mm_per_m)}",
                f"{sheet.width_mm:.0f} x {sheet.height_mm:.0f} mm",
            )
            for kind, sheet, which in shown
        ),
    )  # fmt: skip
