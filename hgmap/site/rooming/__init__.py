"""Rooms from walls, with every repair listed.

``rooms_from_walls`` takes the parts of a drawing in metres and gives a found plan.
"""

from hgmap.site.rooming.rooms import rooms_from_walls
from hgmap.site.rooming.settings import Rooming

__all__ = ["Rooming", "rooms_from_walls"]
