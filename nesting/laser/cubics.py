"""Rows of arcs that go on smoothly, written shorter: one cubic for as many as it can stand for."""

from __future__ import annotations

import cmath
import math
from collections.abc import Sequence
from itertools import pairwise
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from ..model import Curve
from ..model.curves import arc
from .limits import DEFAULT, LaserLimits

Complexes = npt.NDArray[np.complex128]


class Straight(NamedTuple):
    """A straight stretch, by its end."""

    end: complex


class Bend(NamedTuple):
    """A circular arc, by its radius, the way it turns and its end; it turns by 120 degrees at most."""

    radius: float
    left: bool
    end: complex


class Cubic(NamedTuple):
    """A cubic, by its control points and its end."""

    first: complex
    second: complex
    end: complex


class _Arc(NamedTuple):
    start: complex
    end: complex
    centre: complex
    sweep: float
    length: float

    def at(self, shares: npt.NDArray[np.float64]) -> Complexes:
        found: Complexes = self.centre + (self.start - self.centre) * np.exp(1j * self.sweep * shares)
        return found

    @property
    def leaves(self) -> complex:
        way = 1j * math.copysign(1.0, self.sweep) * (self.start - self.centre)
        return way / abs(way)

    @property
    def arrives(self) -> complex:
        return self.leaves * cmath.exp(1j * self.sweep)


def pieces(curve: Curve, limits: LaserLimits = DEFAULT) -> list[Straight | Bend | Cubic]:
    """What a line is made of from its first node on, with few points.

    Parameters
    ----------
    curve : Curve
    limits : LaserLimits, optional

    Returns
    -------
    list of Straight, Bend or Cubic
        Of four arcs or more that go on in one direction, one cubic where it strays from them by no more than
        ``cubic_mm``; it has their directions at its ends.
    """
    found: list[Straight | Bend | Cubic] = []
    run: list[_Arc] = []
    for start, end, bulge in curve.stretches():
        if not bulge:
            found += _shortened(run, limits)
            run = []
            found.append(Straight(end))
            continue
        of = arc(start, end, bulge)
        each = _Arc(start, end, of.centre, of.sweep, of.radius * abs(of.sweep))
        if run and abs(cmath.phase(each.leaves / run[-1].arrives)) > limits.smooth_rad:
            found += _shortened(run, limits)
            run = []
        run.append(each)
    return found + _shortened(run, limits)


def _shortened(run: Sequence[_Arc], limits: LaserLimits) -> list[Straight | Bend | Cubic]:
    found: list[Straight | Bend | Cubic] = []
    at = 0
    while at < len(run):
        least, most, best = limits.worth_a_cubic, len(run) - at, None
        count = most
        while least <= most:
            cubic = _cubic(run[at : at + count], limits)
            if cubic is not None:
                best, length, least = cubic, count, count + 1
            else:
                most = count - 1
            count = (least + most) // 2
        if best is None:
            found += _bends(run[at], limits)
            at += 1
        else:
            found.append(best)
            at += length
    return found


def _bends(each: _Arc, limits: LaserLimits) -> list[Bend]:
    count = math.ceil(abs(each.sweep) / math.radians(limits.widest_arc_deg) - 1e-9)
    ends = [*each.at(np.arange(1, count) / count).tolist(), each.end]
    return [Bend(abs(each.start - each.centre), each.sweep > 0, end) for end in ends]


def _cubic(run: Sequence[_Arc], limits: LaserLimits) -> Cubic | None:
    """The cubic nearest to some arcs, with their ends and directions there; None when it strays too far.

    Least squares, by Gauss and Newton, for the lengths of the two handles; the distances across the cubic count.
    """
    if sum(abs(each.sweep) for each in run) > math.radians(limits.widest_cubic_deg):
        return None
    start, end, first, last = run[0].start, run[-1].end, run[0].leaves, run[-1].arrives
    each = np.arange(limits.cubic_probes) / limits.cubic_probes
    points = np.concatenate([part.at(each) for part in run])
    along = np.concatenate([[0.0], np.cumsum([part.length for part in run])])
    t = np.concatenate([low + (high - low) * each for low, high in pairwise(along)]) / along[-1]
    points, t = points[1:], t[1:]
    handles = np.full(2, along[-1] / 3)
    for _ in range(limits.cubic_rounds):
        p1, p2 = complex(start + handles[0] * first), complex(end - handles[1] * last)
        for _ in range(2):
            s = 1 - t
            b1, b2 = 3 * s * s * t, 3 * s * t * t
            off = s**3 * start + b1 * p1 + b2 * p2 + t**3 * end - points
            way = 3 * (s * s * (p1 - start) + 2 * s * t * (p2 - p1) + t * t * (end - p2))
            speed = np.maximum(np.abs(way) ** 2, 1e-12)
            t = np.clip(t - (off * way.conj()).real / speed, 0, 1)
        if np.abs(off).max() <= limits.cubic_mm:
            return Cubic(p1, p2, end)
        across = 1j * way / np.sqrt(speed)
        slopes = np.column_stack([b1 * (first * across.conj()).real, -b2 * (last * across.conj()).real])
        change, *_ = np.linalg.lstsq(slopes, -(off * across.conj()).real, rcond=None)
        handles += np.clip(change, -handles / 2, along[-1])
    return None
