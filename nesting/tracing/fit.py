"""Nonlinear least squares."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

STEP = np.finfo(float).eps ** 0.5
ROUNDS = 100
SETTLED = 1e-5
"""Relative fall of the cost below which nothing more is to be gained."""


@dataclass(frozen=True)
class Fit:
    """``values`` (n,) that make half the sum of squares, ``cost``, least; the residuals (m,) and their slopes (m, n) there."""

    values: np.ndarray
    residuals: np.ndarray
    slopes: np.ndarray
    cost: float


def least_squares(residuals, start) -> Fit:
    """Levenberg's and Marquardt's method, damped in proportion to the columns of the slopes (Marquardt 1963; Moré 1978).

    Parameters
    ----------
    residuals : callable
        (k, n) values to (k, m) residuals: many at once take little longer than one.
    start : (n,) array
    """
    values = np.array(start, dtype=float)
    missed = residuals(values[None])[0]
    cost, damping = _half(missed), 1e-3
    slopes = _slopes(residuals, values, missed)
    scale = np.linalg.norm(slopes, axis=0)
    for _ in range(ROUNDS):
        scale = np.maximum(scale, np.linalg.norm(slopes, axis=0))
        unit = np.where(scale > 0, scale, 1.0)
        square, fall = (slopes / unit).T @ (slopes / unit), (slopes / unit).T @ missed
        while damping < 1e12:
            moved = values - np.linalg.solve(square + damping * np.eye(len(values)), fall) / unit
            there = residuals(moved[None])[0]
            below = cost - _half(there)
            if below > 0:
                break
            damping *= 4
        else:
            break
        values, missed, cost, damping = moved, there, cost - below, max(damping / 5, 1e-12)
        slopes = _slopes(residuals, values, missed)
        if below < SETTLED * cost + 1e-15:
            break
    return Fit(values, missed, slopes, cost)


def _half(residuals: np.ndarray) -> float:
    square = float(residuals @ residuals) / 2
    return square if np.isfinite(square) else np.inf


def _slopes(residuals, values: np.ndarray, here: np.ndarray) -> np.ndarray:
    steps = STEP * np.maximum(1.0, np.abs(values))
    moved = values + np.diag(steps)
    # what the steps became when they were rounded
    steps = np.diag(moved) - values
    return (residuals(moved) - here).T / steps
