from decimal import Decimal

import pytest

from nesting.costs.money import minor_unit


@pytest.mark.parametrize(
    ("currency", "exponent"),
    # ISO 4217 list one, minor units, quoted from memory.
    [
        ("EUR", 2),
        ("USD", 2),
        ("GBP", 2),
        ("CHF", 2),
        ("JPY", 0),
        ("KRW", 0),
        ("ISK", 0),
        ("CLP", 0),
        ("KWD", 3),
        ("BHD", 3),
        ("TND", 3),
    ],
)
def test_money_is_counted_in_the_minor_unit_of_its_currency(currency, exponent):
    assert minor_unit(currency) == Decimal(1).scaleb(-exponent)
