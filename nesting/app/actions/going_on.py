"""Whether what a plan that goes on from a layout came to takes its place: only where it is better."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from ...costs.figures import Figures
from ...costs.gain import Worth
from ...files.layout import as_written, read_stated
from ...model import Layout, counted
from ...planning.kept import Kept
from ...planning.plan import as_kept
from ...planning.prepare import Prepared
from ...referee.rules import check

STAYS = "nothing better was found: the layout stays as it was"
STAYS_LYING = "nothing better was found: every part that still holds stays where it lay"


@dataclass(frozen=True)
class Settled:
    """What a plan that went on from a layout comes to.

    Where it is not ``taken``, ``layout`` is what still held, and ``stays`` tells that its file says so already.
    ``gain`` is what one that is taken has over it, in words, empty where what held is no layout any more; ``fallen``
    are the ordered pieces of the layout before that no longer held. ``figures`` are those of the layout where they are
    known.
    """

    layout: Layout
    taken: bool = True
    gain: str = ""
    figures: Figures | None = None
    stays: bool = False
    fallen: int = 0

    @property
    def words(self) -> str:
        """Which layout it is, and why; empty where there was no choice."""
        if self.taken and self.gain and self.fallen:
            fallen = counted(self.fallen, "piece")
            return f"{fallen} of the layout before no longer held; better than what still held: {self.gain}"
        if self.taken:
            return f"better than before: {self.gain}" if self.gain else ""
        return STAYS if self.stays else STAYS_LYING


class GoingOn:
    """A plan under way that goes on from a layout.

    Parameters
    ----------
    prepared : Prepared
    kept : Kept
        What still holds of that layout.
    file : Path
        That of the layout at hand, which is left as it is where it says what stays.
    how : dict
        ``seed``, ``settings`` and ``partial`` as `nesting.plan` has them.
    """

    def __init__(self, prepared: Prepared, kept: Kept, file: Path, **how: Any) -> None:
        self._prepared, self._kept, self._file, self._how = prepared, kept, file, how

    def settled(self, layout: Layout, quick: bool = False) -> Settled:
        """The layout that a search came to where it is better than what still held, else that.

        Parameters
        ----------
        layout : Layout
        quick : bool
            Whether somebody waits for the end: money is compared without the time that burning takes, and why something
            is left out is not looked into.
        """
        # compared and costed is what will stand in the file
        found = layout if quick else as_written(layout, self._file)
        still = self._as_kept(False)
        stated = read_stated(self._file) if self._file.is_file() else None
        stays = stated is not None and stated.sealed is not False and _told(stated.layout) == _told(still)
        before = Worth.of(still, stated.figures if stated is not None and stays else None, quick)
        worth = Worth.of(found, quick=quick)
        if (gain := worth.over(before)) or check(still):
            return Settled(found, True, gain, worth.figures or None, fallen=self._fallen(found))
        if stated is not None and stays:
            return Settled(stated.layout, False, figures=before.figures, stays=True)
        return Settled(self._as_kept(True) if still.unplaced and not quick else still, False)

    def _fallen(self, layout: Layout) -> int:
        """How many pieces that are still ordered had parts that no longer held."""
        fallen = {(part.order, part.product, part.piece) for part, _ in self._kept.dropped}
        return sum((one.order, one.product, one.piece) in fallen and not one.filler for one in layout.pieces())

    def _as_kept(self, explain: bool) -> Layout:
        return as_kept(self._prepared, self._kept, explain=explain, **self._how)


def _told(layout: Layout) -> tuple[object, ...]:
    """What tells a layout of the files of now from another, however it came about."""
    return (
        {part.key: (part.spot, part.panel, part.pinned) for part in layout.placements},
        {part.key for part in layout.lost},
        {one.name for one in layout.burnt},
        {hide.id: hide.price for hide in layout.hides},
        layout.made_from,
        layout.wanted,
        layout.lines,
        layout.partial,
    )
