"""Patterns: the parts of one product, drawn at real size.

A group is a part, and its label is the part's name. In it lie shapes labelled ``outline`` (exactly one), ``cutout``,
``stitch``, ``engrave``, ``fold`` or ``zone``; a number may follow (``outline-2``, ``stitch_3``), and a grade after zone
(``zone C``, ``zone-D-2``; plain ``zone`` is E). ``engrave fill`` fills closed shapes with rows and ``engrave line``
follows them; plain ``engrave`` does as the setting is tested for. A group or layer labelled with one of these words
gives it to the shapes in it that have none of their own, and so does a colour or a name that the workshop has a word
for. An outline in no named group is a part by itself, with all that lies in it.

The label is what the editor calls label, else its title, else its id. Groups named by the editor alone (``g12``, or not
at all) are looked through, unless there is no other name. A copy (``use``) that has a name of its own goes by that. A
compound outline has its inner subpaths as cutouts. What lies in a group or shape labelled ``notes`` or ``guide``, or is
hidden, is left out on purpose, and text is a note; everything else that is no line of a part is refused. Where nothing
has a label, or nobody grouped and labelled the parts, `telling` says what lines without one are taken for, and a person
has to agree before they are used.
"""

from __future__ import annotations

import difflib
import hashlib
import math
import re
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np
import shapely
from shapely.geometry import LineString, Point, Polygon

from ..errors import Faults, FileError, ModelError
from ..geometry import polygons
from ..model import Curve, Curves, Part, Zone, counted
from .drawn import LEFT, Drawn, Node, Sheet
from .limits import DEFAULT
from .rings import crossing
from .source import printable
from .svg import GROUPS, read_svg
from .svg_curves import Line
from .svg_source import read_svg_bytes
from .svg_units import Fault

KINDS = ("outline", "cutout", "stitch", "engrave", "fold", "zone")
IGNORED = ("notes", "guide")
ASKED = {"cutout?": "cutout", "notes?": LEFT}
"""Labels of lines that are asked about, and what they are taken for."""

_NUMBER = r"[\s_.0-9-]*"
_FOLD = r"folds?(?:[\s_-]?lines?)?"
_KIND = re.compile(rf"({'|'.join(kind for kind in KINDS if kind != 'fold')}|{_FOLD}){_NUMBER}", re.IGNORECASE)
_ZONE = re.compile(rf"zone[\s_.-]*([A-E]){_NUMBER}", re.IGNORECASE)
_ENGRAVE = re.compile(rf"engrave[\s_.-]*(fill|line){_NUMBER}", re.IGNORECASE)
_IGNORED = re.compile(rf"({'|'.join(IGNORED)}){_NUMBER}", re.IGNORECASE)
_BY_EDITOR = re.compile(
    r"(?:svg|g|a|path|rect|circle|ellipse|line|polyline|polygon|use|text|image|symbol|group|layer|XMLID|SVGID)[\s_-]*[0-9][0-9_-]*",
    re.IGNORECASE,
)
_LAYER = re.compile(
    r"(?:layer|ebene|calque|capa|livello|laag|camada|lager|warstwa|page|sheet)[\s_-]*[0-9]*", re.IGNORECASE
)
_LABELS = f"label it {', '.join(KINDS)} (or zone A to zone E)"
_WHERE = "(places are in mm from the lower left of the page)"
_UNITS = (
    "usually wrong units: give an SVG's width and height in mm and its viewBox the same numbers, and say the --units "
    "of a DXF"
)
_LONGEST_NAME = 40

Labels = Mapping[str, str]
"""What names of layers or groups, and colours as #rrggbb, mean in a workshop's drawings: a label as above."""
NO_LABELS: Labels = {}
_known: dict[object, Drawing] = {}


@dataclass(frozen=True)
class Note:
    """Text of a drawing, and about where it stands, mm."""

    text: str
    x: float
    y: float


