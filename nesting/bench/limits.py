"""The numbers of this room, each with its reason."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class BenchLimits:
    """What the page takes, keeps and waits for."""

    port: int = 8420
    """Where the page is found when nobody says; the next free one is taken where another program has it."""
    ports_tried: int = 20
    body_bytes: int = 8 * 1024 * 1024
    """Of a request that is no upload: a hide with its trace is some hundred kilobytes."""
    photo_bytes: int = 60 * 1024 * 1024
    """Of a photo: 100 megapixels as JPEG take less."""
    photo_pixels: int = 120_000_000
    """Of a photo, so that a small file cannot fill the memory."""
    decode_s: int = 60
    """Processor time, seconds, of the process that looks at an upload."""
    decode_bytes: int = 4 * 1024**3
    """Address space of that process; a drawing or a photo takes a quarter of it."""
    passcode_digits: int = 8
    """Of the passcode in the home network: with the pause below a guess in 50 million years is likely."""
    wrong_pause_s: float = 1.0
    """After a wrong passcode nobody's is looked at for so long."""
    layout_every_s: float = 1.0
    """The picture of a search is drawn anew no more often: making it takes a search its time."""
    progress_every_s: float = 0.25
    """The curve of a search gets a point no more often."""
    most_points: int = 2000
    """Points of the curve that are kept; beyond them every other one is left out."""
    look_s: float = 0.5
    """The folder is looked at so often, to read what was changed before a page asks for it."""
    keep_alive_s: float = 15.0
    """A line is sent to a page that listens at least so often, so that nothing between closes the connection."""
    stop_s: float = 60.0
    """A search that was asked to end has so long to draw what it has; then the best so far is kept without."""
    most_steps: int = 10_000
    """Steps of undo a file keeps; a year of evenings makes fewer."""
    blink_s: float = 0.5
    """A folder that is being replaced is away for no longer."""
    layouts_kept: int = 20
    """Layouts made by hand lately that undo finds read: they share all but the parts that were moved."""
    steps_told: int = 20
    """Steps of the stock book that the page lists; undo goes on beyond them."""
    shelf_rows: int = 60
    """Hides of the shelf that are shown at a time: each is a file to read."""
    order_rows: int = 300
    """Order lines shown at most of each state: nobody looks further down, and a page of more is slow to lay out."""
    hides_told: int = 40
    """Hides whose yield is charted: the last that were cut."""
    thumbnail_steps: float = 150.0
    """A small picture of a hide is drawn to within its length over this: a pixel."""
    least_seconds: float = 1.0
    most_seconds: float = 24 * 3600.0
    """A search from the page takes at least and at most so long."""


DEFAULT = BenchLimits()
"""What is used where nobody gives another table."""
