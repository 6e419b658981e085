"""The same work on several machines, by a dask.distributed scheduler (extra ``[cluster]``).

A file goes to a worker by its path where the worker sees the same content there (a shared drive); a worker that does not is sent the
content. The worker checks it in isolation as this machine would and sends back the report and its pictures; they are filed here, by content key,
once, however often the scheduler ran the task. A worker that dies costs a second try; a file whose workers died twice is
``unchecked`` and not tried again.
"""

from __future__ import annotations

import contextlib
import hashlib
import threading
import time
from dataclasses import dataclass, replace
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from preflight.batch.ledger import SCRATCH, Result, scratch_in
from preflight.batch.one_file import Work, failed, file_report
from preflight.errors import UsageFault
from preflight.findings import Report
from preflight.fork_server import NOW_AND_THEN, warm_up
from preflight.isolate import Limits, check_file
from preflight.scratch import scratch

#: Workers that may die over one file before it is given up.
MOST_DEATHS = 2
#: Files larger than this travel by path only.
MOST_CONTENT_BYTES = 512 * 1024 * 1024
_CONNECT_S = 20
#: A run whose last worker has been gone for so long gives up what it sent.
MOST_WITHOUT_WORKERS_S = 120.0
#: What a worker's own program is made of: a child would load it anew for every file (0.7 s).
_WORKER_PROGRAM = ("distributed", "dask.cli", "distributed.cli.dask_worker", "distributed.nanny")


@dataclass(frozen=True)
class Sent:
    """What a worker is sent: a path to try first, the content where the path is not shared."""

    path: str
    name: str
    sha256: str
    content: bytes | None
    job: Any
    limits: Limits


def check_there(sent: Sent) -> tuple[Report, dict[str, bytes]] | None:
    """On the worker: checks the file and returns its report with the pictures by name; None where it is not there."""
    warm_up((*_WORKER_PROGRAM, *NOW_AND_THEN))
    with scratch() as folder:
        source = Path(sent.path)
        if not _is_the_same(source, sent.sha256):
            if sent.content is None:
                return None
            source = folder / "artwork"
            source.write_bytes(sent.content)
        pictures = folder / "pictures"
        pictures.mkdir()
        report = check_file(source, sent.job, limits=sent.limits, name=sent.name, pictures=pictures)
        return report, {path.name: path.read_bytes() for path in sorted(pictures.iterdir()) if path.is_file()}


def _is_the_same(path: Path, sha256: str) -> bool:
    try:
        with path.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest() == sha256
    except OSError:
        return False


class ClusterLanes:
    """Lanes on a cluster: as many at a time as its workers have threads.

    No more: what waits at a worker that dies counts as having killed it.
    """

    def __init__(self, address: str, out: Path, limits: Limits, stop: threading.Event, *, marked: bool = False) -> None:
        self.address, self.out, self.limits, self.stop, self.marked = address, out, limits, stop, marked
        #: Whether workers have seen this machine's paths so far.
        self.shared = True

    def __enter__(self) -> Self:
        try:
            from distributed import Client
        except ImportError:
            raise UsageFault("--cluster needs the extra [cluster]: pip install 'preflight[cluster]'") from None
        try:
            self.client = Client(self.address, timeout=_CONNECT_S)
        except (OSError, ValueError) as fault:
            raise UsageFault(f"--cluster {self.address}: no scheduler answers there ({fault})") from None
        self.client.run_on_scheduler(_allow_deaths, most=MOST_DEATHS - 1)
        return self

    def __exit__(
        self, kind: type[BaseException] | None, fault: BaseException | None, trace: TracebackType | None
    ) -> None:
        with contextlib.suppress(Exception):
            self.client.close(timeout=5)

    @property
    def count(self) -> int:
        """How many files may be under way at a time."""
        threads: int = sum(self.client.nthreads().values())
        return max(1, threads)

    def check(self, work: Work) -> Result | None:
        """Sends one file out, waits for its report, and files it here; None where the run was stopped meanwhile."""
        from distributed import CancelledError, KilledWorker

        try:
            answer = self._sent_out(work, with_content=not self.shared)
            if answer is None and not self.stop.is_set() and self.shared:
                answer = self._sent_out(work, with_content=True)
                self.shared = answer is None
        except OSError as fault:
            return failed(work.candidate, work.key, f"could not be read or sent: {fault.strerror or fault}")
        except KilledWorker:
            return failed(work.candidate, work.key, f"{MOST_DEATHS} workers died over it")
        except CancelledError:
            return failed(work.candidate, work.key, "the cluster gave it up")
        except Exception as fault:
            why = f"the cluster could not check it: {type(fault).__name__}: {fault}"[:300]
            return failed(work.candidate, work.key, why)
        if self.stop.is_set():
            return None
        if answer is None:
            return failed(work.candidate, work.key, "no worker sees the file, and it is too large to be sent")
        return self._filed(work, *answer)

    def _sent_out(self, work: Work, *, with_content: bool) -> tuple[Report, dict[str, bytes]] | None:
        """What a worker answers; None where it does not see the file, or the run was stopped."""
        path = work.candidate.path
        fits = work.candidate.bytes <= MOST_CONTENT_BYTES
        content = path.read_bytes() if with_content and fits else None
        sent = Sent(str(path.absolute()), path.name, work.sha256, content, work.job, self.limits)
        key = f"preflight-{work.key}{'-content' if with_content else ''}"
        future = self.client.submit(check_there, sent, key=key, pure=False)
        last_seen = time.monotonic()
        try:
            while not self.stop.is_set():
                with contextlib.suppress(TimeoutError):
                    answer: tuple[Report, dict[str, bytes]] | None = future.result(timeout=0.5)
                    return answer
                if self.client.nthreads():
                    last_seen = time.monotonic()
                elif time.monotonic() - last_seen > MOST_WITHOUT_WORKERS_S:
                    raise UsageFault("no worker is left")
            future.cancel()
            return None
        finally:
            future.release()

    def _filed(self, work: Work, report: Report, pictures: dict[str, bytes]) -> Result:
        try:
            with scratch_in(self.out / SCRATCH) as folder:
                for name, data in pictures.items():
                    (folder / Path(name).name).write_bytes(data)
                result = file_report(work, report, self.out, folder, self.limits, marked=self.marked)
        except OSError as fault:
            return failed(work.candidate, work.key, f"there is no room to work in: {fault.strerror or fault}")
        return replace(result, time_limit_s=self.limits.time_s, memory_limit_mb=self.limits.memory_mb)


def _allow_deaths(most: int, dask_scheduler: Any = None) -> None:
    dask_scheduler.allowed_failures = most
