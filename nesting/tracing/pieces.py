"""A closed line as it was seen, point by point, as the fewest straight stretches and arcs that stand for it.

Where one piece ends and the next begins is found by dynamic programming over the corners of the plainer line: each
piece costs its squared misses, by moments, and so much for being there (a description length: Rissanen 1978). The
places where pieces meet, and how much arcs bend, are then fitted to all points together by least squares, so that
pieces meet exactly, and smoothly where they nearly do.
"""

from __future__ import annotations

import math
from itertools import pairwise
from typing import TypeAlias

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry import LineString

from ..model import Curve
from .arrays import Floats, Whole
from .curve import lengths_along, places_along
from .limits import METHOD

PIECES = METHOD.pieces
Row: TypeAlias = npt.NDArray[np.bool_]
"""(n,): which of some are so."""


def fit_pieces(ring: Floats, sigma_mm: float, blurred_mm: float) -> Curve:
    """The straight stretches and arcs of a closed line.

    Parameters
    ----------
    ring : (n, 2) array
        Its points in turn, mm, the last equal to the first.
    sigma_mm : float
        How far they may be off, one standard deviation.
    blurred_mm : float
        So near to a sharp corner the points are rounded by the blur of the photo, and count for nothing.

    Returns
    -------
    Curve
        Closed; a circle where one fits all of it.
    """
    sigma = max(sigma_mm, PIECES.least_sigma_mm)
    lengths = lengths_along(ring)
    count = int(np.clip(lengths[-1] / PIECES.step_mm, PIECES.fewest_points, PIECES.most_points))
    points = places_along(ring, lengths, np.linspace(0, lengths[-1], count, endpoint=False))
    step = lengths[-1] / count
    middle = points.mean(axis=0)
    points = points - middle
    # points nearer to each other than this are off together
    weight = min(1.0, step / PIECES.apart_mm) / sigma**2
    trim = round(min(blurred_mm, PIECES.most_trim_share * float(lengths[-1])) / float(step))
    whole = fit_circle(points)
    if whole is not None:
        x, y, radius, off = whole
        if off < PIECES.circle_spreads * sigma + PIECES.circle_share * radius:
            x, y = x + middle[0], y + middle[1]
            return Curve(((x + radius, y, 1.0), (x - radius, y, 1.0)), True)
    breaks, bulges = _divided(points, _candidates(points, sigma), step, weight, trim)
    breaks, bulges = _halved(points, breaks, bulges)
    nodes, bulges = _polished(points, breaks, bulges, weight, trim)
    return Curve(tuple((x, y, bulge) for (x, y), bulge in zip((nodes + middle).tolist(), bulges.tolist())), True)


def fit_circle(points: Floats) -> tuple[float, float, float, float] | None:
    """Centre, radius and root mean square miss of the circle through points, (n, 2), by least squares (Kasa 1976, then
    one Gauss-Newton step after another on the true distances); None where there is none."""
    x, y = points.T
    found = np.linalg.lstsq(np.column_stack([2 * x, 2 * y, np.ones(len(x))]), x * x + y * y, rcond=None)[0]
    square = found[2] + found[0] ** 2 + found[1] ** 2
    if not square > 0:
        return None
    circle = np.array([found[0], found[1], math.sqrt(square)])
    for _ in range(PIECES.circle_rounds):
        away = points - circle[:2]
        far = np.maximum(np.hypot(*away.T), 1e-9)
        slopes = np.column_stack([-away / far[:, None], -np.ones(len(far))])
        circle = circle + np.linalg.lstsq(slopes, circle[2] - far, rcond=None)[0]
    off = np.hypot(*(points - circle[:2]).T) - circle[2]
    return float(circle[0]), float(circle[1]), float(circle[2]), float(np.sqrt((off**2).mean()))


def _candidates(points: Floats, sigma: float) -> Whole:
    """Where pieces may meet: indices of the corners of the plainer line, in turn, not too many."""
    tolerance = PIECES.plain_spreads * sigma
    start = int(np.argmax(np.hypot(*points.T)))
    closed = np.vstack([np.roll(points, -start, axis=0), points[start]])
    while True:
        corners = shapely.get_coordinates(LineString(closed).simplify(tolerance))[:-1]
        if len(corners) <= PIECES.most_corners:
            break
        tolerance *= 1.3
    places = {tuple(point): index for index, point in enumerate(points.tolist())}
    return np.sort([places[tuple(corner)] for corner in corners.tolist()])


