"""How the engine's functions are compiled: cached on disk, and without reference counting in the inner ones."""

from functools import partial

from numba import njit

compiled = partial(njit, cache=True, error_model="numpy")
"""For functions that allocate arrays."""

kernel = partial(njit, cache=True, error_model="numpy", forceinline=True, _nrt=False)
"""For the innermost functions, which allocate nothing. Counting references to World's many arrays at every call would
take twenty times as long as the work itself."""

kernel_loop = partial(njit, cache=True, error_model="numpy", _nrt=False)
"""The same for longer functions, which are called rather than inlined."""
