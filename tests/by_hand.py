"""Facts written by hand: pages, plates and painted things for checks, which are pure functions of them.

Rules are the shipped ones, so that a test also holds the shipped limits and severities.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from typing import Any

from preflight.checking import Answer, all_checks
from preflight.findings import Finding, Found, NotJudged
from preflight.inventory.model import (
    PROCESS_INKS,
    Colour,
    DocumentFacts,
    Inventory,
    OutputIntent,
    Page,
    PageBoxes,
    PageSummary,
    Painted,
    Plate,
)
from preflight.judging import judge
from preflight.rules import settle
from preflight.ticket import Job, Ticket
from preflight.units import Box, pt_from_mm

FOGRA39 = OutputIntent("GTS_PDFX", "FOGRA39", info="Coated FOGRA39 (ISO 12647-2:2004)")


@cache
def shop_rules(name: str = "sheetfed-coated") -> Job:
    return settle(name)


def job_of(rules: str = "sheetfed-coated", **order: Any) -> Job:
    """The shipped rules with a ticket of these entries; without entries no ticket."""
    return replace(shop_rules(rules), ticket=Ticket(**order) if order else None)


def boxes_of(
    trim: tuple[float, float] | None = (100.0, 80.0),
    bleed_mm: float | None = 3.0,
    margin_mm: float = 10.0,
    *,
    media: tuple[float, float] | None = None,
    **other: Any,
) -> PageBoxes:
    """Boxes in points around a trim in millimetres; ``other`` sets boxes (in millimetres from the media corner) outright."""
    width, height = trim or (100.0, 80.0)
    whole = media or (width + 2 * margin_mm, height + 2 * margin_mm)

    def box(x0: float, y0: float, x1: float, y1: float) -> Box:
        return Box(*(pt_from_mm(value) for value in (x0, y0, x1, y1)))

    cut = box(margin_mm, margin_mm, margin_mm + width, margin_mm + height)
    values: dict[str, Any] = {
        "media": box(0, 0, *whole),
        "crop": None,
        "bleed": cut.grow(pt_from_mm(bleed_mm)) if bleed_mm is not None else None,
        "trim": cut if trim is not None else None,
        "art": None,
    }
    for name, value in other.items():
        values[name] = box(*value) if isinstance(value, tuple) else value
    return PageBoxes(**values)


def summary(
    number: int = 1,
    trim_mm: tuple[float, float] | None = (100.0, 80.0),
    *,
    plates: tuple[Plate, ...] = (),
    trim_from: str = "trim-box",
    boxes: PageBoxes | str | None = "usual",
    user_unit: float = 1.0,
    blank_trim: bool | None = False,
) -> PageSummary:
    return PageSummary(
        number=number,
        trim_mm=trim_mm,
        trim_from=trim_from,
        bleed_mm=(3.0, 3.0, 3.0, 3.0),
        rotation=0,
        user_unit=user_unit,
        plates=plates,
        max_total_percent=100.0,
        images=0,
        fonts=(),
        fingerprint="",
        blank_trim=blank_trim,
        boxes=boxes_of(trim_mm) if boxes == "usual" else boxes,  # type: ignore[arg-type]
    )


def plate(ink: str, coverage: float = 5.0, *, highest: float = 100.0, marked_mm2: float = 50.0) -> Plate:
    kind = "process" if ink in PROCESS_INKS else "spot"
    return Plate(ink, kind, coverage, coverage, highest, marked_mm2, Box(1.0, 1.0, 9.0, 9.0))


def page_of(
    *painted: Painted, number: int = 1, trim_mm: tuple[float, float] | None = (100.0, 80.0), **facts: Any
) -> Page:
    box = Box(0.0, 0.0, *trim_mm) if trim_mm else None
    values: dict[str, Any] = {
        "boxes": boxes_of(trim_mm),
        "trim_from": "trim-box",
        "bleed_mm": (3.0, 3.0, 3.0, 3.0),
        "media_mm": box.grow(10.0) if box else None,
        "zone_mm": box.grow(3.0) if box else None,
    }
    return Page(number=number, trim_mm=trim_mm, painted=painted, **(values | facts))


def painted(
    colour: Colour | None,
    box: tuple[float, float, float, float] = (10.0, 10.0, 20.0, 20.0),
    *,
    kind: str = "fill",
    zone: Box | None = None,
    order: int = 0,
    **facts: Any,
) -> Painted:
    """A painted thing; what shows of it is its box inside the zone (that of the page of ``page_of`` unless given)."""
    whole = Box(*box)
    shown = whole.intersect(zone or Box(-3.0, -3.0, 103.0, 83.0))
    facts.setdefault("visible_mm", None if shown.is_empty else shown)
    return Painted(order=order, kind=kind, box_mm=whole, colour=colour, **facts)  # type: ignore[arg-type]


def document_of(
    kind: str = "pdf", *, pages: int = 1, intents: tuple[OutputIntent, ...] = (FOGRA39,), **facts: Any
) -> DocumentFacts:
    return DocumentFacts(name="art", kind=kind, bytes=1, sha256="0" * 64, pages=pages, output_intents=intents, **facts)


def file_answers(check: str, pages: list[PageSummary], job: Job, document: DocumentFacts | None = None) -> list[Answer]:
    it = all_checks()[check]
    assert it.on_file is not None
    inventory = Inventory(document or document_of(pages=len(pages)), tuple(pages))
    return list(it.on_file(inventory, job, job.limits[check]))


def page_answers(check: str, page: Page, job: Job, document: DocumentFacts | None = None) -> list[Answer]:
    it = all_checks()[check]
    assert it.on_page is not None
    return list(it.on_page(page, document or document_of(), job, job.limits[check]))


def judged(check: str, answers: list[Answer], job: Job) -> list[Finding]:
    return judge([(check, answer) for answer in answers if isinstance(answer, Found)], job, None)


def not_judged(answers: list[Answer]) -> list[str]:
    return [answer.why for answer in answers if isinstance(answer, NotJudged)]


def ids(findings: list[Finding]) -> list[str]:
    """Ids in order, the severity behind them, so that one line of a test says both."""
    return [f"{finding.id} {finding.severity.value}" for finding in findings]
