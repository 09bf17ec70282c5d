"""How the engine's functions are compiled: those that Python calls are cached on disk with all that they call."""

from functools import partial
from pathlib import Path
from typing import Any

import numba
from numba import njit
from numba.core.codegen import JITCodeLibrary
from numba.core.compiler import Compiler


class _Part(JITCodeLibrary):
    """Code that only other compiled functions call: each of those has it in its own, and is optimised with it."""

    def _optimize_final_module(self) -> None:
        pass

    def _finalize_final_module(self) -> None:
        self._finalize_dynamic_globals()  # type: ignore[no-untyped-call]
        self._finalized = True

    def get_pointer_to_function(self, name: str) -> int:
        return 0

    @property
    def codegen(self) -> Any:
        return self

    def set_env(self, name: str, env: object) -> None:
        """Python never calls it."""


class _Inner(Compiler):
    """Compiles what is a part of other functions."""

    def __init__(self, typingctx: Any, targetctx: Any, library: Any, *rest: Any) -> None:
        part = _Part(targetctx.codegen(), "part")  # type: ignore[no-untyped-call]
        super().__init__(typingctx, targetctx, part, *rest)  # type: ignore[no-untyped-call]


TRIED = "0.68."
"""The numba that ``_Part`` was tried with; it leans on its inside, so that any other compiles inner functions by
themselves, which takes half as long again."""
_inner: dict[str, Any] = {"pipeline_class": _Inner} if numba.__version__.startswith(TRIED) else {"cache": True}

compiled = partial(njit, cache=True, error_model="numpy", nogil=True)
"""For functions that Python calls. While they work, other threads can, such as the one that hears of Ctrl-C."""

_counting_nothing = {"error_model": "numpy", "_nrt": False, "no_cfunc_wrapper": True}

kernel_loop = partial(njit, no_cpython_wrapper=True, **_inner, **_counting_nothing)
"""For functions that allocate nothing and that only compiled ones call (Python crashes when it does): without counting
of references, and compiled as a part of those. Arrays are copied in loops, not assigned to slices: the message numba
has ready for unequal lengths takes a second or two to compile."""

kernel = partial(kernel_loop, forceinline=True)
"""The same for the innermost ones, which are inlined: what is long and inlined is compiled once for each place."""

kernel_from_python = partial(njit, forceinline=True, cache=True, nogil=True, **_counting_nothing)
"""The same for those that Python calls as well."""


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
