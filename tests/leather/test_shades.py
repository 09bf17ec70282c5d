"""What the name of a colour tells."""

import re
from importlib import resources

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nesting.leather.shades import DARKER, LIGHTER, TINTS, is_deep, tint


def luminance(colour):
    """Relative luminance as WCAG 2.2 defines it."""
    levels = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    red, green, blue = (v / 12.92 if v <= 0.04045 else ((v + 0.055) / 1.055) ** 2.4 for v in levels)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one, other):
    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


@pytest.mark.parametrize(
    ("name", "like"),
    [
        ("Black", "schwarz"),
        ("cognac, waxed", "cognac"),
        ("Grün", "green"),
        ("Türkis", "turquoise"),
        ("Weiß", "white"),
        ("olivgrün", "oliv"),
        ("cognacfarben", "cognac"),
        ("dunkelrot", "dark red"),
        ("hellblau", "light blue"),
        ("Dunkelbraun", "dark brown"),
        ("brown black", "black"),
    ],
)
def test_a_colour_is_known_in_english_and_german_and_in_compounds(name, like):
    assert tint(name) == tint(like) != ""


@pytest.mark.parametrize("name", ["", "tan", "No. 7", "London", "redwood tan", "ROTation", "dark", "hell"])
def test_a_colour_that_is_not_known_stays_as_leather_is_drawn(name):
    assert tint(name) == ""


def test_dark_is_darker_and_light_is_lighter():
    for words in TINTS:
        dark, plain, light = (luminance(tint(name)) for name in (f"dark {words[0]}", words[0], f"light {words[0]}"))
        assert dark < plain < light


def test_lines_on_leather_of_every_colour_show_by_3_to_1():
    # WCAG 2.2, 1.4.11 Non-text Contrast
    css = (resources.files("nesting.bench") / "static" / "page.css").read_text("utf-8")
    lines = {
        kind: re.findall(r"#[0-9a-f]{6}", re.search(rf"^\.{kind} {{(.*)}}$", css, re.MULTILINE)[1])
        for kind in ("pale", "deep")
    }
    assert all(len(colours) == 4 for colours in lines.values())
    for words in TINTS:
        for how in ("", *DARKER, *LIGHTER):
            ground = tint(f"{how} {words[0]}")
            for line in lines["deep" if is_deep(ground) else "pale"]:
                assert contrast(ground, line) >= 3, (how, words, ground, line)


@given(st.text())
def test_any_name_gives_a_colour_or_none(name):
    assert re.fullmatch("(#[0-9a-f]{6})?", tint(name))
