"""A folder of artwork, overnight: found, checked side by side, written as it goes, summed up for the morning.

Each file is checked in its own child process (``isolate``), so nothing in it can stop the run. What was done before under the
same content, rules, ticket and version is not done again; twins say whose answer they share. Small files come first, so that no
big one keeps them waiting. A result that the disk does not take is told on standard error and counts as unchecked; the run goes on.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack
from dataclasses import dataclass, field, replace
from pathlib import Path
from queue import SimpleQueue

from preflight.batch.folder import Candidate, find_artwork
from preflight.batch.intake import Answered, Intake, Jobs, Room, Twin
from preflight.batch.lanes import Lanes
from preflight.batch.ledger import Ledger, Result
from preflight.batch.one_file import REPLACED, Work, failed
from preflight.batch.summary import Summary, write_summary
from preflight.errors import Fault, UsageFault
from preflight.findings import Verdict

#: The summary is written anew at most this often while the run goes on.
SUMMARY_EVERY_S = 5.0
#: ... and after this many times what writing it took.
SUMMARY_SHARE = 20.0

Tell = Callable[[Result, int, int], None]


@dataclass(frozen=True)
class _Checked:
    work: Work
    result: Result | None


@dataclass(frozen=True)
class _AllIn:
    """The intake has come to its end, with what went wrong in it."""

    fault: Exception | None = None


_Event = Work | Answered | Twin | _Checked | _AllIn


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
        self._twins: dict[str, list[Work]] = {}
        self._over = threading.Event()
        self._next_write = 0.0

    def go(self) -> Summary:
        """Checks all artwork below the folder. Raises ``UsageFault`` for bad rules or where another run holds ``out``."""
        settled = self.jobs.of(None)
        if isinstance(settled, Fault):
            raise settled
        refuse_same_folder(self.folder, self.out)
        with self.ledger.held():
            found = sorted(find_artwork(self.folder, (self.out,), self._closed), key=lambda one: (one.bytes, one.name))
            try:
                self.summary.total = len(found)
                self._write_summary()
                self._work_off(found)
                self.summary.finished = not self.stop.is_set()
            finally:
                self._write_summary(last=True)
        return self.summary

    def _closed(self, path: Path, why: str) -> None:
        where = "." if path == self.folder else path.relative_to(self.folder)
        self.summary.complaints.append(f"{where} was not looked into: {why}")

    def _stopped(self) -> bool:
        return self.stop.is_set() or self._over.is_set()

    def _work_off(self, found: list[Candidate]) -> None:
        """Hears of each file in turn, from the intake and from the lanes, until all have their answers."""
        events: SimpleQueue[_Event] = SimpleQueue()
        room = Room()
        intake = threading.Thread(target=self._take_in, args=(found, events, room), name="intake", daemon=True)
        all_in, in_hand = False, 0
        pool: ThreadPoolExecutor | None = None
        with ExitStack() as opened:
            opened.callback(intake.join, 5.0)
            opened.callback(self._over.set)
            intake.start()
            while in_hand or not all_in:
                event = events.get()
                again: Work | None = None
                match event:
                    case Work():
                        again = event
                    case Answered(result, earlier):
                        self.summary.resumed += earlier
                        self._take(result, keep=False)
                    case Twin(work):
                        again = self._take_twin(work)
                    case _Checked(work, result):
                        in_hand -= 1
                        room.widen()
                        if result is not None:
                            self._take(result, keep=result.report is not None)
                            again = self._next_of_its_twins(result)
                    case _AllIn(fault):
                        all_in = True
                        if fault is not None:
                            raise fault
                if again is not None:
                    if pool is None:
                        lanes = opened.enter_context(self.lanes)
                        pool = opened.enter_context(ThreadPoolExecutor(lanes.count, thread_name_prefix="lane"))
                        opened.callback(self._over.set)
                        room.widen(2 * lanes.count)
                    in_hand += 1
                    pool.submit(self._check, again, events)

    def _take_in(self, found: list[Candidate], events: SimpleQueue[_Event], room: Room) -> None:
        intake = Intake(self.jobs, self.ledger, self.lanes.limits, self.lanes.marked, self._stopped)
        try:
            for news in intake.sort_out(found):
                if isinstance(news, Work):
                    room.enter(self._stopped)
                events.put(news)
        except Exception as fault:  # it is raised again where the run can end in good order
            events.put(_AllIn(fault))
        else:
            events.put(_AllIn())

    def _check(self, work: Work, events: SimpleQueue[_Event]) -> None:
        try:
            result = None if self._stopped() else self.lanes.check(work)
        except Exception as fault:  # a fault of this tool on one file is that file's answer
            result = failed(work.candidate, work.key, f"a fault of this tool: {type(fault).__name__}: {fault}")
        events.put(_Checked(work, result))

    def _take(self, result: Result, *, keep: bool) -> None:
        if keep:
            try:
                self.ledger.keep(result)
            except OSError as fault:
                why = f"its result could not be kept: {fault.strerror or fault}"
                result = replace(result, verdict=_not_better(result.verdict), unchecked=[*result.unchecked, why])
        self.summary.add(result)
        self.tell(result, len(self.summary.results), self.summary.total)
        self._write_summary()

    def _take_twin(self, work: Work) -> Work | None:
        """Answers a twin whose like has its answer already; others wait for it."""
        first = self.summary.result(work.key)
        if first is None:
            self._twins.setdefault(work.key, []).append(work)
            return None
        self._twins[work.key] = [work]
        return self._next_of_its_twins(first)

    def _next_of_its_twins(self, result: Result) -> Work | None:
        """Answers the twins of what was checked; where that was replaced meanwhile, the next of them is to be checked."""
        twins = self._twins.pop(result.key, [])
        if twins and result.unchecked == [REPLACED]:
            self.summary.forget(result.key)
            if twins[1:]:
                self._twins[result.key] = twins[1:]
            return twins[0]
        for twin in twins:
            ticket = str(twin.candidate.ticket) if twin.candidate.ticket else None
            same = replace(result, name=twin.candidate.name, ticket=ticket, same_as=result.name, seconds=0.0)
            self._take(same, keep=False)
        return None

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
