"""A word from outside that work is to end."""

from __future__ import annotations


class Cancel:
    """Asks work that knows of it to end early; ``cancel`` may be called from any thread.

    It can be sent to another process, but a copy there does not hear of a ``cancel`` called here: whoever starts
    processes looks at the original and ends them itself, as ``Crew`` does.
    """

    def __init__(self) -> None:
        self._cancelled = False

    @property
    def cancelled(self) -> bool:
        """Whether ``cancel`` was called."""
        return self._cancelled

    def cancel(self) -> None:
        """Ask for the end; there is no way back."""
        self._cancelled = True
