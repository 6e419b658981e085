"""Which page of a new version is which of the old one, and whether its size changed.

Pages are known again by their coarse prints and their inks, wherever they stand now. What is left over looks different: it is paired, and
called changed, where it stands between the same neighbours, or under its old number, or is half alike; else it was added or removed.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

from preflight.findings import PageReport
from preflight.inventory.fingerprint import alike

#: Sizes are compared to what a knife could notice.
SIZE_WITHIN_MM = 0.1
#: Of a page that was changed and moved, at most this share of its fields looks different.
HALF_ALIKE = 0.4

Fate = Literal["same", "moved", "changed", "added", "removed"]


@dataclass(frozen=True)
class PageFate:
    """What became of a page; ``changed``: it looks different at the place where the old one was."""

    old: int | None
    new: int | None
    fate: Fate


@dataclass(frozen=True)
class SizeChange:
    """A page whose trim, or what is on offer past it, is not what it was."""

    page: int
    old_trim_mm: list[float] | None
    new_trim_mm: list[float] | None
    old_bleed_mm: list[float] | None
    new_bleed_mm: list[float] | None


def match_pages(old: Sequence[PageReport], new: Sequence[PageReport]) -> list[PageFate]:
    """Which page of the new version is which of the old one, in the order of the new one, removed pages last."""
    way: dict[int, int] = {}
    free_old = {page.number: page for page in old}
    free_new = {page.number: page for page in new}

    def pair(one: int, other: int) -> None:
        way[one] = other
        del free_old[one], free_new[other]

    # The nearest first; of twins the one that kept its number, then the order they stood in.
    for _, _, one, other in sorted(_near_pages(old, new)):
        if one in free_old and other in free_new:
            pair(one, other)
    known = set(way)
    # What looks different now: what stands between the same neighbours, in order; the page of the same number; what is half alike.
    back = {other: one for one, other in way.items()}
    new_gaps = _gaps([page.number for page in new], back)
    for gap, ones in _gaps([page.number for page in old], {one: one for one in way}).items():
        for one, other in zip(ones, new_gaps.get(gap, ()), strict=False):
            pair(one, other)
    if len(old) == len(new):
        for number in [number for number in free_old if number in free_new]:
            pair(number, number)
    for _, one, other in sorted(_half_alike(free_old, free_new)):
        if one in free_old and other in free_new:
            pair(one, other)
    fates = [PageFate(one, other, _fate(one, other, known)) for one, other in way.items()]
    fates += [PageFate(None, number, "added") for number in free_new]
    fates.sort(key=lambda fate: fate.new or 0)
    return fates + [PageFate(number, None, "removed") for number in sorted(free_old)]


def _gaps(numbers: Sequence[int], known: dict[int, int]) -> dict[tuple[int, int], list[int]]:
    """Runs of pages that could not be followed, by their neighbours that could; ``known`` gives those's old numbers, 0 is an end."""
    gaps: dict[tuple[int, int], list[int]] = {}
    run: list[int] = []
    before = 0
    for number in [*sorted(numbers), 0]:
        if number and number not in known:
            run.append(number)
            continue
        after = known.get(number, 0)
        if run:
            gaps[before, after] = run
        run, before = [], after
    return gaps


def _half_alike(old: dict[int, PageReport], new: dict[int, PageReport]) -> Iterator[tuple[int, int, int]]:
    """Pairs of pages of one size that look alike in most fields: how many differ, and both numbers."""
    import numpy as np

    for one in old.values():
        length = len(one.fingerprint)
        fitting = [
            page for page in new.values()
            if len(page.fingerprint) == length and length and not _differ(one.trim_mm, page.trim_mm)
        ]  # fmt: skip
        if not fitting:
            continue
        rows = np.array([_steps(page.fingerprint) for page in fitting])
        differing = (np.abs(rows - np.array(_steps(one.fingerprint))) > 1).sum(axis=1)
        for page, differ in zip(fitting, differing, strict=True):
            if differ <= HALF_ALIKE * length:
                yield int(differ), one.number, page.number


def _fate(one: int, other: int, known: set[int]) -> Fate:
    if one not in known:
        return "changed"
    return "same" if one == other else "moved"


def _near_pages(old: Sequence[PageReport], new: Sequence[PageReport]) -> Iterator[tuple[int, int, int, int]]:
    """Pairs of pages that look alike: steps by which their prints differ, how far apart they stand, both numbers."""
    import numpy as np

    by_length: dict[int, list[PageReport]] = {}
    for page in new:
        by_length.setdefault(len(page.fingerprint), []).append(page)
    rows = {
        length: np.array([_steps(page.fingerprint) for page in pages]) for length, pages in by_length.items() if length
    }
    for one in old:
        length = len(one.fingerprint)
        if length not in rows:
            continue
        apart = np.abs(rows[length] - np.array(_steps(one.fingerprint))).sum(axis=1)
        for at in np.flatnonzero(apart <= length):
            other = by_length[length][int(at)]
            if _look_alike(one.fingerprint, other.fingerprint) and _same_inks(one, other):
                yield int(apart[at]), abs(one.number - other.number), one.number, other.number


def _look_alike(one: str, other: str) -> bool:
    return one == other or (99 not in _steps(one + other) and alike(one, other))


def _steps(fingerprint: str) -> list[int]:
    try:
        return [int(digit, 16) for digit in fingerprint]
    except ValueError:  # written by another version of this tool
        return [99] * len(fingerprint)


def _same_inks(one: PageReport, other: PageReport) -> bool:
    """Whether two pages print from the same plates."""

    def printed(page: PageReport) -> set[str]:
        return {plate.ink for plate in page.plates if plate.coverage_percent > 0.0}

    return printed(one) == printed(other)


def size_changes(old: Sequence[PageReport], new: Sequence[PageReport], way: dict[int, int]) -> list[SizeChange]:
    """Pages whose trim or bleed on offer changed; ``way`` leads from old page numbers to new ones."""
    before = {way[page.number]: page for page in old if page.number in way}
    changes = []
    for page in new:
        former = before.get(page.number)
        if former is None:
            continue
        if _differ(former.trim_mm, page.trim_mm) or _differ(former.bleed_mm, page.bleed_mm):
            changes.append(SizeChange(page.number, former.trim_mm, page.trim_mm, former.bleed_mm, page.bleed_mm))
    return changes


def _differ(one: list[float] | None, other: list[float] | None) -> bool:
    if one is None or other is None or len(one) != len(other):
        return one is not other
    return any(abs(a - b) > SIZE_WITHIN_MM for a, b in zip(one, other, strict=True))
