"""Thickness readings to a map of the hide with its uncertainty, and the region a laser setting may cut."""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple, TypeAlias

import numpy as np
import numpy.typing as npt
import shapely
from scipy.linalg import cholesky, solve_triangular
from scipy.ndimage import maximum_filter
from scipy.spatial.distance import cdist
from scipy.special import ndtr
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from ..errors import ModelError
from ..geometry import Area, Floats, areal
from ..model import Hide, Under
from .limits import DEFAULT, LeatherLimits

Bounds: TypeAlias = tuple[float, float, float, float]
"""Least x, least y, greatest x, greatest y, mm."""


class Covariance(NamedTuple):
    """Matern 3/2 covariance of thickness, and the noise of one reading.

    ``sd_mm``: how far thickness strays from its trend; ``length_mm``: over what distance along the hide;
    ``noise_mm``: standard deviation of a repeated reading (the nugget).
    """

    sd_mm: float
    length_mm: float
    noise_mm: float


@lru_cache(maxsize=512)
def thickness_map(hide: Hide, spread_mm: float, limits: LeatherLimits = DEFAULT) -> ThicknessMap:
    """Estimate the thickness everywhere on a hide, with its uncertainty.

    Four readings or more are kriged: a Gaussian process about a sloping trend (level when there are fewer than six
    readings or they lie nearly in line), with Matern 3/2 covariance and reading noise. The covariance is fitted by
    restricted maximum likelihood under weak log-normal priors. With fewer readings the nominal thickness (else the mean
    of the readings) holds everywhere with ``spread_mm`` as standard deviation. With neither, the map is not known.

    Parameters
    ----------
    hide : Hide
    spread_mm : float
        Standard deviation of thickness over a hide, from experience (mm, 0 or more).
    limits : LeatherLimits, optional

    Returns
    -------
    ThicknessMap

    Raises
    ------
    ModelError
        When the spread is negative or there are more than 500 readings.

    Notes
    -----
    Rasmussen and Williams, Gaussian Processes for Machine Learning (2006), section 2.7 for explicit basis functions,
    section 4.2 for the Matern class; Patterson and Thompson (1971) for restricted likelihood. Readings are best taken
    as ISO 2589 describes. The planner and the referee share this map: what stands for it is not the one of the two
    judging the other but the comparison with scikit-learn, tests/published/test_kriging.py.
    """
    if not (np.isfinite(spread_mm) and spread_mm >= 0):
        raise ModelError("thickness spread_mm", spread_mm, "give 0 or more")
    count = len(hide.readings)
    if count > limits.most_readings:
        raise ModelError(f"readings of hide {hide.id}", count, f"give at most {limits.most_readings}")
    points = np.array([(reading.x, reading.y) for reading in hide.readings], float).reshape(-1, 2)
    values = np.array([reading.mm for reading in hide.readings], float)
    bounds = hide.outline.bounds
    if count >= limits.fewest_readings:
        sloping = count >= limits.fewest_for_slope and not _in_line(points, limits.in_line_share)
        trend = "linear" if sloping else "constant"
        covariance = fit_covariance(points, values, trend, spread_mm, limits)
        estimate = Kriging(points, values, covariance, trend, limits.block)
        return ThicknessMap(bounds, f"map from {count} readings", estimate, limits)
    if hide.nominal_mm is not None:
        level, source = hide.nominal_mm, f"nominal {hide.nominal_mm:.3g} mm, spread {spread_mm:g} mm"
    elif count:
        level = float(values.mean())
        source = f"mean of {count} reading{'s'[: count > 1]} {level:.2f} mm, spread {spread_mm:g} mm"
    else:
        return ThicknessMap(bounds, "unknown: neither readings nor a nominal thickness", None, limits)
    return ThicknessMap(bounds, source, (level, spread_mm), limits)


