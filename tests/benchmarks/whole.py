"""Plan a job folder with several seeds and print how many pieces are whole, what they cost and how long it took.

python tests/benchmarks/whole.py data [--seconds 20] [--seeds 0 1 2]
"""

from __future__ import annotations

import argparse
import time
from pathlib import Path

from nesting.app.actions.job import prepare_folder
from nesting.costs.figures import figures
from nesting.engine import Stop, warm_up
from nesting.planning.plan import plan
from nesting.referee.rules import check


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--seconds", type=float, default=20)
    parser.add_argument("--seeds", type=int, nargs="+", default=[0, 1, 2])
    options = parser.parse_args()
    warm_up()
    prepared = prepare_folder(options.folder)
    print(f"{'seed':>4}{'whole':>12}{'cut':>5}{'fillers':>10}{'dm2':>8}{'hides':>7}{'cost':>10}{'seconds':>9}  faults")
    for seed in options.seeds:
        began = time.monotonic()
        layout = plan(prepared.job, Stop(seconds=options.seconds), seed, prepared=prepared)
        took, total = time.monotonic() - began, figures(layout)["total"]
        ordered = [piece for piece in layout.pieces() if not piece.filler]
        fillers = [piece for piece in layout.pieces() if piece.filler]
        whole = f"{sum(piece.whole for piece in ordered)} of {len(ordered)}"
        filled = f"{sum(piece.whole for piece in fillers)} of {len(fillers)}"
        cut = sum(0 < piece.placed < piece.wanted for piece in (*ordered, *fillers))
        dm2 = total["consumed_mm2"] / 1e4
        row = (
            f"{seed:>4}{whole:>12}{cut:>5}{filled:>10}{dm2:>8.1f}{total['hides_cut']:>7}{total['cost']:>10}{took:>9.1f}"
        )
        print(f"{row}  {len(check(layout))}", flush=True)


if __name__ == "__main__":
    main()
