"""The files to burn, proved against their layout: every line half a kerf from what was drawn, in order, on the bed, and
every part there once."""

from __future__ import annotations

import math
import re
from collections import defaultdict
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from pathlib import Path

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from ..errors import FileError
from ..model import OPERATIONS, Curve, Layout, Placement, Setting
from .cut_files import CutFile, CutLine, Points, read_cut_file
from .findings import Finding, Findings
from .limits import DEFAULT, RefereeLimits

RULE = 12
KINDS = ("svg", "dxf")
_NAME = re.compile(r".+-panel-[^/]*")
_NOT_BURNT = ("-guide", "-frame", "-aligned")
"""An aligned file is proved when it is written; the one it stands beside is that of the layout."""
_ONCE = "there once"


@dataclass(frozen=True, eq=False)
class _Line:
    """A line of a file with its place in the burning order, laid back on the hide."""

    cut: CutLine
    file: str
    place: int
    points: Points

    def __str__(self) -> str:
        x, y = self.points[0]
        return f"a line of {self.cut.operation} in {self.file} at ({x:.2f}, {y:.2f}) of the hide"


@dataclass(frozen=True, eq=False)
class _Drawn:
    """A line as drawn, in hide coordinates: its name, and whether the beam keeps beside it; ``polygon`` is what it
    encloses where that is not known from the line."""

    name: str
    curve: Curve
    beside: bool
    chord_mm: float
    polygon: Polygon | None = None

    @cached_property
    def points(self) -> Points:
        """The line in chords."""
        return np.asarray(self.curve.flattened(self.chord_mm).coords)[:, :2]

    @cached_property
    def box(self) -> Points:
        """Lower left and upper right of what it encloses: x, y, x, y."""
        if circle := self.curve.circle:
            x, y, radius, _ = circle
            return np.array([x - radius, y - radius, x + radius, y + radius])
        return np.array([*self.points.min(axis=0), *self.points.max(axis=0)])

    @cached_property
    def area(self) -> Polygon | None:
        """What it encloses; None of a line that is burnt as it is drawn: an open one, or one that crosses itself."""
        if not self.beside:
            return None
        area = self.polygon or Polygon(self.points)
        return area if area.is_valid else None


def prove_files(
    layout: Layout, folder: Path, without: Collection[tuple[str, str]] = (), limits: RefereeLimits = DEFAULT
) -> Findings:
    """Read the files to burn in a folder back and prove them against their layout.

    Each lies within the bed, against the stops it names, names the setting it needs, and holds nothing but lines of
    parts of its panel: engraving first, what lies inside a line before that line, and of each part its outline last.
    Outlines lie half a kerf outside what was drawn, cutouts and stitch holes half a kerf inside; narrower ones are
    burnt along their middle. Every part that is still to be burnt is there once, whole.

    Parameters
    ----------
    layout : Layout
        One that keeps every other rule.
    folder : Path
        As `laser.export.export` writes it. Guides, frames of card and job cards are passed over.
    without : collection of (hide, panel), optional
        Panels that get no file.
    limits : RefereeLimits, optional

    Returns
    -------
    Findings
        Of rule 12; empty when every file is true, and when there is none at all.
    """
    findings: list[Finding] = []
    for kind in KINDS:
        found = sorted(path for path in folder.glob(f"*.{kind}") if _is_burnt(path))
        if found:
            findings += _of_kind(layout, found, without, limits)
    return Findings(findings)


def _is_burnt(path: Path) -> bool:
    return _NAME.fullmatch(path.stem) is not None and not path.stem.endswith(_NOT_BURNT)


