"""The command line: ``nesting`` or ``python -m nesting``."""

from __future__ import annotations

import os
import re
import sys
from itertools import pairwise
from typing import Any

MOST_FAULTS = 40
"""More are told by their number only: the first show what is wrong."""


def main() -> None:
    """Run the command line; each wrong file or value is a line on standard error, and the status 2."""
    from .app.stopping import listen

    listen()
    # the matrices here are small: threads of the linear algebra library only wait for each other
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    from .app.cli import app
    from .bench.command import add_to
    from .errors import FileError

    add_to(app)
    try:
        sys.exit(app(prog_name="nesting", standalone_mode=False))
    except FileError as error:
        faults = error.all
        for fault in faults[:MOST_FAULTS]:
            print(f"nesting: {fault}", file=sys.stderr)
        if len(faults) > MOST_FAULTS:
            print(f"nesting: and {len(faults) - MOST_FAULTS} more", file=sys.stderr)
        sys.exit(2)
    except Exception as error:
        if not hasattr(error, "format_message"):
            raise
        print(_misused(error), file=sys.stderr)
        sys.exit(2)


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
