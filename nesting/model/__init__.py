"""The nouns of the trade: frozen value objects, in millimetres and degrees, without any input or output.

A value validates itself once, in its constructor, and is then trusted. Geometry is shapely's; y points up,
angles turn counter-clockwise.
"""

from .asked import Asked
from .curves import Circle, Curve, Curves
from .hides import (
    ANSWERS,
    SAFE_TANNAGE,
    TANNAGES,
    Answer,
    Doubt,
    Hide,
    Reading,
    StatedError,
    Suggestion,
    Traced,
    Zone,
)
from .job import Job, OrderLine
from .kinds import ANY_KIND, Asking, Kind
from .layout import Burnt, Cut, Layout, OrderedPiece, Panel, PartKey, Placement, Spot, Under, Unplaced
from .parts import ENGRAVED, LONGER, OPERATIONS, Direction, Part, Product
from .setting_book import SETTING_OPERATIONS, UNTESTED, WINDOW_SHARE, Setting, between, contradiction, rows_for
from .units import UNITS
from .values import GRADES, MM2_PER_DM2, MM2_PER_SQ_FT, MM_PER_OZ, Point, counted, graded, positive, ranges, simple
from .workshop import (
    BED_STOPS,
    DEFAULT_COLOURS,
    FEED_PLAY_MM,
    FEED_STEP_MM,
    FEEDS,
    PER,
    ExtraCost,
    Machine,
    Margins,
    Prices,
    Workshop,
)

__all__ = [
    "ANSWERS",
    "ANY_KIND",
    "BED_STOPS",
    "DEFAULT_COLOURS",
    "ENGRAVED",
    "FEEDS",
    "FEED_PLAY_MM",
    "FEED_STEP_MM",
    "GRADES",
    "LONGER",
    "MM2_PER_DM2",
    "MM2_PER_SQ_FT",
    "MM_PER_OZ",
    "OPERATIONS",
    "PER",
    "SAFE_TANNAGE",
    "SETTING_OPERATIONS",
    "TANNAGES",
    "UNITS",
    "UNTESTED",
    "WINDOW_SHARE",
    "Answer",
    "Asked",
    "Asking",
    "Burnt",
    "Circle",
    "Curve",
    "Curves",
    "Cut",
    "Direction",
    "Doubt",
    "ExtraCost",
    "Hide",
    "Job",
    "Kind",
    "Layout",
    "Machine",
    "Margins",
    "OrderLine",
    "OrderedPiece",
    "Panel",
    "Part",
    "PartKey",
    "Placement",
    "Point",
    "Prices",
    "Product",
    "Reading",
    "Setting",
    "Spot",
    "StatedError",
    "Suggestion",
    "Traced",
    "Under",
    "Unplaced",
    "Workshop",
    "Zone",
    "between",
    "contradiction",
    "counted",
    "graded",
    "positive",
    "ranges",
    "rows_for",
    "simple",
]
