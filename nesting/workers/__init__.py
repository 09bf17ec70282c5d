"""Work side by side: tasks shared out over processes, threads or machines, and helpers that are talked with."""

from .cancel import Cancel
from .cluster import Cluster, Lost, NoCluster, count
from .crew import Crew
from .helpers import Channel, Gone, Helpers
from .limits import WorkerLimits
from .threads import cores, in_threads

__all__ = [
    "Cancel",
    "Channel",
    "Cluster",
    "Crew",
    "Gone",
    "Helpers",
    "Lost",
    "NoCluster",
    "WorkerLimits",
    "cores",
    "count",
    "in_threads",
]