@dataclass(frozen=True)
class Asked:
    """A closed line in an outline of another colour, of which nobody said what it is.

    ``part`` is the number of its part in the drawing, ``number`` that of the cutout it is taken for; None where it
    lies in another such line and is left out.
    """

    part: int
    colour: str
    curve: Curve
    number: int | None


@dataclass(frozen=True)
class Drawing:
    """A drawing as it is understood: its parts and notes.

    ``guessed`` when not all had a label, so that a person has to look, and ``partly`` when some had; ``told`` is what
    they should know, ``asked`` what only they can say.
    """

    parts: tuple[Part, ...]
    notes: tuple[Note, ...] = ()
    guessed: bool = False
    told: tuple[str, ...] = ()
    asked: tuple[Asked, ...] = ()
    partly: bool = False

    @property
    def asked_colours(self) -> dict[str, int]:
        """How many lines there are of each colour that is asked about."""
        return dict(Counter(one.colour for one in self.asked))

    @property
    def questions(self) -> tuple[str, ...]:
        """What is asked, and how to answer, in words."""
        return tuple(
            f"{counted(count, 'closed line')} of {colour} in an outline of another colour: cut out, engraved or "
            f'stitched? taken to be cut out until workshop.toml says what that colour is: [drawings] "{colour}" = '
            '"engrave" (or stitch, fold, cutout)'
            for colour, count in self.asked_colours.items()
        )


def read_pattern(path: Path, tolerance_mm: float = DEFAULT.chord_mm, labels: Labels = NO_LABELS) -> tuple[Part, ...]:
    """Read the parts of a pattern whose lines have labels.

    Parameters
    ----------
    path : Path
        An SVG file at real size.
    tolerance_mm : float
        Greatest distance between a curve as drawn and the chords that stand for it.
    labels : mapping of str to str
        What colours and names mean, see `Labels`.

    Returns
    -------
    tuple of Part
        In drawing order, in mm, y up from the lower edge of the document; with the default needs.

    Raises
    ------
    FileError
        For all that is no clear instruction to cut; names the part and the label.
    ModelError
        When the tolerance is not a number above 0.
    """
    drawing = read_drawing(path, tolerance_mm, labels)
    if drawing.guessed:
        mend = f"look at what they are taken for with nesting look, and agree with --yes; or {_LABELS}"
        raise FileError(path, "drawing", f"{'some of ' if drawing.partly else ''}its lines have no labels", mend)
    return drawing.parts


def read_drawing(path: Path, tolerance_mm: float = DEFAULT.chord_mm, labels: Labels = NO_LABELS) -> Drawing:
    """Read an SVG drawing, with labels or without; the parameters and errors are those of `read_pattern`.

    What was understood is kept by what stands in the file (and its name, which may name a part): it takes up to a tenth
    of a second a drawing.
    """
    if not (math.isfinite(tolerance_mm) and tolerance_mm > 0):
        raise ModelError("tolerance_mm", tolerance_mm, "give a number more than 0, such as 0.05")
    content = read_svg_bytes(path)
    key = path.stem, hashlib.sha256(content).digest(), tolerance_mm, tuple(sorted(labels.items()))
    if key not in _known:
        drawn = read_svg(path, tolerance_mm, lambda node: _is_ignored(_translated(node, labels)), content)
        found = understood(path, Sheet(drawn), tolerance_mm, labels)
        if len(_known) >= DEFAULT.drawings_kept:
            _known.clear()
        _known[key] = found
    return _known[key]


