"""Turns what the checks found into findings: the shop's severity, grouping, keys, knock-on and waivers.

Grouping (contract): same id and page, and the same object or boxes within 2 mm, become one finding with the union box, the
count and the worst measured value. Over 20 of one id on a page become one finding with their boxes in details. Facts of the
whole file stand once, on the first page concerned, with ``details.pages``.
"""

from __future__ import annotations

import hashlib
import itertools
import math
from collections import defaultdict
from dataclasses import replace
from typing import Any

from preflight.checking import Answer, Check, Kind, all_checks
from preflight.clusters import touching
from preflight.findings import Finding, Found, Severity, Waived
from preflight.inventory.model import Page, Plates
from preflight.ticket import Job, Waive
from preflight.units import TOLERANCES, Box

GROUP_WITHIN_MM = 2.0
MOST_OF_A_KIND = 20
#: Of so many in one finding the places are listed; a drawing strewn with a fault needs no more to be found.
MOST_BOXES = 500
#: Findings that follow from another one: where the first is found, the others say nothing new.
KNOCK_ON = {"trim.spread": ("trim.wrong-size", "pages.")}
#: The same on one page: what is lost there cannot be expected to show.
PAGE_KNOCK_ON = {"file.unreadable": ("pages.blank",)}


def judge(answers: list[tuple[str, Found]], job: Job, sha256: str | None) -> list[Finding]:
    """All findings of a file, worst first, then by page and place. ``answers`` are ``(check name, found)``."""
    checks = all_checks()
    kept: dict[tuple[str, int | None, bool], list[Found]] = defaultdict(list)
    for name, found in answers:
        if job.severity_of(name, found.kind, mild=found.mild) is not Severity.OFF:
            kept[f"{name}.{found.kind}", found.page, found.mild].append(found)
    for cause, others in PAGE_KNOCK_ON.items():
        pages = {page for identifier, page, _ in kept if identifier == cause and page is not None}
        for key in [key for key in kept if key[0] in others and key[1] in pages]:
            del kept[key]
    _tell_once(kept)
    silenced = {
        prefix for cause, prefixes in KNOCK_ON.items() if any(key[0] == cause for key in kept) for prefix in prefixes
    }
    findings: list[Finding] = []
    for (identifier, _, mild), founds in kept.items():
        if not founds or any(
            identifier == prefix or (prefix.endswith(".") and identifier.startswith(prefix)) for prefix in silenced
        ):
            continue
        name = identifier.partition(".")[0]
        severity = job.severity_of(name, founds[0].kind, mild=mild)
        findings += [_finding(checks[name], severity, found) for found in _grouped(founds)]
    findings.sort(key=_reading_order)
    return _waived(_with_own_keys(findings), job, sha256)


def _tell_once(kept: dict[tuple[str, int | None, bool], list[Found]]) -> None:
    """Leaves facts of the file on the first page that shows them, with their pages in the details (contract, "Grouping")."""
    shown: dict[tuple[str, bool, str], list[Found]] = defaultdict(list)
    for key in sorted((key for key in kept if key[1] is not None), key=lambda key: key[1] or 0):
        for found in kept[key]:
            if found.once_a_file:
                shown[key[0], key[2], found.subject].append(found)
        kept[key] = [found for found in kept[key] if not found.once_a_file]
    for (identifier, mild, _), founds in shown.items():
        first, *others = founds
        pages = sorted({found.page for found in founds if found.page is not None})
        count = sum(found.count for found in founds)
        on_first = [found for found in others if found.page == first.page]
        whole = replace(_all_merged([first, *on_first]), count=count, details={**first.details, "pages": pages})
        kept[identifier, first.page, mild].append(whole)


def group(answers: list[tuple[str, Answer]], job: Job) -> list[tuple[str, Answer]]:
    """One page's answers with their findings grouped, so that a picture is made once for each; the rest as they are."""
    kinds: dict[tuple[str, str, int | None, bool], list[Found]] = defaultdict(list)
    others: list[tuple[str, Answer]] = []
    for name, answer in answers:
        if not isinstance(answer, Found):
            others.append((name, answer))
        elif job.severity_of(name, answer.kind, mild=answer.mild) is not Severity.OFF:
            kinds[name, answer.kind, answer.page, answer.mild].append(answer)
    # Grouped once: the common boxes of two groups may meet where none of their places do.
    return others + [
        (key[0], replace(found, groups=False)) for key, founds in kinds.items() for found in _grouped(founds)
    ]


