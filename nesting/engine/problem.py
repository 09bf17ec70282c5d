"""What the engine is asked and what it answers: containers, obstacles by class, items with allowed angles, poses."""

from __future__ import annotations

from collections.abc import Hashable, Sized
from dataclasses import dataclass

from shapely.geometry import MultiPolygon, Polygon

MM2_PER_DM2 = 1e4
FREE = ((0.0, 360.0),)
"""Allowed angles of an item that may be turned at will."""


@dataclass(frozen=True)
class Obstacle:
    """An area of a container that is forbidden to whatever avoids its class."""

    polygon: Polygon | MultiPolygon
    kind: int


@dataclass(frozen=True)
class Container:
    """A region to pack into.

    Parameters
    ----------
    region : Polygon or MultiPolygon
        Where items may lie (mm); its holes are forbidden to every item.
    obstacles : tuple of Obstacle
        Areas forbidden only to the item areas that avoid their class.
    axis_deg : float
        Item angles are counted from this direction.
    towards_deg : float
        Items are packed towards the end of the container that lies in this direction.
    site : hashable
        Containers of one site count as one place for items that must stay together.
    """

    region: Polygon | MultiPolygon
    obstacles: tuple[Obstacle, ...] = ()
    axis_deg: float = 0.0
    towards_deg: float = 180.0
    site: Hashable = None

    def __post_init__(self) -> None:
        if self.region.is_empty or not self.region.is_valid:
            raise ValueError(f"container region is {'empty' if self.region.is_empty else 'not valid'}")


@dataclass(frozen=True)
class Area:
    """A part of an item's surface and the obstacle classes it must stay clear of."""

    polygon: Polygon | MultiPolygon
    avoids: frozenset[int] = frozenset()


@dataclass(frozen=True)
class Shape:
    """The form shared by equal items.

    Parameters
    ----------
    polygon : Polygon
        Outer edge, already grown by half of the distance to keep between items (mm); holes are ignored.
    areas : tuple of Area
        What has to avoid which obstacle classes; without any, only the container's region counts.
    angles : tuple of (low, high)
        Allowed angles in degrees from the container's axis; equal ends fix the angle.
    """

    polygon: Polygon
    areas: tuple[Area, ...] = ()
    angles: tuple[tuple[float, float], ...] = FREE

    def __post_init__(self) -> None:
        if self.polygon.is_empty or not self.polygon.is_valid:
            raise ValueError("item polygon is empty or not valid")
        if not self.angles or any(high < low for low, high in self.angles):
            raise ValueError(f"angles {self.angles}: give (low, high) pairs with low <= high")


@dataclass(frozen=True)
class Item:
    """One thing to pack: its shape, its rank (0 is placed first), and the group that must share a site.

    ``containers`` limits where it may go (indices); ``None`` allows all.
    """

    shape: int
    rank: int = 0
    group: Hashable = None
    containers: tuple[int, ...] | None = None


@dataclass(frozen=True)
class Problem:
    """Containers, shapes and items to pack.

    ``tolerance_mm`` is how far the edge of a shape up to 300 mm may be moved outwards, and that of a container inwards,
    where that leaves it fewer corners; of larger ones in proportion. What has few corners stays as it is.
    """

    containers: tuple[Container, ...]
    shapes: tuple[Shape, ...]
    items: tuple[Item, ...]
    tolerance_mm: float = 0.02

    def __post_init__(self) -> None:
        for number, item in enumerate(self.items):
            if not 0 <= item.shape < len(self.shapes):
                raise ValueError(f"item {number} asks for shape {item.shape}; there are {len(self.shapes)}")

    def __str__(self) -> str:
        needed = sum(self.shapes[item.shape].polygon.area for item in self.items)
        room = sum(container.region.area for container in self.containers)
        return (
            f"{_counted(self.items, 'item')} of {_counted(self.shapes, 'shape')}, {needed / MM2_PER_DM2:.1f} dm2, into "
            f"{_counted(self.containers, 'container')}, {room / MM2_PER_DM2:.1f} dm2"
        )


@dataclass(frozen=True)
class Pose:
    """Where an item lies: its polygon turned by ``angle_deg`` about the origin, then moved by (x, y), in
    ``container``."""

    container: int
    x: float
    y: float
    angle_deg: float


@dataclass(frozen=True)
class Solution:
    """An answer: a pose (or None) for every item, and how good it is.

    ``unplaced_mm2`` is the area of the items without a pose by rank; ``consumed_mm2`` is the area of the containers
    from their packed end to the farthest item. ``interrupted`` says that Ctrl-C or a cancel broke the search off.
    """

    poses: tuple[Pose | None, ...]
    unplaced_mm2: tuple[float, ...]
    consumed_mm2: float
    iterations: int = 0
    seconds: float = 0.0
    interrupted: bool = False

    @property
    def score(self) -> tuple[float, ...]:
        """Smaller is better: items left out, most urgent rank first, then area consumed."""
        return (*self.unplaced_mm2, self.consumed_mm2)

    def __str__(self) -> str:
        placed = sum(pose is not None for pose in self.poses)
        took = f"{self.iterations} iterations in {self.seconds:.1f} s{', interrupted' if self.interrupted else ''}"
        return f"{placed} of {len(self.poses)} placed, {self.consumed_mm2 / MM2_PER_DM2:.1f} dm2 consumed, {took}"


def _counted(things: Sized, name: str) -> str:
    return f"{len(things)} {name}{'' if len(things) == 1 else 's'}"