class ThicknessMap:
    """Estimated thickness over one hide. ``known`` is False when nothing was measured or stated.

    Parameters
    ----------
    bounds : (least x, least y, greatest x, greatest y) of the hide, mm
    source : str
        Where the figures come from, for people.
    estimate : Kriging, or (mean, sd) in mm that hold everywhere, or None
    limits : LeatherLimits, optional
    """

    def __init__(
        self,
        bounds: Bounds,
        source: str,
        estimate: Kriging | tuple[float, float] | None,
        limits: LeatherLimits = DEFAULT,
    ) -> None:
        self.bounds, self.source, self.estimate, self.limits = bounds, source, estimate, limits

    @property
    def known(self) -> bool:
        """Whether there is any estimate at all."""
        return self.estimate is not None

    def mean_sd(self, xy: npt.ArrayLike) -> tuple[Floats, Floats]:
        """Estimated thickness and its standard deviation.

        Parameters
        ----------
        xy : (n, 2) array
            Places on the hide, mm.

        Returns
        -------
        mean, sd : (n,) arrays, mm
            Of the leather itself, without the noise of a reading. Mean is nan and sd infinite when nothing is known.
        """
        places = np.asarray(xy, float).reshape(-1, 2)
        if isinstance(self.estimate, Kriging):
            return self.estimate.mean_sd(places)
        level, spread = self.estimate or (np.nan, np.inf)
        return np.full(len(places), level), np.full(len(places), spread)

    def inside(self, xy: npt.ArrayLike, least_mm: float, greatest_mm: float) -> Floats:
        """Probability that the thickness is between two limits, (n,) array, at each of ``xy``, (n, 2) array in mm."""
        return _between(*self.mean_sd(xy), least_mm, greatest_mm)

    def mean_over(self, hide: Hide) -> float:
        """Mean estimated thickness over a hide, mm."""
        left, low, right, high = hide.outline.bounds
        xs, ys, mean, _ = self.grid(max(right - left, high - low) / self.limits.mean_cells)
        within = shapely.contains_xy(hide.outline, *np.meshgrid(xs, ys))
        if within.any():
            return float(mean[within].mean())
        return float(self.mean_sd(hide.outline.representative_point().coords)[0][0])

    def under(self, outline: Polygon, least_mm: float = 0.0, greatest_mm: float = np.inf) -> Under | None:
        """The leather under a part, looked at every few mm, and how sure it is within limits.

        None when nothing is known.
        """
        if not self.known:
            return None
        left, low, right, high = outline.bounds
        step = self.limits.look_mm
        xs, ys = np.meshgrid(np.arange(left, right, step), np.arange(low, high, step))
        inside = shapely.contains_xy(outline, xs, ys)
        edge = shapely.get_coordinates(outline.exterior.segmentize(step))
        mean, sd = self.mean_sd(np.vstack([np.column_stack([xs[inside], ys[inside]]), edge]))
        chance = float(_between(mean, sd, least_mm, greatest_mm).min())
        return Under(float(mean.min()), float(mean.max()), min(max(chance, 0.0), 1.0))

    def grid(self, step_mm: float) -> tuple[Floats, Floats, Floats, Floats]:
        """The map over the hide's bounds, for drawing.

        Returns
        -------
        xs : (m,) array, ys : (n,) array, mean : (n, m) array, sd : (n, m) array, all mm
        """
        left, low, right, high = self.bounds
        step = _bounded_step(self.bounds, step_mm, self.limits.most_cells)
        xs = np.linspace(left, right, max(2, int(np.ceil((right - left) / step)) + 1))
        ys = np.linspace(low, high, max(2, int(np.ceil((high - low) / step)) + 1))
        return xs, ys, *_over(self, xs, ys)


@lru_cache(maxsize=8192)
def cuttable(
    thickness: ThicknessMap,
    hide: Hide,
    least_mm: float,
    greatest_mm: float,
    confidence: float,
    step_mm: float | None = None,
) -> Area:
    """The region of a hide where the thickness is within limits at a stated confidence.

    Conservative, so that no point of it fails. The hide is looked at in square cells. Within a cell, mean and standard
    deviation are bounded by their corner values widened by twice the error of bilinear interpolation, which is at most
    h^2/8 (|f_xx| + |f_yy|) and taken from the second differences of the neighbouring nodes, and by their values at the
    middle. The cell passes when the worst pair within these bounds does: for a mean inside the limits the probability
    falls with distance from their middle and with the standard deviation. The stairs left at the edge are smoothed
    inwards, which keeps a step clear of every cell that fails.

    Parameters
    ----------
    thickness : ThicknessMap
    hide : Hide
    least_mm, greatest_mm : float
        Limits of the thickness.
    confidence : float
        From 0.5 to below 1.
    step_mm : float, optional
        Side of a cell, if not that of the map's limits; larger on hides too vast for it.

    Returns
    -------
    Polygon or MultiPolygon
        Empty when nothing passes or nothing is known of the thickness.
    """
    if not 0.5 <= confidence < 1:
        raise ModelError("confidence", confidence, "give a share from 0.5 to below 1, such as 0.9")
    step_mm = thickness.limits.cell_mm if step_mm is None else step_mm
    if not (np.isfinite(step_mm) and step_mm > 0):
        raise ModelError("step_mm", step_mm, "give a number more than 0")
    if not thickness.known or not least_mm <= greatest_mm:
        return Polygon()
    step = _bounded_step(hide.outline.bounds, step_mm, thickness.limits.most_cells)
    cells = _cells(thickness, hide.outline.bounds, step)
    worst = np.minimum(
        _between(cells.thinnest, cells.sd, least_mm, greatest_mm),
        _between(cells.thickest, cells.sd, least_mm, greatest_mm),
    )
    passes = worst >= confidence
    if passes.all():
        return hide.outline
    if not passes.any():
        return Polygon()
    return areal(_within_cells(passes, cells.xs, cells.ys).intersection(hide.outline))


