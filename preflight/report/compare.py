"""What a new version of a file fixed, what is still there, what is new, and which pages and sizes changed.

Two versions are never alike byte for byte: pages move, pictures are compressed again, fonts are subset anew. So pages are known
again by their coarse prints (``fingerprint``), and findings by id, subject and edge together with key, place, print of the place or
value. A finding that is gone counts as fixed only if its check was answered this time; it is ``open`` where it was not.
"""

from __future__ import annotations

import json
import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any, Literal

from preflight.findings import Finding, Report, Severity, Unchecked, Verdict
from preflight.judging import KNOCK_ON
from preflight.report.json_report import plain as as_json
from preflight.report.same_pages import PageFate, SizeChange, match_pages, size_changes
from preflight.units import TOLERANCES, Box

COMPARISON_VERSION = 1
#: A place this far off is the same place after a re-export.
NEAR_MM = 6.0
#: A new compression or subset moves a value by less than this share without anybody having touched it.
SAME_VALUE_SHARE = 0.02

#: Kinds that are steps of one fault, worst first: from one to the next a place got better, it was not mended.
LADDERS = (
    ("bleed.missing", "bleed.empty", "bleed.short"),
    ("resolution.low", "resolution.soft"),
    ("resolution.line-art-low", "resolution.line-art-soft"),
    ("line.hairline", "line.thin"),
    ("total-ink.high", "total-ink.near"),
)
_STEPS = {kind: (ladder[0], step) for ladder in LADDERS for step, kind in enumerate(ladder)}

Change = Literal["same", "better", "worse"]


@dataclass(frozen=True)
class Version:
    """One of the two files."""

    name: str
    sha256: str | None
    made_at: str
    verdict: Verdict
    pages: int | None
    #: The trim of each page, for places in words.
    trims_mm: dict[int, list[float] | None] = field(default_factory=dict)


@dataclass(frozen=True)
class Still:
    """A finding that is in both versions."""

    old: Finding
    new: Finding
    change: Change


@dataclass(frozen=True)
class Comparison:
    """Two reports held against each other."""

    comparison_version: int
    old: Version
    new: Version
    fixed: list[Finding] = field(default_factory=list)
    still: list[Still] = field(default_factory=list)
    added: list[Finding] = field(default_factory=list)
    #: Gone together with their page.
    left_out: list[Finding] = field(default_factory=list)
    #: Neither fixed nor there: their check had no answer this time.
    open: list[Finding] = field(default_factory=list)
    pages: list[PageFate] = field(default_factory=list)
    sizes: list[SizeChange] = field(default_factory=list)
    unchecked: list[Unchecked] = field(default_factory=list)
    same_file: bool = False
    same_rules: bool = True
    same_ticket: bool = True


def compare(old: Report, new: Report) -> Comparison:
    """Holds a new version's report against the former one's."""
    pages = match_pages(old.pages, new.pages)
    way = {fate.old: fate.new for fate in pages if fate.old is not None and fate.new is not None}
    prints = tuple({page.number: page.fingerprint for page in report.pages} for report in (old, new))
    pairs = _match_findings(old.findings, new.findings, way, prints)
    gone = [finding for index, finding in enumerate(old.findings) if index not in pairs]
    fixed, left_out, unanswered = [], [], []
    removed = {fate.old for fate in pages if fate.fate == "removed"}
    for finding in gone:
        if new.pages and finding.page in removed and not finding.details.get("pages"):
            left_out.append(finding)
        elif _unanswered(finding, old, new, way):
            unanswered.append(finding)
        else:
            fixed.append(finding)
    taken = set(pairs.values())
    return Comparison(
        COMPARISON_VERSION,
        _version(old),
        _version(new),
        fixed,
        [_still(old.findings[index], new.findings[other]) for index, other in sorted(pairs.items())],
        [finding for index, finding in enumerate(new.findings) if index not in taken],
        left_out,
        unanswered,
        pages,
        size_changes(old.pages, new.pages, way),
        list(new.unchecked),
        old.file.sha256 is not None and old.file.sha256 == new.file.sha256,
        old.rules.sha256 == new.rules.sha256,
        (old.ticket and old.ticket.sha256) == (new.ticket and new.ticket.sha256),
    )


def comparison_to_json(comparison: Comparison) -> str:
    """The comparison as a JSON object."""
    return json.dumps(as_json(comparison), indent=2, ensure_ascii=False, allow_nan=False)


def _version(report: Report) -> Version:
    file = report.file
    trims = {page.number: page.trim_mm for page in report.pages}
    return Version(file.name, file.sha256, report.made_at, report.verdict, file.pages, trims)


def _match_findings(
    old: Sequence[Finding], new: Sequence[Finding], way: dict[int, int], prints: tuple[dict[int, str], ...]
) -> dict[int, int]:
    """Which finding of the new version is which of the old one: indexes, the surest pairs first."""
    by_name: dict[tuple[Any, ...], list[int]] = {}
    for index, finding in enumerate(new):
        by_name.setdefault(_name(finding), []).append(index)
    candidates = []
    for index, finding in enumerate(old):
        for other in by_name.get(_name(finding), ()):
            doubt = _doubt(finding, new[other], way, prints)
            if doubt is not None:
                candidates.append((doubt, index, other))
    pairs: dict[int, int] = {}
    taken: set[int] = set()
    for _, index, other in sorted(candidates):
        if index not in pairs and other not in taken:
            pairs[index] = other
            taken.add(other)
    return pairs


