"""Machines that work together: tasks done by the workers of a Dask cluster, wherever they stand."""

from __future__ import annotations

import contextlib
import functools
import hashlib
import logging
import queue
import sys
import time
import traceback
import uuid
import weakref
from collections import OrderedDict
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any, TypeVar

from .cancel import Cancel, cancel_here
from .limits import LIMITS, WorkerLimits

Answer = TypeVar("Answer")
EXTRA = "pip install 'nesting[cluster]'"
OPEN: weakref.WeakSet[Cluster] = weakref.WeakSet()
"""Clusters that this process is connected to: who ends it on the spot tells them."""


class NoCluster(Exception):
    """There is no cluster at an address that could do this work; ``mend`` says why, and what to do."""

    def __init__(self, address: str, mend: str) -> None:
        self.address, self.mend = address, mend
        super().__init__(f"{address}: {mend}")


class Lost(Exception):
    """A task that the cluster could not do: its machines are gone, or it took them with it."""


class Cluster:
    """A Dask cluster of which every worker has this very code; a context manager that lets go of it.

    Parameters
    ----------
    address : str
        Of its scheduler, such as ``192.168.1.20:8786`` or ``tcp://bench:8786``.
    limits : WorkerLimits

    Attributes
    ----------
    workers : int
        Tasks that it does side by side: the threads of all its workers, counted when it is first reached.

    Raises
    ------
    NoCluster
        When the libraries are missing, nobody answers, there are no workers, or some have another version.

    Notes
    -----
    Tasks are pickled code: whoever reaches the scheduler can run anything on its machines. To be used in a network
    where everybody is trusted.
    """

    def __init__(self, address: str, limits: WorkerLimits = LIMITS) -> None:
        try:
            from distributed import Client
        except ImportError:
            raise NoCluster(address, f"needs a library more: {EXTRA}") from None
        self.address, self.limits, self._watched = address, limits, dict[str, Cancel]()
        for name in ("distributed", "distributed.client", "distributed.core"):
            logging.getLogger(name).setLevel(logging.CRITICAL)
        try:
            # the library says nothing of types
            connect: Any = Client
            _knock(address, limits.reach_s)
            self._client: Any = connect(address, timeout=limits.reach_s, set_as_default=False)
        except (OSError, ValueError, TypeError, TimeoutError) as fault:
            mend = "start a scheduler there with 'dask scheduler', and give its address as it tells it, such as"
            raise NoCluster(address, f"nobody answers ({_first_line(fault)}): {mend} tcp://bench:8786") from None
        try:
            self.workers = sum(self._threads().values())
            self._same_everywhere()
        except BaseException:
            self._client.close(timeout=limits.leave_s)
            raise
        OPEN.add(self)

    def __enter__(self) -> Cluster:
        return self

    def __exit__(self, *fault: object) -> None:
        self.end()
        OPEN.discard(self)
        with contextlib.suppress(Exception):
            self._client.close(timeout=self.limits.leave_s)

    def share(self, thing: object) -> object:
        """Send what many tasks need to every worker, once; gives what to put in its place in a task."""
        with _or_lost():
            return self._client.scatter(thing, broadcast=True, hash=False)

    def watch(self, cancel: Cancel | None) -> None:
        """Remember a cancel that tasks know of, for `end`."""
        if cancel is not None:
            self._watched[cancel.name] = cancel

    def end(self, *cancels: Cancel) -> None:
        """End all tasks under way that know of some cancels, or of any that is watched."""
        names = [cancel.name for cancel in cancels or self._watched.values()]
        for name in names:
            self._watched.pop(name, None)
        if names:
            with contextlib.suppress(Exception):
                self._client.run(cancel_here, names)

    def answers(self, work: Callable[..., Any], tasks: Sequence[tuple[Any, ...]], at: Sequence[str] = ()) -> Answers:
        """Begin some tasks, each ``work(*task)``; ``at`` names for each the worker that should do it if it can."""
        futures = []
        for number, task in enumerate(tasks):
            where: dict[str, Any] = {"workers": [at[number]], "allow_other_workers": True} if at else {}
            with _or_lost():
                futures.append(self._client.submit(_done, work, *task, pure=False, **where))
        return Answers(self, futures)

    def seats(self, make: Callable[..., Callable[..., Any]], shared: object, own: Sequence[tuple[Any, ...]]) -> Seats:
        """Things that stay at workers between questions, each ``make(shared, *own[n])``: see `Seats`."""
        return Seats(self, make, shared, own)

    def tried(self, work: Callable[[], Answer]) -> Answer:
        """What some work gives that may fail while a machine drops out: it is tried again a little later.

        Raises
        ------
        Lost
            When it failed each time.
        """
        for _ in range(1, self.limits.tries):
            try:
                return work()
            except Lost:
                time.sleep(self.limits.again_s)
        return work()

    @property
    def lost(self) -> int:
        """How many of its workers have dropped out since it was reached, all of them where nobody answers any more."""
        try:
            return max(self.workers - sum(dict(self._client.nthreads()).values()), 0)
        except Exception:
            return self.workers

    @property
    def places(self) -> list[str]:
        """Addresses of its workers as they are now, each as often as it has threads."""
        with _or_lost():
            return [address for address, count in sorted(self._threads().items()) for _ in range(count)]

    def _threads(self) -> dict[str, int]:
        found = dict(self._client.nthreads())
        if not found:
            mend = f"it has no workers: start some with 'dask worker {self.address}'"
            raise NoCluster(self.address, mend)
        return found

    def _same_everywhere(self) -> None:
        here, found = version(), self._client.run(version, on_error="return")
        for address, told in sorted(found.items()):
            if told == here:
                continue
            what = f"has version {told}" if isinstance(told, str) else f"cannot load it ({_first_line(told)})"
            mend = f"worker {address} {what}, this machine has {here}: install the same on both"
            raise NoCluster(self.address, mend)