class Kriging:
    """Universal kriging with a given covariance: a Gaussian process about a trend whose coefficients have a flat prior.

    Parameters
    ----------
    points : (n, 2) array, mm
    values : (n,) array, mm
    covariance : Covariance
        ``noise_mm`` must be positive, so that two readings may lie at one point.
    trend : {"none", "constant", "linear"}
    block : int
        At most so many numbers are worked on at once.

    Notes
    -----
    Rasmussen and Williams (2006), equations 2.41 and 2.42, in terms of the Cholesky factor of the covariance.
    """

    def __init__(
        self,
        points: npt.ArrayLike,
        values: npt.ArrayLike,
        covariance: Covariance,
        trend: str = "linear",
        block: int = DEFAULT.block,
    ) -> None:
        self.points, self.covariance, self.trend, self.block = np.asarray(points, float), covariance, trend, block
        self.centre = self.points.mean(axis=0)
        self.reach = max(float(np.abs(self.points - self.centre).max()), 1e-9)
        noise = covariance.noise_mm**2 * np.eye(len(self.points))
        factor = cholesky(self._covariance(self.points) + noise, lower=True)
        self.whiten = solve_triangular(factor, np.eye(len(self.points)), lower=True)
        basis, whitened = self.whiten @ self._basis(self.points), self.whiten @ np.asarray(values, float)
        q, r = np.linalg.qr(basis)
        self.basis, self.unscale = basis, np.linalg.inv(r)
        self.coefficients = self.unscale @ (q.T @ whitened)
        self.residual = whitened - basis @ self.coefficients
        self.log_likelihood = float(
            -0.5 * self.residual @ self.residual
            - np.log(np.diag(factor)).sum()
            - np.log(np.abs(np.diag(r))).sum()
            - 0.5 * (len(whitened) - basis.shape[1]) * np.log(2 * np.pi)
        )
        """Restricted log likelihood, up to a constant that does not depend on the covariance."""

    def mean_sd(self, xy: Floats) -> tuple[Floats, Floats]:
        """Mean and standard deviation, (m,) arrays in mm, of the noise-free value at ``xy``, (m, 2) array in mm."""
        mean, sd = np.empty(len(xy)), np.empty(len(xy))
        size = max(1, self.block // len(self.points))
        for start in range(0, len(xy), size):
            some = slice(start, start + size)
            basis = self._basis(xy[some])
            near = self.whiten @ self._covariance(self.points, xy[some])
            lack = (basis - near.T @ self.basis) @ self.unscale
            variance = self.covariance.sd_mm**2 - np.einsum("ij,ij->j", near, near) + np.einsum("ij,ij->i", lack, lack)
            mean[some] = basis @ self.coefficients + self.residual @ near
            sd[some] = np.sqrt(np.maximum(variance, 0.0))
        return mean, sd

    def _covariance(self, a: Floats, b: Floats | None = None) -> Floats:
        scaled = cdist(a, a if b is None else b)
        scaled *= np.sqrt(3.0) / self.covariance.length_mm
        return self.covariance.sd_mm**2 * (1.0 + scaled) * np.exp(-scaled)

    def _basis(self, xy: Floats) -> Floats:
        columns = {"none": 0, "constant": 1, "linear": 3}[self.trend]
        return np.column_stack([np.ones(len(xy)), (xy - self.centre) / self.reach])[:, :columns]


def fit_covariance(
    points: Floats, values: Floats, trend: str, spread_mm: float, limits: LeatherLimits = DEFAULT
) -> Covariance:
    """Covariance of greatest restricted likelihood times weak log-normal priors, within bounds a hide can have."""
    from scipy.optimize import minimize

    every = -(-len(points) // limits.most_fitted)
    points, values = points[::every], values[::every]
    spread = max(spread_mm, limits.least_spread_mm)
    middle = np.log([spread, limits.length_mm, limits.noise_mm])
    least, most = limits.spread_bounds
    sought = [(least * spread, most * spread), limits.length_bounds_mm, limits.noise_bounds_mm]
    bounds = [(low, high) for low, high in np.log(sought).tolist()]

    def loss(logs: Floats) -> float:
        belief = 0.5 * float((((logs - middle) / limits.belief_width) ** 2).sum())
        return belief - Kriging(points, values, Covariance(*np.exp(logs)), trend).log_likelihood

    starts = [middle + np.log([1.0, factor, 1.0]) for factor in limits.length_starts]
    runs = [minimize(loss, start, method="L-BFGS-B", bounds=bounds) for start in starts]
    return Covariance(*np.exp(min(runs, key=lambda run: run.fun).x).tolist())


def _in_line(points: Floats, share: float) -> bool:
    """Whether places lie so nearly in a line that the slope across it is a guess."""
    long, short = np.linalg.svd(points - points.mean(axis=0), compute_uv=False)
    return bool(short < share * long or long == 0)


def _between(mean: Floats, sd: Floats, least_mm: float, greatest_mm: float) -> Floats:
    certain = ~(sd > 0)
    width = np.where(certain, 1.0, sd)
    chance = ndtr((greatest_mm - mean) / width) - ndtr((least_mm - mean) / width)
    chance = np.where(certain, (least_mm <= mean) & (mean <= greatest_mm), chance)
    return np.where(np.isnan(mean), 0.0, chance)


class _Cells(NamedTuple):
    """Bounds of mean and standard deviation over square cells; ``xs`` and ``ys`` are the cells' edges."""

    xs: Floats
    ys: Floats
    thinnest: Floats
    thickest: Floats
    sd: Floats


@lru_cache(maxsize=64)
def _cells(thickness: ThicknessMap, bounds: Bounds, step: float) -> _Cells:
    left, low, right, high = bounds
    xs = np.arange(left - 2 * step, right + 3 * step, step)
    ys = np.arange(low - 2 * step, high + 3 * step, step)
    nodes = _over(thickness, xs, ys)
    middles = _over(thickness, (xs[1:] + xs[:-1]) / 2, (ys[1:] + ys[:-1]) / 2)
    factor = thickness.limits.bend_factor
    (mean_low, mean_high), (_, sd_high) = (_cell_bounds(*pair, factor) for pair in zip(nodes, middles))
    return _Cells(xs, ys, mean_low, mean_high, sd_high)


def _cell_bounds(node: Floats, middle: Floats, factor: float) -> tuple[Floats, Floats]:
    bend = np.pad(np.abs(np.diff(node, 2, axis=0)), ((1, 1), (0, 0)), mode="edge")
    bend += np.pad(np.abs(np.diff(node, 2, axis=1)), ((0, 0), (1, 1)), mode="edge")
    slack = factor * maximum_filter(bend, size=4)[1:, 1:] / 8
    corners = np.stack([node[:-1, :-1], node[:-1, 1:], node[1:, :-1], node[1:, 1:]])
    return np.minimum(corners.min(axis=0) - slack, middle), np.maximum(corners.max(axis=0) + slack, middle)


def _over(thickness: ThicknessMap, xs: Floats, ys: Floats) -> tuple[Floats, Floats]:
    places = np.stack(np.meshgrid(xs, ys), axis=-1).reshape(-1, 2)
    mean, sd = thickness.mean_sd(places)
    return mean.reshape(len(ys), len(xs)), sd.reshape(len(ys), len(xs))


def _within_cells(passes: npt.NDArray[np.bool_], xs: Floats, ys: Floats) -> BaseGeometry:
    """Region with a smooth edge that lies within the passing cells, a step inside their edge."""
    runs = np.diff(np.pad(passes.astype(np.int8), ((0, 0), (1, 1))), axis=1)
    rows, starts = np.nonzero(runs == 1)
    ends = np.nonzero(runs == -1)[1]
    stairs = shapely.union_all(shapely.box(xs[starts], ys[rows], xs[ends], ys[rows + 1]))
    step = xs[1] - xs[0]
    # A line simplified by less than a step stays within the stairs it was inset from by a step.
    return stairs.buffer(-step, join_style="mitre").simplify(0.99 * step)


def _bounded_step(bounds: Bounds, step_mm: float, most_cells: int) -> float:
    left, low, right, high = bounds
    return float(max(step_mm, ((right - left) * (high - low) / most_cells) ** 0.5))
