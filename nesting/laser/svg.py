"""The drawing of one bed load as SVG text, in the coordinates of the bed."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from xml.sax.saxutils import escape, quoteattr

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from ..geometry import rings
from ..model import OPERATIONS, Curve, Layout, Setting
from .cautions import CAUTIONS
from .cubics import Bend, Straight, pieces
from .entry import is_ring
from .lettering import lettered
from .limits import DEFAULT, LaserLimits
from .load import BedLoad, BurnLine

LINE_MM = 0.1


def drawing(layout: Layout, load: BedLoad, limits: LaserLimits = DEFAULT) -> str:
    """An SVG of the bed in mm at true size: a group an operation in burning order, and nothing but lines to burn.

    Parameters
    ----------
    layout : Layout
    load : BedLoad
        With a setting and a pose.
    limits : LaserLimits, optional

    Returns
    -------
    str
        Plain paths and circles only. The page is the bed seen from above, y down as SVG has it; nothing is mirrored.
    """
    sheet = Sheet(load)
    colours = layout.workshop.colours
    groups = []
    for operation in OPERATIONS:
        burnt = [line for line in load.lines if line.operation == operation]
        rows = [_burnt(number, line, sheet, colours[operation]) for number, line in enumerate(burnt, 1)]
        groups.append(group(operation, colours[operation], rows))
    wide, high = sheet.pose.bed_mm
    others = f'{marked(layout)} data-pose="{pose_words(load)}"'
    return page(wide, high, title(layout, load), about(layout, load), groups, others)


def title(layout: Layout, load: BedLoad) -> str:
    """What a file is of: hide, panel, stage and the mark of its layout."""
    stage = f", stage {load.stage.number} of {load.stage.of}" if load.stage else ""
    return f"Hide {load.hide}, panel {load.panel}{stage}, layout {layout.mark}"


def pose_words(load: BedLoad) -> str:
    """How a panel lies, for who reads the file back: degrees about the hide's origin, then mm along x and y."""
    return f"{load.laid.angle_deg:.9f} {load.laid.x_mm:.6f} {load.laid.y_mm:.6f}"


class Sheet:
    """From hide coordinates to those of a page that is the bed."""

    def __init__(self, load: BedLoad) -> None:
        self.pose, self.top = load.laid, load.laid.bed_mm[1]

    def put(self, curve: Curve) -> Curve:
        """A line on the bed."""
        return curve.placed(self.pose.x_mm, self.pose.y_mm, self.pose.angle_deg)

    def path(self, shape: BaseGeometry) -> str:
        """The path data of a line, of lines, or of a polygon with its holes."""
        return path_data(self.pose.put(shape), self.top)


def page(
    width_mm: float, height_mm: float, title: str, about: Iterable[str], groups: Iterable[str], others: str = ""
) -> str:
    """A whole SVG in mm at true size; ``others`` are more attributes of its root."""
    wide, high = f"{width_mm:.4f}", f"{height_mm:.4f}"
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        f'<svg xmlns="http://www.w3.org/2000/svg" version="1.1" width="{wide}mm" height="{high}mm" '
        f'viewBox="0 0 {wide} {high}"{others}>\n'
        f"<title>{escaped(title)}</title>\n<desc>\n{escaped(chr(10).join(about))}\n</desc>\n"
        + "\n".join([*groups, "</svg>\n"])
    )


def marked(layout: Layout) -> str:
    """The attribute of a drawing's root that tells which layout it is of."""
    return f' data-layout="{layout.mark}"'


def group(id: str, colour: str, rows: Sequence[str], others: str = "", width_mm: float = LINE_MM) -> str:
    """A group of paths of one colour."""
    head = f'<g id="{id}" fill="none" stroke={quoteattr(holdable(colour))} stroke-width="{width_mm}"{others}>\n'
    return head + "".join(f"  {row}\n" for row in rows) + "</g>"


def path_data(shape: BaseGeometry, top: float) -> str:
    """SVG path data of lines and polygons given with y up, for a page whose top lies at ``top``."""
    texts = []
    for line in (line for bit in shapely.get_parts(shape) for line in rings(bit) or [bit]):
        points = np.asarray(line.coords)[:, :2]
        closed = is_ring(line)
        corners = [f"{x:.4f},{y:.4f}" for x, y in np.column_stack([points[:, 0], top - points[:, 1]]) + 0.0]
        texts.append("M" + " L".join(corners[:-1] if closed else corners) + (" Z" if closed else ""))
    return " ".join(texts)


