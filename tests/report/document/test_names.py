"""Names that run from right to left: a number after one stays with its unit."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from hgmap.report.document.content import (
    Bullets,
    Document,
    Facts,
    Heading,
    Paragraph,
    Table,
    TableColumn,
)
from hgmap.report.document.names import END, with_names_ended
from hgmap.report.typeset import plain, width_mm

NAME = "חדר 5"


def said(name: str) -> Document:
    text = f"{name}: 3 m² to remediate"
    table = Table(text, (TableColumn("a", 1.0),), ((text,),))
    parts = (Heading(text), Paragraph(text), Bullets((text,)), Facts(((name, text),)), table)
    return Document(name, name, "", "", text, "", Facts((("site", name),)), parts)


def test_a_number_after_such_a_name_does_not_join_it() -> None:
    made = str(with_names_ended(said(NAME), [NAME, "Hall"])).replace("\\u200e", END)
    assert NAME in made
    assert made.count(NAME) == made.count(NAME + END)
    assert f"{NAME}{END}: 3 m²" in made


@given(st.text(st.characters(codec="ascii", exclude_characters=END), max_size=20))
def test_other_names_are_left_as_they_are(name: str) -> None:
    document = said(name)
    assert with_names_ended(document, [name, ""]) == document


def test_the_mark_is_set_and_has_no_width() -> None:
    assert plain(f"{NAME}{END}: 3") == f"{NAME}{END}: 3"
    assert width_mm(f"{NAME}{END}", 9.0) == width_mm(NAME, 9.0)
