"""Lengths, thicknesses, prices and tannages as people write them, and lengths in the units they like to see.

A bare number is mm. Inches are exact (1 in = 25.4 mm); of leather thickness 1 oz is 1/64 in, common practice of the
trade.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction

from ..errors import ModelError
from .hides import TANNAGES
from .values import MM2_PER_DM2, MM2_PER_SQ_FT, MM_PER_OZ

UNITS = ("mm", "inch")
"""What is shown first."""
MM_PER_IN = 25.4
LENGTH_MEND = "give a number of mm, or a length such as 20 in, 1/16 in or 5 cm"
THICKNESS_MEND = "give a number of mm, or a thickness such as 1.8 mm, 4.5 oz or 0.07 in"
RANGE_MEND = "give least and greatest, such as 1.2 to 1.8 mm or 4-5 oz"

_MM = dict.fromkeys(("", "mm", "millimetre", "millimetres", "millimeter", "millimeters"), 1.0)
_MM |= dict.fromkeys(("cm", "centimetre", "centimetres", "centimeter", "centimeters"), 10.0)
_MM |= dict.fromkeys(("m", "metre", "metres", "meter", "meters"), 1000.0)
_MM |= dict.fromkeys(("in", "inch", "inches", '"', "″", "''"), MM_PER_IN)
_MM |= dict.fromkeys(("ft", "foot", "feet", "'", "′"), 12 * MM_PER_IN)
_OUNCES = dict.fromkeys(("oz", "ounce", "ounces"), MM_PER_OZ)

_MM2 = dict.fromkeys(("", "sq ft", "sqft", "sf", "ft2", "square feet", "square foot"), MM2_PER_SQ_FT)
_MM2 |= {"mm2": 1.0, "cm2": 100.0, "dm2": MM2_PER_DM2, "m2": 1e6, "sq m": 1e6, "sqm": 1e6}

_VULGAR = {"¼": " 1/4", "½": " 1/2", "¾": " 3/4", "⅛": " 1/8", "⅜": " 3/8", "⅝": " 5/8", "⅞": " 7/8"}
_DIGITS = r"[0-9]{1,12}"
_PLAIN = rf"(?:{_DIGITS}(?:[.,][0-9]{{0,12}})?|[.,][0-9]{{1,12}})"
_AMOUNT = rf"-?(?:(?:{_DIGITS}[ -])?{_DIGITS}/{_DIGITS}|{_PLAIN})"
_UNIT = r"[a-zA-Z\"'″′]*"
_LENGTH = re.compile(rf"({_AMOUNT})\s*({_UNIT})\.?")
_AREA = re.compile(rf"({_AMOUNT})\s*([a-zA-Z. ]*2?)")
_RANGE = re.compile(rf"({_AMOUNT})\s*({_UNIT})\s*(?:-|–|to|\.\.)\s*({_AMOUNT})\s*({_UNIT})\.?")

_SYMBOLS = {
    "$": ("USD", "AUD", "CAD", "NZD", "SGD", "HKD", "MXN", "ARS", "CLP", "COP", "TWD", "BRL", "UYU"),
    "us$": ("USD",),
    "a$": ("AUD",),
    "c$": ("CAD",),
    "ca$": ("CAD",),
    "nz$": ("NZD",),
    "r$": ("BRL",),
    "€": ("EUR",),
    "£": ("GBP", "EGP"),
    "¥": ("JPY", "CNY"),
    "₹": ("INR",),
    "₩": ("KRW",),
    "₺": ("TRY",),
    "zł": ("PLN",),
    "kč": ("CZK",),
    "ft": ("HUF",),
    "kr": ("SEK", "NOK", "DKK", "ISK"),
    "fr": ("CHF",),
    "sfr": ("CHF",),
    "r": ("ZAR",),
}
"""Currencies (ISO 4217) that a sign may mean: the common ones of Unicode's CLDR, from memory."""
_MONEY = re.compile(r"(-?)\s*([^\d\s.,-]{0,4})\s*(-?)([0-9][0-9.,' ]{0,20})\s*([^\d\s.,]{0,4})\.?")

_TANNAGES = {name: name for name in TANNAGES}
_TANNAGES |= dict.fromkeys(("veg", "vegetal"), "vegetable")
_TANNAGES |= {"chromium": "chrome", "not known": "unknown", "?": "unknown"}
_TANNAGES |= dict.fromkeys(("pvc", "vinyl", "pu", "faux"), "synthetic")
_TANNED = re.compile(r"[\s-]*(?:tan|tanned|tannage|leather)$")


