"""What of a job folder is no longer as it was when a layout was made, in plain words."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, fields
from pathlib import Path

from ..errors import FileError
from ..files.hides import hide_to_dict
from ..files.job import read_job
from ..model import Asked, Direction, Hide, Job, Kind, Layout, Setting, Workshop
from ..planning.wishes import wanted
from ..referee.findings import Finding
from .earlier import as_asked, as_drawn

_UNITS = {"power_percent": " %", "speed_mm_s": " mm/s", "_mm": " mm", "_w": " W", "_deg": " degrees", "_s2": " mm/s2"}
_PLAIN = {"power_percent": "power", "speed_mm_s": "speed"}


@dataclass(frozen=True)
class Since:
    """Files that have changed since a layout was made, each with what is otherwise, in words; and what the layout says
    otherwise than a file that has not changed."""

    changes: tuple[str, ...] = ()
    findings: tuple[Finding, ...] = ()


def since(layout: Layout, folder: Path, sealed: bool | None = True) -> Since:
    """Compare a layout with the job folder it was made from, where that is there.

    Parameters
    ----------
    layout : Layout
    folder : Path
        Of the job; nothing is compared where it holds none of the files, or the layout does not say what it was made
        from.
    sealed : bool, optional
        Whether the layout is as it was written; where it is not, what it says otherwise than a file that has not
        changed is wrong. Else it was made so, of a job changed in a notebook say.
    """
    changed = {name for name, known in layout.made_from.items() if _hash(folder / name) != known}
    if not layout.made_from or not any((folder / name).exists() for name in layout.made_from):
        return Since()
    hides = {path.relative_to(folder).as_posix() for path in folder.glob("hides/*.json") if path.name[0] != "."}
    if sealed and not changed and hides <= layout.made_from.keys():
        return Since()
    gone = sorted(name for name in changed if not (folder / name).exists())
    changes = [f"{name} is gone since this layout was made" for name in gone]
    try:
        job = read_job(folder)
    except FileError as error:
        first = error.all[0]
        changes += [f"{name} has changed since this layout was made" for name in sorted(changed - {*gone})]
        return Since((*changes, f"the job folder cannot be read now: {first}"))
    # a plan of what the stock book has to be made does not read that list
    new = sorted(job.made_from.keys() - layout.made_from.keys() - {"orders.csv"})
    changes += [f"{name} is new since this layout was made" for name in new]
    told: dict[str, list[str]] = {name: [] for name in sorted(changed - {*gone})}
    findings = []
    for name, words in differences(layout, job):
        if name in told:
            told[name].append(words)
        elif not sealed and name in layout.made_from and not changed & _behind(name, layout):
            findings.append(Finding(11, "made from", name, f"in the layout {words}", "as in the file"))
    for name, listed in told.items():
        what = "; ".join(dict.fromkeys(listed)) or "nothing that this layout rests on"
        changes.append(f"{name} has changed since this layout was made: {what}")
    return Since(tuple(changes), tuple(findings))


def differences(layout: Layout, job: Job) -> Iterator[tuple[str, str]]:
    """What a layout has otherwise than a job: the file by its path in the folder, and the words.

    What is burnt was cut from the files of its day and is not compared, nor are hides that the layout leaves aside.
    """
    yield from (("workshop.toml", words) for words in _workshop(layout.workshop, job.workshop))
    yield from (("orders.csv", words) for words in _orders(layout, job))
    yield from _products(layout, job)
    files = _hide_files(job)
    now = {hide.id: hide for hide in job.hides}
    for hide in layout.hides:
        if hide.id in now:
            name = files.get(hide.id, f"hides/{hide.id}.json")
            yield from ((name, words) for words in _hide(hide, now[hide.id]))


def _hash(path: Path) -> str:
    try:
        return hashlib.sha256(path.read_bytes()).hexdigest()
    except OSError:
        return ""


def _behind(name: str, layout: Layout) -> set[str]:
    """Other files that what is told of one file may come from."""
    if name == "products.toml" or name.startswith("patterns/"):
        return {"products.toml", "orders.csv", "workshop.toml"} | {
            other for other in layout.made_from if other.startswith("patterns/")
        }
    return {"products.toml"} if name == "orders.csv" else set()


def _hide_files(job: Job) -> dict[str, str]:
    names = [name for name in sorted(job.made_from) if name.startswith("hides/")]
    return {hide.id: name for hide, name in zip(job.hides, names)} if len(names) == len(job.hides) else {}


def _workshop(was: Workshop, now: Workshop) -> Iterator[str]:
    yield from _settings((*was.settings, *was.engravings), (*now.settings, *now.engravings))
    for name in ("machine", "margins", "prices"):
        yield from _changed(getattr(was, name), getattr(now, name))
    for name in (entry.name for entry in fields(Workshop) if entry.compare):
        if name not in ("settings", "engravings", "machine", "margins", "prices"):
            yield from _one(name, getattr(was, name), getattr(now, name))


def _settings(was: Iterable[Setting], now: Iterable[Setting]) -> Iterator[str]:
    before, after = ({row.name: row for row in rows} for rows in (was, now))
    for name, row in before.items():
        if name not in after:
            yield f"setting {name} is gone"
        else:
            yield from (f"{name} {words.removeprefix('power ')}" for words in _changed(row, after[name]))
    yield from (f"setting {name} is new" for name in after if name not in before)


def _orders(layout: Layout, job: Job) -> Iterator[str]:
    before = {(line.order, line.product): line for line in layout.lines}
    after = {(line.order, line.product): line for line in job.orders}
    for key, line in before.items():
        if key not in after:
            yield f"order {' '.join(key)} is gone"
        else:
            yield from (f"order {' '.join(key)}: {words}" for words in _changed(line, after[key]))
    for key in after:
        if key not in before and layout.lines:
            yield f"order {' '.join(key)} is new"


def _products(layout: Layout, job: Job) -> Iterator[tuple[str, str]]:
    products = {product.name: product for product in job.products}
    before = {(one.product, one.part): one for one in layout.asked}
    for (product, part), was in before.items():
        found = next((p for p in products[product].parts if p.name == part), None) if product in products else None
        if found is None:
            yield "products.toml", f"{product} {part} is gone"
            continue
        for words in _changed(was, Asked.of(products[product], found), ("outline", "zones")):
            yield "products.toml", f"{product} {part}: {words}"
    for name in {product for product, _ in before}:
        for one in products[name].parts if name in products else ():
            if (name, one.name) not in before:
                yield "products.toml", f"{name} {one.name} is new"
    for name, price in layout.selling_prices.items():
        if name in products and products[name].price != price:
            yield "products.toml", f"{name}: price was {price}, is {products[name].price}"
    yield from _drawings(layout, job)


def _drawings(layout: Layout, job: Job) -> Iterator[tuple[str, str]]:
    """Parts that are drawn otherwise than they lie, and such as are no longer ordered."""
    wishes = {wish.key: wish for wish in wanted(job)}
    for placement in layout.placements:
        wish, part = wishes.get(placement.key), f"{placement.product} {placement.part}"
        if layout.is_burnt(placement):
            continue
        if wish is None:
            yield "orders.csv", f"{placement.name} is no longer ordered"
        elif not as_drawn(placement, wish):
            yield wish.product.pattern or "products.toml", f"{part} is drawn otherwise"
        elif not layout.asked and not as_asked(placement, wish):
            yield "products.toml", f"{part} asks for something else"


def _hide(was: Hide, now: Hide) -> Iterator[str]:
    before, after = hide_to_dict(was), hide_to_dict(now)
    for key in dict.fromkeys([*before, *after]):
        if before.get(key) == after.get(key) or key in ("format", "version"):
            continue
        if isinstance(before.get(key, after.get(key)), (list, dict)):
            one, other = before.get(key) or [], after.get(key) or []
            counted = len(one) != len(other) and key in ("zones", "readings", "doubts", "holes")
            yield f"{key} were {len(one)}, are {len(other)}" if counted else f"{key} is otherwise"
        else:
            yield from _one(key, before.get(key), after.get(key))


def _changed(was: object, now: object, but: tuple[str, ...] = ()) -> Iterator[str]:
    for entry in fields(was):  # type: ignore[arg-type]
        if entry.name not in but:
            yield from _one(entry.name, getattr(was, entry.name), getattr(now, entry.name))


def _one(name: str, was: object, now: object) -> Iterator[str]:
    if was != now:
        yield f"{_PLAIN.get(name, name)} was {_value(name, was)}, is {_value(name, now)}"


def _value(name: str, value: object) -> str:
    if value is None or value == "":
        return "not said"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, tuple) and name.endswith("_mm"):
        return f"{value[0]:g} to {value[1]:g} mm"
    if isinstance(value, Direction):
        within = f" within {value.tolerance_deg:g} degrees" if value.tolerance_deg else ""
        return f"{value.kind}{within}{'' if value.turn else ', not turned round'}"
    if isinstance(value, Kind):
        return f"{value}"
    unit = next((unit for end, unit in _UNITS.items() if name.endswith(end)), "")
    return f"{value:g}{unit}" if isinstance(value, float) and unit else f"{value}{unit}"
