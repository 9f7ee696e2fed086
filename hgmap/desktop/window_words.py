"""What the core says, in the words of the window: no command stands where a button is meant.

The core's sentences are shared with the command line, and some say there which command helps.
Here that part of a sentence names the place of the window that does the same.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING, Final

from hgmap.desktop.words import tr
from hgmap.errors import HgmapError

if TYPE_CHECKING:
    from hgmap.questions.gather import Question

_SAID: Final[tuple[tuple[str, Callable[[], str]], ...]] = (
    (r"(?<=a name that )`hgmap levels` lists", lambda: tr("the bar above the plan lists")),
    (r"`hgmap levels` lists them", lambda: tr("the bar above the plan lists them")),
    (r"`hgmap check` says which readings are held, and why",
     lambda: tr("the second question says which readings are held, and why")),
    (r"`hgmap check` says how", lambda: tr("the second question says how")),
    (r"`hgmap map(?: --round [^`]*)?` says what the readings allow",
     lambda: tr("the third question says what the readings allow")),
    (r"`hgmap map` shows where", lambda: tr("the third question shows where")),
    (r"`hgmap import plan [^`]*` adds one",
     lambda: tr("add one under the first question, at Floor")),
    (r"`hgmap import readings` takes other columns",
     lambda: tr("pasted into the table of readings, other columns are taken too")),
    (r"add \[\[rounds\]\] with a readings file",
     lambda: tr("paste readings under the second question: that begins a round")),
    (r"--rule NAME asks for one", lambda: tr("one can be chosen under the fifth question")),
    (r"run again with --with-map",
     lambda: tr("tick the box that asks the map too, under the fifth question")),
    (r"or use --method idw or --straight",
     lambda: tr("or choose inverse distance, or straight lines, on the bar at How")),
    (r"use --straight, or map a part of the floor",
     lambda: tr("choose straight lines on the bar, at How")),
    (r"give a coarser --cell, or one --floor", lambda: tr("give a coarser cell in site.toml")),
    (r"give one --cell for both", lambda: tr("give one cell for both in site.toml")),
    (r"--from (?=\S+ \()", lambda: tr("the round before,") + " "),
    (r"(?<=is later than )--to ", lambda: tr("the round after,") + " "),
    (r"a region has its bulk or surface samples: say so with medium in site\.toml, and import "
     r"it with --units metres",
     lambda: tr("a region has its bulk or surface samples: say so with medium in site.toml")),
    (r"use --scale (?P<n>[\d.]+), or --paper (?P<papers>[a-z0-9 ]+)",
     lambda: tr("choose 1 : {n} or paper: {papers}")),
    (r"use --scale (?P<n>[\w.]+)", lambda: tr("choose 1 : {n}")),
    (r", or --paper (?P<papers>[a-z0-9 ]+)", lambda: tr(", or paper: {papers}")),
    (r"(?:choose another name|rename the floor), or say --replace",
     lambda: tr("choose another name, or let it take the place of that floor's plan")),
    (r"say which, as --page 1", lambda: tr("say which one")),
    (r"say another --page", lambda: tr("choose another page")),
    (r"say --dpi [\w.]+", lambda: tr("export it on smaller paper")),
    (r"leave --dpi out", lambda: tr("choose it as it is")),
    (r"give --point column,row=x,y twice or more", lambda: tr("click on two points or more")),
    (r", or say a longer --shortest", lambda: ""),
    (r"lay one under its plan: `hgmap import picture`",
     lambda: tr("lay one under its plan, at Floor")),
    (r"import them one by one: --storey and --floor", lambda: tr("bring them in one by one")),
    (r"import it into a new site, or write \[map_frame\] into site\.toml first",
     lambda: tr("begin a new survey with it")),
    (r"count rows downwards from the upper left corner, y upwards on the plan, and look whether",
     lambda: tr("look whether x runs to the right and y upwards, and whether")),
    (r"check their pixels and their metres",
     lambda: tr("click on them again, and check their metres")),
    (r"say --units lonlat or --units metres",
     lambda: tr("say in the plan file which of the two they are")),
)  # fmt: skip
_KNOWN: Final = tuple((re.compile(pattern), words) for pattern, words in _SAID)
_MARKS: Final = ("hgmap", "--", "[[", "[map_frame]", "count rows", "their pixels")
"""A sentence without one of these is said as it stands."""
_PLACE: Final = re.compile(
    r"(?:^|(?<=: ))--(?:at|level|round|floor|from|to|cell|clear-at|remediate-at|paper|scale|dpi|"
    r"room|also|rule|style|point|page|threshold|shortest|thickest|widest-door|accept): "
)


def for_window(text: str) -> str:
    """Return a sentence of the core as the window says it.

    Examples
    --------
    >>> for_window("no action level; choose one: `hgmap levels` lists them")
    'no action level; choose one: the bar above the plan lists them'
    """
    if not any(one in text for one in _MARKS):
        return text
    text = _PLACE.sub("", text)
    for pattern, words in _KNOWN:
        text = pattern.sub(partial(_filled, words), text)
    return text


def _filled(words: Callable[[], str], found: re.Match[str]) -> str:
    """Return the window's words with what the core's sentence named in them."""
    named = found.groupdict()
    return words().format(**named) if named else words()


def question_for_window(question: Question) -> Question:
    """Return a question whose answer and points are in the words of the window."""
    points = tuple(
        one if (said := (for_window(one.message), for_window(one.todo))) == (one.message, one.todo)
        else replace(one, message=said[0], todo=said[1])
        for one in question.points
    )  # fmt: skip
    return replace(question, answer=for_window(question.answer), points=points)


def in_one_line(error: Exception) -> str:
    """Say what went wrong; what nobody foresaw too, so that the window goes on."""
    if isinstance(error, HgmapError):
        return for_window(str(error))
    if isinstance(error, MemoryError):
        return tr("there is not enough memory for it; choose one floor or a coarser cell")
    return tr(
        "this cannot be worked out ({kind}: {error}); what you entered is kept",
        kind=type(error).__name__, error=error,
    )  # fmt: skip
