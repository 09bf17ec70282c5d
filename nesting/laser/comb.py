"""A comb to cut and measure, and the kerf worked out from what it measures."""

from __future__ import annotations

import math
import statistics
from collections.abc import Sequence
from dataclasses import dataclass
from xml.sax.saxutils import quoteattr

from shapely.geometry import LineString

from ..errors import ModelError
from ..model import Setting, Workshop
from .cautions import CAUTIONS
from .lettering import lettered
from .limits import DEFAULT, LaserLimits
from .svg import group, page, path_data, setting_words

TEETH, TOOTH_MM, SLOT_MM = 8, 6.0, 4.0
"""Wide enough for the jaws of a caliper, and narrow enough that the comb is cut from a scrap."""
LONG_MM, SPINE_MM = 25.0, 12.0
EDGE_MM = 5.0


@dataclass(frozen=True)
class Kerf:
    """A measured kerf in mm, with the standard error of its mean over ``count`` widths."""

    mm: float
    error_mm: float
    count: int


def comb(workshop: Workshop, setting: Setting | None) -> str:
    """The SVG of a comb: teeth of 6 mm with slots of 4 mm between them, drawn without regard to any kerf.

    Parameters
    ----------
    workshop : Workshop
    setting : Setting or None
        What it is cut with, told in the file.

    Returns
    -------
    str
    """
    step = TOOTH_MM + SLOT_MM
    wide, high = TEETH * step - SLOT_MM, LONG_MM + SPINE_MM
    corners = [(0.0, high), (0.0, 0.0)]
    for tooth in range(TEETH):
        right = tooth * step + TOOTH_MM
        corners += (
            [(right, 0.0)] if tooth == TEETH - 1 else [(right, 0.0), (right, LONG_MM), (right + SLOT_MM, LONG_MM)]
        )
        corners += [] if tooth == TEETH - 1 else [(right + SLOT_MM, 0.0)]
    corners += [(wide, high), (0.0, high)]
    top = high + EDGE_MM
    shift = [(x + EDGE_MM, y + EDGE_MM) for x, y in corners]
    names = [
        lettered(str(tooth + 1), EDGE_MM + tooth * step + TOOTH_MM / 2, EDGE_MM + LONG_MM + 3.0, 2.5)
        for tooth in range(TEETH)
    ]
    names.append(lettered(f"teeth {TOOTH_MM:g} slots {SLOT_MM:g} mm", EDGE_MM + wide / 2, EDGE_MM + LONG_MM + 8.5, 2.5))
    colours = workshop.colours
    groups = [
        group(
            "engrave", colours["engrave"], [f"<path d={quoteattr(path_data(name, top + EDGE_MM))}/>" for name in names]
        ),
        group("outline", colours["outline"], [f"<path d={quoteattr(path_data(LineString(shift), top + EDGE_MM))}/>"]),
    ]
    about = [
        "Cut it, wipe it, and measure each tooth and each slot across, half way along, with a caliper.",
        "Nothing is moved by half a kerf here: a tooth comes out narrower and a slot wider by the kerf.",
    ]
    if setting:
        about.append(f"Cut with {setting_words(setting, workshop.machine.rated_w)}.")
    return page(wide + 2 * EDGE_MM, high + 2 * EDGE_MM, "Kerf comb", [*about, *CAUTIONS], groups)


def kerf_from(teeth: Sequence[float], slots: Sequence[float] = (), limits: LaserLimits = DEFAULT) -> Kerf:
    """The kerf that the measured widths of a comb give: a tooth is too narrow by it, a slot too wide.

    Parameters
    ----------
    teeth, slots : sequence of float
        Measured widths, mm; three or more together.
    limits : LaserLimits, optional

    Returns
    -------
    Kerf
        Mean, and standard error s / sqrt(n) of it.

    Raises
    ------
    ModelError
        For too few widths, one that strays by more than 0.15 mm from the middle one, or no kerf at all.
    """
    found = {f"tooth {n}": (width, TOOTH_MM - width) for n, width in enumerate(teeth, 1)}
    found |= {f"slot {n}": (width, width - SLOT_MM) for n, width in enumerate(slots, 1)}
    if len(found) < limits.fewest_widths:
        raise ModelError("widths", len(found), f"measure at least {limits.fewest_widths} teeth or slots")
    middle = statistics.median(kerf for _, kerf in found.values())
    for name, (width, kerf) in found.items():
        if not (math.isfinite(width) and abs(kerf - middle) <= limits.slip_mm):
            raise ModelError(
                name, f"{width:g} mm", f"the other widths give a kerf of {middle:.2f} mm: measure this one again"
            )
    kerfs = [kerf for _, kerf in found.values()]
    mean = statistics.fmean(kerfs)
    if mean <= 0:
        raise ModelError("kerf", f"{mean:.3f} mm", "teeth cannot be wider and slots narrower than drawn: measure again")
    return Kerf(mean, statistics.stdev(kerfs) / math.sqrt(len(kerfs)), len(kerfs))
