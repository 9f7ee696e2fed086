"""Which storeys of a file are wanted."""

from __future__ import annotations

from collections.abc import Sequence

from hgmap.errors import PlanError
from hgmap.site.importers.drawing import Drawing
from hgmap.site.importers.where import holds

FEW = 12


class SeveralStoreys(PlanError):  # noqa: N818
    """A file has several storeys, and none was chosen; ``names`` are in the order of the file."""

    names: tuple[str, ...] = ()


def choose_storey(drawings: Sequence[Drawing], wanted: str | None) -> Drawing:
    """Return the one storey that is meant.

    Raises
    ------
    PlanError
        If there are several and none is named, or none has that name.
    """
    names = [one.storey for one in drawings]
    if wanted is None:
        if len(drawings) == 1:
            return drawings[0]
        several = SeveralStoreys(
            f"it has {len(drawings)} storeys ({_few(names)})",
            where=drawings[0].file,
            todo=f'choose one for this floor: --storey "{names[len(names) // 2]}"',
        )
        several.names = tuple(names)
        raise several
    found = [one for one in drawings if holds([one.storey], wanted)]
    if len(found) == 1:
        return found[0]
    if not any(names):
        todo = "leave --storey out: the file has no names for storeys"
    else:
        todo = f"choose one of {_few(names)}"
    raise PlanError(
        f"{len(found) or 'no'} storeys are called {wanted!r}",
        where=f"{drawings[0].file}, --storey", todo=todo,
    )  # fmt: skip


def _few(names: Sequence[str]) -> str:
    shown = [one or "without a name" for one in names[:FEW]]
    return ", ".join(shown) + (f" and {len(names) - FEW} more" if len(names) > FEW else "")
