"""Pure polygon packing: containers, obstacles by class, items. No word of any trade in it."""

from ..workers import Cancel
from .insert import Insertion, insert
from .limits import SearchLimits
from .problem import FREE, Area, Container, Item, Obstacle, Pose, Problem, Shape, Solution
from .progress import Progress
from .proof import overlaps
from .search import Search
from .solve import solve
from .stop import Stop
from .warm import begin_warming, half_warm, warm_up

__all__ = [
    "FREE",
    "Area",
    "Cancel",
    "Container",
    "Insertion",
    "Item",
    "Obstacle",
    "Pose",
    "Problem",
    "Progress",
    "Search",
    "SearchLimits",
    "Shape",
    "Solution",
    "Stop",
    "begin_warming",
    "half_warm",
    "insert",
    "overlaps",
    "solve",
    "warm_up",
]
