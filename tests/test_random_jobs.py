"""Whole job folders made at random: no crash, no false layout, every part accounted for, every error one line.

`tests/benchmarks/many_jobs.py` runs as many as there is time for.
"""

import random

from hypothesis import HealthCheck, given, settings
from random_jobs import job_folders, random_job, run_job


@settings(max_examples=80, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(job_folders())
def test_a_random_job_is_refused_in_words_or_planned_and_exported_true(files):
    run_job(files)


def test_most_random_jobs_are_sound_and_many_parts_find_a_place():
    outcomes = [run_job(random_job(random.Random(seed)), "dxf" if seed % 2 else "svg") for seed in range(20)]
    planned = [one for one in outcomes if one.what == "planned"]
    assert len(planned) >= 10 and sum(one.placed for one in planned) >= 60
