"""What translators work from: every message that goes through ``tr`` and ``tr_count``.

The catalogue is made from the source, with no tool besides Python::

    python -c "from hgmap.desktop.catalogue import write_pot; write_pot()"
"""

from __future__ import annotations

import ast
import importlib
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any, Final, get_args

PACKAGE: Final = Path(__file__).parent
POT: Final = PACKAGE / "locale" / "hgmap.pot"

HEAD: Final = """\
# Messages of the hgmap window. Made by hgmap.desktop.catalogue; do not edit.
msgid ""
msgstr ""
"Project-Id-Version: hgmap\\n"
"MIME-Version: 1.0\\n"
"Content-Type: text/plain; charset=UTF-8\\n"
"Content-Transfer-Encoding: 8bit\\n"
"Plural-Forms: nplurals=INTEGER; plural=EXPRESSION;\\n"
"""

Message = tuple[str, str]
"""One message, and its plural; the plural is empty where there is none."""


ZONES: Final = ("remediate", "resample", "clear", "no data")

BECAME: Final = ("fell", "rose", "cannot tell", "clear both times", "rebounded")
"""What became of a room's air between two rounds."""

OUT_OF_TABLES: Final = frozenset({
    ("desktop/actions.py", "text"), ("desktop/bar.py", "text"),
    ("desktop/explain_panel.py", "one.zone"),
    ("desktop/panels/map_panel.py", "text"), ("desktop/panels/map_panel.py", "name"),
    ("desktop/panels/map_panel.py", "one"),
    ("desktop/panels/map_panel.py", "SCREENING"),
    ("desktop/panels/log_page.py", "one"),
    ("desktop/panels/next_panel.py", "IMAGINARY"), ("desktop/panels/next_panel.py", "name"),
    ("desktop/panels/release_panel.py", "LICENSED"),
    ("desktop/window.py", "screening('air')"),
    ("desktop/window.py", "screening(site.medium if site is not None else 'air')"),
    ("desktop/panels/release_words.py", "change_word(one)"),
    ("desktop/panels/release_words.py", "one.ruling.outcome"),
    ("desktop/panels/release_panel.py", "outcome"),
})  # fmt: skip
"""Calls whose message a loop takes out of a table; :func:`_of_tables` knows the tables."""


def _of_tables() -> Iterator[tuple[str, str]]:
    from hgmap.decide.clearance.judge import Outcome
    from hgmap.desktop.bar import VIEWS, WAYS
    from hgmap.desktop.panels.log_page import PRINCIPLES
    from hgmap.desktop.panels.map_panel import HOW
    from hgmap.site.cautions import LICENSED, screening
    from hgmap.site.instruments.log_cells import KINDS
    from hgmap.site.model import Medium
    from hgmap.what_if import IMAGINARY

    yield from (("desktop/panels/log_page.py", text) for text in (*KINDS, *PRINCIPLES))
    yield from (("desktop/bar.py", text) for text, _ in VIEWS.values())
    yield from (("desktop/bar.py", text) for text in WAYS)
    yield from (("desktop/explain_panel.py", text) for text in ZONES)
    yield from (("desktop/panels/map_panel.py", text) for way in HOW.values() for text in way)
    yield "desktop/panels/next_panel.py", IMAGINARY
    yield "desktop/panels/release_panel.py", LICENSED
    yield from (("desktop/window.py", screening(one)) for one in get_args(Medium))
    yield from (("desktop/panels/release_panel.py", text) for text in get_args(Outcome))
    yield from (("desktop/panels/release_words.py", text) for text in BECAME)


def unknown_calls() -> list[tuple[str, str]]:
    """Return calls of ``tr`` whose message nobody can tell from the source: file and argument."""
    found = []
    for path in sorted(PACKAGE.rglob("*.py")):
        where = path.relative_to(PACKAGE.parent).as_posix()
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if not (isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.args):
                continue
            if node.func.id == "tr_count":
                told = all(_text(part) is not None for part in node.args[:2])
            elif node.func.id == "tr":
                told = _text(node.args[0]) is not None or any(
                    _constants(_module(path), node.args[0])
                )
            else:
                continue
            if not told:
                found.append((where, ast.unparse(node.args[0])))
    return [one for one in found if one not in OUT_OF_TABLES]


def messages() -> dict[Message, list[str]]:
    """Return every message, with the files that say it, in order."""
    found: dict[Message, list[str]] = {}
    for path in sorted(PACKAGE.rglob("*.py")):
        where = path.relative_to(PACKAGE.parent).as_posix()
        for message in _messages_of(path):
            places = found.setdefault(message, [])
            if where not in places:
                places.append(where)
    for where, text in _of_tables():
        places = found.setdefault((text, ""), [])
        if where not in places:
            places.append(where)
    return dict(sorted(found.items()))


def pot_text() -> str:
    """Return the catalogue's text (GNU gettext)."""
    parts = [HEAD]
    for (one, several), places in messages().items():
        lines = [f"#: {' '.join(places)}"]
        if "{" in one + several:
            lines.append("#, python-brace-format")
        lines.append(f"msgid {_quoted(one)}")
        if several:
            lines += [f"msgid_plural {_quoted(several)}", 'msgstr[0] ""', 'msgstr[1] ""']
        else:
            lines.append('msgstr ""')
        parts.append("\n".join(lines) + "\n")
    return "\n".join(parts)


def write_pot() -> Path:
    """Write the catalogue beside the program; return its place."""
    POT.parent.mkdir(exist_ok=True)
    POT.write_text(pot_text(), "utf-8")
    return POT


def _quoted(text: str) -> str:
    inside = text.replace("\\", "\\\\").replace('"', '\\"').replace("\n", "\\n")
    return f'"{inside}"'


def _messages_of(path: Path) -> Iterator[Message]:
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if not (isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.args):
            continue
        if node.func.id == "tr_count":
            one, several = (_text(part) for part in node.args[:2])
            if one and several:
                yield one, several
        elif node.func.id == "tr":
            text = _text(node.args[0])
            if text is not None:
                yield text, ""
                continue
            for text in _constants(_module(path), node.args[0]):
                yield text, ""


def _module(path: Path) -> Any:
    name = ".".join(path.relative_to(PACKAGE.parent.parent).with_suffix("").parts)
    return importlib.import_module(name.removesuffix(".__init__"))


def _text(node: ast.expr) -> str | None:
    return node.value if isinstance(node, ast.Constant) and isinstance(node.value, str) else None


def _constants(module: Any, node: ast.expr) -> Iterator[str]:
    """Go through what a name of a module may say: a text, or those of a table."""
    base = node.value if isinstance(node, ast.Subscript) else node
    if not isinstance(base, ast.Name):
        return
    value = getattr(module, base.id, None)
    if isinstance(value, str):
        yield value
    elif isinstance(value, Mapping):
        yield from (text for text in value.values() if isinstance(text, str) and text)
    elif isinstance(value, tuple):
        yield from (text for text in value if isinstance(text, str) and text)
