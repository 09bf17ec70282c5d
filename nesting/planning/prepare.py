"""All that is known of a job before the search: made once, shown to the maker, handed to ``plan``."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass, field, replace

from ..model import Job, Part
from .case import Known
from .limits import DEFAULT, PlanLimits
from .ready import Ready, ready
from .wishes import Wish, fits_bed, wanted


@dataclass(frozen=True, eq=False)
class Prepared:
    """A job with its hides made ready and its orders spelled out.

    Parameters
    ----------
    job : Job
    hides : tuple of Ready
        The hides to use.
    wishes : tuple of Wish
        Every copy of every part ordered.
    fitting : tuple of int
        Which of them fit the bed, by index.
    limits : PlanLimits
    known : Known
        Filled by the cases made of it.
    """

    job: Job
    hides: tuple[Ready, ...]
    wishes: tuple[Wish, ...]
    fitting: tuple[int, ...]
    limits: PlanLimits
    known: Known = field(default_factory=Known)

    @property
    def open(self) -> tuple[Ready, ...]:
        """The hides on which parts may be placed."""
        return tuple(item for item in self.hides if item.open)

    def only(self, hides: Iterable[Ready]) -> Prepared:
        """The same job on some of its hides."""
        return replace(self, hides=tuple(hides))

    @property
    def warnings(self) -> tuple[str, ...]:
        """Faults of the hides, in words."""
        return tuple(warning for item in self.hides for warning in item.warnings)

    @property
    def parts(self) -> dict[tuple[str, str], Part]:
        """Every part wanted, by product and name, the most urgent first."""
        parts: dict[tuple[str, str], Part] = {}
        for wish in self.wishes:
            parts.setdefault((wish.product.name, wish.part.name), wish.part)
        return parts


def prepare(job: Job, hide_ids: Collection[str] | None = None, limits: PlanLimits = DEFAULT) -> Prepared:
    """Look at a job before the search: choose settings for its hides, list what is wanted, see what fits the bed.

    Parameters
    ----------
    job : Job
    hide_ids : collection of str, optional
        Ids of the hides to use; all of the job's by default.
    limits : PlanLimits

    Returns
    -------
    Prepared

    Raises
    ------
    ValueError
        For a hide that the job has not.
    """
    unknown = set(hide_ids or ()) - {hide.id for hide in job.hides}
    if unknown:
        raise ValueError(
            f"hide {min(unknown)} is not in the job: give some of {', '.join(hide.id for hide in job.hides)}"
        )
    wishes = wanted(job)
    fits: dict[tuple[str, str], bool] = {}
    for wish in wishes:
        key = wish.product.name, wish.part.name
        if key not in fits:
            fits[key] = fits_bed(wish.part, job.workshop, limits)
    fitting = tuple(index for index, wish in enumerate(wishes) if fits[wish.product.name, wish.part.name])
    hides = tuple(ready(hide, job.workshop, limits) for hide in job.hides if hide_ids is None or hide.id in hide_ids)
    return Prepared(job, hides, wishes, fitting, limits)