def understood(path: Path, sheet: Sheet, tolerance_mm: float = DEFAULT.chord_mm, labels: Labels = NO_LABELS) -> Drawing:
    """The parts of a sheet of lines, by their labels or, where there are none, by what they look like.

    Raises
    ------
    FileError
        For all that is no clear instruction to cut.
    """
    items = [_Item.of(drawn, labels) for drawn in sheet.drawn]
    items = [item for item in items if item.kind != "notes"]
    notes = [item.drawn for item in items if item.drawn.text is not None and not item.kind]
    items = [item for item in items if item.kind or item.drawn.text is None]
    told = list(sheet.told)
    # in groups that a person labelled part by part, a line without a label is a slip and not a drawing's manner
    by_part = any(item.kind == "outline" and not item.by_colour and _home(item, True) for item in items)
    guessed = not by_part and any(item.drawn.lines and not item.kind for item in items)
    partly = guessed and any(item.kind and not item.by_colour for item in items)
    if guessed:
        items, doubts = _told(path, items)
        told += doubts
    faults = Faults()
    parts: list[Part] = []
    asked: list[Asked] = []
    with faults.gathered():
        for name, members in _groups(path, items, notes, guessed, faults):
            with faults.gathered():
                part, unsure = _part(path, name, members, tolerance_mm)
                asked += [Asked(len(parts), *one) for one in unsure]
                parts.append(part)
    faults.tell()
    texts = tuple(Note(printable(note.text), *note.place) for note in notes if note.text)
    return Drawing(tuple(parts), texts, guessed, tuple(told), tuple(asked), partly)


def _told(path: Path, items: Sequence[_Item]) -> tuple[list[_Item], tuple[str, ...]]:
    """What the lines of a drawing without labels are taken for; what cannot be read as a line is refused."""
    from .telling import tell

    faults = Faults()
    for item in items:
        if item.drawn.fault:
            faults.found.append(_stray(path, item))
    faults.tell()
    # what labels and colours say is no guess; closed lines stand around what is told all the same
    labelled = [item for item in items if item.kind and not item.by_colour]
    known = [item for item in items if item.by_colour and item.kind not in ("outline", "cutout")]
    kept = {id(item) for item in (*labelled, *known)}
    items = [item for item in items if id(item) not in kept]
    telling = tell([item.drawn for item in items], [(item.drawn, item.kind) for item in labelled])
    by_trail = {item.drawn.trail[-1].serial: item for item in items}
    has_outline = any(item.kind == "outline" for item in labelled)
    found = []
    for drawn, kind in telling.shapes:
        item = by_trail[drawn.trail[-1].serial]
        asked = not item.kind and kind in ASKED.values()
        kind = kind if kind == LEFT else item.kind or kind
        if kind == "outline" and has_outline:
            # what lies in no outline where outlines have labels may be anything
            found.append(replace(item, drawn=drawn))
        else:
            found.append(replace(item, drawn=drawn, kind=kind, words=kind, asked=asked))
    doubts = telling.doubts
    unsaid = [item for item in items if not item.kind and item.drawn.lines]
    if labelled:
        doubts = (f"{len(unsaid)} lines have no label, as others do: taken for what they look like", *doubts)
    names = dict.fromkeys(node.name for item in unsaid for node in item.drawn.trail if labelled and not _unnamed(node))
    for name in names:
        near = difflib.get_close_matches(name.casefold(), KINDS, 1, DEFAULT.near_label)
        if near:
            doubts = (*doubts, f"{printable(name[:60])} is no label: did you mean {near[0]}?")
    return [*found, *labelled, *known], doubts


def is_label(text: str) -> bool:
    """Whether it is a label that drawings may have."""
    node = Node(0, "g", text, "")
    return (bool(_kind(node)) and text not in ASKED) or _is_ignored(node)


def _is_ignored(node: Node) -> bool:
    return bool(_IGNORED.fullmatch(node.name))


def _translated(node: Node, labels: Labels) -> Node:
    word = labels.get(node.name.casefold())
    return replace(node, label=word) if word else node


