from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nesting.errors import ModelError
from nesting.model import units

MM = st.floats(0.1, 5000)


@pytest.mark.parametrize(
    "text, mm",
    [
        # the inch is 25.4 mm exactly (international yard and pound agreement of 1959)
        *(("1.8", 1.8), ("1.8 mm", 1.8), ("18mm", 18), ("5 cm", 50), ("0.07 in", 1.778), ("1 ft", 304.8)),
        *(('1/16"', 1.5875), ("2 1/4 in", 57.15), ("2-1/4 inches", 57.15), ("2¼ in", 57.15), ("1,8 mm", 1.8)),
    ],
)
def test_a_length_is_read_as_people_write_it(text, mm):
    assert units.length_mm(text) == pytest.approx(mm, abs=1e-12)
    assert units.thickness_mm(text) == pytest.approx(mm, abs=1e-12)


def test_an_ounce_of_thickness_is_a_sixty_fourth_of_an_inch():
    assert units.thickness_mm("1 oz") == pytest.approx(25.4 / 64)
    assert units.thickness_range_mm("4-5 oz") == pytest.approx((4 * 25.4 / 64, 5 * 25.4 / 64))
    assert units.thickness_range_mm("1.2 to 1.8 mm") == (1.2, 1.8)
    with pytest.raises(ModelError, match="20 oz"):
        units.length_mm("20 oz")


@pytest.mark.parametrize("text", ["", "wide", "1/0 in", "3 kg", "1.2.3", "1e3", "4 oz oz", "--1", "1 /2/3", "nan"])
def test_what_is_no_length_is_refused_with_an_example(text):
    with pytest.raises(ModelError, match="such as"):
        units.thickness_mm(text)


@pytest.mark.parametrize("parse, text", [(units.length_mm, "1,200 mm"), (units.money, "1,200")])
def test_a_comma_that_may_part_thousands_or_decimals_is_asked_about(parse, text):
    with pytest.raises(ModelError, match="write 1200 or 1.200"):
        parse(text)


@given(MM, st.sampled_from(["mm", "cm", "m", "in", "ft", "oz"]))
def test_a_length_written_in_any_unit_is_read_back(mm, unit):
    factor = {"mm": 1, "cm": 10, "m": 1000, "in": 25.4, "ft": 304.8, "oz": 25.4 / 64}[unit]
    assert units.thickness_mm(f"{mm / factor:.10f} {unit}") == pytest.approx(mm, rel=1e-6)


@given(st.integers(0, 40), st.integers(1, 63), st.sampled_from([2, 4, 8, 16, 32, 64]))
def test_a_fraction_of_an_inch_is_exact(whole, above, below):
    text = f"{whole} {above}/{below} in" if whole else f"{above}/{below} in"
    assert units.length_mm(text) == pytest.approx(float((whole + Fraction(above, below)) * Fraction(254, 10)))


@given(MM, st.sampled_from(["mm", "inch"]))
def test_what_is_shown_is_read_back_within_its_rounding(mm, first):
    one, other = units.length_words(mm, first).removesuffix(")").split(" (")
    assert units.length_mm(one) == pytest.approx(mm, abs=0.13) and units.length_mm(other) == pytest.approx(mm, abs=0.13)
    assert one.endswith("in" if first == "inch" else "mm")
    thick = units.thickness_words(mm / 300, first).removesuffix(")").split(" (")
    assert [units.thickness_mm(text) for text in thick] == pytest.approx([mm / 300] * 2, abs=0.02 + mm / 300 * 1e-3)


@pytest.mark.parametrize(
    "text, amount",
    [
        *(("140", "140"), ("$140", "140"), ("140 USD", "140"), ("$1,240.50", "1240.50"), ("1.240,50", "1240.50")),
        *(
            ("48,50", "48.50"),
            ("1,200,000", "1200000"),
            ("-12.50", "-12.50"),
            ("1'200.5", "1200.5"),
            ("0.125", "0.125"),
        ),
    ],
)
def test_money_is_read_as_people_write_it(text, amount):
    assert units.money(text, "USD") == Decimal(amount)


@pytest.mark.parametrize("text", ["£3", "48.50 €", "EUR 12", "12 CHF"])
def test_money_of_another_currency_is_refused_and_taken_where_none_is_known(text):
    with pytest.raises(ModelError, match="counts in USD"):
        units.money(text, "USD")
    assert units.money(text) > 0


@pytest.mark.parametrize("text", ["", "twelve", "12e3", "$$5", "5 $ USD x", "1.2.3,4", "12.5000001", "--3"])
def test_what_is_no_money_is_refused(text):
    with pytest.raises(ModelError):
        units.money(text, "USD")


@given(st.decimals(0, 10**9, places=2, allow_nan=False))
def test_money_with_thousands_apart_is_read_back(amount):
    assert units.money(f"{amount:,.2f}", "USD") == amount
    assert units.money(f"{amount:,.2f}".translate(str.maketrans(",.", ".,"))) == amount


@pytest.mark.parametrize("text", ["veg", "Veg-tan", "vegetable tanned", "vegetable tanned leather", " Vegetable "])
def test_vegetable_tanning_has_many_names(text):
    assert units.tannage(text) == "vegetable"


@pytest.mark.parametrize("text", ["veg/chrome", "combination", "vegetable retan", "veg-chrome", "oak", "chrome-free"])
def test_what_may_not_be_vegetable_tanned_through_and_through_is_not_taken_for_it(text):
    with pytest.raises(ModelError, match="vegetable, chrome"):
        units.tannage(text)


@pytest.mark.parametrize("text, ounces", [("3-4 oz", 3.5), ("3.5 to 4oz", 3.75), ("4-1/2 oz", 4.5), ("4 oz", 4)])
def test_of_a_range_that_leather_is_sold_by_the_middle_is_taken(text, ounces):
    assert units.nominal_mm(text) == pytest.approx(ounces * 25.4 / 64)
