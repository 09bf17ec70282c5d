"""The same work on one processor or on several: tasks done in processes of their own, answers in the order asked."""

from __future__ import annotations

import itertools
import traceback
from collections import deque
from collections.abc import Callable, Sequence
from typing import Any, Generic, TypeVar

from .cancel import Cancel
from .cluster import Cluster, Lost, count
from .helpers import Channel, Gone, Helpers, ready
from .limits import LIMITS, WorkerLimits

Shared = TypeVar("Shared")
Answer = TypeVar("Answer")


class Crew(Generic[Shared]):
    """Does ``work(shared, *task)`` for each of some tasks; a context manager, so that no process is left behind.

    Parameters
    ----------
    shared : object
        What every task needs; sent to each process once.
    workers : int or Cluster
        Processes, started as they are needed; with one, tasks are done here. Or machines of a cluster.
    cancel : Cancel, optional
        Ends all work when it is cancelled, just as Ctrl-C does.
    limits : WorkerLimits

    Attributes
    ----------
    workers : int
        How many tasks are done side by side.
    interrupted : bool
        Whether Ctrl-C or ``cancel`` broke off some work.
    """

    def __init__(
        self,
        shared: Shared,
        workers: int | Cluster = 1,
        cancel: Cancel | None = None,
        limits: WorkerLimits = LIMITS,
    ) -> None:
        self.shared, self.workers, self.cancel, self.interrupted = shared, count(workers), cancel, False
        self._helpers = Helpers(limits)
        self._cluster, self._sent = (None if isinstance(workers, int) else workers), list[object]()
        if self._cluster is not None:
            self._cluster.watch(cancel)

    def __enter__(self) -> Crew[Shared]:
        return self

    def __exit__(self, *fault: object) -> None:
        self._helpers.__exit__(*fault)

    @property
    def here(self) -> bool:
        """Whether tasks are done in this process."""
        return self.workers == 1 and self._cluster is None

    @property
    def team(self) -> int | Cluster:
        """Who does the tasks, for a search that shares itself out."""
        return self.workers if self._cluster is None else self._cluster

    def each(
        self, work: Callable[..., Answer], tasks: Sequence[tuple[Any, ...]], ended: Callable[[], bool] = lambda: False
    ) -> list[Answer]:
        """Answers to the tasks in their order.

        They are fewer, from the front, when ``ended`` says to stop, but never none for that; and fewer, perhaps none,
        when the work is interrupted. ``ended`` is asked several times a second while processes work, and between tasks
        done here. The task of a process or machine that was lost is done again; when all were, tasks are done here.

        Raises
        ------
        Exception
            Whatever a task raised.
        """
        answers: dict[int, Answer] = {}
        try:
            if self._cluster is not None and tasks:
                self._on_cluster(self._cluster, work, tasks, ended, answers)
            elif self.workers == 1 or len(tasks) == 1:
                self._here(work, tasks, ended, answers)
            else:
                self._in_processes(work, tasks, ended, answers)
        except KeyboardInterrupt:
            self.interrupted = True
        if self.interrupted or self._cancelled:
            self.interrupted = True
            self._helpers.end(*self._helpers.channels)
            self.workers, self._cluster = 1, None
        return [answers[number] for number in itertools.takewhile(answers.__contains__, range(len(tasks)))]

    def _here(
        self,
        work: Callable[..., Answer],
        tasks: Sequence[tuple[Any, ...]],
        ended: Callable[[], bool],
        answers: dict[int, Answer],
    ) -> None:
        for number, task in enumerate(tasks):
            if number not in answers:
                if answers and (ended() or self._cancelled):
                    return
                answers[number] = work(self.shared, *task)

    def _on_cluster(
        self,
        cluster: Cluster,
        work: Callable[..., Answer],
        tasks: Sequence[tuple[Any, ...]],
        ended: Callable[[], bool],
        answers: dict[int, Answer],
    ) -> None:
        try:
            cluster.tried(lambda: self._ask_cluster(cluster, work, tasks, ended, answers))
        except Lost:
            self.workers, self._cluster = 1, None
            self._here(work, tasks, ended, answers)

    def _ask_cluster(
        self,
        cluster: Cluster,
        work: Callable[..., Answer],
        tasks: Sequence[tuple[Any, ...]],
        ended: Callable[[], bool],
        answers: dict[int, Answer],
    ) -> None:
        left = [number for number in range(len(tasks)) if number not in answers]
        try:
            self._sent = self._sent or [cluster.share(self.shared)]
            asked = cluster.answers(work, [(self._sent[0], *tasks[number]) for number in left])
            try:
                for heard in asked:
                    if heard is not None:
                        answers[left[heard[0]]] = heard[1]
                    over = ended()
                    if self._cancelled or (over and 0 in answers):
                        break
            finally:
                # what is left is of use to nobody
                asked.drop()
                if self.cancel is not None and self.cancel.cancelled:
                    cluster.end(self.cancel)
        except Lost:
            # what was shared may be lost with the machines that had it
            self._sent = []
            raise

    def _in_processes(
        self,
        work: Callable[..., Answer],
        tasks: Sequence[tuple[Any, ...]],
        ended: Callable[[], bool],
        answers: dict[int, Answer],
    ) -> None:
        for _ in range(len(self._helpers.channels), min(self.workers, len(tasks))):
            self._helpers.start(_serve, self.shared)
        left, busy = deque(range(len(tasks))), dict[Channel, int]()
        while len(answers) < len(tasks):
            for channel in self._helpers.channels if left else ():
                if left and channel not in busy:
                    self._ask(channel, work, tasks, left, busy)
            if not busy:
                self.workers = 1
                return self._here(work, tasks, ended, answers)
            for channel in ready(busy, self._helpers.limits.look_s):
                self._hear(channel, left, busy, answers)
            over = ended()
            if self._cancelled:
                return None
            if over and 0 in answers:
                # they would answer what nobody asks any more
                return self._helpers.end(*busy)
        return None

    def _ask(
        self,
        channel: Channel,
        work: Callable[..., Answer],
        tasks: Sequence[tuple[Any, ...]],
        left: deque[int],
        busy: dict[Channel, int],
    ) -> None:
        try:
            channel.send((work, tasks[left[0]]))
            busy[channel] = left.popleft()
        except Gone:
            self._helpers.end(channel)

    def _hear(self, channel: Channel, left: deque[int], busy: dict[Channel, int], answers: dict[int, Answer]) -> None:
        number = busy.pop(channel)
        try:
            answer, fault = channel.receive()
        except Gone:
            self._helpers.end(channel)
            left.appendleft(number)
            return
        if fault is not None:
            # what the others are doing is of no use to a caller that hears of a fault
            self._helpers.end(*busy)
            raise fault
        answers[number] = answer

    @property
    def _cancelled(self) -> bool:
        return self.cancel is not None and self.cancel.cancelled


def _serve(channel: Channel, shared: object) -> None:
    """Do tasks as they come, and give for each an answer, or what it raised."""
    while True:
        work, task = channel.receive()
        try:
            answer, trouble = work(shared, *task), None
        except Exception as fault:
            fault.add_note(traceback.format_exc())
            answer, trouble = None, fault
        channel.send((answer, trouble))