@dataclass(frozen=True, eq=False)
class _Item:
    """A shape with what its labels say: its kind (empty when none does), its grade if a zone, how it is engraved, and
    the groups around.

    ``words`` name it for a person; the kind ``notes`` is left out. ``by_colour`` when its colour says what it is;
    ``asked`` when nobody does.
    """

    drawn: Drawn
    kind: str
    grade: str
    groups: tuple[Node, ...]
    words: str
    how: str = ""
    by_colour: bool = False
    asked: bool = False

    @classmethod
    def of(cls, drawn: Drawn, labels: Labels = NO_LABELS) -> _Item:
        trail = _as_called([_translated(node, labels) for node in drawn.trail])
        meant = labels.get(drawn.colour) if drawn.colour else None
        by_colour = bool(meant) and not any(_kind(node) and node.name not in ASKED for node in trail)
        if meant and by_colour:
            trail.append(Node(-1, "colour", meant, ""))
        at = next((index for index in reversed(range(len(trail))) if _kind(trail[index])), None)
        words = trail[-1].name or trail[-1].tag
        if any(map(_is_ignored, trail)):
            return cls(drawn, "notes", "", (), printable(words[:60]))
        if at is None:
            groups = [node for node in trail if node.tag in GROUPS and node is not trail[-1]]
            return cls(drawn, "", "", tuple(groups), printable(words[:60]))
        if trail[at] is not trail[-1]:
            words = f"{trail[at].name} > {words}"
        groups = [node for node in trail[:at] if node.tag in GROUPS and not _kind(node)]
        # a plain label inside a group that says how leaves it at that
        how = (
            next((_how(node) for node in reversed(trail[: at + 1]) if _how(node)), "")
            if _kind(trail[at]) == "engrave"
            else ""
        )
        kind, asked = _kind(trail[at]), trail[at].name in ASKED
        return cls(drawn, kind, _grade(trail[at]), tuple(groups), printable(words[:60]), how, by_colour, asked)


@dataclass
class _Group:
    """A part that is being put together; ``area`` is that of its outline, of a part in no named group."""

    name: str
    items: list[_Item] = field(default_factory=list)
    area: Polygon | None = None


def _groups(
    path: Path, items: Sequence[_Item], notes: Sequence[Drawn], guessed: bool, faults: Faults
) -> list[tuple[str, list[_Item]]]:
    """The items of each part: the nearest named group around an outline, else the outline and what lies in it."""
    outlines = [(item, _home(item, named_only=guessed)) for item in items if item.kind == "outline"]
    shared = Counter(home.serial for _, home in outlines if home)
    names: Counter[str] = Counter()
    groups: dict[int, _Group] = {}
    alone: dict[int, _Group] = {}
    order: list[_Group] = []
    for item, home in outlines:
        if guessed:
            # groups that nobody labelled for it say no more than a name
            name = _part_name(path, home) if home and shared[home.serial] == 1 else ""
            names[name] += bool(name)
            name += f"-{names[name]}" if names[name] > 1 else ""
            alone[id(item)] = _Group(name, [item], _rough_area(item))
            order.append(alone[id(item)])
        elif home:
            if home.serial not in groups:
                groups[home.serial] = _Group(_part_name(path, home))
                order.append(groups[home.serial])
        else:
            alone[id(item)] = _Group("", [item], _rough_area(item))
            order.append(alone[id(item)])
    strays: list[_Item] = []
    for item in items:
        if id(item) in alone:
            continue
        own = next((groups[node.serial] for node in reversed(item.groups) if node.serial in groups), None)
        own = own or _around(item, list(alone.values()))
        if own:
            own.items.append(item)
        elif item.kind != LEFT:
            strays.append(item)
    # what a shape that cannot be read leaves without an outline is no fault of its own
    unread = [item for item in strays if item.drawn.fault]
    faults.found += [_stray(path, item) for item in unread or strays]
    if guessed and not order and not faults.found:
        mend = "draw the outer edge of each part as one closed line; lines that only look closed must meet"
        raise FileError(path, "drawing", "no closed line that could be an outline", mend)
    if not order and not faults.found:
        raise FileError(
            path, "document", "no parts", "draw each part in a group with its name as label and an outline in it"
        )
    _name(path, [group for group in alone.values() if not group.name], notes)
    for name, count in Counter(group.name for group in order).items():
        if count > 1:
            mend = "give each part a name of its own; use count for more of the same"
            faults.found.append(FileError(path, f"part {name}", "drawn twice", mend))
    return [(group.name, group.items) for group in order]


