"""Bar codes that lie at an angle: which way their bars run, and the picture turned so that they stand upright.

The angle is told by how the tone changes, cell by cell: along bars it does not, across them it does, and all cells of a code agree. Angles
are those of the line across the bars against the page's x axis, in degrees, clockwise as seen, above -90 to 90. The picture is turned
about its middle, pixel for pixel; where it shows nothing, or lies outside the trim, it is dark, so that a margin ends there.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import numpy.typing as npt

from preflight.inventory.fine_view import FineView
from preflight.inventory.render import PlatePixels
from preflight.units import Box

Tone = npt.NDArray[Any]

#: Bars closer to upright or level than this are read as they lie.
LEAST_TURN_DEG = 2.0
_CELL_MM = 2.0
#: How much of the change of tone in a cell must go one way (plates are coarse: slanted edges are steps there), and how many of the
#: busy cells must agree on it within some degrees.
_ONE_WAY = 0.5
_AGREE = 0.6
_WITHIN_DEG = 10.0
_LEAST_CELLS = 6
#: A cell is busy if its tone changes at least so much as bars a few millimetres apart make it.
_BUSY = 0.004


def strongest_ink(pixels: PlatePixels, planes: list[int], box_mm: Box) -> Tone:
    """The strongest ink at each place of a box, from 0 to 1."""
    top, bottom, left, right = pixels.pixel_box(box_mm)
    strongest = np.zeros((bottom - top, right - left), dtype=np.uint8)
    for index in planes:
        np.maximum(strongest, pixels.planes[index][top:bottom, left:right], out=strongest)
    return strongest / np.float32(255.0)


def angle_of_bars(tone: Tone, pixels_per_mm: float) -> float | None:
    """The angle of the bars that fill most of a picture (tones from 0 to 1); None where there are none."""
    soft = _softened(tone)
    if min(soft.shape) < 3:
        return None
    down, across = np.gradient(soft, axis=0), np.gradient(soft, axis=1)
    side = max(3, round(_CELL_MM * pixels_per_mm))
    xx, yy, xy = (_cell_means(part, side) for part in (across * across, down * down, across * down))
    energy = xx + yy
    busy = energy >= _BUSY
    if not busy.any():
        return None
    one_way = busy & (np.hypot(xx - yy, 2.0 * xy) >= _ONE_WAY * energy)
    if np.count_nonzero(one_way) < max(_LEAST_CELLS, _AGREE * np.count_nonzero(busy)):
        return None
    doubled = 2.0 * xy[one_way], (xx - yy)[one_way]
    angle = math.atan2(float(doubled[0].sum()), float(doubled[1].sum()))
    off = np.abs((np.arctan2(*doubled) - angle + math.pi) % (2.0 * math.pi) - math.pi) / 2.0
    if np.mean(off <= math.radians(_WITHIN_DEG)) < _AGREE:
        return None
    return math.degrees(angle) / 2.0


def is_turned(angle_deg: float) -> bool:
    """Whether bars at this angle neither stand nor lie."""
    return abs((angle_deg + 45.0) % 90.0 - 45.0) > LEAST_TURN_DEG


def _softened(tone: Tone) -> Tone:
    """The mean of three by three pixels: steps of a slanted edge become a slope."""
    soft: Tone = tone.astype(np.float32)
    for axis in (0, 1):
        low, high = (np.roll(soft, shift, axis=axis) for shift in (1, -1))
        soft = (soft + low + high) / 3.0
    return soft[1:-1, 1:-1]


def _cell_means(values: Tone, side: int) -> Tone:
    rows, columns = (max(1, length // side) for length in values.shape)
    whole = values[: rows * side, : columns * side]
    if whole.shape != (rows * side, columns * side):
        return np.array([[values.mean()]])
    means: Tone = whole.reshape(rows, side, columns, side).mean(axis=(1, 3))
    return means


@dataclass(frozen=True)
class TurnedView:
    """A view turned so that bars at an angle stand, and the way back."""

    view: FineView
    angle_deg: float
    #: The middle both pictures are turned about, in trim space.
    middle_mm: tuple[float, float]

    def box_on_page(self, box_mm: Box) -> Box:
        """The box on the page around a box of the turned picture."""
        return self._around(box_mm, math.radians(self.angle_deg))

    def box_in_picture(self, box_mm: Box) -> Box:
        """The box of the turned picture around one of the page."""
        return self._around(box_mm, -math.radians(self.angle_deg))

    def _around(self, box_mm: Box, angle: float) -> Box:
        x, y = self.middle_mm
        cosine, sine = math.cos(angle), math.sin(angle)
        corners = [(px - x, py - y) for px in (box_mm.x0, box_mm.x1) for py in (box_mm.y0, box_mm.y1)]
        xs = [x + cosine * across - sine * down for across, down in corners]
        ys = [y + sine * across + cosine * down for across, down in corners]
        return Box(min(xs), min(ys), max(xs), max(ys))


def turned(view: FineView, angle_deg: float) -> TurnedView:
    """The view with its bars upright. Its trim is what is left in it: what lay outside is dark."""
    rows, columns = view.light.shape
    cosine, sine = math.cos(math.radians(angle_deg)), math.sin(math.radians(angle_deg))
    high = math.ceil(abs(sine) * columns + abs(cosine) * rows)
    wide = math.ceil(abs(cosine) * columns + abs(sine) * rows)
    x = np.arange(wide, dtype=np.float32) + 0.5 - wide / 2.0
    y = (np.arange(high, dtype=np.float32) + 0.5 - high / 2.0)[:, None]
    from_column = np.floor(cosine * x - sine * y + columns / 2.0).astype(np.intp)
    from_row = np.floor(sine * x + cosine * y + rows / 2.0).astype(np.intp)
    top, bottom, left, right = view.trim_px
    outside = (from_row < max(0.0, top)) | (from_row >= min(rows, bottom))
    outside |= (from_column < max(0.0, left)) | (from_column >= min(columns, right))
    np.clip(from_row, 0, rows - 1, out=from_row)
    np.clip(from_column, 0, columns - 1, out=from_column)
    planes = tuple(np.where(outside, np.uint8(255), plane[from_row, from_column]) for plane in view.pixels.planes)
    light = np.where(outside, np.float32(0.0), view.light[from_row, from_column])
    box = view.pixels.box_mm
    middle = (box.x0 + box.x1) / 2.0, (box.y0 + box.y1) / 2.0
    step = view.step_mm
    origin = middle[0] - wide * step / 2.0, middle[1] - high * step / 2.0
    pixels = PlatePixels(
        view.pixels.inks, planes, origin, view.pixels.pixels_per_mm, view.pixels.press, view.pixels.looks
    )
    whole = Box(origin[0], origin[1], origin[0] + wide * step, origin[1] + high * step)
    return TurnedView(replace(view, pixels=pixels, light=light, trim=whole), angle_deg, middle)
