"""What is left of a bar code that cannot be read: told by its ends and its grid, or by uneven stripes with a line of digits under them.

Stripes of even width, rules, hatchings and rulers have no such ends, lie on no such grid, and are even. Widths are those of a row of
bars and spaces, dark and light in turn, the first and the last dark.
"""

from __future__ import annotations

import statistics
from itertools import accumulate
from typing import Any

import numpy as np
import numpy.typing as npt

from preflight.inventory.bar_patterns import OFF, START_128, STOP_128, Widths, is_like, pitch_of

Dark = npt.NDArray[np.bool_]

#: Modules of the whole symbol and where its middle guard begins.
_GUARDED = {95: ("EAN-13", 45), 67: ("EAN-8", 31)}
_LEAST_BARS = 12
#: What was put over bars may run several of them together: modules.
_WIDEST_BLOT = 16.0
#: Mean distance of all widths from whole modules, in modules: ink on a grid stays below, anything else is near 0.25.
_GRID_OFF = 0.12


def find_remains(widths: Widths) -> str | None:
    """The symbology of a damaged symbol that a row is from end to end, by its guards or start and stop on one grid of modules.

    Stripes of even width, rules and hatchings have no such ends, and random widths lie on no grid.
    """
    if len(widths) < 2 * _LEAST_BARS - 1 or len(widths) % 2 == 0:
        return None
    edges = [0.0, *accumulate(widths)]
    for modules, (symbology, middle) in _GUARDED.items():
        module = pitch_of(widths) / (modules - 1)
        if max(widths) > _WIDEST_BLOT * module or not _on_grid(widths, module):
            continue
        if any(abs(width / module - 1.0) > OFF for width in widths[:3] + widths[-3:]):
            continue
        # What damaged it may reach into the middle guard: one of its edges may be lost.
        kept = sum(any(abs(edge / module - place) < 0.4 for edge in edges) for place in range(middle + 1, middle + 5))
        if kept >= 3:
            return symbology
    for row in (widths, widths[::-1]):
        module = sum(row[:6]) / 11.0
        stop = row[-7:]
        starts = any(is_like(row[:6], shape, module) for shape in START_128)
        if not starts or not is_like(stop, STOP_128, sum(stop) / 13.0):
            continue
        rest = (sum(row) / module) % 11.0
        if _on_grid(row, module) and abs(rest - 2.0) < 0.6:
            return "Code 128"
    return None


def _on_grid(widths: Widths, module: float) -> bool:
    """Edges of one kind (left sides of bars) lie on whole modules, whatever the ink gain."""
    places = [edge / module for edge in accumulate([0.0, *(sum(pair) for pair in zip(widths[::2], widths[1::2]))])]  # noqa: B905
    off = sum(abs(place - round(place)) for place in places) / len(places)
    kinds = {round(width / module) for width in widths}
    return off < _GRID_OFF and len(kinds) >= 3


# --- no grid at all --------------------------------------------------------------------------------------------------

#: Stripes of a symbol in pixels too coarse for it: so many, none wider than so many narrow ones, so uneven.
_LEAST_STRIPES = 15
_WIDEST = 8.0
_UNEVEN_FROM = 0.25
_LOWEST_MM = 5.0
#: The line of digits: within this distance, so high, in so many signs, none wider than this part of the symbol.
_DIGITS_WITHIN_MM = 4.3
_DIGITS_HIGH_MM = (1.0, 4.3)
_DIGITS = (6, 40)
_DIGIT_WIDEST_PART = 0.12


def is_uneven(widths: Widths) -> bool:
    """Whether stripes are as uneven as those of a bar code: bars and spaces alike, within a few modules."""
    bars, spaces = widths[::2], widths[1::2]
    if len(bars) < _LEAST_STRIPES:
        return False
    narrow = sorted(widths)[len(widths) // 5]
    if max(widths) > _WIDEST * narrow:
        return False
    return all(statistics.pstdev(part) > _UNEVEN_FROM * statistics.fmean(part) for part in (bars, spaces))


def has_digits(dark: Dark, columns: tuple[int, int], rows: tuple[int, int], pixels_per_mm: float) -> bool:
    """Whether a line of small signs runs along the lower or the upper end of the stripes."""
    left, right = columns
    top, bottom = rows
    if (bottom - top) < _LOWEST_MM * pixels_per_mm:
        return False
    reach = round(_DIGITS_WITHIN_MM * pixels_per_mm)
    wide = (right - left) // 6
    across = slice(max(0, left - wide), right + wide)
    return _is_line(dark[bottom + 1 : bottom + 1 + reach, across], right - left, pixels_per_mm) or _is_line(
        dark[max(0, top - 1 - reach) : max(0, top - 1), across], right - left, pixels_per_mm
    )


def _is_line(strip: npt.NDArray[Any], width: int, pixels_per_mm: float) -> bool:
    rows = np.flatnonzero(strip.any(axis=1))
    if not rows.size:
        return False
    high = (int(rows[-1]) - int(rows[0]) + 1) / pixels_per_mm
    if not _DIGITS_HIGH_MM[0] <= high <= _DIGITS_HIGH_MM[1]:
        return False
    ends = np.flatnonzero(np.diff(np.concatenate(([0], strip.any(axis=0).astype(np.int8), [0]))))
    signs = ends[1::2] - ends[::2]
    return _DIGITS[0] <= signs.size <= _DIGITS[1] and int(signs.max()) <= _DIGIT_WIDEST_PART * width
