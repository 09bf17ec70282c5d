"""The layers of a hide's picture, from the leather up to the labels."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import shapely
from matplotlib.axes import Axes
from matplotlib.cm import ScalarMappable
from matplotlib.colors import LinearSegmentedColormap, Normalize
from shapely.geometry import LineString, MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from ..costs.offcuts import Offcut
from ..geometry import polygons
from ..leather.thickness import ThicknessMap
from ..model import Hide, Layout, Panel, Placement
from . import tints, words
from .canvas import Entry, Look, shape, strokes, write
from .labels import NUMBER_SIZES, SIZES, Label, fit

HATCHES = ("", "////", "....", "||||", "oo", "----", "++")
ZONE_LOOKS = {"B": "..", "C": "\\\\\\", "D": "xxx", "E": "xxxxxx"}
LEATHER = LinearSegmentedColormap.from_list("leather", ("#fcf9f4", "#b39c7f"))
PLAIN_LEATHER = "#f0e8dc"
Kind = tuple[str, float, bool, float]
GRID_CELLS = 160
"""Cells of the shading along a hide's longer side: about a mm on paper."""
EVEN_MM = 0.01
"""A hide whose thickness differs by less is not shaded: no gauge shows it."""
ALL_BUT = 0.999
"""A setting's window that leaves out less than the rest of a hide is not drawn: it would double the hide's edge."""

DOUBT: Look = {"facecolor": "none", "edgecolor": "#0072B2", "hatch": "////", "linewidth": 0.8}
"""As in the picture by which a trace is checked."""
KNIFE: Look = {"color": "black", "linewidth": 1.6, "linestyle": (0, (6, 1.5, 1, 1.5))}
BACKBONE: Look = {"color": "#222222", "linewidth": 0.8, "linestyle": (0, (14, 5))}
WINDOW: Look = {"color": "#7a4a00", "linewidth": 0.8}
WINDOW_DASHES = ((0, (1, 1.6)), (0, (7, 2)), (0, (4, 2, 1, 2)))
OFFCUT: Look = {"edgecolor": "black", "linewidth": 1.0, "linestyle": (0, (4, 2.2)), "facecolor": "none"}
RECTANGLE: Look = {"edgecolor": "black", "linewidth": 0.6, "linestyle": (0, (1, 1.5)), "facecolor": (1, 1, 1, 0.45)}
BURNT: Look = {"edgecolor": "none", "facecolor": (0.25, 0.25, 0.25, 0.35)}
PINNED: Look = {"edgecolor": "black", "linewidth": 1.8, "facecolor": "none"}
LOST: Look = {"edgecolor": "#333333", "linewidth": 0.7, "facecolor": "#777777"}
ENGRAVE: Look = {"edgecolor": "#0072B2", "linewidth": 0.5}
STITCH: Look = {"edgecolor": "#333333", "linewidth": 0.35}


