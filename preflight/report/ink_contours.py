"""The outline of too much ink: a line around each patch that is over the limit, with its size in mm2.

Traced around the cells (0.5 mm) whose mean over all printing inks is over the limit, where a measuring square (15 mm2) is over it
too. Corners that stand out less than 0.55 mm are left out of the line, and so are holes not twice as wide as that square: letters
reversed out of a dark ground would hide it behind lines. The size is that of the cells. Patches far smaller than the largest are no patch of their
own; on a page strewn with them the largest 40 are drawn. Lengths are mm of trim space.
"""

from __future__ import annotations

import math
from collections import defaultdict
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from preflight.inventory.ink_windows import grown, label_areas, window_sums
from preflight.inventory.model import Plates
from preflight.units import TOLERANCE_INK_PERCENT, Box

Mask = npt.NDArray[np.bool_]
Point = tuple[float, float]

MOST_PATCHES = 40
#: A patch under the measuring square counts from this share of the largest.
LEAST_SHARE = 0.1
SMOOTH_MM = 0.55
#: Corners of all lines of one finding; a finer outline is drawn around coarser cells.
MOST_CORNERS = 8000


@dataclass(frozen=True)
class Patch:
    """One patch over the limit: its size, and its outline as closed lines (the first around it, others around holes)."""

    area_mm2: float
    rings: tuple[tuple[Point, ...], ...]

    def as_detail(self) -> dict[str, Any]:
        return {
            "area_mm2": round(self.area_mm2, 1),
            "rings_mm": [[[round(x, 1), round(y, 1)] for x, y in ring] for ring in self.rings],
        }


def ink_patches(plates: Plates, box_mm: Box, above_percent: float) -> list[Patch]:
    """The patches over ``above_percent`` that touch a box, largest first."""
    grid = plates.cells
    if grid is None or not grid.data:
        return []
    cells = np.frombuffer(grid.data, dtype=np.uint8).reshape(grid.planes, grid.rows, grid.columns)
    printing = [index for index, plate in enumerate(plates.plates) if plate.kind != "finishing"]
    x, y = grid.origin_mm
    left, right = (_cell(value - x, grid.cell_mm, grid.columns) for value in (box_mm.x0, box_mm.x1))
    top, bottom = (_cell(value - y, grid.cell_mm, grid.rows) for value in (box_mm.y0, box_mm.y1))
    part = cells[printing, top : bottom + 1, left : right + 1]
    total = part.sum(axis=0, dtype=np.uint16)
    level = (above_percent + TOLERANCE_INK_PERCENT) * 2.55
    over: Mask = total > level
    within = over & _covered(total, level, max(1, round(math.sqrt(plates.window_mm2) / grid.cell_mm)))
    corner = (x + left * grid.cell_mm, y + top * grid.cell_mm)
    return _patches(within if within.any() else over, corner, grid.cell_mm, plates.window_mm2)


def _covered(total: npt.NDArray[np.uint16], level: float, side: int) -> Mask:
    """The cells under any square of ``side`` cells whose mean is over a level."""
    starts: Mask = np.zeros(total.shape, dtype=bool)
    rows, columns = (length - side + 1 for length in total.shape)
    if rows > 0 and columns > 0:
        starts[:rows, :columns] = window_sums(total, side) > level * side * side
    return grown(starts, side)


def _cell(offset_mm: float, cell_mm: float, count: int) -> int:
    return min(count - 1, max(0, int(offset_mm / cell_mm)))


def _patches(over: Mask, corner_mm: Point, cell_mm: float, window_mm2: float) -> list[Patch]:
    labels, extents = label_areas(over)
    sizes = np.bincount(labels.ravel(), minlength=len(extents) + 1)[1:] * cell_mm**2
    order = np.argsort(-sizes, kind="stable")[:MOST_PATCHES]
    least = min(window_mm2, LEAST_SHARE * float(sizes.max(initial=0.0)))
    kept = [int(index) for index in order if sizes[index] >= least]
    patches = []
    for index in kept:
        first, end, start, stop = extents[index]
        own = labels[first:end, start:stop] == index + 1
        origin = (corner_mm[0] + start * cell_mm, corner_mm[1] + first * cell_mm)
        first_ring, *holes = _rings(own, origin, cell_mm)
        rings = [first_ring, *(hole for hole in holes if _is_wide(hole, window_mm2))]
        patches.append(Patch(float(sizes[index]), tuple(rings)))
    return patches


