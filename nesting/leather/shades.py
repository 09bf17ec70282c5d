"""Light and dark leather and thread, known by the names of their colours."""

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