def curve_data(curve: Curve, top: float, limits: LaserLimits = DEFAULT) -> str:
    """SVG path data of a line given with y up."""
    texts = ["M" + _spot(complex(*curve.nodes[0][:2]), top)]
    for piece in pieces(curve, limits):
        if isinstance(piece, Straight):
            texts.append("L" + _spot(piece.end, top))
        elif isinstance(piece, Bend):
            radius = short(piece.radius)
            # what turns left with y up does so on the page, where SVG calls turning right 1
            texts.append(f"A{radius},{radius} 0 0 {int(not piece.left)} {_spot(piece.end, top)}")
        else:
            texts.append("C" + " ".join(_spot(point, top) for point in piece))
    if curve.closed:
        if not curve.nodes[-1][2]:
            texts.pop()
        texts.append("Z")
    return " ".join(texts)


def short(value: float) -> str:
    """A length to a tenth of a micron, without zeros that say nothing."""
    text = f"{value:.4f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def _spot(point: complex, top: float) -> str:
    return f"{short(point.real)},{short(top - point.imag)}"


def words(text: str, x: float, y: float, size: float, top: float, turn: float = 0.0, anchor: str = "middle") -> str:
    """Filled letters as one path, with the words as its title."""
    lines = lettered(holdable(text), x, y, size, turn, anchor)
    return (
        f'<path fill="currentColor" fill-rule="evenodd" stroke="none" d={quoteattr(path_data(lines, top))}>'
        f"<title>{escaped(text)}</title></path>"
    )


def escaped(text: str) -> str:
    """Text as XML can hold it."""
    return escape(holdable(text))


def setting_words(setting: Setting, rated_w: float, filled: bool = False) -> str:
    """A setting in one line; how far the rows lie apart where it fills anything."""
    fill = f", rows {setting.line_spacing_mm:g} mm apart" if filled else ""
    return (
        f"{setting.name}: speed {setting.speed_mm_s:.4g} mm/s, power {setting.power_percent:.3g} % of {rated_w:g} W, "
        f"passes {setting.passes}{fill}"
    )


def _burnt(number: int, burnt: BurnLine, sheet: Sheet, colour: str) -> str:
    name = quoteattr(_id(number, burnt))
    if burnt.fill is not None:
        look = f' fill={quoteattr(holdable(colour))} fill-rule="evenodd" stroke="none"'
        data = " ".join(curve_data(sheet.put(edge), sheet.top) for edge in burnt.edges)
        return f"<path id={name}{look} d={quoteattr(data)}/>"
    curve = sheet.put(burnt.curve)
    if circle := curve.circle:
        place = f'cx="{short(circle.x)}" cy="{short(sheet.top - circle.y)}" r="{short(circle.radius)}"'
        return f"<circle id={name} {place}/>"
    return f"<path id={name} d={quoteattr(curve_data(curve, sheet.top))}/>"


def about(layout: Layout, load: BedLoad) -> list[str]:
    """What to know before burning a load, a line each."""
    machine, kerf, setting = layout.workshop.machine, layout.workshop.margins.kerf_mm, load.setting
    if setting is None:
        raise ValueError(f"panel {load.panel} of hide {load.hide} has no setting to burn it with")
    present = {line.operation for line in load.lines}
    filled = any(line.fill is not None for line in load.lines)
    lines = [
        f"Lay the panel by {load.laid.how}."
        if load.laid.how.startswith("its")
        else f"Laying the panel: {load.laid.how}.",
        f"Setting for stitch, cutout and outline: {setting_words(setting, machine.rated_w)}; {setting.basis}; "
        f"{setting.thickness_mm:g} mm, cuts clean from {setting.thinnest_mm:.3g} to {setting.thickest_mm:.3g} mm; "
        f"machine {machine.name}.",
        f"Lines are moved by half the kerf of {kerf:g} mm, so that finished parts are true to size.",
        f"Burn the groups in this order: {', '.join(OPERATIONS)}.",
    ]
    if "engrave" in present:
        if load.engraving:
            how = setting_words(load.engraving, machine.rated_w, filled)
            lines.insert(2, f"Setting for engrave: {how}; {load.engraving.basis}.")
        else:
            lines.insert(2, "There is no tested setting for engraving: find its power on a scrap first.")
    return [*lines, *CAUTIONS]


def _id(number: int, burnt: BurnLine) -> str:
    part = burnt.placement
    twin = ["mirrored"] if part.mirrored else []
    name = [burnt.operation, number, part.order, part.part, part.piece, part.copy, *twin]
    return re.sub(r"[^A-Za-z0-9_-]+", "-", "-".join(map(str, name)))[:200]


def holdable(text: str) -> str:
    """Without the characters that XML cannot hold."""
    return re.sub("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]", "", text)
