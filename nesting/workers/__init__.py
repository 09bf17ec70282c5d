"""Work side by side: tasks shared out over processes or threads, and helper processes that are talked with."""

from .cancel import Cancel
from .crew import Crew
from .helpers import Channel, Gone, Helpers
from .limits import WorkerLimits
from .threads import cores, in_threads

__all__ = ["Cancel", "Channel", "Crew", "Gone", "Helpers", "WorkerLimits", "cores", "in_threads"]
