"""A picture of the bed from above, with the panel and its parts as they will be burnt."""

from __future__ import annotations

from collections.abc import Sequence
from io import BytesIO
from pathlib import Path

import numpy as np
from shapely.geometry import Polygon

from ..atomic import write_bytes
from .bed import SeenPanel
from .cards_picture import shown_notes

SEEN, PANEL, PART = "#56B4E9", "#D55E00", "#009E73"
"""From the colour-blind-safe palette of Okabe and Ito (2008)."""


def draw_panel(seen: SeenPanel, panel: Polygon, parts: Sequence[Polygon], path: Path) -> None:
    """Draw the outline that was seen, the panel's, and those of its parts, all on the bed.

    Parameters
    ----------
    seen : SeenPanel
    panel, parts : Polygon
        In bed coordinates, mm.
    path : Path
        PNG file to write.
    """
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    rows, columns = seen.straight.shape[:2]
    step, (x, y) = seen.mm_per_pixel, seen.origin_mm
    said = shown_notes(seen.notes)
    figure = Figure(figsize=(11.0, 10.0 * rows / columns + 1.8 + 0.22 * len(said)), dpi=130, layout="constrained")
    FigureCanvasAgg(figure)
    axes = figure.add_subplot()
    extent = (x - step / 2, x + (columns - 0.5) * step, y - (rows - 0.5) * step, y + step / 2)
    axes.imshow(seen.straight, extent=extent, interpolation="antialiased")
    ring = np.vstack([seen.seen, seen.seen[:1]])
    axes.plot(*ring.T, color=SEEN, linewidth=2.4, label="outline seen")
    axes.plot(*panel.exterior.xy, color=PANEL, linewidth=1.1, label="panel")
    for number, part in enumerate(parts):
        axes.plot(*part.exterior.xy, color=PART, linewidth=0.9, label="" if number else "parts as they will be burnt")
    axes.set(xlabel="mm on the bed", aspect="equal")
    axes.grid(color="white", linewidth=0.5, alpha=0.4)
    figure.legend(loc="outside lower right", ncols=3, frameon=False, fontsize=9)
    title = (
        f"parts may lie up to {seen.parts_mm:.1f} mm off; 95 % of the outline seen lies within {seen.off_mm:.1f} mm of"
        f" the panel's, half within {max(seen.usual_mm, 0.1):.1f} mm"
    )
    axes.set_title("\n".join([title, *said]), fontsize=10, parse_math=False)
    content = BytesIO()
    figure.savefig(content, format="png", pil_kwargs={"compress_level": 2})
    write_bytes(path, content.getvalue())
