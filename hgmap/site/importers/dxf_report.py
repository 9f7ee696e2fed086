"""What is said of the layers of a drawing: what each was taken for, and what was left out."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from typing import Final

from hgmap.errors import PlanError
from hgmap.site.importers.dxf_entities import Label, Shape
from hgmap.site.importers.dxf_layers import Layer, few
from hgmap.site.importers.dxf_shapes import Content, Left
from hgmap.site.importers.names import one_line_text

LISTED: Final = 10
"""So many doors or shapes that were left out are named one by one; the rest is a count."""
LAYERS_LISTED: Final = 30
"""So many layers that were not used have a line each."""


def layer_lines(
    known: Mapping[str, Layer],
    content: Content,
    shapes: Sequence[Shape],
    labels: Sequence[Label],
    left: Left,
) -> list[str]:
    """Return a line for each layer: its role, what was used of it, and what was left out by type.

    Parameters
    ----------
    known : mapping
        What each layer is for.
    content : Content
        All that is drawn, with what was left out on reading.
    shapes, labels : sequence
        What was used, but for
    left : Counter
        what was left out on the way to parts.
    """
    used: dict[str, Counter[str]] = {}
    drawn: tuple[Shape | Label, ...] = (*shapes, *labels)
    for one in drawn:
        used.setdefault(one.layer, Counter())[one.kind] += 1
    out: dict[str, Counter[tuple[str, str]]] = {}
    for (name, kind, why), n in (*content.left.items(), *left.items()):
        out.setdefault(name, Counter())[kind, why] += n
    for (name, kind, _), n in left.items():
        used[name][kind] -= n
    lines: list[str] = []
    unused: list[str] = []
    for name in sorted({*used, *out}, key=str.casefold):
        layer = known.get(name, Layer(None))
        kinds = +used.get(name, Counter())
        line = _line(name, layer, kinds, out.get(name, Counter()))
        (lines if kinds else unused).append(line)
    if len(unused) > LAYERS_LISTED:
        more = len(unused) - LAYERS_LISTED
        unused = [*unused[:LAYERS_LISTED], f"{more} more layers of which nothing was used"]
    return lines + unused


def no_layer_known(
    content: Content, known: Mapping[str, Layer], hidden: Mapping[str, str], *, file: str
) -> PlanError:
    """Return the complaint of a drawing whose walls nobody can tell, with its layers."""
    counts: Counter[str] = Counter()
    drawn: tuple[Shape | Label, ...] = (*content.shapes, *content.labels)
    for one in drawn:
        counts[one.layer] += 1
    for (name, _, _), n in content.left.items():
        counts[name] += n
    listed = few(
        f"{one_line_text(name)} ({n}{_why_not(name, known, hidden)})"
        for name, n in counts.most_common()
    )
    return PlanError(
        f"no layer that is shown is known to hold walls or rooms; its layers (and entities): "
        f"{listed}",
        where=file,
        todo='say which it is: --layers "wall=NAME", or wall=NAME;OTHER with * for any text; a '
        "layer can also be door, window, room, walkable, outline or text",
    )


def first_few(lines: Sequence[str], what: str) -> list[str]:
    """Return the first ten lines, and how many more there are."""
    more = len(lines) - LISTED
    return [*lines[:LISTED], *([f"{more} more {what} of that sort"] if more > 0 else [])]


def _line(name: str, layer: Layer, kinds: Counter[str], out: Counter[tuple[str, str]]) -> str:
    role = layer.why if layer.role == "ignore" else layer.role or "not known"
    said = ", as said" if layer.why == "as said" and layer.role != "ignore" else ""
    text = f"layer {one_line_text(name)}: {role}{said}"
    if kinds:
        text += f"; used: {_counts(kinds)}"
    if out:
        reasons: dict[str, Counter[str]] = {}
        for (kind, why), n in out.items():
            reasons.setdefault(why, Counter())[kind] += n
        parts = [
            _counts(one) + (f" ({why})" if why else "") for why, one in sorted(reasons.items())
        ]
        text += f"; left out: {'; '.join(parts)}"
    return text


def _counts(kinds: Counter[str]) -> str:
    return ", ".join(f"{n} {kind}" for kind, n in sorted(kinds.items()))


def _why_not(name: str, known: Mapping[str, Layer], hidden: Mapping[str, str]) -> str:
    if name.casefold() in hidden:
        return f", {hidden[name.casefold()]}"
    layer = known.get(name, Layer(None))
    return f", {layer.why or layer.role}" if layer.role is not None else ""
