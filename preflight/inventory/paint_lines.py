"""Lines that are no lines of their own: a rim around a fill of the same colour, and slices of a larger area.

A stroke along the outline of a fill in the same colour only makes the fill fatter. A blend or a picture cut into thin
rectangles, level or slanted, that touch each other in nearly the same colour is one area. Trim space, millimetres; edges may
miss by 0.02 mm.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import replace
from itertools import pairwise, product
from typing import NamedTuple

from preflight.inventory.model import Colour
from preflight.inventory.paint_marks import Mark
from preflight.units import Box

NEAR_MM = 0.02
#: A curve that is stroked is cut into coarser chords than one that is filled: their boxes differ by this at most.
RIM_NEAR_MM = 0.025
#: Steps of a blend differ by no more than this in any part (0 to 1).
STEP_CHANGE = 0.12
SAME_COLOUR = 0.02
#: A neighbour must touch a slice along this part of its length.
TOUCHES = 0.95
#: Thicker rectangles need no looking at.
SLICE_BELOW_PT = 1.5
#: A slice has no more corners than this; its long sides are this part of the longest and more.
MOST_CORNERS = 6
LONG_SIDE = 0.8
#: So many sides in one place are compared with each other; slices meet in twos.
MOST_TOGETHER = 50


def settle_lines(marks: list[Mark]) -> None:
    """Marks rims and slices, in place."""
    _settle_rims(marks)
    _settle_slices(marks)
    _settle_slanted_slices(marks)


def _settle_rims(marks: list[Mark]) -> None:
    fills: dict[tuple[int, int], list[tuple[Mark, Box]]] = defaultdict(list)
    for mark in marks:
        box = mark.path_box if mark.kind == "fill" else mark.box if mark.kind == "text" else None
        if box is not None and mark.visible is not None:
            # The rims of a path in pieces may be drawn piece by piece.
            for each in (box, *mark.pieces) if mark.kind == "fill" else (box,):
                fills[_corner(each)].append((mark, each))
    if not fills:
        return
    for mark in marks:
        if mark.stroke is None or (mark.path_box is None and mark.kind != "text-stroke"):
            continue
        for fill, whole in _alike(fills, mark.path_box or mark.box):
            if (
                (fill.kind == "text") == (mark.kind == "text-stroke")
                and differ(fill.colour, mark.colour) <= SAME_COLOUR
                and fill.alpha == mark.alpha
            ):
                mark.stroke = replace(mark.stroke, rims_fill=True)
                if whole and fill.shape is not None and fill.shape.thickness_pt is not None:
                    thickness = fill.shape.thickness_pt + mark.stroke.width_pt
                    fill.shape = replace(fill.shape, thickness_pt=thickness)
                break


def _alike(fills: dict[tuple[int, int], list[tuple[Mark, Box]]], box: Box) -> Iterator[tuple[Mark, bool]]:
    """The fills whose boxes, or those of their pieces, are this one, near enough; and whether it is the whole fill's."""
    column, row = _corner(box)
    for place in product((column - 1, column, column + 1), (row - 1, row, row + 1)):
        for fill, other in fills.get(place, ()):
            if (
                abs(other.x0 - box.x0) <= RIM_NEAR_MM
                and abs(other.y0 - box.y0) <= RIM_NEAR_MM
                and abs(other.x1 - box.x1) <= RIM_NEAR_MM
                and abs(other.y1 - box.y1) <= RIM_NEAR_MM
            ):
                yield fill, other not in fill.pieces


def _corner(box: Box) -> tuple[int, int]:
    """Where a box begins, on a grid as coarse as boxes may differ."""
    return round(box.x0 / RIM_NEAR_MM), round(box.y0 / RIM_NEAR_MM)


def differ(one: Colour | None, other: Colour | None) -> float:
    """The largest difference of any part, 1 for colours that cannot be compared."""
    if one is None or other is None:
        return 1.0
    inks, others = one.tints_percent(), other.tints_percent()
    if inks is not None and others is not None:
        return (
            max((abs(inks.get(ink, 0.0) - others.get(ink, 0.0)) for ink in inks.keys() | others.keys()), default=0.0)
            / 100.0
        )
    if one.family != other.family or len(one.values) != len(other.values) or not one.values:
        return 1.0
    scale = 100.0 if one.family in ("lab", "icc-lab") else 1.0
    return max(abs(a - b) for a, b in zip(one.values, other.values, strict=True)) / scale


