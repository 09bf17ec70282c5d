"""Swatches: a grid of small squares over speed and power, and what a cut one teaches."""

from __future__ import annotations

import colorsys
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from shapely.geometry import LineString, MultiLineString, Polygon, box

from ..errors import ModelError
from ..model import UNTESTED, Setting, between
from .lettering import lettered, size_to_fit
from .limits import DEFAULT, LaserLimits

GAP_MM = 3.0
LETTER_MM = 2.2
SMALL_LETTER_MM = 1.7
LEFT_MM, TOP_MM, EDGE_MM = 13.0, 12.0, 3.0


@dataclass(frozen=True)
class Cell:
    """One square of a swatch: its name, what it is burnt with, and its lower left corner in mm."""

    name: str
    speed_mm_s: float
    power_percent: float
    x: float
    y: float


@dataclass(frozen=True)
class Swatch:
    """A test piece: what it tests, its size in mm, and its squares, row by row from the top."""

    operation: str
    leather: str
    thickness_mm: float
    passes: int
    line_spacing_mm: float
    width_mm: float
    height_mm: float
    side_mm: float
    cells: tuple[Cell, ...]

    def line_energy(self, cell: Cell) -> float:
        """Line energy of a square for each watt of rated power, J/mm."""
        return cell.power_percent / 100.0 / cell.speed_mm_s * self.passes


def predicted(rows: Sequence[Setting], thickness_mm: float) -> Setting:
    """What to try at a thickness: worked out between tested rows, or scaled from the nearest one beyond them.

    Beyond the tested range line energy is taken to grow with the thickness (common practice, no published source): good
    enough for the middle of a swatch, and for nothing else.

    Raises
    ------
    ModelError
        When there is no row at all, or rows contradict each other.
    """
    if not rows:
        raise ModelError(
            "swatch",
            "no tested row to start from",
            "give a speed and a power to try in the middle (--speed and --power)",
        )
    nearest = min(rows, key=lambda row: abs(row.thickness_mm - thickness_mm))
    low, high = (pick(row.thickness_mm for row in rows) for pick in (min, max))
    if low <= thickness_mm <= high:
        return between(rows, thickness_mm)
    return replace(
        nearest,
        name=f"{thickness_mm:g} mm, guessed from {nearest.name}",
        thickness_mm=thickness_mm,
        speed_mm_s=nearest.speed_mm_s * nearest.thickness_mm / thickness_mm,
        thinnest_mm=UNTESTED,
        thickest_mm=UNTESTED,
        basis=f"guessed from the row at {nearest.thickness_mm:g} mm",
    )


def swatch(setting: Setting, room_mm: tuple[float, float] | None = None, limits: LaserLimits = DEFAULT) -> Swatch:
    """The largest grid about a setting that fits.

    Parameters
    ----------
    setting : Setting
        Stands in the middle of the grid; speeds change by columns, powers by rows.
    room_mm : (width, height), optional
        The rectangle to fit into, either way up.
    limits : LaserLimits, optional

    Returns
    -------
    Swatch

    Raises
    ------
    ModelError
        When not even the smallest grid fits.
    """
    long, short = (math.inf, math.inf) if room_mm is None else (max(room_mm), min(room_mm))
    for columns, rows, side in limits.swatch_sizes:
        made = _grid(setting, columns, rows, side, limits)
        if max(made.width_mm, made.height_mm) <= long and min(made.width_mm, made.height_mm) <= short:
            return made
    raise ModelError(
        "room for a swatch",
        f"{long:.0f} x {short:.0f} mm",
        f"the smallest needs {made.width_mm:.0f} x {made.height_mm:.0f} mm: take a larger piece",
    )


def labels(made: Swatch) -> list[MultiLineString]:
    """The words to engrave: what is tested, the speed over each column, the power beside each row."""
    columns = list({cell.x: cell for cell in made.cells}.values())
    rows = list({cell.y: cell for cell in made.cells}.values())
    top = made.height_mm - EDGE_MM
    head = f"{made.thickness_mm:g} mm, {made.passes} pass{'es' if made.passes > 1 else ''}, mm/s"
    size = size_to_fit(head, made.width_mm - 2 * EDGE_MM, LETTER_MM)
    found = [lettered(head, EDGE_MM, top - LETTER_MM / 2, size, anchor="start")]
    for cell in columns:
        middle = cell.x + made.side_mm / 2
        found.append(lettered(cell.name[1:], middle, top - LETTER_MM * 2.1, LETTER_MM))
        found.append(lettered(f"{cell.speed_mm_s:g}", middle, top - LETTER_MM * 3.5, SMALL_LETTER_MM))
    for cell in rows:
        middle = cell.y + made.side_mm / 2
        found.append(lettered(cell.name[0], EDGE_MM, middle, LETTER_MM, anchor="start"))
        found.append(lettered(f"{cell.power_percent:g}%", LEFT_MM + 1.0, middle, SMALL_LETTER_MM, anchor="end"))
    return found


