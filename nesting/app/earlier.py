"""The plan made before in a job folder, when it still holds for the job as it stands."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

from ..errors import FileError
from ..files.hides import hide_to_dict
from ..files.layout import read_layout
from ..geometry import place
from ..model import Job, Layout, Placement
from ..planning.wishes import Wish, wanted

SAME_MM = 1e-3
"""Lines of a plan this near to those drawn now are the same: its file rounds them."""


def earlier_plan(folder: Path, job: Job) -> Layout | None:
    """The layout of an earlier plan in a job folder; None when none can be read, or it is of another job."""
    path = folder / "out" / "layout.json"
    try:
        layout = read_layout(path) if path.exists() else None
    except FileError:
        return None
    return layout if layout is not None and plans(layout, job) else None


def plans(layout: Layout, job: Job) -> bool:
    """Whether a layout is a plan of this job as it stands: the same workshop, orders, hides and drawings."""
    hides = {hide.id: hide_to_dict(hide) for hide in job.hides}
    wishes = {(w.order, w.product.name, w.part.name, w.piece, w.copy, w.mirrored): w for w in wanted(job)}
    if layout.workshop != job.workshop or any(hide_to_dict(hide) != hides.get(hide.id) for hide in layout.hides):
        return False
    if layout.wanted != Counter(key[:3] for key in wishes):
        return False
    return all(
        (wish := wishes.get(placement.key)) is not None and as_asked(placement, wish) and as_drawn(placement, wish)
        for placement in layout.placements
    )


def as_asked(placement: Placement, wish: Wish) -> bool:
    """Whether a placement is of the part that is asked for now, whatever its drawing."""
    part, needs = wish.drawn, ("grade", "direction", "thickness_mm")
    asked = (wish.match, wish.kind, wish.product.same_lot)
    return asked == (placement.match, placement.kind, placement.same_lot) and all(
        getattr(part, need) == getattr(placement, need) for need in needs
    )


def as_drawn(placement: Placement, wish: Wish) -> bool:
    """Whether a placement has the lines of the part as it is drawn now."""
    part = wish.drawn
    if part.engrave_how != placement.engrave_how:
        return False
    if placement.drawn is not None and placement.drawn != part.curves:
        return False
    pairs = [(part.outline, placement.outline)]
    for kind in ("cutouts", "stitch", "engrave"):
        if len(getattr(part, kind)) != len(getattr(placement, kind)):
            return False
        pairs += zip(getattr(part, kind), getattr(placement, kind))
    return all(
        place(drawn, placement.x, placement.y, placement.angle).equals_exact(laid, SAME_MM) for drawn, laid in pairs
    )
