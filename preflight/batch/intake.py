"""What a run does with each artwork it found: answered from earlier, the same as another, or to be checked.

Files are read for their content one by one, the smallest first and only a little ahead of the lanes, so that the first answer does not
wait until a whole folder was read, and a huge file at the end keeps nobody.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path

from preflight.batch.folder import Candidate
from preflight.batch.ledger import Ledger, Result, key_of, sha256_of
from preflight.batch.one_file import Work, failed
from preflight.errors import Fault
from preflight.isolate import Limits
from preflight.rules import settle
from preflight.ticket import Job


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
class Answered:
    """An artwork that needs no check: it has an answer from ``earlier``, or there is none to be had."""

    result: Result
    earlier: bool = False


@dataclass(frozen=True)
class Twin:
    """An artwork of the same content, rules and ticket as one before it."""

    work: Work


@dataclass(frozen=True)
class Intake:
    """Sorts out what was found. ``marked``: an earlier answer without a marked copy is not good enough."""

    jobs: Jobs
    ledger: Ledger
    limits: Limits
    marked: bool
    #: Asked while files are read: the run may have been stopped.
    stopped: Callable[[], bool]

    def sort_out(self, found: Iterable[Candidate]) -> Iterator[Work | Answered | Twin]:
        """Each artwork in its turn."""
        keys: set[str] = set()
        for turn, candidate in enumerate(found):
            if self.stopped():
                return
            job = self.jobs.of(candidate.ticket)
            if isinstance(job, Fault):
                yield Answered(failed(candidate, f"ticket-{turn}", f"its ticket is not sound: {job}"))
                continue
            try:
                sha256 = sha256_of(candidate.path, stopped=self.stopped, within_s=self.limits.time_s)
            except InterruptedError:
                return
            except OSError as fault:
                yield Answered(failed(candidate, f"unread-{turn}", f"could not be read: {fault.strerror or fault}"))
                continue
            work = Work(candidate, key_of(sha256, job.rules_sha256, job.ticket_sha256), sha256, job)
            if work.key in keys:
                yield Twin(work)
                continue
            keys.add(work.key)
            earlier = self.ledger.read(work.key, self.limits)
            if earlier is None or (self.marked and earlier.marked is None):
                yield work
            else:
                ticket = str(candidate.ticket) if candidate.ticket else None
                yield Answered(replace(earlier, name=candidate.name, ticket=ticket), earlier=True)


class Room:
    """How far the intake may be ahead of the lanes."""

    def __init__(self) -> None:
        self._free = threading.Semaphore(1)

    def widen(self, by: int = 1) -> None:
        self._free.release(by)

    def enter(self, stopped: Callable[[], bool]) -> None:
        """Waits for room, or until the run is stopped."""
        while not self._free.acquire(timeout=0.5):
            if stopped():
                return