def length_mm(text: str, thing: str = "length") -> float:
    """A length as it is typed, in mm.

    Parameters
    ----------
    text : str
        A number, fraction or whole number with a fraction, and mm, cm, m, in, ft or nothing for mm.
    thing : str
        What it is the length of, for the error.

    Returns
    -------
    float

    Raises
    ------
    ModelError
        When it is none, or has a comma that may part thousands or decimals.
    """
    return _measured(text, thing, _MM, LENGTH_MEND)


def thickness_mm(text: str, thing: str = "thickness") -> float:
    """A thickness of leather as it is typed, in mm: a length, or ounces (1 oz = 1/64 in).

    Raises
    ------
    ModelError
        As for `length_mm`.
    """
    return _measured(text, thing, _MM | _OUNCES, THICKNESS_MEND)


def nominal_mm(text: str, thing: str = "nominal thickness") -> float:
    """The thickness that leather is sold by, in mm; of a range such as ``3-4 oz`` the middle.

    Raises
    ------
    ModelError
        When it is neither.
    """
    if _RANGE.fullmatch(_plain(text)) and not _LENGTH.fullmatch(_plain(text)):
        return sum(thickness_range_mm(text, thing)) / 2
    return thickness_mm(text, thing)


def area_mm2(text: str, thing: str = "area") -> float:
    """An area of leather as it is typed, in mm2: ``18.5 sq ft``, ``172 dm2``, ``1.72 m2``; a bare number is sq ft, as
    leather is sold by it.

    Raises
    ------
    ModelError
        When it is none, or has a comma that may part thousands or decimals.
    """
    plain = _plain(text).replace("²", "2")
    found = _AREA.fullmatch(plain)
    value = None if found is None else _number(found[1], thing, text)
    factor = None if found is None else _MM2.get(" ".join(found[2].casefold().replace(".", "").split()))
    if value is None or factor is None:
        raise ModelError(thing, text, "give an area such as 18.5 sq ft, 172 dm2 or 1.72 m2")
    return value * factor


def thickness_range_mm(text: str, thing: str = "thickness") -> tuple[float, float]:
    """Least and greatest thickness as they are typed, in mm: ``4-5 oz``, ``1.2 to 1.8 mm``, ``1.2 mm - 4 oz``.

    Raises
    ------
    ModelError
        When they are not two thicknesses.
    """
    found = _RANGE.fullmatch(_plain(text))
    if not found:
        raise ModelError(thing, text, RANGE_MEND)
    least, unit, greatest, last = found.groups()
    low = thickness_mm(f"{least} {unit or last}", thing)
    return low, thickness_mm(f"{greatest} {last or unit}", thing)


def money(text: str, currency: str = "", thing: str = "price") -> Decimal:
    """An amount of money as it is typed: ``140``, ``$140``, ``1,240.50 USD``, ``48,50 €``.

    Parameters
    ----------
    text : str
    currency : str
        ISO 4217 code of what is counted in; a sign or code in the text must mean it. Empty: not known, and any may
        stand there.
    thing : str
        What it is, for the error.

    Raises
    ------
    ModelError
        When it is no amount, of another currency, or has a mark that may part thousands or decimals.
    """
    mend = 'give an amount such as 12.50 or "12.50"'
    found = _MONEY.fullmatch(" ".join(text.split()))
    if not found:
        raise ModelError(thing, text, mend)
    minus, before, minus_too, amount, after = found.groups()
    signs = [sign for sign in (before, after) if sign]
    for sign in signs:
        meant = _SYMBOLS.get(sign.casefold(), (sign.upper(),) if re.fullmatch("[A-Za-z]{3}", sign) else ())
        if not meant:
            raise ModelError(thing, text, mend)
        if currency and currency not in meant:
            value = f"workshop.toml counts in {currency}: give the amount in {currency}, without a sign"
            raise ModelError(thing, text, value)
    plain = amount.strip()
    if re.fullmatch("[1-9][0-9]{0,2},[0-9]{3}", plain):
        value = f"the comma may part thousands or decimals: write {plain.replace(',', '')} or {_point(plain)}"
        raise ModelError(thing, text, value)
    parsed = _amount(amount)
    if parsed is None or (minus and minus_too) or len(signs) > 1 or abs(parsed) >= 10**12:
        raise ModelError(thing, text, mend)
    return -parsed if minus or minus_too else parsed


def tannage(text: str) -> str:
    """One of `TANNAGES` as it is typed: ``veg``, ``Veg-tan``, ``vegetable tanned``, ``chrome``; empty stays empty.

    What names two ways of tanning, or none there is, is refused: only leather known to be safe is burnt.

    Raises
    ------
    ModelError
    """
    plain = " ".join(text.split()).casefold()
    found = _TANNAGES.get(plain) or _TANNAGES.get(_TANNED.sub("", _TANNED.sub("", plain)))
    if plain and not found:
        raise ModelError("tannage", text, f"give one of {', '.join(TANNAGES)}, or nothing")
    return found or ""


