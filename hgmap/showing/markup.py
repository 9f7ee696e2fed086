"""HTML for notebooks: every text is escaped here, and nothing is loaded from anywhere.

No colour is set but those of the zones, whose words stand beside them: ink and paper are the
notebook's own, light or dark.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape
from typing import Final, NamedTuple

MOST_ROWS: Final = 20
MOST_NOTES: Final = 12
_LONGEST: Final = 2000
"""Letters of one cell; what is longer ends in an ellipsis."""

_LINE: Final = "1px solid rgba(128,128,128,.5)"
_CELL: Final = f"padding:0.15em 0.6em;vertical-align:top;border-bottom:{_LINE};"
_HEAD: Final = "font-weight:600;"


class Markup(str):
    """Text that is HTML already; everything else is escaped."""

    __slots__ = ()


class Table(NamedTuple):
    """A table: its columns, its rows, and what it is of.

    ``numbers`` are positions of columns that are set to the right; ``more`` says where the rest
    stands that is not shown.
    """

    head: Sequence[str]
    rows: Sequence[Sequence[object]]
    title: str = ""
    numbers: Sequence[int] = ()
    more: str = ""
    most: int = MOST_ROWS


class Notes(NamedTuple):
    """A list of sentences under a heading."""

    title: str
    texts: Iterable[str]


def page(title: str, lines: Iterable[str], *parts: Table | Notes) -> str:
    """Put an object into HTML: what it is, what holds for all of it, its tables."""
    inner = [f'<div style="font-weight:700">{shown(title)}</div>']
    inner += [f"<div>{shown(one)}</div>" for one in lines if one]
    inner += [_table(one) if isinstance(one, Table) else _notes(one) for one in parts]
    return (
        '<div style="line-height:1.35;text-align:left;margin:0.2em 0">' + "".join(inner) + "</div>"
    )


def shown(value: object) -> str:
    """Return a value as HTML; letters that steer a terminal or turn a line around are left out."""
    if isinstance(value, Markup):
        return str(value)
    text = "" if value is None else str(value)
    text = "".join(one for one in text if one.isprintable() or one in "\n\t")
    if len(text) > _LONGEST:
        text = text[: _LONGEST - 1] + "…"
    return escape(text, quote=True)


def swatch(colour: str, word: str) -> Markup:
    """Return a word with a spot of colour before it."""
    look = f"background:{colour};border:{_LINE};width:0.7em;height:0.7em;margin-right:0.4em"
    spot = f'<span style="display:inline-block;{shown(look)}"></span>'
    return Markup(spot + shown(word))


def _table(one: Table) -> str:
    if not one.rows:
        return ""
    aside = [
        "text-align:right;font-variant-numeric:tabular-nums;white-space:nowrap;"
        if column in one.numbers else "text-align:left;"
        for column in range(len(one.head))
    ]  # fmt: skip
    head = "".join(
        f'<th style="{_CELL}{_HEAD}{side}">{shown(name)}</th>'
        for name, side in zip(one.head, aside, strict=True)
    )
    body = "".join(
        "<tr>" + "".join(
            f'<td style="{_CELL}{side}">{shown(value)}</td>'
            for value, side in zip(row, aside, strict=True)
        ) + "</tr>"
        for row in one.rows[: one.most]
    )  # fmt: skip
    left = len(one.rows) - one.most
    more = f": {one.more}" if one.more else ""
    rest = f"<div>{shown(f'and {left} more rows{more}')}</div>" if left > 0 else ""
    title = _heading(one.title) if one.title else ""
    return (
        f'{title}<table style="border-collapse:collapse;margin:0.3em 0"><thead><tr>{head}</tr>'
        f"</thead><tbody>{body}</tbody></table>{rest}"
    )


def _heading(text: str) -> str:
    return f'<div style="font-weight:600;margin-top:0.6em">{shown(text)}</div>'


def _notes(one: Notes) -> str:
    texts = list(dict.fromkeys(text for text in one.texts if text))
    if not texts:
        return ""
    items = "".join(f"<li>{shown(text)}</li>" for text in texts[:MOST_NOTES])
    if len(texts) > MOST_NOTES:
        items += f"<li>{shown(f'and {len(texts) - MOST_NOTES} more')}</li>"
    listed = f'<ul style="margin:0.2em 0 0.2em 1.2em;padding:0">{items}</ul>'
    return _heading(one.title) + listed
