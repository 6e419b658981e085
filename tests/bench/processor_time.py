"""Processor time of a command and of every process it leaves behind, such as its fork server; of no other process.

What a process used is told to whoever waits for its end. So while a command runs, processes that lose their parent become ours, and
after it those of its own process group are waited for: others may be children of ours and never end. Linux.
"""

from __future__ import annotations

import contextlib
import ctypes
import os
import resource
import subprocess
import time
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

_PR_SET_CHILD_SUBREAPER = 36


@dataclass
class Used:
    """Seconds by the clock until the command itself ended, and of processor time of all it started."""

    clock_s: float = 0.0
    cpu_s: float = 0.0


@contextlib.contextmanager
def measured(command: list[str], **options: Any) -> Iterator[tuple[subprocess.Popen[bytes], Used]]:
    """The command as started, to be waited for inside; what it used stands there afterwards."""
    used = Used()
    _adopt(1)
    try:
        before, started = _children_s(), time.perf_counter()
        # A group of its own: by that its processes are known.
        with subprocess.Popen(command, start_new_session=True, **options) as process:
            yield process, used
            process.wait()
        used.clock_s = time.perf_counter() - started
        with contextlib.suppress(ChildProcessError):
            while True:
                os.waitpid(-process.pid, 0)
        used.cpu_s = _children_s() - before
    finally:
        _adopt(0)


def _adopt(on: int) -> None:
    ctypes.CDLL(None).prctl(_PR_SET_CHILD_SUBREAPER, on, 0, 0, 0)


def _children_s() -> float:
    usage = resource.getrusage(resource.RUSAGE_CHILDREN)
    return usage.ru_utime + usage.ru_stime
