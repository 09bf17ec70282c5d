"""The command line: ``nesting`` or ``python -m nesting``."""

from __future__ import annotations

import os
import sys
from itertools import pairwise
from typing import Any


def main() -> None:
    """Run the command line; a wrong file or value ends with one line on standard error and status 2."""
    # the matrices here are small: threads of the linear algebra library only wait for each other
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    from typer import Abort

    from .app.cli import app
    from .errors import FileError

    try:
        sys.exit(app(prog_name="nesting", standalone_mode=False))
    except FileError as error:
        print(f"nesting: {error}", file=sys.stderr)
        sys.exit(2)
    except (Abort, KeyboardInterrupt):
        print("nesting: stopped; nothing was written by this command", file=sys.stderr)
        sys.exit(130)
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
        text = f"{given[-1]}: {error.message}"
    return f"nesting: {text.rstrip('.')}; see {context.command_path} --help"


if __name__ == "__main__":
    main()
