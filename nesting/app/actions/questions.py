"""What in a job folder may be right but is more likely a slip: readings that contradict others, leather nobody has."""

from __future__ import annotations

import difflib
from collections import Counter
from collections.abc import Iterator
from dataclasses import fields

from ...leather.doubtful import Doubtful, doubtful_readings
from ...model import Asking, Hide, Job, Kind, Machine, Workshop, counted
from ...model.left_out import ALL_AT_ONCE, NONE_TO_BURN
from ...planning.limits import PlanLimits
from ...planning.prepare import Prepared
from ...planning.ready import Ready, ready
from ...planning.reasons import no_such_leather
from ...planning.settings import coverage

RARE = 6
"""Orders with a priority of this or more are told: the scale, of which 1 is first, is easily taken the other way."""


def questions(prepared: Prepared) -> list[str]:
    """One line for each, with what it does and what mends it."""
    job = prepared.job
    lines = [line for item in prepared.hides for line in _readings(item, job.workshop, prepared.limits)]
    return [*_machine(job.workshop.machine), *lines, *_leather(job), *_on_no_hide(prepared), *_priorities(job)]


def _machine(machine: Machine) -> Iterator[str]:
    """What of the machine does nothing as it stands."""
    if machine.overhang_mm and machine.feed_through == "none":
        yield (
            f"workshop.toml: overhang_mm {machine.overhang_mm:g} does nothing without feed_through: say "
            'feed_through = "width" or "height", the side of the bed that leather goes through, or take it out'
        )


def _readings(item: Ready, workshop: Workshop, limits: PlanLimits) -> Iterator[str]:
    """Readings of a hide to take again, and what each does to the share of it that is cut clean."""
    found = doubtful_readings(item.hide, workshop.thickness_spread_mm)
    if not found:
        return
    with_all = _covered(item, workshop)
    told = set()
    for one in found:
        reading = one.reading
        at = f"({reading.x:g}, {reading.y:g})"
        if one.other is not None:
            pair = frozenset((id(reading), id(one.other)))
            if pair in told:
                continue
            told.add(pair)
            shares = [_without(item, each, workshop, limits) for each in found if each.reading in (reading, one.other)]
            yield (
                f"hide {item.hide.id}: readings {reading.mm:g} and {one.other.mm:g} mm at {at} contradict each other: "
                f"{with_all:.0%} of the hide is cut clean with both, {shares[0]:.0%} without the first, "
                f"{shares[-1]:.0%} without the second; measure there again and delete the wrong one"
            )
        else:
            yield (
                f"hide {item.hide.id}: reading {reading.mm:g} mm at {at} is far from what the others say there, "
                f"{one.expected_mm:.2f} mm give or take {one.error_mm:.2f}: {with_all:.0%} of the hide is cut clean "
                f"with it, {_without(item, one, workshop, limits):.0%} without; measure there again"
            )


def _without(item: Ready, doubtful: Doubtful, workshop: Workshop, limits: PlanLimits) -> float:
    return _covered(ready(doubtful.without(item.hide), workshop, limits), workshop)


def _covered(item: Ready, workshop: Workshop) -> float:
    return coverage(item.hide, item.map, item.settings[:1], workshop.confidence) if item.settings else 0.0


def _leather(job: Job) -> Iterator[str]:
    """What is asked of leather that no hide of the folder is."""
    askings: list[tuple[str, Asking]] = [
        (f"orders.csv: order {line.order} {line.product}", line) for line in job.orders
    ]
    for product in job.products:
        askings.append((f"products.toml: {product.name}", product))
        askings += [(f"products.toml: {product.name} {part.name}", part) for part in product.parts]
    for where, asking in askings:
        for name in (entry.name for entry in fields(Asking)):
            value = getattr(asking, name).strip()
            there = sorted({said for hide in job.hides if (said := _said(hide, name))})
            if value and value.casefold() not in {said.casefold() for said in there}:
                near = difflib.get_close_matches(value.casefold(), [one.casefold() for one in there], 1)
                ask = f"did you mean {near[0]}?" if near else f"there is {', '.join(there) or 'none that says so'}"
                yield f"{where}: {name} {value}: no hide in hides/ is that: {ask}"


def _said(hide: Hide, name: str) -> str:
    said = getattr(hide, name).strip()
    return "" if said == "unknown" else said


def _on_no_hide(prepared: Prepared) -> Iterator[str]:
    """What can be cut from no hide, for things together that are asked of its leather, each of which there is."""
    hides, why = [item.hide for item in prepared.hides], dict[Kind, str]()
    barred: dict[str, dict[str, None]] = {}
    for wish in prepared.wishes:
        if wish.kind not in why:
            nowhere = not any(map(wish.kind.allows, hides))
            why[wish.kind] = no_such_leather(wish.kind, hides) if nowhere else ""
        reason = why[wish.kind]
        if reason.startswith(NONE_TO_BURN) or reason.endswith(ALL_AT_ONCE):
            barred.setdefault(reason, {})[wish.product.name] = None
    for reason, products in barred.items():
        yield f"{', '.join(products)} can be cut from no hide: {reason}"


def _priorities(job: Job) -> Iterator[str]:
    """How many order lines have which priority, where some are put far behind."""
    counts = Counter(line.priority for line in job.orders)
    late = [line.order for line in job.orders if line.priority >= RARE and not job.product(line.product).filler]
    if late:
        told = ", ".join(f"{number}: {counted(counts[number], 'line')}" for number in sorted(counts))
        yield f"orders.csv: priority 1 is made first and 9 last ({told}): {', '.join(late[:5])} waits for all others"