class Answers:
    """Tasks under way on a cluster; iterated, it gives number and answer of each as they come, and None now and then.

    Raises
    ------
    Lost
        When the cluster cannot do the rest.
    Exception
        Whatever a task raised.
    """

    def __init__(self, cluster: Cluster, futures: list[Any]) -> None:
        self._cluster, self._futures = cluster, futures
        self._over = queue.SimpleQueue[int]()
        for number, future in enumerate(futures):
            future.add_done_callback(functools.partial(self._heard, number))

    def __iter__(self) -> Iterator[tuple[int, Any] | None]:
        limits, heard = self._cluster.limits, time.monotonic()
        left = len(self._futures)
        while left:
            try:
                number = self._over.get(timeout=limits.look_s)
            except queue.Empty:
                if time.monotonic() - heard > limits.alone_s:
                    heard = time.monotonic()
                    self._anybody()
                yield None
                continue
            left, heard = left - 1, time.monotonic()
            yield number, self._answer(self._futures[number])

    def drop(self) -> None:
        """Ask for the rest no longer; what a worker is doing it does until its own end."""
        with contextlib.suppress(Exception):
            self._cluster._client.cancel(self._futures)

    def _heard(self, number: int, future: Any) -> None:
        self._over.put(number)

    def _answer(self, future: Any) -> Any:
        # what tasks raise comes back as an answer: all else is trouble of the cluster itself
        with _or_lost():
            answer, fault = future.result(timeout=self._cluster.limits.reach_s)
        if fault is not None:
            raise fault
        return answer

    def _anybody(self) -> None:
        with _or_lost():
            self._cluster._threads()


