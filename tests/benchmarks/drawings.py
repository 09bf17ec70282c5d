"""How drawings by other hands are read: ``python drawings.py FOLDER [--parts]``.

Of every SVG, DXF and PDF file in the folder: its lines, their length and the area of its closed lines, beside what a
general reader finds (svgelements, ezdxf), or the one message that says what is wrong. ``--parts`` also says what they
are taken for.
"""

from __future__ import annotations

import argparse
import logging
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
from shapely.geometry import Polygon

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from nesting.errors import FileError
from nesting.files.bring import read_any
from nesting.files.dxf import UNITS_MM, read_dxf
from nesting.files.svg import read_svg

CHORD_MM = 0.001
LEFT_OUT = (
    "TEXT",
    "MTEXT",
    "ATTRIB",
    "ATTDEF",
    "INSERT",
    "DIMENSION",
    "HATCH",
    "POINT",
    "SOLID",
    "VIEWPORT",
    "IMAGE",
    "3DFACE",
)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--parts", action="store_true")
    asked = parser.parse_args()
    logging.disable(logging.CRITICAL)
    print(f"{'file':38} {'lines':>6} {'length, mm':>14} {'other reader':>14} {'area, mm2':>14} {'other reader':>14}")
    for path in sorted(asked.folder.iterdir()):
        ending = path.suffix.lower()
        if ending not in (".svg", ".dxf"):
            continue
        started = time.monotonic()
        try:
            lines = _ours(path, ending)
        except FileError as error:
            print(f"{path.name:38} {str(error).removeprefix(f'{path}: ')}")
            lines = []
        taken = time.monotonic() - started
        other = list(_others(path, ending)) if lines else []
        if lines:
            mine, theirs = _sums(lines), _sums(other)
            off = max(abs(a - b) / max(a, b, 1e-9) for a, b in zip(mine, theirs))
            numbers = f"{mine[0]:14.3f} {theirs[0]:14.3f} {mine[1]:14.2f} {theirs[1]:14.2f}"
            print(f"{path.name:38} {len(lines):6} {numbers}  off by {off:.1e}, {taken:.2f} s")
        if asked.parts:
            _print_parts(path)


def _ours(path: Path, ending: str) -> list[tuple[np.ndarray, bool]]:
    drawn = read_svg(path, CHORD_MM) if ending == ".svg" else read_dxf(path, CHORD_MM).drawn
    faults = [str(shape.fault) for shape in drawn if shape.fault and shape.text is None]
    for fault in faults[:3]:
        print(f"{path.name:38} {fault}")
    return [(line.points, line.closed) for shape in drawn for line in shape.lines]


def _others(path: Path, ending: str) -> Iterator[tuple[np.ndarray, bool]]:
    if ending == ".svg":
        yield from _svgelements(path)
        return
    from ezdxf import path as paths
    from ezdxf import recover, units
    from ezdxf.filemanagement import readfile

    try:
        document, _ = recover.readfile(path)
    except Exception:
        document = readfile(path)
    code = document.header.get("$INSUNITS", 0)
    scale = units.conversion_factor(code, units.MM) if code else UNITS_MM["mm"]
    for entity in _spelled_out(document.modelspace()):
        layer = document.layers.get(entity.dxf.layer) if entity.dxf.layer in document.layers else None
        if layer is not None and (layer.is_off() or layer.is_frozen()):
            continue
        try:
            found = paths.make_path(entity, segments=64, level=64)
        except TypeError:
            continue
        for one in found.sub_paths():
            points = np.array([(p.x, p.y) for p in one.flattening(CHORD_MM / scale / 10, segments=16)]) * scale
            if len(points) > 1:
                yield points, one.is_closed


def _spelled_out(entities: Any) -> Iterator[Any]:
    """Every entity with the blocks it inserts spelled out, without those that are no lines."""
    for entity in entities:
        if entity.dxftype() == "INSERT":
            for copy in entity.multi_insert() if entity.mcount > 1 else (entity,):
                yield from _spelled_out(copy.virtual_entities())
        elif entity.dxftype() not in LEFT_OUT:
            yield entity


def _svgelements(path: Path) -> Iterator[tuple[np.ndarray, bool]]:
    import svgelements

    drawing: Any = svgelements.SVG.parse(str(path), reify=True)
    for shape in drawing.elements(lambda element: isinstance(element, svgelements.Shape)):
        for sub in svgelements.Path(shape).as_subpaths():
            sub = svgelements.Path(sub)
            closed = bool(len(sub)) and isinstance(sub[-1], svgelements.Close)
            points = []
            for segment in sub:
                if isinstance(segment, svgelements.Move):
                    continue
                count = 1 if isinstance(segment, (svgelements.Line, svgelements.Close)) else 2000
                points += [segment.point(step / count) for step in range(count + 1) if segment.start is not None]
            if points:
                yield np.array([(p.x, p.y) for p in points]) * 25.4 / 96, closed


def _sums(lines: list[tuple[np.ndarray, bool]]) -> tuple[float, float]:
    """Length of all lines, and area of those that are closed and cross themselves nowhere."""
    length = area = 0.0
    for points, closed in lines:
        around = np.vstack([points, points[:1]]) if closed else points
        length += float(np.hypot(*np.diff(around, axis=0).T).sum())
        if closed and len(points) > 2:
            ring = Polygon(points)
            area += ring.area if ring.is_valid else 0.0
    return length, area


def _print_parts(path: Path) -> None:
    try:
        drawing = read_any(path)
    except FileError as error:
        for fault in error.all[:3]:
            print(f"{'':38}     {str(fault).removeprefix(f'{path}: ')}")
        return
    kinds = {
        "parts": len(drawing.parts),
        **{
            name: sum(len(getattr(part, name)) for part in drawing.parts)
            for name in ("cutouts", "stitch", "engrave", "folds")
        },
        "notes": len(drawing.notes),
    }
    said = ", ".join(f"{count} {name}" for name, count in kinds.items() if count)
    print(f"{'':38}     {said}; {'; '.join(drawing.told)}")


if __name__ == "__main__":
    main()
