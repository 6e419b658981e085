"""What stands where in a report: findings by stage, worst first, equal ones on one slip, each place with its number.

The numbers are the same in the HTML page and on the marked copy, so that one can be read beside the other.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from preflight.checking import all_checks, sections_of
from preflight.findings import Finding, PageReport, Report, Severity, Stage
from preflight.report.words import (
    SECOND_PICTURES,
    SEVERITIES,
    alike,
    count_of,
    figures,
    money,
    number,
    place,
    plain,
    trims_of,
)

#: States of a page, worst first: those of its findings, ``unchecked``, or ``clear`` where nothing was found.
PAGE_STATES = ("stop", "unchecked", "ask", "note", "clear")
#: Ids whose limit is a size or count to be met, not a least or a most; a name with a full stop at its end is a whole check.
_TO_BE_MET = ("trim.", "pages.", "fold.", "binding.spine-width")
#: Details that the report shows in another way, or that are for programs.
_OWN_DETAILS = frozenset(
    {
        "picture",
        *SECOND_PICTURES,
        "fingerprint",
        "boxes_mm",
        "pages",
        "mild",
        "subject",
        "edge",
        "words",
        "at_mm",
        "towards",
        "patches",
        "cost_if_missed",
    }
)


@dataclass(frozen=True)
class Gauge:
    """Measured against limit as two marks on one line, in percent of its length; ``low``: the limit is a least."""

    measured: float
    limit: float
    low: bool


@dataclass(frozen=True)
class Place:
    """One finding with its number in this report."""

    number: int
    finding: Finding
    where: str
    figures: str


@dataclass(frozen=True)
class Slip:
    """One thing to say, with all the places it is said of; ``worst`` is the one farthest from its limit."""

    places: tuple[Place, ...]
    worst: Place

    @property
    def finding(self) -> Finding:
        return self.worst.finding

    @property
    def state(self) -> str:
        return "waived" if self.finding.waived else self.finding.severity.value

    @property
    def count(self) -> int:
        return sum(place.finding.count for place in self.places)


@dataclass(frozen=True)
class StageSlips:
    """The slips of one stage, worst first, waived ones last."""

    stage: Stage
    slips: tuple[Slip, ...]

    def count(self, state: str) -> int:
        return sum(len(slip.places) for slip in self.slips if slip.state == state)


def stages_of(report: Report) -> list[StageSlips]:
    """All findings in the order of the report; stages without any are there too, so that nobody looks for them."""
    trims = trims_of(report)
    turn = 0
    stages = []
    for stage in Stage:
        slips = []
        for group in alike(sorted((f for f in report.findings if f.stage is stage), key=_rank)):
            places = []
            for finding in group.findings:
                turn += 1
                where = place(finding, trims.get(finding.page or 0))
                places.append(Place(turn, finding, where, figures(finding)))
            worst = next(entry for entry in places if entry.finding is group.worst)
            slips.append(Slip(tuple(places), worst))
        stages.append(StageSlips(stage, tuple(slips)))
    return stages


def numbered(report: Report) -> list[Place]:
    """Every finding with its number, in order."""
    return [entry for stage in stages_of(report) for slip in stage.slips for entry in slip.places]


def _rank(finding: Finding) -> tuple[Any, ...]:
    box = finding.box_mm or (0.0, 0.0)
    return (
        finding.waived is not None,
        SEVERITIES.index(finding.severity) if finding.severity in SEVERITIES else len(SEVERITIES),
        finding.id,
        finding.page or 0,
        box[1],
        box[0],
    )


def page_numbers(report: Report, most: int = 2000) -> list[int]:
    """Every page that is known of: measured, named by a finding or a gap, or counted."""
    known = {page.number for page in report.pages}
    known |= {gap.page for gap in report.unchecked if gap.page is not None}
    for finding in report.findings:
        known |= set(_pages_of(finding))
    if report.file.pages is not None and report.file.pages <= most:
        known |= set(range(1, report.file.pages + 1))
    return sorted(known)


def page_states(report: Report) -> dict[int, str]:
    """The state of each page: the worst that is said of it."""
    said: dict[int, set[str]] = {number: {"clear"} for number in page_numbers(report)}
    measured = {page.number for page in report.pages}
    for finding in report.findings:
        if finding.waived is None and finding.severity is not Severity.OFF:
            for page in _pages_of(finding):
                said[page].add(finding.severity.value)
    for gap in report.unchecked:
        if gap.page is not None:
            said[gap.page].add("unchecked")
    # A page nobody measured is not clear, whatever else is missing in the report.
    for number_, states in said.items():
        if number_ not in measured:
            states.add("unchecked")
    return {page: min(states, key=PAGE_STATES.index) for page, states in said.items()}


def _pages_of(finding: Finding) -> list[int]:
    pages = finding.details.get("pages")
    own = [finding.page] if finding.page is not None else []
    listed = [page for page in pages if isinstance(page, int)] if isinstance(pages, (list, tuple)) else []
    return sorted({*own, *listed})


def gauge_of(finding: Finding) -> Gauge | None:
    """The two marks of a finding that has both figures and can be drawn on a line from nothing."""
    measured, limit = finding.measured, finding.limit
    if finding.id.startswith(_TO_BE_MET):
        return None
    if measured is None or limit is None or limit < 0 or max(measured, limit) <= 0 or measured == limit:
        return None
    full = max(measured, limit) * 1.25
    return Gauge(round(100.0 * max(0.0, measured) / full, 1), round(100.0 * limit / full, 1), measured < limit)


def why_of(finding: Finding) -> str:
    """Why it matters on press, from the check's own words; empty for a check this version does not know."""
    check = all_checks().get(finding.id.partition(".")[0])
    return " ".join(sections_of(check).get("Why it matters on press", "").split()) if check else ""


