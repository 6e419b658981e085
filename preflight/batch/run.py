"""A folder of artwork, overnight: found, checked side by side, written as it goes, summed up for the morning.

Each file is checked in its own child process (``isolate``), so nothing in it can stop the run. What was done before under the
same content, rules, ticket and version is not done again; twins say whose answer they share. Small files come first, and big
ones take at most half of the lanes, so that they do not starve the others. A result that the disk does not take is told on
standard error and counts as unchecked; the run goes on.
"""

from __future__ import annotations

import os
import threading
import time
from collections import deque
from collections.abc import Callable
from concurrent.futures import FIRST_COMPLETED, Future, ThreadPoolExecutor, wait
from dataclasses import dataclass, field, replace
from pathlib import Path
from types import TracebackType
from typing import Protocol, Self

from preflight.batch.folder import Candidate, find_artwork
from preflight.batch.ledger import SCRATCH, Ledger, Result, key_of, scratch_in, sha256_of
from preflight.batch.summary import Summary, write_summary
from preflight.errors import Fault, UsageFault
from preflight.findings import Report, Verdict
from preflight.isolate import Limits, check_file, warm_up
from preflight.marking import mark_in_child
from preflight.report.files import MARKED_NAME, write_reports
from preflight.report.terminal import waived_lines
from preflight.rules import settle
from preflight.ticket import Job

#: From this size a file is big: at most half of the lanes take such files at a time.
BIG_BYTES = 40 * 1024 * 1024
#: The summary is written anew at most this often while the run goes on.
SUMMARY_EVERY_S = 5.0
#: ... and after this many times what writing it took.
SUMMARY_SHARE = 20.0

Tell = Callable[[Result, int, int], None]


@dataclass
class Jobs:
    """Rules settled with each ticket once; a ticket that cannot be read is remembered with its fault."""

    rules: str | None
    _settled: dict[Path | None, Job | Fault] = field(default_factory=dict)

    def of(self, ticket: Path | None) -> Job | Fault:
        if ticket not in self._settled:
            try:
                self._settled[ticket] = settle(self.rules, ticket)
            except Fault as fault:
                self._settled[ticket] = fault
        return self._settled[ticket]

    def fresh(self, ticket: Path | None) -> Job | Fault:
        """The same, with the ticket read anew: it may have been mended since."""
        self._settled.pop(ticket, None)
        return self.of(ticket)


@dataclass(frozen=True)
class Work:
    """One piece of work: an artwork under a key, and the other names its content was met under."""

    candidate: Candidate
    key: str
    sha256: str
    job: Job


def check_one(
    work: Work, out: Path, limits: Limits, cancelled: Callable[[], bool] | None = None, *, marked: bool = False
) -> Result | None:
    """Checks one artwork and files its reports; None where it was cancelled. Never raises for what the file contains."""
    source = work.candidate.path
    try:
        with scratch_in(out / SCRATCH) as pictures:
            report = check_file(
                source, work.job, limits=limits, name=source.name, pictures=pictures, cancelled=cancelled
            )
            if cancelled is not None and cancelled():
                return None
            result = file_report(work, report, out, pictures, limits if marked else None)
            return replace(result, time_limit_s=limits.time_s, memory_limit_mb=limits.memory_mb)
    except OSError as fault:
        return failed(work.candidate, work.key, f"there is no room to work in: {fault.strerror or fault}")


def file_report(work: Work, report: Report, out: Path, pictures: Path, marking: Limits | None = None) -> Result:
    """Files one report below ``out/reports`` and returns what the ledger keeps of it; ``marking``: with a marked copy."""
    if report.file.sha256 not in (None, work.sha256):
        return failed(work.candidate, work.key, "the file was replaced while it was being read")
    try:
        # Under the key: one content with two tickets has two reports.
        folder = write_reports(report, out / "reports" / work.key[:8], pictures, work.candidate.path)
    except OSError as fault:
        return failed(work.candidate, work.key, f"its report could not be written: {fault.strerror or fault}")
    result = result_of(work, report, str(folder.relative_to(out)))
    if marking is None:
        return result
    return replace(result, marked=mark_in_child(work.candidate.path, report, folder / MARKED_NAME, marking, work.job) or "")


