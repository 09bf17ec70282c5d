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
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

import shapely
from shapely.geometry import Point, Polygon

from ..errors import Faults, FileError, ModelError
from ..model import Part
from ..model.values import agreed
from .asked import Asked, colours, questions
from .drawn import LEFT, Drawn, Node, Sheet
from .drawn_parts import part_of
from .labels import (
    ASKED,
    HOW_TO_LABEL,
    IGNORED,
    KINDS,
    NO_LABELS,
    Item,
    Labels,
    home_of,
    is_ignored,
    translated,
    unnamed,
)
from .limits import DEFAULT
from .source import printable
from .svg import read_svg
from .svg_source import read_svg_bytes

_LONGEST_NAME = 40
_known: dict[object, Drawing] = {}


@dataclass(frozen=True)
class Note:
    """Text of a drawing, and about where it stands, mm."""

    text: str
    x: float
    y: float


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
        return colours(self.asked)

    @property
    def questions(self) -> tuple[str, ...]:
        """What is asked, and how to answer, in words."""
        return questions(self.asked)


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
        mend = f"look at what they are taken for with nesting look, and agree with --yes; or {HOW_TO_LABEL}"
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
        drawn = read_svg(path, tolerance_mm, lambda node: is_ignored(translated(node, labels)), content)
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
    items = [Item.of(drawn, labels) for drawn in sheet.drawn]
    items = [item for item in items if item.kind != "notes"]
    notes = [item.drawn for item in items if item.drawn.text is not None and not item.kind]
    items = [item for item in items if item.kind or item.drawn.text is None]
    told = list(sheet.told)
    # in groups that a person labelled part by part, a line without a label is a slip and not a drawing's manner
    by_part = any(item.kind == "outline" and not item.by_colour and home_of(item, True) for item in items)
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
                part, unsure = part_of(path, name, members, tolerance_mm)
                asked += [Asked(len(parts), *one) for one in unsure]
                parts.append(part)
    faults.tell()
    texts = tuple(Note(printable(note.text), *note.place) for note in notes if note.text)
    return Drawing(tuple(parts), texts, guessed, tuple(told), tuple(asked), partly)


def _told(path: Path, items: Sequence[Item]) -> tuple[list[Item], tuple[str, ...]]:
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
        told = agreed(
            len(unsaid),
            "line has no label, as others do: taken for what it looks like",
            "lines have no label, as others do: taken for what they look like",
        )
        doubts = (told, *doubts)
    names = dict.fromkeys(node.name for item in unsaid for node in item.drawn.trail if labelled and not unnamed(node))
    for name in names:
        near = difflib.get_close_matches(name.casefold(), KINDS, 1, DEFAULT.near_label)
        if near:
            doubts = (*doubts, f"{printable(name[:60])} is no label: did you mean {near[0]}?")
    return [*found, *labelled, *known], doubts


@dataclass
class _Group:
    """A part that is being put together; ``area`` is that of its outline, of a part in no named group."""

    name: str
    items: list[Item] = field(default_factory=list)
    area: Polygon | None = None


def _groups(
    path: Path, items: Sequence[Item], notes: Sequence[Drawn], guessed: bool, faults: Faults
) -> list[tuple[str, list[Item]]]:
    """The items of each part: the nearest named group around an outline, else the outline and what lies in it."""
    outlines = [(item, home_of(item, named_only=guessed)) for item in items if item.kind == "outline"]
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
    strays: list[Item] = []
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


def _around(item: Item, alone: Sequence[_Group]) -> _Group | None:
    """The part of no group in whose outline most of a shape lies."""
    lines = [line.points for line in item.drawn.lines if len(line.points) > 1]
    if not lines or not alone:
        return None
    shape = shapely.MultiLineString(lines)
    inside = [shape.intersection(group.area or Polygon()).length for group in alone]
    most = max(inside)
    return alone[inside.index(most)] if most > 0 else None


def _rough_area(item: Item) -> Polygon:
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


def _part_name(path: Path, node: Node) -> str:
    name = node.name
    if not name.isprintable() or len(name) > 200:
        raise FileError(
            path, f"part {printable(name[:60])}", "not a plain name", "give it a short label of plain letters"
        )
    return name


def _stray(path: Path, item: Item) -> FileError:
    """What to say of a shape that lies in no part."""
    home = home_of(item)
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
    mend = f"group it with its part and {HOW_TO_LABEL}, delete it, or put it in a group labelled {' or '.join(IGNORED)}"
    return FileError(path, place, "belongs to no part", mend)
