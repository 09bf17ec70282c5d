"""Options of the command line: from the text that was typed to values."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from decimal import Decimal
from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

from ..errors import FileError, ModelError

if TYPE_CHECKING:
    from ..workers import Cluster
    from .actions.comparing import Against

Pixel = tuple[float, float]
MeasuredPoints = dict[tuple[str, str], dict[str, tuple[float, float]]]
"""By hide and panel: where its lettered points lie on the bed, mm."""
MOST_DOUBTS = 99_999
"""The largest number of a doubt that a file can have."""


def thickness(text: str) -> float:
    """A thickness of leather, mm: ``1.8``, ``4.5 oz``, ``0.07 in``."""
    from ..model import units

    return _within(_parsed(units.thickness_mm, text), 0.1, 20, "0.1 to 20 mm, such as 1.8 mm or 4.5 oz")


def nominal(text: str) -> float:
    """The thickness that leather is sold by, mm: ``1.8``, ``4.5 oz``, ``3-4 oz``."""
    from ..model import units

    return _within(_parsed(units.nominal_mm, text), 0.1, 20, "0.1 to 20 mm, such as 1.8 mm, 4.5 oz or 3-4 oz")


def length(text: str) -> float:
    """A length, mm: ``0.5``, ``0.02 in``."""
    from ..model import units

    return _within(_parsed(units.length_mm, text), 0.01, 1e5, "a length of 0.01 mm or more, such as 0.5 mm or 0.02 in")


def tannage(text: str) -> str:
    """A way of tanning as people write it."""
    from ..model import units

    return str(_parsed(units.tannage, text) or "unknown")


def drawing_unit(text: str) -> str:
    """A unit that a drawing may be in."""
    known = {"mm": "mm", "cm": "cm", "m": "m", "in": "inch", "inch": "inch", "inches": "inch", "ft": "ft"}
    if text and text.lower() not in known:
        raise typer.BadParameter("give mm, cm, m, inch or ft")
    return known.get(text.lower(), "")


def _parsed(parse: Callable[[str], Any], text: Any) -> Any:
    if not isinstance(text, str):
        return text  # a default
    try:
        return parse(text)
    except ModelError as error:
        raise typer.BadParameter(error.mend) from None


def _within(value: float, least: float, greatest: float, words: str) -> float:
    if not least <= value <= greatest:
        raise typer.BadParameter(f"give {words}")
    return value


@contextmanager
def option(name: str) -> Iterator[None]:
    """Say which option holds a value that cannot be."""
    try:
        yield
    except ModelError as error:
        raise FileError(name, error.thing, error.value, error.mend) from None


def team(workers: int | None, cluster: str | None) -> int | Cluster | None:
    """Who searches: so many processes, or the cluster at an address."""
    if cluster is None:
        return workers
    if workers is not None:
        raise FileError("--workers", "with --cluster", workers, "leave it out: the cluster's own workers search")
    from ..workers import Cluster, NoCluster

    try:
        return Cluster(cluster)
    except NoCluster as error:
        raise FileError("--cluster", "address", error.address, error.mend) from None


def layout_file(text: str | Path) -> Path:
    """A layout file as it is named, or the one in a job's folder or in its ``out/``."""
    path = Path(text)
    if path.is_dir():
        for file in (path / "out" / "layout.json", path / "layout.json"):
            if file.is_file():
                return file
        raise FileError(path, "layout", "none there", f"plan first: nesting plan {path}")
    if path.suffix.lower() != ".json":
        mend = "give the layout.json that nesting plan wrote, such as shop/out/layout.json, or the job's folder"
        raise FileError(path, "file", "no layout", mend)
    return path


def widths(name: str, text: str) -> list[float]:
    """Widths, mm: ``5.81 5.79 5.80``, or with units and commas between them: ``0.229 in, 0.228 in``."""
    from ..model import units

    between = r"[,;]" if re.search(r"[a-zA-Z\"]", text) else r"[,;\s]+"
    try:
        return [units.length_mm(part.strip()) for part in re.split(between, text) if part.strip()]
    except ModelError:
        mend = "give widths in mm with spaces between them: '5.81 5.79 5.80', or with units: '0.229 in, 0.228 in'"
        raise FileError(name, "widths", text, mend) from None


def measured_points(texts: Sequence[str]) -> MeasuredPoints:
    """Where two points of each panel lie on the bed: 'HIDE/PANEL A=x,y B=x,y', mm or with units."""
    from ..model import units

    found: MeasuredPoints = {}
    for text in texts:
        match = re.fullmatch(r"\s*([^\s/]+)/(.+?):?\s+([A-Z]+[0-9]*)=(.+?),(.+?)\s+([A-Z]+[0-9]*)=(.+?),(.+?)\s*", text)
        try:
            if match is None:
                raise ValueError
            hide, panel, first, x0, y0, second, x1, y1 = match.groups()
            a, b, c, d = (units.length_mm(one) for one in (x0, y0, x1, y1))
            found[hide, panel] = {first: (a, b), second: (c, d)}
        except (ValueError, ModelError):
            mend = "give 'HIDE/PANEL A=x,y B=x,y' from the bed's bottom left, in mm or with units"
            raise FileError("--align", "points", text, mend) from None
    return found


