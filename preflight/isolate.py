"""Runs ``flow`` on one file in child processes with time and memory limits, and survives whatever happens to them.

A child is forked from a preloaded server process (0.5 s once, then about 30 ms a file). It is told page numbers one by one
and sends back what it found, so that a crash, a hang, a memory burst or a killed child costs only the page in hand: what was
done is kept, the page is ``unchecked`` with the reason, and a fresh child takes the rest. Several children share the pages of
one file where more than one core may be used. A page that runs out of memory is tried once more with double the limit: if
that passes it was this tool's limit, and stays unchecked.

Forking and resource limits are POSIX.
"""

from __future__ import annotations

import contextlib
import ctypes
import multiprocessing
import multiprocessing.util
import os
import resource
import shutil
import signal
import sys
import tempfile
import time
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from multiprocessing import forkserver
from multiprocessing.connection import Connection, wait
from multiprocessing.process import BaseProcess
from pathlib import Path

from preflight.errors import ToolFault
from preflight.findings import Report
from preflight.flow import Examined, PageResult, conclude, examine
from preflight.inventory.model import DocumentFacts
from preflight.report.illustrate import picture_file_findings
from preflight.ticket import Job

DEFAULT_TIME_LIMIT_S = 600.0
DEFAULT_MEMORY_LIMIT_MB = 2048
#: After so many dead children a file's remaining pages are given up.
MOST_DEATHS = 3
#: Files of fewer pages than this are not worth a second child.
SHARE_FROM_PAGES = 4
#: This module too, and the program that the commands are: every child looks both up.
PRELOAD = ["preflight.preload", "preflight.isolate", "preflight.cli"]
MIB = 1024 * 1024
#: Room for the names that are put behind it.
_LONGEST_TMPDIR = 60


@dataclass(frozen=True)
class Limits:
    """What one file may cost. ``cores``: how many children may share its pages."""

    time_s: float = DEFAULT_TIME_LIMIT_S
    memory_mb: int = DEFAULT_MEMORY_LIMIT_MB
    cores: int = 1


@dataclass(frozen=True)
class _Errand:
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
class _Failure:
    """A child's own account of why it ends."""

    why: str
    out_of_memory: bool = False


@dataclass
class _Child:
    process: BaseProcess
    pipe: Connection
    page: int | None = None
    waits: bool = False


