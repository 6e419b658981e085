"""The whole flow on one file, in this process: open, read, check, judge, as a child and its parent do together."""

from __future__ import annotations

import time
from dataclasses import replace
from pathlib import Path
from typing import Any

from artwork import Book
from by_hand import shop_rules

from preflight.findings import Finding, Report
from preflight.flow import Examined, conclude, examine_page
from preflight.ticket import Job, Ticket


def job_for(rules: str = "sheetfed-coated", **order: Any) -> Job:
    """The shipped rules with a ticket of these entries; without entries no ticket."""
    return replace(shop_rules(rules), ticket=Ticket(**order) if order else None)


def report_of(path: Path, job: Job | None = None) -> Report:
    """The report on one file."""
    from preflight.inventory.opening import open_artwork

    job = job or job_for()
    started = time.monotonic()
    sent = job.to_check_by
    with open_artwork(path, name=path.name, job=sent) as artwork:
        examined = Examined(path.name, artwork.facts)
        for number in range(1, (artwork.facts.pages or 0) + 1):
            examined.results[number] = examine_page(artwork, number, artwork.facts, sent)
    return conclude(examined, job, started)


def found_in(book: Book, folder: Path, check: str, **order: Any) -> list[Finding]:
    """What one check says of a book; that check must have been answered on every page."""
    report = report_of(book.save(folder / "art.pdf"), job_for(**order))
    unanswered = [answer for answer in report.unchecked if answer.check in (check, "all", "file")]
    assert not unanswered, unanswered
    return [finding for finding in report.findings if finding.id.startswith(f"{check}.")]
