"""The numbers of this room, each with its reason; those that only lay out a page stand where it is drawn."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class ReportLimits:
    """How much the reports and cards hold, and what they warn of."""

    mask_border_mm: float = 10.0
    """Masking around every part: smoke reaches so far; working assumption."""
    near_window_share: float = 0.1
    """Leather within this share of a window's width from its edge is worth a warning: working assumption."""
    thickness_step_mm: float = 10.0
    """Along the outline of a part, between the places where the thickness is looked up when its layout does not tell:
    maps of thickness are smooth over much more."""
    most_hide_bytes: int = 4_000_000
    """Of the pictures of all hides together, so that a browser opens the page; a drawing too heavy for its share
    becomes a picture, a coarser one if need be."""
    most_hides_pictured: int = 24
    """Hides whose pictures are in the report itself; with more it shows the files beside it as they are scrolled to,
    and they are drawn on all cores: the page would take long to make and to open (working assumption)."""
    most_offcut_bytes: int = 25_000
    """Of one offcut's picture, for the same reason."""
    most_offcut_pictures: int = 100
    """For all hides together, for the same reason; further offcuts are listed without one."""
    most_orders_named: int = 12
    """Orders named that will be late for one day; more are told by their number: about two lines."""
    most_rows: int = 40
    """Longer tables in the terminal end with how many rows are in the report instead: about one screen."""


DEFAULT = ReportLimits()