class LocalLanes:
    """Lanes on this machine: each file in a child process of its own."""

    def __init__(self, count: int, out: Path, limits: Limits, stop: threading.Event, *, marked: bool = False) -> None:
        self.count, self.out, self.limits, self.stop, self.marked = count, out, limits, stop, marked

    def __enter__(self) -> Self:
        warm_up()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, fault: BaseException | None, trace: TracebackType | None
    ) -> None:
        return None

    def check(self, work: Work) -> Result | None:
        return check_one(work, self.out, self.limits, self.stop.is_set, marked=self.marked)


class Lanes(Protocol):
    """Where files are checked side by side."""

    @property
    def count(self) -> int: ...
    @property
    def limits(self) -> Limits: ...
    @property
    def marked(self) -> bool: ...
    def __enter__(self) -> Self: ...
    def __exit__(
        self, kind: type[BaseException] | None, fault: BaseException | None, trace: TracebackType | None, /
    ) -> None: ...
    def check(self, work: Work) -> Result | None:
        """One file's answer, filed; None where the run was stopped meanwhile."""


def result_of(work: Work, report: Report, folder: str | None) -> Result:
    """What the ledger keeps of a report."""
    live = [finding for finding in report.findings if finding.waived is None]
    return Result(
        key=work.key,
        name=work.candidate.name,
        verdict=report.verdict.value,
        sha256=report.file.sha256 or work.sha256,
        bytes=report.file.bytes,
        pages=report.file.pages,
        seconds=report.seconds,
        counts=report.counts,
        faults=list(dict.fromkeys(finding.id for finding in live if finding.severity.value in ("stop", "ask"))),
        worst=live[0].message if live else "",
        unchecked=[f"page {item.page}: {item.why}" if item.page else item.why for item in report.unchecked],
        report=folder,
        ticket=str(work.candidate.ticket) if work.candidate.ticket else None,
        waived=waived_lines(report),
    )


def failed(candidate: Candidate, key: str, why: str) -> Result:
    """An answer for a file that could not be checked at all."""
    return Result(
        key=key,
        name=candidate.name,
        verdict=Verdict.UNCHECKED.value,
        sha256=None,
        bytes=candidate.bytes,
        pages=None,
        seconds=0.0,
        counts={"stop": 0, "ask": 0, "note": 0, "waived": 0, "unchecked": 1},
        unchecked=[why],
        ticket=str(candidate.ticket) if candidate.ticket else None,
    )