def _of_kind(
    layout: Layout, paths: Sequence[Path], without: Collection[tuple[str, str]], limits: RefereeLimits
) -> Iterator[Finding]:
    files: list[CutFile] = []
    for path in paths:
        try:
            files.append(read_cut_file(path, limits))
        except FileError as error:
            yield _finding(
                "file", path.name, f"{error.place} {error.value}".strip(), f"as it was written: {error.mend}"
            )
    safe = [hide.id for hide in layout.hides if hide.laser_safe and hide.id in layout.settings]
    panels: dict[tuple[str, str], list[Placement]] = defaultdict(list)
    for part in layout.placements:
        gone = layout.is_burnt(part) or layout.by_knife(part)
        if part.hide in safe and not gone and (part.hide, part.panel) not in without:
            panels[part.hide, part.panel].append(part)
    titles = {key: _plain(f"Hide {key[0]}, panel {key[1]}, ") for key in panels}
    for file in files:
        if not any(_is_of(file, title) for title in titles.values()):
            yield _finding("file", file.path.name, f"is of {file.title or 'no panel'}", "of a panel still to be burnt")
    for key, parts in panels.items():
        of_it = sorted((file for file in files if _is_of(file, titles[key])), key=_order)
        stale = [file for file in of_it if file.mark != layout.mark]
        for file in stale:
            yield _finding("file", file.path.name, f"is of layout {file.mark}", f"of layout {layout.mark}")
        if not of_it:
            value = f"no file to burn for {len(parts)} of its parts"
            yield _finding("part", f"panel {key[1]} of hide {key[0]}", value, "one, unless nesting export refuses it")
        elif not stale:
            yield from _panel(layout, key, parts, of_it, limits)


def _finding(what: str, who: str, value: str, bound: str) -> Finding:
    return Finding(RULE, f"files to burn, {what}", who, value, bound)


def _plain(text: str) -> str:
    """A DXF knows no other letters; a file's title is compared without them."""
    return " ".join(text.encode("ascii", "replace").decode().split()) + (" " if text.endswith(" ") else "")


def _is_of(file: CutFile, title: str) -> bool:
    return _plain(file.title).startswith(title)


def _order(file: CutFile) -> tuple[int, int]:
    """The stage and the run of a file."""
    found = (re.search(rf"-{word}-(\d+)", file.path.stem) for word in ("stage", "run"))
    stage, run = (int(number[1]) if number else 1 for number in found)
    return stage, run


def _panel(
    layout: Layout, key: tuple[str, str], parts: Sequence[Placement], files: Sequence[CutFile], limits: RefereeLimits
) -> Iterator[Finding]:
    half = layout.workshop.margins.kerf_mm / 2
    # less than chords leave curves by is nothing
    half = half if half > limits.chord_mm else 0.0
    lines: list[_Line] = []
    for file in files:
        yield from _on_bed(layout, key, parts, file, limits)
        turn, x, y = file.pose
        cos, sin = math.cos(math.radians(turn)), math.sin(math.radians(turn))
        back = np.array([[cos, -sin], [sin, cos]])
        lines += [
            _Line(cut, file.path.name, len(lines) + n, (cut.points - (x, y)) @ back) for n, cut in enumerate(file.lines)
        ]
    of_part, strange = _owners(parts, lines, half, limits)
    for line in strange:
        yield _finding("line", str(line), "belongs to no part", "of one on its panel")
    # a part burnt in two loads is cut free in the second, each of which has its own order
    loads = [file.path.name for file in files] if key in layout.long_panels else [""]
    for name in loads:
        here = [[line for line in its if name in ("", line.file)] for its in of_part]
        yield from _in_order([line for line in lines if name in ("", line.file)], here)
    for part, its in zip(parts, of_part):
        yield from _settings(layout, part, its, files)
        for operation, drawn in _drawn(part, limits).items():
            its_own = [line for line in its if line.cut.operation == operation]
            yield from _burnt_true(part, operation, drawn, its_own, half, limits)


def _on_bed(
    layout: Layout, key: tuple[str, str], parts: Sequence[Placement], file: CutFile, limits: RefereeLimits
) -> Iterator[Finding]:
    """Lines on the bed, and the leather against the stop that the file names."""
    machine, name = layout.workshop.machine, file.path.name
    bed = (machine.bed_width_mm, machine.bed_height_mm)
    if file.bed_mm is not None and not np.allclose(file.bed_mm, bed, rtol=0, atol=limits.off_bed_mm):
        yield _finding(
            "bed", name, "page of {:g} x {:g} mm".format(*file.bed_mm), f"the bed of {bed[0]:g} x {bed[1]:g} mm"
        )
    if file.lines:
        points = np.concatenate([line.points for line in file.lines])
        low, high = points.min(axis=0), points.max(axis=0)
        if (low < -limits.off_bed_mm).any() or (high > np.array(bed) + limits.off_bed_mm).any():
            value = f"lines from ({low[0]:.3f}, {low[1]:.3f}) to ({high[0]:.3f}, {high[1]:.3f})"
            yield _finding("bed", name, value, f"on the bed of {bed[0]:g} x {bed[1]:g} mm")
    panel = next((panel.polygon for panel in layout.panels if (panel.hide, panel.id) == key), None)
    if panel is None or not re.search(r"by its knife-straight edge of \d+ mm against the \w+ stop", file.about):
        return
    turn, x, y = file.pose
    cos, sin = math.cos(math.radians(turn)), math.sin(math.radians(turn))
    corners = shapely.get_coordinates(panel) @ np.array([[cos, sin], [-sin, cos]]) + (x, y)
    margin = machine.bed_margin_mm
    ends = {"left": corners[:, 0].min(), "bottom": corners[:, 1].min()}
    ends |= {"right": bed[0] - corners[:, 0].max(), "top": bed[1] - corners[:, 1].max()}
    for stop in machine.bed_stop.split():
        if abs(ends[stop] - margin) > limits.at_stop_mm:
            yield _finding(
                "bed", name, f"its leather ends {ends[stop]:.2f} mm from the {stop} side", f"{margin:g} mm, at the stop"
            )


