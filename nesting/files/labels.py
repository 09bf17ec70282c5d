"""Labels of a drawing: what the names of its groups, layers and shapes, and its colours, say that a shape is."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from .drawn import LEFT, Drawn, Node
from .source import printable
from .svg import GROUPS

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
HOW_TO_LABEL = f"label it {', '.join(KINDS)} (or zone A to zone E)"

Labels = Mapping[str, str]
"""What names of layers or groups, and colours as #rrggbb, mean in a workshop's drawings: a label as above."""
NO_LABELS: Labels = {}


def is_label(text: str) -> bool:
    """Whether it is a label that drawings may have."""
    node = Node(0, "g", text, "")
    return (bool(_kind(node)) and text not in ASKED) or is_ignored(node)


@dataclass(frozen=True, eq=False)
class Item:
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
    def of(cls, drawn: Drawn, labels: Labels = NO_LABELS) -> Item:
        trail = _as_called([translated(node, labels) for node in drawn.trail])
        meant = labels.get(drawn.colour) if drawn.colour else None
        by_colour = bool(meant) and not any(_kind(node) and node.name not in ASKED for node in trail)
        if meant and by_colour:
            trail.append(Node(-1, "colour", meant, ""))
        at = next((index for index in reversed(range(len(trail))) if _kind(trail[index])), None)
        words = trail[-1].name or trail[-1].tag
        if any(map(is_ignored, trail)):
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


def home_of(item: Item, named_only: bool = False) -> Node | None:
    """The nearest group around a shape that a person named, or, unless ``named_only``, that has any name."""
    named = [node for node in item.groups if not unnamed(node)]
    if named_only:
        return named[-1] if named else None
    called = named or [node for node in item.groups if node.name and not _LAYER.fullmatch(node.name)]
    return called[-1] if called else None


def is_ignored(node: Node) -> bool:
    """Whether its label says that what is in it is no line of a part."""
    return bool(_IGNORED.fullmatch(node.name))


def translated(node: Node, labels: Labels) -> Node:
    """It as the workshop's own words call it."""
    word = labels.get(node.name.casefold())
    return replace(node, label=word) if word else node


def unnamed(node: Node) -> bool:
    """Whether only the editor has named it."""
    if node.label:
        return bool(_LAYER.fullmatch(node.label))
    return not node.id or bool(_BY_EDITOR.fullmatch(node.id))


def _as_called(trail: Sequence[Node]) -> list[Node]:
    """The trail as a person called it.

    A name given to a copy stands for the name of the group that it copies, and a label such as ``cutout`` for a
    shape's.
    """
    called: list[Node] = []
    before = ""
    for node in trail:
        copy_named = before == "use" and not unnamed(called[-1])
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
