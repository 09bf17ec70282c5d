"""The catalogue has every word that the page uses, in every language, and no other."""

import re
from importlib import resources

import pytest

from nesting.bench.words import LANGUAGES, _catalogue, chosen, words

HOME = resources.files("nesting.bench")
SCRIPTS = [file.read_text("utf-8") for file in (HOME / "static").iterdir() if file.name.endswith(".js")]
TEMPLATES = [file.read_text("utf-8") for file in (HOME / "templates").iterdir()]


def used():
    """Names that stand in the page's files, and beginnings of those that are put together."""
    names, starts = set(), set()
    for text in SCRIPTS:
        names |= set(re.findall(r'"([a-z]+\.[a-z0-9_]+)"', text))
        starts |= set(re.findall(r"`([a-z]+\.[a-z_]*)\$\{", text))
    for text in TEMPLATES:
        names |= set(re.findall(r"say\[[\"']([a-z_.0-9]+)[\"']\]", text))
    return names, starts


def test_every_word_used_is_in_the_catalogue():
    names, starts = used()
    known = words("en")
    groups = {name.split(".")[0] for name in known}
    assert not {name for name in names if name.split(".")[0] in groups} - set(known)
    assert all(any(name.startswith(start) for name in known) for start in starts)


def test_every_word_of_the_catalogue_is_used():
    names, starts = used()
    plain = [name.removesuffix("_one") for name in words("en")]
    assert not [name for name in plain if name not in names and not any(name.startswith(s) for s in starts)]


def test_every_word_is_in_every_language_with_the_same_gaps():
    for group, rows in _catalogue().items():
        for name, texts in rows.items():
            assert len(texts) == len(LANGUAGES) and all(texts), f"{group}.{name}"
            assert len({frozenset(re.findall(r"\{\w+\}", text)) for text in texts}) == 1, f"{group}.{name}"


def test_the_page_uses_no_markup_from_data_and_fetches_nothing_from_elsewhere():
    for text in SCRIPTS:
        assert not re.search(r"innerHTML|outerHTML|insertAdjacentHTML|document\.write|eval\(", text)
        assert not re.search(r"https?://(?!www\.w3\.org/2000/svg)", text)


@pytest.mark.parametrize(
    ("asked", "accepted", "language"),
    [("de", "en", "de"), ("", "de-AT,de;q=0.9,en;q=0.5", "de"), ("", "fr, en", "en"), ("xx", "", "en")],
)
def test_the_language_is_the_one_asked_for_or_the_browser_s(asked, accepted, language):
    assert chosen(asked, accepted) == language
