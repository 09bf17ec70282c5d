"""What actions say in English has German, sentence by sentence as it stands in the code that makes it."""

import ast
import re
from decimal import Decimal
from fractions import Fraction
from pathlib import Path
from types import SimpleNamespace

import pytest
from bench_page import bench_page
from browser import chromium, opened
from laser_samples import SHALLOW, layout_of, placement
from shapely.geometry import LineString, box
from small_shop import small_shop

import nesting
from nesting.app.actions.job import BIGGER
from nesting.app.actions.shop import unmade_words
from nesting.app.options import widths
from nesting.bench.words import said
from nesting.costs.choices import why, why_bed, why_settings
from nesting.costs.yearly import Rate, why_ways
from nesting.errors import FileError, ModelError
from nesting.laser.comb import kerf_from
from nesting.laser.export import BURNT_ALREADY, NO_FILE_NAME, NO_FRAME, NO_FRAME_FED, NO_SETTING, REFUSALS
from nesting.laser.load import bed_loads, unfilled
from nesting.model import Machine, Workshop
from nesting.model.left_out import EVERY, NO_HIDE, NONE_TO_BURN
from nesting.model.workshop import ASKED
from nesting.tracing.doubts import SETTLES

HOME = Path(nesting.__file__).parent
PUT = """texts => import("/static/said.js").then(({said}) => texts.filter(text => typeof said(text) !== "string"))"""
"""Of some texts those that the page would show in English."""


def templates(module):
    """The sentences of a module as they are written, with names and numbers in their gaps."""
    tree = ast.parse((HOME / module).read_text("utf-8"))
    homes = (ast.Module, ast.ClassDef, ast.FunctionDef, ast.AsyncFunctionDef)
    docs = {id(node.body[0].value) for node in ast.walk(tree) if isinstance(node, homes) and _is_text(node.body[0])}
    docs |= {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr) and _is_text(node)}
    bits = {id(bit) for node in ast.walk(tree) if isinstance(node, ast.JoinedStr) for bit in node.values}
    for node in ast.walk(tree):
        if isinstance(node, ast.JoinedStr):
            yield "".join(_filled(bit) for bit in node.values)
        elif isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in docs | bits:
            yield node.value


def _is_text(node):
    return isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant) and isinstance(node.value.value, str)


def _filled(bit):
    if isinstance(bit, ast.Constant):
        return bit.value
    how, what = ast.unparse(bit.format_spec) if bit.format_spec else "", ast.unparse(bit.value)
    number = re.search(r"[fgd]['\"]", how) or re.search(r"_mm\b|\blen\(|degrees|\.made\b|\bmore\b", what)
    return GAPS.get(what) or ("80%" if "%" in how else "12.5" if number else "alpha")


GAPS = {"at": "(3, 4)", "size": "12 x 5 mm", "SAFE_TANNAGE": "vegetable", "hide.tannage": "chrome"}
"""What stands in gaps that take no name."""


def is_sentence(text):
    return " " in text.strip() and re.search(r"[a-z]{2}", text) and not re.search(r"[<>\n;]|nosniff|filename=", text)


@pytest.fixture(scope="module")
def tab(tmp_path_factory):
    with (
        chromium() as browser,
        bench_page(small_shop(tmp_path_factory.mktemp("shop"))) as page,
        opened(browser, page, locale="de-DE") as tab,
    ):
        yield tab


def test_a_gap_in_german_is_one_in_english_and_no_sentence_is_empty():
    for english, german in said("de"):
        assert german and set(re.findall(r"\{\w+\}", german)) <= set(re.findall(r"\{\w+\}", english)), english
    assert said("en") == []


BITS = {
    "{} (as burnt)",
    "what it must match comes from another alpha",
    "cut alpha",
    " and 12.5 more",
    "none that says so",
    "to come",
    "on the shelf",
    "alpha, to 12.5 mm",
}
"""Of what stands in the modules below only bits of sentences, or texts for other programs."""