def _settings(layout: Layout, part: Placement, lines: Sequence[_Line], files: Sequence[CutFile]) -> Iterator[Finding]:
    """The file a part is cut in tells its own setting."""
    setting = layout.setting_of(part)
    if setting is None:
        return
    words = _plain(_words(setting, layout.workshop.machine.rated_w))
    told = {file.path.name: _plain(file.about.replace("\n", " ")) for file in files}
    for name in dict.fromkeys(line.file for line in lines if line.cut.operation != "engrave"):
        told_words = rf"Setting for stitch, cutout and outline: {re.escape(words)}[;,]"
        if not re.search(told_words, told[name]):
            yield _finding("setting", part.name, f"is cut in {name}, which tells another setting", words)


def _words(setting: Setting, rated_w: float) -> str:
    return (
        f"{setting.name}: speed {setting.speed_mm_s:.4g} mm/s, power {setting.power_percent:.3g} % of {rated_w:g} W, "
        f"passes {setting.passes}"
    )


def _owners(
    parts: Sequence[Placement], lines: Sequence[_Line], half: float, limits: RefereeLimits
) -> tuple[list[list[_Line]], list[_Line]]:
    """The lines of every part: those that lie in it or half a kerf around it; and those of none."""
    found: list[list[_Line]] = [[] for _ in parts]
    if not lines:
        return found, []
    outlines = np.array([Polygon(part.outline.exterior) for part in parts], object)
    reach = half + _drawn_off(parts, limits)
    boxes = np.array(shapely.box(*(shapely.bounds(outlines) + np.array([-1, -1, 1, 1]) * reach).T), object)
    bounds = np.array([[*line.points.min(axis=0), *line.points.max(axis=0)] for line in lines])
    inner, outer = shapely.STRtree(list(boxes)).query(shapely.box(*bounds.T), predicate="covered_by")
    places = np.array([line.points[np.linspace(0, len(line.points) - 1, 12).astype(int)] for line in lines])
    away = shapely.distance(outlines[outer][:, None], np.array(shapely.points(places), object)[inner]).max(axis=1)
    best: dict[int, tuple[float, int]] = {}
    for line, part, off in zip(inner.tolist(), outer.tolist(), away.tolist()):
        if off <= reach:
            best[line] = min(best.get(line, (math.inf, 0)), (off, part))
    for line, (_, part) in best.items():
        found[part].append(lines[line])
    return found, [line for n, line in enumerate(lines) if n not in best]


def _drawn_off(parts: Sequence[Placement], limits: RefereeLimits) -> float:
    """How far outlines drawn may lie from the polygons that stand for them, and some more."""
    off = [
        _away(np.array(part.curves.outline.nodes)[:, :2], [shapely.get_coordinates(part.outline.exterior)]).max()
        for part in parts
    ]
    return float(max(off)) + 3 * limits.covered_mm


