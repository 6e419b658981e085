"""Ctrl-C and SIGTERM end a run in good order: the files in hand are given up or finished, the summary stays true."""

from __future__ import annotations

import signal
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from types import FrameType


@contextmanager
def stopping(stop: threading.Event) -> Iterator[list[int]]:
    """Sets ``stop`` on SIGINT, SIGTERM or SIGHUP; yields a list that then holds the signal's number."""
    received: list[int] = []

    def note(number: int, _frame: FrameType | None) -> None:
        received.append(number)
        stop.set()

    earlier = {number: signal.signal(number, note) for number in (signal.SIGINT, signal.SIGTERM)}
    # The terminal is gone: the same, unless the run was told to outlive it (nohup).
    if signal.getsignal(signal.SIGHUP) != signal.SIG_IGN:
        earlier[signal.SIGHUP] = signal.signal(signal.SIGHUP, note)
    try:
        yield received
    finally:
        for number, handler in earlier.items():
            signal.signal(number, handler)
