"""The setting book: what to burn with at a thickness between those that were tested."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import combinations

import numpy as np

from ..model import ModelError
from ..workshop import Setting

SLIP = 1e-6
"""Energies that differ by less than this share differ by rounding only."""


def between(settings: Sequence[Setting], thickness_mm: float) -> Setting:
    """The setting for a thickness, from the tested rows about it.

    Line energy follows the thickness by monotone cubic interpolation (PCHIP: Fritsch and Carlson 1980, as scipy has
    it), power by straight lines, and speed from the two: rated W x power x passes / line energy. The rated power
    cancels out. Passes are those of the nearer row; the window reaches as far to either side as the rows about it do,
    by straight lines.

    Parameters
    ----------
    settings : sequence of Setting
        Rows of one operation and one leather (see `rows_for`), tested or by the default rule. Of rows at one thickness
        the last listed, which is the latest test, counts.
    thickness_mm : float

    Returns
    -------
    Setting
        A row itself where one was tested at this thickness.

    Raises
    ------
    ModelError
        Beyond the tested range, naming the test piece to cut; or when rows contradict each other.
    """
    rows = sorted({row.thickness_mm: row for row in settings}.values(), key=lambda row: row.thickness_mm)
    if len({(row.operation, row.leather) for row in rows}) > 1:
        raise ValueError("give rows of one operation and one leather")
    _refuse_contradiction(rows)
    _refuse_beyond(rows, thickness_mm)
    for row in rows:
        if row.thickness_mm == thickness_mm:
            return row
    return _interpolated(rows, thickness_mm)


def rows_for(settings: Sequence[Setting], leather: str, operation: str = "cut") -> tuple[Setting, ...]:
    """The rows of an operation for a leather: its own where it has any, else those that stand for every leather."""
    rows = [row for row in settings if row.operation == operation]
    own = tuple(row for row in rows if leather and row.leather == leather)
    return own or tuple(row for row in rows if not row.leather)


def contradiction(settings: Sequence[Setting]) -> tuple[Setting, Setting] | None:
    """The first two rows, thinner first, of which the thicker asks for less energy; None when the book is sound.

    Only rows of one operation and one leather are held against each other.
    """
    for pair in combinations(settings, 2):
        thin, thick = sorted(pair, key=lambda row: row.thickness_mm)
        alike = (thin.operation, thin.leather) == (thick.operation, thick.leather)
        if alike and thin.thickness_mm < thick.thickness_mm and _energy(thick) < _energy(thin) * (1 - SLIP):
            return thin, thick
    return None


def _energy(setting: Setting) -> float:
    """Line energy for each watt of rated power."""
    return setting.line_energy_j_mm(1.0)


def _refuse_contradiction(rows: Sequence[Setting]) -> None:
    found = contradiction(rows)
    if found:
        thin, thick = found
        raise ModelError(
            "settings",
            f"{thin.name} and {thick.name}",
            f"thicker leather ({thick.thickness_mm:g} mm) cannot need less energy than thinner "
            f"({thin.thickness_mm:g} mm): test both again and mend or delete the wrong row",
        )


def _refuse_beyond(rows: Sequence[Setting], thickness_mm: float) -> None:
    if rows and rows[0].thickness_mm <= thickness_mm <= rows[-1].thickness_mm:
        return
    if not rows:
        tested = "nothing is tested"
    elif len(rows) == 1:
        tested = f"only {rows[0].thickness_mm:g} mm is tested"
    else:
        tested = f"tested from {rows[0].thickness_mm:g} to {rows[-1].thickness_mm:g} mm"
    what = f" to {rows[0].operation}" if rows else ""
    leather = f" of {rows[0].leather}" if rows and rows[0].leather else ""
    raise ModelError(
        f"a setting{what} for leather{leather}",
        f"{thickness_mm:g} mm",
        f"{tested}: cut a test piece from {thickness_mm:g} mm leather (nesting swatch) and record what cut clean",
    )


def _interpolated(rows: Sequence[Setting], thickness_mm: float) -> Setting:
    from scipy.interpolate import PchipInterpolator

    tested = np.array([row.thickness_mm for row in rows])
    above = int(np.searchsorted(tested, thickness_mm))
    thin, thick = rows[above - 1], rows[above]
    nearer = thin if thickness_mm - thin.thickness_mm < thick.thickness_mm - thickness_mm else thick

    def straight(values) -> float:
        return float(np.interp(thickness_mm, tested, values))

    energy = float(PchipInterpolator(tested, [_energy(row) for row in rows])(thickness_mm))
    power = straight([row.power_percent for row in rows])
    return replace(
        nearer,
        name=f"{thickness_mm:g} mm, between {thin.name} and {thick.name}",
        thickness_mm=thickness_mm,
        speed_mm_s=power / 100.0 * nearer.passes / energy,
        power_percent=power,
        thinnest_mm=thickness_mm - straight([row.thickness_mm - row.thinnest_mm for row in rows]),
        thickest_mm=thickness_mm + straight([row.thickest_mm - row.thickness_mm for row in rows]),
        line_spacing_mm=straight([row.line_spacing_mm for row in rows]),
        basis=f"worked out between the tests at {thin.thickness_mm:g} and {thick.thickness_mm:g} mm",
    )