class Seats:
    """Things that stay at workers of a cluster between questions and change with each; a context manager.

    One whose worker was lost is made again elsewhere and asked once more all that it was asked, so that its answers are
    as if nothing had happened wherever they depend on nothing but that.
    """

    def __init__(
        self, cluster: Cluster, make: Callable[..., Any], shared: object, own: Sequence[tuple[Any, ...]]
    ) -> None:
        self._cluster, self._make, self._shared, self._own = cluster, make, shared, own
        self._key, self._asked = uuid.uuid4().hex, list[tuple[Any, ...]]()
        self._sent, self._places = list[object](), list[str]()

    def ask(self, question: tuple[Any, ...], ended: Callable[[], bool] = lambda: False) -> list[Any]:
        """The answers of all to a question, in their order; none when ``ended`` says to stop.

        Raises
        ------
        Lost
            When the cluster cannot answer.
        """
        self._asked.append(question)
        return self._cluster.tried(lambda: self._answered(ended))

    def _answered(self, ended: Callable[[], bool]) -> list[Any]:
        if not self._sent:
            places = self._cluster.places
            self._places = [places[n % len(places)] for n in range(len(self._own))]
            self._sent = [self._cluster.share(self._shared)]
        tasks = [(f"{self._key}-{n}", self._make, self._sent[0], own, self._asked) for n, own in enumerate(self._own)]
        found = dict[int, Any]()
        try:
            answers = self._cluster.answers(_answer_all, tasks, self._places)
            for heard in answers:
                if heard is not None:
                    found[heard[0]] = heard[1]
                elif ended():
                    answers.drop()
                    return []
        except Lost:
            # what was shared may be lost with the machines that had it
            self._sent = []
            raise
        return [found[number] for number in range(len(tasks))]


_SEATED: OrderedDict[str, tuple[Callable[..., Any], int]] = OrderedDict()
"""At a worker: the things seated here, with how many questions each has answered."""


def _answer_all(
    key: str,
    make: Callable[..., Callable[..., Any]],
    shared: object,
    own: tuple[Any, ...],
    asked: list[tuple[Any, ...]],
) -> Any:
    """The answer to the last of the questions asked so far, those before answered first where they were not here."""
    seat, answered = _SEATED.pop(key, (None, 0))
    if seat is None or answered >= len(asked):
        seat, answered = make(shared, *own), 0
    answer = None
    for question in asked[answered:]:
        answer = seat(*question)
    _SEATED[key] = seat, len(asked)
    while len(_SEATED) > LIMITS.most_seated:
        _SEATED.popitem(last=False)
    return answer


def _done(work: Callable[..., Any], *task: Any) -> tuple[Any, Exception | None]:
    """Do a task at a worker: its answer, or what it raised."""
    try:
        return work(*task), None
    except Exception as fault:
        fault.add_note(traceback.format_exc())
        return None, fault


def version() -> str:
    """What tells this code, and the Python it runs on, from others: both have to be the same on every machine."""
    package, mark = Path(__file__).resolve().parents[1], hashlib.sha256()
    for file in sorted(package.rglob("*.py")):
        # an installed package has the demo's data too, with the programs that made it
        if file.relative_to(package).parts[0] == "demo_data":
            continue
        mark.update(file.relative_to(package).as_posix().encode() + b"\0" + file.read_bytes())
    return f"{mark.hexdigest()[:8]} on Python {sys.version_info.major}.{sys.version_info.minor}"


def count(workers: int | Cluster) -> int:
    """How many work side by side."""
    return max(workers, 1) if isinstance(workers, int) else workers.workers


@contextlib.contextmanager
def _or_lost() -> Iterator[None]:
    """Trouble with the cluster as the one kind that callers know."""
    try:
        yield
    except Exception as trouble:
        raise Lost(_first_line(trouble)) from trouble


def _knock(address: str, seconds: float) -> None:
    """See whether a scheduler answers: a client that finds none is in no hurry to go away again."""
    import asyncio

    from distributed.comm.core import connect

    reach: Any = connect

    async def knock() -> None:
        comm = await reach(address, timeout=seconds)
        await comm.close()

    # a notebook has a loop of its own in this thread
    with ThreadPoolExecutor(1) as pool:
        pool.submit(asyncio.run, knock()).result()


def _first_line(fault: object) -> str:
    text = str(fault).strip() or type(fault).__name__
    return text.splitlines()[0][:200]
