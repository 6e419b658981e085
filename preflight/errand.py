"""What a child process does for one file: lives within its limits, examines the pages it is asked for, says why it ends.

``isolate`` sends it out and hears it. Limits are POSIX.
"""

from __future__ import annotations

import contextlib
import ctypes
import gc
import multiprocessing.popen_forkserver  # noqa: F401 - what a child's end of the pipe is unpacked with: loaded before the fork
import os
import resource
import signal
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from multiprocessing.connection import Connection
from pathlib import Path

from preflight.errors import ToolFault
from preflight.flow import examine
from preflight.inventory.model import DocumentFacts
from preflight.ticket import Job


@dataclass(frozen=True)
class Errand:
    """What a child is sent out with."""

    source: Path
    name: str
    job: Job
    pictures: Path | None
    memory_bytes: int
    cpu_s: int
    document: DocumentFacts | None
    plates: Path | None


@dataclass(frozen=True)
class Failure:
    """A child's own account of why it ends."""

    why: str
    out_of_memory: bool = False


def run_errand(pipe: Connection, errand: Errand) -> None:
    """Examines pages as they are asked for; ends with a ``Failure`` instead of a traceback."""
    live_within(errand.memory_bytes, errand.cpu_s)

    def numbers() -> Iterator[int]:
        while (number := pipe.recv()) is not None:
            yield number

    try:
        if errand.document is not None:
            pipe.send("ready")
        examine(
            errand.source,
            errand.name,
            errand.job,
            numbers(),
            pipe.send,
            errand.pictures,
            errand.memory_bytes,
            errand.document,
            errand.plates,
        )
    except (EOFError, BrokenPipeError, KeyboardInterrupt):
        pass
    except MemoryError:
        _tell(pipe, Failure("out of memory", out_of_memory=True))
    except PermissionError:
        _tell(pipe, Failure("no permission to read the file"))
    except OSError as fault:
        _tell(pipe, Failure(f"the file could not be read: {fault.strerror or fault}"))
    except ToolFault as fault:
        _tell(pipe, Failure(str(fault)))
    except RecursionError:
        _tell(pipe, Failure("nested too deeply to follow"))
    except Exception as fault:
        _tell(pipe, Failure(f"a fault of this tool: {type(fault).__name__}: {fault}"[:300]))
    os._exit(0)  # nothing of the engines' clean-up can fail or hang now


def _tell(pipe: Connection, message: object) -> None:
    with contextlib.suppress(Exception):
        pipe.send(message)


def live_within(memory_bytes: int, cpu_s: int) -> None:
    """Limits for this process, and its ways with memory; it also ends when its parent does."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    signal.signal(signal.SIGTERM, signal.SIG_DFL)
    if sys.platform == "linux":
        pr_set_pdeathsig = 1
        ctypes.CDLL(None).prctl(pr_set_pdeathsig, signal.SIGKILL)
    with contextlib.suppress(ValueError, OSError):
        resource.setrlimit(resource.RLIMIT_DATA, (memory_bytes, memory_bytes))
    with contextlib.suppress(ValueError, OSError):
        resource.setrlimit(resource.RLIMIT_CPU, (cpu_s, cpu_s + 5))
    with contextlib.suppress(ValueError, OSError):
        resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    silent = os.open(os.devnull, os.O_RDWR)
    for stream in (0, 1, 2):
        os.dup2(silent, stream)
    _keep_freed_memory()
    # What the server loaded stays: it is not looked through for rubbish, and so the memory it lies in is not copied.
    gc.freeze()
    gc.enable()


def _keep_freed_memory() -> None:
    """Tells the C library to use freed memory again rather than give it back and ask for it anew, page after page.

    Saves a tenth of the work on full pages of pictures: the system clears whatever it hands out. Blocks from 16 MB on still go
    back at once, so large pictures leave nothing behind. Where the C library is not GNU's, nothing happens.
    """
    trim_threshold, mmap_threshold = -1, -3  # mallopt(3)
    with contextlib.suppress(AttributeError, OSError):
        mallopt = ctypes.CDLL(None).mallopt
        mallopt(mmap_threshold, 16 << 20)
        mallopt(trim_threshold, 64 << 20)
