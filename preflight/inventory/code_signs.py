"""What on the plates looks like a bar or matrix code: stripes, the corners of QR codes, two tones in quick turn.

At the resolution of the plates, and only to find places for a closer look: a hatching has stripes, too. In pictures inks are taken
together (all that is dark for red light; black; all), elsewhere each plate is looked at. Units are pixels, boxes in millimetres.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from preflight.inventory.finder_patterns import find_corners, squares_of_corners
from preflight.inventory.red_light import solid_red
from preflight.units import Box

if TYPE_CHECKING:
    from preflight.inventory.render import PlatePixels

Plane = npt.NDArray[np.uint8]
#: First row, end row, first column, end column.
Area = tuple[int, int, int, int]

#: Stripes: rows this far apart are looked at, each with one a little lower, along stretches of this length; two rows in turn must
#: show them, which type does not.
_ROW_STEP_MM = 1.34
_ROW_PARTNER_MM = 0.67
_STRETCH_MM = 6.0
_STEP_FROM = 26
_SAME_PART = 0.9
_LEAST_STEPS = 16
_STEPS_A_STRETCH = 4
#: The share of ink in a matrix code, and in a picture of one with its margin.
SQUARES_INK = (0.18, 0.75)
PICTURE_INK = (0.1, 0.9)
#: An ink whose solid gives back less red light than this is dark for a scanner.
_DARK_BELOW = 0.3
#: Rows between those looked at for corner patterns: a block of three of the smallest modules that can be seen is not missed.
_CORNER_STEP_MM = 0.5


def stripes_in(region: Box, pixels: PlatePixels, planes: list[int]) -> Iterator[tuple[Box, bool]]:
    """Places with stripes on single plates, and whether those lie (True) or stand."""
    area = pixels.pixel_box(region.grow(0.5))
    top, bottom, left, right = area
    for index in planes:
        yield from _stripes_of(pixels.planes[index][top:bottom, left:right], pixels, area)


def _stripes_of(plane: Plane, pixels: PlatePixels, area: Area) -> Iterator[tuple[Box, bool]]:
    for level in (False, True):
        for r0, r1, c0, c1 in stripes(plane.T if level else plane, pixels.pixels_per_mm):
            rows, columns = ((c0, c1), (r0, r1)) if level else ((r0, r1), (c0, c1))
            yield _box(pixels, area, (*rows, *columns)), level


def signs_in(picture: Box, pixels: PlatePixels, planes: list[int]) -> tuple[list[tuple[Box, bool]], list[Box]]:
    """Stripes in a picture, and QR codes by their corner patterns, dark on light and light on dark."""
    area = pixels.pixel_box(picture.grow(0.5))
    step = max(1, round(_CORNER_STEP_MM * pixels.pixels_per_mm))
    found: list[tuple[Box, bool]] = []
    squares: list[Box] = []
    for plane in _together(pixels, planes, area):
        found += _stripes_of(plane, pixels, area)
        dark = plane >= 128
        for seen in (dark, ~dark):
            corners = find_corners(seen, step)
            squares += [_box(pixels, area, (y0, y1, x0, x1)) for x0, y0, x1, y1 in squares_of_corners(seen, corners)]
    return found, squares


def _together(pixels: PlatePixels, planes: list[int], area: Area) -> Iterator[Plane]:
    """The inks that are dark for red light, all inks, and black where others are dark as well."""
    top, bottom, left, right = area
    parts = {index: pixels.planes[index][top:bottom, left:right] for index in planes}
    parts = {index: part for index, part in parts.items() if part[::7, ::7].any() or part.any()}
    dark = [index for index in parts if solid_red(pixels, index) < _DARK_BELOW]
    if not parts:
        return
    darkest = _most([parts[index] for index in dark])
    if darkest is not None:
        yield darkest
    if len(dark) < len(parts):
        rest = [parts[index] for index in parts if index not in dark]
        whole = _most(rest if darkest is None else [darkest, *rest])
        if whole is not None:
            yield whole
    black = [index for index in dark if pixels.inks[index] == "Black"]
    if black and len(dark) > 1:
        yield parts[black[0]]


def _most(parts: list[Plane]) -> Plane | None:
    """The strongest ink of several at each place."""
    whole: Plane | None = None
    for part in parts:
        whole = part if whole is None else np.maximum(whole, part)
    return whole


def _box(pixels: PlatePixels, area: Area, place: Area) -> Box:
    return pixels.mm_of(area[0] + place[0], area[0] + place[1], area[2] + place[2], area[2] + place[3])


def stripes(plane: Plane, pixels_per_mm: float) -> list[Area]:
    """Places with upright stripes.

    Every so often a row is held against one a little lower. Stripes have many steps of tone, and both rows the same ones.
    """
    step, partner = max(1, round(_ROW_STEP_MM * pixels_per_mm)), max(1, round(_ROW_PARTNER_MM * pixels_per_mm))
    stretch = max(8, round(_STRETCH_MM * pixels_per_mm))
    first, columns = min(partner, plane.shape[0] // 2), plane.shape[1]
    row = np.ascontiguousarray(plane[first : plane.shape[0] - partner : step])
    if not row.shape[0] or columns <= stretch:
        return []
    counts: Any = np.int16 if columns < 30_000 else np.int32
    busy = np.zeros(row.shape, dtype=np.bool_)
    busy[:, 1:] = _apart(row[:, 1:], row[:, :-1]) >= _STEP_FROM
    wanted = np.flatnonzero(busy.sum(axis=1, dtype=np.int32) >= _LEAST_STEPS)
    if not wanted.size:
        return []
    steps: npt.NDArray[Any] = np.cumsum(busy[wanted], axis=1, dtype=counts)
    dense = steps[:, stretch:] - steps[:, :-stretch] >= _STEPS_A_STRETCH
    there = dense.any(axis=1)
    if not there.any():
        return []
    wanted, steps, dense = wanted[there], steps[there], dense[there]
    rows = first + step * wanted
    alike = _apart(row[wanted], plane[rows + partner]) <= _STEP_FROM
    same: npt.NDArray[Any] = np.cumsum(alike, axis=1, dtype=counts)
    good = dense & (same[:, stretch:] - same[:, :-stretch] >= _SAME_PART * stretch)
    found: list[Area] = []
    for line in np.flatnonzero(good.any(axis=1)):
        ends = np.flatnonzero(np.diff(np.concatenate(([0], good[line].astype(np.int8), [0]))))
        for begin, end in zip(ends[::2], ends[1::2], strict=True):
            start, stop = int(begin), min(int(end) + stretch, columns - 1)
            if int(steps[line, stop]) - int(steps[line, start]) >= _LEAST_STEPS:
                marked = np.flatnonzero(np.diff(steps[line, start : stop + 1]))
                at = int(rows[line])
                _add(found, (at, at + partner + 1, start + int(marked[0]), start + int(marked[-1]) + 2), step)
    return [place for place in found if place[1] - place[0] > partner + 1]


def _apart(one: Plane, other: Plane) -> Plane:
    """How far two tones are apart."""
    difference: Plane = np.maximum(one, other) - np.minimum(one, other)
    return difference


def _add(found: list[Area], place: Area, step: int) -> None:
    """Adds a stretch to the stripes it continues, or as new ones."""
    r0, r1, c0, c1 = place
    for index, (top, bottom, left, right) in enumerate(found):
        shared = min(right, c1) - max(left, c0)
        if r0 - bottom <= step and shared >= 0.6 * min(right - left, c1 - c0):
            found[index] = (top, max(bottom, r1), min(left, c0), max(right, c1))
            return
    found.append(place)


def is_two_toned(box: Box, pixels: PlatePixels, planes: list[int], share: tuple[float, float]) -> bool:
    """Whether a plate shows two tones there, each a good part of it, in quick turn both ways."""
    top, bottom, left, right = pixels.pixel_box(box)
    for index in planes:
        part = pixels.planes[index][top:bottom, left:right]
        if part.size < 100:
            continue
        low, high = int(part.min()), int(part.max())
        if high - low < _STEP_FROM:
            continue
        dark = part > (low + high) / 2.0
        part_dark = float(dark.mean())
        if not share[0] <= part_dark <= share[1]:
            continue
        near = (high - low) * 0.25
        tones = float(((part <= low + near) | (part >= high - near)).mean())
        if tones >= _tones_from(box, pixels) and min(_turns(dark), _turns(dark.T)) >= _least_turns(box, pixels):
            return True
    return False


def _tones_from(box: Box, pixels: PlatePixels) -> float:
    """A code has two tones; small modules blur at this resolution, which those of large codes do not."""
    if pixels.pixels_per_mm < 6:
        return 0.3
    return 0.75 if min(box.width, box.height) > 20.0 else 0.5


def _least_turns(box: Box, pixels: PlatePixels) -> float:
    """A matrix code of ten modules and more turns at least four times a row; very small ones blur at this resolution."""
    return min(4.0, 0.2 * min(box.width, box.height) * pixels.pixels_per_mm)


def _turns(dark: npt.NDArray[Any]) -> float:
    """How often a row changes its tone, on average over rows that hold any."""
    turns = (dark[:, 1:] != dark[:, :-1]).sum(axis=1)
    turns = turns[turns > 0]
    return float(turns.mean()) if turns.size else 0.0
