"""The plan of a floor, open for editing: each edit gives a new one, and saving is all or nothing.

The functions behind the edits are those of the window.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from pathlib import Path

from hgmap.editing.copy_floor import copy_floor
from hgmap.editing.plan_areas import merging, split_room
from hgmap.editing.plan_draft import PlanDraft, PlanFeature
from hgmap.editing.plan_edits import Place, delete, rename_room
from hgmap.editing.plan_of_floor import draft_of, floor_entry, floor_named, with_plan
from hgmap.editing.plan_openings import add_opening, move_opening, set_state
from hgmap.editing.readings_after import held_anew, readings_after, states_lost
from hgmap.editing.rename_rows import rename_in_readings
from hgmap.editing.rooms_of_walls import find_rooms
from hgmap.editing.save import save
from hgmap.editing.site_files import SiteFiles, read_site_files, site_of
from hgmap.editing.soundness import Finding, keep_as_drawn, soundness
from hgmap.editing.toml_edit import table_of
from hgmap.errors import PlanError, one_line
from hgmap.site.building import OpeningState
from hgmap.site.model import Site
from hgmap.site.plan_findings import PlanFinding
from hgmap.site.quality.figures import counted
from hgmap.site.rooming import Rooming
from hgmap.site.shared_plans import also_changes, floors_with_plan_of


@dataclass(frozen=True)
class OpenPlan:
    """A floor's plan as it stands after some edits; nothing is written until :meth:`save`.

    Attributes
    ----------
    files, base : SiteFiles
        The site's files after the edits, and as they stand on the disk.
    floor : str
        Name of the floor.
    said : tuple of str
        What each edit did, in a sentence, with areas before and after.
    """

    files: SiteFiles = field(repr=False)
    base: SiteFiles = field(repr=False)
    floor: str
    said: tuple[str, ...] = ()

    @cached_property
    def draft(self) -> PlanDraft:
        """Every feature of the plan, sound or not."""
        return draft_of(self.files, self.floor)

    @cached_property
    def findings(self) -> tuple[Finding, ...]:
        """What may be wrong with the plan as it is now."""
        return soundness(self.draft)

    @cached_property
    def readings(self) -> tuple[str, ...]:
        """Which rows of the readings mean something else after the edits, and what."""
        before, after = self._sites
        new = [one for one in after.problems if one not in before.problems]
        return (
            *readings_after(before, after),
            *states_lost(table_of(self.base), table_of(self.files)),
            *(one_line(one.message, where=one.where) for one in new if one.severity == "warning"),
        )

    @cached_property
    def also_changed(self) -> tuple[str, ...]:
        """A sentence for each other floor that the edits change, for it has the same plan file."""
        table = table_of(self.files)
        plan = floor_entry(table, self.floor).plan
        if self.files.data(plan) == self.base.data(plan):
            return ()
        return tuple(also_changes(one) for one in floors_with_plan_of(table, self.floor))

    @property
    def held_anew(self) -> int:
        """How many readings the edits would hold."""
        return held_anew(*self._sites)

    @cached_property
    def _sites(self) -> tuple[Site, Site]:
        return site_of(self.base), site_of(self.files)

    def split(self, room: str, line: Sequence[Place], names: Sequence[str] = ()) -> OpenPlan:
        """Cut a room in two along a line (m), drawn on to the walls at both its ends.

        The larger half keeps the id and the readings; ``names`` are of the larger and the other.
        """
        old = self._room(room)
        draft = split_room(self.draft, old.key, line, names)
        return self._with(
            draft,
            f"split {_with_area(self.draft, old)}: {_with_area(draft, draft.feature(old.key))} and "
            f"{_with_area(draft, draft.features[-1])}",
        )

    def merge(self, rooms: Sequence[str], name: str = "") -> OpenPlan:
        """Make one room of several neighbours, with the wall between them."""
        members = [self._room(one) for one in rooms]
        made = merging(self.draft, [one.key for one in members], name)
        listed = " and ".join(_with_area(self.draft, one) for one in members)
        merged = _with_area(made.draft, made.draft.feature(made.key))
        return self._with(made.draft, f"merged {listed} into {merged}: {made.text}")

    def add_opening(
        self, start: Place, end: Place, state: OpeningState = "open", id: str | None = None
    ) -> OpenPlan:
        """Put an opening onto the wall between two places (m), as long as it is wide."""
        draft = add_opening(self.draft, start, end, state, id)
        return self._with(draft, f"added {_joins(draft, draft.features[-1].key)}")

    def move_opening(self, opening: str, start: Place, end: Place) -> OpenPlan:
        """Draw an opening anew between two places (m); its id and state stay."""
        key = self._opening(opening).key
        draft = move_opening(self.draft, key, start, end)
        return self._with(
            draft, f"moved {_joins(self.draft, key)}; now {_joins(draft, key).partition(', ')[2]}"
        )

    def close_opening(self, opening: str, state: OpeningState = "closed") -> OpenPlan:
        """Say how an opening stands on the plan: closed, sealed, or open again."""
        old = self._opening(opening)
        draft = set_state(self.draft, old.key, state)
        return self._with(draft, f"{old.title}: {old.state} before, {state} now")

    def remove_opening(self, opening: str) -> OpenPlan:
        """Take an opening out; what rounds say of it goes too."""
        key = self._opening(opening).key
        return self._with(delete(self.draft, key), f"removed {_joins(self.draft, key)}")

    def rename(self, room: str, name: str, *, readings: bool = False) -> OpenPlan:
        """Give a room another name; its id stays.

        Readings that say the old name are held afterwards, unless it is the id too: with
        ``readings`` the new name is written into their rows.
        """
        old = self._room(room)
        draft = rename_room(self.draft, old.key, name)
        new = draft.feature(old.key)
        made = self._with(draft, "")
        text = f"renamed {_with_area(self.draft, old)}: {new.name!r} now, its id stays {new.id!r}"
        if readings:
            files, rows = rename_in_readings(
                made.files, site_of(self.files), self.floor, old.id, old.name, new.name
            )
            made = replace(made, files=files)
            text += f"; written into {counted(rows, 'row')} of the readings"
        return replace(made, said=(*self.said, text))

    def find_rooms(self, *, gap_m: float | None = None, refuse: Sequence[int] = ()) -> OpenPlan:
        """Add the rooms between the plan's walls, and the gaps as wide as a door as openings.

        Gaps up to ``gap_m`` (m) are closed; each repair is said by its number, and those of
        ``refuse`` are not made. Rooms that are drawn already stay.
        """
        settings = Rooming() if gap_m is None else Rooming(gap_m=gap_m)
        found = find_rooms(self.draft, settings, refuse)
        made = self._with(
            found.draft,
            f"found {counted(found.rooms, 'room')} and {counted(found.openings, 'opening')} "
            f"between the walls of floor {self.floor!r}",
        )
        repairs = (f"repair {one.number}: {one.text}" for one in found.repairs)
        look = (f"look: {one.text}" for one in found.doubts)
        left = (f"left out: {one}" for one in found.left_out)
        return replace(made, said=(*made.said, *repairs, *look, *left))

    def copy_floor(self, to: str, title: str = "") -> OpenPlan:
        """Add a floor with this plan, its openings and its north; this one stays open."""
        files = copy_floor(self.files, self.floor, to, title=title)
        area = sum(one.area_m2 for one in self.draft.sound_rooms.values())
        text = (
            f"copied floor {self.floor!r} to {to!r}: {counted(len(self.draft.rooms), 'room')} of "
            f"{area:.2f} m², {counted(len(self.draft.openings), 'opening')}, "
            f"{counted(len(self.draft.walls), 'wall')}"
        )
        return replace(self, files=files, said=(*self.said, text))

    def keep(self, finding: PlanFinding[PlanDraft]) -> OpenPlan:
        """Say of a finding that it stands so in the building; it comes back when its shapes change.

        Raises
        ------
        PlanError
            For an error: the plan is not read with it, whatever anybody says.
        """
        draft = keep_as_drawn(self.draft, finding)
        return self._with(draft, f"kept as drawn on floor {self.floor!r}: {finding.message}")

    def save(self) -> OpenPlan:
        """Write what was changed into the site; all of it, or nothing.

        Returns
        -------
        OpenPlan
            The plan as it stands on the disk; ``said`` names other floors that were changed too,
            for they have the same plan file.

        Raises
        ------
        ChangedOnDisk
            If a file was changed by somebody else since the plan was opened.
        HgmapError
            If something cannot be written; the disk is as it was.
        """
        return OpenPlan(self.files, save(self.files, self.base), self.floor, self.also_changed)

    def _with(self, draft: PlanDraft, text: str) -> OpenPlan:
        files = with_plan(self.files, self.floor, draft)
        return replace(self, files=files, said=(*self.said, text))

    def _room(self, word: str) -> PlanFeature:
        return _the_one(self.draft.rooms, word, f"room on floor {self.floor!r}")

    def _opening(self, word: str) -> PlanFeature:
        return _the_one(self.draft.openings, word, f"opening on floor {self.floor!r}")


def open_plan(site: Path | str, floor: str) -> OpenPlan:
    r"""Open the plan of a floor for editing, also one that is not sound.

    Parameters
    ----------
    site : path
        The site folder.
    floor : str
        Name or title of the floor.

    Returns
    -------
    OpenPlan

    Raises
    ------
    HgmapError
        If the site cannot be used, has no such floor, or its file is no plan at all.

    Examples
    --------
    A site with one room of 6 m by 5 m, cut in two with a door in the new wall:

    >>> import pathlib, tempfile
    >>> import hgmap
    >>> place = tempfile.TemporaryDirectory()
    >>> site = pathlib.Path(place.name)
    >>> _ = (site / "site.toml").write_text(
    ...     'schema_version = 1\nname = "A shed (invented)"\n'
    ...     '[[floors]]\nname = "ground"\nplan = "ground.geojson"\n')
    >>> _ = (site / "ground.geojson").write_text(
    ...     '{"type": "FeatureCollection", "features": [{"type": "Feature", "properties": {"kind":'
    ...     ' "room", "id": "H", "name": "Hall"}, "geometry": {"type": "Polygon", "coordinates":'
    ...     ' [[[0, 0], [6, 0], [6, 5], [0, 5], [0, 0]]]}}]}')
    >>> plan = hgmap.open_plan(site, "ground")
    >>> plan = plan.split("Hall", [(4, 0), (4, 5)], names=("Hall", "Store"))
    >>> plan = plan.add_opening((4, 2), (4, 2.9), "closed")
    >>> for text in plan.said:
    ...     print(text)
    split room 'Hall' (30.00 m²): room 'Hall' (20.00 m²) and room 'Store' (10.00 m²)
    added opening 'H-R1', 0.90 m wide, closed, between 'H' and 'R1'
    >>> saved = plan.save()
    >>> [room.name for room in hgmap.read_site(site).floors[0].rooms]
    ['Hall', 'Store']
    >>> place.cleanup()
    """
    files = read_site_files(site)
    name = floor_named(table_of(files), floor)
    draft_of(files, name)
    return OpenPlan(files, files, name)


def _the_one(features: Sequence[PlanFeature], word: str, what: str) -> PlanFeature:
    """Return the feature of an id or name; capitals are not told apart."""
    wanted = word.strip().casefold()
    found = [one for one in features if wanted in (one.id.casefold(), one.name.casefold())]
    if len(found) == 1:
        return found[0]
    if found:
        raise PlanError(
            f"{len(found)} features answer to {word!r}",
            todo="say the id of one, or mend that first: the soundness check can number them",
        )
    known = ", ".join(repr(one.name or one.id) for one in features[:8])
    more = f" and {len(features) - 8} more" if len(features) > 8 else ""
    raise PlanError(f"no {what} is called {word!r}", todo=f"known: {known or 'none'}{more}")


def _with_area(draft: PlanDraft, feature: PlanFeature) -> str:
    room = draft.sound_rooms.get(feature.key)
    return f"{feature.title} ({room.area_m2:.2f} m²)" if room else feature.title


def _joins(draft: PlanDraft, key: str) -> str:
    feature, opening = draft.feature(key), draft.sound_openings.get(key)
    if opening is None:
        return f"{feature.title}, which is not sound"
    rooms = [repr(one) for one in opening.rooms]
    where = f"between {' and '.join(rooms)}" if len(rooms) > 1 else f"at the edge of {rooms[0]}" \
        if rooms else "touching no room"  # fmt: skip
    return f"{feature.title}, {opening.line.length:.2f} m wide, {opening.state}, {where}"
