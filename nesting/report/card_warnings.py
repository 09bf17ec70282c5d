"""What can go wrong with a bed load, in words for its card."""

from __future__ import annotations

from collections.abc import Mapping

import shapely

from ..costs.figures import thickness_of
from ..laser.load import BedLoad
from ..laser.tight import tight
from ..leather.shades import THREAD, shade, words_in
from ..model import Hide, Layout, OrderLine, Placement, Setting
from . import words
from .limits import ReportLimits


def warnings(
    layout: Layout,
    hide: Hide,
    load: BedLoad,
    setting: Setting,
    known: Mapping[tuple[str, str], OrderLine],
    limits: ReportLimits,
) -> tuple[str, ...]:
    """What can go wrong with this very load; ``known`` has what is known of each order line by order and product."""
    found = _threads(load, known)
    if any(line.operation == "engrave" for line in load.lines) and shade(hide.colour) == "dark":
        found.append("Engraving shows little on dark leather: try it on a scrap, or engrave deep.")
    if shade(hide.colour) == "light":
        found.append("The cut edges of light leather come out dark: sand and finish them, or say so to the customer.")
    if any(placement.folds for placement in load.placements):
        found.append("Folds, dashed in the picture, are not burnt: mark them by hand, as the drawing has them.")
    found += _near_edge(layout, hide, load, setting, limits)
    panel = next((one for one in layout.panels if (one.hide, one.id) == (load.hide, load.panel)), None)
    may_not_fit = "" if panel is None or panel.longer else tight(layout, hide, panel)
    texts = [words.plain(text, 400) for text in (*load.warnings, may_not_fit) if text]
    found += [f"{text[0].upper()}{text[1:]}." for text in texts]
    return tuple(found)


def _threads(load: BedLoad, known: Mapping[tuple[str, str], OrderLine]) -> list[str]:
    """Light threads that burnt stitch holes would darken, with the orders they are for."""
    orders_by_thread: dict[str, list[str]] = {}
    holed = {(line.placement.order, line.placement.product) for line in load.lines if line.operation == "stitch"}
    for order in sorted(holed):
        line = known.get(order)
        if line and words_in(line.thread) & set(THREAD):
            orders_by_thread.setdefault(words.plain(line.thread, 40), []).append(words.plain(line.order, 30))
    return [
        f"Thread {thread} ({', '.join(dict.fromkeys(orders))}): the burnt edge of laser-cut stitch holes darkens light "
        "and linen thread. Brush the holes out well, or stitch with a darker thread."
        for thread, orders in orders_by_thread.items()
    ]


def _near_edge(layout: Layout, hide: Hide, load: BedLoad, setting: Setting, limits: ReportLimits) -> list[str]:
    """Parts whose leather is nearly too thin or too thick for the setting."""
    near = limits.near_window_share * (setting.thickest_mm - setting.thinnest_mm)
    thin, thick = [], []
    for placement in load.placements:
        least, greatest = _thickness_under(layout, hide, placement, limits.thickness_step_mm)
        if least is not None and least < setting.thinnest_mm + near:
            thin.append(placement.label)
        if greatest is not None and greatest > setting.thickest_mm - near:
            thick.append(placement.label)
    found = []
    for labels, edge, does in (
        (thin, f"the thinnest this setting is for ({setting.thinnest_mm:.2f} mm)", "scorch"),
        (thick, f"the thickest it cuts ({setting.thickest_mm:.2f} mm)", "not be cut through"),
    ):
        if labels:
            names = ", ".join(words.plain(label, 40) for label in dict.fromkeys(labels))
            found.append(f"Leather near {edge} under {names}: it may {does}. Look closely there.")
    return found


def _thickness_under(
    layout: Layout, hide: Hide, placement: Placement, step_mm: float
) -> tuple[float | None, float | None]:
    """Least and greatest estimated thickness under a part, mm: as the layout says, else from the hide's readings."""
    if placement.under:
        return placement.under.least_mm, placement.under.greatest_mm
    thickness = thickness_of(layout, hide)
    if not thickness.known:
        return None, None
    mean, _ = thickness.mean_sd(shapely.get_coordinates(placement.outline.segmentize(step_mm)))
    return float(mean.min()), float(mean.max())
