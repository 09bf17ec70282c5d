"""Helpers started from a script of somebody who knows nothing of processes."""

import subprocess
import sys

SCRIPT = """
from operator import add

from nesting.workers import Crew

print("begin")
with Crew(1, 2) as crew:
    print(crew.each(add, [(1,), (2,)]))
"""


def test_a_script_without_a_guard_is_not_run_again_by_its_helpers(tmp_path):
    script = tmp_path / "plain.py"
    script.write_text(SCRIPT)
    done = subprocess.run([sys.executable, script], capture_output=True, text=True, timeout=120, cwd=tmp_path)
    assert done.returncode == 0 and done.stdout.split("\n") == ["begin", "[2, 3]", ""], done.stderr
