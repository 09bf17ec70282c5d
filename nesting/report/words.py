"""Figures and names as people read them."""

from __future__ import annotations

import math
from datetime import date

from babel.dates import format_date

from ..model import MM2_PER_DM2, MM2_PER_SQ_FT


def plain(text: str, longest: int = 200) -> str:
    """A name as one printable line: control and direction characters become spaces, what is too long is cut."""
    line = " ".join("".join(c if c.isprintable() else " " for c in text).split())
    return line if len(line) <= longest else line[: longest - 1] + "…"


def area(mm2: float, first: str = "mm") -> str:
    """An area in dm2 and sq ft, or the other way round where inches are shown first."""
    (one, unit), (other, second) = zip(areas(mm2, first), area_units(first))
    return f"{one} {unit} ({other} {second})"


def areas(mm2: float, first: str = "mm") -> tuple[str, str]:
    """An area in dm2 and in sq ft, without its units, in the order in which they are shown."""
    return (sq_ft(mm2), dm2(mm2)) if first == "inch" else (dm2(mm2), sq_ft(mm2))


def area_units(first: str = "mm") -> tuple[str, str]:
    """The units of an area in that order."""
    return ("sq ft", "dm²") if first == "inch" else ("dm²", "sq ft")


def dm2(mm2: float) -> str:
    """An area in dm2, without its unit."""
    return f"{mm2 / MM2_PER_DM2:.1f}"


def sq_ft(mm2: float) -> str:
    """An area in sq ft, without its unit."""
    return f"{mm2 / MM2_PER_SQ_FT:.2f}"


def share(value: float) -> str:
    """A share from 0 to 1 in per cent."""
    return f"{100 * value:.1f} %"


def count(number: int, thing: str) -> str:
    """A number with its thing: 1 part, 2 parts."""
    return f"{number} {thing}{'' if number == 1 else 's'}"


def day(iso: str) -> str:
    """A day as people say it: Friday 18 September."""
    return format_date(date.fromisoformat(iso), "EEEE d MMMM", locale="en")


def duration(seconds: float) -> str:
    """A time as people say it."""
    whole = max(1, round(seconds))
    if whole < 60:
        return f"{whole} s"
    minutes, rest = divmod(whole, 60)
    if minutes < 60:
        return f"{minutes} min" + (f" {rest} s" if rest and minutes < 10 else "")
    hours, minutes = divmod(math.ceil(whole / 60), 60)
    return f"{hours} h {minutes} min"


def make(tannage: str) -> str:
    """How a leather was tanned."""
    return {"unknown": "tannage unknown", "synthetic": "synthetic"}.get(tannage, f"{tannage}-tanned")


def size(width_mm: float, height_mm: float, first: str = "mm") -> str:
    """A rectangle in mm and inches, or the other way round."""
    one, other = (
        size_in(width_mm, height_mm, units) for units in (("inch", "mm") if first == "inch" else ("mm", "inch"))
    )
    return f"{one} ({other})"


def size_in(width_mm: float, height_mm: float, units: str) -> str:
    """A rectangle in mm or inches."""
    if units == "inch":
        return f"{size_inches(width_mm, height_mm)} in"
    return f"{size_mm(width_mm, height_mm)} mm"


def size_mm(width_mm: float, height_mm: float) -> str:
    """A rectangle in whole mm, without its unit; rounded down, because a part must fit in it."""
    return f"{int(width_mm)} × {int(height_mm)}"


def size_inches(width_mm: float, height_mm: float) -> str:
    """A rectangle in inches, without its unit; rounded down to a tenth."""
    return " × ".join(f"{int(side / 2.54) / 10:.1f}" for side in (width_mm, height_mm))


def offcut_name(offcut_id: str) -> str:
    """An offcut's id without its hide: offcut 1."""
    return "offcut " + plain(offcut_id, 80).rsplit("-", 1)[-1]
