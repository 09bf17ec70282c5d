"""Long work in processes of its own, and the word of it to every page that listens."""

from __future__ import annotations

import asyncio
import contextlib
import json
import multiprocessing
import os
import threading
import traceback
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from ..atomic import clear_begun
from ..errors import FileError
from ..workers import Channel, Gone, Helpers
from .limits import DEFAULT

FAULT, DONE = "fault", "done"
"""The last word of every task; others are its own."""


class Hub:
    """Tells pages what happens; ``tell`` may be called from any thread."""

    def __init__(self) -> None:
        self._ears: set[asyncio.Queue[str]] = set()
        self._loop: asyncio.AbstractEventLoop | None = None

    def begin(self) -> None:
        """Take the loop that this is called in as the one that pages are served in."""
        self._loop = asyncio.get_running_loop()

    def tell(self, event: str, data: object) -> None:
        """Send an event to every page that listens."""
        text = f"event: {event}\ndata: {json.dumps(data, default=str)}\n\n"
        if self._loop is not None and not self._loop.is_closed():
            self._loop.call_soon_threadsafe(self._spread, text)

    def _spread(self, text: str) -> None:
        for ear in self._ears:
            if ear.full():
                # a page that does not keep up asks for all of it again when it is back
                ear.get_nowait()
            ear.put_nowait(text)

    def listen(self) -> asyncio.Queue[str]:
        """What is told from now on."""
        ear: asyncio.Queue[str] = asyncio.Queue(maxsize=1000)
        self._ears.add(ear)
        return ear

    def leave(self, ear: asyncio.Queue[str]) -> None:
        """Listen no more."""
        self._ears.discard(ear)


@dataclass
class Task:
    """Work under way, or done: ``answer`` is what it came to, ``faults`` what is wrong, in words.

    ``outcome`` is how its process ended, known before ``state`` says that all that follows is done too: ``done``,
    ``fault`` or, where it was ended from outside, ``lost``.
    """

    number: int
    kind: str
    subject: str = ""
    state: str = "running"
    outcome: str = ""
    stopping: bool = False
    told: dict[str, Any] = field(default_factory=dict)
    answer: Any = None
    faults: list[str] = field(default_factory=list)
    ended: threading.Event = field(default_factory=threading.Event, repr=False)
    channel: Channel | None = field(default=None, repr=False)

    def words(self) -> dict[str, Any]:
        """What a page is told of it."""
        return {
            "number": self.number,
            "kind": self.kind,
            "subject": self.subject,
            "state": self.state,
            "stopping": self.stopping,
            "told": self.told,
            "answer": self.answer,
            "faults": self.faults,
        }


class Works:
    """Starts tasks, each in a process of its own, and hears of them in a thread each."""

    def __init__(self, hub: Hub) -> None:
        self.hub = hub
        self._helpers = Helpers(leading=True)
        self._lock = threading.Lock()
        self.tasks: dict[int, Task] = {}

    def running(self, kind: str, subject: str | None = None) -> Task | None:
        """A task of a kind that is under way, about a thing if one is named."""
        return next(
            (
                task
                for task in self.tasks.values()
                if task.kind == kind and task.state == "running" and subject in (None, task.subject)
            ),
            None,
        )

    def begin(
        self,
        kind: str,
        work: Callable[..., Any],
        *given: object,
        subject: str = "",
        heard: Callable[[Task, str, Any], None] = lambda task, word, data: None,
        after: Callable[[Task], None] = lambda task: None,
    ) -> Task:
        """Do ``work(say, *given)`` in a process; ``say(word, data)`` in it comes to ``heard`` here, and ``after`` is
        called once it is over, well or not."""
        with self._lock:
            task = Task(1 + max(self.tasks, default=0), kind, subject)
            self.tasks[task.number] = task
            task.channel = self._helpers.start(run, work, *given)
        self.hub.tell("task", task.words())
        threading.Thread(target=self._hear, args=(task, heard, after), daemon=True).start()
        return task

    def stop(self, task: Task) -> None:
        """Ask a task to come to an end with what it has."""
        task.stopping = True
        if task.channel is not None:
            try:
                task.channel.send("stop")
            except Gone:
                return
        self.hub.tell("task", task.words())
        threading.Timer(DEFAULT.stop_s, self._end, (task,)).start()

    def close(self) -> None:
        """End every process."""
        with self._lock:
            self._helpers.end(*self._helpers.channels)

    def _end(self, task: Task) -> None:
        with self._lock:
            if task.channel is not None:
                self._helpers.end(task.channel)

    def _hear(self, task: Task, heard: Callable[[Task, str, Any], None], after: Callable[[Task], None]) -> None:
        assert task.channel is not None
        state = "lost"
        try:
            while True:
                word, data = task.channel.receive()
                if word == DONE:
                    state, task.answer = "done", data
                    break
                if word == FAULT:
                    state, task.faults = "fault", data
                    break
                heard(task, word, data)
        except (Gone, ValueError, TypeError):
            pass  # its process was ended, or is no more
        self._end(task)
        try:
            task.outcome = state
            after(task)
        except FileError as error:
            task.outcome, task.faults = "fault", [str(fault) for fault in error.all]
        finally:
            task.state = task.outcome
            task.ended.set()
            self.hub.tell("task", task.words())


def run(channel: Channel, work: Callable[..., Any], *given: object) -> None:
    """In the process of a task: do it, and tell what came of it."""

    line = Line(channel)
    try:
        answer = work(line, *given)
        line.say(DONE, answer)
    except FileError as error:
        line.say(FAULT, [str(fault) for fault in error.all])
    except Gone:
        raise
    except Exception as error:
        traceback.print_exc()
        line.say(FAULT, [f"this should not happen ({type(error).__name__}): please report it with the job folder"])


class Line:
    """A task's line to the page's own process: it says how far it is, and hears when it is to end."""

    def __init__(self, channel: Channel) -> None:
        self._channel, self._lock = channel, threading.Lock()

    def say(self, word: str, data: object) -> None:
        """Tell something of the work; any thread may."""
        with self._lock:
            self._channel.send((word, data))

    def leave(self, answer: object = None) -> None:
        """End this process on the spot with all that it started, its answer told to whoever listens."""
        for process in multiprocessing.active_children():
            process.kill()
        with self._lock:
            with contextlib.suppress(Gone):
                self._channel.send((DONE, answer))
            clear_begun()
            os._exit(0)

    def on_stop(self, stop: Callable[[], None]) -> None:
        """Call ``stop`` when the end is asked for; when nobody listens any more this process ends as it is."""

        def hear() -> None:
            try:
                self._channel.receive()
            except Gone:
                self.leave()
            stop()

        threading.Thread(target=hear, daemon=True).start()
