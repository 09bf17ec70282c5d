"""One search of the engine: wishes placed on grounds."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from .. import engine
from ..workers import Cluster
from .case import Ground, Lies
from .translate import Translator


@dataclass(frozen=True)
class Answer:
    """What a search came to, what it cost, and whether it was broken off by Ctrl-C or a cancel."""

    lies: Lies = field(default_factory=dict)
    iterations: int = 0
    interrupted: bool = False


def pack(
    translator: Translator,
    grounds: list[Ground],
    bands: Mapping[int, int],
    stop: engine.Stop,
    seed: int,
    *,
    start: Lies | None = None,
    ranks: Mapping[int, int] | None = None,
    bound: Mapping[str, str] | None = None,
    progress: Callable[[engine.Progress], None] | None = None,
    workers: int | Cluster = 1,
) -> Answer:
    """Place wishes on grounds; what finds no place is left out.

    Parameters
    ----------
    translator : Translator
    grounds : list of Ground
    bands, ranks, bound
        Wishes with their settings, ranks and hides as in ``Translator.question``.
    stop : engine.Stop
    seed : int
    start : Lies, optional
        Lies to go on from.
    progress : callable, optional
        Called with an engine.Progress.
    workers : int or Cluster

    Returns
    -------
    Answer
    """
    question = translator.question(grounds, bands, ranks or {}, bound or {})
    if question is None:
        return Answer()
    begin = question.solution(start) if start else None
    found = engine.solve(question.problem, stop, seed, start=begin, progress=progress, workers=workers)
    return Answer(question.lies(found, bands), found.iterations, found.interrupted)
