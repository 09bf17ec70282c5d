"""The command line: ``nesting`` or ``python -m nesting``."""

from __future__ import annotations

import os
import sys


def main() -> None:
    """Run the command line; a wrong file or value ends with one line on standard error and status 2."""
    # the matrices here are small: threads of the linear algebra library only wait for each other
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    from .cli import app
    from .files.errors import FileError

    try:
        app(prog_name="nesting")
    except FileError as error:
        print(f"nesting: {error}", file=sys.stderr)
        sys.exit(2)
    except KeyboardInterrupt:
        print("nesting: stopped; nothing was written by this command", file=sys.stderr)
        sys.exit(130)


if __name__ == "__main__":
    main()