def _around(item: _Item, alone: Sequence[_Group]) -> _Group | None:
    """The part of no group in whose outline most of a shape lies."""
    lines = [line.points for line in item.drawn.lines if len(line.points) > 1]
    if not lines or not alone:
        return None
    shape = shapely.MultiLineString(lines)
    inside = [shape.intersection(group.area or Polygon()).length for group in alone]
    most = max(inside)
    return alone[inside.index(most)] if most > 0 else None


def _rough_area(item: _Item) -> Polygon:
    """What an outline goes around, whatever is wrong with it."""
    rings = [Polygon(line.points) for line in item.drawn.lines if len(line.points) > 2]
    sound = [ring if ring.is_valid else Polygon(ring.convex_hull.buffer(0).exterior) for ring in rings]
    return max(sound, key=lambda ring: ring.area, default=Polygon())


def _name(path: Path, alone: Sequence[_Group], notes: Sequence[Drawn]) -> None:
    """Name parts of no group: by the one short text on each, else by the drawing's file."""
    short = [
        (printable(note.text), Point(note.place)) for note in notes if note.text and len(note.text) <= _LONGEST_NAME
    ]
    texts = [[text for text, place in short if group.area and group.area.contains(place)] for group in alone]
    names = [each[0] if len(each) == 1 else "" for each in texts]
    if len(set(names)) < len(names) or not all(names):
        stem = printable(re.sub("[-_]+", " ", path.stem).strip()[:_LONGEST_NAME])
        names = [stem if len(alone) == 1 else f"{stem}-{number}" for number in range(1, len(alone) + 1)]
    for group, name in zip(alone, names):
        group.name = name


def _home(item: _Item, named_only: bool = False) -> Node | None:
    named = [node for node in item.groups if not _unnamed(node)]
    if named_only:
        return named[-1] if named else None
    called = named or [node for node in item.groups if node.name and not _LAYER.fullmatch(node.name)]
    return called[-1] if called else None


def _part_name(path: Path, node: Node) -> str:
    name = node.name
    if not name.isprintable() or len(name) > 200:
        raise FileError(
            path, f"part {printable(name[:60])}", "not a plain name", "give it a short label of plain letters"
        )
    return name


def _stray(path: Path, item: _Item) -> FileError:
    """What to say of a shape that lies in no part."""
    home = _home(item)
    around = printable(home.name[:60]) if home else ""
    place = f"{around} > {item.words}" if around else item.words
    if item.drawn.fault:
        return FileError(path, place, printable(str(item.drawn.fault.value)), item.drawn.fault.mend)
    if item.kind and around:
        mend = f"label the outer edge in {around} outline, or group this shape with its part"
        return FileError(path, f"part {place}", "its part has no outline", mend)
    if item.kind:
        mend = "draw it inside an outline, or group the shapes of a part and label the group with its name"
        return FileError(path, place, "in no part", mend)
    mend = f"group it with its part and {_LABELS}, delete it, or put it in a group labelled {' or '.join(IGNORED)}"
    return FileError(path, place, "belongs to no part", mend)


