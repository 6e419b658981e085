"""The process that children are forked from: started once, with the engines loaded, in a folder of its own for its socket.

Forking is POSIX.
"""

from __future__ import annotations

import multiprocessing
import multiprocessing.util
import os
import tempfile
import threading
from collections.abc import Sequence
from multiprocessing import forkserver

from preflight.scratch import new_scratch

_PRELOAD = ["preflight.preload", "preflight.errand"]
_PICTURES = "preflight.preload_pictures"
#: What a child imports only where a file needs it (2 to 8 ms each): loaded once for all files of a run instead.
NOW_AND_THEN = (
    "mmap",
    "numpy.random",
    "PIL.PsdImagePlugin",
    "PIL.TiffImagePlugin",
    "PIL.WebPImagePlugin",
    "preflight.report.ink_contours",
    "zxingcpp",
)
#: A socket's name may be 107 bytes at most: room for the names that are put behind this.
_LONGEST_TMPDIR = 60
_SHORT_TMPDIR = "/tmp"  # noqa: S108 - only where the system's own is too long; the folder in it is made for us alone
_SOCKETS = "pymp-preflight-"
_placing = threading.Lock()


def warm_up(also: Sequence[str] = (), *, pictures: bool = True) -> None:
    """Starts the fork server, so that it loads the engines while the caller reads rules and tickets; where one runs, that serves.

    ``also`` names further modules to load once: what the calling program is made of is otherwise loaded by every child anew.
    Without ``pictures``, what draws them is left for the child that should need it.
    """
    _place_sockets()
    for name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
        os.environ.setdefault(name, "1")
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload([*_PRELOAD, *([_PICTURES] if pictures else []), *also])
    forkserver.ensure_running()


def _place_sockets() -> None:
    """The fork server's socket gets a folder that is known again where this run is killed."""
    config: dict[str, object] = getattr(multiprocessing.current_process(), "_config", {})
    with _placing:
        if config.get("tempdir") is not None:
            return
        short = len(os.fsencode(tempfile.gettempdir())) <= _LONGEST_TMPDIR
        made = new_scratch(_SOCKETS, None if short else _SHORT_TMPDIR)
        multiprocessing.util.Finalize(None, made.leave, exitpriority=-100)
        config["tempdir"] = str(made.folder)
