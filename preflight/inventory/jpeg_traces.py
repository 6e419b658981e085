"""What JPEG packing left in a picture: the quality it was packed at, and the grid of its blocks in the pixels.

Quality is 1 to 100 as the usual encoder counts, from the luminance table of the packed data: the quality whose table comes nearest.
The grid is measured in pixels, so that it is also found where a packed picture was saved again without loss: how much more, in levels of
255, lightness bends at the edges of blocks of 8 x 8 pixels than inside them, over columns and over rows at once. Where there is a grid, its
blocks still keep to multiples of the table's entries, which tells the quality once more, within about 5.
Source: ISO/IEC 10918-1, annexes B (markers) and K.1 (table); the scaling of the table is common practice.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

#: The luminance table of ISO/IEC 10918-1, K.1, and in order of size, so that it is no matter how a table is laid out.
_BY_PLACE = np.array(
        [16, 11, 10, 16, 24, 40, 51, 61, 12, 12, 14, 19, 26, 58, 60, 55, 14, 13, 16, 24, 40, 57, 69, 56, 14, 17, 22, 29, 51, 87, 80, 62,
         18, 22, 37, 56, 68, 109, 103, 77, 24, 35, 55, 64, 81, 104, 113, 92, 49, 64, 78, 87, 103, 121, 120, 101, 72, 92, 95, 98, 112, 100, 103, 99]
).reshape(8, 8)  # fmt: skip
_STANDARD = np.sort(_BY_PLACE.ravel())
_BLOCK = 8
#: Steps stronger than this many levels are edges of things, not of blocks.
_EDGE_LEVELS = 24.0
#: Where less than this share of the pixels bends at all, the picture is a drawing in flat colours.
_LEAST_BENDING = 0.02
_LEAST_PX = 64
#: A grid weaker than this beside what is inside the blocks is chance.
_LEAST_PERCENT = 12.0
#: Coarse shares of a block: the ones packing keeps longest. The first, its mean, has steps too small beside its range.
_LOW = ((0, 1), (1, 0), (1, 1), (0, 2), (2, 0), (1, 2), (2, 1), (2, 2), (0, 3), (3, 0))
_COSINES = np.array(
    [[np.sqrt((1 if u == 0 else 2) / 8) * np.cos((2 * i + 1) * u * np.pi / 16) for i in range(8)] for u in range(8)],
    dtype=np.float32,
)
#: Steps that values may keep to.
_STEPS = np.arange(3.0, 130.0)
_LEAST_BLOCKS, _MOST_BLOCKS = 60, 600
_LEAST_VALUES = 12
_LEAST_STEPS = 3
_AGREES = 0.6
_NEAR = 0.8
#: Markers without a length (ISO/IEC 10918-1, table B.1), the ones that begin a frame, and a table's.
_BARE = {0x01, 0xD8, *range(0xD0, 0xD8)}
_FRAMES = set(range(0xC0, 0xD0)) - {0xC4, 0xC8, 0xCC}
_TABLES, _SCAN, _END = 0xDB, 0xDA, 0xD9


class Tile(NamedTuple):
    """Lightness of a part of a picture, 0 to 255, and the column and row of the picture it begins at."""

    left: int
    top: int
    light: NDArray[np.float32]


def packed_quality(data: bytes | memoryview) -> float | None:
    """The quality a JPEG stream was packed at; ``None`` where it is no JPEG or has no table."""
    tables, first = _tables(data)
    table = tables.get(first, tables.get(0))
    return None if table is None else table_quality(table)


def table_quality(table: Sequence[int]) -> float | None:
    """The quality at which the usual encoder writes the table nearest to this one."""
    values = np.sort(np.asarray(table, dtype=float))
    if len(values) != len(_STANDARD):
        return None
    qualities = np.arange(1, 101)
    scales = np.where(qualities < 50, 5000 // qualities, 200 - 2 * qualities)
    made = np.clip((_STANDARD[None, :] * scales[:, None] + 50) // 100, 1, 255)
    apart = np.abs(np.log(made) - np.log(np.clip(values, 1, 255))[None, :]).sum(axis=1)
    return float(qualities[int(np.argmin(apart))])


def _tables(data: bytes | memoryview) -> tuple[dict[int, list[int]], int]:
    """The tables by number, and the number of the first part's."""
    tables: dict[int, list[int]] = {}
    first = 0
    at = 2
    if len(data) < 4 or bytes(data[:2]) != b"\xff\xd8":
        return {}, 0
    while at + 4 <= len(data):
        if data[at] != 0xFF:
            break
        marker = data[at + 1]
        if marker == 0xFF or marker in _BARE:
            at += 1 if marker == 0xFF else 2
            continue
        if marker in (_SCAN, _END):
            break
        length = data[at + 2] << 8 | data[at + 3]
        body = bytes(data[at + 4 : at + 2 + length])
        if marker == _TABLES:
            _read_tables(body, tables)
        elif marker in _FRAMES and len(body) >= 9:
            first = body[8]
        at += 2 + max(2, length)
    return tables, first


def _read_tables(body: bytes, tables: dict[int, list[int]]) -> None:
    at = 0
    while at < len(body):
        wide, number = body[at] >> 4, body[at] & 15
        size = 64 * (2 if wide else 1)
        values = body[at + 1 : at + 1 + size]
        if len(values) < size:
            return
        tables[number] = [int(value) for value in np.frombuffer(values, dtype=">u2" if wide else np.uint8)]
        at += 1 + size


