"""Waivers that hold for nothing are told, with the reason: a finding nobody sees must not seem accepted, nor an acceptance be lost."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest
from artwork import Book
from whole import job_for, report_of

from preflight.report.html import html_report
from preflight.report.terminal import render_terminal
from preflight.ticket import Waive

ON = date(2026, 3, 2)


def waive(identifier: str, **more: object) -> Waive:
    return Waive(identifier, "M. Alder", ON, "agreed by telephone", **more)  # type: ignore[arg-type]


@pytest.fixture
def source(tmp_path: Path) -> Path:
    """A page with a line of 0.1 pt."""
    book = Book()
    book.page("0 0 0 1 K 0.1 w 100 100 m 200 100 l S")
    return book.save(tmp_path / "a.pdf")


@pytest.mark.parametrize(
    ("waiver", "why"),
    [
        (waive("trim.spread", page=1), "nothing of the kind was found there"),
        (waive("line.hairline", page=2), "nothing of the kind was found there"),
        (waive("line.hairline", page=1, key="other"), "what was found there is not what was accepted"),
    ],
)
def test_a_waiver_that_holds_for_nothing_is_told(source: Path, waiver: Waive, why: str) -> None:
    report = report_of(source, job_for(waive=(waiver,)))

    [unused] = report.unused_waivers
    assert (unused.id, unused.page, unused.by, unused.on) == (waiver.id, waiver.page, "M. Alder", "2026-03-02")
    assert unused.why == why
    assert not any(finding.waived for finding in report.findings)
    assert why in " ".join(render_terminal(report).split())
    assert why in html_report(report, None)


def test_one_that_holds_is_not(source: Path) -> None:
    report = report_of(source, job_for(waive=(waive("line.hairline", page=1),)))

    assert report.unused_waivers == []
    assert [finding.id for finding in report.findings if finding.waived] == ["line.hairline"]
    assert "does not hold" not in render_terminal(report)


def test_one_for_another_file_needs_the_value_that_was_accepted(source: Path) -> None:
    [line] = [finding for finding in report_of(source).findings if finding.id == "line.hairline"]
    former = {"page": 1, "key": line.key, "sha256": "ab" * 32}
    without, enough, worse = (
        report_of(source, job_for(waive=(waive("line.hairline", **former, measured=value),)))
        for value in (None, 0.1, 0.2)
    )

    assert enough.unused_waivers == []
    for report in (without, worse):
        [unused] = report.unused_waivers
        assert unused.why.startswith("it was given for another file")


def test_of_two_for_one_finding_the_second_is_told(source: Path) -> None:
    twins = (waive("line.hairline", page=1), Waive("line.hairline", "N. Harrow", ON, "me too", page=1))
    [unused] = report_of(source, job_for(waive=twins)).unused_waivers

    assert (unused.by, unused.why) == ("N. Harrow", "another waiver holds for it")
