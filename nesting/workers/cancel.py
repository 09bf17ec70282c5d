"""A word from outside that work is to end."""

from __future__ import annotations

import uuid
from collections.abc import Iterable

_CANCELLED: set[str] = set()
"""Names of all that was cancelled in this process."""


class Cancel:
    """Asks work that knows of it to end early; ``cancel`` may be called from any thread.

    It can be sent to another process, but a copy there does not hear of a ``cancel`` called here: whoever starts
    processes looks at the original and ends them itself, as ``Crew`` does, and a cluster tells its workers by
    ``cancel_here``.

    Attributes
    ----------
    name : str
        What a copy of it has in common with it.
    """

    def __init__(self) -> None:
        self.name = uuid.uuid4().hex
        self._cancelled = False

    @property
    def cancelled(self) -> bool:
        """Whether ``cancel`` was called."""
        return self._cancelled or self.name in _CANCELLED

    def cancel(self) -> None:
        """Ask for the end; there is no way back."""
        self._cancelled = True


def cancel_here(names: Iterable[str]) -> None:
    """Cancel all copies in this process of what has these names."""
    _CANCELLED.update(names)
