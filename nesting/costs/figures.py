"""The figures of a layout: areas, yields, counts, offcuts and costs, ready to be written as JSON."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import ROUND_HALF_UP, Decimal
from typing import Any, NamedTuple

from shapely import union_all
from shapely.geometry import MultiPolygon, Polygon

from ..geometry import areal
from ..leather.regions import usable
from ..leather.thickness import ThicknessMap, cuttable, thickness_map
from ..model import GRADES, Hide, Layout, Placement, Under, Unplaced
from ..model.left_out import WITH_ITS_PIECE
from .currency import minor_unit
from .limits import DEFAULT, CostLimits
from .money import KINDS, Cost, Costs, costs
from .offcuts import Remains, offcuts

Figures = dict[str, Any]
"""Names and values as JSON has them."""
PieceKey = tuple[str, str, int]
"""Order, product and number of an ordered piece."""
AREAS = ("hide_mm2", "usable_mm2", "consumed_mm2", "parts_mm2", "kerf_mm2", "scrap_mm2", "offcuts_mm2")


def figures(layout: Layout, limits: CostLimits = DEFAULT) -> Figures:
    """Every figure of a layout.

    Parameters
    ----------
    layout : Layout
    limits : CostLimits, optional

    Returns
    -------
    dict
        ``hides``: a dict for each hide, see `hide_figures`, and for hides that are cut its ``price`` (paid), ``credit``
        (of its offcuts) and ``cost`` (all money spent on it). ``total``: the same areas and yields summed over the
        hides that are cut (an untouched hide counts for nothing), with ``hides_cut``, ``hides_untouched``, ``wanted``,
        ``placed`` and ``unplaced`` parts and ``cost``; of what is ordered, fillers left out, ``pieces_wanted``,
        ``pieces_whole`` (all their parts placed), ``orders_wanted`` and ``orders_complete`` (all their pieces whole).
        ``left_out``: see `left_out`. ``costs``: what the money is spent on, by order line and by ordered piece, with
        the ``margin`` of each piece; ``margins`` and ``sold`` are of the whole pieces whose selling price is known, by
        order line and in all: their number, their ``price`` and ``cost`` together, the ``margin`` (price less cost),
        its mean for ``each`` piece and its ``share`` of the price. Areas in mm2, yields as shares from 0 to 1, money as
        text in the currency ``costs.currency``.
    """
    return figures_and_costs(layout, limits)[0]


def figures_and_costs(layout: Layout, limits: CostLimits = DEFAULT) -> tuple[Figures, Costs]:
    """The same, and the exact costs they are made of."""
    remains = {hide.id: offcuts(layout, hide.id, limits) for hide in layout.hides}
    money = costs(layout, {name: kept for name, (kept, _) in remains.items()}, limits)
    rows = [hide_figures(layout, hide.id, remains[hide.id]) for hide in layout.hides]
    for row in rows:
        if row["cut"]:
            name = row["hide"]
            row |= {
                "price": str(money.paid[name]),
                "credit": str(money.credited[name]),
                "cost": str(money.hides[name].total),
            }
    cut = [row for row in rows if row["cut"]]
    total = _with_yields({name: sum((row[name] for row in cut), 0.0) for name in AREAS})
    total |= {
        "hides_cut": len(cut),
        "hides_untouched": len(rows) - len(cut),
        "wanted": sum(layout.wanted.values()),
        "placed": len(layout.placements),
        "unplaced": len(layout.unplaced),
        **_made(layout),
        "cost": str(money.total.total.quantize(minor_unit(money.currency))),
    }
    found = {"hides": rows, "total": total, "left_out": left_out(layout), "costs": _costs(layout, money)}
    return found, money


def hide_figures(layout: Layout, hide_id: str, remains: Remains | None = None, limits: CostLimits = DEFAULT) -> Figures:
    """Areas, yields and offcuts of one hide, without money.

    Parameters
    ----------
    layout : Layout
    hide_id : str
    remains : list of Offcut and scrap, optional
        What `offcuts.offcuts` gives for this hide, when it is known already.
    limits : CostLimits, optional

    Returns
    -------
    dict
        ``hide``; ``cut`` (whether anything is placed on it); ``placed`` parts; ``usable_grade``, the lowest grade that
        any placed part accepts; ``hide_mm2``; ``usable_mm2`` (where the most tolerant part may lie); ``parts_mm2``
        (outlines less cutouts); ``offcuts_mm2``; ``consumed_mm2`` (hide less offcuts, 0 when untouched); ``scrap_mm2``
        (slivers, gaps and what falls out of cutouts); ``kerf_mm2`` (burnt away: consumed less parts and scrap);
        ``yield_of_hide``, ``yield_of_usable`` and ``yield_of_consumed``: the parts' share of each (0 when there is
        none); ``offcuts`` as ``id``, ``area_mm2`` and ``rectangle_mm``, longer and shorter side of the largest
        rectangle found inside.
    """
    hide = next(hide for hide in layout.hides if hide.id == hide_id)
    placements = layout.on(hide_id)
    kept, scrap = remains or offcuts(layout, hide_id, limits)
    area, parts = hide.outline.area, sum(placement.area_mm2 for placement in placements)
    left = sum(offcut.area_mm2 for offcut in kept)
    consumed = area - left if placements else 0.0
    grade = lowest_grade(layout)
    row: Figures = {"hide": hide_id, "cut": bool(placements), "placed": len(placements), "usable_grade": grade}
    row |= _with_yields(
        {
            "hide_mm2": area,
            "usable_mm2": usable(hide, layout.workshop.margins, grade, burnable(layout, hide)).area,
            "consumed_mm2": consumed,
            "parts_mm2": parts,
            "kerf_mm2": max(consumed - parts - scrap.area, 0.0),
            "scrap_mm2": scrap.area,
            "offcuts_mm2": left,
        }
    )
    row["offcuts"] = [
        {"id": offcut.id, "area_mm2": offcut.area_mm2, "rectangle_mm": [offcut.width_mm, offcut.height_mm]}
        for offcut in kept
    ]
    return row


def thickness_of(layout: Layout, hide: Hide) -> ThicknessMap:
    """The thickness map of a hide with the workshop's spread."""
    return thickness_map(hide, layout.workshop.thickness_spread_mm)


