"""The few CSS properties that decide where a line lies, whether it is drawn, and how it looks."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable, Iterator
from xml.etree.ElementTree import Element

from .limits import DEFAULT
from .svg_source import local_name
from .svg_units import Fault

PROPERTIES = frozenset(
    "display visibility overflow transform transform-origin translate rotate scale zoom offset-path"
    " clip-path mask filter d x y width height cx cy r rx ry".split()
)

LOOKS = frozenset(["stroke", "stroke-dasharray"])
"""They tell kinds of line apart, and harm nothing when they are not understood."""

_AT = re.compile(r"(?<![\"'\w])@([\w-]+)")
_HARMLESS = {"charset", "namespace", "font-face"}
_AT_STATEMENT = re.compile(r"@(?:charset|namespace)[^;{}@]*;")
_SIMPLE = re.compile(r"(\*|[A-Za-z][\w-]*)?((?:[.#][\w-]+)*)")
_DECLARATION = re.compile(r"(?:\"[^\"]*\"|'[^']*'|\([^()]*\)|[^;\"'(])+")


Rule = tuple[tuple[int, int, bool], int, frozenset[str], dict[str, str]]
"""How strong it is, its place in the order, the marks an element needs to have, and what it says."""


class Stylesheet:
    """The rules of a drawing's ``style`` elements, kept as far as they touch geometry.

    Parameters
    ----------
    texts : iterable of str
        What stands in the ``style`` elements, in order.

    Raises
    ------
    Fault
        When a rule that moves, hides or clips something is chosen by more than tag, class and id, or rules are loaded
        from elsewhere or depend on the screen.
    """

    def __init__(self, texts: Iterable[str]):
        self._rules: dict[str, list[Rule]] = defaultdict(list)
        order = 0
        for text in texts:
            for selector, declared in _rules(text):
                order += 1
                if order > DEFAULT.svg_rules:
                    raise Fault(
                        f"over {DEFAULT.svg_rules} rules",
                        "export the drawing with plain attributes instead of style rules",
                    )
                self._add(selector, declared, order)

    def of(self, element: Element) -> dict[str, str]:
        """The attributes of an element, overlaid with what rules and its own ``style`` say of PROPERTIES."""
        found = dict(element.attrib)
        own = found.get("style")
        if not self._rules and own is None:
            return found
        names = {"": local_name(element), "#": element.get("id", "")}
        classes = element.get("class", "").split()
        keys = ["*", names[""], *(["#" + names["#"]] if names["#"] else []), *("." + name for name in classes)]
        meant = [rule for key in dict.fromkeys(keys) for rule in self._rules.get(key, ()) if rule[2] <= {*keys}]
        for _, _, _, declared in sorted(meant, key=lambda rule: rule[:2]):
            found.update(declared)
        found.update(_declared(own or ""))
        return found

    def _add(self, selector: str, declared: dict[str, str], order: int) -> None:
        simple = _SIMPLE.fullmatch(selector)
        if not selector or not simple:
            if LOOKS.issuperset(declared):
                return
            raise Fault(
                f"style rule {selector[:40]!r}", f"sets {', '.join(declared)}: give it by tag, class or id only"
            )
        marks = re.findall(r"[.#][\w-]+", simple[2])
        needs = frozenset([simple[1] or "*", *marks])
        strength = (
            sum(mark[0] == "#" for mark in marks),
            sum(mark[0] == "." for mark in marks),
            simple[1] not in (None, "*"),
        )
        self._rules[marks[-1] if marks else simple[1]].append((strength, order, needs, declared))


def _rules(text: str) -> Iterator[tuple[str, dict[str, str]]]:
    text = _uncommented(text).replace("<!--", " ").replace("-->", " ")
    for name in _AT.findall(text):
        if name not in _HARMLESS:
            raise Fault(f"style rule @{name[:40]}", "export the drawing with plain attributes instead of style rules")
    *blocks, rest = _AT_STATEMENT.sub(" ", text).split("}")
    for block in blocks:
        selectors, brace, body = block.partition("{")
        if not brace or "{" in body:
            rest = block
            break
        if not selectors.lstrip().startswith("@") and (declared := _declared(body)):
            for selector in selectors.split(","):
                yield selector.strip(), declared
    if rest.strip():
        raise Fault(f"style {rest.strip()[:40]!r}", "its braces do not match: export the drawing again")


def _uncommented(text: str) -> str:
    """Without comments; one that never ends swallows the rest, as in a browser."""
    first, *others = text.split("/*")
    return " ".join([first, *(other.partition("*/")[2] for other in others)])


def _declared(body: str) -> dict[str, str]:
    found = {}
    for declaration in _DECLARATION.findall(_uncommented(body)):
        name, _, value = declaration.partition(":")
        name, value = name.strip().lower(), value.strip()
        if name in LOOKS:
            found[name] = value.partition("!")[0].strip()
        elif name in PROPERTIES:
            if "!" in value:
                raise Fault(f"style {name}: {value[:40]}", "delete !important")
            found[name] = value
    return found
