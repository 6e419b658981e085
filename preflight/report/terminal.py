"""Prints a report for somebody at a screen: the verdict first, then what was not checked, then findings, worst first.

80 columns where the output is not a terminal, and no colour there. Strangers' text is never read as markup.
"""

from __future__ import annotations

import io
import sys
import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

from rich.console import Console
from rich.text import Text

from preflight.findings import Report, Verdict
from preflight.report.lines import not_judged_line, unchecked_lines, unused_waiver_lines, waived_lines
from preflight.report.quiet import write_anything
from preflight.report.words import (
    SEVERITIES,
    SEVERITY_MEANS,
    SEVERITY_WORDS,
    VERDICT_WORDS,
    Alike,
    Trims,
    alike,
    alike_places,
    artwork_words,
    counts_words,
    figures,
    job_words,
    plain,
    trims_of,
)
from preflight.ticket import Job

COLUMNS = 80
#: Weight and reversal instead of colours: they mean the same to everybody.
_STYLES = {
    Verdict.STOP: "bold reverse",
    Verdict.UNCHECKED: "bold reverse",
    Verdict.ASK: "bold underline",
    Verdict.GO: "bold",
}
#: A wait shorter than this needs no progress.
_PATIENCE_S = 1.0


def render_terminal(report: Report, written: Sequence[Path] = ()) -> str:
    """The report as text of 80 columns, without colour."""
    file = io.StringIO()
    console = Console(file=file, width=COLUMNS, color_system=None, force_terminal=False, highlight=False, emoji=False)
    print_report(report, console, written)
    return file.getvalue()


def print_report(report: Report, console: Console, written: Sequence[Path] = ()) -> None:
    """The whole answer about one file."""
    head = Text(report.verdict.value.upper(), style=_STYLES[report.verdict])
    console.print(head + Text(f"  {VERDICT_WORDS[report.verdict]}", style="bold"))
    paragraph(console, f"{plain(report.file.name)}  ({artwork_words(report)})")
    if job_words(report):
        paragraph(console, f"Job {job_words(report)}")
    paragraph(console, f"{counts_words(report)}; rules {plain(report.rules.name)}")
    if report.unchecked:
        _heading(console, "NOT CHECKED", "no answer, so no go")
        for line in unchecked_lines(report.unchecked):
            paragraph(console, line, indent=2)
    trims = trims_of(report)
    live = [finding for finding in report.findings if finding.waived is None]
    for severity in SEVERITIES:
        groups = alike(finding for finding in live if finding.severity is severity)
        if groups:
            _heading(console, SEVERITY_WORDS[severity].upper(), SEVERITY_MEANS[severity])
            for group in groups:
                _print_group(console, group, trims)
    _print_waived(console, report)
    for line in unused_waiver_lines(report):
        console.print()
        paragraph(console, line)
    if report.not_judged:
        console.print()
        paragraph(console, not_judged_line(report.not_judged))
    if written:
        console.print()
        for path in written:
            # One word that is never broken, so that it can be copied.
            console.print(Text(f"Written to {plain(path)}"), soft_wrap=True)
    console.print()


def _heading(console: Console, word: str, means: str) -> None:
    console.print()
    console.print(Text(word, style="bold") + Text(f"  {means}", style="dim"))


def paragraph(console: Console, line: str | Text, indent: int = 0, hang: int = 0) -> None:
    """A text within the width; lines after the first stand ``hang`` columns further in."""
    text = Text(line) if isinstance(line, str) else line
    for turn, part in enumerate(text.wrap(console, max(20, console.width - indent - hang))):
        part.rstrip()
        console.print(Text(" " * (indent + (hang if turn else 0))) + part, soft_wrap=True)


def _print_group(console: Console, group: Alike, trims: Trims) -> None:
    worst = group.worst
    head = Text(plain(worst.id), style="bold")
    times = f" x{group.count}" if group.count > 1 else ""
    said = figures(worst)
    if said and len(group.findings) > 1:
        said = f"worst {said}"
    head += Text(f"{times}  {alike_places(group, trims)}")
    print_entry(console, head, said, worst.message)


def print_entry(console: Console, head: Text, said: str, message: str = "") -> None:
    """One finding: id, place and figures on a line, or the figures on the next where the line gets too long; its message."""
    lines = [plain(message)] if message else []
    if said and head.cell_len + len(said) + 2 <= console.width - 4:
        head += Text(f"; {said}")
    elif said:
        lines = [": ".join([said, *lines])]
    paragraph(console, head, indent=2, hang=2)
    for line in lines:
        paragraph(console, line, indent=4)


def _print_waived(console: Console, report: Report) -> None:
    lines = waived_lines(report)
    if not lines:
        return
    _heading(console, "WAIVED", "accepted by a person; kept in every report")
    for line in lines:
        paragraph(console, line, indent=2, hang=2)


class Screen:
    """Where answers are shown: standard output, or standard error where that carries the JSON report."""

    def __init__(self, *, to_stderr: bool = False) -> None:
        stream = sys.stderr if to_stderr else sys.stdout
        write_anything()
        width = None if stream.isatty() else COLUMNS
        self.console = Console(file=stream, width=width, highlight=False, emoji=False)
        self.side = Console(stderr=True, highlight=False, emoji=False)

    def show(self, report: Report, written: Sequence[Path] = ()) -> None:
        """Prints one report."""
        print_report(report, self.console, written)

    @contextmanager
    def progress(self, name: str) -> Iterator[Callable[[int, int | None], None] | None]:
        """Pages done of pages, on a terminal, for whatever takes over a second."""
        if not self.side.is_terminal:
            yield None
            return
        from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeElapsedColumn

        columns = (
            TextColumn("{task.description}", markup=False),
            BarColumn(),
            MofNCompleteColumn(),
            TimeElapsedColumn(),
        )
        bar = Progress(*columns, console=self.side, transient=True)
        task = bar.add_task(plain(name, 40), total=None)
        wait = threading.Timer(_PATIENCE_S, bar.start)
        wait.daemon = True
        wait.start()
        try:
            yield lambda done, pages: bar.update(task, completed=done, total=pages)
        finally:
            wait.cancel()
            wait.join()
            bar.stop()


def print_rules(job: Job) -> None:
    """Every effective value of the rules and the file it comes from."""
    console = Screen().console
    console.print(Text(f"{plain(job.rules_name)}: {plain(job.rules_title)}", style="bold"))
    table = ""
    for key in sorted(job.values):
        name, _, rest = key.partition(".")
        if name != table:
            console.print()
            console.print(Text(f"[{plain(name)}]", style="bold"))
            table = name
        held = job.values[key]
        origin = held.get("from") or job.origins.get(key, "")
        line = f"{plain(rest)} = {plain(held.get('value', ''))}"
        paragraph(console, f"{line}  ({plain(origin)})" if origin else line, indent=2)