def burnable(layout: Layout, hide: Hide) -> Polygon | MultiPolygon | None:
    """The region of a hide where any of its settings cuts clean at the workshop's confidence; None when it has none."""
    regions = list(windows(layout, hide).values())
    return areal(union_all(regions)) if regions else None


def windows(layout: Layout, hide: Hide) -> dict[str, Polygon | MultiPolygon]:
    """The region of a hide where each of its settings cuts clean, by name."""
    thickness, confidence = thickness_of(layout, hide), layout.workshop.confidence
    return {
        setting.name: cuttable(thickness, hide, setting.thinnest_mm, setting.thickest_mm, confidence)
        for setting in layout.settings_on(hide.id)
    }


def under_all(placements: Iterable[Placement]) -> Under | None:
    """The leather under some parts together: how thin and thick it is at most, and how sure that is at the worst spot;
    None when nothing is known of it."""
    known = [placement.under for placement in placements if placement.under is not None]
    if not known:
        return None
    return Under(
        min(under.least_mm for under in known),
        max(under.greatest_mm for under in known),
        min(under.confidence for under in known),
    )


def left_out(layout: Layout) -> list[Figures]:
    """The ordered pieces that are not whole, fillers last, else in the order in which their lines are wanted.

    Each as ``order``, ``product``, ``piece``, ``filler``, how many of its ``parts`` are ``placed``, the ``reason`` why
    the others are not, and the day it is ``due`` as YYYY-MM-DD, None where the layout does not say.
    """
    reasons: dict[PieceKey, dict[str, list[str]]] = {}
    for item in layout.unplaced:
        parts = reasons.setdefault(_piece(item), {}).setdefault(item.reason, [])
        if item.part not in parts:
            parts.append(item.part)
    due = {(line.order, line.product): line.due.isoformat() for line in layout.lines if line.due}
    rows = [
        {
            "order": piece.order,
            "product": piece.product,
            "piece": piece.piece,
            "filler": piece.filler,
            "placed": piece.placed,
            "parts": piece.wanted,
            "reason": _reason(reasons[piece.order, piece.product, piece.piece]),
            "due": due.get((piece.order, piece.product)),
        }
        for piece in layout.pieces()
        if not piece.whole
    ]
    return sorted(rows, key=lambda row: bool(row["filler"]))


def _reason(parts: dict[str, list[str]]) -> str:
    """Why a piece is not whole: the reasons of its parts, each once, and of which parts where that differs; of those
    that are only left out with the others none."""
    if len(parts) == 1:
        return next(iter(parts))
    own = {reason: names for reason, names in parts.items() if not reason.startswith(WITH_ITS_PIECE)}
    return "; ".join(f"{' and '.join(names)}: {reason}" for reason, names in (own or parts).items())


