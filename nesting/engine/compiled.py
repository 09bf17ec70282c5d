"""How the engine's functions are compiled: cached on disk, and without reference counting in the inner ones."""

from functools import partial
from pathlib import Path

from numba import njit

compiled = partial(njit, cache=True, error_model="numpy")
"""For functions that allocate arrays."""

kernel = partial(njit, cache=True, error_model="numpy", forceinline=True, _nrt=False)
"""For the innermost functions, which allocate nothing. Counting references to World's many arrays at every call would
take twenty times as long as the work itself."""

kernel_loop = partial(njit, cache=True, error_model="numpy", _nrt=False)
"""The same for longer functions, which are called rather than inlined."""


def _forget_stale(folder: Path) -> None:
    """Drop cached machine code older than any source here: numba looks only at the file a function stands in, not at
    the files of the functions compiled into it."""
    changed = max(path.stat().st_mtime for path in folder.glob("*.py"))
    for path in (folder / "__pycache__").glob("*.nbi"):
        try:
            if path.stat().st_mtime < changed:
                path.unlink()
        except OSError:
            pass


_forget_stale(Path(__file__).parent)
