"""out/layout.json: a layout with all that is needed to check, report and export it."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import date
from pathlib import Path
from typing import Any

from shapely.geometry import Polygon

from ..atomic import json_bytes, plain_json, write_bytes
from ..errors import FileError
from ..model import (
    Asked,
    Burnt,
    Curves,
    Cut,
    Direction,
    Hide,
    Kind,
    Layout,
    OrderLine,
    Panel,
    PartKey,
    Placement,
    Setting,
    Spot,
    Under,
    Unplaced,
    Workshop,
)
from . import layout_tables as tables
from .hides import hide_from_dict, hide_to_dict, zone_from_table, zone_to_dict
from .limits import DEFAULT
from .rings import corners, lines, pair, points, polygon, rounded_mm
from .schema import (
    among,
    at,
    check_format,
    spot,
    validate,
)
from .source import read_json
from .true_lines import (
    Chords,
    check_drawn,
    chords_of,
    drawing_from_table,
    drawing_to_dict,
    laid,
    same_points,
)
from .workshop import setting_from_table, workshop_from_dict, workshop_to_dict

FORMAT = "nesting-layout"
PLAIN = (
    "hide",
    "panel",
    "order",
    "product",
    "part",
    "piece",
    "copy",
    "grade",
    "mirrored",
    "match",
    "filler",
    "setting",
)
"""Of a placement, the keys that stand in a file as they are."""


def write_layout(path: str | Path, layout: Layout, figures: dict[str, Any], *, hasty: bool = False) -> None:
    """Write a layout, whole or not at all.

    Parameters
    ----------
    path : str or Path
    layout : Layout
    figures : dict
        Yields, costs and offcuts to keep beside it; finite numbers, text, money, lists and tables.
    hasty : bool
        Do not see first whether it could be read back.

    Raises
    ------
    FileError
        When the file cannot be written, or could not be read back.
    """
    path = Path(path)
    write_bytes(path, layout_bytes(path, layout, figures, hasty=hasty))


def layout_bytes(path: Path, layout: Layout, figures: Mapping[str, Any], *, hasty: bool = False) -> bytes:
    """What `write_layout` writes.

    Raises
    ------
    FileError
        When it could not be read back.
    """
    data = layout_to_dict(layout) | {"figures": dict(figures)}
    if not hasty:
        layout_from_dict(data, path)
    body = json_bytes(path, data)
    mark = seal(data)
    # the last key, without writing all the others again
    return body.removesuffix(b"\n}\n") + f',\n"seal": "{mark}"\n}}\n'.encode()


def as_written(layout: Layout, file: str | Path = "layout.json") -> Layout:
    """The layout as it will be read back from its file, lengths rounded.

    Raises
    ------
    FileError
        When it could not be read back.
    """
    return layout_from_dict(layout_to_dict(layout), file)


@dataclass(frozen=True)
class Stated:
    """A layout with what else its file says.

    ``figures`` are those kept beside it; ``sealed`` is whether the file is as it was written, None where it does not
    say, as those of older versions do not.
    """

    layout: Layout
    figures: dict[str, Any]
    sealed: bool | None


def read_stated(path: str | Path) -> Stated:
    """Read a layout with the figures kept beside it, and see whether its file is as it was written.

    Raises
    ------
    FileError
        For the first fault found.
    """
    path = Path(path)
    data = read_json(path)
    layout = layout_from_dict(data, path)
    assert isinstance(data, dict)  # or it would hold no layout
    return Stated(layout, data["figures"], seal(data) == data["seal"] if data.get("seal") else None)


def seal(data: Mapping[str, Any]) -> str:
    """The SHA-256 of all that a layout file says, save what is pinned in it, which a person may put there by hand.

    It is that of its JSON with sorted keys, and with decimals in all numbers: other programs may write 1.0 as 1.
    """
    told = {str(key): value for key, value in data.items() if key != "seal"}
    told["placements"] = [{k: v for k, v in one.items() if k != "pinned"} for one in told["placements"]]
    found = hashlib.sha256()
    # bit by bit, so that other threads need not wait for the whole
    for number, key in enumerate(sorted(told)):
        value = told[key]
        rows = value if isinstance(value, list) else [value]
        begin, end = ("[", "]") if isinstance(value, list) else ("", "")
        found.update(f"{', ' if number else '{'}{json.dumps(key)}: {begin}".encode())
        for place, row in enumerate(rows):
            plain = json.loads(json.dumps(row, default=plain_json), parse_int=float)
            found.update(f"{', ' if place else ''}{json.dumps(plain, sort_keys=True)}".encode())
        found.update(end.encode())
    found.update(b"}")
    return found.hexdigest()


def read_layout(path: str | Path) -> Layout:
    """Read a layout.

    Parameters
    ----------
    path : str or Path
        A JSON file of at most 64 MB.

    Returns
    -------
    Layout
        Coordinates in mm, y up, rounded to 1e-4 mm; the figures kept beside it are not part of it.

    Raises
    ------
    FileError
        For the first fault found.
    """
    path = Path(path)
    return layout_from_dict(read_json(path), path)


def layout_to_dict(layout: Layout) -> dict[str, Any]:
    """The keys of a layout file, with no figures yet; coordinates rounded to 1e-4 mm."""
    workshop = workshop_to_dict(layout.workshop)
    machine = layout.workshop.machine
    found = dict.fromkeys(p.drawn for p in (*layout.placements, *layout.lost) if p.drawn is not None)
    drawings = {drawn: number for number, drawn in enumerate(found)}
    chords = {drawn: chords_of(drawn) for drawn in found}
    lost = [_placement_to_dict(placement, drawings, chords) for placement in layout.lost]
    return {
        "format": FORMAT,
        "version": 1,
        "workshop": workshop,
        "margins": workshop["margins"],
        "bed": {"width_mm": machine.bed_width_mm, "height_mm": machine.bed_height_mm},
        "hides": [hide_to_dict(hide) for hide in layout.hides],
        "panels": [_panel_to_dict(panel) for panel in layout.panels],
        "cuts": [_cut_to_dict(cut) for cut in layout.cuts],
        "settings": {hide: asdict(setting) for hide, setting in layout.settings.items()},
        "more_settings": {hide: [asdict(setting) for setting in rest] for hide, rest in layout.more_settings.items()},
        "wanted": [
            {"order": order, "product": product, "part": part, "count": count}
            for (order, product, part), count in layout.wanted.items()
        ],
        **({"asked": [_asked_to_dict(asked) for asked in layout.asked]} if layout.asked else {}),
        **({"lines": [_line_to_dict(line) for line in layout.lines]} if layout.lines else {}),
        **({"selling_prices": {k: str(v) for k, v in layout.selling_prices.items()}} if layout.selling_prices else {}),
        **({"drawings": [drawing_to_dict(drawn) for drawn in drawings]} if drawings else {}),
        "placements": [_placement_to_dict(placement, drawings, chords) for placement in layout.placements],
        "unplaced": [asdict(unplaced) for unplaced in layout.unplaced],
        **({"burnt": [_burnt_to_dict(burnt) for burnt in layout.burnt]} if layout.burnt else {}),
        **({"lost": lost} if layout.lost else {}),
        "partial": list(layout.partial),
        "run": {"seed": layout.seed, "iterations": layout.iterations, "seconds": layout.seconds},
        **({"limits": layout.limits} if layout.limits else {}),
        **({"made_from": layout.made_from} if layout.made_from else {}),
        "figures": {},
    }


def layout_from_dict(data: object, file: str | Path) -> Layout:
    """The layout that is in the keys of a layout file.

    Raises
    ------
    FileError
        For the first fault found.
    """
    check_format(data, FORMAT, file, "")
    table = validate(tables.Layout, data, file)
    workshop = workshop_from_dict(table.workshop, file, "workshop")
    _agree(table, workshop, file)
    hides: dict[str, Hide] = {}
    for index, entry in enumerate(table.hides):
        hide = hide_from_dict(entry, file, f"hides[{index}]")
        if hide.id in hides:
            raise FileError(file, f"hides[{index}].id", hide.id, "give each hide an id of its own")
        hides[hide.id] = hide
    named = {
        "panels": [row.hide for row in table.panels],
        "cuts": [row.hide for row in table.cuts],
        "placements": [row.hide for row in table.placements],
        "burnt": [row.hide for row in table.burnt],
        "lost": [row.hide for row in table.lost],
    }
    for name, ids in named.items():
        for index, hide_id in enumerate(ids):
            _known(file, f"{name}[{index}].hide", hide_id, hides)
    drawings = [(drawn, chords_of(drawn)) for drawn in map(drawing_from_table, table.drawings)]
    return Layout(
        workshop=workshop,
        hides=tuple(hides.values()),
        panels=tuple(_panel(row, file, f"panels[{index}]") for index, row in enumerate(table.panels)),
        settings=_settings(table, hides, file),
        wanted=_wanted(table, file),
        placements=tuple(
            _placement(row, drawings, file, f"placements[{index}]") for index, row in enumerate(table.placements)
        ),
        unplaced=tuple(Unplaced(**row.model_dump(by_alias=True)) for row in table.unplaced),
        seed=table.run.seed,
        iterations=table.run.iterations,
        seconds=table.run.seconds,
        cuts=tuple(
            Cut(row.hide, pair(row.start), pair(row.end), tuple(pair(point) for point in row.via)) for row in table.cuts
        ),
        more_settings=_more_settings(table, hides, file),
        limits=table.limits,
        lines=tuple(_line(row, file, f"lines[{index}]") for index, row in enumerate(table.lines)),
        selling_prices=table.selling_prices,
        partial=_partial(table),
        burnt=tuple(_burnt(row, file, f"burnt[{index}]") for index, row in enumerate(table.burnt)),
        lost=tuple(_placement(row, drawings, file, f"lost[{index}]") for index, row in enumerate(table.lost)),
        asked=tuple(_asked(row, file, f"asked[{index}]") for index, row in enumerate(table.asked)),
        made_from=table.made_from,
    )


def _panel_to_dict(panel: Panel) -> dict[str, Any]:
    outer, holes = corners(panel.polygon)
    longer = {"longer": panel.longer} if panel.longer else {}
    return {"id": panel.id, "hide": panel.hide, "polygon": outer, "holes": holes} | longer


def _burnt_to_dict(burnt: Burnt) -> dict[str, Any]:
    names = ("order", "product", "part", "piece", "copy", "mirrored")
    parts = [dict(zip(names, key)) | _pose_to_dict(spot) for key, spot in burnt.parts]
    return _panel_to_dict(burnt.panel) | {"parts": parts}


def _pose_to_dict(lying: Placement | Spot) -> dict[str, Any]:
    return {
        "x": rounded_mm(lying.x),
        "y": rounded_mm(lying.y),
        "angle": rounded_mm(lying.angle, DEFAULT.angle_digits),
    }


def _cut_to_dict(cut: Cut) -> dict[str, Any]:
    ends = {name: [rounded_mm(v) for v in getattr(cut, name)] for name in ("start", "end")}
    return (
        {"hide": cut.hide} | ends | ({"via": [[rounded_mm(v) for v in point] for point in cut.via]} if cut.via else {})
    )


def _asked_to_dict(asked: Asked) -> dict[str, Any]:
    return {
        "product": asked.product,
        "part": asked.part,
        "count": asked.count,
        "mirrored_twin": asked.mirrored_twin,
        "filler": asked.filler,
        "flesh_out": asked.flesh_out,
        "same_hide": asked.same_hide,
        "same_lot": asked.same_lot,
        "grade": asked.grade,
        "direction": asdict(asked.direction),
        "thickness_mm": asked.thickness_mm and list(asked.thickness_mm),
        "outline": corners(asked.outline)[0],
        "zones": [zone_to_dict(zone) for zone in asked.zones],
        "kind": {name: value for name, value in asdict(asked.kind).items() if value},
        "longer": asked.longer,
    }


def _line_to_dict(line: OrderLine) -> dict[str, Any]:
    told = {name: value for name, value in asdict(line).items() if value != ""}
    return told | {"due": line.due.isoformat() if line.due else ""}


def _placement_to_dict(
    placement: Placement, drawings: Mapping[Curves, int], chords: Mapping[Curves, Chords]
) -> dict[str, Any]:
    keys = {name: getattr(placement, name) for name in PLAIN} | {
        **_pose_to_dict(placement),
        "direction": asdict(placement.direction),
        "thickness_mm": placement.thickness_mm and list(placement.thickness_mm),
        "outline": corners(placement.outline)[0],
        "cutouts": [corners(cutout)[0] for cutout in placement.cutouts],
        "engrave": points(placement.engrave),
        "engrave_how": list(placement.engrave_how),
        "zones": [zone_to_dict(zone) for zone in placement.zones],
        "under": placement.under and {name: round(value, 4) for name, value in asdict(placement.under).items()},
    }
    asked = {name: value for name, value in asdict(placement.kind).items() if value}
    pinned = placement.pinned and {"hide": placement.pinned.hide} | _pose_to_dict(placement.pinned)
    said = {
        "kind": asked,
        "flesh_out": placement.flesh_out,
        "same_lot": placement.same_lot,
        "pinned": pinned,
        "folds": points(placement.folds),
    }
    drawing: dict[str, Any] = {} if placement.drawn is None else {"drawing": drawings[placement.drawn]}
    pose = keys["x"], keys["y"], keys["angle"]
    # stitch holes would be most of a file's points: it has them once, where the drawing gives them back as they are
    if placement.drawn is None or not same_points(laid(chords[placement.drawn]["stitch"], *pose), placement.stitch):
        drawing["stitch"] = points(placement.stitch)
    return keys | {name: value for name, value in said.items() if value} | drawing


def _agree(table: tables.Layout, workshop: Workshop, file: str | Path) -> None:
    """Margins and bed stand twice, once at hand for other programs: they must not contradict each other."""
    twice = {("margins", key): (value, getattr(workshop.margins, key)) for key, value in table.margins}
    twice["bed", "width_mm"] = (table.bed.width_mm, workshop.machine.bed_width_mm)
    twice["bed", "height_mm"] = (table.bed.height_mm, workshop.machine.bed_height_mm)
    for (group, key), (value, true) in twice.items():
        if value != true:
            raise FileError(
                file, f"{group}.{key}", value, f"the workshop in the same file says {true:g}: make them equal"
            )


def _known(file: str | Path, place: str, hide: str, hides: Mapping[str, Hide]) -> None:
    if hide not in hides:
        raise FileError(file, place, hide, among(hides, hide, "hides in this layout"))


def _settings(table: tables.Layout, hides: Mapping[str, Hide], file: str | Path) -> dict[str, Setting]:
    for hide in table.settings:
        _known(file, "settings", hide, hides)
    return {hide: setting_from_table(row, file, spot(file, "settings", hide)) for hide, row in table.settings.items()}


def _more_settings(table: tables.Layout, hides: Mapping[str, Hide], file: str | Path) -> dict[str, tuple[Setting, ...]]:
    more = {}
    for hide, rows in table.more_settings.items():
        _known(file, "more_settings", hide, hides)
        more[hide] = tuple(
            setting_from_table(row, file, spot(file, "more_settings", hide, n)) for n, row in enumerate(rows)
        )
    return more


def _wanted(table: tables.Layout, file: str | Path) -> dict[tuple[str, str, str], int]:
    wanted: dict[tuple[str, str, str], int] = {}
    for index, row in enumerate(table.wanted):
        key = (row.order, row.product, row.part)
        if key in wanted:
            raise FileError(file, f"wanted[{index}]", ", ".join(key), "listed twice: add up the counts")
        wanted[key] = row.count
    return wanted


def _line(row: tables.OrderRow, file: str | Path, place: str) -> OrderLine:
    try:
        due = date.fromisoformat(row.due) if row.due else None
    except ValueError:
        mend = "give a day as year-month-day, such as 2025-03-14"
        raise FileError(file, f"{place}.due", row.due, mend) from None
    with at(file, place):
        return OrderLine(**dict(row) | {"due": due})


def _partial(table: tables.Layout) -> tuple[str, ...]:
    """Products whose pieces may be cut in part: every one in a file that does not say."""
    return tuple(dict.fromkeys(row.product for row in table.wanted) if table.partial is None else table.partial)


def _panel(row: tables.Panel, file: str | Path, place: str) -> Panel:
    outline = polygon(file, f"{place}.polygon", row.polygon, row.holes, f"{place}.holes")
    return Panel(row.id, row.hide, outline, row.longer)


def _burnt(row: tables.Burnt, file: str | Path, place: str) -> Burnt:
    parts: dict[PartKey, Spot] = {}
    for index, cut in enumerate(row.parts):
        key = (cut.order, cut.product, cut.part, cut.piece, cut.copy_, cut.mirrored)
        if key in parts:
            raise FileError(file, f"{place}.parts[{index}]", " ".join(map(str, key)), "name each part once")
        parts[key] = Spot(row.hide, cut.x, cut.y, cut.angle)
    return Burnt(_panel(row, file, place), tuple(parts.items()))


def _asked(row: tables.Asked, file: str | Path, place: str) -> Asked:
    plain = (
        *("product", "part", "count", "mirrored_twin", "filler", "flesh_out"),
        *("same_hide", "same_lot", "grade", "longer"),
    )
    return Asked(
        **{name: getattr(row, name) for name in plain},
        direction=_direction(row.direction, file, place),
        thickness_mm=None if row.thickness_mm is None else pair(row.thickness_mm),
        outline=polygon(file, f"{place}.outline", row.outline),
        zones=tuple(zone_from_table(zone, file, f"{place}.zones[{index}]") for index, zone in enumerate(row.zones)),
        kind=Kind(**dict(row.kind)),
    )


def _direction(row: tables.Direction, file: str | Path, place: str) -> Direction:
    with at(file, f"{place}.direction", {"direction": ("kind",), "direction tolerance_deg": ("tolerance_deg",)}):
        return Direction(**dict(row))


def _placement(
    row: tables.Placement, drawings: Sequence[tuple[Curves, Chords]], file: str | Path, place: str
) -> Placement:
    def shapes(name: str) -> tuple[Polygon, ...]:
        return tuple(polygon(file, f"{place}.{name}[{index}]", ring) for index, ring in enumerate(getattr(row, name)))

    if row.engrave_how and len(row.engrave_how) != len(row.engrave):
        value = f"{len(row.engrave_how)} for {len(row.engrave)} lines"
        raise FileError(file, f"{place}.engrave_how", value, "give one for every line of engrave, or none at all")
    if row.drawing is not None and row.drawing >= len(drawings):
        raise FileError(file, f"{place}.drawing", row.drawing, f"drawings are numbered 0 to {len(drawings) - 1}")
    if row.stitch is None and row.drawing is None:
        raise FileError(file, f"{place}.stitch", "missing", "give its stitch lines, or the number of its drawing")
    placement = Placement(
        **{name: getattr(row, name) for name in (*PLAIN, "x", "y", "angle") if name != "copy"},
        copy=row.copy_,
        direction=_direction(row.direction, file, place),
        thickness_mm=None if row.thickness_mm is None else pair(row.thickness_mm),
        outline=polygon(file, f"{place}.outline", row.outline),
        cutouts=shapes("cutouts"),
        stitch=laid(drawings[row.drawing or 0][1]["stitch"], row.x, row.y, row.angle)
        if row.stitch is None
        else lines(row.stitch),
        engrave=lines(row.engrave),
        engrave_how=tuple(row.engrave_how),
        zones=tuple(zone_from_table(zone, file, f"{place}.zones[{index}]") for index, zone in enumerate(row.zones)),
        under=None if row.under is None else Under(**dict(row.under)),
        kind=Kind(**dict(row.kind)),
        flesh_out=row.flesh_out,
        same_lot=row.same_lot,
        pinned=_pinned(row),
        drawn=None if row.drawing is None else drawings[row.drawing][0],
        folds=lines(row.folds),
    )
    if row.drawing is not None:
        check_drawn(placement, drawings[row.drawing][1], file, place)
    return placement


def _pinned(row: tables.Placement) -> Spot | None:
    """Where a placement is pinned: ``true``, as a person may write it, pins it where it lies."""
    if isinstance(row.pinned, tables.Spot):
        return Spot(**dict(row.pinned))
    return Spot(row.hide, row.x, row.y, row.angle) if row.pinned else None
