"""How long the machine runs."""

from __future__ import annotations

import cmath
import math

import numpy as np
import numpy.typing as npt
from shapely.geometry import Polygon

from ..geometry import Floats
from ..model import Curve, Layout, Machine
from ..model.curves import arc
from .limits import DEFAULT, LaserLimits
from .load import BedLoad, BurnLine, bed_loads


def machine_seconds(
    layout: Layout, hide_id: str, limits: LaserLimits = DEFAULT
) -> dict[tuple[str, str, str, int, int, bool], float]:
    """Seconds of machine time for every part on a hide, by the placement's key.

    Moves are shared by charging each to the part it leads to. Loading is not counted.

    Parameters
    ----------
    layout : Layout
    hide_id : str
    limits : LaserLimits, optional

    Returns
    -------
    dict of float
        All 0 when the hide has no setting: it is not burnt.
    """
    seconds = {placement.key: 0.0 for placement in layout.on(hide_id)}
    if layout.settings.get(hide_id) is None:
        return seconds
    for load in bed_loads(layout, hide_id, limits=limits):
        for burn in load.lines:
            seconds[burn.placement.key] += burn_seconds(burn, load, layout.workshop.machine, limits)
    return seconds


def load_seconds(load: BedLoad, machine: Machine, limits: LaserLimits = DEFAULT) -> dict[str, float]:
    """Seconds of a bed load by operation, the moves to its lines among them, and for ``loading``.

    Loading takes none where the leather stays where it lies.
    """
    seconds: dict[str, float] = {}
    for burn in load.lines:
        seconds[burn.operation] = seconds.get(burn.operation, 0.0) + burn_seconds(burn, load, machine, limits)
    return seconds | {"loading": 60.0 * machine.load_minutes if load.run == 1 else 0.0}


def burn_seconds(burn: BurnLine, load: BedLoad, machine: Machine, limits: LaserLimits = DEFAULT) -> float:
    """Seconds to burn one line, in all its passes, and to move to it.

    A line gets all its passes before the head moves on. Engraving without a tested row is timed at the machine's
    engraving speed in one pass.
    """
    acceleration = machine.acceleration_mm_s2
    setting = load.engraving if burn.operation == "engrave" else load.setting
    speed, passes = (setting.speed_mm_s, setting.passes) if setting else (machine.engrave_mm_s, 1)
    if burn.fill is not None and setting is not None:
        # Filled with the rows level on the bed.
        area = load.pose.put(burn.fill) if load.pose else burn.fill
        burning = raster_seconds(area, setting.line_spacing_mm, speed, acceleration)
    else:
        burning = line_seconds(burn.curve, speed, acceleration, limits)
    return burning * passes + float(moving_seconds(burn.travel_mm, machine.travel_mm_s, acceleration))


def moving_seconds(length_mm: npt.ArrayLike, speed_mm_s: float, acceleration_mm_s2: float) -> Floats:
    """Seconds for a straight stretch from standstill to standstill.

    With s = length, v = speed, a = acceleration: s/v + v/a where the speed is reached (s >= v^2/a), else 2 sqrt(s/a)
    (uniform acceleration, any textbook of mechanics). Without acceleration s/v.

    Parameters
    ----------
    length_mm : float or array
    speed_mm_s : float
    acceleration_mm_s2 : float
        0 leaves speeding up and slowing down out.

    Returns
    -------
    array of the same shape
    """
    length, v, a = np.asarray(length_mm, float), speed_mm_s, acceleration_mm_s2
    if a == 0:
        return np.where(length > 0, length / v, 0.0)
    seconds = np.where(length >= v * v / a, length / v + v / a, 2 * np.sqrt(length / a))
    return np.where(length > 0, seconds, 0.0)


def line_seconds(curve: Curve, speed_mm_s: float, acceleration_mm_s2: float, limits: LaserLimits = DEFAULT) -> float:
    """Seconds to follow a line once: the head halts at its ends and at every sharp corner."""
    lengths, apart, turns = _ways(curve, limits)
    if len(lengths) < 2:
        return float(moving_seconds(curve.length, speed_mm_s, acceleration_mm_s2))
    # Corners close together turn as one; each such bunch begins where the side before it is long.
    first = np.flatnonzero(np.r_[True, apart[1:-1] >= limits.one_corner_mm])
    halts = np.abs(np.add.reduceat(turns, first)) > limits.halt_deg
    at = np.cumsum(lengths)[:-1][first[halts]]
    stretches = np.diff(np.concatenate([[0.0], at, [lengths.sum()]]))
    return float(moving_seconds(stretches, speed_mm_s, acceleration_mm_s2).sum())


def _ways(curve: Curve, limits: LaserLimits) -> tuple[Floats, Floats, Floats]:
    """Lengths of the stretches of a line, how far each keeps its ends apart, and the degrees turned between each two.

    An arc so short that it is a rounded corner keeps nothing apart and turns half at each end; along any other the head
    goes on.
    """
    lengths, apart, leaves, arrives = [], [], [], []
    for start, end, bulge in curve.stretches():
        if start == end:
            continue
        chord = math.degrees(cmath.phase(end - start))
        sweep = math.degrees(4 * math.atan(bulge))
        found = arc(start, end, bulge) if bulge else None
        tight = found is None or found.radius * abs(found.sweep) <= limits.rounded_corner_mm
        lengths.append(found.radius * abs(found.sweep) if found else abs(end - start))
        apart.append(0.0 if found and tight else lengths[-1])
        leaves.append(chord if tight else chord - sweep / 2)
        arrives.append(chord if tight else chord + sweep / 2)
    turns = (np.array(leaves[1:]) - np.array(arrives[:-1]) + 180.0) % 360.0 - 180.0
    return np.array(lengths), np.array(apart), turns


def raster_seconds(area: Polygon, spacing_mm: float, speed_mm_s: float, acceleration_mm_s2: float) -> float:
    """Seconds to fill an area once with level rows, to and fro.

    Rows = height / spacing; each is as long as the area is wide at full speed, and the head slows down and speeds up
    again beyond either end: width / v + 2 v / a.
    """
    x0, y0, x1, y1 = area.bounds
    rows = max(1, math.ceil((y1 - y0) / spacing_mm - 1e-9))
    turning = 2 * speed_mm_s / acceleration_mm_s2 if acceleration_mm_s2 else 0.0
    return rows * ((x1 - x0) / speed_mm_s + turning)
