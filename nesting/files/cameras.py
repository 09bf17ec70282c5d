"""Camera profiles: what `nesting camera` measured of a camera and its lens, one a file."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field

from ..atomic import write_json
from ..tracing.scale import Camera
from .rings import pair
from .schema import Number, Table, Whole, check_format, validate
from .source import read_json

FORMAT = "nesting-camera"

_Term = Annotated[Number, Field(ge=-0.5, le=0.5)]
_Spread = Annotated[Number, Field(gt=0, le=0.5)]


class _Camera(Table):
    format: Literal["nesting-camera"]
    version: Whole
    lens: Annotated[list[_Term], Field(min_length=2, max_length=2)]
    lens_spread: Annotated[list[_Spread], Field(min_length=2, max_length=2)]
    focal: Annotated[Number, Field(gt=0.1, le=20)]
    focal_spread: _Spread
    residual_pixels: Annotated[Number, Field(ge=0, le=1000)] | None = None
    sheets: Whole | None = None


def read_camera(path: Path) -> Camera:
    """Read a camera profile.

    Raises
    ------
    FileError
        For the first fault found.
    """
    data = read_json(path)
    check_format(data, FORMAT, path, "")
    table = validate(_Camera, data, path)
    return Camera(pair(table.lens), pair(table.lens_spread), table.focal, table.focal_spread)


def write_camera(path: Path, camera: Camera, residual_pixels: float, sheets: int) -> None:
    """Write a camera profile: ``lens`` two radial terms (unit radius at the corner of the picture), ``focal`` the focal
    length over the long side."""
    data = {
        "format": FORMAT,
        "version": 1,
        "lens": list(camera.lens),
        "lens_spread": list(camera.lens_spread or (0.0, 0.0)),
        "focal": camera.focal,
        "focal_spread": camera.focal_spread,
        "residual_pixels": residual_pixels,
        "sheets": sheets,
    }
    validate(_Camera, data, path)
    write_json(path, data)
