"""Folders for what is needed only while a run goes on: gone with it, and gone at the next start where it was killed.

Each folder holds a lock as long as its run lives; a folder of that name whose lock nobody holds was left by one that was killed.
"""

from __future__ import annotations

import contextlib
import fcntl
import shutil
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TextIO

_LOCK = ".in-use"
#: A folder younger than this may be somebody's who has not come to lock it yet.
_FRESH_S = 60.0


@dataclass(frozen=True)
class Scratch:
    """A folder with its lock, which is held until both go."""

    folder: Path
    lock: TextIO

    def leave(self) -> None:
        shutil.rmtree(self.folder, ignore_errors=True)
        self.lock.close()


def new_scratch(prefix: str, parent: str | None = None) -> Scratch:
    """A new folder below ``parent`` (the system's temporary folder); what killed runs left there under ``prefix`` goes.

    Raises ``OSError`` where there is no room.
    """
    where = Path(parent or tempfile.gettempdir())
    for left in where.glob(f"{prefix}*/{_LOCK}"):
        with contextlib.suppress(OSError):
            if time.time() - left.stat().st_mtime >= _FRESH_S:
                with left.open("a") as lock:
                    fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
                    shutil.rmtree(left.parent, ignore_errors=True)
    folder = Path(tempfile.mkdtemp(prefix=prefix, dir=where))
    lock = (folder / _LOCK).open("w")
    fcntl.flock(lock, fcntl.LOCK_EX)
    return Scratch(folder, lock)


@contextmanager
def scratch(prefix: str = "preflight-") -> Iterator[Path]:
    """A folder that is gone afterwards."""
    made = new_scratch(prefix)
    try:
        yield made.folder
    finally:
        made.leave()
