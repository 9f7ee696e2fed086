"""A frame's paper: shapes taken to points on it, and where texts may still stand."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from shapely import affinity
from shapely.geometry.base import BaseGeometry

from hgmap.report.drawing import PT_PER_MM, Frame
from hgmap.report.ground import Ground
from hgmap.report.labels import Paper
from hgmap.site.building import Floor


def on_paper(shape: BaseGeometry, frame: Frame) -> BaseGeometry:
    """Take a shape from metres to points from the frame's corner."""
    scale = frame.mm_per_m * PT_PER_MM
    return affinity.affine_transform(
        shape, (scale, 0, 0, scale, -frame.west_m * scale, -frame.south_m * scale)
    )


def free_paper(floor: Floor, frame: Frame, rooms: Sequence[BaseGeometry]) -> Paper:
    """Return the paper of a frame with its walls; openings are taken."""
    ground = Ground(rooms, [on_paper(wall, frame) for wall in floor.walls])
    edge = (1.0, 1.0, frame.width_mm * PT_PER_MM - 1.0, frame.height_mm * PT_PER_MM - 1.0)
    paper = Paper(edge, ground)
    boxes = [on_paper(one.line, frame).bounds for one in floor.openings]
    paper.take(np.array([(w - 2.0, s - 2.0, e + 2.0, n + 2.0) for w, s, e, n in boxes]))
    return paper


def also_clear_of(paper: Paper, lines: Sequence[BaseGeometry], frame: Frame) -> Paper:
    """Return the same paper, whose texts keep off more lines (m)."""
    ground = Ground(paper.ground.rooms, paper.ground.walls, [on_paper(one, frame) for one in lines])
    return Paper(paper.edge, ground, paper.boxes, paper.texts, paper.leaders)
