"""Only what a person accepted goes into a plan, and nothing twice."""

from __future__ import annotations

import functools
import json
from collections.abc import Callable
from typing import Any

import pytest

from hgmap.editing.accept_walls import Chosen, accept_walls, read_choice
from hgmap.editing.floor_settings import EMPTY_PLAN
from hgmap.editing.plan_draft import PlanDraft, read_plan_draft
from hgmap.editing.rooms_of_walls import find_rooms
from hgmap.errors import PlanError
from hgmap.site.plan import read_plan
from hgmap.site.wall_finding.proposals import propose_walls
from hgmap.site.wall_finding.proposed import WallProposals
from tests.site.wall_finding.drawn_floors import draw_floor

ALL = Chosen(tuple(range(1, 9)), (1, 2))


@functools.cache
def proposals() -> WallProposals:
    drawn = draw_floor(m_per_px=0.03)
    return propose_walls(drawn.grey, drawn.picture)


def empty() -> PlanDraft:
    return read_plan_draft(EMPTY_PLAN)


def test_nothing_is_taken_over_by_proposing() -> None:
    assert len(proposals().walls) == 8
    accepted = accept_walls(empty(), proposals(), Chosen((), ()))
    assert accepted.draft.to_bytes() == EMPTY_PLAN


def test_what_was_chosen_is_on_the_plan_and_nothing_else() -> None:
    accepted = accept_walls(empty(), proposals(), Chosen((2, 5), (1,)))
    assert (accepted.walls, accepted.doors, accepted.there) == (2, 1, ())
    walls = [one.geometry for one in accepted.draft.walls]
    for wall, number in zip(walls, (2, 5), strict=True):
        assert wall is not None
        assert wall.hausdorff_distance(proposals().walls[number - 1].line) < 1e-3
    (opening,) = accepted.draft.openings
    assert (opening.id, opening.state) == ("gap-1", "open")


def test_what_is_there_already_is_not_put_there_twice() -> None:
    once = accept_walls(empty(), proposals(), ALL)
    again = accept_walls(once.draft, proposals(), ALL)
    assert again.draft is once.draft
    assert (again.walls, again.doors) == (0, 0)
    assert again.there == (*(f"wall {n}" for n in range(1, 9)), "gap d1", "gap d2")


def test_a_wall_along_the_edge_of_a_room_is_there_already(
    make_room: Callable[..., dict[str, Any]], make_plan: Callable[..., dict[str, Any]]
) -> None:
    plan = make_plan(make_room("A", 0.05, 0.05, 11.95, 7.95))
    draft = read_plan_draft(json.dumps(plan).encode())
    accepted = accept_walls(draft, proposals(), ALL)
    assert accepted.walls == 4  # the four of the outline are its edges
    assert len(accepted.there) == 4
    read = read_plan(accepted.draft.to_bytes(), where="", floor="")
    assert (len(read.rooms), len(read.walls), len(read.openings)) == (1, 4, 2)


def test_the_id_of_a_gap_is_one_of_its_own(
    make_feature: Callable[..., dict[str, Any]], make_plan: Callable[..., dict[str, Any]]
) -> None:
    other = make_feature("opening", "LineString", [[1, 0], [2, 0]], id="gap-1")
    draft = read_plan_draft(json.dumps(make_plan(other)).encode())
    made = accept_walls(draft, proposals(), Chosen((), (1, 2))).draft
    assert [one.id for one in made.openings] == ["gap-1", "gap-2", "gap-3"]


@pytest.mark.parametrize(
    ("text", "chosen"),
    [
        ("all", ALL), (" ALL ", ALL), ("3", Chosen((3,), ())), ("d2", Chosen((), (2,))),
        ("1-3, 7,d1-d2", Chosen((1, 2, 3, 7), (1, 2))), ("D1,2,2", Chosen((2,), (1,))),
    ],
)  # fmt: skip
def test_numbers_are_read_as_people_write_them(text: str, chosen: Chosen) -> None:
    assert read_choice(text, proposals()) == chosen


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "is no number"), ("x", "is no number"), ("1,,2", "is no number"), ("9", "no wall 9"),
        ("0", "no wall 0"), ("1-99", "no wall 9"), ("d3", "no door gap d3"), ("d", "is no number"),
        ("-1", "is no number"),
    ],
)  # fmt: skip
def test_what_is_not_proposed_cannot_be_accepted(text: str, said: str) -> None:
    with pytest.raises(PlanError, match=said):
        read_choice(text, proposals())


def test_a_number_that_is_not_proposed_changes_nothing() -> None:
    for chosen in (Chosen((99,), ()), Chosen((), (99,))):
        with pytest.raises(PlanError, match="99"):
            accept_walls(empty(), proposals(), chosen)


def test_rooms_are_found_from_the_walls_that_were_accepted() -> None:
    found = find_rooms(accept_walls(empty(), proposals(), ALL).draft)
    areas = sorted(one.area_m2 for one in found.draft.sound_rooms.values())
    # between the middles of walls 0.2 m thick
    assert areas == pytest.approx([7.0 * 3.4, 7.0 * 4.6, 5.0 * 8.0], rel=0.02)
    widths = [one.line.length for one in found.draft.sound_openings.values()]
    assert widths == pytest.approx([0.9, 0.9], abs=0.1)
