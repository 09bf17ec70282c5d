"""The one change that would let in a piece left out, found by trying it on the layout as it is."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from time import monotonic

from ..model import GRADES, Direction, Kind, Part
from .arrange import Arrangement, with_spare
from .case import Case, Known
from .prepare import Prepared
from .ready import Ready, ready
from .translate import Translator
from .whole import Fitter
from .wishes import Form, Ordered, Wish

Piece = tuple[Wish, ...]


@dataclass(frozen=True)
class _Trial:
    """A change, in words to follow "it fits", and the pieces as they would then be."""

    words: Callable[[str], str]
    case: Case
    piece: Piece


class Changes:
    """What would let in the pieces left out, remembered for pieces of the same form.

    Parameters
    ----------
    prepared : Prepared
    case : Case
        That was searched.
    made : Arrangement
        What came of it; fillers give way to what is tried.
    seconds : float, optional
        How long it may take.
    """

    def __init__(self, prepared: Prepared, case: Case, made: Arrangement, seconds: float | None = None) -> None:
        self.until = None if seconds is None else monotonic() + seconds
        lies = {index: lie for index, lie in made.lies.items() if not case.wishes[index].product.filler}
        self.prepared, self.case, self.made = prepared, case, replace(made, lies=lies)
        self._found: dict[tuple[Form, ...], str] = {}

    def letting_in(self, piece: Piece) -> str:
        """The first change, of those that ask least of the maker, with which all of a piece finds a place; empty when
        none of them does, or too many pieces have been looked into."""
        key = tuple(wish.shape for wish in piece)
        if key not in self._found:
            change = next(filter(None, map(self._tried, self._trials(piece))), "") if self._goes_on() else ""
            self._found[key] = change or self._instead_of(piece)
        return self._found[key]

    def _goes_on(self) -> bool:
        return len(self._found) < self.prepared.limits.changes_tried and (
            self.until is None or monotonic() < self.until
        )

    def _trials(self, piece: Piece) -> Iterator[_Trial]:
        case, hides, job = self.case, self.prepared.hides, self.prepared.job
        if any(wish.part.direction.kind != "free" for wish in piece):
            yield self._trial(piece, lambda hide: "turned freely", direction=Direction())
        more = {item.hide.id: item for item in hides if item.open}
        if any(
            len(item.settings) > len(case.hides[name].settings) for name, item in more.items() if name in case.hides
        ):
            yield _Trial(lambda hide: f"with one setting more on {hide}", self._case(case, piece, more), piece)
        aside = [hide for hide in job.hides if hide.id not in {item.hide.id for item in hides}]
        if aside:
            others = {item.hide.id: item for item in (ready(hide, job.workshop) for hide in aside) if item.open}
            yield _Trial(
                lambda hide: f"on {hide}, which this plan leaves aside", self._case(case, piece, others), piece
            )
        yield from self._graded(piece)
        if any(wish.kind != Kind(burn=wish.kind.burn) for wish in piece):
            yield self._trial(piece, lambda hide: f"on {hide} if that leather will do", kind=True)
        if any(wish.part.thickness_mm for wish in piece):
            yield self._trial(piece, lambda hide: f"on {hide} if any thickness will do", thickness_mm=None)
        margins = case.margins
        if margins.edge_mm > 0:
            half = replace(case.workshop, margins=replace(margins, edge_mm=margins.edge_mm / 2))
            smaller = replace(self._case(case, piece, case.hides), workshop=half, known=Known())
            told = f"with an edge margin of {margins.edge_mm / 2:g} mm instead of {margins.edge_mm:g}"
            yield _Trial(lambda hide: told, smaller, piece)

    def _instead_of(self, piece: Piece) -> str:
        """Another ordered piece that would have to stay out for this one: the least urgent with which that goes."""
        case, lies = self.case, self.made.lies
        number = {wish.key: index for index, wish in enumerate(case.wishes)}
        if not all(wish.key in number for wish in piece):
            return ""
        indices = [number[wish.key] for wish in piece]
        missing = [index for index in indices if index not in lies]
        need = sum(case.sizes_mm2[index] for index in missing)
        homes = {hide for index in missing for hide in case.homes[index]}

        def last_first(other: Ordered) -> tuple[float, ...]:
            area = sum(case.sizes_mm2[index] for index in case.pieces[other])
            return -case.wishes[case.pieces[other][0]].rank, area < need, abs(area - need)

        others = [
            other
            for other, its in case.pieces.items()
            if other != piece[0].ordered
            and all(index in lies for index in its)
            and any(self.made.grounds[lies[index].ground].hide in homes for index in its)
        ]
        grounds = list(self.made.grounds)
        fitter = Fitter(Translator(case), grounds, lies, indices)
        sites = dict.fromkeys(ground.hide for ground in grounds)
        every = [[n for n, ground in enumerate(grounds) if ground.hide == hide] for hide in sites]
        for other in sorted(others, key=last_first)[: self.prepared.limits.instead_tried]:
            if not self._goes_on():
                break
            fitter.lift(case.pieces[other])
            if any(fitter.put(missing, order) for order in (every if piece[0].match else [range(len(grounds))])):
                name, product, copy = other
                return f"it fits if {product} {copy} of {name} is left out"
            for index in case.pieces[other]:
                fitter.restore(index, lies[index])
        return ""

    def _graded(self, piece: Piece) -> Iterator[_Trial]:
        """The first lower grade with which it fits, for as few of its parts as will do."""
        best = min(min([wish.part.grade, *(zone.grade for zone in wish.part.zones)]) for wish in piece)
        grades = GRADES[GRADES.index(best) + 1 : -1]
        # where even the lowest does not help no other will
        if not grades or (len(grades) > 1 and not self._tried(self._with_grade(piece, grades[-1]))):
            return
        for grade in grades:
            every = self._with_grade(piece, grade)
            if len({wish.part.name for wish in piece}) > 1 and self._tried(every):
                for name in dict.fromkeys(wish.part.name for wish in piece):
                    yield self._with_grade(piece, grade, name)
            yield every

    def _with_grade(self, piece: Piece, grade: str, name: str | None = None) -> _Trial:
        """A piece of which all parts, or those of a name, may be of a grade."""
        changed = tuple(
            replace(wish, part=_at_best(wish.part, grade)) if name in (None, wish.part.name) else wish for wish in piece
        )
        names = dict.fromkeys(new.part.name for new, old in zip(changed, piece) if new.part != old.part)
        which = f" for {' and '.join(names)}" if len({wish.part.name for wish in piece}) > 1 else ""
        return self._trial(changed, lambda hide: f"on {hide} if grade {grade} will do{which}")

    def _trial(self, piece: Piece, words: Callable[[str], str], kind: bool = False, **facts: object) -> _Trial:
        changed = tuple(
            replace(
                wish,
                # another name, for another form
                product=replace(wish.product, name=f"{wish.product.name}, changed"),
                part=_changed(wish.part, facts),
                kind=Kind(burn=wish.kind.burn) if kind else wish.kind,
            )
            for wish in piece
        )
        return _Trial(words, replace(self._case(self.case, changed, self.case.hides), known=Known()), changed)

    def _case(self, case: Case, piece: Piece, hides: dict[str, Ready]) -> Case:
        """The case with a piece at the end of its wishes; those of the same key keep their number."""
        known = {wish.key for wish in case.wishes}
        return replace(case, hides=hides, wishes=(*case.wishes, *(w for w in piece if w.key not in known)))

    def _tried(self, trial: _Trial) -> str:
        """The words of a change, when with it all of the piece finds a place."""
        case = trial.case
        if not self._goes_on():
            return ""
        number = {wish.key: index for index, wish in enumerate(case.wishes)}
        indices = [number[wish.key] for wish in trial.piece]
        homes = [set(case.homes[index]) for index in indices]
        if not all(homes) or (trial.piece[0].match and not set.intersection(*homes)):
            return ""
        lies = {
            index: lie
            for index, lie in self.made.lies.items()
            if index not in indices and self.made.grounds[lie.ground].hide in case.hides
        }
        made = with_spare(case, replace(self.made, lies=lies))
        fitter = Fitter(Translator(case), list(made.grounds), lies, indices)
        every = list(range(len(made.grounds)))
        sites = dict.fromkeys(ground.hide for ground in made.grounds)
        ways = (
            [[n for n in every if made.grounds[n].hide == hide] for hide in sites] if trial.piece[0].match else [every]
        )
        for order in ways:
            if fitter.put(indices, order):
                return "it fits " + trial.words(made.grounds[fitter.lies[indices[0]].ground].hide)
        return ""


def _at_best(part: Part, grade: str) -> Part:
    """A part for which no better grade than this is asked anywhere."""
    zones = tuple(replace(zone, grade=max(zone.grade, grade)) for zone in part.zones)
    return replace(part, grade=max(part.grade, grade), zones=zones)


def _changed(part: Part, facts: dict[str, object]) -> Part:
    return replace(part, **facts)  # type: ignore[arg-type]