def _name(finding: Finding) -> tuple[Any, ...]:
    """What must be the same: fault, case, thing and edge. The tag of a font's subset is made anew at each export."""
    subject = re.sub(r"^[A-Z]{6}\+", "", str(finding.details.get("subject", "")))
    # Of two inks that meet, either may come first in the file.
    subject = " / ".join(sorted(subject.split(" / ")))
    fault = _STEPS.get(finding.id, (finding.id, 0))[0]
    # A bleed is told edge by edge; elsewhere the edge is only the nearest of several, and may be another one next time.
    edge = str(finding.details.get("edge", ""))
    if not finding.id.startswith("bleed."):
        subject, edge = subject if subject != edge else "", ""
    return fault, bool(finding.details.get("mild")), subject, edge


def _doubt(one: Finding, other: Finding, way: dict[int, int], prints: tuple[dict[int, str], ...]) -> float | None:
    """How unlike two findings of one name are; None: they are not the same."""
    same_page = _on_same_page(one, other, way)
    same_key = _base(one.key) == _base(other.key)
    apart = _apart(one, other)
    doubt = (0.0 if same_page else 2.0) + (0.0 if one.id == other.id else 0.5)
    doubt += 0.0 if same_key else 0.75  # more than any distance: pictures may change places
    doubt += 0.0 if apart is None else min(0.6, apart / 80.0)
    doubt += min(0.5, _value_apart(one, other))
    if same_page:
        if apart is None or apart <= NEAR_MM or same_key or _alike_places(one, other):
            return doubt
        # Part of many places was mended: what is left lies within what there was, or the other way round.
        return doubt + 1.0 if _one_in_other(one, other) else None
    # The page could not be followed, or was taken for its twin: only the same key at the same place will do.
    followed = one.page in way and not _are_twins(one.page, other.page, prints)
    return doubt if same_key and not followed and apart is not None and apart <= NEAR_MM else None


def _are_twins(one: int | None, other: int | None, prints: tuple[dict[int, str], ...]) -> bool:
    """Whether a page of each version have the same print: which of several alike is which, nobody can tell by it."""
    if one is None or other is None:
        return False
    before, now = (numbers.get(page, "") for numbers, page in zip(prints, (one, other), strict=True))
    return before != "" and before == now


def _on_same_page(one: Finding, other: Finding, way: dict[int, int]) -> bool:
    if one.details.get("pages") and other.details.get("pages"):
        return True
    if one.page is None or other.page is None:
        return one.page is other.page
    return way.get(one.page) == other.page


def _base(key: str) -> str:
    return key.partition("~")[0]


def _apart(one: Finding, other: Finding) -> float | None:
    """The farthest distance between the sides of two places in mm; None where neither has one."""
    if one.box_mm is None or other.box_mm is None:
        return None if one.box_mm is other.box_mm else float("inf")
    return max(abs(a - b) for a, b in zip(one.box_mm, other.box_mm, strict=True))


def _value_apart(one: Finding, other: Finding) -> float:
    if one.measured is None or other.measured is None:
        return 0.0
    return abs(one.measured - other.measured) / max(abs(one.measured), abs(other.measured), 1e-9)


def _alike_places(one: Finding, other: Finding) -> bool:
    """Whether two places look alike and are of a size: the same thing, moved on its page."""
    prints = [str(finding.details.get("fingerprint", "")).split("-") for finding in (one, other)]
    if not all(print_[0] for print_ in prints) or len(prints[0]) != len(prints[1]):
        return False
    try:
        steps = [abs(int(a) - int(b)) for a, b in zip(*prints, strict=True)]
    except ValueError:
        return False
    if one.box_mm is None or other.box_mm is None:
        return False
    first, second = Box(*one.box_mm), Box(*other.box_mm)
    of_a_size = abs(first.width - second.width) <= NEAR_MM and abs(first.height - second.height) <= NEAR_MM
    return of_a_size and max(steps) <= 1


def _one_in_other(one: Finding, other: Finding) -> bool:
    if one.box_mm is None or other.box_mm is None:
        return False
    first, second = Box(*one.box_mm), Box(*other.box_mm)
    return first.contains(second, slack=1.0) or second.contains(first, slack=1.0)


def _still(old: Finding, new: Finding) -> Still:
    return Still(old, new, _change(old, new))


def _change(old: Finding, new: Finding) -> Change:
    """Whether a finding got better or worse by more than a re-export alone can do."""
    if old.id != new.id:
        return "better" if _STEPS[new.id][1] > _STEPS[old.id][1] else "worse"
    if old.measured is not None and new.measured is not None and old.limit is not None and new.limit is not None:
        was, now = (abs(finding.measured - finding.limit) for finding in (old, new))  # type: ignore[operator]
        least = max(TOLERANCES.get(new.unit or "", 0.0), SAME_VALUE_SHARE * abs(old.measured))
        if abs(now - was) > least:
            return "better" if now < was else "worse"
    if old.count != new.count:
        return "better" if new.count < old.count else "worse"
    return "same"


def _unanswered(finding: Finding, old: Report, new: Report, way: dict[int, int]) -> bool:
    """Whether nobody can say that a finding is gone: its check, its page or the file had no answer this time."""
    check, _, kind = finding.id.partition(".")
    if not new.pages:
        return True
    if new.rules.values.get(f"{check}.severity.{kind}", {}).get("value") == Severity.OFF.value:
        return True
    if any(item.check in (check, finding.id) for item in new.not_judged if item not in old.not_judged):
        return True
    silenced = {prefix for cause, prefixes in KNOCK_ON.items() for prefix in prefixes if _has(new, cause)}
    if any(finding.id == prefix or (prefix.endswith(".") and finding.id.startswith(prefix)) for prefix in silenced):
        return True
    page = way.get(finding.page) if finding.page is not None else None
    return any(
        gap.check in (check, "all", "file") and (gap.page is None or page is None or gap.page == page)
        for gap in new.unchecked
    )


def _has(report: Report, identifier: str) -> bool:
    return any(finding.id == identifier for finding in report.findings)
