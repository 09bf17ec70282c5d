"""What the name of a colour tells: light and dark leather and thread, and what leather looks like on a screen."""

from __future__ import annotations

import re

DARK = ("black", "dark", "navy", "espresso", "chocolate", "oxblood", "charcoal")
LIGHT = ("natural", "white", "cream", "ivory", "beige", "light", "pale", "undyed", "russet", "sand")
THREAD = (*LIGHT, "linen", "yellow")
"""Words in the name of a colour or a thread by which it is known as dark or light."""


def shade(name: str) -> str:
    """Whether the name of a colour is that of a light or a dark leather; empty when it tells neither."""
    found = words_in(name)
    return "dark" if found & set(DARK) else "light" if found & set(LIGHT) else ""


def masked(colour: str) -> bool:
    """Whether leather of a colour is masked before it is burnt: soot hardly shows on dark leather."""
    return shade(colour) != "dark"


def words_in(name: str) -> set[str]:
    """The words of a name, in small letters."""
    return set(re.findall(r"[a-z]+", name.lower()))


TINTS = {
    ("black", "schwarz"): "#2b2826",
    ("charcoal", "anthracite", "anthrazit"): "#46443f",
    ("grey", "gray", "grau"): "#8d8983",
    ("silver", "silber"): "#b6b4af",
    ("white", "weiss"): "#f3efe6",
    ("cream", "creme", "ivory", "elfenbein"): "#efe3c8",
    ("natural", "natur", "undyed", "naturbelassen"): "#e2c49a",
    ("beige", "sand"): "#dcc6a0",
    ("brown", "braun"): "#7a4a2a",
    ("chocolate", "schokolade", "espresso", "mocha", "mokka"): "#4a2e1f",
    ("cognac", "whisky", "whiskey"): "#b0672f",
    ("caramel", "karamell", "honey", "honig"): "#c58a4a",
    ("russet", "rotbraun", "chestnut", "kastanie", "mahogany", "mahagoni"): "#7b3a22",
    ("red", "rot"): "#a32a24",
    ("oxblood", "ochsenblut", "burgundy", "bordeaux", "weinrot"): "#5e1b20",
    ("pink", "rosa"): "#dd9aa5",
    ("orange",): "#cf6f27",
    ("yellow", "gelb", "mustard", "senf"): "#d9ab3b",
    ("green", "gruen"): "#4f7045",
    ("olive", "oliv"): "#7a7440",
    ("turquoise", "tuerkis", "petrol", "teal"): "#2f7f86",
    ("blue", "blau"): "#34567f",
    ("navy", "marine"): "#243352",
    ("purple", "lila", "violet", "violett"): "#6a4b7c",
}
"""About what leather of a colour looks like, by its words in English and German (working assumption)."""
DARKER, LIGHTER = ("dark", "dunkel"), ("light", "pale", "hell")
"""Words that make it darker or lighter."""
SHIFT = 0.35
"""By so much of the way to black or white."""
DEEP = 0.227
"""Leather of less relative luminance bears light lines, other dark ones: either show on it, 3 : 1 or more."""
_BY_WORD = {word: tint for words, tint in TINTS.items() for word in words}


def tint(name: str) -> str:
    """About what leather of a colour looks like, as #rrggbb, by the last word of its name that tells; empty where none
    does."""
    plain = name.casefold().translate({ord("ä"): "ae", ord("ö"): "oe", ord("ü"): "ue"})
    words = re.findall(r"[a-z]+", plain)
    known = [found for word in words if (found := _BY_WORD.get(word) or _compound(word))]
    if not known:
        return ""
    ways = [0.0 for word in words if word.startswith(DARKER)] + [255.0 for word in words if word.startswith(LIGHTER)]
    levels = [int(known[-1][at : at + 2], 16) for at in (1, 3, 5)]
    if ways:
        levels = [round(level + SHIFT * (ways[-1] - level)) for level in levels]
    return "#" + "".join(f"{level:02x}" for level in levels)


def _compound(word: str) -> str:
    """The tint of a German compound such as dunkelbraun, olivgruen or cognacfarben, by what it begins with if that
    tells."""
    word = word.removeprefix("dunkel").removeprefix("hell")
    known = [one for one in _BY_WORD if len(one) > 3]
    fitting = [one for one in known if word.startswith(one)] or [one for one in known if word.endswith(one)]
    return _BY_WORD.get(word) or (_BY_WORD[max(fitting, key=len)] if fitting else "")


def is_deep(colour: str) -> bool:
    """Whether lines on a colour, as #rrggbb, have to be light, by its relative luminance (WCAG 2.2)."""
    levels = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    linear = [level / 12.92 if level <= 0.04045 else ((level + 0.055) / 1.055) ** 2.4 for level in levels]
    return sum(share * level for share, level in zip((0.2126, 0.7152, 0.0722), linear)) < DEEP
