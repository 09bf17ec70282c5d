"""Why ordered parts are left out: the words that reasons are made of."""

from __future__ import annotations

TOO_BIG_FOR_BED = "too big for the bed"
REFUSED = f'{TOO_BIG_FOR_BED}, and its product says longer = "refuse"'
NO_PLACE_KEPT = f"{TOO_BIG_FOR_BED}, and no place is kept for fillers"
TOO_BIG = "too big for any hide"
IN_DOUBT = "no room clear of what the trace leaves in doubt"
NO_GRADE = "no region of its grade"
THICKNESS = "thickness"
NO_HIDE = "no hide is"
ALL_AT_ONCE = "all at once"
"""Ends the reason of a part that no hide is leather for, though each thing asked of it there is."""
NONE_TO_BURN = "it is to be burnt, and no hide"
NO_COMMON_HIDE = "no hide can hold all of its parts, which must match"
NO_ROOM = "no room left"
NOT_FOUND = "no place found in the time given"
FILLER = "a filler is only cut from what is left over"
UNEXPLAINED = "not looked into"
STOPPED = "the run was stopped before a place was found; plan again"
SPOILED = "spoiled at the machine: the next plan makes it again"
WITH_ITS_PIECE = "left out with its piece"
"""Begins the reason of a part that would fit, of a piece that cannot be made whole."""
EVERY = (
    *(TOO_BIG_FOR_BED, TOO_BIG, IN_DOUBT, NO_GRADE, THICKNESS, NO_HIDE, NONE_TO_BURN, NO_COMMON_HIDE, NO_ROOM),
    *(NOT_FOUND, FILLER, UNEXPLAINED, STOPPED, SPOILED, WITH_ITS_PIECE),
)
"""What a reason begins with."""
