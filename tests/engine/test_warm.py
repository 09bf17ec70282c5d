"""Kernels are compiled once, beside what else goes on."""

from nesting.engine import begin_warming, warm, warm_up


def test_once_all_is_compiled_nothing_is_started_to_compile():
    warm_up()
    begin_warming()
    assert not warm._aside.channels


def test_a_helper_that_compiles_and_is_killed_costs_nothing_but_time(monkeypatch):
    monkeypatch.setattr(warm, "LAST", ("no such kernel",))
    monkeypatch.setattr(warm, "cores", lambda: 2)
    begin_warming()
    assert len(warm._aside.channels) == len(warm.HALVES)
    for process in warm._aside._processes.values():
        process.kill()
    warm_up()
    assert not warm._aside.channels
