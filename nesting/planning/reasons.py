"""Why an ordered part found no place."""

from __future__ import annotations

from collections.abc import Iterable

from ..leather.regions import NO_GRADE, NO_ROOM, THICKNESS, TOO_BIG, why_not
from ..model import Part, Workshop
from .ready import Ready

TOO_BIG_FOR_BED = "too big for the bed"


def reason(part: Part, hides: Iterable[Ready], workshop: Workshop, fits_bed: bool) -> str:
    """Why a part found no place: the bed, or the obstacle on the hide where it came nearest to fitting."""
    answers = set()
    for item in hides:
        if not item.open:
            answers.add(THICKNESS)
            continue
        regions = [item.good(part.thickness_mm, band, workshop.confidence) for band in item.bands]
        answers |= {why_not(part, item.hide, workshop.margins, region) for region in regions}
    if answers != {TOO_BIG} and not fits_bed:
        return TOO_BIG_FOR_BED
    return next((text for text in (NO_ROOM, THICKNESS, NO_GRADE, TOO_BIG) if text in answers), NO_ROOM)
