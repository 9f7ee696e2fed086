"""What a report is made of, with no word about PDF, DOCX or HTML: each writer sets these parts."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal, TypeAlias

from shapely.geometry.base import BaseGeometry

from hgmap.report.drawing import Drawing, Frame, Sheet
from hgmap.report.sheet_setup import A4, PaperSize

Look = Literal["plain", "strong", "soft", "caution"]


@dataclass(frozen=True, slots=True)
class Heading:
    """A heading; ``depth`` 1 begins a section, 2 a part of one.

    ``room_mm`` is what has to fit under it on the same page of paper, where more than usual.
    """

    text: str
    depth: Literal[1, 2] = 1
    room_mm: float = 0.0


@dataclass(frozen=True, slots=True)
class Paragraph:
    """One paragraph. A ``"caution"`` is framed, wherever it stands."""

    text: str
    look: Look = "plain"


@dataclass(frozen=True, slots=True)
class Bullets:
    """A list; ``flagged`` are the positions of what a person should act on."""

    texts: tuple[str, ...]
    flagged: frozenset[int] = frozenset()


@dataclass(frozen=True, slots=True)
class Facts:
    """Names with what belongs to them, one to a line."""

    rows: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class TableColumn:
    """A column: its heading and its share of the width.

    ``number`` columns stand to the right; a ``name`` that somebody chose is cut with an ellipsis
    where it takes more than a few lines of paper, and stands whole on a screen.
    """

    heading: str
    share: float
    number: bool = False
    name: bool = False


@dataclass(frozen=True, slots=True)
class Table:
    """A table with a caption over it; ``strong`` are the positions of rows that sum up others.

    Every row has a cell for each column.
    """

    caption: str
    columns: tuple[TableColumn, ...]
    rows: tuple[tuple[str, ...], ...]
    strong: frozenset[int] = frozenset()


@dataclass(frozen=True, slots=True)
class Figure:
    """A picture in the text: a drawing in millimetres from its lower left corner.

    ``says`` is read out where it cannot be seen; the drawing has its own title.
    """

    says: str
    drawing: Drawing
    width_mm: float
    height_mm: float


@dataclass(frozen=True, slots=True)
class Target:
    """What a pointer can be on: a shape of the plan (m), and what is said of it.

    Readings lie over zones; a reading's shape is a point.
    """

    kind: Literal["zone", "reading", "place"]
    shape: BaseGeometry
    text: str


@dataclass(frozen=True, slots=True)
class PlanView:
    """A plan for a screen, with what can be pointed at; paper has sheets in its place.

    Attributes
    ----------
    title : str
    frame : Frame
        The plan, laid out to be read at its own size.
    below : Drawing
        Scale bar and arrow (mm), under the frame.
    below_mm : float
        How much they take.
    targets : tuple of Target
    """

    title: str
    frame: Frame
    below: Drawing
    below_mm: float
    targets: tuple[Target, ...]


@dataclass(frozen=True, slots=True)
class Key:
    """Swatches (mm, of one size) with what each means, for a screen."""

    entries: tuple[tuple[Drawing, str], ...]
    width_mm: float
    height_mm: float


@dataclass(frozen=True, slots=True)
class Maps:
    """The maps of one floor: sheets for paper, a plan for a screen.

    Without such a plan the screen has the sheets.
    """

    title: str
    sheets: tuple[tuple[str, Sheet], ...]
    view: PlanView | None


@dataclass(frozen=True, slots=True)
class Signatures:
    """Lines to sign on: what for, and whose name is known."""

    rows: tuple[tuple[str, str], ...]


Part: TypeAlias = (
    Heading | Paragraph | Bullets | Facts | Table | Figure | Maps | Key | Signatures
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Document:
    """A whole report.

    Attributes
    ----------
    title, subtitle : str
        Of the first page.
    author : str
        For the file's own record.
    banner : str
        Printed large where the data are invented; else empty.
    running : str
        At the head of every page after the first.
    caution : str
        At the foot of every page.
    cover : Facts
        On the first page.
    parts : tuple of Part
    paper : PaperSize
        Of the text, which stands upright; a sheet has its own.
    """

    title: str
    subtitle: str
    author: str
    banner: str
    running: str
    caution: str
    cover: Facts
    parts: tuple[Part, ...]
    paper: PaperSize = A4


def texts_of(document: Document) -> Iterator[str]:
    """Go through every text that a person may have written."""
    yield from (document.title, document.subtitle, document.author)
    for part in (document.cover, *document.parts):
        if isinstance(part, Heading | Paragraph):
            yield part.text
        elif isinstance(part, Bullets):
            yield from part.texts
        elif isinstance(part, Facts | Signatures | Table):
            yield from (text for row in part.rows for text in row)
