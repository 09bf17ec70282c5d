"""How long what comes after a search takes: the figures, the pictures and the report of a layout, step by step.

    python tests/benchmarks/finish.py LAYOUT.json

Seconds of one core's time, so that what else the machine does counts little. Nothing beside the layout is written.
"""

import argparse
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any


def timed(name: str, step: Callable[[], Any]) -> Any:
    begun = time.process_time()
    made = step()
    print(f"{name:<36} {time.process_time() - begun:6.2f} s", flush=True)
    return made


def started(name: str, code: str) -> None:
    """Time a process of its own that runs some code, from its start to its end."""
    begun = time.perf_counter()
    subprocess.run([sys.executable, *code.split("|")], check=True, stdout=subprocess.DEVNULL)
    print(f"{name:<36} {time.perf_counter() - begun:6.2f} s by the clock", flush=True)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("layout", type=Path)
    file = parser.parse_args().layout
    started("nesting --help", "-m|nesting|--help")
    started("what plan loads before its search", "-c|import nesting.app.terminal.job")

    from nesting.costs.figures import figures
    from nesting.files.layout import read_layout
    from nesting.laser.load import bed_loads
    from nesting.referee.rules import check
    from nesting.report.write import write_reports

    layout = timed("read the layout", lambda: read_layout(file))
    timed("the lines to burn, alone", lambda: [bed_loads(layout, hide.id) for hide in layout.hides])
    numbers = timed("figures", lambda: figures(layout))
    findings = timed("check", lambda: check(layout))
    with tempfile.TemporaryDirectory() as folder:
        timed("report and pictures", lambda: write_reports(layout, Path(folder), numbers, findings=findings))


if __name__ == "__main__":
    main()
