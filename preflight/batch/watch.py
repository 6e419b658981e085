"""Checks files as they arrive in a folder, until it is told to stop.

The watching library wakes the loop; where events do not come (network drives) a look around every few seconds finds the same. A
file is opened once it is whole (``whole``). What was done before a restart is not done again (``ledger``). On SIGTERM or Ctrl-C the
file in hand is given up and stays where it lies, so that the next start takes it up; nothing is half done.
"""

from __future__ import annotations

import os
import threading
import time
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, field, replace
from pathlib import Path

from watchdog.events import FileSystemEvent, FileSystemEventHandler
from watchdog.observers import Observer
from watchdog.observers.api import BaseObserver
from watchdog.observers.polling import PollingObserver

from preflight.batch.folder import Candidate, find_artwork
from preflight.batch.intake import Jobs
from preflight.batch.ledger import Ledger, Result, key_of, sha256_of
from preflight.batch.moving import move_without_overwriting
from preflight.batch.one_file import Work, check_one, failed
from preflight.batch.run import SUMMARY_EVERY_S, SUMMARY_SHARE, refuse_same_folder
from preflight.batch.summary import Summary, write_summary
from preflight.batch.whole import Arrivals
from preflight.errors import Fault, ToolFault
from preflight.findings import Verdict
from preflight.fork_server import NOW_AND_THEN, warm_up
from preflight.isolate import Limits

#: How long a look around may be away, and how long one event may be away from its look.
LOOK_EVERY_S = 10.0
_NAP_S = 0.5
#: A file that cannot be read is tried again this often before it is given an answer.
MOST_TRIES = 5


class _Bell(FileSystemEventHandler):
    def __init__(self, rung: threading.Event, out: Path) -> None:
        self.rung = rung
        self.out = os.fsencode(out.absolute()) + os.sep.encode()

    def on_any_event(self, event: FileSystemEvent) -> None:
        # Reading a file, and what is written about it below the watched folder, are no arrivals.
        where = os.path.abspath(os.fsencode(event.src_path))  # noqa: PTH100 - bytes: any name at all
        if event.event_type not in ("opened", "closed_no_write") and not where.startswith(self.out):
            self.rung.set()


