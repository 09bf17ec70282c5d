"""Read files damaged at random, as many as time allows, and log what is at fault; begun again it goes on.

    python tests/benchmarks/damaged.py LOG [KIND ...] --seconds 180

LOG is a file of JSON lines: how far each kind has come, and every fault with its number and place in the code. A file
is made from its kind and number alone: --show NUMBER with one KIND writes it to standard output.
"""

import argparse
import json
import signal
import sys
import time
import traceback
from collections import Counter
from pathlib import Path

sys.path[:0] = [str(Path(__file__).parents[2]), str(Path(__file__).parents[1] / "helpers")]

from fuzzed import KINDS, damaged, read_damaged

LONGEST_S = 20
AT_ONCE_S = 2.0


def too_long(*_):
    raise TimeoutError(f"took longer than {LONGEST_S} s")


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("log", type=Path)
    parser.add_argument("kinds", nargs="*", metavar="KIND", help=", ".join(KINDS))
    parser.add_argument("--seconds", type=float, default=180.0)
    parser.add_argument("--show", type=int)
    given = parser.parse_args()
    kinds = given.kinds or list(KINDS)
    if given.show is not None:
        sys.stdout.buffer.write(damaged(kinds[0], given.show))
        return
    signal.signal(signal.SIGALRM, too_long)
    rows = [json.loads(line) for line in given.log.read_text().splitlines()] if given.log.exists() else []
    reached, refused, known = Counter(), Counter(), set()
    for row in rows:
        if "reached" in row:
            reached[row["kind"]], refused[row["kind"]] = row["reached"], row["refused"]
        else:
            known.add((row["kind"], row["where"]))
    end = time.monotonic() + given.seconds
    with given.log.open("a") as log:
        while time.monotonic() < end:
            for kind in kinds:
                turn = time.monotonic() + AT_ONCE_S
                while time.monotonic() < turn:
                    number = reached[kind]
                    signal.alarm(LONGEST_S)
                    try:
                        refused[kind] += bool(read_damaged(kind, damaged(kind, number)))
                    except Exception as error:
                        steps = traceback.extract_tb(error.__traceback__)[-3:]
                        where = " < ".join(f"{Path(step.filename).name}:{step.lineno}" for step in reversed(steps))
                        fault = {"kind": kind, "number": number, "where": where, "fault": type(error).__name__}
                        if (kind, where) not in known:
                            print(json.dumps(fault | {"words": str(error)[:300]}))
                            log.write(json.dumps(fault | {"words": str(error)[:300]}) + "\n")
                        known.add((kind, where))
                    finally:
                        signal.alarm(0)
                    reached[kind] += 1
                log.write(json.dumps({"kind": kind, "reached": reached[kind], "refused": refused[kind]}) + "\n")
                log.flush()
    for kind in KINDS:
        print(f"{kind}: {reached[kind]} files, {refused[kind]} refused")
    print(f"{len(known)} places at fault")


if __name__ == "__main__":
    main()