@dataclass
class BatchRun:
    """One run over a folder."""

    folder: Path
    out: Path
    rules: str | None
    lanes: Lanes
    tell: Tell
    #: Set to end the run after the files in hand.
    stop: threading.Event = field(default_factory=threading.Event)

    def __post_init__(self) -> None:
        self.jobs = Jobs(self.rules)
        self.ledger = Ledger(self.out)
        self.summary = Summary(folder=str(self.folder), rules=self.jobs.of(None))
        self._next_write = 0.0

    def go(self) -> Summary:
        """Checks all artwork below the folder. Raises ``UsageFault`` for bad rules or where another run holds ``out``."""
        settled = self.jobs.of(None)
        if isinstance(settled, Fault):
            raise settled
        refuse_same_folder(self.folder, self.out)
        with self.ledger.held():
            found = find_artwork(self.folder, (self.out,), self._closed)
            try:
                self._work_off(self._sorted_out(sorted(found, key=lambda one: (one.bytes, one.name))))
                self.summary.finished = not self.stop.is_set()
            finally:
                self._write_summary(last=True)
        return self.summary

    def _closed(self, folder: Path, why: str) -> None:
        where = "." if folder == self.folder else folder.relative_to(self.folder)
        self.summary.complaints.append(f"folder {where} was not looked into: {why}")

    def _sorted_out(self, found: list[Candidate]) -> deque[Work]:
        """What is new; what was done before, or has a twin in this run, is answered from there."""
        self.summary.total = len(found)
        self._write_summary()
        todo: deque[Work] = deque()
        keys: dict[str, Candidate] = {}
        self.twins: dict[str, list[Candidate]] = {}
        for candidate in found:
            if self.stop.is_set():
                break
            job = self.jobs.of(candidate.ticket)
            if isinstance(job, Fault):
                self._take(failed(candidate, f"ticket-{len(keys)}", f"its ticket is not sound: {job}"), keep=False)
                continue
            try:
                sha256 = sha256_of(candidate.path)
            except OSError as fault:
                self._take(failed(candidate, f"unread-{len(keys)}", f"could not be read: {fault.strerror}"), keep=False)
                continue
            key = key_of(sha256, job.rules_sha256, job.ticket_sha256)
            if key in keys:
                self.twins.setdefault(key, []).append(candidate)
                continue
            keys[key] = candidate
            earlier = self.ledger.read(key, self.lanes.limits)
            if earlier is not None and not (self.lanes.marked and earlier.marked is None):
                self.summary.resumed += 1
                ticket = str(candidate.ticket) if candidate.ticket else None
                self._take(replace(earlier, name=candidate.name, ticket=ticket), keep=False, twins=False)
            else:
                todo.append(Work(candidate, key, sha256, job))
        for key in [key for key in self.twins if self.summary.result(key) is not None]:
            self._take_twins(self.summary.result(key))
        return todo

    def _work_off(self, todo: deque[Work]) -> None:
        running: dict[Future[Result | None], Work] = {}
        if not todo:
            return
        with self.lanes as lanes, ThreadPoolExecutor(lanes.count, thread_name_prefix="lane") as pool:
            while (todo or running) and not (self.stop.is_set() and not running):
                while todo and len(running) < lanes.count and not self.stop.is_set():
                    work = self._next(todo, running, lanes.count)
                    if work is None:
                        break
                    running[pool.submit(lanes.check, work)] = work
                done, _ = wait(running, timeout=0.5, return_when=FIRST_COMPLETED)
                for future in done:
                    work = running.pop(future)
                    try:
                        result = future.result()
                    except Exception as fault:  # a fault of this tool on one file is that file's answer
                        result = failed(
                            work.candidate, work.key, f"a fault of this tool: {type(fault).__name__}: {fault}"
                        )
                    if result is not None:
                        self._take(result, keep=result.report is not None)

    def _next(self, todo: deque[Work], running: dict[Future[Result | None], Work], count: int) -> Work | None:
        """The next piece of work: the smallest, and big ones only while at most half of the lanes have one."""
        big = sum(work.candidate.bytes >= BIG_BYTES for work in running.values())
        if todo[0].candidate.bytes >= BIG_BYTES and running and big >= max(1, count // 2):
            return None
        return todo.popleft()

    def _take(self, result: Result, *, keep: bool, twins: bool = True) -> None:
        if keep:
            try:
                self.ledger.keep(result)
            except OSError as fault:
                why = f"its result could not be kept: {fault.strerror or fault}"
                result = replace(result, verdict=_not_better(result.verdict), unchecked=[*result.unchecked, why])
        self.summary.add(result)
        self.tell(result, len(self.summary.results), self.summary.total)
        if twins:
            self._take_twins(result)
        self._write_summary()

    def _take_twins(self, result: Result | None) -> None:
        if result is None:
            return
        for twin in self.twins.pop(result.key, []):
            same = replace(result, name=twin.name, same_as=result.name, seconds=0.0)
            self.summary.add(same)
            self.tell(same, len(self.summary.results), self.summary.total)

    def _write_summary(self, *, last: bool = False) -> None:
        if not last and time.monotonic() < self._next_write:
            return
        started = time.monotonic()
        self.summary.not_written = None
        try:
            write_summary(self.summary, self.out)
        except OSError as fault:
            self.summary.not_written = f"the summary could not be written: {fault.strerror or fault}"
        # A long summary takes longer to write: never more than a small share of the night.
        now = time.monotonic()
        self._next_write = now + max(SUMMARY_EVERY_S, SUMMARY_SHARE * (now - started))


def _not_better(verdict: str) -> str:
    return verdict if verdict == Verdict.STOP.value else Verdict.UNCHECKED.value


def refuse_same_folder(folder: Path, out: Path) -> None:
    """Reports among the artwork they are about would be neither found nor left alone: ``UsageFault``."""
    if out.exists() and out.samefile(folder):
        raise UsageFault(
            f"{out}: is the folder of artwork itself; a folder of its own was expected, inside or elsewhere"
        )


def lanes_for(jobs: int | None) -> int:
    """How many files are checked side by side: asked for, else the cores this process is granted."""
    if jobs:
        return jobs
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
