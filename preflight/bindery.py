"""Bindery arithmetic: how far sheets creep out of a stitched booklet, and how thick a book is.

Millimetres. Approximations in use in the trade: push-out = (pages / 4) x caliper for the innermost sheet; thickness = (pages / 2) x
caliper + 2 x cover caliper.
"""

from __future__ import annotations

from dataclasses import dataclass

from preflight.inventory.model import Edge


@dataclass(frozen=True)
class Creep:
    """The push-out of a saddle-stitched booklet."""

    pages: int
    caliper_mm: float

    @property
    def total_mm(self) -> float:
        """Of the innermost sheet: the whole thickness of the folded booklet."""
        return self.pages / 4.0 * self.caliper_mm

    @property
    def sheets(self) -> int:
        return -(-self.pages // 4)

    def sheet_of(self, page: int) -> int:
        """The sheet a page is on, 1 the outermost: pages 1, 2 and the last two lie on it."""
        return max(1, (min(page, 4 * self.sheets + 1 - page) + 1) // 2)

    def push_out_mm(self, page: int) -> float:
        """Of the sheet a page is on, in proportion from the outermost in."""
        return self.total_mm * self.sheet_of(page) / self.sheets


def face_edge(page: int) -> Edge:
    """The edge across from the spine: right on odd pages, left on even ones."""
    return "right" if page % 2 else "left"


def spine_width_mm(pages: int, caliper_mm: float, cover_caliper_mm: float) -> float:
    """The thickness of a perfect-bound book with its cover."""
    return pages / 2.0 * caliper_mm + 2.0 * cover_caliper_mm
