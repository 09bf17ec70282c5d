"""How good an arrangement is: what is left out, and the leather it takes."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import shapely
from shapely.geometry import Polygon

from ..geometry import place, wide_enough
from ..leather.knife import divide, reach
from .case import Case, Ground, Lie, Lies, on_ground


def unplaced_mm2(case: Case, placed: Iterable[int]) -> tuple[float, ...]:
    """Area of the wishes not placed, by rank, the most urgent first."""
    found, areas = set(placed), {wish.rank: 0.0 for wish in case.wishes}
    for index, (wish, size) in enumerate(zip(case.wishes, case.sizes_mm2)):
        if index not in found:
            areas[wish.rank] += size
    return tuple(areas[rank] for rank in sorted(areas))


def pieces_missing(case: Case, lies: Lies) -> tuple[float, ...]:
    """What the pieces that are not whole count, by rank, the most urgent first."""
    counts = {wish.rank: 0.0 for wish in case.wishes}
    for piece, indices in case.pieces.items():
        if any(index not in lies for index in indices):
            counts[case.wishes[indices[0]].rank] += case.worth[piece]
    return tuple(counts[rank] for rank in sorted(counts))


def score(case: Case, grounds: Sequence[Ground], lies: Lies) -> tuple[float, ...]:
    """Smaller is better: pieces that are not whole by rank, area left out by rank, then the leather consumed."""
    used = sum(consumed_mm2(case, ground, on_ground(lies, number)) for number, ground in enumerate(grounds))
    return (*pieces_missing(case, lies), *unplaced_mm2(case, lies), used)


def consumed_mm2(case: Case, ground: Ground, lies: Lies) -> float:
    """Leather of a ground from its packed end to the farthest part."""
    if not lies:
        return 0.0
    away = ground.towards_deg + 180.0
    front = max(reach(outline(case, index, lie), away)[1] for index, lie in lies.items())
    return float(sum(bit.area for bit in divide(ground.polygon, away, front)[0]))


def used_up_mm2(case: Case, polygon: Polygon, lies: Lies) -> float:
    """Leather of a bit of hide that is not left in offcuts worth keeping."""
    parts = shapely.union_all([outline(case, index, lie).buffer(case.margins.kerf_mm) for index, lie in lies.items()])
    kept = wide_enough(polygon.difference(parts), case.workshop.smallest_offcut_mm)
    return float(polygon.area - sum(bit.area for bit in kept))


def outline(case: Case, index: int, lie: Lie) -> Polygon:
    """The finished edge of a wished part where it lies."""
    return place(case.wishes[index].drawn.outline, lie.x, lie.y, lie.angle_deg)
