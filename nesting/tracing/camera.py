"""Measure a camera and its lens from a few photos of the marker sheets."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from ..errors import FileError
from .photo import load_photo
from .references import MARKER_SIGMA, find_markers
from .scale import Camera, homography

FEWEST_SHEETS = 2
LEAST_SPREAD, LEAST_FOCAL_SPREAD = 0.0005, 0.004
"""What focusing nearer or further changes in the lens and the focal length at least (our assumption)."""
LOOSEST_FOCAL = 0.15
SHARED = 4
"""Entries of what is fitted that all sheets share: logarithm of the focal length, k1, k2, and by how many mm markers show larger
on each side than they were drawn."""


def measure_camera(photos: list[Path]) -> tuple[Camera, float, int]:
    """Calibrate a camera: one focal length and two radial terms for all sheets in all photos, a pose for each sheet.

    The reprojection error of every marker corner is minimised (Zhang, A flexible new technique for camera calibration,
    2000), with square pixels and the optical axis in the middle of the picture.

    Parameters
    ----------
    photos : list of Path
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
    sheets, shape = [], None
    for photo in map(Path, photos):
        picture = load_photo(photo)
        size = picture.shape[1], picture.shape[0]
        if shape is not None and sorted(size) != sorted(shape):
            mend = "use photos of one camera with the same settings, not cropped"
            raise FileError(photo, "size", f"{size[0]} x {size[1]}, others {shape[0]} x {shape[1]}", mend)
        shape = shape or size
        middle = (np.array(size) - 1) / 2
        sheets += [
            (one.mm - one.mm.mean(axis=0), one.pixels - middle, one.outward)
            for one in find_markers(photo, picture)
            if len(one.mm) > 4
        ]
    if len(sheets) < FEWEST_SHEETS:
        mend = "take three or more photos of the marker sheets (nesting markers), tilted, and into the corners of the picture"
        raise FileError(Path(photos[0]) if photos else Path("photos"), "marker sheets", f"{len(sheets)} seen", mend)
    long, radius = max(shape), float(np.hypot(*(np.array(shape, dtype=float) - 1)) / 2)
    values, spread, residual = _calibrated(sheets, long, radius)
    camera = Camera(
        (float(values[1]), float(values[2])),
        tuple(float(max(value, LEAST_SPREAD)) for value in spread[1:3]),
        float(np.exp(values[0])),
        float(max(spread[0], LEAST_FOCAL_SPREAD)),
    )
    if camera.focal_spread > LOOSEST_FOCAL:
        mend = "take some photos with the sheets tilted by 20 to 40 degrees to the camera"
        raise FileError(Path(photos[0]), "focal length", f"known to {100 * camera.focal_spread:.0f} % only", mend)
    return camera, residual, len(sheets)


def _calibrated(sheets, long: int, radius: float):
    """Logarithm of the focal length over the long side, k1, k2; their spread; and the residual."""
    from scipy.optimize import least_squares
    from scipy.spatial.transform import Rotation

    mm = [
        (np.c_[points, np.zeros(len(points))], np.c_[outward, np.zeros(len(points))]) for points, _, outward in sheets
    ]
    pixels = np.vstack([seen for _, seen, _ in sheets])

    def residuals(values):
        focal = np.exp(values[0]) * long
        ideal = []
        for (points, outward), pose in zip(mm, values[SHARED:].reshape(-1, 6)):
            placed = Rotation.from_rotvec(pose[:3]).apply(points + values[3] * outward) + pose[3:] * 1000
            ideal.append(focal * placed[:, :2] / placed[:, 2:])
        away = np.vstack(ideal) / radius
        square = (away**2).sum(axis=1, keepdims=True)
        bent = radius * away * (1 + square * (values[1] + values[2] * square))
        return ((bent - pixels) / MARKER_SIGMA).ravel()

    sparse = _sparsity(sheets)
    trials = []
    for focal in (0.7, 1.1):
        poses = [_pose(points, seen, focal * long) for points, seen, _ in sheets]
        start = np.concatenate([[np.log(focal), 0, 0, 0], *poses])
        trials.append(
            least_squares(residuals, start, x_scale="jac", jac_sparsity=sparse, loss="soft_l1", f_scale=3, max_nfev=200)
        )
    found = min(trials, key=lambda trial: trial.cost)
    jacobian = found.jac.toarray() if hasattr(found.jac, "toarray") else found.jac
    unit = np.linalg.norm(jacobian, axis=0) + 1e-300
    inverse = np.linalg.pinv((jacobian / unit).T @ (jacobian / unit), rcond=1e-14)
    misses = residuals(found.x)
    growth = max(1.0, np.sqrt((misses**2).sum() / max(len(misses) - len(found.x), 1)))
    spread = growth * np.sqrt(np.maximum(np.diag(inverse), 0)) / unit
    return found.x[:3], spread[:3], float(np.sqrt((misses**2).mean() * 2) * MARKER_SIGMA)


def _sparsity(sheets):
    from scipy.sparse import lil_matrix

    total = sum(2 * len(points) for points, *_ in sheets)
    pattern = lil_matrix((total, SHARED + 6 * len(sheets)), dtype=int)
    pattern[:, :SHARED] = 1
    row = 0
    for number, (points, *_) in enumerate(sheets):
        pattern[row : row + 2 * len(points), SHARED + 6 * number : SHARED + 6 + 6 * number] = 1
        row += 2 * len(points)
    return pattern


def _pose(mm: np.ndarray, pixels: np.ndarray, focal: float) -> np.ndarray:
    """Turn (rotation vector) and shift in m of a sheet before a pinhole, from its homography."""
    from scipy.spatial.transform import Rotation

    x, y, shift = (homography(mm, pixels) / [[focal], [focal], [1]]).T
    size = (np.linalg.norm(x) + np.linalg.norm(y)) / 2
    x, y, shift = (one / size * np.sign(shift[2]) for one in (x, y, shift))
    left, _, right = np.linalg.svd(np.column_stack([x, y, np.cross(x, y)]))
    turn = left @ np.diag([1, 1, np.linalg.det(left @ right)]) @ right
    return np.concatenate([Rotation.from_matrix(turn).as_rotvec(), shift / 1000])
