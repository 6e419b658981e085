"""What the tool answers: findings, what was not checked, the verdict, and the report that holds them.

The dataclasses here *are* the JSON report (report_version 1): their fields are written as they
stand, and the JSON schema is generated from them. Fields may be added; none is renamed. Lengths are millimetres,
type and line sizes points, resolution ppi, coverage percent; boxes are ``[x0, y0, x1, y1]`` in trim space.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum
from typing import Any

from preflight.units import Box

REPORT_VERSION = 1


class Severity(StrEnum):
    """What the shop's rules say a kind of finding means. ``off`` is never in a report."""

    OFF = "off"
    NOTE = "note"
    ASK = "ask"
    STOP = "stop"


class Stage(StrEnum):
    """Where a missed fault would hurt."""

    INTAKE = "intake"
    PLATES = "plates"
    PRESS = "press"
    BINDERY = "bindery"


class Verdict(StrEnum):
    """The answer for a file, worst first."""

    STOP = "stop"
    UNCHECKED = "unchecked"
    ASK = "ask"
    GO = "go"

    @property
    def exit_status(self) -> int:
        return {"go": 0, "ask": 10, "stop": 20, "unchecked": 30}[self.value]


#: Worst first; the exit status of a run is that of the worst file by this order, not by number.
VERDICT_ORDER = (Verdict.STOP, Verdict.UNCHECKED, Verdict.ASK, Verdict.GO)


def worst_verdict(verdicts: list[Verdict]) -> Verdict:
    """The worst of several verdicts (``go`` for none)."""
    return min(verdicts, key=VERDICT_ORDER.index, default=Verdict.GO)


@dataclass(frozen=True)
class Found:
    """What a check saw, before the shop's rules give it a severity. Checks return these.

    ``kind`` is the second half of the id. ``values`` fill the two message templates of the kind; ``subject`` names the
    thing (ink, font, edge, image) for grouping and for the key; ``source`` tells occurrences in one object apart from others.
    """

    kind: str
    page: int | None
    box_mm: Box | None = None
    measured: float | None = None
    limit: float | None = None
    unit: str | None = None
    values: dict[str, Any] = field(default_factory=dict)
    subject: str = ""
    source: str = ""
    mild: bool = False
    details: dict[str, Any] = field(default_factory=dict)
    #: Which measured value is the worse one when several become one finding.
    worse: str = "low"
    count: int = 1
    #: A fact of the file that each page shows again: told once, on the first page, with all pages in the details.
    once_a_file: bool = False
    #: Whether findings of this kind on one page may be merged (same object, or boxes within 2 mm).
    groups: bool = True
    #: A page-independent print of the plates at this place, filled in by the reader that still has them.
    fingerprint: str = ""


@dataclass(frozen=True)
class NotJudged:
    """What was not ordered or could not be asked, and so is not judged: no finding, moves neither verdict nor exit."""

    check: str
    why: str


@dataclass(frozen=True)
class Unchecked:
    """An enabled check that could not be answered, on one page or (``page`` null) for the file."""

    check: str
    page: int | None
    why: str


@dataclass(frozen=True)
class Waived:
    """A finding somebody accepted: who, when (ISO date) and why."""

    by: str
    on: str
    why: str


@dataclass(frozen=True)
class Finding:
    """One answer that needs somebody: where, measured what, allowed what, what to do."""

    id: str
    severity: Severity
    stage: Stage
    page: int | None
    box_mm: list[float] | None
    measured: float | None
    limit: float | None
    unit: str | None
    count: int
    message: str
    remedy: str
    key: str
    waived: Waived | None = None
    details: dict[str, Any] = field(default_factory=dict)


@dataclass(frozen=True)
class PlateReport:
    """One plate of one page: mean coverage inside the trim."""

    ink: str
    kind: str
    coverage_percent: float


@dataclass(frozen=True)
class PlatePictureReport:
    """One plate as a gray picture of what the page's picture shows (black: full ink); ``picture`` null: nothing on it."""

    ink: str
    picture: str | None
    #: The ink at 100 % on white paper: red, green, blue.
    rgb: list[int]


@dataclass(frozen=True)
class PageReport:
    """One page as measured."""

    number: int
    trim_mm: list[float] | None
    bleed_mm: list[float] | None
    rotation: int
    plates: list[PlateReport] = field(default_factory=list)
    max_total_coverage_percent: float | None = None
    images: int | None = None
    fonts: list[str] = field(default_factory=list)
    #: Which box or order the trim was taken from: ``trim-box``, ``art-box``, ``ticket``, ``crop-box``, ``image``.
    trim_from: str = ""
    fingerprint: str = ""
    picture: str | None = None
    #: What the picture shows, trim space.
    picture_mm: list[float] | None = None
    plate_pictures: list[PlatePictureReport] = field(default_factory=list)
    details: dict[str, Any] = field(default_factory=dict)


@dataclass(frozen=True)
class ToolReport:
    name: str
    version: str


@dataclass(frozen=True)
class FileReport:
    name: str
    sha256: str | None
    bytes: int | None
    kind: str
    pages: int | None


@dataclass(frozen=True)
class RulesReport:
    """The rules held against; ``values`` maps ``table.key`` to the effective value and the file it came from."""

    name: str
    sha256: str
    title: str = ""
    values: dict[str, dict[str, Any]] = field(default_factory=dict)
    changed_severities: list[str] = field(default_factory=list)


@dataclass(frozen=True)
class TicketReport:
    job: str | None
    sha256: str
    customer: str | None = None
    title: str | None = None


@dataclass(frozen=True)
class UnusedWaiver:
    """A waiver of the ticket that holds for nothing in this file: which, whose, and why it does not."""

    id: str
    page: int | None
    by: str
    on: str
    why: str


@dataclass(frozen=True)
class Report:
    """Everything that is said about one file."""

    report_version: int
    tool: ToolReport
    made_at: str
    file: FileReport
    rules: RulesReport
    ticket: TicketReport | None
    verdict: Verdict
    counts: dict[str, int]
    findings: list[Finding]
    pages: list[PageReport]
    unchecked: list[Unchecked]
    not_judged: list[NotJudged]
    seconds: float
    press_profile: str | None = None
    shop: dict[str, Any] = field(default_factory=dict)
    unused_waivers: list[UnusedWaiver] = field(default_factory=list)


def verdict_of(findings: list[Finding], unchecked: list[Unchecked]) -> Verdict:
    """The verdict over findings (waived ones do not count) and what was not checked, worst first."""
    live = {finding.severity for finding in findings if finding.waived is None}
    if Severity.STOP in live:
        return Verdict.STOP
    if unchecked:
        return Verdict.UNCHECKED
    return Verdict.ASK if Severity.ASK in live else Verdict.GO


def counts_of(findings: list[Finding], unchecked: list[Unchecked]) -> dict[str, int]:
    """How many findings of each severity, waived ones apart, and how many answers are missing."""
    counts = {"stop": 0, "ask": 0, "note": 0, "waived": 0, "unchecked": len(unchecked)}
    for finding in findings:
        counts["waived" if finding.waived else finding.severity.value] += 1
    return counts
