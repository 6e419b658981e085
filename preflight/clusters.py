"""Which boxes touch one another, so that the pieces of one drawing are taken together.

Boxes are in trim space (millimetres); two touch that lie no farther apart than ``TOUCH_MM`` on both axes.
"""

from __future__ import annotations

import math
from collections import defaultdict

from preflight.units import Box

TOUCH_MM = 0.1
#: Boxes are sorted into squares of this side, so that only neighbours are compared.
SQUARE_MM = 20.0
#: A box is entered into so many squares across at most: for larger boxes (a file may claim pages of kilometres) the squares grow.
MOST_SQUARES_ACROSS = 40
#: In a square with more boxes than this the page is strewn with pieces: they are taken as one.
MOST_IN_A_SQUARE = 400


def touching(boxes: list[Box], within: float = TOUCH_MM) -> list[list[int]]:
    """Groups of the boxes' numbers; each box is in one group, which it shares with all it touches.

    ``within``: two boxes touch that lie no farther apart than so many millimetres on both axes.
    """
    leader = list(range(len(boxes)))

    def find(index: int) -> int:
        while leader[index] != index:
            leader[index] = leader[leader[index]]
            index = leader[index]
        return index

    squares: dict[tuple[int, int], list[int]] = defaultdict(list)
    side_mm = max([SQUARE_MM, *(max(box.width, box.height) / MOST_SQUARES_ACROSS for box in boxes if _is_finite(box))])
    for index, box in enumerate(boxes):
        for square in _squares(box, within, side_mm):
            squares[square].append(index)
    for members in squares.values():
        strewn = len(members) > MOST_IN_A_SQUARE
        for at, one in enumerate(members):
            others = members[:1] if strewn else members[:at]
            for other in others:
                if find(one) != find(other) and (strewn or boxes[one].meets(boxes[other], within=within)):
                    leader[find(one)] = find(other)
    groups: dict[int, list[int]] = defaultdict(list)
    for index in range(len(boxes)):
        groups[find(index)].append(index)
    return list(groups.values())


def _is_finite(box: Box) -> bool:
    return all(math.isfinite(edge) for edge in (box.x0, box.y0, box.x1, box.y1))


def _squares(box: Box, within: float, side_mm: float) -> list[tuple[int, int]]:
    """The squares a box lies in; none for one without end, which then touches nothing."""
    if not _is_finite(box):
        return []
    wide = box.grow(within)
    columns = range(int(wide.x0 // side_mm), int(wide.x1 // side_mm) + 1)
    rows = range(int(wide.y0 // side_mm), int(wide.y1 // side_mm) + 1)
    return [(column, row) for column in columns for row in rows]
