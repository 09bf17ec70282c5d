from decimal import Decimal

import pytest
from babel.numbers import get_currency_precision, list_currencies

from nesting.costs.currency import ISO_DIGITS, minor_digits, minor_unit

# ISO 4217, list one: minor units of every currency that has other than two decimals.
DIGITS = dict.fromkeys("BIF CLP DJF GNF ISK JPY KMF KRW PYG RWF UGX UYI VND VUV XAF XOF XPF".split(), 0)
DIGITS |= dict.fromkeys("BHD IQD JOD KWD LYD OMR TND".split(), 3) | {"CLF": 4, "UYW": 4}
# The same list: two decimals.
CENTS = (
    "AED AFN ALL AMD AOA ARS AUD AWG AZN BAM BBD BDT BMD BND BOB BOV BRL BSD BTN BWP BYN BZD CAD CDF CHE CHF CHW "
    "CNY COP COU CRC CUP CVE CZK DKK DOP DZD EGP ERN ETB EUR FJD FKP GBP GEL GHS GIP GMD GTQ GYD HKD HNL HTG HUF "
    "IDR ILS INR IRR JMD KES KGS KHR KPW KYD KZT LAK LBP LKR LRD LSL MAD MDL MGA MKD MMK MNT MOP MRU MUR MVR MWK "
    "MXN MXV MYR MZN NAD NGN NIO NOK NPR NZD PAB PEN PGK PHP PKR PLN QAR RON RSD RUB SAR SBD SCR SDG SEK SGD SHP "
    "SLE SOS SRD SSP STN SVC SYP SZL THB TJS TMT TOP TRY TTD TWD TZS UAH USD USN UYU UZS VES WST XCD YER ZAR ZMW"
).split()


@pytest.mark.parametrize(("currency", "exponent"), DIGITS.items())
def test_money_is_counted_in_the_minor_unit_of_its_currency(currency, exponent):
    assert minor_digits(currency) == exponent
    assert minor_unit(currency) == Decimal(1).scaleb(-exponent)


def test_most_currencies_have_hundredths():
    assert {currency: minor_digits(currency) for currency in CENTS} == dict.fromkeys(CENTS, 2)


def test_babel_differs_from_iso_4217_only_where_the_coins_are_out_of_use():
    # The data of babel (Unicode CLDR) are of daily use: these currencies are written without decimals there, whatever
    # ISO 4217 says. Some of them are so in some of its versions only.
    differ = {code for code in (*DIGITS, *CENTS) if get_currency_precision(code) != DIGITS.get(code, 2)}
    assert differ <= set(ISO_DIGITS)
    assert {code: DIGITS.get(code, 2) for code in ISO_DIGITS} == ISO_DIGITS
    assert {"AFN", "ALL", "IQD", "IRR", "KPW", "LAK", "LBP", "MGA", "MMK", "SOS", "SYP", "YER"} <= differ
    assert set(ISO_DIGITS) <= list_currencies()


def test_a_code_that_nobody_knows_has_hundredths():
    assert minor_unit("ZZZ") == Decimal("0.01")
