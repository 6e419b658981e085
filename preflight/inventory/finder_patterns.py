"""The corner patterns of QR codes in a picture of dark and light, and which three of them belong to one symbol.

A corner pattern is seven modules square: a ring, a light ring, a block of three. Along a row through its middle dark and light are 1 : 1
: 3 : 1 : 1 modules (ISO/IEC 18004). Found at any size from about one and a half pixels a module, turned by quarter turns and up to
some eight degrees more. Units are pixels.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Dark = npt.NDArray[np.bool_]
Places = npt.NDArray[np.intp]

#: The pattern, module by module.
_PATTERN = np.array([[max(abs(x), abs(y)) != 2 for x in range(-3, 4)] for y in range(-3, 4)])
_LEAST_RIGHT = 46
#: Of smaller modules the rims are ragged.
_LEAST_RIGHT_SMALL = 42
_SMALL_MODULE = 4.0
#: How much of the light beside the corner patterns must be there: on a fine picture, where something may lie over it, and on one of
#: few pixels a module, where it runs in with what is next to it.
_LEAST_APART = 0.85
_LEAST_APART_COARSE = 0.6
_MOST_LOOKED_AT = 4000
_MOST_CORNERS = 60


@dataclass(frozen=True, slots=True)
class Corner:
    """One corner pattern: its middle and its module."""

    x: float
    y: float
    module: float


Triple = tuple[Corner, Corner, Corner]


def find_corners(dark: Dark, step: int = 1) -> list[Corner]:
    """All corner patterns, each once; every ``step``-th row is looked at."""
    found: list[Corner] = []
    rows, left, right = _candidates(dark[::step])
    for corner in _settled(dark, rows * step, left, right):
        if any(math.hypot(corner.x - other.x, corner.y - other.y) < 4.0 * other.module for other in found):
            continue
        found.append(corner)
        if len(found) >= _MOST_CORNERS:
            break
    return found


def _candidates(dark: Dark) -> tuple[Places, Places, Places]:
    """Places in rows with runs of 1 : 1 : 3 : 1 : 1: row, first column, end column."""
    nowhere = np.zeros(0, dtype=np.intp)
    rows, columns = dark.shape
    fenced = np.zeros((rows, columns + 2), dtype=np.bool_)
    fenced[:, 1:-1] = dark
    flat = fenced.ravel()
    edges = np.flatnonzero(flat[1:] != flat[:-1]) + 1
    if edges.size < 6:
        return nowhere, nowhere, nowhere
    runs = np.diff(edges)
    # Every row starts and ends light, so runs of even number are dark.
    count = (runs.size - 3) // 2
    if count <= 0:
        return nowhere, nowhere, nowhere
    parts = [runs[place : place + 2 * count : 2].astype(np.float32) for place in range(5)]
    size = min(part.size for part in parts)
    one, two, three, four, five = (part[:size] for part in parts)
    module = (one + two + three + four + five) / 7.0
    slack = np.maximum(0.5 * module, 1.01)
    right = (
        (np.abs(one - module) <= slack)
        & (np.abs(two - module) <= slack)
        & (np.abs(three - 3.0 * module) <= np.maximum(module, 1.51))
        & (np.abs(four - module) <= slack)
        & (np.abs(five - module) <= slack)
        & (module >= 1.0)
    )
    first = edges[0 : 2 * size : 2]
    last = edges[5 : 5 + 2 * size : 2]
    width = columns + 2
    right &= first // width == (last - 1) // width
    picked = np.flatnonzero(right)[:_MOST_LOOKED_AT]
    return first[picked] // width, first[picked] % width - 1, last[picked] % width - 1


def _settled(dark: Dark, row: Places, left: Places, right: Places) -> list[Corner]:
    """The corner patterns whose middle a row crosses, if all of their 7 x 7 modules are there."""
    module = (right - left) / 7.0
    x = (left + right) / 2.0
    column = np.minimum(dark.shape[1] - 1, x.astype(np.intp))
    up, down = (_reach(dark, row, column, way, 2.6 * module + 1) for way in (-1, 1))
    fits = (up > 0) & (np.abs(up + down - 1 - 3.0 * module) <= np.maximum(module, 1.51))
    y = row + (down - up + 1) / 2.0
    x, y, module = x[fits], y[fits], module[fits]
    steps = np.arange(-3, 4) * module[:, None]
    ys, xs = (np.floor(middle[:, None] + steps).astype(np.intp) for middle in (y, x))
    inside = (ys[:, 0] >= 0) & (xs[:, 0] >= 0) & (ys[:, -1] < dark.shape[0]) & (xs[:, -1] < dark.shape[1])
    x, y, module, ys, xs = (each[inside] for each in (x, y, module, ys, xs))
    agreeing = (dark[ys[:, :, None], xs[:, None, :]] == _PATTERN).sum(axis=(1, 2))
    right_ones = agreeing >= np.where(module < _SMALL_MODULE, _LEAST_RIGHT_SMALL, _LEAST_RIGHT)
    return [Corner(*place) for place in np.stack((x, y, module), axis=1)[right_ones].tolist()]


def _reach(dark: Dark, row: Places, column: Places, way: int, most: npt.NDArray[np.float64]) -> Places:
    """How many dark pixels follow one another up (-1) or down (1) from each place, itself counted."""
    count = np.zeros_like(row)
    going = np.arange(row.size)
    while going.size:
        at = row[going] + way * count[going]
        inside = (at >= 0) & (at < dark.shape[0])
        going, at = going[inside], at[inside]
        going = going[dark[at, column[going]] & (count[going] <= most[going])]
        count[going] += 1
    return count


def triples_of(corners: list[Corner], belong: Callable[[Triple], bool]) -> list[Triple]:
    """Three corners of one symbol: the one at the right angle first.

    ``belong`` looks closer at three that lie right; only then none of them is taken for another symbol.
    """
    found: list[Triple] = []
    taken: set[int] = set()
    ranked = []
    for combination in itertools.combinations(range(len(corners)), 3):
        three = [corners[index] for index in combination]
        modules = [corner.module for corner in three]
        if max(modules) > 1.4 * min(modules):
            continue
        for place in range(3):
            middle, one, other = three[place], three[place - 1], three[place - 2]
            side, second = _distance(middle, one), _distance(middle, other)
            across = _distance(one, other)
            module = sum(modules) / 3.0
            if abs(side - second) > 0.08 * side or abs(across - math.sqrt(2.0) * side) > 0.08 * across:
                continue
            if side < 12.0 * module * 0.85 or side > 170.0 * module * 1.15:
                continue
            ranked.append((side / module, combination, (middle, one, other)))
    for _, combination, triple in sorted(ranked, key=lambda item: item[0]):
        if not taken.intersection(combination) and belong(triple):
            taken.update(combination)
            found.append(triple)
    return found


def modules_between(triple: Triple) -> int | None:
    """The modules of a side, told by the distance of the corner patterns; None where no QR code has that many."""
    middle, one, other = triple
    side = (_distance(middle, one) + _distance(middle, other)) / 2.0
    module = (middle.module + one.module + other.module) / 3.0
    modules = 17 + 4 * round((side / module + 7.0 - 17.0) / 4.0)
    if modules < 21 or abs(side / module + 7.0 - modules) > 0.08 * modules + 0.5:
        return None
    return modules


def stand_apart(dark: Dark, triple: Triple, least: float = _LEAST_APART) -> bool:
    """Whether the corner patterns are set off by light from what lies between them, as they are in every symbol.

    The row of light modules along their two inner sides tells a ring from the paper around a round letter in a line of type.
    """
    middle, one, other = triple
    modules = modules_between(triple)
    # Along a whole side a module is told better than along the one row in which a corner pattern was found.
    span = modules - 7.0 if modules else _distance(middle, one) / middle.module
    light = count = 0
    for corner, (first, second) in (
        (middle, (one, other)),
        (one, (middle, _beyond(one, middle, other))),
        (other, (middle, _beyond(other, middle, one))),
    ):
        # One module each way, along the symbol's own sides.
        ux, uy = (first.x - corner.x) / span, (first.y - corner.y) / span
        vx, vy = (second.x - corner.x) / span, (second.y - corner.y) / span
        places = [(4.0, step) for step in range(-3, 5)] + [(step, 4.0) for step in range(-3, 4)]
        for u, v in places:
            x, y = math.floor(corner.x + u * ux + v * vx), math.floor(corner.y + u * uy + v * vy)
            if 0 <= y < dark.shape[0] and 0 <= x < dark.shape[1]:
                count += 1
                light += not dark[y, x]
    return count > 0 and light >= least * count


def _beyond(corner: Corner, middle: Corner, opposite: Corner) -> Corner:
    """The symbol's fourth corner, seen from one at its side."""
    return Corner(corner.x + opposite.x - middle.x, corner.y + opposite.y - middle.y, corner.module)


def squares_of_corners(dark: Dark, corners: list[Corner]) -> list[tuple[int, int, int, int]]:
    """The upright box round each symbol that has its three corners: left, top, right, bottom."""
    boxes = []
    for triple in triples_of(corners, lambda three: stand_apart(dark, three, _LEAST_APART_COARSE)):
        middle, one, other = triple
        fourth = (one.x + other.x - middle.x, one.y + other.y - middle.y)
        reach = 3.5 * max(corner.module for corner in triple) + 1.0
        xs = [*(corner.x for corner in triple), fourth[0]]
        ys = [*(corner.y for corner in triple), fourth[1]]
        boxes.append(
            (
                max(0, math.floor(min(xs) - reach)),
                max(0, math.floor(min(ys) - reach)),
                math.ceil(max(xs) + reach),
                math.ceil(max(ys) + reach),
            )
        )
    return boxes


def _distance(one: Corner, other: Corner) -> float:
    return math.hypot(one.x - other.x, one.y - other.y)