def order_look(layout: Layout, order: str) -> Look:
    """Fill, hatch and edge of an order's parts: the same on every hide of a layout."""
    orders = list(dict.fromkeys(key[0] for key in layout.wanted))
    index = orders.index(order) if order in orders else len(orders)
    hatch = HATCHES[index // len(tints.PALETTE) % len(HATCHES)]
    return {"facecolor": tints.fill(index), "edgecolor": tints.edge(index), "hatch": hatch, "linewidth": 0.7}


def zone_look(grade: str) -> Look:
    """Hatching of a zone, denser for a worse grade."""
    return {"facecolor": "none", "edgecolor": "#555555", "hatch": ZONE_LOOKS.get(grade, ""), "linewidth": 0.6}


def draw_leather(axes: Axes, hide: Hide, thickness: ThicknessMap) -> ScalarMappable | None:
    """The hide shaded by its thickness; gives back what a colour bar needs, None when it is the same all over."""
    edge = shape(hide.outline, facecolor=PLAIN_LEATHER, edgecolor="black", linewidth=1.2, zorder=1)
    axes.add_artist(edge)
    left, low, right, high = hide.outline.bounds
    if not thickness.known:
        return None
    xs, ys, mean, _ = thickness.grid(max(right - left, high - low) / GRID_CELLS)
    inside = shapely.contains_xy(hide.outline, *np.meshgrid(xs, ys))
    seen = mean[inside] if inside.any() else mean
    if np.ptp(seen) < EVEN_MM:
        return None
    scale = Normalize(np.floor(seen.min() * 20) / 20, np.ceil(seen.max() * 20) / 20)
    look: Look = {"cmap": LEATHER, "norm": scale, "interpolation": "bilinear", "aspect": "auto", "zorder": 1}
    picture = axes.imshow(mean, extent=(left, right, low, high), origin="lower", **look)
    picture.set_clip_path(edge)
    axes.add_artist(shape(hide.outline, facecolor="none", edgecolor="black", linewidth=1.2, zorder=3))
    return picture


def draw_zones(axes: Axes, hide: Hide) -> None:
    """Zones hatched by grade, and their edges again over the parts that tolerate them."""
    grades: dict[str, list[Polygon]] = {}
    for zone in hide.zones:
        grades.setdefault(zone.grade, []).extend(polygons(zone.polygon.intersection(hide.outline)))
    for grade, found in grades.items():
        for polygon in found:
            axes.add_artist(shape(polygon, zorder=2, **zone_look(grade)))
            axes.add_artist(shape(polygon, facecolor="none", edgecolor="#555555", linewidth=0.5, zorder=4.5))


def draw_doubts(axes: Axes, hide: Hide) -> list[Entry]:
    """What the photo of a hide does not tell, hatched; gives back its legend."""
    for doubt in hide.doubts:
        axes.add_artist(shape(doubt.polygon, zorder=3.2, **DOUBT))
    return [Entry("in doubt, kept out", patch=DOUBT)] if hide.doubts else []


def draw_parts(axes: Axes, layout: Layout, placements: tuple[Placement, ...]) -> None:
    """Parts filled by order, their cutouts open, stitching and engraving as thin lines."""
    orders: dict[str, list[Polygon]] = {}
    for placement in placements:
        orders.setdefault(placement.order, []).append(placement.outline)
    for order, outlines in orders.items():
        axes.add_artist(shape(outlines, zorder=4, **order_look(layout, order)))
    cutouts = [cutout for placement in placements for cutout in placement.cutouts]
    if cutouts:
        axes.add_artist(shape(cutouts, facecolor="white", edgecolor="#333333", linewidth=0.45, zorder=5))
    for name, look in (("engrave", ENGRAVE), ("stitch", STITCH)):
        lines = [line for placement in placements for line in getattr(placement, name)]
        if lines:
            axes.add_artist(strokes(lines, zorder=5, **look))


def draw_settled(axes: Axes, layout: Layout, hide: Hide) -> list[Entry]:
    """What the maker settled: burnt panels darkened, pinned parts with a thick edge, lost parts crossed out; gives back
    their legend."""
    entries = []
    lost = [part for part in layout.lost if part.hide == hide.id]
    pinned = [part for part in layout.on(hide.id) if part.pinned is not None and not layout.is_burnt(part)]
    burnt = [one.panel for one in layout.burnt if one.panel.hide == hide.id]
    for shapes, zorder, look, text in (
        ([part.outline for part in lost], 4, LOST, "cut, and of no open order any more"),
        ([panel.polygon for panel in burnt], 5.5, BURNT, "panel burnt already"),
        ([part.outline for part in pinned], 5.6, PINNED, "part pinned"),
    ):
        if shapes:
            axes.add_artist(shape(shapes, zorder=zorder, **look))
            entries.append(Entry(text, patch=look))
    return entries


def draw_offcuts(axes: Axes, kept: list[Offcut]) -> None:
    """Offcuts dashed, each with its inscribed rectangle dotted."""
    for offcut in kept:
        axes.add_artist(shape(offcut.polygon, zorder=3.5, **OFFCUT))
        axes.add_artist(shape(offcut.rectangle, zorder=3.4, **RECTANGLE))


def draw_lines(
    axes: Axes,
    layout: Layout,
    hide: Hide,
    windows: Mapping[str, Polygon | MultiPolygon],
    confidence: float,
    thickness: ThicknessMap,
) -> list[Entry]:
    """Knife lines, backbone, the limits of the settings by name and the readings; gives back their legend."""
    entries = []
    cuts = [LineString(cut.points) for cut in layout.cuts if cut.hide == hide.id]
    if cuts:
        for cut in cuts:
            draw_knife_line(axes, layout, hide, cut.intersection(hide.outline), 6, KNIFE)
        entries.append(Entry("knife line between panels", line=KNIFE))
    if hide.backbone is not None:
        axes.plot(*np.array(hide.backbone).T, zorder=6, **BACKBONE)
        entries.append(Entry("backbone", line=BACKBONE))
    for number, (name, window) in enumerate(windows.items()):
        if window.area < ALL_BUT * hide.outline.area:
            look = WINDOW | {"linestyle": WINDOW_DASHES[number % len(WINDOW_DASHES)]}
            _lines(axes, window.boundary, 4.2, look)
            who = f"{words.plain(name, 40)} " if len(windows) > 1 else ""
            entries.append(Entry(f"{who}cuts clean inside ({confidence:.0%} sure)", line=look))
    if hide.readings and "reading" in thickness.source:
        look = {"color": "black", "marker": "+", "markersize": 4.5, "markeredgewidth": 0.6, "linestyle": "none"}
        here = [(r.x, r.y) for r in hide.readings if not r.cut_off]
        axes.plot(*np.reshape(here, (-1, 2)).T, zorder=6, **look)
        entries.append(Entry("thickness reading", line=look))
    return entries


def label_all(
    axes: Axes,
    hide: Hide,
    placements: tuple[Placement, ...],
    kept: list[Offcut],
    panels: list[Panel],
    points_per_mm: float,
    first: str = "mm",
) -> list[Entry]:
    """Label parts, offcuts, panels and zones where the words fit; gives back the key of the numbers used instead."""
    taken: list[Polygon] = []
    plain: list[Label] = []
    bold: list[Label] = []
    slanted: list[Label] = []
    fitted: dict[Kind, Label | None] = {}
    for placement in placements:
        if _kind(placement) not in fitted:
            names = [words.plain(text, 60) for text in (placement.label, placement.order, placement.part)]
            label = fit((names[0], f"{names[1]}\n{names[2]}"), _face(placement), points_per_mm)
            fitted[_kind(placement)] = label and _moved(label, -placement.x, -placement.y)
    small = sorted({words.plain(placement.label, 60) for placement in placements if fitted[_kind(placement)] is None})
    for placement in placements:
        label = fitted[_kind(placement)]
        if label is None:
            number = str(1 + small.index(words.plain(placement.label, 60)))
            label = fit((number,), _face(placement), points_per_mm, NUMBER_SIZES)
        else:
            label = _moved(label, placement.x, placement.y)
        if label:
            plain.append(label)
            taken.append(label.box)
    outlines = shapely.union_all([placement.outline for placement in placements])
    flaws = shapely.union_all([zone.polygon for zone in hide.zones])
    for offcut in kept:
        name = words.offcut_name(offcut.id)
        texts = (
            f"{name}: {words.size_in(offcut.width_mm, offcut.height_mm, first)}",
            f"{name}\n{words.size_in(offcut.width_mm, offcut.height_mm, first)}",
            name,
        )
        clear = offcut.rectangle.difference(flaws)
        label = (
            fit(texts, clear, points_per_mm)
            or fit(texts, offcut.rectangle, points_per_mm)
            or fit((name,), offcut.polygon, points_per_mm, NUMBER_SIZES)
        )
        if label:
            plain.append(label)
            taken.append(label.box)
    for panel in panels if len(panels) > 1 else ():
        free = panel.polygon.difference(shapely.union_all(taken))
        text = (f"panel {words.plain(panel.id, 20)}",)
        label = fit(text, free.difference(outlines), points_per_mm) or fit(
            text, free, points_per_mm, (*SIZES, *NUMBER_SIZES[4:])
        )
        if label:
            bold.append(label)
            taken.append(label.box)
    for zone in hide.zones:
        free = zone.polygon.intersection(hide.outline).difference(shapely.union_all([outlines, *taken]))
        label = fit((f"{zone.grade} {words.plain(zone.kind, 40)}".strip(), zone.grade), free, points_per_mm, SIZES[1:])
        if label:
            slanted.append(label)
    write(axes, plain, points_per_mm)
    write(axes, bold, points_per_mm, weight="bold")
    write(axes, slanted, points_per_mm, style="italic")
    return [Entry(name, number=str(number)) for number, name in enumerate(small, 1)]


def _kind(placement: Placement) -> Kind:
    """Copies of a part at the same angle are labelled alike."""
    return (placement.label, round(placement.angle, 3), placement.mirrored, round(placement.outline.area, 2))


def _face(placement: Placement) -> BaseGeometry:
    return placement.outline.difference(shapely.union_all(placement.cutouts))


def _moved(label: Label, x: float, y: float) -> Label:
    return Label(
        label.text,
        label.x + x,
        label.y + y,
        label.angle,
        label.size,
        shapely.transform(label.box, lambda p: p + (x, y)),
    )


def draw_knife_line(axes: Axes, layout: Layout, hide: Hide, line: BaseGeometry, zorder: float, look: Look) -> None:
    """A knife line, save where parts longer than the bed are cut out before it: none goes through them."""
    _lines(axes, line.difference(shapely.union_all(layout.cut_out(hide.id))), zorder, look)


def _lines(axes: Axes, geometry: BaseGeometry, zorder: float, look: Look) -> None:
    for line in shapely.get_parts(geometry):
        if len(line.coords) > 1:
            axes.plot(*np.asarray(line.coords)[:, :2].T, zorder=zorder, solid_capstyle="butt", **look)
