"""The other end of a job: what runs in its process.

Two pipes lead there. One tells of the work; from the other comes the word to stop, and its end
means that the server is gone, however it went. Either stops the work as Ctrl-C does, once: what
clears up is not stopped again.

Public: `run`.
"""

from __future__ import annotations

import _thread
import logging
import os
import signal
import threading
from contextlib import suppress
from multiprocessing.connection import Connection
from types import FrameType
from typing import Any

from reedwright.errors import ReedwrightError
from reedwright.web.jobs.model import Work

LONGEST_WORDS = 300  # letters of what is being done: a message that a pipe takes in one piece
LEAST_STEP = 0.001  # of the whole; smaller steps with the same words are not told
NICENESS = 5  # behind the server itself, so that pages stay quick (POSIX)
GRACE = 15.0  # seconds to clear up where the server is gone
FAULT = "Something went wrong in Reedwright itself; the terminal where it was started says more."


def run(said: Connection, told: Connection, work: Work, task: Any) -> None:
    """Do the work and tell of it: `("progress", share, doing)` while it goes on, and at the end
    one of `("done", outcome)`, `("failed", message)` and `("stopped",)`."""
    last: tuple[Any, ...]
    try:
        _hear(told)
        last = ("done", work(task, _Teller(said)))
        signal.signal(signal.SIGINT, signal.SIG_IGN)  # too late to be stopped
    except KeyboardInterrupt:
        last = ("stopped",)
    except ReedwrightError as error:
        last = ("failed", str(error))
    except MemoryError:
        last = ("failed", "There was too little memory. Close other programs, or ask for less.")
    except Exception:
        logging.getLogger("reedwright.web").exception("A job failed")
        last = ("failed", FAULT)
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    with suppress(OSError):  # the server is gone
        said.send(last)


class _Teller:
    """Progress, from any thread of the work, as messages that are never torn in two."""

    def __init__(self, said: Connection) -> None:
        self._said = said
        self._one = threading.Lock()
        self._before: tuple[float, str] = (-1.0, "")

    def __call__(self, share: float, doing: str) -> None:
        share, doing = min(1.0, max(0.0, float(share))), str(doing)[:LONGEST_WORDS]
        with self._one:
            before, words = self._before
            if doing == words and abs(share - before) < LEAST_STEP:
                return
            self._before = (share, doing)
            with suppress(OSError):  # the server is gone; whoever hears of it ends the work
                self._said.send(("progress", share, doing))


def _hear(told: Connection) -> None:
    """From now on Ctrl-C, and the word to stop, end the work."""
    if hasattr(os, "nice"):
        os.nice(NICENESS)
    signal.signal(signal.SIGINT, _once)
    threading.Thread(target=_wait_for_the_word, args=(told,), daemon=True).start()
    if hasattr(signal, "pthread_sigmask"):  # it was blocked while this process started
        signal.pthread_sigmask(signal.SIG_UNBLOCK, {signal.SIGINT})


def _once(number: int, frame: FrameType | None) -> None:
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    raise KeyboardInterrupt


def _wait_for_the_word(told: Connection) -> None:
    gone = False
    try:
        told.recv()
    except (EOFError, OSError):
        gone = True
    _interrupt()
    if gone:
        threading.Event().wait(GRACE)
        os._exit(1)


def _interrupt() -> None:
    """A signal wakes a main thread that waits; Windows has none, and there it is stopped when it
    next does something."""
    ident = threading.main_thread().ident
    if hasattr(signal, "pthread_kill") and ident is not None:
        signal.pthread_kill(ident, signal.SIGINT)
    else:
        _thread.interrupt_main()