def _part(
    path: Path, name: str, items: Sequence[_Item], tolerance_mm: float
) -> tuple[Part, list[tuple[str, Curve, int | None]]]:
    """A part, and the lines in it that are asked about: their colours, and which cutouts they are taken for."""
    by_kind: dict[str, list[_Item]] = {kind: [] for kind in (*KINDS, LEFT)}
    faults = Faults()
    for item in items:
        with faults.gathered(), _within(path, name, item):
            _check_item(item)
            by_kind[item.kind].append(item)
    for second in by_kind["outline"][1:]:
        with faults.gathered(), _within(path, name, second):
            raise Fault(
                "a second outline", "keep one in each part's group, label holes cutout, and give each part a group"
            )
    if not by_kind["outline"]:
        faults.tell()
    first = by_kind["outline"][0]
    try:
        with _within(path, name, first):
            outline, edge, inner = _outline(first)
    except FileError as error:
        faults.found.append(error)
        faults.tell()
        raise
    holes = [(first, hole) for hole, _ in inner]
    edges = [curve for _, curve in inner]
    asked: list[tuple[str, Curve, int | None]] = []
    for item in by_kind["cutout"]:
        for line in item.drawn.lines:
            with faults.gathered(), _within(path, name, item):
                holes.append((item, _ring(line)))
                edges.append(_edge(line))
                if _is_asked(item, first):
                    asked.append((item.drawn.colour, edges[-1], len(edges) - 1))
    for item in by_kind[LEFT]:
        if _is_asked(item, first):
            asked += [(item.drawn.colour, _edge(line), None) for line in item.drawn.lines]
    for item, hole in holes:
        with faults.gathered(), _within(path, name, item):
            _check_inside(hole, outline)
    if (copy := _overlapping([hole for _, hole in holes])) is not None:
        with faults.gathered(), _within(path, name, holes[copy][0]):
            spot = _at(holes[copy][1].exterior.coords[0])
            raise Fault(f"overlaps another cutout at {spot}", f"draw the two as one, or delete the copy {_WHERE}")
    reach = outline.buffer(tolerance_mm + DEFAULT.same_mm)
    shapely.prepare(reach)
    lines: dict[str, list[LineString]] = {"stitch": [], "engrave": []}
    for kind, found in lines.items():
        for item in by_kind[kind]:
            for line in item.drawn.lines:
                with faults.gathered(), _within(path, name, item):
                    inside = _line_inside(line, reach)
                    # layout files give stitch lines back from their drawing, by these chords
                    found.append(line.curve.flattened(DEFAULT.chord_mm) if kind == "stitch" else inside)
    hows = [item.how for item in by_kind["engrave"] for _ in item.drawn.lines]
    zones: list[Zone] = []
    folds: list[LineString] = []
    for item in by_kind["zone"]:
        with faults.gathered(), _within(path, name, item):
            zones += _zones(item, outline)
    for item in by_kind["fold"]:
        with faults.gathered(), _within(path, name, item):
            folds += _folds(item, outline)
    faults.tell()
    stitch, engrave = (tuple(line.curve for item in by_kind[kind] for line in item.drawn.lines) for kind in lines)
    try:
        part = Part(
            name,
            outline,
            cutouts=tuple(hole for _, hole in holes),
            stitch=tuple(lines["stitch"]),
            engrave=tuple(lines["engrave"]),
            engrave_how=tuple(hows) if any(hows) else (),
            zones=tuple(zones),
            folds=tuple(folds),
            curves=Curves(edge, tuple(edges), stitch, engrave),
        )
    except ModelError as error:
        raise FileError(path, f"part {name}", error.value, error.mend) from None
    return part, asked


def _is_asked(item: _Item, outline: _Item) -> bool:
    """Whether it is a line of another colour than the outline around it, of which nobody said what it is."""
    colours = item.drawn.colour, outline.drawn.colour
    return item.asked and all(colours) and colours[0] != colours[1]


@contextmanager
def _within(path: Path, name: str, item: _Item) -> Iterator[None]:
    """Say of a fault which part and shape it is about."""
    try:
        yield
    except Fault as fault:
        raise FileError(path, f"part {name} > {item.words}", printable(str(fault.value)), fault.mend) from None


