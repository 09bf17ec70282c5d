"""Helper processes, and the channels over which this process and they talk."""

from __future__ import annotations

import contextlib
import multiprocessing
import signal
import sys
import threading
from collections.abc import Callable, Collection, Iterator
from multiprocessing import spawn
from multiprocessing.connection import Connection, wait
from multiprocessing.context import SpawnProcess
from types import ModuleType
from typing import Any

from .cancel import Cancel
from .limits import LIMITS, WorkerLimits

starting = threading.Lock()
"""Held while a process is started: who ends this process on the spot waits for it, else the new one would complain."""


class Gone(Exception):
    """Nobody is at the other end of a channel any more."""


class Channel:
    """One end of a line between two processes; what is sent arrives whole and in the order sent.

    Raises
    ------
    Gone
        By ``send`` and ``receive``, when the process at the other end is no more.
    """

    def __init__(self, connection: Connection) -> None:
        self.connection = connection

    def send(self, message: object) -> None:
        """Send anything that can be pickled."""
        try:
            self.connection.send(message)
        except OSError as fault:
            raise Gone from fault

    def receive(self) -> Any:
        """The next message; waits for it."""
        try:
            return self.connection.recv()
        except (EOFError, OSError) as fault:
            raise Gone from fault

    def waiting(self, seconds: float = 0.0) -> bool:
        """Whether, within a time, there is a message to receive, or the other end is gone."""
        try:
            return self.connection.poll(seconds)
        except OSError:
            return True


class Helpers:
    """Processes that work beside this one, each with a channel to it; a context manager that leaves none behind.

    With ``leading`` they may start helpers of their own; then they are not ended with this process by themselves, but
    by ``end``, or when they next use a channel to a process that is no more.

    They take no notice of Ctrl-C, which reaches every process of a terminal: this process decides what becomes of it,
    and ends them. One that was killed, perhaps for want of memory, is no longer among ``channels``. Machines of a
    cluster could stand behind the same methods: all that a helper gets and gives is pickled.
    """

    def __init__(self, limits: WorkerLimits = LIMITS, leading: bool = False) -> None:
        self.limits, self.leading = limits, leading
        self._processes: dict[Channel, SpawnProcess] = {}

    def __enter__(self) -> Helpers:
        return self

    def __exit__(self, *fault: object) -> None:
        self.end(*self.channels)

    @property
    def channels(self) -> list[Channel]:
        """A channel to each helper that was not lost, in the order started."""
        return list(self._processes)

    def start(self, work: Callable[..., None], *given: object) -> Channel:
        """Run ``work(channel, *given)`` in a process of its own until it returns or its channel raises ``Gone``."""
        context = multiprocessing.get_context("spawn")
        here, there = context.Pipe()
        process = context.Process(target=_work, args=(there,), daemon=not self.leading)
        with starting, _main_left_alone(), _quietly(), _deaf():
            process.start()
        there.close()
        channel = Channel(here)
        self._processes[channel] = process
        # not with the process: one whose parent is killed meanwhile would complain of half a message
        with contextlib.suppress(Gone):
            channel.send((work, given))
        return channel

    def end(self, *channels: Channel) -> None:
        """End the helpers at the other ends of some channels, whatever they are doing."""
        with starting:
            # never reached once this process is being ended, which ends its helpers itself: none of them was lost
            pass
        leaving = [(channel, self._processes.pop(channel)) for channel in channels if channel in self._processes]
        for channel, process in leaving:
            channel.connection.close()
            process.terminate()
        for _, process in leaving:
            process.join(self.limits.leave_s)
            if process.is_alive():
                process.kill()
                process.join()
            process.close()

    def tell(self, message: object) -> None:
        """Send a message to all of them."""
        for channel in self.channels:
            try:
                channel.send(message)
            except Gone:
                self.end(channel)

    def hear(self, seconds: float = 0.0) -> Iterator[Any]:
        """All messages that have come, each helper's waited for no longer than so many seconds after the one before."""
        for channel in self.channels:
            while channel in self._processes and channel.waiting(seconds):
                yield from self._received(channel)

    def hear_each(self, cancel: Cancel | None = None) -> Iterator[Any]:
        """One message from each of them, in the order they were started; fewer when some are lost, or on ``cancel``."""
        for channel in self.channels:
            while not channel.waiting(self.limits.look_s):
                if cancel is not None and cancel.cancelled:
                    return
            yield from self._received(channel)

    def _received(self, channel: Channel) -> list[Any]:
        try:
            return [channel.receive()]
        except Gone:
            self.end(channel)
            return []


def ready(channels: Collection[Channel], seconds: float) -> list[Channel]:
    """Those of some channels at which, within a time, a message waits or the other end is gone."""
    of = {channel.connection: channel for channel in channels}
    heard = wait(list(of), seconds)
    return [channel for connection, channel in of.items() if connection in heard]


@contextlib.contextmanager
def _main_left_alone() -> Iterator[None]:
    """A spawned process would run the caller's script from its top again, which then needs a guard against that;
    helpers need nothing of it."""
    main = sys.modules["__main__"]
    sys.modules["__main__"] = ModuleType("__main__")
    try:
        yield
    finally:
        sys.modules["__main__"] = main


@contextlib.contextmanager
def _quietly() -> Iterator[None]:
    """Processes started meanwhile end without a word where this one is killed before it has told them what to do; the
    standard library's own start would end in a traceback."""
    before = spawn.get_command_line

    def quiet(**given: Any) -> list[str]:
        *command, program, last = before(**given)
        return [*command, f"import contextlib\nwith contextlib.suppress(EOFError): {program}", last]

    spawn.get_command_line = quiet
    try:
        yield
    finally:
        spawn.get_command_line = before


@contextlib.contextmanager
def _deaf() -> Iterator[None]:
    """Processes started meanwhile never hear of Ctrl-C; this one hears of it afterwards."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def _work(connection: Connection) -> None:
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    channel = Channel(connection)
    with contextlib.suppress(Gone):
        work, given = channel.receive()
        work(channel, *given)
