"""What goes into the letter, and in which order: what has to be changed, what the customer decides, what is good to know.

Findings that are the same to a customer are one point, by kind and not by place. Worst first, by the damage a kind does; at most five
points have to be changed, at most three are good to know, what exceeds is counted. Waived findings are left out.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from preflight.findings import Finding, Report, Severity
from preflight.report.letter_texts import TOLD_BY, Wording, damage_of, wording_of
from preflight.report.words import SECOND_PICTURES, SEVERITIES
from preflight.units import Box

MOST_TO_CHANGE = 5
MOST_TO_DECIDE = 7
MOST_TO_KNOW = 3


@dataclass(frozen=True)
class Item:
    """One point of the letter: its words (None for a kind this version does not know) and all its findings."""

    wording: Wording | None
    findings: tuple[Finding, ...]

    @property
    def severity(self) -> Severity:
        return self.findings[0].severity

    @property
    def picture(self) -> str | None:
        """The name of the picture that shows it."""
        return next((str(found.details["picture"]) for found in self.findings if found.details.get("picture")), None)

    @property
    def second_picture(self) -> tuple[str, str] | None:
        """The key and name of the picture to show beside the first: how the same place looks to the customer, or would look."""
        found = next((found for found in self.findings if found.details.get("picture")), None)
        key = next((key for key in SECOND_PICTURES if found is not None and found.details.get(key)), None)
        return (key, str(found.details[key])) if found is not None and key is not None else None

    @property
    def picture_page(self) -> int | None:
        return next((found.page for found in self.findings if found.details.get("picture")), None)


@dataclass(frozen=True)
class Items:
    """The three lists, and how many points of each are not listed."""

    change: tuple[Item, ...]
    decide: tuple[Item, ...]
    know: tuple[Item, ...]
    more_to_change: int = 0
    more_to_decide: int = 0

    @property
    def changes(self) -> int:
        return len(self.change) + self.more_to_change

    @property
    def decisions(self) -> int:
        return len(self.decide) + self.more_to_decide


def items_of(report: Report) -> Items:
    """The points of a letter about a report."""
    points = points_of(report.findings)
    change = [item for item in points if item.severity is Severity.STOP]
    decide = [item for item in points if item.severity is Severity.ASK]
    know = [item for item in points if item.severity is Severity.NOTE]
    return Items(
        tuple(change[:MOST_TO_CHANGE]),
        tuple(decide[:MOST_TO_DECIDE]),
        tuple(know[:MOST_TO_KNOW]),
        max(0, len(change) - MOST_TO_CHANGE),
        max(0, len(decide) - MOST_TO_DECIDE),
    )


def points_of(findings: Iterable[Finding]) -> list[Item]:
    """Findings as points for a customer, worst first: those that say the same put together, those that say nothing new left out."""
    live = [finding for finding in findings if finding.waived is None and finding.severity in SEVERITIES]
    together: dict[object, list[Finding]] = {}
    wordings: dict[object, Wording | None] = {}
    for finding in live:
        wording = wording_of(finding.id, mild=bool(finding.details.get("mild")), case=finding.details.get("case"))
        if _is_told(finding, live) or (wording and finding.severity is Severity.NOTE and not wording.told_as_note):
            continue
        # Two kinds with the same words are one point.
        key = finding.severity, id(wording) if wording else finding.id
        together.setdefault(key, []).append(finding)
        wordings[key] = wording
    items = [Item(wordings[key], tuple(sorted(group, key=_by_place))) for key, group in together.items()]
    return sorted(items, key=lambda item: (min(damage_of(found.id) for found in item.findings), item.findings[0].id))


def _by_place(finding: Finding) -> tuple[float, ...]:
    box = _box(finding)
    return (finding.page or 0, box.y0, box.x0) if box else (finding.page or 0,)


def _box(finding: Finding) -> Box | None:
    return Box(*finding.box_mm) if finding.box_mm is not None and len(finding.box_mm) == 4 else None


def _is_told(finding: Finding, others: Sequence[Finding]) -> bool:
    """Whether another finding of the same place says all that a customer needs."""
    worse = TOLD_BY.get(finding.id, ())
    return any(
        other.id in worse
        and SEVERITIES.index(other.severity) <= SEVERITIES.index(finding.severity)
        and _is_same_place(finding, other)
        and _suits_binding(finding, other)
        for other in others
    )


def _is_same_place(one: Finding, other: Finding) -> bool:
    if one.page is None or other.page is None:
        return True
    if one.page != other.page:
        return False
    box, other_box = _box(one), _box(other)
    return box is None or other_box is None or box.meets(other_box, within=1.0)


def _suits_binding(finding: Finding, other: Finding) -> bool:
    """Where the ordered number of pages can be bound, to send that number is all there is to do."""
    multiple = finding.details.get("multiple")
    if finding.id != "pages.binding-multiple" or not isinstance(multiple, int) or multiple < 1:
        return True
    return other.severity is Severity.STOP and other.limit is not None and other.limit % multiple == 0