def granted_cores() -> int:
    """The cores this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def _shorten_sockets() -> None:
    """A socket's name may be 107 bytes at most: under a long TMPDIR the fork server's lies in /tmp instead."""
    config: dict[str, object] = getattr(multiprocessing.current_process(), "_config", {})
    if len(os.fsencode(tempfile.gettempdir())) > _LONGEST_TMPDIR and config.get("tempdir") is None:
        folder = tempfile.mkdtemp(prefix="pymp-", dir="/tmp")
        multiprocessing.util.Finalize(None, shutil.rmtree, args=(folder, True), exitpriority=-100)
        config["tempdir"] = folder


def warm_up(also: Sequence[str] = ()) -> None:
    """Starts the fork server, so that it loads the engines while the caller reads rules and tickets.

    ``also`` names further modules to load once: what the calling program is made of is otherwise loaded by every child anew.
    """
    _shorten_sockets()
    for name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
        os.environ.setdefault(name, "1")
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload([*PRELOAD, *also])
    forkserver.ensure_running()


def check_file(
    source: Path,
    job: Job,
    *,
    limits: Limits | None = None,
    name: str | None = None,
    pictures: Path | None = None,
    progress: Callable[[int, int | None], None] | None = None,
    cancelled: Callable[[], bool] | None = None,
    plates: Path | None = None,
) -> Report:
    """Checks one artwork in isolation and returns its report; never raises for anything the file contains.

    ``progress`` is called with pages done and pages in all. ``pictures`` is a folder that receives the report's pictures,
    ``plates`` one that receives the plates. Where
    ``cancelled`` says so, what is left is given up at once. Raises ``ToolFault`` where no child can be started.
    """
    started = time.monotonic()
    limits = limits or Limits()
    run = _Run(source, name or source.name, job, limits, pictures, progress, cancelled, started, plates)
    try:
        run.go()
    finally:
        run.end()
    report = conclude(run.examined, job, started)
    return report if pictures is None else picture_file_findings(report, pictures)


@dataclass
class _Run:
    """One file being examined by one or more children."""

    source: Path
    name: str
    job: Job
    limits: Limits
    pictures: Path | None
    progress: Callable[[int, int | None], None] | None
    cancelled: Callable[[], bool] | None
    started: float
    plates: Path | None = None
    children: list[_Child] = field(default_factory=list)
    todo: deque[int] = field(default_factory=deque)
    again: list[int] = field(default_factory=list)
    deaths: int = 0
    opened: bool = False

    def __post_init__(self) -> None:
        unknown = DocumentFacts(name=self.name, kind="unknown", bytes=None, sha256=None, pages=None)
        self.examined = Examined(self.name, unknown)

    @property
    def seconds_left(self) -> float:
        return self.limits.time_s - (time.monotonic() - self.started)

    def go(self) -> None:
        """Until every page is answered for, the time is up, or too many children have died."""
        warm_up()
        self.send_out(self.limits.memory_mb)
        self.serve()
        if self.again:
            self.try_again()

    def serve(self) -> None:
        while self.children:
            if self.seconds_left <= 0:
                self.give_up(f"not finished within the time limit of {self.limits.time_s:g} s")
                return
            if self.cancelled is not None and self.cancelled():
                self.give_up("stopped before it was done")
                return
            pipes = [child.pipe for child in self.children]
            patience_s = self.seconds_left if self.cancelled is None else min(0.5, self.seconds_left)
            for pipe in wait(pipes, timeout=max(0.0, patience_s)):
                child = next(child for child in self.children if child.pipe is pipe)
                self.hear(child)

    def hear(self, child: _Child) -> None:
        try:
            message = child.pipe.recv()
        except (EOFError, OSError):
            self.bury(child)
            return
        except Exception as fault:  # a message that cannot be unpacked is a fault of this tool, not of the run
            message = _Failure(f"the answer of the child could not be read ({type(fault).__name__})")
        match message:
            case DocumentFacts():
                self.take_document(message)
                self.feed(child)
            case int():
                child.page = message
            case PageResult():
                self.take_page(child, message)
            case _Failure():
                self.take_failure(child, message)
            case "ready":
                self.feed(child)

    def take_document(self, document: DocumentFacts) -> None:
        if self.opened:
            return
        self.opened = True
        self.examined.document = document
        self.todo.extend(range(1, (document.pages or 0) + 1))
        self.tell_progress()
        if len(self.todo) >= SHARE_FROM_PAGES:
            for _ in range(min(self.limits.cores, len(self.todo)) - 1):
                self.send_out(self.limits.memory_mb)

    def take_page(self, child: _Child, result: PageResult) -> None:
        number = result.summary.number
        child.page = None
        if result.out_of_memory:
            self.again.append(number)
        else:
            self.examined.results[number] = result
        self.tell_progress()
        self.feed(child)

    def take_failure(self, child: _Child, failure: _Failure) -> None:
        page = child.page
        self.dismiss(child)
        if failure.out_of_memory and page is not None:
            self.again.append(page)
            self.replace_child()
        elif failure.out_of_memory and not self.opened:
            self.examined.missing[None] = f"opening it needs more than {self.limits.memory_mb} MB of memory"
        elif page is not None:
            self.examined.missing[page] = failure.why
            self.replace_child()
        else:
            self.examined.missing[None] = failure.why
            self.drop_rest("the file could not be examined further: " + failure.why)

    def feed(self, child: _Child) -> None:
        """Hands the next page to a child, or sends it home."""
        number = self.todo.popleft() if self.todo else None
        with contextlib.suppress(OSError):
            child.pipe.send(number)
            if number is not None:
                child.page = number
                return
        self.dismiss(child)

    def send_out(self, memory_mb: int) -> None:
        context = multiprocessing.get_context("forkserver")
        context.set_forkserver_preload(PRELOAD)
        ours, theirs = context.Pipe()
        document = self.examined.document if self.opened else None
        cpu_s = int(max(1.0, self.seconds_left)) + 5
        errand = _Errand(self.source, self.name, self.job, self.pictures, memory_mb * MIB, cpu_s, document, self.plates)
        process = context.Process(target=_run_errand, args=(theirs, errand), daemon=True)
        try:
            process.start()
        except OSError as fault:
            raise ToolFault(f"no child process can be started: {fault}") from fault
        theirs.close()
        self.children.append(_Child(process, ours))

    def replace_child(self) -> None:
        """A fresh child for what is left, unless too many have died."""
        self.deaths += 1
        if self.deaths > MOST_DEATHS and self.todo:
            self.drop_rest(f"given up after {self.deaths} child processes ended before their time")
        elif self.todo and not self.children:
            self.send_out(self.limits.memory_mb)

    def bury(self, child: _Child) -> None:
        """A child that is gone without a word: the page in hand is unchecked, the rest goes on."""
        child.process.join(timeout=2.0)
        why = _last_words(child.process.exitcode)
        page = child.page
        self.dismiss(child)
        if not self.opened:
            self.examined.missing[None] = f"opening it ended the child process ({why})"
            return
        if page is not None:
            self.examined.missing[page] = f"drawing it ended the child process ({why})"
        self.replace_child()

    def dismiss(self, child: _Child) -> None:
        if child in self.children:
            self.children.remove(child)
        child.pipe.close()
        child.process.join(timeout=0.5)
        if child.process.is_alive():
            child.process.kill()
            child.process.join(timeout=5.0)

    def drop_rest(self, why: str) -> None:
        for number in self.todo:
            self.examined.missing[number] = why
        self.todo.clear()

    def give_up(self, why: str) -> None:
        if not self.opened:
            self.examined.missing[None] = f"opening it was {why}"
        for child in list(self.children):
            if child.page is not None:
                self.examined.missing[child.page] = why
            child.process.kill()
            self.dismiss(child)
        self.drop_rest(why)

    def try_again(self) -> None:
        """Pages that ran out of memory, once more with double the limit: if they pass, the limit was too low."""
        pages, self.again = self.again, []
        memory_mb = self.limits.memory_mb * 2
        for number in pages:
            self.todo = deque([number])
            self.examined.missing.pop(number, None)
            self.deaths = MOST_DEATHS
            self.send_out(memory_mb)
            self.serve()
            passed = self.examined.results.pop(number, None) is not None
            if passed:
                self.examined.missing[number] = f"needs more than the memory limit of {self.limits.memory_mb} MB"
            elif number in self.again or number not in self.examined.missing:
                self.examined.missing[number] = f"needs more than {memory_mb} MB of memory, twice the limit"
        self.again = []

    def tell_progress(self) -> None:
        if self.progress is not None:
            self.progress(len(self.examined.results), self.examined.document.pages)

    def end(self) -> None:
        for child in list(self.children):
            child.process.kill()
            self.dismiss(child)


def _last_words(exit_code: int | None) -> str:
    if exit_code is None:
        return "no answer"
    if exit_code < 0:
        with contextlib.suppress(ValueError):
            return f"signal {signal.Signals(-exit_code).name}"
    return f"exit status {exit_code}"


# --- in the child ----------------------------------------------------------------------------------------------------


def _run_errand(pipe: Connection, errand: _Errand) -> None:
    """Examines pages as they are asked for; ends with a ``_Failure`` instead of a traceback."""
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
        _tell(pipe, _Failure("out of memory", out_of_memory=True))
    except PermissionError:
        _tell(pipe, _Failure("no permission to read the file"))
    except OSError as fault:
        _tell(pipe, _Failure(f"the file could not be read: {fault.strerror or fault}"))
    except ToolFault as fault:
        _tell(pipe, _Failure(str(fault)))
    except RecursionError:
        _tell(pipe, _Failure("nested too deeply to follow"))
    except Exception as fault:
        _tell(pipe, _Failure(f"a fault of this tool: {type(fault).__name__}: {fault}"[:300]))
    os._exit(0)  # nothing of the engines' clean-up can fail or hang now


def _tell(pipe: Connection, message: object) -> None:
    with contextlib.suppress(Exception):
        pipe.send(message)


def live_within(memory_bytes: int, cpu_s: int) -> None:
    """Limits for this process; it also ends when its parent does."""
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
