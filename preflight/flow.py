"""One file from the door to the report: read this first.

    settle(rules, ticket) -> open -> read facts -> measure plates -> check -> judge -> picture -> report

``examine`` runs in a child process that has the file open and tells what it found page by page; ``conclude`` runs in the
parent, which has no engine loaded, asks the file-wide checks and writes the answer down.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from preflight import __version__
from preflight.checking import Answer, needs_of, run_on_file, run_on_page
from preflight.costs import with_costs
from preflight.findings import (
    REPORT_VERSION,
    FileReport,
    Found,
    NotJudged,
    PageReport,
    PlatePictureReport,
    PlateReport,
    Report,
    RulesReport,
    TicketReport,
    ToolReport,
    Unchecked,
    counts_of,
    verdict_of,
)
from preflight.inventory.model import DocumentFacts, Inventory, PageSummary, PlatePicture
from preflight.judging import group, judge, with_print
from preflight.places import in_pixels
from preflight.ticket import Job
from preflight.units import Box
from preflight.waivers import unused_waivers

if TYPE_CHECKING:
    from preflight.inventory.opening import Artwork

T = TypeVar("T")


@dataclass(frozen=True)
class PageResult:
    """What a child tells about one page: its summary and the answers of the page checks."""

    summary: PageSummary
    answers: tuple[tuple[str, Answer], ...]
    #: The page could not be read for want of memory; worth another try with more.
    out_of_memory: bool = False


@dataclass
class Examined:
    """Everything the children told about one file."""

    name: str
    document: DocumentFacts
    results: dict[int, PageResult] = field(default_factory=dict)
    #: Pages (None: the file) that could not be examined, with the reason.
    missing: dict[int | None, str] = field(default_factory=dict)


def examine(
    source: Path,
    name: str,
    job: Job,
    numbers: Iterable[int],
    tell: Callable[[object], None],
    pictures: Path | None = None,
    memory_limit_bytes: int | None = None,
    document: DocumentFacts | None = None,
    plates: Path | None = None,
) -> None:
    """Opens the artwork and tells ``DocumentFacts`` (unless given), then a page number at its start and its ``PageResult``."""
    from preflight.inventory.opening import open_artwork

    with open_artwork(source, name=name, job=job, memory_limit_bytes=memory_limit_bytes, known=document) as artwork:
        if document is None:
            document = artwork.facts
            tell(document)
        for number in numbers:
            tell(number)
            tell(examine_page(artwork, number, document, job, pictures, plates))


def examine_page(
    artwork: Artwork,
    number: int,
    document: DocumentFacts,
    job: Job,
    pictures: Path | None = None,
    plates: Path | None = None,
) -> PageResult:
    """Reads one page, asks the page checks, and makes the pictures while the plates are still there.

    ``pictures`` receives the report's pictures, ``plates`` the plates themselves as pictures.
    """
    from preflight.inventory.reading import read_page, summary_of

    reading = read_page(artwork, number, job, needs_of(job))
    page = reading.page
    answers = group(list(run_on_page(page, document, job)), job)
    answers = [(name, with_print(answer, page)) for name, answer in answers]
    drawn: tuple[str | None, Box | None, tuple[PlatePicture, ...]] = (None, None, ())
    if pictures is not None and reading.pixels is not None:
        from preflight.report.illustrate import illustrate

        illustrated = illustrate(reading, answers, job, pictures)
        drawn, answers = illustrated.page, illustrated.answers
    answers = [(name, in_pixels(answer, page) if isinstance(answer, Found) else answer) for name, answer in answers]
    if plates is not None and reading.pixels is not None:
        from preflight.report.plate_pictures import write_page_plates

        write_page_plates(reading, job, plates)
    return PageResult(summary_of(reading, *drawn), tuple(answers))


def conclude(examined: Examined, job: Job, started: float) -> Report:
    """Asks the file-wide checks, judges everything and writes the report down."""
    document = examined.document
    results = [examined.results[number] for number in sorted(examined.results)]
    missing_pages = {page: why for page, why in examined.missing.items() if page is not None}
    inventory = Inventory(document, tuple(result.summary for result in results), missing_pages)
    answers = [answer for result in results for answer in result.answers]
    answers += list(run_on_file(inventory, job))
    findings = judge([(name, found) for name, found in answers if isinstance(found, Found)], job, document.sha256)
    findings = with_costs(findings, inventory.pages, job.cost)
    unchecked = [Unchecked("file" if page is None else "all", page, why) for page, why in examined.missing.items()]
    unchecked += _never_seen(examined, judged=bool(findings))
    unchecked += _each_once(answer for _, answer in answers if isinstance(answer, Unchecked))
    not_judged = _each_once(answer for _, answer in answers if isinstance(answer, NotJudged))
    profiles = {f"{page.profile_name} ({page.profile_from})" for page in inventory.pages if page.profile_from}
    return Report(
        report_version=REPORT_VERSION,
        tool=ToolReport("preflight", __version__),
        made_at=datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%SZ"),
        file=FileReport(examined.name, document.sha256, document.bytes, document.kind, document.pages),
        rules=RulesReport(
            job.rules_name, job.rules_sha256, job.rules_title, dict(job.values), list(job.changed_severities)
        ),
        ticket=_ticket(job),
        verdict=verdict_of(findings, unchecked),
        counts=counts_of(findings, unchecked),
        findings=findings,
        pages=[_page_report(page) for page in inventory.pages],
        unchecked=unchecked,
        not_judged=not_judged,
        seconds=round(time.monotonic() - started, 3),
        press_profile="; ".join(sorted(profiles)) or None,
        shop=dict(job.shop),
        unused_waivers=list(unused_waivers(findings, job)),
    )


def _never_seen(examined: Examined, *, judged: bool) -> list[Unchecked]:
    """What nobody looked at is unchecked, whatever the rules switch off: nothing passes that was not checked."""
    document = examined.document
    if document.not_supported:
        return [Unchecked("file", None, document.not_supported)]
    if not document.pages and not judged and not examined.missing:
        return [Unchecked("file", None, document.unreadable or "no page of it could be opened")]
    seen = {*examined.results, *examined.missing}
    return [Unchecked("all", page, "not examined") for page in range(1, (document.pages or 0) + 1) if page not in seen]


def _each_once(answers: Iterable[T]) -> list[T]:
    return list(dict.fromkeys(answers))


def _ticket(job: Job) -> TicketReport | None:
    if job.ticket is None:
        return None
    return TicketReport(job.ticket.job, job.ticket_sha256, job.ticket.customer, job.ticket.title)


def _page_report(page: PageSummary) -> PageReport:
    return PageReport(
        number=page.number,
        trim_mm=[round(side, 2) for side in page.trim_mm] if page.trim_mm else None,
        bleed_mm=[round(side, 2) for side in page.bleed_mm] if page.bleed_mm else None,
        rotation=page.rotation,
        plates=[PlateReport(plate.ink, plate.kind, round(plate.coverage_percent, 2)) for plate in page.plates],
        max_total_coverage_percent=None if page.max_total_percent is None else round(page.max_total_percent, 1),
        images=page.images,
        fonts=list(page.fonts),
        trim_from=page.trim_from,
        fingerprint=page.fingerprint,
        picture=page.picture,
        picture_mm=page.picture_mm.rounded(3) if page.picture_mm else None,
        plate_pictures=[PlatePictureReport(plate.ink, plate.picture, list(plate.rgb)) for plate in page.plate_pictures],
        details=dict(page.details),
    )
