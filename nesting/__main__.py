"""The command line: ``nesting`` or ``python -m nesting``."""

from __future__ import annotations

import codecs
import errno
import os
import re
import sys
import unicodedata
from itertools import pairwise
from typing import Any

MOST_FAULTS = 40
"""More are told by their number only: the first show what is wrong."""


NO_MEMORY = (
    "nesting: memory: not enough: close other programs, give fewer workers (--workers 1), a smaller photo or plainer "
    "outlines; what was written before is unharmed"
)
LEAST_BYTES = 384 * 1024**2
"""With a limit of memory below this linear algebra never gets past its own beginning (seen with 300 MB)."""
SHORT_OF_MEMORY = (
    "failed to map segment",
    "annot allocate memory",
    "load shared object file",
    "can't start new thread",
    "bad_alloc",
)
"""Libraries say so in these words."""
NOWHERE_TO_SAY = (errno.ENOSPC, errno.EIO, errno.EBADF, errno.EFBIG, errno.EDQUOT)
LETTERS = {"×": "x", "–": "-", "−": "-", "—": "-", "’": "'", "“": '"', "”": '"', "✓": "ok"}
"""What is shown instead where a terminal lacks a letter and it has no plainer form."""


def main() -> None:
    """Run the command line; each wrong file or value is a line on standard error, and the status 2."""
    from .app.stopping import listen

    listen()
    # the matrices here are small: threads of the linear algebra library only wait for each other
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    _take_any_letter()
    try:
        _enough_memory()
        status = _run()
        sys.stdout.flush()
    except Exception as error:
        lines = _told(error)
        if not lines:
            raise
        status = 2
        for line in lines:
            print(line, file=sys.stderr)
        _leave_output()
    sys.exit(status)


def _run() -> Any:
    from .app.cli import app
    from .bench.command import add_to

    add_to(app)
    return app(prog_name="nesting", standalone_mode=False)


def _told(error: Exception) -> list[str]:
    """What a person is told of a fault, line by line; nothing of one that is ours."""
    if _wants_memory(error):
        return [NO_MEMORY]
    from .errors import FileError, ModelError

    if isinstance(error, FileError):
        more = len(error.all) - MOST_FAULTS
        told = [f"nesting: {fault}" for fault in error.all[:MOST_FAULTS]]
        return told + [f"nesting: and {more} more"] * (more > 0)
    if isinstance(error, ModelError):
        return [f"nesting: {error}"]
    if isinstance(error, OSError) and error.errno in NOWHERE_TO_SAY and error.filename is None:
        return [f"nesting: standard output: {error.strerror}: send it where there is room"]
    return [_misused(error)] if hasattr(error, "format_message") else []


def _enough_memory() -> None:
    """Refuse to begin where libraries would wait for memory for ever instead of saying that there is none."""
    if sys.platform != "win32":
        import resource

        most = resource.getrlimit(resource.RLIMIT_AS)[0]
        if most != resource.RLIM_INFINITY and most < LEAST_BYTES:
            raise MemoryError


def _wants_memory(error: BaseException | None) -> bool:
    """Whether a fault, or what it came of, is want of memory, in whichever way a library says so."""
    seen: set[int] = set()
    while error is not None and id(error) not in seen:
        seen.add(id(error))
        text = str(error)
        if isinstance(error, MemoryError) or getattr(error, "errno", None) == errno.ENOMEM:
            return True
        if isinstance(error, (ImportError, OSError, RuntimeError)) and any(words in text for words in SHORT_OF_MEMORY):
            return True
        error = error.__cause__ or error.__context__
    return False


def _take_any_letter() -> None:
    """Let terminals that know fewer letters show the nearest they have."""

    def nearest(fault: UnicodeError) -> tuple[str, int]:
        assert isinstance(fault, UnicodeEncodeError)
        letters = fault.object[fault.start : fault.end]
        plain = "".join(
            LETTERS.get(one) or unicodedata.normalize("NFKD", one).encode("ascii", "ignore").decode() or "?"
            for one in letters
        )
        return plain, fault.end

    codecs.register_error("nearest", nearest)
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="nearest")


def _leave_output() -> None:
    """Forget what could not be written to standard output, or Python would try and complain once more at its end."""
    try:
        sys.stdout.flush()
    except OSError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _misused(error: Any) -> str:
    """One line about a wrong option or argument; the help where nothing was given at all."""
    text, context = str(error.format_message()), error.ctx
    if "\n" in text or context is None:
        return text
    names: list[str] = error.param.opts if getattr(error, "param", None) else []
    words = [word for argument in sys.argv[1:] for word in argument.split("=", 1)]
    given = [f"{names[0]}: {value}" for name, value in pairwise(words) if name in names]
    if given:
        text = f"{given[-1]}: {_plain(str(error.message))}"
    return f"nesting: {text.rstrip('.')}; see {context.command_path} --help"


_PLAIN = (
    (r"valid (?:integer|int)\b", "give a whole number"),
    (r"valid (?:number|float)\b", "give a number"),
    (r"finite", "give a number that is not endless"),
    (r"(?:greater than or equal to|range x>=) ?(-?[\d.]+)", "give {} or more"),
    (r"less than or equal to (-?[\d.]+)", "give at most {}"),
    (r"range (-?[\d.]+)<=x<=(-?[\d.]+)", "give {} to {}"),
)
"""What the parser of options says, by versions of it, and the same in words for people."""


def _plain(message: str) -> str:
    for pattern, words in _PLAIN:
        if found := re.search(pattern, message):
            return words.format(*(number.rstrip(".") for number in found.groups()))
    return message


if __name__ == "__main__":
    main()
