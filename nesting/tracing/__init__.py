"""From a photo of a hide to its outline in mm."""

from .check_picture import draw_check, draw_places
from .flaws import suggest_flaws
from .hints import Hints
from .limits import METHOD, TraceLimits, TraceMethod
from .markers import write_marker_sheets
from .references import Reference
from .scale import Camera
from .tracer import Trace, Unclear, trace

__all__ = [
    "METHOD",
    "Camera",
    "Hints",
    "Reference",
    "Trace",
    "TraceLimits",
    "TraceMethod",
    "Unclear",
    "draw_check",
    "draw_places",
    "suggest_flaws",
    "trace",
    "write_marker_sheets",
]