@dataclass
class Watch:
    """A folder being watched."""

    folder: Path
    out: Path
    rules: str | None
    limits: Limits
    lanes: int
    tell: Callable[[Result], None]
    stop: threading.Event
    polling: bool = False
    #: Sort the artwork into ``go``, ``ask``, ``stop`` and ``unchecked`` folders below this one.
    sort_into: Path | None = None
    arrivals: Arrivals = field(default_factory=Arrivals)

    def __post_init__(self) -> None:
        self.jobs = Jobs(self.rules)
        self.ledger = Ledger(self.out)
        self.summary = Summary(folder=str(self.folder), rules=self.jobs.of(None))
        self._done: dict[Path, tuple[int, int]] = {}
        self._tries: dict[Path, int] = {}
        self._by_name: dict[str, Result] = {}
        self._changed = True
        self._next_write = 0.0

    def go(self) -> Summary:
        """Watches until ``stop`` is set. Raises ``UsageFault`` for bad rules or where another run holds ``out``."""
        settled = self.jobs.of(None)
        if isinstance(settled, Fault):
            raise settled
        for target in (self.out, self.sort_into):
            if target is not None:
                refuse_same_folder(self.folder, target)
        rung = threading.Event()
        rung.set()
        with self.ledger.held():
            warm_up(NOW_AND_THEN)
            observer = self._observer(rung)
            try:
                with ThreadPoolExecutor(self.lanes, thread_name_prefix="lane") as pool:
                    self._loop(rung, pool)
            finally:
                observer.stop()
                observer.join(timeout=5.0)
                self.summary.finished = True
                self._write_summary()
        return self.summary

    def _observer(self, rung: threading.Event) -> BaseObserver:
        kinds = (PollingObserver,) if self.polling else (Observer, PollingObserver)
        for kind in kinds:
            observer = kind()
            observer.schedule(_Bell(rung, self.out), str(self.folder), recursive=True)
            try:
                observer.start()
            except OSError:  # the system grants no more watches: look around instead
                continue
            return observer
        raise ToolFault(f"{self.folder}: cannot be watched")

    def _loop(self, rung: threading.Event, pool: ThreadPoolExecutor) -> None:
        running: dict[Path, Future[Result | None]] = {}
        looked_at = -LOOK_EVERY_S
        waiting = True
        while not self.stop.is_set():
            for path in [path for path, future in running.items() if future.done()]:
                self._finish(path, running.pop(path))
            if rung.is_set() or waiting or time.monotonic() - looked_at >= LOOK_EVERY_S:
                rung.clear()
                looked_at = time.monotonic()
                waiting = self._look_around(pool, running)
            if self._changed and time.monotonic() >= self._next_write:
                self._write_summary()
            self.stop.wait(_NAP_S)
        for path, future in running.items():
            self._finish(path, future)

    def _look_around(self, pool: ThreadPoolExecutor, running: dict[Path, Future[Result | None]]) -> bool:
        """Takes up what is new and whole; returns whether something is still arriving."""
        arriving = False
        for candidate in find_artwork(self.folder, (self.out, self.sort_into)):
            path = candidate.path
            try:
                about = path.stat()
                if path in running or self._done.get(path) == (about.st_size, about.st_mtime_ns):
                    continue
                if len(running) >= self.lanes or not self.arrivals.is_whole(path):
                    arriving = True
                    continue
                self._done[path] = (about.st_size, about.st_mtime_ns)
            except OSError:
                continue
            running[path] = pool.submit(self._check, candidate)
        return arriving

    def _check(self, candidate: Candidate) -> Result | None:
        job = self.jobs.fresh(candidate.ticket)
        if isinstance(job, Fault):
            return failed(candidate, "", f"its ticket is not sound: {job}")
        try:
            sha256 = sha256_of(candidate.path, stopped=self.stop.is_set, within_s=self.limits.time_s)
        except InterruptedError:
            return None
        except OSError as fault:
            return self._put_off(candidate, f"could not be read: {fault.strerror or fault}")
        key = key_of(sha256, job.rules_sha256, job.ticket_sha256)
        earlier = self.ledger.read(key, self.limits)
        if earlier is not None:
            same = earlier.name if earlier.name != candidate.name else earlier.same_as
            return replace(earlier, name=candidate.name, same_as=same)
        result = check_one(Work(candidate, key, sha256, job), self.out, self.limits, self.stop.is_set)
        if result is not None and result.report is not None:
            try:
                self.ledger.keep(result)
            except OSError as fault:
                why = f"its result could not be kept: {fault.strerror or fault}"
                return replace(result, verdict=Verdict.UNCHECKED.value, unchecked=[*result.unchecked, why])
        return result

    def _put_off(self, candidate: Candidate, why: str) -> Result | None:
        """Another try later, up to a few; then an answer."""
        self._tries[candidate.path] = self._tries.get(candidate.path, 0) + 1
        if self._tries[candidate.path] < MOST_TRIES:
            self._done.pop(candidate.path, None)
            self.arrivals.forget(candidate.path)
            return None
        return failed(candidate, "", why)

    def _finish(self, path: Path, future: Future[Result | None]) -> None:
        try:
            result = future.result()
        except Exception as fault:  # a fault of this tool on one file is that file's answer
            candidate = Candidate(path, str(path.relative_to(self.folder)), 0, None)
            result = failed(candidate, "", f"a fault of this tool: {type(fault).__name__}: {fault}")
        if result is None:
            self._done.pop(path, None)
            return
        self.arrivals.forget(path)
        if self.sort_into is not None:
            if self._was_replaced(path):
                # Another file has come under the name meanwhile: it has an answer of its own to get.
                self._done.pop(path, None)
                return
            result = self._sorted(path, result)
        earlier = self._by_name.pop(result.name, None)
        if earlier is not None:
            self.summary.results.remove(earlier)
        self._by_name[result.name] = result
        self.summary.add(result)
        self.summary.total = len(self.summary.results)
        self.tell(result)
        self._changed = True

    def _was_replaced(self, path: Path) -> bool:
        try:
            about = path.stat()
        except OSError:
            return False
        return self._done.get(path) != (about.st_size, about.st_mtime_ns)

    def _sorted(self, path: Path, result: Result) -> Result:
        try:
            target = move_without_overwriting(path, self.sort_into / result.verdict if self.sort_into else path.parent)
        except OSError as fault:
            return replace(result, unchecked=[*result.unchecked, f"could not be moved: {fault.strerror or fault}"])
        self._done.pop(path, None)
        return replace(result, moved_to=str(target))

    def _write_summary(self) -> None:
        started = time.monotonic()
        self._changed = False
        self.summary.not_written = None
        try:
            write_summary(self.summary, self.out)
        except OSError as fault:
            self._changed = True
            self.summary.not_written = f"the summary could not be written: {fault.strerror or fault}"
        now = time.monotonic()
        self._next_write = now + max(SUMMARY_EVERY_S, SUMMARY_SHARE * (now - started))
