"""A layout file proved before anything is made of it: by the referee, by its seal, and beside its job folder."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from ..atomic import EARLIER
from ..files.layout import Stated
from ..referee.findings import Finding
from ..referee.rules import check
from .since import since

SEAL = "as written"
"""What a finding is about when a file is not as it was written and no other rule tells of it."""


@dataclass(frozen=True)
class Proved:
    """What is wrong with a layout, and what has changed in its job folder since, in words."""

    findings: tuple[Finding, ...]
    changes: tuple[str, ...]


def prove(stated: Stated, job: Path | None) -> Proved:
    """Prove a layout that was read from a file.

    Parameters
    ----------
    stated : Stated
    job : Path, optional
        The folder of its job.

    Returns
    -------
    Proved
        Findings of the referee first, then what the layout says otherwise than a file of the folder that has not
        changed, then that its file was changed by hand or by another program.
    """
    found = since(stated.layout, job, stated.sealed) if job is not None else None
    findings: list[Finding] = [*check(stated.layout), *(found.findings if found else ())]
    if stated.sealed is False:
        bound = "as nesting wrote it: take it from earlier/, or plan anew (nesting plan FOLDER --resume)"
        findings.append(Finding(11, SEAL, "the layout file", "was changed since it was written", bound))
    return Proved(tuple(findings), found.changes if found else ())


def around(file: Path) -> Path:
    """The folder that the ``out`` of a layout file is in, of one of an earlier run too (``out/earlier/DATE-TIME``)."""
    out = file.resolve().parent
    if out.parent.name == EARLIER:
        out = out.parent.parent
    return out.parent


def job_folder(file: Path) -> Path | None:
    """The job folder that a layout file lies in the ``out`` of; None where there is none."""
    folder = around(file)
    return folder if (folder / "workshop.toml").exists() else None
