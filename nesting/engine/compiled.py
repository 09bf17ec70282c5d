"""How the engine's functions are compiled: cached on disk, and without counting of references in the inner ones."""

from functools import partial
from pathlib import Path

from numba import njit

compiled = partial(njit, cache=True, error_model="numpy", nogil=True)
"""For functions that allocate arrays. While they work, other threads can, such as the one that hears of Ctrl-C."""

kernel_loop = partial(njit, cache=True, error_model="numpy", _nrt=False, no_cfunc_wrapper=True, no_cpython_wrapper=True)
"""For functions that allocate nothing and that only compiled ones call: without counting of references, and without
what lets Python call them, which takes time to compile. Arrays are copied in loops, not assigned to slices: the message
numba has ready for unequal lengths takes a second or two to compile."""

kernel = partial(kernel_loop, forceinline=True)
"""The same for the innermost ones, which are inlined: what is long and inlined is compiled once for each place."""

FROM_PYTHON = {"no_cpython_wrapper": False, "nogil": True}
"""For kernels that Python calls as well: ``@kernel(**FROM_PYTHON)``. Without it such a call crashes Python."""


def _nothing() -> None:
    """Its cache lies where those of all functions here do."""


CACHE = Path(str(compiled()(_nothing).stats.cache_path))
"""Where machine code is kept: beside the sources, or in the user's own cache where they cannot be written to."""


def _forget_stale() -> None:
    """Drop cached machine code older than any source here: numba looks only at the file a function stands in, not at
    the files of the functions compiled into it."""
    changed = max(path.stat().st_mtime for path in Path(__file__).parent.glob("*.py"))
    for path in CACHE.glob("*.nbi"):
        try:
            if path.stat().st_mtime < changed:
                path.unlink()
        except OSError:
            pass


_forget_stale()
