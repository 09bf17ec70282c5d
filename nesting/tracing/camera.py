"""Measure a camera and its lens from a few photos of the marker sheets."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import Any, TypeAlias, cast

import numpy as np

from ..errors import FileError
from .arrays import Floats
from .limits import METHOD
from .photo import load_photo
from .references import find_markers
from .scale import Camera, Size, homography

CAMERA = METHOD.camera
Sheet: TypeAlias = tuple[Floats, Floats, Floats]
"""Corners of markers in mm and in pixels, from the middle of the sheet and of the picture, and how they move when they
show larger."""

SHARED = 4
"""Entries of what is fitted that all sheets share: logarithm of the focal length, k1, k2, and by how many mm markers
show larger on each side than they were drawn."""


def measure_camera(photos: Iterable[str | Path]) -> tuple[Camera, float, int]:
    """Calibrate a camera: one focal length and two radial terms for all sheets in all photos, a pose for each sheet.

    The reprojection error of every marker corner is minimised (Zhang, A flexible new technique for camera calibration,
    2000), with square pixels and the optical axis in the middle of the picture.

    Parameters
    ----------
    photos : sequence of str or Path
        Of one camera, not cropped, not zoomed; some sheets tilted to the camera, some in the corners of the picture.

    Returns
    -------
    camera : Camera
    residual : float
        Root mean square of the reprojection error, in pixels.
    sheets : int
        How many sheets were seen in all.

    Raises
    ------
    FileError
        If a photo cannot be read, the photos differ in size, or they show too few sheets too much alike.
    """
    paths = [Path(photo) for photo in photos]
    sheets: list[Sheet] = []
    shape: Size = (0, 0)
    for photo in paths:
        picture = load_photo(photo)
        size = picture.shape[1], picture.shape[0]
        if any(shape) and sorted(size) != sorted(shape):
            mend = "use photos of one camera with the same settings, not cropped"
            raise FileError(photo, "size", f"{size[0]} x {size[1]}, others {shape[0]} x {shape[1]}", mend)
        shape = shape if any(shape) else size
        middle = (np.array(size) - 1) / 2
        sheets += [
            (one.mm - one.mm.mean(axis=0), one.pixels - middle, one.outward)
            for one in find_markers(photo, picture)
            if len(one.mm) > 4 and one.outward is not None
        ]
    if len(sheets) < CAMERA.fewest_sheets:
        mend = "take three or more photos of the marker sheets (nesting markers), tilted, and into the corners of the"
        mend += " picture"
        raise FileError(paths[0] if paths else "photos", "marker sheets", f"{len(sheets)} seen", mend)
    long, radius = max(shape), float(np.hypot(*(np.array(shape, dtype=float) - 1)) / 2)
    values, spread, residual = _calibrated(sheets, long, radius)
    camera = Camera(
        (float(values[1]), float(values[2])),
        (float(max(spread[1], CAMERA.least_lens_spread)), float(max(spread[2], CAMERA.least_lens_spread))),
        float(np.exp(values[0])),
        float(max(spread[0], CAMERA.least_focal_spread)),
    )
    if camera.focal_spread > CAMERA.most_focal_spread:
        mend = "take some photos with the sheets tilted by 20 to 40 degrees to the camera"
        raise FileError(paths[0], "focal length", f"known to {100 * camera.focal_spread:.0f} % only", mend)
    return camera, residual, len(sheets)


def _calibrated(sheets: list[Sheet], long: int, radius: float) -> tuple[Floats, Floats, float]:
    """Logarithm of the focal length over the long side, k1, k2; their spread; and the residual."""
    from scipy.optimize import least_squares
    from scipy.spatial.transform import Rotation

    mm = [
        (np.c_[points, np.zeros(len(points))], np.c_[outward, np.zeros(len(points))]) for points, _, outward in sheets
    ]
    pixels = np.vstack([seen for _, seen, _ in sheets])

    def residuals(values: Floats) -> Floats:
        focal = np.exp(values[0]) * long
        ideal = []
        for (points, outward), pose in zip(mm, values[SHARED:].reshape(-1, 6)):
            placed = Rotation.from_rotvec(pose[:3]).apply(points + values[3] * outward) + pose[3:] * 1000
            ideal.append(focal * placed[:, :2] / placed[:, 2:])
        away = np.vstack(ideal) / radius
        square = (away**2).sum(axis=1, keepdims=True)
        bent = radius * away * (1 + square * (values[1] + values[2] * square))
        misses: Floats = (bent - pixels) / METHOD.references.marker_sigma_pixels
        return misses.ravel()

    sparse = _sparsity(sheets)
    trials = []
    for focal in (CAMERA.short_focal, CAMERA.long_focal):
        poses = [_pose(points, seen, focal * long) for points, seen, _ in sheets]
        start = np.concatenate([[np.log(focal), 0, 0, 0], *poses])
        trials.append(
            least_squares(
                residuals,
                start,
                x_scale="jac",
                jac_sparsity=sparse,
                loss="soft_l1",
                f_scale=CAMERA.outlying_spreads,
                max_nfev=CAMERA.most_trials,
            )
        )
    found = min(trials, key=lambda trial: trial.cost)
    jacobian: Floats = cast(Any, found).jac.toarray()
    unit = np.linalg.norm(jacobian, axis=0) + 1e-300
    inverse = np.linalg.pinv((jacobian / unit).T @ (jacobian / unit), rcond=1e-14)
    misses = residuals(found.x)
    growth = max(1.0, np.sqrt((misses**2).sum() / max(len(misses) - len(found.x), 1)))
    spread = growth * np.sqrt(np.maximum(np.diag(inverse), 0)) / unit
    return found.x[:3], spread[:3], float(np.sqrt((misses**2).mean() * 2) * METHOD.references.marker_sigma_pixels)


def _sparsity(sheets: list[Sheet]) -> Any:
    from scipy.sparse import lil_matrix

    total = sum(2 * len(points) for points, *_ in sheets)
    pattern = lil_matrix((total, SHARED + 6 * len(sheets)), dtype=int)
    pattern[:, :SHARED] = 1
    row = 0
    for number, (points, *_) in enumerate(sheets):
        pattern[row : row + 2 * len(points), SHARED + 6 * number : SHARED + 6 + 6 * number] = 1
        row += 2 * len(points)
    return pattern


def _pose(mm: Floats, pixels: Floats, focal: float) -> Floats:
    """Turn (rotation vector) and shift in m of a sheet before a pinhole, from its homography."""
    from scipy.spatial.transform import Rotation

    x, y, shift = (homography(mm, pixels) / [[focal], [focal], [1]]).T
    size = (np.linalg.norm(x) + np.linalg.norm(y)) / 2
    x, y, shift = (one / size * np.sign(shift[2]) for one in (x, y, shift))
    left, _, right = np.linalg.svd(np.column_stack([x, y, np.cross(x, y)]))
    turn = left @ np.diag([1, 1, np.linalg.det(left @ right)]) @ right
    return np.concatenate([Rotation.from_matrix(turn).as_rotvec(), shift / 1000])
