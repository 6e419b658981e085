"""What a run over a folder shows while it goes on: a bar with rate and time left on a terminal, one line a file otherwise."""

from __future__ import annotations

import io
import os
import sys
from types import TracebackType
from typing import Self

import click

from preflight.batch.ledger import Result
from preflight.report.words import plain


class RunScreen:
    """Tells each result as it comes."""

    def __init__(self, *, quiet: bool = False) -> None:
        self.quiet = quiet
        write_anything()
        self._bar = None
        self._task = None
        if not quiet and sys.stderr.isatty():
            from rich.console import Console
            from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn

            self._bar = Progress(
                TextColumn("{task.description}", markup=False),
                BarColumn(),
                MofNCompleteColumn(),
                TextColumn("{task.fields[rate]}", markup=False),
                TimeRemainingColumn(),
                console=Console(stderr=True),
            )
            self._task = self._bar.add_task("checked", total=None, rate="")

    def __enter__(self) -> Self:
        if self._bar is not None:
            self._bar.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, fault: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._bar is not None:
            self._bar.stop()

    def tell(self, result: Result, done: int, total: int) -> None:
        """One more file is done."""
        if self._bar is not None and self._task is not None:
            speed = self._bar.tasks[0].speed
            rate = f"{speed:.1f} files/s" if speed else ""
            self._bar.update(self._task, completed=done, total=total, rate=rate)
            return
        if not self.quiet:
            self.say(line_of(result))

    def say(self, line: str, *, err: bool = False) -> None:
        """Says one line. Nobody listening, or a log on a full disk, ends no run: what counts are the reports."""
        try:
            click.echo(line, err=err)
        except OSError:
            self.quiet = True
            nowhere = os.open(os.devnull, os.O_WRONLY)
            os.dup2(nowhere, 2 if err else 1)
            os.close(nowhere)


def write_anything() -> None:
    """A clock-started run may have a narrow alphabet: strangers' names are then written with escapes, not refused."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")


def line_of(result: Result) -> str:
    """One line a file: verdict, name, and the first thing to know."""
    first = result.unchecked[0] if result.verdict == "unchecked" and result.unchecked else ", ".join(result.faults[:3])
    same = f"same as {plain(result.same_as)}" if result.same_as else plain(first)
    return f"{result.verdict.upper():9} {plain(result.name)}{'  ' + same if same else ''}"