def _check_item(item: _Item) -> None:
    if item.drawn.fault:
        raise item.drawn.fault
    if not item.kind:
        near = difflib.get_close_matches(item.words.lower(), KINDS, 1, DEFAULT.near_label)
        hint = f"did you mean {near[0]}? " if near else ""
        raise Fault("unknown label", f"{hint}{_LABELS}, or {' or '.join(IGNORED)} to leave it out")
    if not item.drawn.lines:
        raise Fault("draws nothing", "delete it, or draw it again")
    if item.how == "fill" and (line := next((line for line in item.drawn.lines if not line.closed), None)):
        raise Fault(
            f"open at {_at(line.points[0])}: it cannot be filled", f"close the path, or label it engrave line {_WHERE}"
        )


def _outline(item: _Item) -> tuple[Polygon, Curve, list[tuple[Polygon, Curve]]]:
    """The outer edge and its exact line, and those of the inner subpaths of a compound path."""
    width, height = np.ptp(np.concatenate([line.points for line in item.drawn.lines]), axis=0)
    if max(width, height) < DEFAULT.least_part_mm:
        raise Fault(f"{width:.4g} x {height:.4g} mm, smaller than {DEFAULT.least_part_mm:g} mm", _UNITS)
    if max(width, height) > DEFAULT.greatest_part_mm:
        raise Fault(f"{width:.4g} x {height:.4g} mm, bigger than {DEFAULT.greatest_part_mm / 1000:g} m", _UNITS)
    found = ((_ring(line), _edge(line)) for line in item.drawn.lines)
    (outer, edge), *inner = sorted(found, key=lambda pair: -pair[0].area)
    for ring, _ in inner:
        if not outer.intersects(ring):
            mend = f"keep one outline in each part's group, and give each part a group {_WHERE}"
            raise Fault(f"a second outline beside it at {_at(ring.exterior.coords[0])}", mend)
    return outer, edge, inner


def _edge(line: Line) -> Curve:
    """The exact line around the area of `_ring`."""
    return line.curve if line.closed else Curve(line.curve.nodes[:-1], True)


def _ring(line: Line) -> Polygon:
    """The area a line encloses; ends that nearly meet are joined."""
    points = line.points
    if not line.closed and len(points) > 2:
        gap = math.dist(points[0], points[-1])
        if gap > DEFAULT.closing_mm:
            value = f"open: {gap:.3g} mm from {_at(points[0])} to {_at(points[-1])}"
            raise Fault(value, f"join the ends or close the path {_WHERE}")
        points = points[:-1]
    if len(points) < 3:
        value = f"a line at {_at(points[0])} that encloses nothing"
        raise Fault(value, f"draw a closed shape, or delete the stray line {_WHERE}")
    ring = Polygon(points)
    if not ring.is_valid or ring.area <= 0:
        spot = _at(crossing(ring) or points[0])
        mend = f"redraw it so that it does not cross or touch itself {_WHERE}"
        raise Fault(f"crosses or touches itself at {spot}", mend)
    return ring


def _check_inside(hole: Polygon, outline: Polygon) -> None:
    shapely.prepare(outline)
    if not outline.contains_properly(hole):
        value = f"touches or leaves the outline at {_at(_farthest(hole, outline))}"
        raise Fault(value, f"move it inside; a notch in the edge belongs to the outline {_WHERE}")


def _overlapping(holes: Sequence[Polygon]) -> int | None:
    """The first cutout that overlaps one before it."""
    if len(holes) < 2:
        return None
    pairs = shapely.STRtree(holes).query(holes, predicate="intersects").T
    later = sorted((int(max(pair)), int(min(pair))) for pair in pairs if pair[0] < pair[1])
    return next((b for b, a in later if holes[a].intersection(holes[b]).area > DEFAULT.same_mm), None)


