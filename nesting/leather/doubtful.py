"""Thickness readings that others contradict: two at one point, and one far from what its neighbours say."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ..geometry import Floats
from ..model import Hide, Reading
from .limits import DEFAULT, LeatherLimits
from .thickness import Kriging, thickness_map


@dataclass(frozen=True)
class Doubtful:
    """A reading to take again, what is expected there without it, and a reading at the same point that says otherwise,
    None where its neighbours do."""

    reading: Reading
    expected_mm: float
    error_mm: float
    other: Reading | None = None

    def without(self, hide: Hide) -> Hide:
        """The hide without the reading."""
        return replace(hide, readings=tuple(one for one in hide.readings if one is not self.reading))


def doubtful_readings(hide: Hide, spread_mm: float, limits: LeatherLimits = DEFAULT) -> tuple[Doubtful, ...]:
    """The readings of a hide that contradict others.

    Two at one point do when they differ by more than four standard errors of a gauge; each of the two is named. Any
    other does when it lies more than four standard errors from what the rest say of its place (leave-one-out residual),
    the worst first, which is then left out before the next is looked for. Of fewer than four readings each is held
    against the nominal thickness, or the middle one of them.

    Parameters
    ----------
    hide : Hide
    spread_mm : float
        Standard deviation of thickness over a hide, from experience, mm.
    limits : LeatherLimits, optional

    Returns
    -------
    tuple of Doubtful
        No more than ``limits.most_doubtful``.
    """
    found: list[Doubtful] = []
    apart = limits.outlier_errors * limits.noise_mm * 2**0.5
    for number, one in enumerate(hide.readings):
        for other in hide.readings[number + 1 :]:
            near = np.hypot(one.x - other.x, one.y - other.y) <= limits.one_point_mm
            if near and abs(one.mm - other.mm) > apart:
                found += [Doubtful(one, other.mm, apart, other), Doubtful(other, one.mm, apart, one)]
    named = [doubtful.reading for doubtful in found]
    left = replace(hide, readings=tuple(one for one in hide.readings if not any(one is known for known in named)))
    while len(found) < limits.most_doubtful and len(left.readings) > 1:
        worst = _worst(left, spread_mm, limits)
        if worst is None:
            break
        found.append(worst)
        left = worst.without(left)
    return tuple(found[: limits.most_doubtful])


def _worst(hide: Hide, spread_mm: float, limits: LeatherLimits) -> Doubtful | None:
    """The reading that lies most standard errors from what the others say, by a fit without it; None where these are
    not too many."""
    number = int(np.argmax(np.abs(_left_out(hide, spread_mm, limits))))
    one = hide.readings[number]
    rest = replace(hide, readings=(*hide.readings[:number], *hide.readings[number + 1 :]))
    expected, error = _expected(rest, one, spread_mm, limits)
    return Doubtful(one, expected, error) if abs(one.mm - expected) > limits.outlier_errors * error else None


def _left_out(hide: Hide, spread_mm: float, limits: LeatherLimits) -> Floats:
    """How far each reading lies from what the others say with the covariance fitted to all, in standard errors; only
    roughly where one of them has spoilt the fit."""
    values = np.array([one.mm for one in hide.readings])
    estimate = thickness_map(hide, spread_mm, limits).estimate
    if not isinstance(estimate, Kriging):
        return values - (np.median(values) if hide.nominal_mm is None else hide.nominal_mm)
    # Of the inverse covariance less its part along the trend (Dubrule 1983): cross validation without n fits.
    q, _ = np.linalg.qr(estimate.basis) if estimate.basis.size else (estimate.basis, None)
    whole = estimate.whiten.T @ (np.eye(len(values)) - q @ q.T) @ estimate.whiten
    residuals: Floats = whole @ values / np.sqrt(np.maximum(np.diag(whole), 1e-12))
    return residuals


def _expected(rest: Hide, one: Reading, spread_mm: float, limits: LeatherLimits) -> tuple[float, float]:
    """What the other readings say of a place, and the standard error of a reading there."""
    if len(rest.readings) < limits.fewest_readings:
        level = rest.nominal_mm if rest.nominal_mm is not None else float(np.median([r.mm for r in rest.readings]))
        return level, float(np.hypot(max(spread_mm, limits.least_spread_mm), limits.noise_mm))
    known = thickness_map(rest, spread_mm, limits)
    mean, sd = known.mean_sd([(one.x, one.y)])
    noise = known.estimate.covariance.noise_mm if isinstance(known.estimate, Kriging) else limits.noise_mm
    return float(mean[0]), float(np.hypot(sd[0], noise))
