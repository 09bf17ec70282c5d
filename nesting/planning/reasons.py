"""Why an ordered part found no place."""

from __future__ import annotations

from ..leather.regions import NO_GRADE, NO_ROOM, THICKNESS, TOO_BIG, why_not
from ..model import Job, Part
from .ready import Ready, holds
from .wishes import fits_bed

TOO_BIG_FOR_BED = "too big for the bed"


def reason(part: Part, hides: tuple[Ready, ...], job: Job) -> str:
    """Why a part found no place: the bed, or the obstacle on the hide where it came nearest to fitting."""
    answers = set()
    for item in hides:
        if not item.open:
            answers.add(THICKNESS)
            continue
        regions = [
            holds(item, part.thickness_mm, band, job.workshop.confidence) for band in range(max(len(item.settings), 1))
        ]
        answers |= {why_not(part, item.hide, job.workshop.margins, region) for region in regions}
    if answers != {TOO_BIG} and not fits_bed(part, job):
        return TOO_BIG_FOR_BED
    return next((text for text in (NO_ROOM, THICKNESS, NO_GRADE, TOO_BIG) if text in answers), NO_ROOM)