@pytest.mark.parametrize(
    "module",
    [
        *(f"bench/{name}.py" for name in "burn compare hides orders overview plan shop state workshop".split()),
        *(f"app/actions/{name}.py" for name in ("making", "questions")),
        *("planning/keeping.py", "planning/ready.py", "costs/money.py", "tracing/doubts.py", "tracing/flaws.py"),
        *("app/actions/going_on.py", "costs/gain.py", "book/buying.py", "book/shelf.py", "laser/tight.py"),
    ],
)
def test_every_sentence_of_a_module_has_german(tab, module):
    texts = sorted({text for text in templates(module) if is_sentence(text)} - BITS)
    assert texts and tab.evaluate(PUT, texts) == []


def test_engraving_that_would_not_be_filled_is_told_in_german(tab):
    part = placement(engrave=[LineString(box(2, 2, 28, 28).exterior.coords)], engrave_how=("fill",))
    layout = layout_of([part], engravings=(SHALLOW,))
    (load,) = bed_loads(layout, "h1")
    assert load.warnings and tab.evaluate(PUT, [*unfilled(layout), *load.warnings]) == []


def test_reasons_doubts_and_refusals_have_german(tab):
    refusals = [*REFUSALS.values(), NO_SETTING, NO_FILE_NAME, BURNT_ALREADY, NO_FRAME, NO_FRAME_FED]
    ends = {NO_HIDE: "cognac, vegetable", NONE_TO_BURN: "may be"}
    reasons = [f"{text} {ends[text]}" if text in ends else text for text in EVERY]
    assert tab.evaluate(PUT, [*reasons, *refusals, *BIGGER.values(), *SETTLES.values(), *SETTLES]) == []


def test_first_guesses_are_told_in_german(tab):
    every = Workshop(Machine("laser", 500, 300, 40), untold=frozenset(ASKED)).first_guesses()
    kerf = Workshop(Machine("laser", 500, 300, 40), untold=frozenset(["kerf_mm"])).first_guesses()
    assert tab.evaluate(PUT, [every, kerf, f"note: {every}"]) == []


@pytest.mark.parametrize(
    "teeth, slots", [("5.8", ""), ("5.8 5.8 5.2", ""), ("6.2 6.2", "3.9"), ("wide", ""), ("5.8 5.8", "9")]
)
def test_what_is_wrong_with_widths_of_a_comb_is_told_in_german(tab, teeth, slots):
    with pytest.raises((ModelError, FileError)) as wrong:
        kerf_from(widths("teeth", teeth), widths("slots", slots))
    assert tab.evaluate(PUT, [str(wrong.value)]) == []


def test_what_is_not_made_of_an_order_has_german(tab):
    rows = [SimpleNamespace(made=made, quantity=of) for made, of in ((0, 1), (0, 3), (1, 3), (2, 3))]
    assert tab.evaluate(PUT, [unmade_words(row) for row in rows]) == []


def way(name, hides, whole=3, cost="10.00", used=0.7, changeovers=1):
    """As much of a way to cut the orders as words are made of."""
    prices = SimpleNamespace(currency="EUR")
    return SimpleNamespace(
        name=name, hides=hides, whole=whole, wanted=5, cost=Decimal(cost), merit=whole, changeovers=changeovers,
        placed=whole, leather_mm2=1e5 * whole, each={"tag": Fraction(cost)} if whole else {},
        figures={"total": {"yield_of_consumed": used}}, layout=SimpleNamespace(workshop=SimpleNamespace(prices=prices)),
    )  # fmt: skip


