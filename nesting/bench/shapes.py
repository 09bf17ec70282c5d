"""Hides, layouts and drawings as the page draws them: plain lists of points, mm, y up."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from decimal import Decimal
from typing import Any

import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from ..geometry import place
from ..laser.entry import is_ring
from ..laser.load import unfilled
from ..laser.registration import lay
from ..laser.tight import tight_panels
from ..leather.few import refused_for_few
from ..leather.limits import DEFAULT as LEATHER
from ..leather.regions import gains
from ..leather.shades import is_deep, tint
from ..model import Hide, Layout, Panel, Part, PartKey, Placement

Points = list[list[float]]


def points(shape: BaseGeometry, digits: int = 2) -> Points:
    """The points of a line, or of the outer edge of an area."""
    line = shape.exterior if isinstance(shape, Polygon) else shape
    return [[round(x, digits), round(y, digits)] for x, y in shapely.get_coordinates(line).tolist()]


def of_hide(hide: Hide) -> dict[str, Any]:
    """A hide to draw: its outline, holes, zones, doubts and what is known of it."""
    return {
        "id": hide.id,
        "outline": points(hide.outline),
        "holes": [points(ring) for ring in hide.outline.interiors],
        "zones": [{"grade": zone.grade, "kind": zone.kind, "polygon": points(zone.polygon)} for zone in hide.zones],
        "doubts": [{"number": one.number, "kind": one.kind, "polygon": points(one.polygon)} for one in hide.doubts],
        "backbone": hide.backbone,
        "area_mm2": hide.outline.area,
        "tannage": hide.tannage,
        "colour": hide.colour,
        "tint": tinted(hide.colour),
        "laser_safe": hide.laser_safe,
        "price": None if hide.price is None else str(hide.price),
        "nominal_mm": hide.nominal_mm,
        "photo": hide.photo,
        "readings": len(hide.readings),
        "readings_missing": max(0, LEATHER.fewest_readings - len(hide.readings)),
        "in_doubt": len(hide.doubts),
        "suggested": len(hide.suggestions),
    }


def tinted(colour: str) -> dict[str, Any] | None:
    """What leather of a colour looks like, and whether lines on it are light; None where its name does not tell."""
    fill = tint(colour)
    return {"fill": fill, "deep": is_deep(fill)} if fill else None


def doubts_by_gain(hide: Hide) -> list[dict[str, Any]]:
    """The doubts of a hide, those first that looking at wins most, with what each may win."""
    won = gains(hide)
    return [
        {
            "number": one.number,
            "kind": one.kind,
            "size_mm": one.size_mm,
            "settles": one.settles,
            "polygon": points(one.polygon),
            "wins_mm2": won.get(one.number, 0.0),
        }
        for one in sorted(hide.doubts, key=lambda one: -won.get(one.number, 0.0))
    ]


def key_text(key: PartKey) -> str:
    """A part's key as the page holds it."""
    return "\t".join(map(str, key))


def key_of(text: str) -> PartKey | None:
    """The key that a page sent; None where it is none."""
    cells = text.split("\t")
    if len(cells) != 6 or not (cells[3].isdecimal() and cells[4].isdecimal() and len(cells[3] + cells[4]) < 12):
        return None
    return cells[0], cells[1], cells[2], int(cells[3]), int(cells[4]), cells[5] == "True"


def of_layout(layout: Layout, figures: dict[str, Any] | None = None) -> dict[str, Any]:
    """A layout to draw: each drawing once, and the parts by their drawing and pose."""
    drawings: dict[tuple[str, str, bool], int] = {}
    shapes: list[dict[str, Any]] = []
    parts = []
    depth = f"engrave {layout.workshop.engraving_depth}"
    spaced = any(row.line_spacing_mm for row in layout.workshop.engravings if row.operation == depth)
    for placement in layout.placements:
        form = (placement.product, placement.part, placement.mirrored)
        if form not in drawings:
            drawings[form] = len(shapes)
            shapes.append(_drawn(placement, spaced))
        setting = layout.setting_of(placement)
        parts.append(
            {
                "key": key_text(placement.key),
                "order": placement.order,
                "product": placement.product,
                "part": placement.part,
                "piece": placement.piece,
                "copy": placement.copy,
                "mirrored": placement.mirrored,
                "shape": drawings[form],
                "hide": placement.hide,
                "panel": placement.panel,
                "x": placement.x,
                "y": placement.y,
                "angle": placement.angle,
                "grade": placement.grade,
                "filler": placement.filler,
                "pinned": placement.pinned is not None,
                "burnt": layout.is_burnt(placement),
                "setting": "" if setting is None else setting.name,
                "under": None
                if placement.under is None
                else [placement.under.least_mm, placement.under.greatest_mm, placement.under.confidence],
            }
        )
    return {
        "mark": layout.mark,
        "hides": [of_hide(hide) for hide in layout.hides],
        "panels": [
            {
                "hide": panel.hide,
                "id": panel.id,
                "polygon": points(panel.polygon),
                **_as_laid(layout, panel),
                "burnt": layout.is_burnt(panel),
            }
            for panel in layout.panels
        ],
        "cuts": [{"hide": cut.hide, "line": cut.points} for cut in layout.cuts],
        "shapes": shapes,
        "parts": parts,
        "orders": list(dict.fromkeys(key[0] for key in layout.wanted)),
        "tight": tight_panels(layout),
        "unfilled": unfilled(layout),
        "left_out": _left_out(layout, figures),
        "few_readings": refused_for_few(layout),
        "pieces": [
            {"order": one.order, "product": one.product, "piece": one.piece, "whole": one.whole, "filler": one.filler}
            for one in layout.pieces()
        ],
        "figures": figures or None,
        "offcut_credit": layout.workshop.prices.offcut_credit,
        "by_order": _by_order(layout, figures) if figures and "costs" in figures else None,
        "bed": [layout.workshop.machine.bed_width_mm, layout.workshop.machine.bed_height_mm],
    }