def _in_order(lines: Sequence[_Line], of_part: Sequence[Sequence[_Line]]) -> Iterator[Finding]:
    """Operations in order in every file, the outline of a part last, and what lies inside a line before it."""
    for before, after in pairwise(lines):
        ranks = [OPERATIONS.index(line.cut.operation) for line in (before, after)]
        if before.file == after.file and ranks[0] > ranks[1]:
            yield _finding(
                "order", str(after), f"is burnt after {before.cut.operation}", f"in order {', '.join(OPERATIONS)}"
            )
    for its in of_part:
        freed = min((line.place for line in its if line.cut.operation == "outline"), default=math.inf)
        for line in its:
            if line.cut.operation != "outline" and line.place > freed:
                yield _finding("order", str(line), "is burnt after the outline of its part", "before it is cut free")
    rings = [line for line in lines if line.cut.closed and line.cut.operation in ("cutout", "outline")]
    if rings:
        areas = [Polygon(line.points) for line in rings]
        inner, outer = shapely.STRtree(areas).query(
            shapely.points([line.points[0] for line in lines]), predicate="within"
        )
        late: dict[int, _Line] = {}
        for n, ring in zip(inner.tolist(), outer.tolist()):
            # lines around parts that lie nearer than the beam is wide cross: neither is around the other
            late_one = lines[n].place > rings[ring].place and lines[n].cut.operation in ("cutout", "outline")
            if late_one and areas[ring].covers(LineString(lines[n].points)):
                late.setdefault(n, rings[ring])
        for n, ring_ in late.items():
            yield _finding("order", str(lines[n]), f"is burnt after the line around it, {ring_}", "before it")


def _burnt_true(
    part: Placement,
    operation: str,
    drawn: Sequence[_Drawn],
    lines: Sequence[_Line],
    half: float,
    limits: RefereeLimits,
) -> Iterator[Finding]:
    """All lines of one operation of a part are where they belong, and all that were drawn are there once."""
    if not drawn:
        for line in lines[:1]:
            yield _finding("line", part.name, f"{line} is not drawn", f"no {operation}")
        return
    if not lines:
        yield _finding("part", part.name, f"its {operation} is in no file", _ONCE)
        return
    known = [(bool(one.beside and one.curve.circle) or one.area is not None, one) for one in drawn]
    rings, open_ = ([one for is_ring, one in known if is_ring is wanted] for wanted in (True, False))
    followed = list(lines)
    if rings:
        along = [bool(open_) and _off(line, open_, limits) <= limits.burnt_mm for line in lines]
        beside = [line for line, is_along in zip(lines, along) if not is_along]
        of_ring, left = _sorted_out(rings, beside, half, operation == "outline", limits)
        followed = [*left, *(line for line, is_along in zip(lines, along) if is_along)]
        side = 1 if operation == "outline" else -1
        for one, its in zip(rings, of_ring):
            fault = _ring_fault(one, its, half * side, limits)
            if fault:
                yield _finding(*fault[:1], f"{part.name}, {one.name}", *fault[1:])
    yield from _followed(part, operation, open_, followed, limits)


def _drawn(part: Placement, limits: RefereeLimits) -> dict[str, list[_Drawn]]:
    """The lines of a part as drawn, by operation."""
    curves, found = part.curves, dict[str, list[_Drawn]]()
    of = {"engrave": curves.engrave, "stitch": curves.stitch, "cutout": curves.cutouts, "outline": (curves.outline,)}
    for operation in OPERATIONS:
        found[operation] = []
        for number, curve in enumerate(of[operation], 1):
            polygon = None
            if part.drawn is None and operation in ("cutout", "outline"):
                polygon = part.cutouts[number - 1] if operation == "cutout" else part.outline
            name = {"stitch": f"stitch hole {number}", "outline": "outline"}.get(operation, f"{operation} {number}")
            beside = curve.closed and operation != "engrave"
            found[operation].append(_Drawn(name, curve, beside, limits.chord_mm, polygon))
    return found


