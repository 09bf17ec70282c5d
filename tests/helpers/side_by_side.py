"""Work for helper processes, which find it by its name here."""

import multiprocessing
import os
import signal
import time


def killed_in_a_helper(shared, number, which=None):
    """The sum; a helper process dies of task ``which``, or of any."""
    if multiprocessing.parent_process() is not None and which in (None, number):
        os.kill(os.getpid(), signal.SIGKILL)
    return shared + number


def slow(shared, seconds):
    time.sleep(seconds)
    return seconds


def interrupted(shared):
    raise KeyboardInterrupt


def echo(channel, word):
    while True:
        channel.send((word, channel.receive()))


def takes(channel, *given):
    channel.receive()


def once(channel, word):
    channel.send(word)


def deaf(channel):
    signal.signal(signal.SIGTERM, signal.SIG_IGN)
    channel.send(None)
    while True:
        signal.pause()


class KillsParent:
    """Kills the process that sent it as soon as the one it was sent to begins to read it."""

    def __reduce__(self):
        return _kill_parent, (os.getpid(),)


def _kill_parent(sender):
    if os.getpid() != sender:
        os.kill(sender, signal.SIGKILL)
        time.sleep(0.2)


def died_once(shared, number, mark):
    """The sum; the process dies of it first where the file ``mark`` is not there yet."""
    if mark is not None and not mark.exists():
        mark.touch()
        os.kill(os.getpid(), signal.SIGKILL)
    return shared + number