def with_print(answer: Answer, page: Page) -> Answer:
    """A found thing with the coarse print of the plates at its place, while they are still there."""
    if not isinstance(answer, Found) or answer.fingerprint:
        return answer
    return replace(answer, fingerprint=place_print(page.plates, answer.box_mm))


def _reading_order(finding: Finding) -> tuple[Any, ...]:
    order = (Severity.STOP, Severity.ASK, Severity.NOTE)
    box = finding.box_mm or [0.0, 0.0]
    return order.index(finding.severity), finding.id, finding.page or 0, box[1], box[0]


def _grouped(founds: list[Found]) -> list[Found]:
    """Founds of one id on one page, grouped; not again those that were grouped before."""
    result = [_all_merged(together) for together in _belonging_together([found for found in founds if found.groups])]
    result += [found for found in founds if not found.groups]
    if len(result) > MOST_OF_A_KIND and result[0].page is not None:
        boxes = [found.box_mm.rounded() for found in result if found.box_mm]
        subjects = list(dict.fromkeys(found.subject for found in result if found.subject))
        details: dict[str, Any] = {"boxes_mm": boxes[:MOST_BOXES]}
        details |= {"subjects": subjects[:MOST_BOXES]} if len(subjects) > 1 else {}
        whole = _all_merged(result)
        result = [replace(whole, details={**whole.details, **details})]
    return result


def _belonging_together(founds: list[Found]) -> list[list[Found]]:
    """What is one finding: the same subject, and the same object or places that touch, one by one, not by their common box."""
    apart: dict[str, list[Found]] = defaultdict(list)
    for found in founds:
        apart[found.subject].append(found)
    groups: list[list[Found]] = []
    for members in apart.values():
        # One source is one object: its places are taken as one before neighbours are looked for.
        objects: dict[object, list[int]] = defaultdict(list)
        for index, found in enumerate(members):
            objects[found.source or (None if found.box_mm is None else index)].append(index)
        leader = {index: indexes[0] for indexes in objects.values() for index in indexes}
        placed = [index for index, found in enumerate(members) if found.box_mm is not None]
        joined = _Joined(leader)
        for near in touching([members[index].box_mm or Box(0, 0, 0, 0) for index in placed], GROUP_WITHIN_MM):
            for other in near[1:]:
                joined.join(placed[near[0]], placed[other])
        together: dict[int, list[Found]] = defaultdict(list)
        for index, found in enumerate(members):
            together[joined.first(index)].append(found)
        groups += together.values()
    return groups


class _Joined:
    """Which numbers belong together; ``leader`` starts with what is known already."""

    def __init__(self, leader: dict[int, int]) -> None:
        self.leader = leader

    def first(self, index: int) -> int:
        while self.leader[index] != index:
            self.leader[index] = self.leader[self.leader[index]]
            index = self.leader[index]
        return index

    def join(self, one: int, other: int) -> None:
        low, high = sorted((self.first(one), self.first(other)))
        self.leader[high] = low


def _all_merged(founds: list[Found]) -> Found:
    whole = founds[0]
    for found in founds[1:]:
        whole = _merged(whole, found)
    return whole


def _merged(one: Found, other: Found) -> Found:
    """Two found things as one: the worse keeps its values and words."""
    pick = min if one.worse == "low" else max
    first = one
    if other.measured is not None and (one.measured is None or pick(one.measured, other.measured) != one.measured):
        first = other
    box = one.box_mm.union(other.box_mm) if one.box_mm and other.box_mm else one.box_mm or other.box_mm
    pages = sorted({*one.details.get("pages", ()), *other.details.get("pages", ())})
    details = {**one.details, **other.details, **first.details} | ({"pages": pages} if pages else {})
    return replace(first, box_mm=box, count=one.count + other.count, details=details)


def _finding(check: Check, severity: Severity, found: Found) -> Finding:
    kind: Kind = check.kinds[found.kind]
    values = {
        "measured": _figure(found.measured),
        "limit": _figure(found.limit),
        "unit": found.unit or "",
        "page": found.page,
        "count": found.count,
        "subject": found.subject,
        **found.values,
    }
    details = dict(found.details) | ({"mild": True} if found.mild else {})
    if found.subject:
        details.setdefault("subject", found.subject)
    if found.fingerprint:
        details["fingerprint"] = found.fingerprint
    remedy = kind.mild_remedy if found.mild and kind.mild_remedy else kind.remedy
    words = {name: value for name, value in found.values.items() if f"{{{name}}}" in kind.remedy and _is_plain(value)}
    if words:
        details["words"] = words
    return Finding(
        id=f"{check.name}.{found.kind}",
        severity=severity,
        stage=kind.stage,
        page=found.page,
        box_mm=found.box_mm.rounded() if found.box_mm else None,
        measured=None if found.measured is None else round(float(found.measured), 3),
        limit=None if found.limit is None else round(float(found.limit), 3),
        unit=found.unit,
        count=found.count,
        message=kind.message.format_map(_Words(values)),
        remedy=remedy.format_map(_Words(values)),
        key=_key(f"{check.name}.{found.kind}", found.subject, found.fingerprint),
        details=details,
    )


