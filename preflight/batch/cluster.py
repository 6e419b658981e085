"""The same work on several machines, by a dask.distributed scheduler (extra ``[cluster]``).

A file goes to a worker by its path where the worker sees the same content there (a shared drive), by content otherwise. The worker
checks it in isolation as this machine would and sends back the report and its pictures; they are filed here, by content key,
once, however often the scheduler ran the task. A worker that dies costs a second try; a file whose workers died twice is
``unchecked`` and not tried again.
"""

from __future__ import annotations

import contextlib
import hashlib
import tempfile
import threading
from dataclasses import dataclass, replace
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from preflight.batch.ledger import SCRATCH, Result, scratch_in
from preflight.batch.run import Work, failed, file_report
from preflight.errors import ToolFault, UsageFault
from preflight.findings import Report
from preflight.isolate import Limits, check_file

#: Workers that may die over one file before it is given up.
MOST_DEATHS = 2
#: Files larger than this travel by path only.
MOST_CONTENT_BYTES = 512 * 1024 * 1024
_CONNECT_S = 20


@dataclass(frozen=True)
class Sent:
    """What a worker is sent: a path to try first, the content where the path may not be shared."""

    path: str
    name: str
    sha256: str
    content: bytes | None
    job: Any
    limits: Limits


def check_there(sent: Sent) -> tuple[Report, dict[str, bytes]]:
    """On the worker: checks the file and returns its report with the pictures by name. Raises ``ToolFault`` if it is not there."""
    with tempfile.TemporaryDirectory(prefix="preflight-") as scratch:
        source = Path(sent.path)
        if not _is_the_same(source, sent.sha256):
            if sent.content is None:
                raise ToolFault(f"the worker does not see {sent.path}, and the file is too large to be sent")
            source = Path(scratch) / "artwork"
            source.write_bytes(sent.content)
        pictures = Path(scratch) / "pictures"
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
    """Lanes on a cluster: as many at a time as its workers have threads, twice over so that none waits."""

    def __init__(self, address: str, out: Path, limits: Limits, stop: threading.Event) -> None:
        self.address, self.out, self.limits, self.stop = address, out, limits, stop

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
        return max(2, 2 * threads)

    def check(self, work: Work) -> Result | None:
        """Sends one file out, waits for its report, and files it here; None where the run was stopped meanwhile."""
        from distributed import CancelledError, KilledWorker

        path = work.candidate.path
        try:
            content = path.read_bytes() if work.candidate.bytes <= MOST_CONTENT_BYTES else None
        except OSError as fault:
            return failed(work.candidate, work.key, f"could not be read: {fault.strerror or fault}")
        sent = Sent(str(path.absolute()), path.name, work.sha256, content, work.job, self.limits)
        future = self.client.submit(check_there, sent, key=f"preflight-{work.key}", pure=False)
        try:
            while not self.stop.is_set():
                with contextlib.suppress(TimeoutError):
                    report, pictures = future.result(timeout=0.5)
                    break
            else:
                future.cancel()
                return None
        except KilledWorker:
            return failed(work.candidate, work.key, f"{MOST_DEATHS} workers died over it")
        except CancelledError:
            return failed(work.candidate, work.key, "the cluster gave it up")
        except Exception as fault:
            return failed(
                work.candidate, work.key, f"the cluster could not check it: {type(fault).__name__}: {fault}"[:300]
            )
        finally:
            future.release()
        try:
            with scratch_in(self.out / SCRATCH) as scratch:
                for name, data in pictures.items():
                    (scratch / Path(name).name).write_bytes(data)
                result = file_report(work, report, self.out, scratch)
        except OSError as fault:
            return failed(work.candidate, work.key, f"there is no room to work in: {fault.strerror or fault}")
        return replace(result, time_limit_s=self.limits.time_s, memory_limit_mb=self.limits.memory_mb)


def _allow_deaths(most: int, dask_scheduler: Any = None) -> None:
    dask_scheduler.allowed_failures = most