@dataclass(frozen=True)
class Blocks:
    """The grid of blocks in the pixels: the column and row its edges fall on, of eight, and how strong it is."""

    column: int
    row: int
    #: How much more lightness bends at edges of blocks than inside them, in levels of 255.
    levels: float
    #: The same in percent of what is inside.
    percent: float


def blocks_in(tiles: Sequence[Tile]) -> Blocks | None:
    """The grid of blocks in tiles of one picture; ``None`` where none is to be seen, or too little to tell."""
    large = [tile for tile in tiles if min(tile.light.shape) >= _LEAST_PX]
    if not large:
        return None
    over_columns = _grid([(tile.left, tile.light) for tile in large])
    over_rows = _grid([(tile.top, tile.light.T) for tile in large])
    if over_columns is None or over_rows is None:
        return None
    # A fence has its edges one way, a grid of blocks both.
    percent = 100.0 * min(over_columns[1], over_rows[1])
    if percent < _LEAST_PERCENT:
        return None
    return Blocks(over_columns[0], over_rows[0], min(over_columns[2], over_rows[2]), percent)


def quality_in(tiles: Sequence[Tile], blocks: Blocks) -> float | None:
    """The quality the pixels were once packed at: their cosine transforms keep to multiples of the table's entries."""
    cut = [_cut(tile, blocks) for tile in tiles if min(tile.light.shape) >= _LEAST_PX]
    if not cut:
        return None
    every = np.concatenate(cut)
    # Blocks that reach white or black were cut off there.
    by_place = np.ascontiguousarray(every.reshape(len(every), -1).T)
    inside = every[(by_place.min(axis=0) > 3.0) & (by_place.max(axis=0) < 252.0)]
    if len(inside) < _LEAST_BLOCKS:
        return None
    few = inside[:: max(1, len(inside) // _MOST_BLOCKS)]
    parts = _COSINES @ few @ _COSINES.T
    scales = []
    for row, column in _LOW:
        step = _step_of(parts[:, row, column])
        if step is not None:
            scales.append(100.0 * step / _BY_PLACE[row][column])
    if len(scales) < _LEAST_STEPS:
        return None
    scale = float(np.median(scales))
    return round(float(np.clip(5000.0 / scale if scale > 100.0 else (200.0 - scale) / 2.0, 1.0, 100.0)))


def _cut(tile: Tile, blocks: Blocks) -> NDArray[np.float32]:
    """The whole blocks of a tile."""
    left, top = (blocks.column - tile.left) % _BLOCK, (blocks.row - tile.top) % _BLOCK
    part = tile.light[top:, left:]
    rows, columns = part.shape[0] // _BLOCK, part.shape[1] // _BLOCK
    part = part[: rows * _BLOCK, : columns * _BLOCK].reshape(rows, _BLOCK, columns, _BLOCK)
    return part.swapaxes(1, 2).reshape(-1, _BLOCK, _BLOCK)


def _step_of(values: NDArray[np.float32]) -> float | None:
    """The largest step that the values are multiples of, within rounding."""
    sizes = np.sort(np.abs(values))[::-1]
    # Only values larger than half a step tell anything of it: of the ordered ones the first few.
    count = np.searchsorted(-sizes, -0.5 * _STEPS)
    steps, count = _STEPS[count >= _LEAST_VALUES], count[count >= _LEAST_VALUES]
    if not len(steps):
        return None
    starts = np.cumsum(count) - count
    turned = sizes[np.arange(int(count.sum())) - np.repeat(starts, count)]
    agree = np.add.reduceat(np.cos(2.0 * np.pi * turned / np.repeat(steps, count)), starts) / count
    fits = agree > _AGREES
    if not fits.any():
        return None
    # Beside the largest lie others that nearly fit.
    near = fits & (steps >= _NEAR * steps[fits].max())
    return float(steps[near][int(np.argmax(agree[near]))])


def _grid(tiles: list[tuple[int, NDArray[np.float32]]]) -> tuple[int, float, float] | None:
    """Where of eight places bends are strongest, by which share more than elsewhere, and by how many levels."""
    total = np.zeros(_BLOCK)
    seen = 0
    for start, tile in tiles:
        step = np.diff(tile, axis=1)
        bend = np.abs(step[:, 1:-1] - 0.5 * (step[:, :-2] + step[:, 2:]))
        quiet = np.abs(step) < _EDGE_LEVELS
        bend = np.where(quiet[:, :-2] & quiet[:, 2:], np.minimum(bend, _EDGE_LEVELS), 0.0)
        if float((bend > 0.0).mean()) < _LEAST_BENDING:
            continue
        # The bend at a step is told by the pixel after it.
        places = (start + 2 + np.arange(bend.shape[1])) % _BLOCK
        sums = np.bincount(places, weights=bend.mean(axis=0), minlength=_BLOCK)
        total += sums / np.bincount(places, minlength=_BLOCK)
        seen += 1
    if not seen:
        return None
    best = int(np.argmax(total))
    # A bend reaches its neighbours, too.
    base = float(np.median([total[(best + away) % _BLOCK] for away in range(2, _BLOCK - 1)]))
    # Enlarged by whole pixels: nothing at all inside the blocks.
    if base <= 0.002 * float(total[best]):
        return None
    return best, float(total[best] / base - 1.0), (float(total[best]) - base) / seen
