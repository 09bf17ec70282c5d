"""What any drawing is read to: its shapes in mm, with the names of the groups and layers they lie in."""

from __future__ import annotations

from dataclasses import dataclass

from .svg_curves import Line
from .svg_units import Fault

LEFT = "left"
"""What closed lines in cutouts are taken for: they are left out, unless somebody says what their colour is."""


@dataclass(frozen=True)
class Node:
    """A group or shape as it is called: ``label`` is what a person named it, ``id`` what the file calls it.

    ``serial`` tells one drawing of an element from another, since ``use`` draws elements again.
    """

    serial: int
    tag: str
    label: str
    id: str

    @property
    def name(self) -> str:
        """The label, or the id where there is none."""
        return self.label or self.id


@dataclass(frozen=True, eq=False)
class Drawn:
    """One shape: its groups from the outermost to itself, and its lines or what is wrong with it.

    ``colour`` is that of its line as #rrggbb, empty where there is none; ``text`` is what stands there at ``place``,
    None of a line.
    """

    trail: tuple[Node, ...]
    lines: tuple[Line, ...] = ()
    fault: Fault | None = None
    colour: str = ""
    dashed: bool = False
    text: str | None = None
    place: tuple[float, float] = (0.0, 0.0)


@dataclass(frozen=True, eq=False)
class Sheet:
    """A drawing by other hands: its shapes, and what a person should know of how they were read."""

    drawn: tuple[Drawn, ...]
    told: tuple[str, ...] = ()
