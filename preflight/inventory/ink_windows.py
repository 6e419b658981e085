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
    """Touching squares over a limit: the worst of them, and what in them is over the limit itself.

    ``pixels``: the size of the cells (or single pixels, if those are more) over it; the extent (ends excluded) is that of its pixels. A square may stand out over a dark
    patch by half its side and more, which would say little about where the patch is.
    """

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
    # Half the memory to move, while a column of the square fits: 11 full inks.
    fits = int(total.max()) * side <= np.iinfo(np.uint16).max
    columns = _runs(total if fits else total.astype(np.uint32), side, 0)
    return _runs(columns.astype(np.uint32), side, 1)


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


@dataclass(frozen=True)
class Squares:
    """The sums of the squares that may be over a limit, in blocks: first row, first column, sums by top left pixel."""

    total: Total
    cells: Sums
    side: int
    blocks: tuple[tuple[int, int, Sums], ...]


def squares_over(total: Total, cells: Sums, side: int, above_percent: float) -> Squares:
    """All squares whose mean may be over ``above_percent``, and some more."""
    rows, columns = (length - side + 1 for length in total.shape)
    limit = above_percent * 2.55 * side * side
    bound = _bound(cells, side)
    blocks = []
    for first in range(0, max(0, rows), _BAND_ROWS):
        end = min(rows, first + _BAND_ROWS)
        within = np.flatnonzero(_cell_rows(bound, first, end).max(axis=0) > limit)
        if within.size:
            left, right = int(within[0]) * CELL_PX, min(columns, (int(within[-1]) + 1) * CELL_PX)
            if left < right:
                blocks.append((first, left, window_sums(total[first : end + side - 1, left : right + side - 1], side)))
    return Squares(total, cells, side, tuple(blocks))


def window_areas(squares: Squares, above_percent: float) -> list[WindowArea]:
    """The areas covered by squares whose mean is over ``above_percent``, worst first."""
    limit = above_percent * 2.55 * squares.side**2
    over: Mask = np.zeros(squares.total.shape, dtype=bool)
    blocks = [block for block in squares.blocks if block[2].max() > limit]
    for first, left, sums in blocks:
        over[first : first + sums.shape[0], left : left + sums.shape[1]] = sums > limit
    if not blocks:
        return []
    covered = grown(over, squares.side)
    labels, extents = label_areas(_any_in_cells(covered))
    # From here on: what of the covered squares is over the limit itself.
    covered &= squares.total > above_percent * 2.55
    dark_cells = squares.cells > above_percent * 2.55 * CELL_PX**2
    areas = [
        _area(place + 1, extent, labels, covered, dark_cells, blocks, squares.side)
        for place, extent in enumerate(extents)
    ]
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
    current: list[tuple[int, int, int]] = []
    runs: list[tuple[int, int, int, int]] = []
    last = -2
    for row, start, end in runs_in_rows(mask):
        if row != last:
            above = current if row == last + 1 else []
            current = []
            last = row
        touching = [root(number) for first, stop, number in above if first <= end and stop >= start]
        number = min(touching, default=len(parents))
        if not touching:
            parents.append(number)
        for other in touching:
            parents[other] = number
        current.append((start, end, number))
        runs.append((row, start, end, number))
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


def runs_in_rows(mask: Mask) -> list[tuple[int, int, int]]:
    """Every stretch of a row where a mask holds: row, first column, end; in reading order."""
    steps = np.diff(np.pad(mask, ((0, 0), (1, 1))).view(np.int8), axis=1)
    rows, starts = np.nonzero(steps == 1)
    ends = np.nonzero(steps == -1)[1]
    return list(zip(rows.tolist(), starts.tolist(), ends.tolist(), strict=True))


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


def grown(starts: Mask, side: int) -> Mask:
    """The union of the squares of ``side`` pixels or cells that start, with their top left corner, at the marked ones."""
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


def has_square(mask: Mask, side: int) -> bool:
    """Whether a mask is whole over any square of so many pixels or cells."""
    if min(mask.shape) < side:
        return False
    return bool((_runs(_runs(mask.astype(np.uint32), side, 0), side, 1) == side * side).any())


# --- inside ---------------------------------------------------------------------------------------------------------


def _runs(sums: npt.NDArray[Any], length: int, axis: int) -> npt.NDArray[Any]:
    """Sums of ``length`` neighbours along an axis, put together from sums of 1, 2, 4 ... neighbours."""

    def part(array: npt.NDArray[Any], first: int, count: int) -> npt.NDArray[Any]:
        return array[first : first + count] if axis == 0 else array[:, first : first + count]

    count = sums.shape[axis] - length + 1
    result: npt.NDArray[Any] | None = None
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


def _any_in_cells(mask: Mask) -> Mask:
    marked: Mask = cell_sums(mask.view(np.uint8)) > 0
    return marked


def _area(
    number: int,
    extent: tuple[int, int, int, int],
    labels: Labels,
    dark: Mask,
    dark_cells: Mask,
    blocks: list[tuple[int, int, Sums]],
    side: int,
) -> WindowArea:
    """One numbered area: the extent and size of what is dark in it, and the worst square that starts in it."""
    rows, columns = slice(extent[0], extent[1]), slice(extent[2], extent[3])
    top, bottom, left, right = (place * CELL_PX for place in extent)
    own_cells = labels[rows, columns] == number
    own = np.repeat(np.repeat(own_cells, CELL_PX, axis=0), CELL_PX, axis=1)
    inside = dark[top:bottom, left:right]
    inside = inside & own[: inside.shape[0], : inside.shape[1]]
    marked_rows, marked_columns = np.flatnonzero(inside.any(axis=1)), np.flatnonzero(inside.any(axis=0))
    best, place = -1, (0, 0)
    for first, start, sums in blocks:
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
        max(int(np.count_nonzero(own_cells & dark_cells[rows, columns])) * CELL_PX**2, int(np.count_nonzero(inside))),
        top + int(marked_rows[0]),
        top + int(marked_rows[-1]) + 1,
        left + int(marked_columns[0]),
        left + int(marked_columns[-1]) + 1,
    )
