"""Load a photo that may come from anywhere: upright, 8-bit RGB, or refused in one line."""

from __future__ import annotations

import warnings
from pathlib import Path

import numpy as np
from PIL import Image, ImageOps, UnidentifiedImageError

from ..errors import FileError
from .arrays import Picture
from .limits import METHOD

PHOTO = METHOD.photo

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
    try:
        with warnings.catch_warnings():
            # The size is checked here before anything is decoded, with a limit of our own.
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)
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