def _rings(mask: Mask, corner_mm: Point, cell_mm: float) -> list[tuple[Point, ...]]:
    """The closed lines around a mask, the outermost first."""
    step = 1
    while _edges_of(mask) > MOST_CORNERS:
        rows, columns = (-(-side // 2) * 2 for side in mask.shape)
        wide = np.pad(mask, ((0, rows - mask.shape[0]), (0, columns - mask.shape[1])))
        mask = wide.reshape(rows // 2, 2, columns // 2, 2).sum(axis=(1, 3)) >= 2
        step *= 2
    size = cell_mm * step
    lines = [
        _smoothed([(corner_mm[0] + column * size, corner_mm[1] + row * size) for row, column in line], SMOOTH_MM)
        for line in _traced(mask)
    ]
    return sorted(lines, key=lambda line: -abs(_area(line)))


def _edges_of(mask: Mask) -> int:
    wide = np.pad(mask, 1)
    return int(np.count_nonzero(wide[1:] != wide[:-1]) + np.count_nonzero(wide[:, 1:] != wide[:, :-1]))


def _traced(mask: Mask) -> list[list[tuple[int, int]]]:
    """Walks along the edges of marked cells with what is marked on the right hand; corners as (row, column)."""
    wide = np.pad(mask, 1)
    ahead: dict[tuple[int, int], list[tuple[int, int]]] = defaultdict(list)
    inside = wide[1:-1, 1:-1]
    for row, column in np.argwhere(inside & ~wide[:-2, 1:-1]).tolist():
        ahead[row, column].append((row, column + 1))
    for row, column in np.argwhere(inside & ~wide[1:-1, 2:]).tolist():
        ahead[row, column + 1].append((row + 1, column + 1))
    for row, column in np.argwhere(inside & ~wide[2:, 1:-1]).tolist():
        ahead[row + 1, column + 1].append((row + 1, column))
    for row, column in np.argwhere(inside & ~wide[1:-1, :-2]).tolist():
        ahead[row + 1, column].append((row, column))
    lines = []
    while ahead:
        start = next(iter(ahead))
        line, here = [start], start
        came: tuple[int, int] | None = None
        while True:
            choices = ahead[here]
            # Where two cells meet at a corner the line turns right, so that each keeps to its own side.
            turns = [0 if came is None else _turn(came, to, here) for to in choices]
            going = choices[turns.index(min(turns))]
            choices.remove(going)
            if not choices:
                del ahead[here]
            came, here = here, going
            if here == start:
                break
            line.append(here)
        lines.append(line)
    return lines


def _turn(came: tuple[int, int], going: tuple[int, int], here: tuple[int, int]) -> int:
    """Positive for a turn to the left."""
    down, across = here[0] - came[0], here[1] - came[1]
    return down * (going[1] - here[1]) - across * (going[0] - here[0])


def _is_wide(hole: tuple[Point, ...], window_mm2: float) -> bool:
    """Whether a hole is more than letters in a dark ground: its mean half width is that of the measuring square, or more."""
    around = sum(math.hypot(x1 - x0, y1 - y0) for (x0, y0), (x1, y1) in zip(hole, (*hole[1:], hole[0]), strict=True))
    return around > 0.0 and 2.0 * abs(_area(hole)) / around >= math.sqrt(window_mm2)


def _area(line: tuple[Point, ...]) -> float:
    return 0.5 * sum(x0 * y1 - x1 * y0 for (x0, y0), (x1, y1) in zip(line, (*line[1:], line[0]), strict=True))


def _smoothed(line: list[Point], within: float) -> tuple[Point, ...]:
    """The line without corners that lie within a distance of what is left (Douglas and Peucker), taken from its two farthest ends."""
    if len(line) < 4:
        return tuple(line)
    points = np.array(line)
    far = int(np.argmax(((points - points[0]) ** 2).sum(axis=1)))
    keep = np.zeros(len(line) + 1, dtype=bool)
    keep[[0, far, len(line)]] = True
    closed = np.vstack([points, points[:1]])
    spans = [(0, far), (far, len(line))]
    while spans:
        first, last = spans.pop()
        if last - first < 2:
            continue
        start, end = closed[first], closed[last]
        along = end - start
        between = closed[first + 1 : last] - start
        length = float(np.hypot(*along))
        off = np.abs(between[:, 0] * along[1] - between[:, 1] * along[0]) / length if length else np.hypot(*between.T)
        worst = int(np.argmax(off))
        if off[worst] > within:
            middle = first + 1 + worst
            keep[middle] = True
            spans += [(first, middle), (middle, last)]
    return tuple((float(x), float(y)) for x, y in points[keep[:-1]])
