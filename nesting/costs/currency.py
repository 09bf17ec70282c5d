"""What the smallest amount of a currency is."""

from __future__ import annotations

from decimal import Decimal

ISO_DIGITS = {"IQD": 3} | dict.fromkeys("AFN ALL COP HUF IDR IRR KPW LAK LBP MGA MMK RSD SOS SYP YER".split(), 2)
"""Decimals in ISO 4217 of currencies that babel counts in whole units, as their coins are in daily use."""


def minor_unit(currency: str) -> Decimal:
    """The smallest amount of a currency (ISO 4217 code): 0.01 for EUR, 1 for JPY."""
    return Decimal(1).scaleb(-minor_digits(currency))


def minor_digits(currency: str) -> int:
    """Decimals of a currency's minor unit (ISO 4217 code): 2 for EUR, 0 for JPY."""
    from babel.numbers import get_currency_precision

    return ISO_DIGITS.get(currency) or get_currency_precision(currency)
