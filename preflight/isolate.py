"""Runs ``flow`` on one file in child processes with time and memory limits, and survives whatever happens to them.

A child is forked from a preloaded server process (0.4 s once, then about 20 ms a file). It is told page numbers one by one
and sends back what it found, so that a crash, a hang, a memory burst or a killed child costs only the page in hand: what was
done is kept, the page is ``unchecked`` with the reason, and a fresh child takes the rest. Several children share the pages of
one file where more than one core may be used. A page that runs out of memory is tried once more with double the limit: if
that passes it was this tool's limit, and stays unchecked.

Forking and resource limits are POSIX.
"""

from __future__ import annotations

import contextlib
import multiprocessing
import os
import signal
import time
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass, field
from multiprocessing.connection import Connection, wait
from multiprocessing.process import BaseProcess
from pathlib import Path

from preflight.errand import Errand, Failure, run_errand
from preflight.errors import ToolFault
from preflight.findings import Report
from preflight.flow import Examined, PageResult, conclude
from preflight.fork_server import warm_up
from preflight.inventory.model import DocumentFacts
from preflight.report.illustrate import picture_file_findings
from preflight.ticket import Job

__all__ = ["FROM_OUTSIDE", "MIB", "Limits", "check_file", "granted_cores", "warm_up"]

DEFAULT_TIME_LIMIT_S = 600.0
DEFAULT_MEMORY_LIMIT_MB = 2048
#: After so many dead children a file's remaining pages are given up.
MOST_DEATHS = 3
#: Files of fewer pages than this are not worth a second child.
SHARE_FROM_PAGES = 4
#: What a child's exit status reads as when the server that forked it is gone.
_SERVER_GONE = 255
#: How a child ended that somebody ended, or the system for want of memory: it says nothing of the file.
SERVER_WORDS = "the server of child processes ended"
FROM_OUTSIDE = ("signal SIGKILL", SERVER_WORDS)
MIB = 1024 * 1024


@dataclass(frozen=True)
class Limits:
    """What one file may cost. ``cores``: how many children may share its pages."""

    time_s: float = DEFAULT_TIME_LIMIT_S
    memory_mb: int = DEFAULT_MEMORY_LIMIT_MB
    cores: int = 1


@dataclass
class _Child:
    process: BaseProcess
    pipe: Connection
    page: int | None = None
    waits: bool = False


def granted_cores() -> int:
    """The cores this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


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
        # Children that are done take their memory apart meanwhile.
        report = conclude(run.examined, job, started)
    finally:
        run.end()
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
    #: Sent home, and not waited for yet.
    leaving: list[_Child] = field(default_factory=list)
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
            message = Failure(f"the answer of the child could not be read ({type(fault).__name__})")
        match message:
            case DocumentFacts():
                self.take_document(message)
                self.feed(child)
            case int():
                child.page = message
            case PageResult():
                self.take_page(child, message)
            case Failure():
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

    def take_failure(self, child: _Child, failure: Failure) -> None:
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
        try:
            child.pipe.send(number)
        except OSError:  # it died between two pages: this one is another child's
            if number is not None:
                self.todo.appendleft(number)
                self.bury(child)
                return
        child.page = number
        if number is None:
            self.children.remove(child)
            self.leaving.append(child)

    def send_out(self, memory_mb: int) -> None:
        context = multiprocessing.get_context("forkserver")
        ours, theirs = context.Pipe()
        document = self.examined.document if self.opened else None
        cpu_s = int(max(1.0, self.seconds_left)) + 5
        job = self.job.to_check_by
        errand = Errand(self.source, self.name, job, self.pictures, memory_mb * MIB, cpu_s, document, self.plates)
        process = context.Process(target=run_errand, args=(theirs, errand), daemon=True)
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
        if child in self.leaving:
            self.leaving.remove(child)
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
        for child in self.children:
            child.process.kill()
        for child in [*self.children, *self.leaving]:
            self.dismiss(child)


def _last_words(exit_code: int | None) -> str:
    if exit_code is None:
        return "no answer"
    if exit_code == _SERVER_GONE:
        return SERVER_WORDS
    if exit_code < 0:
        with contextlib.suppress(ValueError):
            return f"signal {signal.Signals(-exit_code).name}"
    return f"exit status {exit_code}"