def _is_plain(value: object) -> bool:
    """Whether a value of a text can be kept for other languages: a text or a figure, no more."""
    return isinstance(value, (str, int)) or (isinstance(value, float) and math.isfinite(value))


class _Words(dict[str, Any]):
    """A missing value reads as unknown rather than ending a run."""

    def __missing__(self, key: str) -> str:
        return "unknown"


def _figure(value: float | None) -> str:
    """A figure as a person writes it: at most two decimals, no trailing zeros."""
    if value is None:
        return "unknown"
    return f"{value:.2f}".rstrip("0").rstrip(".")


def _key(identifier: str, subject: str, fingerprint: str) -> str:
    return hashlib.sha256(f"{identifier}|{subject}|{fingerprint}".encode(errors="replace")).hexdigest()[:16]


def _with_own_keys(findings: list[Finding]) -> list[Finding]:
    """Twins of one key get ``~2``, ``~3`` ... in reading order."""
    seen: dict[str, int] = defaultdict(int)
    result = []
    for finding in findings:
        seen[finding.key] += 1
        turn = seen[finding.key]
        result.append(finding if turn == 1 else replace(finding, key=f"{finding.key}~{turn}"))
    return result


def _waived(findings: list[Finding], job: Job, sha256: str | None) -> list[Finding]:
    waives = job.order.waive
    result = []
    for finding in findings:
        match = next((waive for waive in waives if _waives(waive, finding, sha256)), None)
        result.append(replace(finding, waived=Waived(match.by, match.on.isoformat(), match.why)) if match else finding)
    return result


def _waives(waive: Waive, finding: Finding, sha256: str | None) -> bool:
    if waive.id != finding.id or waive.page != finding.page:
        return False
    same_key = waive.key is not None and waive.key == finding.key
    if waive.sha256 is not None and waive.sha256 != sha256:
        # Another file: it holds for the same finding with no worse value only.
        return same_key and _no_worse(waive, finding)
    return waive.key is None or same_key


def _no_worse(waive: Waive, finding: Finding) -> bool:
    """Without a limit, as for the area in a wrong colour, more is worse; a fiftieth more may come from another export."""
    if finding.measured is None or (finding.limit is None and finding.measured <= 0.0):
        return True
    if waive.measured is None:
        return False
    if finding.limit is None:
        return finding.measured <= waive.measured * 1.02
    tolerance = TOLERANCES.get(finding.unit or "", 0.0)
    if finding.measured <= finding.limit:
        return finding.measured >= waive.measured - tolerance
    return finding.measured <= waive.measured + tolerance


def place_print(plates: Plates | None, box_mm: Box | None) -> str:
    """A coarse print of the plates at a place, without page or object numbers: ink of 3 x 3 fields in steps of a quarter.

    Stable through reordering and re-export; two places that look alike have the same print (keys then get ``~2``).
    """
    if plates is None or plates.cells is None or box_mm is None or not plates.cells.data:
        return ""
    import numpy as np

    grid = plates.cells
    data = np.frombuffer(grid.data, dtype=np.uint8).reshape(grid.planes, grid.rows, grid.columns)
    x0, y0 = grid.origin_mm
    left, right = ((x - x0) / grid.cell_mm for x in (box_mm.x0, box_mm.x1))
    top, bottom = ((y - y0) / grid.cell_mm for y in (box_mm.y0, box_mm.y1))
    columns = _fields(left, right, grid.columns)
    rows = _fields(top, bottom, grid.rows)
    total = data.sum(axis=0, dtype=np.uint16)
    levels = [int(total[y0:y1, x0:x1].mean() / 255.0 * 4.0 + 0.5) for y0, y1 in rows for x0, x1 in columns]
    return "-".join(str(level) for level in levels)


def _fields(start: float, stop: float, limit: int) -> list[tuple[int, int]]:
    third = max(1.0, (stop - start) / 3.0)
    edges = [min(limit - 1, max(0, int(start + third * index))) for index in range(4)]
    return [(low, max(low + 1, high)) for low, high in itertools.pairwise(edges)]
