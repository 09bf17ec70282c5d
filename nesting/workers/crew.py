"""The same work on one processor or on several: tasks done in processes of their own, answers in the order asked."""

from __future__ import annotations

import itertools
import multiprocessing
import signal
from collections.abc import Callable, Sequence
from concurrent.futures import Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool

POLL_S = 0.2
_shared = None


class Crew:
    """Does ``work(shared, *task)`` for each of some tasks; a context manager, so that no process is left behind.

    Parameters
    ----------
    shared : object
        What every task needs; sent to each process once.
    workers : int
        Processes; with one, tasks are done here.
    """

    def __init__(self, shared, workers: int = 1):
        self.shared, self.workers, self._pool, self.interrupted = shared, max(workers, 1), None, False

    def __enter__(self) -> Crew:
        return self

    def __exit__(self, *fault) -> None:
        if self._pool is not None:
            processes = list((self._pool._processes or {}).values())
            self._pool.shutdown(wait=False, cancel_futures=True)
            for process in processes:
                process.terminate()

    def each(self, work: Callable, tasks: Sequence[tuple], ended: Callable[[], bool] = lambda: False) -> list:
        """Answers to the tasks in their order; fewer, from the front, when ``ended`` says to stop, and perhaps none after
        Ctrl-C, which sets ``interrupted``."""
        if self.workers == 1 or len(tasks) == 1:
            return self._here(work, tasks, ended)
        if self._pool is None:
            context = multiprocessing.get_context("spawn")
            self._pool = ProcessPoolExecutor(self.workers, context, _begin, (self.shared,))
        try:
            answers = [self._pool.submit(_serve, work, task) for task in tasks]
            while wait(answers, POLL_S).not_done and not (answers[0].done() and ended()):
                pass
            return [answer.result() for answer in itertools.takewhile(Future.done, answers)]
        except KeyboardInterrupt:
            self.interrupted = True
            return []
        except BrokenProcessPool:
            # a process was killed, perhaps for want of memory
            self.workers = 1
            return self._here(work, tasks, ended)

    def _here(self, work, tasks, ended) -> list:
        done = []
        for task in tasks:
            if done and ended():
                break
            done.append(work(self.shared, *task))
        return done


def _begin(shared) -> None:
    global _shared
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    _shared = shared


def _serve(work: Callable, task: tuple):
    return work(_shared, *task)
