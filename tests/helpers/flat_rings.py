"""One outline laid upon another as well as it fits, closely."""

from __future__ import annotations

import math

import numpy as np
import shapely
from scipy.optimize import least_squares
from shapely import affinity
from shapely.geometry import Polygon
from shapes import lay_upon


def laid_upon(shape: Polygon, truth: Polygon):
    """The shape moved onto the truth, and what moves other shapes with it; turned and moved, never scaled."""
    rough = lay_upon(shape, truth)
    a, b = (np.asarray(one.exterior.coords)[:-1] for one in (shape, rough))
    middle, there = a.mean(axis=0), b.mean(axis=0)
    p, q = a - middle, b - there
    turn = math.degrees(math.atan2((p[:, 0] * q[:, 1] - p[:, 1] * q[:, 0]).sum(), (p * q).sum()))

    def move(one, values):
        turned = affinity.rotate(one, turn + values[2], tuple(middle))
        return affinity.translate(turned, *(there - middle + values[:2]))

    places = shapely.segmentize(shape.exterior, max(1.0, shape.length / 500))

    def off(values):
        return shapely.distance(shapely.points(shapely.get_coordinates(move(places, values))), truth.exterior)

    # a long thing looks much the same turned by half
    trials = [
        least_squares(off, (0, 0, start), loss="soft_l1", f_scale=0.2, x_scale=(1, 1, 0.3)) for start in (0.0, 180.0)
    ]
    best = min(trials, key=lambda trial: trial.cost).x
    return move(shape, best), lambda one: move(one, best)