def _sorted_out(
    rings: Sequence[_Drawn], lines: Sequence[_Line], half: float, outside: bool, limits: RefereeLimits
) -> tuple[list[list[_Line]], list[_Line]]:
    """The lines burnt for each closed line drawn, and those for none."""
    found: list[list[_Line]] = [[] for _ in rings]
    if outside:
        return [list(lines)], []
    left: list[_Line] = []
    grown = np.array([one.box for one in rings]) + np.array([-1, -1, 1, 1]) * (half + limits.covered_mm)
    for line in lines:
        low, high = line.points.min(axis=0), line.points.max(axis=0)
        fits = np.flatnonzero((grown[:, :2] <= low).all(axis=1) & (grown[:, 2:] >= high).all(axis=1)).tolist()
        if not fits:
            left.append(line)
            continue
        # of several the one that it lies in, or is nearest to
        spots = line.points[:: max(1, len(line.points) // 8)]
        best = (
            min(fits, key=lambda n: (_outside(rings[n], spots), _apart(rings[n], line))) if len(fits) > 1 else fits[0]
        )
        found[best].append(line)
    # Where holes overlap, one may have taken what is another's.
    for n, one in enumerate(rings):
        of_others = [(line, its) for its in found if len(its) > 1 for line in its] if not found[n] else []
        inside = [pair for pair in of_others if _outside(one, pair[0].points) <= limits.burnt_mm]
        if inside:
            line, its = min(inside, key=lambda pair: _apart(one, pair[0]))
            its.remove(line)
            found[n].append(line)
    return found, left


def _apart(one: _Drawn, line: _Line) -> float:
    """How far apart the middles of a closed line drawn and of a line burnt are."""
    middle = (line.points.min(axis=0) + line.points.max(axis=0)) / 2
    return math.dist(middle, (np.asarray(one.box[:2]) + np.asarray(one.box[2:])) / 2)


def _outside(one: _Drawn, spots: Points) -> float:
    """How far some of a line lies outside what a closed line drawn encloses."""
    return float(shapely.distance(one.area or Polygon(one.points), shapely.points(spots)).max())


def _ring_fault(
    one: _Drawn, lines: Sequence[_Line], outwards: float, limits: RefereeLimits
) -> tuple[str, str, str] | None:
    """What is wrong with the lines burnt for a closed line drawn: kind, value and bound."""
    if not lines:
        return "part", "is in no file", _ONCE
    half = abs(outwards)
    bound = f"{half:g} mm {'outside' if outwards > 0 else 'inside'} what is drawn, to 0.005 mm"
    drawn, burnt = one.curve.circle, lines[0].cut.circle
    if len(lines) == 1 and drawn and burnt and drawn.radius + outwards > 0:
        x, y = (lines[0].points[0] + lines[0].points[len(lines[0].points) // 2]) / 2
        off = math.dist((x, y), drawn[:2]) + abs(burnt[2] - drawn.radius - outwards)
        return None if off <= limits.burnt_mm else ("kerf", f"is burnt {off:.4f} mm off", bound)
    area = one.area or Polygon(one.points)
    edges = [np.asarray(ring.coords)[:, :2] for ring in (area.exterior, *area.interiors)]
    should = shapely.get_parts(area.buffer(outwards, quad_segs=32)) if half else np.array([area], object)
    rings = [np.asarray(ring.coords)[:, :2] for ring in shapely.get_rings(should)]
    narrow: BaseGeometry | None = None
    straight = []
    for line in lines:
        points = _steps(line.points, limits)
        inside = shapely.contains_xy(area, points)
        away = _away(points, edges)
        strays = np.where(inside == (outwards < 0), away, -away) - half if half else away
        if np.abs(strays).max() <= limits.burnt_mm:
            straight.append(line)
            continue
        # What is narrower than the beam is burnt along its middle: right where the beam cannot reach otherwise.
        if narrow is None:
            reach = outwards + math.copysign(limits.just_as_wide_mm, outwards)
            opened = area.buffer(reach, quad_segs=32).buffer(-reach, quad_segs=32)
            narrow = (area.difference(opened) if outwards < 0 else opened.difference(area)).buffer(limits.covered_mm)
            shapely.prepare(narrow)
        if not shapely.contains_xy(narrow, points).all():
            worst = float(strays[np.argmax(np.abs(strays))])
            way = "too far out" if (worst > 0) == (outwards > 0) else "too far in"
            return "kerf", f"{line} is {abs(worst):.4f} mm {way}", bound
    if rings:
        gap = _away(np.concatenate([_steps(ring, limits) for ring in rings]), [line.points for line in lines])
        if gap.max() > limits.covered_mm:
            return "part", f"lacks a line {gap.max():.2f} mm from those burnt", "burnt whole"
    # A corner may be too sharp for the beam, but no slot be left out.
    missed = _missed(one.points, lines, limits)
    reach = limits.sharp_kerfs * 2 * half + limits.covered_mm
    if missed > reach:
        # Nor is a slot that is none but for rounding.
        wide = math.copysign(limits.burnt_mm, outwards)
        shut = area.buffer(wide).buffer(-wide)
        edges = [np.asarray(ring.coords)[:, :2] for ring in shapely.get_rings(shapely.get_parts(shut))]
        missed = max((_missed(edge, lines, limits) for edge in edges), default=0.0)
    if missed > reach:
        return "part", f"lacks a line {missed:.2f} mm from those burnt", "burnt whole"
    burnt_mm, drawn_mm = (sum(map(_length, some)) for some in ([line.points for line in straight], rings))
    # Slots as wide as the beam have a line of their own, where moving the edge by half of it has none.
    if burnt_mm > limits.burnt_with_slots * drawn_mm + limits.covered_mm or _twice(lines, limits):
        return "part", f"is burnt over {burnt_mm:.1f} mm, all around it are {drawn_mm:.1f} mm", _ONCE
    return None


def _off(line: _Line, drawn: Sequence[_Drawn], limits: RefereeLimits) -> float:
    """How far a line burnt strays from what is drawn."""
    return float(_away(_steps(line.points, limits), [one.points for one in drawn]).max())


def _missed(points: Points, lines: Sequence[_Line], limits: RefereeLimits) -> float:
    """How far the farthest place of a line drawn is from those burnt."""
    return float(_away(_steps(points, limits), [line.points for line in lines]).max())


def _followed(
    part: Placement, operation: str, drawn: Sequence[_Drawn], lines: Sequence[_Line], limits: RefereeLimits
) -> Iterator[Finding]:
    """Lines that are burnt as drawn: nothing else, and all of them once."""
    who = f"{part.name}, {operation}"
    if not drawn:
        for line in lines[:1]:
            yield _finding("line", part.name, f"{line} is not drawn", f"no such {operation}")
        return
    for line in lines:
        off = _off(line, drawn, limits)
        if off > limits.burnt_mm:
            yield _finding("line", who, f"{line} is {off:.4f} mm off", "burnt as it is drawn, to 0.005 mm")
            return
    steps = [_steps(one.points, limits) for one in drawn]
    gaps = _away(np.concatenate(steps), [line.points for line in lines]) if lines else np.full(1, math.inf)
    for n, gap in enumerate(np.split(gaps, np.cumsum([len(some) for some in steps])[:-1]) if lines else [gaps]):
        if gap.max() > limits.covered_mm and lines and len(drawn) > 1:
            # where two filled shapes share an edge there is none
            shared = _away(steps[n], [other.points for other in drawn if other is not drawn[n]]) <= limits.covered_mm
            gap = np.where(shared, 0.0, gap)
        if gap.max() > limits.covered_mm:
            value = f"lacks a line {gap.max():.2f} mm from those burnt" if lines else "is in no file"
            yield _finding("part", f"{part.name}, {drawn[n].name}", value, "burnt whole")
            return
    burnt_mm, drawn_mm = sum(_length(line.points) for line in lines), sum(_length(one.points) for one in drawn)
    if burnt_mm > (1 + limits.burnt_once) * drawn_mm + limits.covered_mm:
        yield _finding("part", who, f"is burnt over {burnt_mm:.1f} mm, drawn are {drawn_mm:.1f} mm", _ONCE)


def _twice(lines: Sequence[_Line], limits: RefereeLimits) -> bool:
    """Whether two lines are the same."""
    known = [np.array([*line.points.min(axis=0), *line.points.max(axis=0), _length(line.points)]) for line in lines]
    return any(np.abs(one - other).max() <= limits.burnt_mm for n, one in enumerate(known) for other in known[:n])


def _length(points: Points) -> float:
    return float(np.hypot(*np.diff(points, axis=0).T).sum())


def _steps(points: Points, limits: RefereeLimits) -> Points:
    """Corners of a line, and places between those that are far apart."""
    return np.asarray(shapely.get_coordinates(shapely.segmentize(shapely.linestrings(points), limits.look_along_mm)))


def _away(points: Points, lines: Sequence[Points]) -> npt.NDArray[np.float64]:
    """How far points are from the nearest of some lines, mm."""
    every = np.concatenate(lines)
    within = np.ones(len(every), bool)
    within[np.cumsum([len(line) for line in lines]) - 1] = False
    first = np.flatnonzero(within)
    stretches = np.array(shapely.linestrings(np.stack([every[first], every[first + 1]], axis=1)), object)
    tree = shapely.STRtree(list(stretches))
    found: npt.NDArray[np.float64] = tree.query_nearest(
        shapely.points(points), return_distance=True, all_matches=False
    )[1]
    return found