def _line_inside(line: Line, reach: Polygon) -> LineString:
    """A stitch or engrave line. It may reach the edge as drawn, which the chords of the edge miss by the tolerance."""
    if len(line.points) < 2:
        raise Fault(f"a dot at {_at(line.points[0])}", f"draw a line or a small circle, or delete it {_WHERE}")
    drawn = LineString(np.vstack([line.points, line.points[:1]]) if line.closed else line.points)
    if not reach.covers(drawn):
        raise Fault(f"leaves the outline at {_at(_farthest(drawn, reach))}", f"move it inside the outline {_WHERE}")
    return drawn


def _zones(item: _Item, outline: Polygon) -> list[Zone]:
    """A zone, cut off at the outline since one along an edge is easiest drawn over it."""
    if len(item.drawn.lines) > 1:
        raise Fault("several lines in one path", "draw each zone as a path of its own, without holes")
    area = _ring(item.drawn.lines[0])
    areas = polygons(outline.intersection(area), DEFAULT.same_mm)
    if not areas:
        raise Fault(f"outside the outline at {_at(area.exterior.coords[0])}", f"move it onto the part {_WHERE}")
    return [Zone(shape, item.grade) for shape in areas]


def _folds(item: _Item, outline: Polygon) -> list[LineString]:
    """Fold lines, cut off at the outline since they are easiest drawn beyond it."""
    found: list[LineString] = []
    for line in item.drawn.lines:
        if len(line.points) < 2:
            raise Fault(f"a dot at {_at(line.points[0])}", f"draw a line, or delete it {_WHERE}")
        drawn = LineString(np.vstack([line.points, line.points[:1]]) if line.closed else line.points)
        parts = shapely.get_parts(drawn.intersection(outline))
        kept = [part for part in parts if isinstance(part, LineString) and part.length > DEFAULT.same_mm]
        if not kept:
            raise Fault(f"outside the outline at {_at(line.points[0])}", f"move it onto the part {_WHERE}")
        found += kept
    return found


def _farthest(shape: Polygon | LineString, area: Polygon) -> tuple[float, float]:
    """The corner of a shape that lies farthest outside an area, or nearest to its edge when none does."""
    corners = shapely.get_coordinates(shape)
    points = shapely.points(corners)
    outside = shapely.distance(points, area)
    worst = np.argmax(outside) if outside.any() else np.argmin(shapely.distance(points, area.exterior))
    x, y = corners[worst]
    return float(x), float(y)


def _at(point: Sequence[float]) -> str:
    return f"({point[0]:.1f}, {point[1]:.1f})"


def _as_called(trail: Sequence[Node]) -> list[Node]:
    """The trail as a person called it.

    A name given to a copy stands for the name of the group that it copies, and a label such as ``cutout`` for a
    shape's.
    """
    called: list[Node] = []
    before = ""
    for node in trail:
        copy_named = before == "use" and not _unnamed(called[-1])
        if not (copy_named and (node.tag in GROUPS or _kind(called[-1]))):
            called.append(node)
        before = node.tag
    return called


def _kind(node: Node) -> str:
    name = node.name
    if name in ASKED:
        return ASKED[name]
    found = _KIND.fullmatch(name)
    if found:
        word = found[1].lower()
        return "fold" if word.startswith("fold") else word
    return "engrave" if _ENGRAVE.fullmatch(name) else "zone" if _ZONE.fullmatch(name) else ""


def _how(node: Node) -> str:
    found = _ENGRAVE.fullmatch(node.name)
    return found[1].lower() if found else ""


def _grade(node: Node) -> str:
    found = _ZONE.fullmatch(node.name)
    return found[1].upper() if found else "E" if _kind(node) == "zone" else ""


def _unnamed(node: Node) -> bool:
    """Whether only the editor has named it."""
    if node.label:
        return bool(_LAYER.fullmatch(node.label))
    return not node.id or bool(_BY_EDITOR.fullmatch(node.id))
