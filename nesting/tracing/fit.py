"""Nonlinear least squares."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np

from .arrays import Floats
from .limits import METHOD

SCALE = METHOD.scale

STEP = np.finfo(float).eps ** 0.5
"""Relative step by which slopes are taken: half the digits."""
Residuals: TypeAlias = Callable[[Floats], Floats]
"""From (k, n) values to (k, m) residuals: many at once take little longer than one."""


@dataclass(frozen=True)
class Fit:
    """``values`` (n,) that make half the sum of squares, ``cost``, least; the residuals (m,) and their slopes (m, n)
    there."""

    values: Floats
    residuals: Floats
    slopes: Floats
    cost: float


def least_squares(residuals: Residuals, start: Sequence[float] | Floats) -> Fit:
    """Levenberg's and Marquardt's method, damped in proportion to the columns of the slopes (Marquardt 1963; Moré
    1978).

    Not scipy.optimize, which takes 0.4 s to load, 60 times as long as the fit of four marker sheets, and 2.5 times as
    long for that fit, since it asks for the residuals of one set of values after another (measured).

    Parameters
    ----------
    residuals : callable
        (k, n) values to (k, m) residuals.
    start : (n,) array
    """
    values = np.array(start, dtype=float)
    missed = residuals(values[None])[0]
    cost, damping = _half(missed), SCALE.first_damping
    slopes = _slopes(residuals, values, missed)
    scale = np.linalg.norm(slopes, axis=0)
    for _ in range(SCALE.fit_rounds):
        scale = np.maximum(scale, np.linalg.norm(slopes, axis=0))
        unit = np.where(scale > 0, scale, 1.0)
        square, fall = (slopes / unit).T @ (slopes / unit), (slopes / unit).T @ missed
        while damping < SCALE.most_damping:
            moved = values - np.linalg.solve(square + damping * np.eye(len(values)), fall) / unit
            there = residuals(moved[None])[0]
            below = cost - _half(there)
            if below > 0:
                break
            damping *= SCALE.damping_up
        else:
            break
        values, missed, cost = moved, there, cost - below
        damping = max(damping / SCALE.damping_down, SCALE.least_damping)
        slopes = _slopes(residuals, values, missed)
        if below < SCALE.fit_settled * cost + 1e-15:
            break
    return Fit(values, missed, slopes, cost)


def _half(residuals: Floats) -> float:
    square = float(residuals @ residuals) / 2
    return square if np.isfinite(square) else np.inf


def _slopes(residuals: Residuals, values: Floats, here: Floats) -> Floats:
    steps = STEP * np.maximum(1.0, np.abs(values))
    moved = values + np.diag(steps)
    # what the steps became when they were rounded
    steps = np.diag(moved) - values
    return (residuals(moved) - here).T / steps
