"""How the leather of a bed load is laid on the bed, in words for its card."""

from __future__ import annotations

import math

from shapely.geometry import Polygon

from ..laser.load import BedLoad
from ..laser.registration import BY_HAND, named_points
from ..model import Hide, Machine


def laying(load: BedLoad, hide: Hide, panel: Polygon, machine: Machine) -> str:
    """How the leather of a load is laid on the bed."""
    if load.stage is not None:
        return _fed(load, hide, panel, machine)
    if load.run > 1:
        return "Leave the leather where it lies after the run before."
    if load.pose.how == BY_HAND:
        return "No knife-straight edge of it fits a stop: lay it by a frame of card, or measure two points and align the file."
    if load.pose.how.startswith("by two points"):
        return f"The file is turned to where it lies, {load.pose.how}."
    if load.pose.how.startswith("the hole"):
        return f"Grain side up, in {load.pose.how}."
    return f"Grain side up, {load.pose.how}, pushed into the corner."


def _fed(load: BedLoad, hide: Hide, panel: Polygon, machine: Machine) -> str:
    """How leather that is longer than the bed is laid or fed on, and where to mark it for the next stage."""
    stage, points = load.stage, named_points(panel, hide)
    along = next((stop for stop in machine.bed_stop.split() if stop != stage.towards), "other")
    mark, following = f"S{stage.number}", f"S{stage.number + 1}"

    def place(name: str) -> str:
        away, point = min((math.dist(there, stage.marks[name]), point) for point, there in points.items())
        return f"{away:.0f} mm straight from {point}"

    if load.run > 1:
        text = "Leave the leather where it lies after the run before."
    elif load.pose.how.startswith("by two points"):
        text = f"The file is turned to where it lies, {load.pose.how}."
    elif load.pose.how == BY_HAND:
        text = (
            "Grain side up, in the corner of the stops as the picture shows. No knife-straight edge of it fits a stop: "
            "measure two of the lettered points and align the file. Hold up what hangs over."
        )
    elif not stage.fed_mm:
        text = (
            f"Grain side up, {load.pose.how}, its end at the {stage.towards} end of the bed; hold up what hangs over."
        )
    else:
        text = (
            "Take out what is cut free." if stage.number > 1 else f"Grain side up, point A towards the {stage.towards}."
        )
        text += (
            f" Slide the leather {stage.step_mm:g} mm to the {stage.towards} along the {along} stop, until mark {mark} "
            f"({place(mark)}, on the edge along that stop) is at the {stage.towards} end of the bed. If it has slipped, "
            f"measure two points and export again with --align '{hide.id}/{load.panel}/{stage.number} {mark}=x,y T{stage.number}=x,y'."
        )
    if following in stage.marks:
        text += f" Before you start, mark {following} on the edge along the {along} stop, {place(following)}."
    return text
