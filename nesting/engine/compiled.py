"""How the engine's functions are compiled: cached on disk, and without reference counting in the inner ones."""

from functools import partial
from pathlib import Path

from numba import njit

compiled = partial(njit, cache=True, error_model="numpy", nogil=True)
"""For functions that allocate arrays. While they work, other threads can, such as the one that hears of Ctrl-C."""

kernel_loop = partial(njit, cache=True, error_model="numpy", _nrt=False, no_cfunc_wrapper=True, no_cpython_wrapper=True)
"""For functions that allocate nothing and that only compiled ones call. Counting references to World's many arrays at
every call would take twenty times as long as the work itself, and what lets Python call them a fifth of the time to
compile. Arrays are copied in loops, not assigned to slices: the message numba has ready for unequal lengths takes a
second or two to compile."""

kernel = partial(kernel_loop, forceinline=True)
"""The same for the innermost ones, which are inlined."""

FROM_PYTHON = {"no_cpython_wrapper": False, "nogil": True}
"""For kernels that Python calls as well: ``@kernel(**FROM_PYTHON)``. Without it such a call crashes Python."""


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
