"""Ctrl-C and SIGTERM: a command ends at once, says what became of its work, and keeps what is worth keeping.

A thread of its own does it, for the main one may be deep in compiled code; that one is held where the signal finds it,
since an exception out of nowhere would surface in whatever library it is in.
"""

from __future__ import annotations

import contextlib
import gc
import os
import signal
import socket
import sys
import threading
import time
from collections.abc import Callable, Iterator
from types import FrameType

NOTHING = "stopped; nothing was written"
PATIENCE_S = 1.0
"""So long a search that has nothing to show yet has to come out with what it has."""
FLUSH_S = 0.2
"""A terminal that takes longer to take the last lines is not waited for."""


_IDLE = threading.Lock()


class _State:
    """What a stop finds of the command under way."""

    def __init__(self) -> None:
        self.stopped, self.good = False, False
        self.finish: Callable[[], str | None] = lambda: None
        self.ready: Callable[[], bool] = lambda: True
        self.hurry: Callable[[], None] = lambda: None


_state = _State()


def listen() -> None:
    """Hear of Ctrl-C and SIGTERM from now on; to be called once, by the main thread of a command."""
    ear, mouth = socket.socketpair()
    mouth.setblocking(False)
    threading.Thread(target=_watch, args=(ear, mouth), daemon=True, name="stopping").start()
    for number in (signal.SIGINT, signal.SIGTERM):
        signal.signal(number, _hold)
    signal.set_wakeup_fd(mouth.fileno(), warn_on_full_buffer=False)


def look() -> None:
    """Hold here where somebody asked for the end: what there is can be kept now."""
    if _state.stopped:
        threading.Event().wait()


@contextlib.contextmanager
def keeping(
    finish: Callable[[], str | None],
    ready: Callable[[], bool] = lambda: True,
    hurry: Callable[[], None] = lambda: None,
    good: bool = True,
) -> Iterator[None]:
    """While this lasts, ``finish`` is what becomes of a command that is stopped.

    Parameters
    ----------
    finish : callable
        Writes what is worth keeping, in a second or so, and gives what to say of it; None when nothing is kept. Another
        thread calls it while the main one is held, so it may wait for nothing that one has in hand.
    ready : callable
        Whether there is anything to keep.
    hurry : callable
        Asks for something to keep where there is nothing yet; the main thread then goes on to the next `look`.
    good : bool
        Whether the status is 0 when something is kept.
    """
    before = _state.finish, _state.ready, _state.hurry, _state.good
    _state.finish, _state.ready, _state.hurry, _state.good = finish, ready, hurry, good
    try:
        yield
    finally:
        _state.finish, _state.ready, _state.hurry, _state.good = before


def _hold(number: int, frame: FrameType | None) -> None:
    _state.stopped = True
    if _state.ready() and not _starting().locked():
        threading.Event().wait()
    _state.hurry()


def _watch(ear: socket.socket, mouth: socket.socket) -> None:
    """Wait for a signal, then end the process; ``mouth`` is only kept open."""
    numbers = (signal.SIGINT, signal.SIGTERM)
    while (heard := ear.recv(1)) and heard[0] not in numbers:
        pass
    if not heard:
        return
    _state.stopped = True
    began = time.monotonic()
    while not _state.ready() and time.monotonic() - began < PATIENCE_S:
        time.sleep(0.02)
    _end_helpers()
    # the process ends soon: looking for what it could free takes as long as writing a large layout
    gc.disable()
    try:
        said = _state.finish()
        text = said or NOTHING
    except Exception as fault:
        said, text = None, f"{NOTHING}: {fault}"
    _clear()
    flushing = threading.Thread(target=_flush, daemon=True)
    flushing.start()
    flushing.join(FLUSH_S)
    with contextlib.suppress(OSError):
        os.write(2, f"nesting: {text}\n".encode(errors="replace"))
    os._exit(0 if said and _state.good else 128 + heard[0])


def _starting() -> threading.Lock:
    """Held while a process is started; a lock of no meaning where none ever was."""
    helpers = sys.modules.get(f"{__package__.partition('.')[0]}.workers.helpers")
    found: threading.Lock = getattr(helpers, "starting", _IDLE)
    return found


def _end_helpers() -> None:
    """End processes started by this one, which its main thread can no longer do, and let it start no more."""
    _starting().acquire(timeout=PATIENCE_S)
    if "multiprocessing" in sys.modules:
        import multiprocessing

        for process in multiprocessing.active_children():
            process.kill()
    clusters = sys.modules.get(f"{__package__.partition('.')[0]}.workers.cluster")
    for cluster in list(getattr(clusters, "OPEN", ())):
        cluster.end()


def _clear() -> None:
    """Leave no file or folder behind that was being written."""
    if f"{__package__.partition('.')[0]}.atomic" in sys.modules:
        from ..atomic import clear_begun

        clear_begun()


def _flush() -> None:
    with contextlib.suppress(OSError, ValueError):
        if sys.stdout.isatty():
            # a bar that tells how far a search is hides the cursor
            sys.stdout.write("\r\x1b[2K\x1b[?25h")
        sys.stdout.flush()
