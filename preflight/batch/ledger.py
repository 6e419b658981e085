"""What a run has done: one result a piece of work, kept under a key of content, so that a second run does only what is new.

The key is made of the artwork's content, the effective rules, the ticket's content and the tool's version: not of name or
time. Results are written to a temporary name and moved into place; the same result written twice is the same file.
"""

from __future__ import annotations

import contextlib
import fcntl
import hashlib
import json
import shutil
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from pydantic_core import to_json

from preflight import __version__
from preflight.errors import UsageFault
from preflight.findings import Verdict
from preflight.isolate import FROM_OUTSIDE, Limits
from preflight.report.files import write_whole

RESULTS = "results"
SCRATCH = ".scratch"
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
    #: The limits it was checked under: an answer that a limit spoilt is not good enough where there is more now.
    time_limit_s: float | None = None
    memory_limit_mb: int | None = None
    #: What a person accepted: which, where, who and when.
    waived: list[str] = field(default_factory=list)
    #: Of the marked copy: None where none was asked for, empty where it lies beside the report, else why there is none.
    marked: str | None = None


_TEXTS = frozenset({"key", "name", "verdict", "worst"})
_FIGURES = frozenset({"bytes", "pages", "seconds", "time_limit_s", "memory_limit_mb"})
_LISTS = frozenset({"faults", "unchecked", "waived"})


def _is_sound(result: Result) -> bool:
    """Whether each value is of its kind: what lies on a disk may have been written by anybody."""
    for name, value in vars(result).items():
        if name == "counts":
            fits = isinstance(value, dict) and all(type(count) is int for count in value.values())
        elif name in _LISTS:
            fits = isinstance(value, list) and all(isinstance(text, str) for text in value)
        elif name in _FIGURES:
            fits = type(value) in (int, float) or (value is None and name != "seconds")
        else:
            fits = isinstance(value, str) or (value is None and name not in _TEXTS)
        if not fits:
            return False
    return True


def _were_tighter(result: Result, limits: Limits) -> bool:
    return (result.time_limit_s or 0.0) < limits.time_s or (result.memory_limit_mb or 0) < limits.memory_mb


@contextmanager
def scratch_in(folder: Path) -> Iterator[Path]:
    """A folder for one file's pictures, gone afterwards or moved meanwhile. Raises ``OSError`` where there is no room."""
    folder.mkdir(parents=True, exist_ok=True)
    made = Path(tempfile.mkdtemp(dir=folder))
    try:
        yield made
    finally:
        shutil.rmtree(made, ignore_errors=True)


def key_of(sha256: str, rules_sha256: str, ticket_sha256: str) -> str:
    """The key of one piece of work."""
    text = f"{sha256}|{rules_sha256}|{ticket_sha256}|{__version__}"
    return hashlib.sha256(text.encode()).hexdigest()[:32]


def sha256_of(path: Path, *, stopped: Callable[[], bool] | None = None, within_s: float | None = None) -> str:
    """The content's SHA-256.

    Raises ``OSError``; ``TimeoutError`` where reading takes longer than ``within_s`` (a file may claim a hundred gigabytes and hold
    nothing), ``InterruptedError`` where ``stopped`` says so.
    """
    started = time.monotonic()
    digest = hashlib.sha256()
    with path.open("rb", buffering=0) as file:
        while block := file.read(_CHUNK_BYTES):
            digest.update(block)
            if stopped is not None and stopped():
                raise InterruptedError("stopped")
            if within_s is not None and time.monotonic() - started > within_s:
                raise TimeoutError(f"reading it takes longer than the time limit of {within_s:g} s")
    return digest.hexdigest()


def json_bytes(value: dict[str, Any]) -> bytes:
    """A table of texts, figures, lists and tables as JSON; a half character (lone surrogate) is written as its escape."""
    try:
        return to_json(value, indent=1)  # ten times as fast as the standard library, which half characters need
    except ValueError:
        return json.dumps(value, ensure_ascii=False, indent=1).encode("utf-8", "backslashreplace")


class Ledger:
    """The results below ``out/results``. Only one run at a time may hold it (``held``).

    ``out/.scratch`` is where the files in hand have their pictures made; what a killed run left there goes at the next start.
    """

    def __init__(self, out: Path) -> None:
        self.out = out
        self.folder = out / RESULTS
        self.scratch = out / SCRATCH

    @contextmanager
    def held(self) -> Iterator[None]:
        """Holds the folder for this run. Raises ``UsageFault`` where another run holds it."""
        self.folder.mkdir(parents=True, exist_ok=True)
        lock = (self.out / ".preflight-run").open("a")
        try:
            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            lock.close()
            raise UsageFault(
                f"{self.out}: another run is using this folder; wait for it, or name another --out"
            ) from None
        try:
            self._sweep()
            yield
        finally:
            shutil.rmtree(self.scratch, ignore_errors=True)
            lock.close()

    def _sweep(self) -> None:
        """Removes what a killed run left half written."""
        shutil.rmtree(self.scratch, ignore_errors=True)
        for folder in (self.out, self.folder):
            for part in folder.glob(".*.part"):
                with contextlib.suppress(OSError):
                    part.unlink()
        # Reports are made in folders beside their place (``report.files``); nobody else is at work here now.
        for part in [*self.out.glob("reports/*/.*.part*"), *self.out.glob("reports/*/.*.old*")]:
            shutil.rmtree(part, ignore_errors=True)

    def read(self, key: str, limits: Limits | None = None) -> Result | None:
        """A result kept earlier; None where there is none, where it is not whole, or where ``limits`` now allow more."""
        try:
            held: dict[str, Any] = json.loads((self.folder / f"{key}.json").read_text(encoding="utf-8"))
            result = Result(**held | {"key": key})
            Verdict(result.verdict)
        except (OSError, ValueError, TypeError, RecursionError):
            return None
        if not _is_sound(result):
            return None
        if result.report is not None and not (self.out / result.report / "report.json").is_file():
            return None
        if any(words in why for why in result.unchecked for words in FROM_OUTSIDE):
            return None
        if limits is not None and result.unchecked and _were_tighter(result, limits):
            return None
        return result

    def keep(self, result: Result) -> None:
        """Writes a result, once. Raises ``OSError`` where the disk does not take it."""
        write_whole(self.folder / f"{result.key}.json", json_bytes(vars(result)))