def _settle_slices(marks: list[Mark]) -> None:
    """Thin upright rectangles whose long sides touch a neighbour's in nearly the same colour."""
    thin: list[tuple[Mark, Box]] = []
    #: Lower sides (left, top) and upper sides of all rectangles, by direction and place.
    lower: dict[tuple[bool, int], list[tuple[Mark, Box]]] = defaultdict(list)
    upper: dict[tuple[bool, int], list[tuple[Mark, Box]]] = defaultdict(list)
    for mark in marks:
        if (
            mark.kind != "fill"
            or mark.shape is None
            or mark.area is None
            or not mark.area.is_rectangle
            or not mark.visible
        ):
            continue
        box = mark.area.box
        for level, start, end in ((True, box.y0, box.y1), (False, box.x0, box.x1)):
            lower[level, round(start / NEAR_MM)].append((mark, box))
            upper[level, round(end / NEAR_MM)].append((mark, box))
        if mark.shape.thickness_pt is not None and mark.shape.thickness_pt < SLICE_BELOW_PT:
            thin.append((mark, box))
    for mark, box in thin:
        level = box.width >= box.height
        start, end = (box.y0, box.y1) if level else (box.x0, box.x1)
        if _has_neighbour(mark, box, level=level, sides=upper, at=start) or _has_neighbour(
            mark, box, level=level, sides=lower, at=end
        ):
            mark.shape = replace(mark.shape, is_slice=True) if mark.shape else None


def _has_neighbour(
    mark: Mark, box: Box, *, level: bool, sides: dict[tuple[bool, int], list[tuple[Mark, Box]]], at: float
) -> bool:
    low, high = (box.x0, box.x1) if level else (box.y0, box.y1)
    place = round(at / NEAR_MM)
    for key in (place, place - 1, place + 1):
        for other, other_box in sides.get((level, key), ()):
            if other is mark:
                continue
            other_low, other_high = (other_box.x0, other_box.x1) if level else (other_box.y0, other_box.y1)
            touching = min(high, other_high) - max(low, other_low)
            if touching >= TOUCHES * (high - low) and differ(mark.colour, other.colour) <= STEP_CHANGE:
                return True
    return False


class _Side(NamedTuple):
    """A long side of a slanted shape: its middle, its length and direction, and on which hand of that the shape lies."""

    mark: Mark
    x: float
    y: float
    length: float
    dx: float
    dy: float
    hand: bool

    @property
    def cell(self) -> tuple[int, int]:
        return round(self.x / NEAR_MM), round(self.y / NEAR_MM)

    def meets(self, other: _Side) -> bool:
        """Whether both are one line, with the two shapes on either hand of it."""
        return (
            math.hypot(self.x - other.x, self.y - other.y) <= NEAR_MM
            and min(self.length, other.length) >= TOUCHES * max(self.length, other.length)
            and abs(self.dx * other.dy - self.dy * other.dx) * self.length <= 2.0 * NEAR_MM
            and (self.hand is other.hand) is (self.dx * other.dx + self.dy * other.dy < 0.0)
        )


def _settle_slanted_slices(marks: list[Mark]) -> None:
    """Thin slanted strips that share a long side with a neighbour in nearly the same colour."""
    sides = [side for mark in marks if _may_be_slice(mark) for side in _long_sides(mark)]
    by_cell: dict[tuple[int, int], list[_Side]] = defaultdict(list)
    for side in sides:
        by_cell[side.cell].append(side)
    for side in sides:
        column, row = side.cell
        for place in product((column - 1, column, column + 1), (row - 1, row, row + 1)):
            if any(
                other.mark is not side.mark
                and side.meets(other)
                and differ(side.mark.colour, other.mark.colour) <= STEP_CHANGE
                for other in by_cell.get(place, [])[:MOST_TOGETHER]
            ):
                side.mark.shape = replace(side.mark.shape, is_slice=True) if side.mark.shape else None
                break


def _may_be_slice(mark: Mark) -> bool:
    thickness = mark.shape.thickness_pt if mark.kind == "fill" and mark.shape is not None else None
    return thickness is not None and thickness < SLICE_BELOW_PT and mark.visible is not None


def _long_sides(mark: Mark) -> Iterator[_Side]:
    """The long sides of a fill with few corners; none of an upright rectangle, which is looked at by its box."""
    rings = mark.area.rings if mark.area is not None else None
    if rings is None or len(rings) != 1 or not 3 <= len(rings[0]) <= MOST_CORNERS + 1:
        return
    ring = rings[0] if rings[0][0] != rings[0][-1] else rings[0][:-1]
    edges = list(pairwise([*ring, ring[0]]))
    lengths = [math.dist(*edge) for edge in edges]
    middle_x, middle_y = sum(x for x, _ in ring) / len(ring), sum(y for _, y in ring) / len(ring)
    for ((x0, y0), (x1, y1)), length in zip(edges, lengths, strict=True):
        if length <= NEAR_MM or length < LONG_SIDE * max(lengths):
            continue
        dx, dy = (x1 - x0) / length, (y1 - y0) / length
        x, y = (x0 + x1) / 2.0, (y0 + y1) / 2.0
        yield _Side(mark, x, y, length, dx, dy, hand=dx * (middle_y - y) - dy * (middle_x - x) > 0.0)
