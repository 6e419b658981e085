"""The process that children are forked from: started once, with the engines loaded, in a folder of its own for its socket.

Forking is POSIX.
"""

from __future__ import annotations

import contextlib
import fcntl
import multiprocessing
import multiprocessing.util
import os
import shutil
import tempfile
import threading
import time
from collections.abc import Sequence
from multiprocessing import forkserver
from pathlib import Path
from typing import TextIO

#: The program that the commands are, too: every child looks it up.
PRELOAD = ["preflight.preload", "preflight.isolate", "preflight.cli"]
#: A socket's name may be 107 bytes at most: room for the names that are put behind this.
_LONGEST_TMPDIR = 60
_SHORT_TMPDIR = "/tmp"  # noqa: S108 - only where the system's own is too long; the folder in it is made for us alone
_SOCKETS = "pymp-preflight-"
_LOCK = "in-use"
#: A folder younger than this may be somebody's who has not come to lock it yet.
_FRESH_S = 60.0
_placing = threading.Lock()


def warm_up(also: Sequence[str] = ()) -> None:
    """Starts the fork server, so that it loads the engines while the caller reads rules and tickets.

    ``also`` names further modules to load once: what the calling program is made of is otherwise loaded by every child anew.
    """
    _place_sockets()
    for name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
        os.environ.setdefault(name, "1")
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload([*PRELOAD, *also])
    forkserver.ensure_running()


def _place_sockets() -> None:
    """The fork server's socket gets a folder that is known again: what a killed run left there goes at the next start.

    Each folder holds a lock as long as its run lives.
    """
    config: dict[str, object] = getattr(multiprocessing.current_process(), "_config", {})
    with _placing:
        if config.get("tempdir") is not None:
            return
        parent = tempfile.gettempdir() if len(os.fsencode(tempfile.gettempdir())) <= _LONGEST_TMPDIR else _SHORT_TMPDIR
        for left in Path(parent).glob(f"{_SOCKETS}*"):
            with contextlib.suppress(OSError):
                if time.time() - left.stat().st_mtime < _FRESH_S:
                    continue
                with (left / _LOCK).open("a") as lock:
                    fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
                    shutil.rmtree(left, ignore_errors=True)
        folder = tempfile.mkdtemp(prefix=_SOCKETS, dir=parent)
        held = (Path(folder) / _LOCK).open("a")
        fcntl.flock(held, fcntl.LOCK_EX)
        # The lock goes with the folder: kept open until then.
        multiprocessing.util.Finalize(None, _leave_sockets, args=(folder, held), exitpriority=-100)
        config["tempdir"] = folder


def _leave_sockets(folder: str, held: TextIO) -> None:
    shutil.rmtree(folder, ignore_errors=True)
    held.close()
