"""The figures kept beside a layout, against those that it comes to."""

from __future__ import annotations

import re
from collections.abc import Iterator
from decimal import Decimal

from ..model import Layout
from ..referee.findings import Finding
from .currency import minor_unit
from .figures import Figures, figures
from .limits import DEFAULT, CostLimits

_MONEY = re.compile(r"-?[0-9]+(\.[0-9]+)?")


def worked_out_again(layout: Layout, said: Figures, limits: CostLimits = DEFAULT) -> list[Finding]:
    """Which of the figures kept beside a layout are not what it comes to.

    Parameters
    ----------
    layout : Layout
        Sound, or its figures mean nothing.
    said : dict
        As they stand in its file.
    limits : CostLimits, optional

    Returns
    -------
    list of Finding
        Of rule 11; at most ``limits.most_told``.
    """
    found: list[Finding] = []
    unit = minor_unit(layout.workshop.prices.currency)
    for place, value, bound in _differences(said, figures(layout, limits), "", unit, limits):
        found.append(Finding(11, "figures", place, value, f"{bound} as worked out anew"))
        if len(found) == limits.most_told:
            break
    return found


def _differences(
    said: object, true: object, place: str, unit: Decimal, limits: CostLimits
) -> Iterator[tuple[str, str, str]]:
    if isinstance(said, dict) and isinstance(true, dict):
        for key in dict.fromkeys([*true, *said]):
            where = f"{place} {str(key).replace('_', ' ')}".strip()
            if key not in said or key not in true:
                yield where, "missing" if key not in said else "is said", "there" if key not in said else "left out"
            else:
                yield from _differences(said[key], true[key], where, unit, limits)
    elif isinstance(said, list) and isinstance(true, list):
        if len(said) != len(true):
            yield place, f"{len(said)} entries", f"{len(true)}"
        for number, (one, other) in enumerate(zip(said, true), 1):
            yield from _differences(one, other, f"{place} {_name(other) or number}", unit, limits)
    elif not _same(said, true, unit, limits, "rectangle mm" in place):
        yield place, f"{said}", f"{true}"


def _name(row: object) -> str:
    """What a row of the figures is about."""
    names = ("hide", "order", "product", "piece", "id")
    return " ".join(str(row[name]) for name in names if name in row) if isinstance(row, dict) else ""


def _same(said: object, true: object, unit: Decimal, limits: CostLimits, rectangle: bool) -> bool:
    if isinstance(said, bool) or isinstance(true, bool):
        return said is true
    if isinstance(said, (int, float)) and isinstance(true, (int, float)):
        share = limits.same_rectangle_share if rectangle else limits.same_share
        return abs(said - true) <= max(share * abs(true), limits.same_least)
    if isinstance(said, str) and isinstance(true, str) and _MONEY.fullmatch(said) and _MONEY.fullmatch(true):
        return abs(Decimal(said) - Decimal(true)) <= limits.same_units * unit
    return said == true
