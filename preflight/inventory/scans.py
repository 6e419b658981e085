"""Looks at one picture's pixels as a scan: traces of JPEG packing, type or line art on paper, and how far it lies askew.

Works on tiles and reduced copies of the largest part that shows. A photograph is left after a look at a sample of its levels. Lightness
0 to 255; tilt in degrees, clockwise positive, within 0.1.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from preflight.inventory.jpeg_traces import Tile, blocks_in, quality_in
from preflight.inventory.line_art import Drawing, drawing_in
from preflight.inventory.tilt import tilt_of

Light = NDArray[np.float32]

_TILE_PX = 192
_TILES_A_SIDE = 3
_PART_PX = 384
_SAMPLE_PIXELS = 200_000
_COPY_PX = 1000
_COPY_FROM_PIXELS = 4_000_000
#: Ink whose parts differ by more than this of 255 is a colour.
_NEUTRAL_WITHIN = 40.0


class Pixels(Protocol):
    """What is needed of a picture's pixels."""

    @property
    def data(self) -> NDArray[np.uint8]: ...
    @property
    def family(self) -> str: ...
    @property
    def boxes(self) -> tuple[tuple[int, int, int, int], ...]: ...
    def gray(self, rows: slice, columns: slice) -> Light: ...


@dataclass(frozen=True)
class ScanLook:
    """What was seen, in terms of pixels."""

    #: How much stronger the edges of JPEG's blocks are than what is inside them; ``None`` where no grid is to be seen.
    blocking_percent: float | None = None
    #: The quality that the pixels themselves tell.
    quality: float | None = None
    drawing: Drawing | None = None
    #: Ink of the drawing is gray or black.
    is_neutral: bool = False
    tilt_deg: float | None = None


def scan_look(pixels: Pixels, *, one_bit: bool, dots: bool) -> ScanLook:
    """Looks at the largest part that shows. ``dots``: it carries a halftone, whose lattice must not pass for a grid of blocks."""
    x0, y0, x1, y1 = max(pixels.boxes, key=lambda box: (box[2] - box[0]) * (box[3] - box[1]))
    blocking = quality = None
    if not one_bit and not dots:
        tiles = [
            Tile(left, top, _packed_part(pixels, slice(top, top + _TILE_PX), slice(left, left + _TILE_PX)))
            for top in _spread(y0, y1, _TILE_PX)
            for left in _spread(x0, x1, _TILE_PX)
        ]
        blocks = blocks_in(tiles)
        if blocks is not None:
            blocking, quality = round(blocks.percent, 1), quality_in(tiles, blocks)
    step = max(1, round(math.sqrt((x1 - x0) * (y1 - y0) / _SAMPLE_PIXELS)))
    rows, columns = slice(y0, y1, step), slice(x0, x1, step)
    sample = pixels.gray(rows, columns)
    parts = (
        pixels.gray(slice(top, min(y1, top + _PART_PX)), slice(left, min(x1, left + _PART_PX)))
        for top in _spread(y0, y1, _PART_PX)
        for left in _spread(x0, x1, _PART_PX)
    )
    drawing = drawing_in(sample, parts)
    if drawing is None:
        return ScanLook(blocking, quality)
    tilt = None
    # Rows of dots have a direction of their own.
    if (drawing.has_grain or one_bit) and not dots:
        copy = _copy(pixels, (x0, y0, x1, y1))
        darkness = np.clip((drawing.paper - copy) / (drawing.paper - drawing.ink), 0.0, 1.0)
        tilt = tilt_of(darkness.astype(np.float32))
    neutral = _is_neutral(pixels, rows, columns, sample < drawing.middle)
    return ScanLook(blocking, quality, drawing, neutral, tilt)


def _packed_part(pixels: Pixels, rows: slice, columns: slice) -> Light:
    """A part as JPEG packs it: lightness, or of inks the first, each of which is packed for itself."""
    if pixels.family in ("cmyk", "inks"):
        return pixels.data[rows, columns, 0].astype(np.float32)
    return pixels.gray(rows, columns)


def _spread(start: int, stop: int, side: int) -> list[int]:
    """Where parts begin, evenly over a length; a shorter length is one part."""
    if stop - start <= side:
        return [start]
    count = min(_TILES_A_SIDE, max(1, (stop - start) // side))
    if count == 1:
        return [(start + stop - side) // 2]
    return [start + (stop - side - start) * index // (count - 1) for index in range(count)]


def _copy(pixels: Pixels, box: tuple[int, int, int, int]) -> Light:
    """A part in a reduced size, square pixels of it put together."""
    x0, y0, x1, y1 = box
    skip = max(1, math.floor(math.sqrt((x1 - x0) * (y1 - y0) / _COPY_FROM_PIXELS)))
    part = pixels.gray(slice(y0, y1, skip), slice(x0, x1, skip))
    height, width = part.shape
    side = max(1, round(max(height, width) / _COPY_PX))
    height, width = height // side, width // side
    cut = part[: height * side, : width * side].reshape(height, side, width, side)
    return np.asarray(cut.mean(axis=(1, 3)), dtype=np.float32)


def _is_neutral(pixels: Pixels, rows: slice, columns: slice, ink: NDArray[np.bool_]) -> bool:
    if pixels.family == "gray":
        return True
    if pixels.family not in ("rgb", "cmyk"):
        return False
    part = pixels.data[rows, columns, :3][ink].astype(np.int16)
    return bool(len(part)) and float(np.median(part.max(axis=1) - part.min(axis=1))) <= _NEUTRAL_WITHIN