def square(made: Swatch, cell: Cell) -> Polygon | MultiLineString:
    """What is burnt in a square: its edge, and for engraving without filling a cross as well."""
    edge = box(cell.x, cell.y, cell.x + made.side_mm, cell.y + made.side_mm)
    if made.operation == "cut" or made.line_spacing_mm:
        return edge
    x0, y0, x1, y1 = edge.bounds
    return MultiLineString([edge.exterior, LineString([(x0, y0), (x1, y1)]), LineString([(x0, y1), (x1, y0)])])


def colours(count: int, taken: Sequence[str]) -> list[str]:
    """So many different colours, none of them taken, as #rrggbb."""
    found: list[str] = []
    step = 0
    while len(found) < count:
        hue, light = (step * 0.61803) % 1.0, (0.85, 0.6, 0.4)[step % 3]
        colour = "#" + "".join(f"{round(255 * value):02X}" for value in colorsys.hsv_to_rgb(hue, 0.9, light))
        if colour not in found and colour not in taken:
            found.append(colour)
        step += 1
    return found


def taught_row(made: Swatch, best: str, clean: Sequence[str], name: str, limits: LaserLimits = DEFAULT) -> Setting:
    """The row a cut swatch teaches.

    Parameters
    ----------
    made : Swatch
    best : str
        Name of the square to burn with from now on, such as B3.
    clean : sequence of str
        Names of all squares that came out clean.
    name : str
        Name of the row.
    limits : LaserLimits, optional

    Returns
    -------
    Setting
        Its window follows from the clean squares: leather needs line energy in proportion to its thickness (common
        practice, no published source), so that with the energies E1 to E2 clean at thickness t, energy E is clean from
        t E / E2 to t E / E1; not believed further than 20 % from t. With only one clean square the default rule holds.

    Raises
    ------
    ModelError
        For a square the swatch has not, or a best one that is not clean.
    """
    cells = {cell.name: cell for cell in made.cells}
    for each in (best, *clean):
        if each not in cells:
            raise ModelError("square", each, f"this swatch has {made.cells[0].name} to {made.cells[-1].name}")
    if clean and best not in clean:
        raise ModelError("best square", best, f"give one that came out clean: {', '.join(clean)}")
    energies = [made.line_energy(cells[each]) for each in {best, *clean}]
    energy, t = made.line_energy(cells[best]), made.thickness_mm
    thinnest = thickest = UNTESTED
    basis = "tested"
    if len(energies) > 1:
        share = limits.most_window_share
        thinnest = math.ceil(100 * max(t * energy / max(energies), t * (1 - share)) - 1e-9) / 100
        thickest = math.floor(100 * min(t * energy / min(energies), t * (1 + share)) + 1e-9) / 100
        thinnest, thickest = min(thinnest, t), max(thickest, t)
        basis = f"tested; its window told from {len(set(clean))} clean squares of a swatch"
    return Setting(
        name, t, cells[best].speed_mm_s, cells[best].power_percent, made.passes, thinnest, thickest, made.operation,
        made.leather, made.line_spacing_mm, basis,
    )  # fmt: skip


def _grid(setting: Setting, columns: int, rows: int, side: float, limits: LaserLimits) -> Swatch:
    speeds = [float(f"{setting.speed_mm_s * limits.speed_step ** (k - columns // 2):.3g}") for k in range(columns)]
    low = setting.power_percent * (1 - limits.power_span)
    high = min(100.0, setting.power_percent * (1 + limits.power_span))
    powers = [round(low + (high - low) * k / (rows - 1), 1) for k in range(rows)]
    pitch = side + GAP_MM
    cells = [
        Cell(
            f"{chr(ord('A') + row)}{column + 1}", speed, power,
            LEFT_MM + GAP_MM + column * pitch, EDGE_MM + (rows - 1 - row) * pitch,
        )
        for row, power in enumerate(powers)
        for column, speed in enumerate(speeds)
    ]  # fmt: skip
    width = LEFT_MM + GAP_MM + columns * pitch - GAP_MM + EDGE_MM
    height = EDGE_MM + rows * pitch + TOP_MM
    return Swatch(
        setting.operation, setting.leather, setting.thickness_mm, setting.passes, setting.line_spacing_mm,
        width, height, side, tuple(cells),
    )  # fmt: skip
