"""Rules 6, 8 and 9 of the referee: what must match comes from one hide or lot, no piece is cut in part, and parts lie
on the leather asked for."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence

from ..model import Hide, Kind, Layout, OrderLine, Placement, Unplaced
from .findings import Finding

Line = tuple[str, str]
"""Order and product: one order line."""


def not_split(layout: Layout) -> Iterator[Finding]:
    """Rule 6: groups come from one hide, pieces and order lines name their groups alike, and lots are kept."""
    groups: dict[str, set[str]] = defaultdict(set)
    uncut: set[str] = set()
    for placement in layout.placements:
        if placement.match:
            groups[placement.match].add(placement.hide)
            uncut |= set() if layout.is_burnt(placement) else {placement.match}
    for match, used in groups.items():
        if len(used) > 1 and match in uncut:
            yield Finding(6, "match", match, f"comes from hides {', '.join(sorted(used))}", "from one hide")
    hides = {hide.id: hide for hide in layout.hides}
    for line, placements in _lines(layout.placements).items():
        yield from _grouped(line, placements)
        yield from _of_one_lot(line, placements, hides)


def not_cut(layout: Layout) -> Iterator[Finding]:
    """Rule 8: of a piece every part is placed or none, unless its product may be cut in part or some of it is pinned or
    was cut already.

    A piece takes what any piece of its order line takes, so that a part left out of one in silence is missed too.
    """
    things: list[Placement | Unplaced] = [*layout.placements, *layout.unplaced]
    takes: dict[Line, dict[str, None]] = defaultdict(dict)
    placed: dict[Line, dict[int, set[str]]] = defaultdict(lambda: defaultdict(set))
    for thing in things:
        line, name = (thing.order, thing.product), _copy(thing)
        takes[line][name] = None
        if isinstance(thing, Placement):
            placed[line][thing.piece].add(name)
    stays = {
        (part.order, part.product, part.piece)
        for part in layout.placements
        if part.pinned is not None or layout.is_burnt(part)
    }
    stays |= {(part.order, part.product, part.piece) for part in layout.lost}
    for line, pieces in placed.items():
        for piece, found in sorted(pieces.items()):
            missing = [name for name in takes[line] if name not in found]
            if missing and line[1] not in layout.partial and (*line, piece) not in stays:
                value = f"{len(found)} of its {len(takes[line])} parts placed, missing {', '.join(missing)}"
                yield Finding(8, "piece", f"{' '.join(line)} {piece}", value, "placed whole or not at all")


def of_the_kind_asked(layout: Layout, uncut: Sequence[Placement]) -> Iterator[Finding]:
    """Rule 9: every part not cut yet lies on leather of the kind asked for, which is the same for all copies of an
    ordered part and heeds what its order line asks, where the layout has that."""
    hides = {hide.id: hide for hide in layout.hides}
    lines = {(line.order, line.product): line for line in layout.lines}
    asked: dict[tuple[str, str, str], Placement] = {}
    for placement in uncut:
        first = asked.setdefault((placement.order, placement.product, placement.part), placement)
        if placement.kind != first.kind:
            yield Finding(9, "leather", placement.name, f"asks for {placement.kind}", f"{first.kind} as {first.name}")
        line = lines.get((placement.order, placement.product))
        if line is not None and not _heeds(placement.kind, line):
            asks = f"what order {line.order} asks for, {Kind.asked(line)}"
            yield Finding(9, "leather", placement.name, f"asks for {placement.kind}", asks)
        hide = hides.get(placement.hide)
        if hide is not None and not placement.kind.allows(hide):
            yield Finding(
                9, "leather", placement.name, f"lies on hide {hide.id} ({Kind.of(hide)})", f"{placement.kind}"
            )


def _heeds(kind: Kind, line: OrderLine) -> bool:
    """Whether all that an order line asks of leather is asked."""
    pairs = [(getattr(line, name), getattr(kind, name)) for name in ("leather", "colour", "finish", "tannage")]
    return all(not asked.strip() or asked.strip().casefold() == said.strip().casefold() for asked, said in pairs)


def _lines(placements: Iterable[Placement]) -> dict[Line, list[Placement]]:
    lines: dict[Line, list[Placement]] = defaultdict(list)
    for placement in placements:
        lines[placement.order, placement.product].append(placement)
    return lines


def _copy(thing: Placement | Unplaced) -> str:
    """A part of a piece, in words that tell it from every other of it."""
    return f"{thing.part} {thing.copy}{' mirrored' if thing.mirrored else ''}"


def _grouped(line: Line, placements: list[Placement]) -> Iterator[Finding]:
    """A piece is of one group; a group is that of one piece of the order line or of all of them."""
    who, pieces = " ".join(line), defaultdict[int, set[str]](set)
    for placement in placements:
        pieces[placement.piece].add(placement.match)
    for piece, groups in sorted(pieces.items()):
        if len(groups) > 1:
            named = ", ".join(sorted(group or "none" for group in groups))
            yield Finding(6, "match", f"{who} {piece}", f"its parts are of the groups {named}", "of one group")
            return
    of_pieces = [group for (group,) in pieces.values()]
    different = dict.fromkeys(of_pieces)
    each_its_own = len(different) == len(of_pieces) and "" not in different
    if len(different) > 1 and not each_its_own:
        named = ", ".join(group or "none" for group in different)
        yield Finding(6, "match", who, f"its pieces are of the groups {named}", "each of its own, or all of one")


def _of_one_lot(line: Line, placements: list[Placement], hides: dict[str, Hide]) -> Iterator[Finding]:
    who, asking = " ".join(line), [placement for placement in placements if placement.same_lot]
    if 0 < len(asking) < len(placements):
        other = next(placement for placement in placements if not placement.same_lot)
        yield Finding(6, "lot", other.name, "may come from any lot", f"of one lot with the others of {who}")
    lots: dict[tuple[str, str], set[str]] = defaultdict(set)
    for placement in asking:
        if placement.hide in hides:
            lot = hides[placement.hide].lot.strip()
            lots[("lot", lot.casefold()) if lot else ("hide", placement.hide)].add(placement.hide)
    if len(lots) > 1:
        named = sorted(hide for used in lots.values() for hide in used)
        yield Finding(6, "lot", who, f"comes from hides {', '.join(named)} of {len(lots)} lots", "of one lot")
