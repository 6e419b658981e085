"""Which page of a new version is which of the old one, and whether its size changed.

Pages are known again by their coarse prints and their inks, wherever they stand now. What is left over looks different: it is paired by
its number, then in order, and called changed.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

from preflight.findings import PageReport
from preflight.inventory.fingerprint import alike

#: Sizes are compared to what a knife could notice.
SIZE_WITHIN_MM = 0.1

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
    # What looks different now: the page of the same number, else those between the same neighbours, in order.
    for number in [number for number in free_old if number in free_new]:
        pair(number, number)
    for one, other in zip(sorted(free_old), sorted(free_new), strict=False):
        pair(one, other)
    fates = [PageFate(one, other, _fate(one, other, known)) for one, other in way.items()]
    fates += [PageFate(None, number, "added") for number in free_new]
    fates.sort(key=lambda fate: fate.new or 0)
    return fates + [PageFate(number, None, "removed") for number in sorted(free_old)]


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
