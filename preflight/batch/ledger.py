"""What a run has done: one result a piece of work, kept under a key of content, so that a second run does only what is new.

The key is made of the artwork's content, the effective rules, the ticket's content and the tool's version: not of name or
time. Results are written to a temporary name and moved into place; the same result written twice is the same file.
"""

from __future__ import annotations

import fcntl
import hashlib
import json
import os
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import IO, Any

from preflight import __version__
from preflight.errors import UsageFault
from preflight.report.files import write_whole

RESULTS = "results"
_CHUNK_BYTES = 1 << 20


@dataclass(frozen=True)
class Result:
    """One file's answer in a run. ``names``: every name this content was met under."""

    key: str
    name: str
    verdict: str
    sha256: str | None
    bytes: int | None
    pages: int | None
    seconds: float
    counts: dict[str, int] = field(default_factory=dict)
    faults: list[str] = field(default_factory=list)
    worst: str = ""
    unchecked: list[str] = field(default_factory=list)
    report: str | None = None
    ticket: str | None = None
    same_as: str | None = None
    moved_to: str | None = None


def key_of(sha256: str, rules_sha256: str, ticket_sha256: str) -> str:
    """The key of one piece of work."""
    text = f"{sha256}|{rules_sha256}|{ticket_sha256}|{__version__}"
    return hashlib.sha256(text.encode()).hexdigest()[:32]


def sha256_of(path: Path) -> str:
    """The content's SHA-256. Raises ``OSError``."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


class Ledger:
    """The results below ``out/results``. Only one run at a time may hold it (``held``)."""

    def __init__(self, out: Path) -> None:
        self.out = out
        self.folder = out / RESULTS
        self._lock: IO[str] | None = None

    @contextmanager
    def held(self) -> Iterator[None]:
        """Holds the folder for this run. Raises ``UsageFault`` where another run holds it."""
        self.folder.mkdir(parents=True, exist_ok=True)
        lock = (self.out / ".preflight-run").open("a+")
        try:
            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            lock.close()
            raise UsageFault(
                f"{self.out}: another run is using this folder; wait for it, or name another --out"
            ) from None
        try:
            lock.seek(0)
            lock.truncate()
            lock.write(f"{os.getpid()} {int(time.time())}\n")
            lock.flush()
            yield
        finally:
            lock.close()

    def read(self, key: str) -> Result | None:
        """A result kept earlier; None where there is none, or where it is not whole."""
        try:
            held: dict[str, Any] = json.loads((self.folder / f"{key}.json").read_text(encoding="utf-8"))
            result = Result(**held)
        except (OSError, ValueError, TypeError):
            return None
        if result.report is not None and not (self.out / result.report / "report.json").is_file():
            return None
        return result

    def keep(self, result: Result) -> None:
        """Writes a result, once. Raises ``OSError`` where the disk does not take it."""
        text = json.dumps(asdict(result), ensure_ascii=False, indent=1)
        write_whole(self.folder / f"{result.key}.json", text.encode("utf-8", "backslashreplace"))