def test_what_follows_from_a_comparison_has_german(tab):
    one, dear, more = way("a", ("a",)), way("a + b", ("a", "b"), cost="12.00"), way("b", ("b",), whole=4)
    none, rates = way("c", ("c",), whole=0), (Rate({"tag": Fraction(3)}), Rate({"tag": Fraction(3)}, 8))
    told = [why([]), why([one]), *(why([one, other]) for other in (dear, more, none, way("b", ("b",)), one))]
    told += [why([way("b", ("b",), cost="9.00"), one]), why([dear, one])]
    told += [why_bed([]), *(why_bed([one, other]) for other in (more, way("no limit", ("a",), used=0.9), one))]
    told.append(why_bed([one, way("no limit", ("a",), whole=2)]))
    for whole in (2, 3):
        told.append(why_bed([one, SimpleNamespace(**vars(way("no limit", ("a",), whole=whole)) | {"merit": 9})]))
    settings = [way(f"up to {n} settings", (), whole, changeovers=n) for n, whole in ((2, 4), (3, 3))]
    told += [why_settings([]), why_settings([one]), why_settings([one, *settings])]
    told += [why_ways([one, *others], rate) for rate in rates for others in ((), (dear, more, none), (way("x", ()),))]
    told += [why_ways([one, way("d", ("d",), whole=2)], rates[0])]
    told += [why_ways([none], rates[0]), f"hide a: nothing of it. {why_ways([one], rates[0])}"]
    assert tab.evaluate(PUT, told[:-1]) == [] and tab.evaluate(PUT, told[-1:]) == told[-1:]


@pytest.mark.parametrize(
    ("english", "german"),
    [
        (
            "left out with its piece, for front: thickness: 1.20 to 1.60 mm is 80% sure at best on side-7 "
            "(about 1.90 mm), 90% asked",
            "mit seinem Stück ausgelassen, wegen front: Dicke: 1,20 bis 1,60 mm ist auf side-7 (etwa 1,90 mm) "
            "höchstens zu 80 % sicher, 90 % sind verlangt",
        ),
        (
            "no place found in the time given: front and back would fit on side-7, strap (1.25 dm2) nowhere; the "
            "largest free place is 3.40 dm2 on side-7, of its grade and thickness; it fits on side-8 if grade C will "
            "do for strap",
            "in der gegebenen Zeit kein Platz gefunden: front und back ginge auf side-7, strap (1,25 dm²) nirgends; "
            "die größte freie Stelle seiner Güte und Dicke hat 3,40 dm², auf side-7; es passt auf side-8, wenn Güte C "
            "für strap genügt",
        ),
        (
            "Cut side-7: that makes 4 of 5 ordered pieces for 31.20 EUR; the next best, side-8, makes 3 and costs 2.10 "
            "EUR more.",
            "side-7 schneiden: das macht 4 von 5 bestellten Stücken für 31,20 EUR; das nächstbeste, side-8, macht 3 "
            "und kostet 2,10 EUR mehr.",
        ),
        (
            "coaster: thickness: 1.80 to 2.60 mm is asked, on s-7 (about 1.50 mm) veg 1.5 cuts 1.24 to 1.76 mm; bag: "
            "thickness: 1.90 to 2.50 mm is asked, on s-7 (about 1.50 mm) veg 1.5 cuts 1.24 to 1.76 mm",
            "coaster: Dicke: 1,80 bis 2,60 mm ist verlangt, auf s-7 (etwa 1,50 mm) schneidet veg 1.5 1,24 bis 1,76 mm; "
            "bag: Dicke: 1,90 bis 2,50 mm ist verlangt, auf s-7 (etwa 1,50 mm) schneidet veg 1.5 1,24 bis 1,76 mm",
        ),
        ("took in 2 order lines and changed 1 order line", "2 Auftragszeilen aufgenommen und 1 Auftragszeile geändert"),
        (
            "orders.csv: row 3 > due: 2025-02-30: February 2025 has 28 days: give one from 01 to 28",
            "orders.csv: Zeile 3 > due: 2025-02-30: Februar 2025 hat 28 Tage: einen von 01 bis 28 angeben",
        ),
    ],
)
def test_a_sentence_put_together_is_said_bit_by_bit(tab, english, german):
    assert tab.evaluate("text => import('/static/said.js').then(({plainly}) => plainly(text))", english) == german


def test_what_has_no_german_stays_english_and_is_marked_as_such(tab):
    marked = "import('/static/said.js').then(({said}) => said('nobody has said this of the hide before').lang)"
    assert tab.evaluate(marked) == "en"
