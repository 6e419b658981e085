"""Where files are checked side by side: on the cores of this machine (``cluster`` has the lanes of several)."""

from __future__ import annotations

import threading
from pathlib import Path
from types import TracebackType
from typing import Protocol, Self

from preflight.batch.ledger import Result
from preflight.batch.one_file import Work, check_one
from preflight.fork_server import NOW_AND_THEN, warm_up
from preflight.isolate import Limits, granted_cores


class Lanes(Protocol):
    """Where files are checked side by side; entered when there is a first file to check."""

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


class LocalLanes:
    """Lanes on this machine: each file in a child process of its own."""

    def __init__(self, count: int, out: Path, limits: Limits, stop: threading.Event, *, marked: bool = False) -> None:
        self.count, self.out, self.limits, self.stop, self.marked = count, out, limits, stop, marked

    def __enter__(self) -> Self:
        warm_up(NOW_AND_THEN)
        return self

    def __exit__(
        self, kind: type[BaseException] | None, fault: BaseException | None, trace: TracebackType | None
    ) -> None:
        return None

    def check(self, work: Work) -> Result | None:
        return check_one(work, self.out, self.limits, self.stop.is_set, marked=self.marked)


def lanes_for(jobs: int | None) -> int:
    """How many files are checked side by side: asked for, else the cores this process is granted."""
    return jobs or granted_cores()