class _Costs:
    """What straight stretches and arcs cost that stand for runs of points, from sums over all that come before each."""

    def __init__(self, points: Floats, step: float, weight: float, trim: int):
        self.step, self.weight, self.trim = step, weight, trim
        x, y = np.vstack([points, points]).T
        z = x * x + y * y
        terms = np.stack([np.ones_like(x), x, y, z, x * x, x * y, y * y, x * z, y * z, z * z])
        self.sums = np.concatenate([np.zeros((len(terms), 1)), np.cumsum(terms, axis=1)], axis=1)

    def __call__(self, first: Whole, last: Whole) -> tuple[Floats, Row]:
        """Costs, (n,), of runs from one index to another, which may be beyond the end, and whether an arc is best."""
        trim = np.minimum(self.trim, (last - first) // PIECES.trim_share)
        sums = self.sums[:, last - trim + 1] - self.sums[:, first + trim]
        n = sums[0]
        mx, my, mz = sums[1:4] / n
        xx, xy, yy = sums[4] / n - mx * mx, sums[5] / n - mx * my, sums[6] / n - my * my
        xz, yz, zz = sums[7] / n - mx * mz, sums[8] / n - my * mz, sums[9] / n - mz * mz
        mean, apart = (xx + yy) / 2, np.hypot((xx - yy) / 2, xy)
        line = n * np.maximum(mean - apart, 0)
        det = np.maximum(xx * yy - xy * xy, 1e-12)
        a, b = (yy * xz - xy * yz) / det, (xx * yz - xy * xz) / det
        square = mz + (a / 2 - mx) ** 2 + (b / 2 - my) ** 2 - mx * mx - my * my
        bent = n * np.maximum(zz - a * xz - b * yz, 0) / np.maximum(4 * square, 1e-9)
        bent = np.where((n < PIECES.fewest_on_arc) | (square < PIECES.least_radius_mm**2), np.inf, bent)
        line = line * self.weight + PIECES.straight_cost
        # short stretches between others are more often rounded corners than bevels
        rarer = np.clip((last - first) * self.step / PIECES.rounding_mm - 1, -1.0, 1.0)
        bent = bent * self.weight + PIECES.straight_cost + PIECES.arc_cost * rarer
        return np.minimum(line, bent), bent < line


def _divided(points: Floats, candidates: Whole, step: float, weight: float, trim: int) -> tuple[Whole, Floats]:
    """Indices where pieces begin, in turn, and the bulge of each, 0 of a straight one."""
    many, costs = len(points), _Costs(points, step, weight, trim)
    begun = candidates
    for _ in range(2):
        # the second time from a place where pieces do meet, half way round from where the first began
        stops = np.append(begun, begun[0] + many)
        first, last = np.triu_indices(len(stops), 1)
        cost, arcs = costs(stops[first], stops[last])
        table, bent = np.full((len(stops),) * 2, np.inf), np.zeros((len(stops),) * 2, bool)
        table[first, last], bent[first, last] = cost, arcs
        table[0, -1] = np.inf
        least, before = np.zeros(len(stops)), np.zeros(len(stops), int)
        for at in range(1, len(stops)):
            total = least[:at] + table[:at, at]
            before[at] = int(np.argmin(total))
            least[at] = total[before[at]]
        met = [len(stops) - 1]
        while met[-1]:
            met.append(int(before[met[-1]]))
        met = met[::-1]
        arc = [bool(bent[a, b]) for a, b in pairwise(met)]
        found = stops[met[:-1]]
        middle = met[len(met) // 2] if len(met) > 2 else 0
        begun = np.concatenate([begun[middle:], begun[:middle] + many])
        begun = begun - (begun[0] // many) * many
    ends = np.append(found[1:], found[0] + many)
    bulges = [_bulge(points, int(a), int(b)) if each else 0.0 for a, b, each in zip(found, ends, arc)]
    return found % many, np.array(bulges)


def _bulge(points: Floats, first: int, last: int) -> float:
    """Of an arc from one point to another, by where the points half way along it lie."""
    many = len(points)
    start, end = points[first % many], points[last % many]
    run = points[np.arange(first, last + 1) % many]
    chord = end - start
    half = np.hypot(*chord) / 2
    if half < 1e-9:
        return 1.0
    rise = (run - start) @ np.array([-chord[1], chord[0]]) / (2 * half)
    rise = rise[np.argmax(np.abs(rise))]
    return float(-rise / half)


def _halved(points: Floats, breaks: Whole, bulges: Floats) -> tuple[Whole, Floats]:
    """Arcs of much more than half a turn in two, since ends near each other tell little of one; two pieces at least."""
    many, made, bends = len(points), [], []
    for at, (start, bulge) in enumerate(zip(breaks.tolist(), bulges.tolist())):
        made.append(start)
        if abs(bulge) > PIECES.most_bulge or len(breaks) == 1:
            long = (int(breaks[(at + 1) % len(breaks)]) - start) % many or many
            made.append((start + long // 2) % many)
            bulge = math.tan(math.atan(bulge) / 2)
            bends.append(bulge)
        bends.append(bulge)
    return np.array(made), np.array(bends)


def _polished(points: Floats, breaks: Whole, bulges: Floats, weight: float, trim: int) -> tuple[Floats, Floats]:
    """Where pieces meet, (k, 2), and how they bend, (k,), fitted to all points together."""
    count = len(breaks)
    nodes, arcs = points[breaks].astype(float), bulges != 0
    free = np.concatenate([np.ones(2 * count, bool), arcs])
    for smooth in (False, True):
        joints = _joints(nodes, bulges, arcs) if smooth else np.zeros(count, bool)
        for _ in range(PIECES.rounds):
            owner, used = _owners(points, nodes, bulges, breaks, trim, joints)
            values = np.concatenate([nodes.ravel(), bulges])
            for _ in range(PIECES.steps):
                off, slopes = _misses(points[used], owner[used], values, count, math.sqrt(weight))
                # a speck of dirt pulls at a piece no harder than this
                pull = np.sqrt(1 / np.maximum(1.0, np.abs(off) / (PIECES.outlying_spreads)))
                turns, turning = _turns(values, count, joints)
                rows = np.vstack([slopes * pull[:, None], turning, PIECES.held * np.eye(len(values))])[:, free]
                goal = np.concatenate([off * pull, turns, np.zeros(len(values))])
                change = np.linalg.lstsq(rows.T @ rows, -rows.T @ goal, rcond=None)[0]
                values[free] += np.clip(change, -PIECES.longest_step, PIECES.longest_step)
                if np.abs(change).max() < PIECES.settled:
                    break
            moved, bent = values[: 2 * count].reshape(-1, 2), values[2 * count :]
            if not _sound(moved, bent, points):
                return nodes, bulges
            nodes, bulges = moved, bent
            breaks = _nearest(points, nodes, breaks)
    rise = np.abs(bulges) * np.hypot(*(np.roll(nodes, -1, axis=0) - nodes).T) / 2
    return nodes, np.where(rise < PIECES.least_rise_mm, 0.0, bulges)


def _sound(nodes: Floats, bulges: Floats, points: Floats) -> bool:
    """Whether a fit stayed near to what it was fitted to."""
    if not np.isfinite(nodes).all() or np.abs(bulges).max() > PIECES.wildest_bulge:
        return False
    away = shapely.distance(shapely.LinearRing(points), shapely.points(nodes))
    return bool(away.max() < PIECES.farthest_mm)


def _joints(nodes: Floats, bulges: Floats, arcs: Row) -> Row:
    """At which nodes, (k,), pieces meet in one direction, or would but for noise."""
    into, out = _directions(nodes, bulges)
    turn = np.angle(np.exp(1j * (out - np.roll(into, 1))))
    smooth: Row = (np.abs(turn) < math.radians(PIECES.smooth_deg)) & (arcs | np.roll(arcs, 1))
    return smooth


def _directions(nodes: Floats, bulges: Floats) -> tuple[Floats, Floats]:
    """The direction at the end, and at the start, of each piece, radians."""
    chord = np.roll(nodes, -1, axis=0) - nodes
    along, half = np.arctan2(chord[:, 1], chord[:, 0]), 2 * np.arctan(bulges)
    return along + half, along - half


def _turns(values: Floats, count: int, joints: Row) -> tuple[Floats, Floats]:
    """How far pieces turn where they are to go on smoothly, in allowed turns, and how that changes with the values."""
    if not joints.any():
        return np.zeros(0), np.zeros((0, len(values)))

    def turns(tried: Floats) -> Floats:
        into, out = _directions(tried[: 2 * count].reshape(-1, 2), tried[2 * count :])
        turn: Floats = np.angle(np.exp(1j * (out - np.roll(into, 1))))[joints] / math.radians(PIECES.turn_deg)
        return turn

    here, small = turns(values), 1e-6
    return here, np.column_stack([(turns(values + small * unit) - here) / small for unit in np.eye(len(values))])


def _misses(points: Floats, owner: Whole, values: Floats, count: int, times: float) -> tuple[Floats, Floats]:
    """How far points, (n, 2), lie from the pieces that own them, and how that changes with the values, (n, m)."""
    nodes, bulges = values[: 2 * count].reshape(-1, 2), values[2 * count :]
    after = (owner + 1) % count
    given = np.column_stack([nodes[owner], nodes[after], bulges[owner]])
    columns = np.column_stack([2 * owner, 2 * owner + 1, 2 * after, 2 * after + 1, 2 * count + owner])
    here, slopes, small = _off(points, given), np.zeros((len(points), len(values))), 1e-6
    rows = np.arange(len(points))
    for at in range(5):
        slopes[rows, columns[:, at]] = (_off(points, given + small * np.eye(5)[at]) - here) / small
    return here * times, slopes * times


def _off(points: Floats, given: Floats) -> Floats:
    """Signed distances of points from circles given by two points and a bulge, (n, 5), which may be straight."""
    start, end, bulge = given[:, :2], given[:, 2:4], given[:, 4]
    chord = end - start
    half = np.maximum(np.hypot(*chord.T), 1e-9) / 2
    along = chord / (2 * half)[:, None]
    away = points - (start + end) / 2
    u, v = (away * along).sum(axis=1), away[:, 1] * along[:, 0] - away[:, 0] * along[:, 1]
    # an arc that turns left lies to the right of its chord, by so much at most; this holds for a rise of 0 as well
    rise = bulge * half
    above = rise * (u * u + v * v - half * half) - v * (half * half - rise * rise)
    below = np.hypot(rise * u, rise * v - (half * half - rise * rise) / 2) + (half * half + rise * rise) / 2
    off: Floats = above / below
    return off


def _owners(points: Floats, nodes: Floats, bulges: Floats, breaks: Whole, trim: int, joints: Row) -> tuple[Whole, Row]:
    """Which piece each point belongs to, by the order of both, and which points count: those near a corner do not."""
    many, count = len(points), len(breaks)
    order = np.argsort(breaks)
    owner = order[np.searchsorted(breaks[order], np.arange(many), side="right") - 1]
    used = np.ones(many, bool)
    lengths = (np.roll(breaks, -1) - breaks) % many
    for at in range(count):
        if joints[at]:
            continue
        after, before = min(trim, lengths[at] // PIECES.trim_share), min(trim, lengths[at - 1] // PIECES.trim_share)
        used[np.arange(breaks[at] - before, breaks[at] + after + 1) % many] = False
    return owner, used


def _nearest(points: Floats, nodes: Floats, breaks: Whole) -> Whole:
    """The point nearest to each node, about where it was."""
    many, window = len(points), np.arange(-PIECES.window_points, PIECES.window_points + 1)
    near = (breaks[:, None] + window) % many
    away = ((points[near] - nodes[:, None]) ** 2).sum(axis=2)
    found = near[np.arange(len(breaks)), away.argmin(axis=1)]
    turns = (np.roll(found, -1) - found) % many
    return found if turns.sum() == many and (turns > 0).all() else breaks