def places(photo: Path, name: str, text: str) -> list[int | Pixel]:
    """Numbers of doubts, and points of a photo: '1 3-5 x,y ...'."""
    found: list[int | Pixel] = []
    try:
        for word in text.split():
            found += [_pair(word)] if "," in word else _range(word)
        if not found:
            raise ValueError
    except ValueError:
        mend = "give numbers as the check picture shows them, or pixels of the photo: '1 3-5 x,y'"
        raise FileError(photo, f"--{name}", text, mend) from None
    return found


def numbers(file: Path, place: str, words: Sequence[str]) -> list[int]:
    """Numbers as a picture shows them: ``1 3-5``."""
    found: list[int] = []
    for word in words:
        try:
            found += _range(word)
        except ValueError:
            raise FileError(file, place, word, "give numbers as the check picture shows them: 1 3-5") from None
    return found


def _range(word: str) -> range:
    """The numbers of ``3`` or ``3-5``."""
    first, dash, last = word.partition("-")
    low, high = int(first), int(last if dash else first)
    if not 1 <= low <= high <= MOST_DOUBTS:
        raise ValueError
    return range(low, high + 1)


def pixels(photo: Path, name: str, text: str) -> list[Pixel]:
    """Points of a photo: 'x,y x,y ...'."""
    try:
        points = [_pair(pair) for pair in text.split()]
        if not points:
            raise ValueError
    except ValueError:
        raise FileError(photo, f"--{name}", text, "give points as 'x,y x,y ...' in pixels of the photo") from None
    return points


def measured(photo: Path, texts: Sequence[str]) -> list[tuple[Pixel, Pixel, float]]:
    """Two points of a photo and how far apart they are: 'px,py px,py=1240', mm or with a unit."""
    from ..model import units

    found = []
    for text in texts:
        pair, _, size = text.partition("=")
        try:
            start, end = map(_pair, pair.split())
            found.append((start, end, float(units.length_mm(size))))
        except (ValueError, ModelError):
            mend = "give two pixels and the length between them: 'px,py px,py=1240'"
            raise FileError(photo, "--length", text, mend) from None
    return found


def pixels_in_mm(photo: Path, text: str) -> list[tuple[Pixel, Pixel]]:
    """Points of a photo and where they truly are: 'px,py=x,y ...', four or more."""
    try:
        halves = [pair.split("=") for pair in text.split()]
        pairs = [(_pair(pixel), _pair(place)) for pixel, place in halves]
        if len(pairs) < 4:
            raise ValueError
    except ValueError:
        mend = "give four or more as 'px,py=x,y', pixels of the photo and mm"
        raise FileError(photo, "--points", text, mend) from None
    return pairs


def price(text: str | None, currency: str = "") -> Decimal | None:
    """A price as it is typed, in the workshop's currency where that is known."""
    from ..model import units

    try:
        return None if text is None else units.money(text, currency)
    except ModelError as error:
        raise FileError("--price", "price", text, error.mend) from None


def against(settings: bool, bed: bool, beds: Sequence[str], gaps: Sequence[str], patterns: Sequence[str]) -> Against:
    """What a comparison is of: one thing at a time."""
    from .actions.comparing import Against

    asked = {"settings": settings, "bed": bed or bool(beds), "gaps": bool(gaps), "patterns": bool(patterns)}
    names = [name for name, given in asked.items() if given]
    if len(names) > 1:
        told = {"settings": "--settings", "bed": "--bed", "gaps": "--gap", "patterns": "--pattern"}
        raise FileError(", ".join(told[name] for name in names), "options", "together", "compare one thing at a time")
    return Against(
        names[0] if names else "hides",
        tuple(map(_bed, beds)),
        tuple(_gap(text) for text in gaps),
        tuple(map(_instead, patterns)),
    )


def _bed(text: str) -> tuple[float, float]:
    from ..model import units

    try:
        wide, high = (units.length_mm(side.strip()) for side in re.split("[x×]", text))
        if not (10 <= wide <= 1e5 and 10 <= high <= 1e5):
            raise ValueError
    except (ValueError, ModelError):
        mend = "give width and height, 10 mm or more: '600 x 400', or with units: '24 in x 12 in'"
        raise FileError("--bed-of", "bed", text, mend) from None
    return wide, high


def _gap(text: str) -> float:
    from ..model import units

    try:
        gap = units.length_mm(text)
        if not 0 <= gap <= 100:
            raise ValueError
    except (ValueError, ModelError):
        raise FileError("--gap", "gap", text, "give 0 to 100 mm, such as 0.5 or '1/32 in'") from None
    return gap


def _instead(text: str) -> tuple[Path, Path]:
    old, _, new = text.partition("=")
    if not old.strip() or not new.strip():
        raise FileError("--pattern", "pattern", text, "give the one in the folder and the changed one: old.svg=new.svg")
    return Path(old.strip()), Path(new.strip())


def _pair(text: str) -> Pixel:
    x, y = (float(value) for value in text.split(","))
    return x, y
