"""How the leather of a bed load is laid on the bed, in words for its card."""

from __future__ import annotations

import math
from itertools import combinations

from shapely.geometry import Point, Polygon

from ..laser.load import BedLoad
from ..laser.registration import BY_HAND, BedPose, knife_edges, named_points
from ..laser.stages import Stage, cut_off_at, points_on_bed
from ..model import Hide, Machine, units

AS_BEFORE = "Leave the leather where it lies after the run before."
MOST_POINTS = 4
"""Points whose distances a card tells: two are enough to lay by, and of more a card has no room."""
NO_EDGE = "No knife-straight edge of it fits a stop"


def laying(load: BedLoad, pose: BedPose, hide: Hide, panel: Polygon, machine: Machine) -> str:
    """How the leather of a load is laid on the bed."""
    return _laid(load, pose, hide, panel, machine) + _inset(load, pose, machine)


def _inset(load: BedLoad, pose: BedPose, machine: Machine) -> str:
    """How far the corner that leather is laid into is from that of the bed, where it is."""
    moved = load.run > 1 or (load.stage is not None and load.stage.number > 1) or pose.how.startswith("by two points")
    if moved or not machine.bed_margin_mm:
        return ""
    return (
        f" The corner it is laid into is {machine.bed_margin_mm:g} mm in from the bed's {machine.bed_stop} corner, "
        "along both sides: the bed margin. Where stops stand at the bed's own sides, lay spacers so thick against them."
    )


def _laid(load: BedLoad, pose: BedPose, hide: Hide, panel: Polygon, machine: Machine) -> str:
    if load.stage is not None:
        return _fed(load, load.stage, pose, hide, panel, machine)
    if load.run > 1:
        return AS_BEFORE
    if pose.how == BY_HAND:
        return f"{NO_EDGE}: lay it by a frame of card, or measure two points and align the file."
    if pose.how.startswith("by two points"):
        return f"The file is turned to where it lies, {pose.how}."
    if pose.how.startswith("the hole"):
        return f"Grain side up, in {pose.how}."
    return f"Grain side up, {pose.how}, pushed into the corner."


def points_to_measure(load: BedLoad, pose: BedPose, hide: Hide, panel: Polygon, machine: Machine, first: str) -> str:
    """Where the lettered points of a load are, and how far apart, so that a rule finds them; empty of one fed through,
    whose marks are told with how it is laid."""
    if load.stage is not None or load.run > 1:
        return ""
    points = named_points(panel, hide)
    names = list(points)[:MOST_POINTS]
    cut = len(knife_edges(panel, hide)) > 0
    what = "corners that the knife left" if cut else "the points of its edge that lie farthest apart"
    pairs = ", ".join(
        f"{one} to {other} {units.tape_words(math.dist(points[one], points[other]), first)}"
        for one, other in combinations(names, 2)
    )
    (wide, high), inset = pose.bed_mm, machine.bed_margin_mm
    across, up = (
        ("right" if "right" in machine.bed_stop else "left"),
        ("top" if "top" in machine.bed_stop else "bottom"),
    )
    places = []
    for name in names:
        ((x, y),) = pose.put(Point(points[name])).coords
        aside = (wide - x if across == "right" else x) - inset
        above = (high - y if up == "top" else y) - inset
        places.append(
            f"{name} {units.tape_words(max(aside, 0.0), first)} and {units.tape_words(max(above, 0.0), first)}"
        )
    listed = f"{', '.join(names[:-1])} and {names[-1]}"
    return f"{listed}: {what}. {pairs}. From the {across} and the {up} stop: {'; '.join(places)}."


def _fed(load: BedLoad, stage: Stage, pose: BedPose, hide: Hide, panel: Polygon, machine: Machine) -> str:
    """How leather that is longer than the bed is laid or fed on, and where to mark it for the next stage."""
    points, number, towards = named_points(panel, hide), stage.number, stage.towards
    along = next((stop for stop in machine.bed_stop.split() if stop != towards), "other")
    mark, following, aligned = f"S{number}", f"S{number + 1}", pose.how.startswith("by two points")
    seen = points_on_bed(stage, pose, panel, hide)

    def place(name: str) -> str:
        near = {point: there for point, there in points.items() if point in seen} or points
        away, point = min((math.dist(there, stage.marks[name]), point) for point, there in near.items())
        return f"{away:.0f} mm straight from {point}"

    if load.run > 1:
        return AS_BEFORE
    cut_off = cut_off_at(stage, pose, panel, machine) is not None
    text = "Take out what is cut free." if number > 1 else "Grain side up."
    if stage.seam is not None and number > 1:
        text = "Tape the half that is burnt to the leather around it: it hangs on at the seam only."
    if stage.fed_mm:
        if number == 1:
            text += f" Mark {mark} on the edge along the {along} stop, {place(mark)}; point A towards the {towards}."
        if cut_off:
            # all that is still to burn lies beyond the mark, whatever was burnt reached over it
            text += (
                f" What is left around it would reach {stage.fed_mm - machine.overhang_mm:g} mm too far over the "
                f"{towards} end of the bed: cut it off at mark {mark}, square to the edge along the {along} stop, and "
                "keep the offcuts that the guide shows."
            )
        text += (
            f" Take the {towards} stop away. Slide the leather {stage.step_mm:g} mm to the {towards} along the {along} "
            f"stop, until mark {mark} ({place(mark)}, on the edge along that stop) is at the {towards} end of the bed."
        )
        if not aligned:
            text += (
                " If it has slipped, or does not lie against that stop all along, measure two points and export again "
                f"with --align '{hide.id}/{load.panel}/{number} {mark}=x,y T{number}=x,y'."
            )
    elif pose.how == BY_HAND:
        text += (
            f" In the corner of the stops as the picture shows. {NO_EDGE}: measure two of the lettered points and "
            "align the file."
        )
    elif not aligned:
        text += f" Lay it with {pose.how}, its end at the {towards} end of the bed."
    if aligned:
        text += f" The file is turned to where it lies, {pose.how}."
    text += _over(stage, pose, panel, machine, cut_off)
    if following in stage.marks:
        text += f" Before you start, mark {following} on the edge along the {along} stop, {place(following)}"
        from_stop = stage.marks_mm[following] - stage.fed_mm
        on_bed = from_stop <= machine.window_mm[0 if towards in ("left", "right") else 1]
        text += f" and {from_stop:g} mm from the {towards} stop." if on_bed and not stage.fed_mm else "."
    return text


def _over(stage: Stage, pose: BedPose, panel: Polygon, machine: Machine, cut_off: bool) -> str:
    """How far leather hangs over the ends of the bed."""
    left, low, right, high = pose.put(panel).bounds
    wide, deep = machine.bed_width_mm, machine.bed_height_mm
    ends = {"left": -left, "right": right - wide} if stage.towards in ("left", "right") else {}
    ends = ends or {"bottom": -low, "top": high - deep}
    told = [
        f"{mm:.0f} mm over the {side} end"
        for side, mm in ends.items()
        if mm >= 0.5 and not (cut_off and side == stage.towards)
    ]
    return f" It reaches {' and '.join(told)} of the bed, which must be open: hold up what hangs over." if told else ""
