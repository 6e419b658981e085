"""Where the most ink lies: the highest mean over a small square, and the areas where such squares are over a limit.

Single pixels say nothing about drying and change with the resolution they are drawn at, so ink is summed over all printing plates
and averaged over a square of the rules' measuring area (15 mm2: 23 x 23 pixels at 6 a millimetre), laid at every pixel, all four
sides inside the bleed area. Sums of 0.5 mm cells give an upper bound for the squares that start in a cell, so that the exact
figure is computed only where it can matter. Percent are sums over inks: four full inks are 400.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from preflight.units import CELL_PX

Sums = npt.NDArray[np.uint32]
Total = npt.NDArray[np.uint16]
Mask = npt.NDArray[np.bool_]
Labels = npt.NDArray[np.int32]

#: Rows handled at a time: small enough to stay in the processor's cache.
_BAND_ROWS = 64
#: More areas than this on one page are told by their worst ones.
MOST_AREAS = 200


@dataclass(frozen=True)
class Window:
    """A square of pixels and its mean ink."""

    mean_percent: float
    top: int
    left: int
    side: int


@dataclass(frozen=True)
class WindowArea:
    """The union of touching squares over a limit: its pixels' extent (ends excluded), its size in pixels, its worst square."""

    worst: Window
    pixels: int
    top: int
    bottom: int
    left: int
    right: int


def window_side(window_mm2: float, pixels_per_mm: float) -> int:
    """The side of the measuring square in whole pixels (15 mm2 at 6 a millimetre: 23)."""
    return max(1, math.floor(math.sqrt(window_mm2) * pixels_per_mm + 0.5))


def window_sums(total: Total, side: int) -> Sums:
    """The sum over every square of ``side`` pixels, by its top left pixel."""
    return _runs(_runs(total.astype(np.uint32), side, 0), side, 1)