def _by_order(layout: Layout, figures: dict[str, Any]) -> dict[str, Any]:
    """What each order costs, its lines added up, and all of them; what its whole pieces sell for, and their margin,
    None where no price is known; and which kinds of cost have no price."""
    from ..costs.money import KINDS

    names = (*KINDS, "total")
    rows: dict[str, dict[str, Any]] = {}
    for line in figures["costs"]["lines"]:
        row = rows.setdefault(line["order"], {"order": line["order"], "pieces": 0, "complete": 0})
        row |= {name: row[name] + line[name] for name in ("pieces", "complete")}
        row |= {name: str(Decimal(row.get(name, "0")) + Decimal(line[name])) for name in names}
    for line in figures["costs"]["margins"]:
        row = rows[line["order"]]
        row |= {name: str(Decimal(row.get(name, "0")) + Decimal(line[name])) for name in ("price", "margin")}
        row["sold"] = row.get("sold", 0) + line["pieces"]
    total = {name: figures["costs"][name] for name in names}
    total |= {name: sum(row[name] for row in rows.values()) for name in ("pieces", "complete")}
    if sold := figures["costs"]["sold"]:
        total |= {"price": sold["price"], "margin": sold["margin"], "sold": sold["pieces"]}
    per = {"machine": "machine_per_hour", "labour": "labour_per_hour", "masking": "masking_per_m2"}
    unpriced = [kind for kind, key in per.items() if key in layout.workshop.untold]
    return {"rows": list(rows.values()), "total": total, "unpriced": unpriced}


def _as_laid(layout: Layout, panel: Panel) -> dict[str, Any]:
    """How a panel is turned to lie on the bed, degrees counter-clockwise, and its width and height so; as it lies on
    its hide where the bed does not hold it."""
    hide = next(hide for hide in layout.hides if hide.id == panel.hide)
    pose = None if panel.longer else lay(panel.polygon, hide, layout.workshop.machine)
    x0, y0, x1, y1 = (panel.polygon if pose is None else pose.put(panel.polygon)).bounds
    return {"turn": 0.0 if pose is None else pose.angle_deg, "size_mm": [round(x1 - x0, 2), round(y1 - y0, 2)]}


def _left_out(layout: Layout, figures: dict[str, Any] | None) -> list[dict[str, Any]]:
    from ..costs.figures import left_out

    rows = figures["left_out"] if figures and "left_out" in figures else left_out(layout)
    return [
        {key: row[key] for key in ("order", "product", "piece", "reason", "filler", "placed", "parts", "due")}
        for row in rows
    ]


def _drawn(placement: Placement, spaced: bool) -> dict[str, Any]:
    """The lines of a part where it was drawn, and which of its engraving is filled where rows have a line spacing."""
    hows = placement.engrave_how or ("",) * len(placement.engrave)
    filled = [
        number
        for number, (line, how) in enumerate(zip(placement.engrave, hows))
        if spaced and how != "line" and is_ring(line)
    ]

    def back(shapes: Iterable[BaseGeometry]) -> list[Points]:
        return [
            points(place(place(shape, -placement.x, -placement.y, 0.0), 0.0, 0.0, -placement.angle)) for shape in shapes
        ]

    return {
        "outline": back([placement.outline])[0],
        "cutouts": back(placement.cutouts),
        "stitch": back(placement.stitch),
        "engrave": back(placement.engrave),
        "filled": filled,
        "folds": back(placement.folds),
    }


def of_parts(parts: Sequence[Part]) -> list[dict[str, Any]]:
    """Parts as they are drawn, for a thumbnail."""
    return [
        {
            "name": part.name,
            "outline": points(part.outline),
            "cutouts": [points(one) for one in part.cutouts],
            "stitch": [points(one) for one in part.stitch],
            "engrave": [points(one) for one in part.engrave],
            "folds": [points(one) for one in part.folds],
            "zones": [{"grade": zone.grade, "polygon": points(zone.polygon)} for zone in part.zones],
            "size_mm": [
                part.outline.bounds[2] - part.outline.bounds[0],
                part.outline.bounds[3] - part.outline.bounds[1],
            ],
        }
        for part in parts
    ]
