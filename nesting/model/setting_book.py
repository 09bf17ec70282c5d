"""The setting book: what was tested, and what to burn with at a thickness between those that were."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from typing import cast

import numpy as np

from ..errors import ModelError
from .values import THICKEST_MM, positive

SETTING_OPERATIONS = ("cut", "engrave shallow", "engrave deep")
WINDOW_SHARE = 0.1
"""Default rule: a row whose window nobody tested is trusted for leather up to this share thinner or thicker. Common
practice of keeping near what was tested; no published source."""
SLIP = 1e-6
"""Energies that differ by less than this share differ by rounding only."""
UNTESTED = cast(float, None)
"""Given for an end of a window that nobody tested; the setting then has one by the default rule."""


@dataclass(frozen=True)
class Setting:
    """Speed, power and passes tested at one thickness, and the thickness window in which they cut (or engrave) clean.

    ``leather`` names the leather it was tested on; a row without a name stands for every leather. An end of the window
    that nobody tested comes from the default rule (see `WINDOW_SHARE`), and ``basis`` then says so. ``line_spacing_mm``
    is the distance between the lines with which an engraving fills a closed shape; 0 follows its edge only.
    """

    name: str
    thickness_mm: float
    speed_mm_s: float
    power_percent: float
    passes: int
    thinnest_mm: float = UNTESTED
    thickest_mm: float = UNTESTED
    operation: str = "cut"
    leather: str = ""
    line_spacing_mm: float = 0.0
    basis: str = "tested"

    def __post_init__(self) -> None:
        positive(f"thickness_mm of setting {self.name}", self.thickness_mm, top=THICKEST_MM)
        positive(f"speed_mm_s of setting {self.name}", self.speed_mm_s, top=5000)
        positive(f"power_percent of setting {self.name}", self.power_percent, top=100)
        if not 1 <= self.passes <= 20:
            raise ModelError(f"passes of setting {self.name}", self.passes, "give 1 to 20")
        if self.operation not in SETTING_OPERATIONS:
            raise ModelError(
                f"operation of setting {self.name}", self.operation, f"give {', '.join(SETTING_OPERATIONS)}"
            )
        positive(f"line_spacing_mm of setting {self.name}", self.line_spacing_mm, zero=True, top=5)
        self._default_window()
        if not 0 < self.thinnest_mm <= self.thickness_mm <= self.thickest_mm <= THICKEST_MM:
            raise ModelError(
                f"window of setting {self.name}",
                f"{self.thinnest_mm:g} to {self.thickest_mm:g} mm",
                f"thinnest_mm and thickest_mm must enclose the tested {self.thickness_mm:g} mm",
            )

    def _default_window(self) -> None:
        ends = {"thinnest_mm": 1 - WINDOW_SHARE, "thickest_mm": 1 + WINDOW_SHARE}
        missing = [end for end in ends if getattr(self, end) is None]
        for end in missing:
            object.__setattr__(self, end, min(round(self.thickness_mm * ends[end], 6), THICKEST_MM))
        if missing and self.basis == "tested":
            words = f"tested; its window by the default rule, {100 * WINDOW_SHARE:.0f} % of the thickness either way"
            object.__setattr__(self, "basis", words)

    def line_energy_j_mm(self, rated_w: float) -> float:
        """Energy given to each mm of cut over all passes: rated W x power / speed x passes."""
        return rated_w * self.power_percent / 100.0 / self.speed_mm_s * self.passes


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

    Only rows of one operation and one leather are compared.
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

    def straight(values: Sequence[float]) -> float:
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
