"""Makes the marked copy of an artwork in a child process with limits, as everything is that opens a stranger's file.

A copy that cannot be made costs nothing but itself: the report stands without it.
"""

from __future__ import annotations

import multiprocessing
import os
from multiprocessing.connection import Connection
from pathlib import Path

from preflight.errand import live_within
from preflight.findings import Report
from preflight.fork_server import warm_up
from preflight.isolate import MIB, Limits
from preflight.ticket import Job

#: A copy takes no longer than the check itself may; most take a tenth of a second.
_MOST_S = 60.0


def mark_in_child(
    source: Path, report: Report, target: Path, limits: Limits | None = None, job: Job | None = None
) -> str | None:
    """Writes the marked copy of an artwork with findings; a former one is removed. Returns why there is none, where there is none.

    ``job`` is what a picture was checked for: it says how large the picture is.
    """
    target.unlink(missing_ok=True)
    if not report.pages:
        return "there are no pages to mark"
    if not report.findings:
        return "nothing was found"
    limits = limits or Limits()
    seconds = min(_MOST_S, limits.time_s)
    warm_up()
    context = multiprocessing.get_context("forkserver")
    ours, theirs = context.Pipe(duplex=False)
    part = target.with_name(f".{target.name}.part")
    child = context.Process(
        target=_mark, args=(theirs, source, report, part, job, limits.memory_mb * MIB, int(seconds) + 5), daemon=True
    )
    try:
        child.start()
        theirs.close()
        why = _answer(ours, seconds)
        if why is None:
            part.replace(target)
    except OSError as fault:
        why = f"no child process can be started, or its copy not moved: {fault.strerror or fault}"
    finally:
        if child.pid is not None:
            child.kill()
            child.join(timeout=5.0)
        ours.close()
        for left in target.parent.glob(f".{part.name}.*.part"):
            left.unlink(missing_ok=True)
        part.unlink(missing_ok=True)
    return why


def _answer(pipe: Connection, seconds: float) -> str | None:
    try:
        answer: str | None = pipe.recv() if pipe.poll(seconds) else f"not finished in {seconds:g} s"
    except (EOFError, OSError):
        return "the child process ended without a word"
    return answer


def _mark(
    pipe: Connection, source: Path, report: Report, target: Path, job: Job | None, memory_bytes: int, cpu_s: int
) -> None:
    """In the child: writes the copy and says nothing, or says why not."""
    live_within(memory_bytes, cpu_s)
    why: str | None = None
    try:
        from preflight.report.marked import mark_copy

        mark_copy(source, report, target, job)
    except Exception as fault:
        why = str(fault) or type(fault).__name__
    pipe.send(why)
    os._exit(0)  # nothing of the engines' clean-up can fail or hang now
