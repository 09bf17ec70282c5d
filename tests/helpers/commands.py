"""The command line, run in this process."""

import contextlib
import io
import subprocess
import sys
from unittest.mock import patch

from nesting.__main__ import main


def run(*words, cwd="."):
    """The command line in this process: its status, and what it said."""
    out, err, code, given = io.StringIO(), io.StringIO(), 0, sys.argv
    sys.argv = ["nesting", *map(str, words)]
    try:
        # a stop would end this process, with all tests to come
        heard = patch("nesting.app.stopping.listen", lambda: None)
        with heard, contextlib.chdir(cwd), contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
            main()
    except SystemExit as end:
        code = end.code or 0
    finally:
        sys.argv = given
    return subprocess.CompletedProcess(words, code, out.getvalue(), err.getvalue())
