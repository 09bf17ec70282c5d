"""Load a photo that may come from anywhere: upright, 8-bit RGB, or refused in one line."""

from __future__ import annotations

import math
import warnings
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image, ImageOps, UnidentifiedImageError

from ..errors import FileError
from .arrays import Picture
from .limits import METHOD
from .scale import Camera

PHOTO, SCALE = METHOD.photo, METHOD.scale

FORMATS = ("JPEG", "PNG", "TIFF", "WEBP", "BMP")
_SAVE_AS = "save it as JPEG or PNG and try again"


def load_photo(photo: str | Path) -> Picture:
    """Read a photo as upright RGB.

    The orientation tag is obeyed, transparency is laid on white, grey, CMYK and 16-bit pictures are converted.

    Parameters
    ----------
    photo : str or Path
        JPEG, PNG, TIFF, WebP or BMP of 64 pixels a side to 80 megapixels.

    Returns
    -------
    numpy.ndarray
        (height, width, 3) uint8, RGB.

    Raises
    ------
    FileError
        If the file is missing, is not such a picture, is damaged, too small or too large.
    """
    photo = Path(photo)
    if photo.exists() and not photo.is_file():
        raise FileError(photo, "photo", "no ordinary file", "give a picture file; a folder, pipe or device is none")
    try:
        with warnings.catch_warnings():
            # the size is checked here before anything is decoded, with a limit of our own, and broken notes of a camera
            # are no part of the picture
            warnings.simplefilter("ignore")
            with Image.open(photo, formats=FORMATS) as picture:
                _check_size(photo, *picture.size)
                return np.ascontiguousarray(_rgb(picture))
    except FileNotFoundError:
        raise FileError(photo, "photo", "not found", "check the name of the file") from None
    except UnidentifiedImageError:
        raise FileError(photo, "format", photo.suffix or "unknown", _unknown_mend(photo)) from None
    except Image.DecompressionBombError:
        raise FileError(photo, "size", "too many pixels", _too_large()) from None
    except (OSError, ValueError, SyntaxError, EOFError, TypeError, IndexError, KeyError, MemoryError) as fault:
        if isinstance(fault, OSError) and fault.errno:
            raise FileError(photo, "photo", fault.strerror, "check the file and who may read it") from None
        raise FileError(
            photo, "picture data", fault, f"the file is damaged or cut short: copy it again, or {_SAVE_AS}"
        ) from None


def _check_size(photo: Path, width: int, height: int) -> None:
    if width * height > PHOTO.most_pixels:
        raise FileError(photo, "size", f"{width} x {height} pixels", _too_large())
    if min(width, height) < PHOTO.shortest_side_pixels:
        raise FileError(
            photo, "size", f"{width} x {height} pixels", "use the photo as the camera took it, 2 megapixels or more"
        )


def _too_large() -> str:
    return f"make it smaller, at most {PHOTO.most_pixels // 1_000_000} megapixels"


def _unknown_mend(photo: Path) -> str:
    with open(photo, "rb") as file:
        head = file.read(12)
    if head[4:8] == b"ftyp":
        return "this is HEIC or another phone format: set the camera to 'most compatible', or save it as JPEG"
    return f"this is not a picture that can be read here: {_SAVE_AS}"


def _rgb(picture: Image.Image) -> Picture:
    picture = ImageOps.exif_transpose(picture)
    if picture.mode.startswith("I") or picture.mode == "F":
        values = np.nan_to_num(np.asarray(picture, dtype=np.float64))
        # PNG and TIFF of more than 8 bits hold 0..65535; a float picture of 0..1 is stretched likewise.
        top = 65535.0 if values.max(initial=0) > 1 else 1.0
        return np.repeat(np.clip(values / top * 255 + 0.5, 0, 255).astype(np.uint8)[..., None], 3, axis=2)
    if picture.mode in ("RGBA", "LA", "PA", "La", "RGBa") or "transparency" in picture.info:
        picture = picture.convert("RGBA")
        sheet = Image.new("RGBA", picture.size, "white")
        return np.asarray(Image.alpha_composite(sheet, picture).convert("RGB"))
    return np.asarray(picture.convert("RGB"))


def noted_camera(photo: str | Path) -> Camera | None:
    """What a photo notes of the camera's focal length (Exif 3.0, CIPA DC-008): the 35 mm equivalent, else the true one
    and the pixels a mm of the sensor, else that it is as short as only telephones have; None where it says nothing that
    can be."""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            with Image.open(photo, formats=FORMATS) as picture:
                notes, size = picture.getexif().get_ifd(_EXIF), picture.size
                equivalent, true = (_number(notes.get(tag)) for tag in (_FOCAL_35, _FOCAL))
                sensor_mm = _sensor_mm(notes, max(size))
    except Exception:
        # notes are no part of the picture: whatever is wrong with them, it is as if there were none
        return None
    # by the diagonal as CIPA has it, 43.27 mm, or by the long side, 36 mm: in between, and either is near
    long_mm = math.sqrt(36.0 * 43.27 * max(size) / math.hypot(*size))
    phone = 0 < true < SCALE.phone_mm
    if _SHORTEST_35 <= equivalent <= _LONGEST_35:
        return Camera(focal=equivalent / long_mm, focal_spread=SCALE.told_focal_spread, straightened=phone)
    if sensor_mm and _SHORTEST_35 <= 36.0 * true / sensor_mm <= _LONGEST_35:
        return Camera(focal=true / sensor_mm, focal_spread=SCALE.told_focal_spread, straightened=phone)
    if phone:
        return Camera(focal=SCALE.phone_focal, focal_spread=SCALE.phone_focal_spread, straightened=True)
    return None


def _sensor_mm(notes: Mapping[int, Any], pixels: int) -> float:
    """The long side of the sensor by its pixels an inch, cm or mm; 0 where nothing is noted, or no sensor is that long,
    as after a picture was made smaller."""
    pitch, unit = _number(notes.get(_PLANE)), _UNIT_MM.get(int(_number(notes.get(_PLANE_UNIT, _INCH))), 0.0)
    noted = pixels / pitch * unit if pitch > 0 else 0.0
    near = min(SCALE.sensors_mm, key=lambda mm: abs(noted - mm))
    return near if abs(noted - near) < SCALE.sensor_share * near else 0.0


_EXIF, _FOCAL, _FOCAL_35, _PLANE, _PLANE_UNIT = 0x8769, 0x920A, 0xA405, 0xA20E, 0xA210
_INCH, _UNIT_MM = 2, {2: 25.4, 3: 10.0, 4: 1.0}
"""Units of the resolution on the sensor; mm are no unit of the standard, but noted by some."""
_SHORTEST_35, _LONGEST_35 = 10.0, 300.0
"""mm: beyond these a note is a slip."""


def _number(value: Any) -> float:
    number = float(value) if value is not None else 0.0
    return number if math.isfinite(number) else 0.0
