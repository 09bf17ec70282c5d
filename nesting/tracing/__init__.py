"""From a photo of a hide to its outline in mm."""

from .check_picture import draw_check, draw_places
from .flaws import suggest_flaws
from .markers import write_marker_sheets
from .tracer import Trace, Unclear, trace_photo

__all__ = ["Trace", "Unclear", "draw_check", "draw_places", "suggest_flaws", "trace_photo", "write_marker_sheets"]