def sources_of(report: Report, finding: Finding) -> list[str]:
    """Where the limits of a finding's check come from: file, and the source given there."""
    table = finding.id.partition(".")[0] + "."
    lines: list[str] = []
    for key, held in report.rules.values.items():
        if key.startswith(table) and held.get("source"):
            line = f"{plain(held['source'])} ({plain(held.get('from', 'rules'))})"
            if line not in lines:
                lines.append(line)
    return lines


def details_of(finding: Finding) -> list[tuple[str, str]]:
    """Further figures of a finding for prepress, in words; lists and tables that go deep are left to the JSON report."""
    rows = []
    for key, value in finding.details.items():
        if key in _OWN_DETAILS or value in (None, "", []):
            continue
        said = _said(value)
        if said is not None:
            rows.append((plain(key).replace("_", " "), said))
    return rows


def _said(value: object) -> str | None:
    if isinstance(value, (list, tuple)) and len(value) <= 12:
        parts = [_one_said(item) for item in value]
        return None if None in parts else ", ".join(part for part in parts if part is not None)
    if isinstance(value, dict) and len(value) <= 12:
        pairs = [(plain(key), _one_said(item)) for key, item in value.items()]
        return None if any(said is None for _, said in pairs) else ", ".join(f"{key} {said}" for key, said in pairs)
    return _one_said(value)


def _one_said(value: object) -> str | None:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, (int, float)):
        return number(value)
    return plain(value, 300) if isinstance(value, str) else None


def findings_on(places: list[Place], page: PageReport) -> list[Place]:
    """The numbered findings that name a page."""
    return [entry for entry in places if page.number in _pages_of(entry.finding)]


def cost_of(finding: Finding) -> tuple[str, float, str, str] | None:
    """What a finding costs if missed: where it is seen then, the amount, the amount in words, and what it is made of."""
    said = finding.details.get("cost_if_missed")
    if not isinstance(said, dict) or not isinstance(said.get("amount"), (int, float)):
        return None
    parts = said.get("parts")
    rows = parts.items() if isinstance(parts, dict) else ()
    made_of = [
        f"{count_of(said['plates'], 'plate') if name == 'plates' and isinstance(said.get('plates'), int) else plain(name)} "
        f"{money(amount, None)}"
        for name, amount in rows
        if isinstance(amount, (int, float))
    ]
    currency = said.get("currency")
    amount = float(said["amount"])
    return plain(said.get("seen", "")), amount, money(amount, currency), ", ".join(made_of)


def dearest(places: list[Place]) -> tuple[Place, str, str] | None:
    """The open finding that would cost most if missed, with the amount and where it would be seen."""
    costed = [(entry, cost_of(entry.finding)) for entry in places if entry.finding.waived is None]
    known = [(entry, cost) for entry, cost in costed if cost is not None]
    if not known:
        return None
    entry, cost = max(known, key=lambda item: item[1][1])
    return entry, cost[2], cost[0]
