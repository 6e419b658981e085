"""Edges where two inks meet on plates: pixels of one ink right beside pixels of another, with nothing in common and no overlap.

Every pixel is told by the set of its inks that are strong enough to count. Two pixels meet where they share none of them, both have one
besides black, and they touch, or only bare paper narrower than the misregister to be borne lies between. Lengths are counted in small
squares: so many pixels level and so many upright make the length of a straight piece across the square (root of the sum of
squares), or of both arms of an upright corner; against known rectangles, slants and circles within 2 %.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import numpy.typing as npt

from preflight.clusters import touching
from preflight.inventory.ink_windows import label_areas
from preflight.inventory.model import TrapEdge
from preflight.inventory.render import Plane, PlatePixels
from preflight.units import Box

Bits = npt.NDArray[np.unsignedinteger[Any]]

BLACK = "Black"
#: Inks told apart on one page; further ones share the last place.
_MOST_INKS = 32
#: The squares that lengths are counted in are this many pixels wide.
_SQUARE_PX = 6
#: Edges in neighbouring cells of this side are one edge; those whose boxes lie no farther apart than so much are one place.
_PLACE_MM = 1.0
_PLACES_APART_MM = 2.0


@dataclass(frozen=True)
class InkSets:
    """The inks that count, by plate, and how strong one must be (bytes)."""

    inks: tuple[str, ...]
    level: int

    @property
    def black(self) -> int:
        return self.bit(BLACK)

    def bit(self, ink: str) -> int:
        return 1 << min(self.inks.index(ink), _MOST_INKS - 1) if ink in self.inks else 0

    def of(self, planes: dict[str, Plane]) -> Bits:
        """The set of inks of each pixel, in as few bytes as hold it."""
        smallest = np.min_scalar_type((1 << min(len(self.inks), _MOST_INKS)) - 1)
        result = np.zeros(next(iter(planes.values())).shape, dtype=smallest)
        for ink, plane in planes.items():
            result |= np.where(plane >= self.level, smallest.type(self.bit(ink)), smallest.type(0))
        return result

    def names(self, bits: int) -> str:
        return " + ".join(ink for ink in self.inks if bits & self.bit(ink))


@dataclass(frozen=True)
class Meetings:
    """Places where two pixels meet, one row each: the middle between them, the axis across, and the inks of both.

    ``size_mm``: how much of an edge one of them is. ``common``: the strongest ink both have, in bytes.
    """

    x_mm: npt.NDArray[np.float64]
    y_mm: npt.NDArray[np.float64]
    axis: npt.NDArray[np.int8]
    first: Bits
    second: Bits
    common: Plane
    size_mm: float

    def __len__(self) -> int:
        return len(self.x_mm)

    def picked(self, which: Any) -> Meetings:
        return Meetings(
            self.x_mm[which],
            self.y_mm[which],
            self.axis[which],
            self.first[which],
            self.second[which],
            self.common[which],
            self.size_mm,
        )

    @property
    def pairs(self) -> npt.NDArray[np.uint64]:
        """Both sets of inks as one number, whichever comes first."""
        low, high = np.minimum(self.first, self.second), np.maximum(self.first, self.second)
        return low.astype(np.uint64) << np.uint64(32) | high.astype(np.uint64)


def meetings(
    pixels: PlatePixels, sets: InkSets, within_mm: float, *, flat: bool, skip: npt.NDArray[np.bool_] | None = None
) -> Meetings:
    """All meetings on some plates. ``flat``: only between even colours, that of the pixel behind each. ``skip``: pixels left out."""
    planes = {ink: plane for ink, plane in zip(pixels.inks, pixels.planes, strict=True) if ink in sets.inks}
    bits = sets.of(planes)
    if skip is not None:
        bits[skip] = 0
    step = 1.0 / pixels.pixels_per_mm
    x0, y0 = pixels.origin_mm
    # The paper between two pixels is one pixel less than they are apart.
    reach = max(1, int(within_mm * pixels.pixels_per_mm + 1e-6)) + 1
    parts = []
    for axis in (0, 1):
        for apart in range(1, reach + 1):
            rows, columns = _meet(bits, sets.black, axis, apart)
            if flat:
                even = _are_even(planes, rows, columns, axis, apart)
                rows, columns = rows[even], columns[even]
            if not len(rows):
                continue
            other_rows, other_columns = (rows + apart, columns) if axis == 0 else (rows, columns + apart)
            middle_x, middle_y = (columns + other_columns + 1) / 2 * step, (rows + other_rows + 1) / 2 * step
            common = np.zeros(len(rows), dtype=np.uint8)
            for plane in planes.values():
                np.maximum(common, np.minimum(plane[rows, columns], plane[other_rows, other_columns]), out=common)
            parts.append(
                Meetings(
                    x0 + middle_x,
                    y0 + middle_y,
                    np.full(len(rows), axis, dtype=np.int8),
                    bits[rows, columns].astype(np.uint32),
                    bits[other_rows, other_columns].astype(np.uint32),
                    common,
                    step,
                )
            )
    return joined(parts, step)


def joined(parts: list[Meetings], size_mm: float) -> Meetings:
    """Several lots of meetings as one."""
    nothing = np.zeros(0)
    if not parts:
        none_set = np.zeros(0, dtype=np.uint32)
        return Meetings(
            nothing, nothing, nothing.astype(np.int8), none_set, none_set, nothing.astype(np.uint8), size_mm
        )
    return Meetings(
        np.concatenate([part.x_mm for part in parts]),
        np.concatenate([part.y_mm for part in parts]),
        np.concatenate([part.axis for part in parts]),
        np.concatenate([part.first for part in parts]),
        np.concatenate([part.second for part in parts]),
        np.concatenate([part.common for part in parts]),
        size_mm,
    )


def _meet(bits: Bits, black: int, axis: int, apart: int) -> tuple[Any, Any]:
    """Rows and columns of the first of two pixels that meet along an axis, so many pixels apart."""
    length = bits.shape[axis]
    if length <= apart:
        return np.zeros(0, dtype=np.intp), np.zeros(0, dtype=np.intp)

    def part(array: Any, first: int, end: int) -> Any:
        return array[first:end] if axis == 0 else array[:, first:end]

    coloured = (bits & ~bits.dtype.type(black)) != 0
    found = (part(bits, 0, length - apart) & part(bits, apart, length)) == 0
    found &= part(coloured, 0, length - apart)
    found &= part(coloured, apart, length)
    for between in range(1, apart):
        found &= part(bits, between, length - apart + between) == 0
    rows, columns = np.nonzero(found)
    return rows, columns


def _are_even(
    planes: dict[str, Plane], rows: npt.NDArray[np.intp], columns: npt.NDArray[np.intp], axis: int, apart: int
) -> npt.NDArray[np.bool_]:
    """Which meetings are between even colours: the pixel behind either is the very same."""
    even = np.ones(len(rows), dtype=bool)
    for plane in planes.values():
        turned, at, across = (plane.T, columns, rows) if axis == 1 else (plane, rows, columns)
        before, after = np.maximum(at - 1, 0), np.minimum(at + apart + 1, turned.shape[0] - 1)
        even &= turned[at, across] == turned[before, across]
        even &= turned[at + apart, across] == turned[after, across]
    return even


# --- lengths and places -----------------------------------------------------------------------------------------------


def edges_of(lots: list[Meetings], sets: InkSets) -> Iterator[TrapEdge]:
    """Meetings put together to edges: for each pair of inks, one for each place. ``lots``: as drawn at each resolution, the finest first."""
    for pair in np.unique(np.concatenate([lot.pairs for lot in lots])):
        members = [lot.picked(lot.pairs == pair) for lot in lots]
        places = _places(members)
        edges = []
        for place in np.unique(np.concatenate(places)):
            there = [lot.picked(own == place) for lot, own in zip(members, places, strict=True)]
            edges.append(_edge([lot for lot in there if len(lot)], sets, int(pair)))
        for group in touching([edge.box_mm for edge in edges], _PLACES_APART_MM):
            yield _as_one([edges[index] for index in group])


def _as_one(edges: list[TrapEdge]) -> TrapEdge:
    """Edges of one pair in one place: the longest speaks for all."""
    longest = max(edges, key=lambda edge: edge.length_mm)
    box, length = longest.box_mm, 0.0
    for edge in edges:
        box = box.union(edge.box_mm)
        length += edge.length_mm
    common = sum(edge.common_percent * edge.length_mm for edge in edges) / max(length, 1e-9)
    return replace(longest, box_mm=box, length_mm=length, common_percent=common)


def length_mm(found: Meetings) -> float:
    """The length of the edges of one pair of inks."""
    if not len(found):
        return 0.0
    side = _SQUARE_PX * found.size_mm
    columns = np.floor(found.x_mm / side + 1e-9).astype(np.int64)
    rows = np.floor(found.y_mm / side + 1e-9).astype(np.int64)
    width = int(columns.max() - columns.min()) + 1
    _, square = np.unique((rows - rows.min()) * width + columns - columns.min(), return_inverse=True)
    level, upright = found.axis == 0, found.axis == 1
    across, along = np.bincount(square, weights=level), np.bincount(square, weights=upright)
    is_corner = (across > 1) & (along > 1)
    is_corner &= _is_straight(square[level], found.y_mm[level], len(across))
    is_corner &= _is_straight(square[upright], found.x_mm[upright], len(across))
    return float(np.where(is_corner, across + along, np.hypot(across, along)).sum() * found.size_mm)


def _is_straight(square: npt.NDArray[np.intp], at_mm: npt.NDArray[np.float64], count: int) -> npt.NDArray[np.bool_]:
    """For each square whether all its meetings of one axis lie on one line."""
    low, high = np.full(count, np.inf), np.full(count, -np.inf)
    np.minimum.at(low, square, at_mm)
    np.maximum.at(high, square, at_mm)
    straight: npt.NDArray[np.bool_] = high - low < 1e-6
    return straight


def _places(lots: list[Meetings]) -> list[npt.NDArray[np.int32]]:
    """A number for each meeting: the place it is in."""
    columns = [np.floor(lot.x_mm / _PLACE_MM).astype(np.int64) for lot in lots]
    rows = [np.floor(lot.y_mm / _PLACE_MM).astype(np.int64) for lot in lots]
    all_columns, all_rows = np.concatenate(columns), np.concatenate(rows)
    left, top = all_columns.min() - 1, all_rows.min() - 1
    all_columns -= left
    all_rows -= top
    cells = np.zeros((int(all_rows.max()) + 2, int(all_columns.max()) + 2), dtype=bool)
    for down in (-1, 0, 1):
        for across in (-1, 0, 1):
            cells[all_rows + down, all_columns + across] = True
    labels, _ = label_areas(cells)
    return [labels[row - top, column - left] for row, column in zip(rows, columns, strict=True)]


def _edge(lots: list[Meetings], sets: InkSets, pair: int) -> TrapEdge:
    low, high = pair >> 32, pair & 0xFFFFFFFF
    box = _extent(lots[0])
    for lot in lots[1:]:
        box = box.union(_extent(lot))
    finest = lots[0]
    at = _middle_of_longest(finest)
    forward = 1 if int(finest.first[at]) == low else -1
    return TrapEdge(
        box_mm=box,
        length_mm=sum(length_mm(lot) for lot in lots),
        inks=(sets.names(low), sets.names(high)),
        common_percent=float(np.concatenate([lot.common for lot in lots]).mean()) / 2.55,
        at_mm=(float(finest.x_mm[at]), float(finest.y_mm[at])),
        towards=(0, forward) if finest.axis[at] == 0 else (forward, 0),
    )


def _extent(found: Meetings) -> Box:
    # On an edge across x a pixel is as tall as it is wide, and the other way round.
    half = found.size_mm / 2
    x_reach = np.where(found.axis == 0, half, 0.0)
    y_reach = np.where(found.axis == 1, half, 0.0)
    return Box(
        float((found.x_mm - x_reach).min()),
        float((found.y_mm - y_reach).min()),
        float((found.x_mm + x_reach).max()),
        float((found.y_mm + y_reach).max()),
    )


def _middle_of_longest(found: Meetings) -> int:
    """A meeting in the middle of the longest straight level or upright piece."""
    axis = 0 if np.count_nonzero(found.axis == 0) * 2 >= len(found) else 1
    members = np.flatnonzero(found.axis == axis)
    across = found.y_mm[members] if axis == 0 else found.x_mm[members]
    along = found.x_mm[members] if axis == 0 else found.y_mm[members]
    _, line, counts = np.unique(np.round(across / found.size_mm), return_inverse=True, return_counts=True)
    longest = np.flatnonzero(line == counts.argmax())
    order = longest[np.argsort(along[longest], kind="stable")]
    return int(members[order[len(order) // 2]])
