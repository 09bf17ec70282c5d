"""The catalogue: every word of the page, in every language it has, and what actions say in German."""

from __future__ import annotations

import tomllib
from functools import cache
from importlib import resources
from typing import Any

LANGUAGES = ("en", "de")


@cache
def _catalogue() -> dict[str, dict[str, Any]]:
    return tomllib.loads((resources.files("nesting.bench") / "words.toml").read_text("utf-8"))


@cache
def said(language: str) -> list[tuple[str, str]]:
    """What actions say in English, each with the same in a language; nothing where that is English."""
    if language == LANGUAGES[0]:
        return []
    rows = tomllib.loads((resources.files("nesting.bench") / "said.toml").read_text("utf-8"))
    return [pair for group in rows.values() for pair in group.items()]


@cache
def words(language: str) -> dict[str, str]:
    """Every text of the page by its name; what a language does not have is English."""
    number = LANGUAGES.index(language)
    return {
        f"{group}.{name}": texts[number] if number < len(texts) else texts[0]
        for group, rows in _catalogue().items()
        for name, texts in rows.items()
    }


def chosen(asked: str, accepted: str) -> str:
    """The language somebody asked for, else the first that their browser takes and the page has."""
    if asked in LANGUAGES:
        return asked
    wanted = [one.split(";")[0].split("-")[0].strip().lower() for one in accepted.split(",")[:20]]
    return next((one for one in wanted if one in LANGUAGES), LANGUAGES[0])