def best_window(total: Total, cells: Sums, side: int) -> Window | None:
    """The square with the most ink; None where not one fits. ``cells`` are sums of ``total`` over cells, zeros past its end."""
    rows, columns = (length - side + 1 for length in total.shape)
    if rows < 1 or columns < 1:
        return None
    bound = _bound(cells, side)
    best, place = -1, (0, 0)
    bands = range(0, rows, _BAND_ROWS)
    of_band = [_cell_rows(bound, first, min(rows, first + _BAND_ROWS)) for first in bands]
    peaks = [int(part.max()) for part in of_band]
    for index in sorted(range(len(peaks)), key=lambda index: -peaks[index]):
        if peaks[index] <= best:
            break
        first = bands[index]
        within = np.flatnonzero(of_band[index].max(axis=0) > best)
        left, right = int(within[0]) * CELL_PX, min(columns, (int(within[-1]) + 1) * CELL_PX)
        if left >= right:
            continue
        end = min(rows, first + _BAND_ROWS)
        sums = window_sums(total[first : end + side - 1, left : right + side - 1], side)
        where = int(sums.argmax())
        highest = int(sums.flat[where])
        if highest > best:
            best, place = highest, (first + where // sums.shape[1], left + where % sums.shape[1])
    return Window(_percent(best, side), *place, side)


def window_areas(total: Total, cells: Sums, side: int, above_percent: float) -> list[WindowArea]:
    """The areas covered by squares whose mean is over ``above_percent``, worst first."""
    rows, columns = (length - side + 1 for length in total.shape)
    if rows < 1 or columns < 1:
        return []
    limit = above_percent * 2.55 * side * side
    over = np.zeros(total.shape, dtype=bool)
    starts: list[tuple[int, int, Sums]] = []
    bound = _bound(cells, side)
    for first in range(0, rows, _BAND_ROWS):
        end = min(rows, first + _BAND_ROWS)
        within = np.flatnonzero(_cell_rows(bound, first, end).max(axis=0) > limit)
        if not within.size:
            continue
        left, right = int(within[0]) * CELL_PX, min(columns, (int(within[-1]) + 1) * CELL_PX)
        if left >= right:
            continue
        sums = window_sums(total[first : end + side - 1, left : right + side - 1], side)
        if sums.max() > limit:
            starts.append((first, left, sums))
            over[first:end, left:right] |= sums > limit
    if not starts:
        return []
    covered = _grown(over, side)
    labels, extents = label_areas(_any_in_cells(covered))
    areas = [_area(place + 1, extent, labels, covered, starts, side) for place, extent in enumerate(extents)]
    areas.sort(key=lambda area: (-area.worst.mean_percent, area.top, area.left))
    return areas[:MOST_AREAS]


def label_areas(mask: Mask) -> tuple[Labels, list[tuple[int, int, int, int]]]:
    """Numbers the connected areas of a coarse grid from 1, corners touching included; 0 is outside.

    Returns the numbers and each area's extent: first row, end row, first column, end column.
    """
    labels = np.zeros(mask.shape, dtype=np.int32)
    parents: list[int] = []

    def root(number: int) -> int:
        while parents[number] != number:
            parents[number] = parents[parents[number]]
            number = parents[number]
        return number

    above: list[tuple[int, int, int]] = []
    runs: list[tuple[int, int, int, int]] = []
    for row in np.flatnonzero(mask.any(axis=1)).tolist():
        if runs and runs[-1][0] != row - 1:
            above = []
        ends = np.flatnonzero(np.diff(mask[row].view(np.int8), prepend=np.int8(0), append=np.int8(0)))
        current: list[tuple[int, int, int]] = []
        for start, end in ends.reshape(-1, 2).tolist():
            touching = [root(number) for first, last, number in above if first <= end and last >= start]
            number = min(touching, default=len(parents))
            if not touching:
                parents.append(number)
            for other in touching:
                parents[other] = number
            current.append((start, end, number))
            runs.append((row, start, end, number))
        above = current
    numbers: dict[int, int] = {}
    extents: list[tuple[int, int, int, int]] = []
    for row, start, end, run in runs:
        kept = root(run)
        if kept not in numbers:
            numbers[kept] = len(numbers) + 1
            extents.append((row, row + 1, start, end))
        place = numbers[kept] - 1
        top, bottom, left, right = extents[place]
        extents[place] = (min(top, row), max(bottom, row + 1), min(left, start), max(right, end))
        labels[row, start:end] = place + 1
    return labels, extents


def cell_sums(plane: npt.NDArray[Any]) -> Total:
    """Sums over cells of 3 x 3 pixels; what lies past the end counts as nothing. Holds 28 full inks."""
    padding = (-plane.shape[0] % CELL_PX, -plane.shape[1] % CELL_PX)
    if any(padding):
        plane = np.pad(plane, ((0, padding[0]), (0, padding[1])))
    strips = np.add(plane[0::CELL_PX], plane[1::CELL_PX], dtype=np.uint16)
    strips += plane[2::CELL_PX]
    sums: Total = strips[:, 0::CELL_PX] + strips[:, 1::CELL_PX]
    sums += strips[:, 2::CELL_PX]
    return sums


# --- inside ---------------------------------------------------------------------------------------------------------


def _runs(sums: Sums, length: int, axis: int) -> Sums:
    """Sums of ``length`` neighbours along an axis, put together from sums of 1, 2, 4 ... neighbours."""

    def part(array: Sums, first: int, count: int) -> Sums:
        return array[first : first + count] if axis == 0 else array[:, first : first + count]

    count = sums.shape[axis] - length + 1
    result: Sums | None = None
    place, width, bits = 0, 1, length
    while True:
        if bits & 1:
            piece = part(sums, place, count)
            result = piece.copy() if result is None else np.add(result, piece, out=result)
            place += width
        bits >>= 1
        if not bits:
            assert result is not None
            return result
        kept = sums.shape[axis] - width
        sums = part(sums, 0, kept) + part(sums, width, kept)
        width *= 2


def _bound(cells: Sums, side: int) -> Sums:
    """For each cell, more than any square holds that starts in it: the cells such squares can touch, all of them."""
    reach = (side + CELL_PX - 2) // CELL_PX + 1
    padded = np.pad(cells, ((0, reach - 1), (0, reach - 1)))
    return _runs(_runs(padded, reach, 0), reach, 1)


def _cell_rows(bound: Sums, first: int, end: int) -> Sums:
    """The rows of cells in which squares of pixel rows ``first`` to ``end`` start."""
    return bound[first // CELL_PX : (end - 1) // CELL_PX + 1]


def _percent(sum_of_bytes: int, side: int) -> float:
    return sum_of_bytes / (2.55 * side * side)


def _grown(starts: Mask, side: int) -> Mask:
    """The union of the squares that start at the marked pixels."""
    result = starts
    for axis in (0, 1):
        width = 1
        while width < side:
            step = min(width, side - width)
            moved = result.copy()
            if axis == 0:
                moved[step:] |= result[:-step]
            else:
                moved[:, step:] |= result[:, :-step]
            result = moved
            width += step
    return result


def _any_in_cells(mask: Mask) -> Mask:
    marked: Mask = cell_sums(mask.view(np.uint8)) > 0
    return marked


def _area(
    number: int,
    extent: tuple[int, int, int, int],
    labels: Labels,
    covered: Mask,
    starts: list[tuple[int, int, Sums]],
    side: int,
) -> WindowArea:
    """One numbered area at pixel level: its exact extent and size, and the worst square that starts in it."""
    rows, columns = slice(extent[0], extent[1]), slice(extent[2], extent[3])
    top, bottom, left, right = (place * CELL_PX for place in extent)
    own = np.repeat(np.repeat(labels[rows, columns] == number, CELL_PX, axis=0), CELL_PX, axis=1)
    inside = covered[top:bottom, left:right]
    inside = inside & own[: inside.shape[0], : inside.shape[1]]
    marked_rows, marked_columns = np.flatnonzero(inside.any(axis=1)), np.flatnonzero(inside.any(axis=0))
    best, place = -1, (0, 0)
    for first, start, sums in starts:
        y0, y1 = max(top, first), min(bottom, first + sums.shape[0])
        x0, x1 = max(left, start), min(right, start + sums.shape[1])
        if y0 >= y1 or x0 >= x1:
            continue
        part = sums[y0 - first : y1 - first, x0 - start : x1 - start]
        mine = np.where(own[y0 - top : y1 - top, x0 - left : x1 - left], part, 0)
        where = int(mine.argmax())
        if int(mine.flat[where]) > best:
            best, place = int(mine.flat[where]), (y0 + where // mine.shape[1], x0 + where % mine.shape[1])
    return WindowArea(
        Window(_percent(best, side), *place, side),
        int(np.count_nonzero(inside)),
        top + int(marked_rows[0]),
        top + int(marked_rows[-1]) + 1,
        left + int(marked_columns[0]),
        left + int(marked_columns[-1]) + 1,
    )