def length_words(mm: float, first: str = "mm") -> str:
    """A length in both units: ``104.0 mm (4.09 in)``, or inches first."""
    return _both(f"{mm:.1f} mm", f"{mm / MM_PER_IN:.2f} in", first)


def tape_words(mm: float, first: str = "mm") -> str:
    """A length to be measured with a tape: ``203 mm``, or to a sixteenth of an inch ``8 in (203 mm)``."""
    if first != "inch":
        return f"{mm:.0f} mm"
    whole, sixteenths = divmod(round(mm / MM_PER_IN * 16), 16)
    part = Fraction(sixteenths, 16)
    inches = " ".join(filter(None, (str(whole) if whole or not part else "", str(part) if part else "")))
    return f"{inches} in ({mm:.0f} mm)"


def size_words(width_mm: float, height_mm: float, first: str = "mm") -> str:
    """Width and height in both units: ``104.0 x 76.0 mm (4.09 x 2.99 in)``, or inches first."""
    inches = f"{width_mm / MM_PER_IN:.2f} x {height_mm / MM_PER_IN:.2f} in"
    return _both(f"{width_mm:.1f} x {height_mm:.1f} mm", inches, first)


def thickness_words(mm: float | Sequence[float], first: str = "mm") -> str:
    """A thickness, or least and greatest, in mm and ounces: ``1.2 to 1.8 mm (3 to 4.5 oz)``."""
    values = [mm] if isinstance(mm, (int, float)) else list(mm)
    millimetres = " to ".join(f"{value:.4g}" for value in values)
    ounces = " to ".join(f"{round(value / MM_PER_OZ, 1):g}" for value in values)
    return _both(f"{millimetres} mm", f"{ounces} oz", first)


def area_words(mm2: float, first: str = "mm") -> str:
    """An area in both units: ``52.3 dm2 (5.63 sq ft)``."""
    return _both(f"{mm2 / MM2_PER_DM2:.1f} dm2", f"{mm2 / MM2_PER_SQ_FT:.2f} sq ft", first)


def _both(metric: str, imperial: str, first: str) -> str:
    return f"{imperial} ({metric})" if first == "inch" else f"{metric} ({imperial})"


def _plain(text: str) -> str:
    for sign, written in _VULGAR.items():
        text = text.replace(sign, written)
    return " ".join(text.split())


def _measured(text: str, thing: str, units: dict[str, float], mend: str) -> float:
    found = _LENGTH.fullmatch(_plain(text))
    if not found:
        raise ModelError(thing, text, mend)
    amount, unit = found.groups()
    value = _number(amount, thing, text)
    factor = units.get(unit.casefold())
    if factor is None or value is None:
        raise ModelError(thing, text, mend)
    return value * factor


def _number(amount: str, thing: str, text: str) -> float | None:
    if re.fullmatch(r"-?[0-9]{1,3},[0-9]{3}", amount) and not amount.lstrip("-").startswith("0"):
        plain = amount.replace(",", "")
        raise ModelError(thing, text, f"the comma may part thousands or decimals: write {plain} or {_point(amount)}")
    sign = -1.0 if amount.startswith("-") else 1.0
    amount = amount.removeprefix("-")
    if "/" not in amount:
        return sign * float(_point(amount))
    whole, _, part = amount.replace("-", " ").rpartition(" ")
    above, below = (int(number) for number in part.split("/"))
    return sign * (int(whole or 0) + above / below) if below else None


def _point(amount: str) -> str:
    return amount.replace(",", ".")


def _amount(text: str) -> Decimal | None:
    """An amount whose marks leave no doubt which of them parts decimals; None where they do."""
    text = text.strip().replace(" ", "").replace("'", "")
    marks = re.sub("[0-9]", "", text)
    if not marks:
        return Decimal(text)
    last = marks[-1]
    whole, _, decimals = text.rpartition(last)
    if marks.count(last) > 1:
        # a mark that stands there again parts thousands
        whole, decimals, last = text, "", ""
    other = re.sub("[0-9]", "", whole)
    if len(set(other)) > 1 or len(decimals) > 6 or (not decimals and last):
        return None
    if other and not re.fullmatch(r"[0-9]{1,3}(?:[.,][0-9]{3})+", whole):
        return None
    if not other and last == "," and len(decimals) == 3:
        return None
    return Decimal(re.sub("[.,]", "", whole) + ("." + decimals if decimals else ""))
