"""In which order the settings of a panel are burnt, so that as few as can be change."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Sequence
from itertools import pairwise
from typing import NamedTuple

import shapely

from ..model import Placement, Setting


class Run(NamedTuple):
    """Parts burnt with one setting in one go, and those engraved before: its own, and later ones engraved alike."""

    setting: Setting | None
    engraving: Setting | None
    cut: tuple[Placement, ...]
    engraved: tuple[Placement, ...]

    @property
    def settings(self) -> tuple[Setting | None, ...]:
        """What the machine is set to in turn; None for engraving that has no tested row."""
        return ((self.engraving,) if self.engraved else ()) + (self.setting,)


def runs(
    parts: Sequence[Placement],
    setting_of: Callable[[Placement], Setting | None],
    engraving_of: Callable[[Setting | None], Setting | None],
    last: Setting | None = None,
) -> list[Run]:
    """The parts of a panel in runs of one setting, with as few change-overs as can be.

    Each part is engraved before it is cut, and what lies in a cutout is cut before what surrounds it. Everything that
    is engraved alike is engraved before the first run that has some of it, which costs no change-over; so the least
    number is that of the engravings and of the cutting runs. Of those the fewest are found by breadth-first search over
    what is done: with a setting all is cut that can be, for doing more sooner never stands in the way later.

    Parameters
    ----------
    parts : sequence of Placement
    setting_of : callable
        The setting that cuts a part.
    engraving_of : callable
        The setting that engraves parts cut with a setting.
    last : Setting, optional
        What the machine is set to.

    Returns
    -------
    list of Run
        In the order in which they are burnt.
    """
    owns = [setting_of(part) for part in parts]
    order = _fewest(owns, [set(inner) for inner in inside(parts)], last)
    engraved: dict[Hashable, list[int]] = {}
    for setting, cut in order:
        engraved.setdefault(engraving_of(setting), []).extend(n for n in cut if parts[n].engrave)
    made = []
    for setting, cut in order:
        first = engraved.pop(engraving_of(setting), [])
        made.append(Run(setting, engraving_of(setting), tuple(parts[n] for n in cut), tuple(parts[n] for n in first)))
    return made


def changeovers(settings: Sequence[Setting | None]) -> int:
    """How often the setting changes when these follow each other."""
    return sum(one != other for one, other in pairwise(settings))


def inside(parts: Sequence[Placement]) -> list[list[int]]:
    """For each part the numbers of the parts that lie inside one of its cutouts."""
    found: list[list[int]] = [[] for _ in parts]
    cutouts = [(number, cutout) for number, part in enumerate(parts) for cutout in part.cutouts]
    if cutouts:
        tree = shapely.STRtree([part.outline for part in parts])
        pairs = tree.query([cutout for _, cutout in cutouts], predicate="contains")
        for cutout, inner in pairs.T:
            found[cutouts[cutout][0]].append(int(inner))
    return found


def _fewest(
    owns: Sequence[Setting | None], before: Sequence[set[int]], last: Setting | None
) -> list[tuple[Setting | None, list[int]]]:
    """Runs of (setting, numbers) with the fewest changes, each number after those that come ``before`` it."""

    def all_with(setting: Setting | None, done: frozenset[int]) -> list[int]:
        cut: list[int] = []
        left = [n for n, own in enumerate(owns) if own == setting and n not in done]
        while more := [n for n in left if n not in cut and before[n] <= done | set(cut)]:
            cut += more
        return cut

    first = all_with(last, frozenset())
    level: list[tuple[list[tuple[Setting | None, list[int]]], frozenset[int]]]
    level = [([(last, first)] if first else [], frozenset(first))]
    settings = list(dict.fromkeys(owns))
    seen: set[frozenset[int]] = set()
    while level:
        for path, done in level:
            if len(done) == len(owns):
                return path
        following = []
        for path, done in level:
            for setting in settings:
                cut = all_with(setting, done)
                now = done | set(cut)
                if cut and now not in seen:
                    seen.add(now)
                    following.append(([*path, (setting, cut)], now))
        level = following
    raise ValueError("parts lie inside each other")
