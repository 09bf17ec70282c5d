"""Run random job folders by number, as many as time allows, and log what became of each; begun again it goes on.

    python tests/benchmarks/many_jobs.py LOG --jobs 10000 --seconds 180

LOG is a file of one JSON line a job: its number, outcome, parts placed and wanted, seconds, and of a fault the place in
the code. A job is made from its number alone: --only NUMBER runs one again and shows all of its fault; --keep FOLDER
writes it. Every tenth has outlines of up to 5,000 points, and of every 25th report, pictures and cards are written too.
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

from random_jobs import FEW_POINTS, MANY_POINTS, job_of, run_job, write_files

LONGEST_S = 150
"""A job that takes longer counts as a fault."""


def points(number):
    return FEW_POINTS if number % 10 else MANY_POINTS


def too_long(*_):
    raise TimeoutError(f"took longer than {LONGEST_S} s")


def tried(number):
    """What became of a job, as a line of the log."""
    began = time.monotonic()
    signal.alarm(LONGEST_S)
    try:
        one = run_job(job_of(number, points(number)), "dxf" if number % 2 else "svg", pages=number % 25 == 0)
        told = {"outcome": one.what, "placed": one.placed, "wanted": one.wanted, "detail": one.detail}
    except Exception as error:
        steps = traceback.extract_tb(error.__traceback__)[-4:]
        where = " < ".join(f"{Path(step.filename).name}:{step.lineno}" for step in reversed(steps))
        told = {"outcome": "fault", "detail": f"{type(error).__name__}: {str(error)[:500]}", "where": where}
    finally:
        signal.alarm(0)
    return {"job": number, "seconds": round(time.monotonic() - began, 2), **told}


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("log", type=Path)
    parser.add_argument("--jobs", type=int, default=10_000)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--seconds", type=float, default=180.0)
    parser.add_argument("--only", type=int)
    parser.add_argument("--keep", type=Path)
    given = parser.parse_args()
    if given.only is not None:
        if given.keep:
            write_files(job_of(given.only, points(given.only)), given.keep)
        print(
            run_job(
                job_of(given.only, points(given.only)), "dxf" if given.only % 2 else "svg", pages=given.only % 25 == 0
            )
        )
        return
    signal.signal(signal.SIGALRM, too_long)
    lines = given.log.read_text().splitlines() if given.log.exists() else []
    done = {row["job"]: row for row in map(json.loads, lines)}
    end = time.monotonic() + given.seconds
    with given.log.open("a") as log:
        for number in range(given.first, given.jobs):
            if number not in done:
                if time.monotonic() > end:
                    break
                done[number] = tried(number)
                log.write(json.dumps(done[number]) + "\n")
                log.flush()
    counts = Counter(row["outcome"] for row in done.values())
    placed, wanted = (sum(row.get(key, 0) for row in done.values()) for key in ("placed", "wanted"))
    print(f"{len(done)} of {given.jobs} jobs: {dict(counts)}; {placed} of {wanted} parts placed")
    slow = sorted(done.values(), key=lambda row: -row["seconds"])[:3]
    print("longest:", ", ".join(f"job {row['job']} {row['seconds']} s" for row in slow))
    for row in done.values():
        if row["outcome"] == "fault":
            print(f"job {row['job']}: {row['detail']} ({row.get('where', '')})")


if __name__ == "__main__":
    main()
