"""Folders of small artwork, and the installed commands run over them as an operator's clock would run them."""

from __future__ import annotations

import contextlib
import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from artwork import Book, mm

PREFLIGHT = [sys.executable, "-m", "preflight"]
#: What a machine under load may need on top of the work itself.
PATIENCE_S = 90.0
UNPRIVILEGED = 65534
#: About 30 ms each: long enough to be disturbed, short enough to be waited for.
LONG_PAGES = 80


def small_pdf(path: Path, number: int = 0, pages: int = 1) -> Path:
    """A sound PDF of black squares whose place tells one number from another."""
    book = Book()
    for page in range(pages):
        book.page(f"0 0 0 1 k {mm(20 + number % 40)} {mm(20 + number // 40 + page % 20)} {mm(10)} {mm(10)} re f")
    path.parent.mkdir(parents=True, exist_ok=True)
    book.pdf.save(path, deterministic_id=True)
    return path


def long_pdf(path: Path) -> Path:
    """A PDF of so many pages that it is still being checked when a test comes to disturb it."""
    return small_pdf(path, number=7, pages=LONG_PAGES)


def slow_pdf(path: Path) -> Path:
    """A small file whose first page takes seconds, so that it is in hand for certain when a test comes to kill its child."""
    book = Book()
    square = f"{mm(20)} {mm(20)} {mm(10)} {mm(10)} re f "
    square_often = book.form("0 0 0 1 k " + 100 * square)
    book.page(60 * "/F Do ", resources={"F": square_often})
    for _ in range(3):
        book.page(f"0 0 0 1 k {square}")
    path.parent.mkdir(parents=True, exist_ok=True)
    book.pdf.save(path, deterministic_id=True)
    return path


def without_rights() -> list[str]:
    """A command that runs another as a user whom nothing belongs to.

    Where that user cannot reach this Python, the superuser does without its right to read all.
    """
    if os.getuid() != 0:
        return []
    nobody = f"os.setgroups([]); os.setgid({UNPRIVILEGED}); os.setuid({UNPRIVILEGED})"
    weakened = "[ctypes.CDLL(None).prctl(24, right, 0, 0, 0) for right in (1, 2)]"
    for way in (nobody, weakened):
        command = [sys.executable, "-c", f"import ctypes, os, sys; {way}; os.execv(sys.argv[1], sys.argv[1:])"]
        with contextlib.suppress(OSError):
            if subprocess.run([*command, *PREFLIGHT, "--version"], capture_output=True, check=False).returncode == 0:
                return command
    raise AssertionError("rights can be given up neither way")


@dataclass(frozen=True)
class Night:
    """What a run over a folder left behind."""

    status: int
    out: Path
    stdout: str
    stderr: str

    @property
    def summary(self) -> dict[str, Any]:
        return summary_in(self.out)

    @property
    def by_name(self) -> dict[str, dict[str, Any]]:
        return {result["name"]: result for result in self.summary["results"]}


def summary_in(out: Path) -> dict[str, Any]:
    return json.loads((out / "summary.json").read_text())


def batch(folder: Path, out: Path, *arguments: str, rights: Sequence[str] = (), **options: Any) -> Night:
    """Runs ``preflight batch`` to its end; a traceback fails the test. ``rights``: a command that gives up rights first."""
    command = [*rights, *PREFLIGHT, "batch", str(folder), "--out", str(out), *arguments]
    ended = subprocess.run(command, capture_output=True, timeout=PATIENCE_S, check=False, **options)
    return night_of(ended.returncode, out, ended.stdout, ended.stderr)


def night_of(status: int, out: Path, stdout: bytes, stderr: bytes) -> Night:
    said, complained = (text.decode("utf-8", "replace") for text in (stdout, stderr))
    assert "Traceback" not in said + complained, said + complained
    return Night(status, out, said, complained)


@contextlib.contextmanager
def started(*arguments: str | Path, **options: Any) -> Iterator[subprocess.Popen[bytes]]:
    """``preflight ARGUMENTS`` running in a group of its own; whatever is left of it is gone afterwards."""
    command = [*PREFLIGHT, *map(str, arguments)]
    # The tests themselves may have been told to outlive their terminal (nohup), which is handed down.
    options.setdefault("preexec_fn", lambda: signal.signal(signal.SIGHUP, signal.SIG_DFL))
    process = subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, start_new_session=True, **options
    )
    try:
        yield process
    finally:
        with contextlib.suppress(ProcessLookupError, PermissionError):
            os.killpg(process.pid, signal.SIGKILL)
        process.communicate()


def ended(process: subprocess.Popen[bytes], out: Path) -> Night:
    """Waits for the end of a started run and says what it left."""
    stdout, stderr = process.communicate(timeout=PATIENCE_S)
    return night_of(process.returncode, out, stdout, stderr)


def wait_until(true: Callable[[], object], what: str, seconds: float = PATIENCE_S) -> None:
    """Waits until something holds; fails with ``what`` where it never does."""
    end = time.monotonic() + seconds
    while not true():
        assert time.monotonic() < end, f"never came: {what}"
        time.sleep(0.05)


def children_of(pid: int) -> list[int]:
    """The processes a process has started."""
    children = []
    for stat in Path("/proc").glob("[0-9]*/stat"):
        with contextlib.suppress(OSError):
            after_name = stat.read_text().rpartition(")")[2].split()
            if int(after_name[1]) == pid:
                children.append(int(stat.parent.name))
    return children


def workers_of(pid: int) -> list[int]:
    """The children that check files: those of the server that forks them."""
    return [worker for server in children_of(pid) for worker in children_of(server)]


def has_open(pid: int, path: Path) -> bool:
    """Whether a process has a file open."""
    with contextlib.suppress(OSError):
        for descriptor in Path(f"/proc/{pid}/fd").iterdir():
            with contextlib.suppress(OSError):
                if descriptor.readlink() == path:
                    return True
    return False


def worker_on(pid: int, path: Path) -> int | None:
    """The child that has a file open, if one has."""
    return next((worker for worker in workers_of(pid) if has_open(worker, path)), None)