def _made(layout: Layout) -> Figures:
    """Ordered pieces and orders, and how many of them are whole; fillers left out."""
    pieces = [piece for piece in layout.pieces() if not piece.filler]
    orders = {piece.order for piece in pieces}
    return {
        "pieces_wanted": len(pieces),
        "pieces_whole": sum(piece.whole for piece in pieces),
        "orders_wanted": len(orders),
        "orders_complete": len(orders - {piece.order for piece in pieces if not piece.whole}),
    }


def lowest_grade(layout: Layout) -> str:
    """The lowest grade that any placed part, or an area of one, accepts; E when nothing is placed."""
    grades = {placement.grade for placement in layout.placements}
    grades |= {zone.grade for placement in layout.placements for zone in placement.zones}
    return max(grades, default=GRADES[-1])


def _with_yields(areas: dict[str, float]) -> Figures:
    def over(whole: str) -> float:
        return areas["parts_mm2"] / areas[whole] if areas[whole] > 0 else 0.0

    return areas | {f"yield_of_{whole}": over(f"{whole}_mm2") for whole in ("hide", "usable", "consumed")}


def _costs(layout: Layout, money: Costs) -> Figures:
    copies: dict[PieceKey, list[bool]] = {}
    for placement in layout.placements:
        copies.setdefault(_piece(placement), []).append(True)
    for unplaced in layout.unplaced:
        copies.setdefault(_piece(unplaced), []).append(False)
    lines: dict[tuple[str, str], list[PieceKey]] = {}
    for piece in sorted(copies):
        lines.setdefault(piece[:2], []).append(piece)
    of_piece, of_line, unit = money.pieces, money.lines, minor_unit(money.currency)

    prices = {name: price.quantize(unit, ROUND_HALF_UP) for name, price in layout.selling_prices.items()}
    sold = {
        piece: _Sale(prices[piece[1]], of_piece[piece].total.quantize(unit))
        for piece, parts in copies.items()
        if all(parts) and piece[1] in prices
    }

    def sum_up(sales: Iterable[_Sale]) -> Figures:
        sales = list(sales)
        price, cost = sum((sale.price for sale in sales), 0 * unit), sum((sale.cost for sale in sales), 0 * unit)
        margin = price - cost
        return {
            "pieces": len(sales),
            "price": str(price),
            "cost": str(cost),
            "margin": str(margin),
            "each": str((margin / len(sales)).quantize(unit, ROUND_HALF_UP)),
            "share": float(margin / price) if price else None,
        }

    def text(cost: Cost) -> dict[str, str]:
        return {kind: str(getattr(cost, kind).quantize(unit)) for kind in (*KINDS, "total")}

    return {
        "currency": money.currency,
        "paid": str(sum(money.paid.values(), 0 * unit)),
        "credited": str(sum(money.credited.values(), 0 * unit)),
        **text(money.total),
        "lines": [
            {"order": line[0], "product": line[1]}
            | _completeness(pieces, copies, of_piece)
            | text(of_line.get(line, Cost()))
            for line, pieces in lines.items()
        ],
        "pieces": [
            {"order": piece[0], "product": piece[1], "piece": piece[2], "parts": len(parts), "placed": sum(parts)}
            | text(of_piece.get(piece, Cost()))
            | {"margin": str(sold[piece].margin) if piece in sold else None}
            for piece, parts in sorted(copies.items())
        ],
        "margins": [
            {"order": line[0], "product": line[1]} | sum_up([sold[piece] for piece in pieces if piece in sold])
            for line, pieces in lines.items()
            if any(piece in sold for piece in pieces)
        ],
        "sold": sum_up(sold.values()) if sold else None,
        "notes": list(money.notes),
    }


class _Sale(NamedTuple):
    """What a whole piece sells for, and what it costs."""

    price: Decimal
    cost: Decimal

    @property
    def margin(self) -> Decimal:
        return self.price - self.cost


def _piece(ordered: Placement | Unplaced) -> PieceKey:
    return (ordered.order, ordered.product, ordered.piece)


def _completeness(
    pieces: list[PieceKey], copies: dict[PieceKey, list[bool]], of_piece: dict[PieceKey, Cost]
) -> Figures:
    """Pieces of an order line, how many have all their parts placed, and the mean cost of those, None without any."""
    whole = [of_piece[piece].total for piece in pieces if all(copies[piece])]
    each = (sum(whole, Decimal(0)) / len(whole)).quantize(whole[0], ROUND_HALF_UP) if whole else None
    return {"pieces": len(pieces), "complete": len(whole), "each": None if each is None else str(each)}
