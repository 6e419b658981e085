"""One line a file, for a screen or a log: the quiet form of ``terminal``, which loads no terminal library."""

from __future__ import annotations

import io
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

import click

from preflight.findings import Report
from preflight.report.words import counts_words, plain


class QuietScreen:
    """Where the line goes: standard output, or standard error where that carries the JSON report."""

    def __init__(self, *, to_stderr: bool = False) -> None:
        self.to_stderr = to_stderr
        write_anything()

    def show(self, report: Report, written: Sequence[Path] = ()) -> None:  # noqa: ARG002 - as a full screen is asked
        """Prints one report as one line."""
        click.echo(quiet_line(report), err=self.to_stderr)

    @contextmanager
    def progress(self, name: str) -> Iterator[None]:  # noqa: ARG002
        """None is shown."""
        yield None


def quiet_line(report: Report) -> str:
    """Verdict, file and counts, without a line end."""
    return f"{report.verdict.value.upper():9} {plain(report.file.name)}: {counts_words(report)}"


def write_anything() -> None:
    """An old terminal that knows no such letter shows a mark instead of ending the run."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")
