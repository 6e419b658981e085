"""QR codes and Data Matrix on a finely drawn picture of the plates: how wide a module is and how far round them it is clear.

A symbol is a square of modules given by its four corners, so turned ones are measured like upright ones. Clear is, on each side, the
distance to the nearest dark thing straight out; past the corners the larger of both distances. Units are pixels; pictures are
reflectances from 0 (dark) to 1.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import numpy.typing as npt

from preflight.inventory.finder_patterns import Corner, Triple, find_corners, modules_between, stand_apart, triples_of

Dark = npt.NDArray[np.bool_]
Point = tuple[float, float]

SIDES = ("left", "top", "right", "bottom")
#: Dark pixels this near to the symbol are its own ragged edge, in modules.
_EDGE_MODULES = 0.4
#: So many pixels must be dark before they count.
_SPECKS = 3
_DATA_MATRIX_SIDES = (*range(8, 28, 2), *range(32, 56, 4), *range(64, 108, 8), 120, 132, 144)
_FRAME_RIGHT = 0.97
#: Modules in turn between the corner patterns of a QR code: how many are right on the better line, and on both.
_TIME_KEPT = 0.8
_TIME_KEPT_IN_ALL = 0.65
#: A fine picture is looked at with so many of its pixels in one, where grain hides what is there.
_COARSER = 3


@dataclass(frozen=True)
class Matrix2D:
    """One symbol: its corners (top left first, clockwise as it lies on the page) and its modules across and down."""

    symbology: str
    corners: tuple[Point, Point, Point, Point]
    across: int
    down: int

    @property
    def module(self) -> float:
        """The module: the mean of both directions."""
        one, two, three, four = self.corners
        across = (math.dist(one, two) + math.dist(four, three)) / 2.0 / self.across
        down = (math.dist(one, four) + math.dist(two, three)) / 2.0 / self.down
        return (across + down) / 2.0

    @property
    def box(self) -> tuple[float, float, float, float]:
        xs, ys = zip(*self.corners, strict=True)
        return min(xs), min(ys), max(xs), max(ys)


def as_it_lies(corners: list[Point]) -> tuple[Point, Point, Point, Point]:
    """Corners in turn, begun with the top left one as seen on the page."""
    middle = (sum(x for x, _ in corners) / 4.0, sum(y for _, y in corners) / 4.0)
    turned = sorted(corners, key=lambda point: math.atan2(point[1] - middle[1], point[0] - middle[0]))
    first = min(range(4), key=lambda place: turned[place][0] + turned[place][1])
    one, two, three, four = (turned[(first + step) % 4] for step in range(4))
    return one, two, three, four


def modules_of(version: str, symbology: str) -> tuple[int, int] | None:
    """Modules across and down by the version a decoder tells: ``3`` (QR), ``M2`` (Micro QR), ``14x14`` (Data Matrix: rows first)."""
    if "x" in version:
        down, _, across = version.partition("x")
        return (int(across), int(down)) if across.isdigit() and down.isdigit() else None
    digits = version.removeprefix("M")
    if not digits.isdigit():
        return None
    side = 9 + 2 * int(digits) if version.startswith("M") else 17 + 4 * int(digits)
    return (side, side) if symbology in ("QR Code", "Micro QR Code") else None


def unreadable_qr(dark: Dark) -> list[Matrix2D]:
    """Symbols that show the three corner patterns of a QR code on one grid, set off by light, and the modules in turn between them.

    Grain hides them on a fine picture: where none is found it is looked at once more with fewer pixels.
    """
    found = _qr_shapes(dark)
    rows, columns = (length // _COARSER * _COARSER for length in dark.shape)
    if found or not rows or not columns:
        return found
    blocks = dark[:rows, :columns].reshape(rows // _COARSER, _COARSER, columns // _COARSER, _COARSER)
    return [_enlarged(shape, _COARSER) for shape in _qr_shapes(blocks.mean(axis=(1, 3)) >= 0.5)]


def _enlarged(symbol: Matrix2D, factor: int) -> Matrix2D:
    one, two, three, four = ((x * factor, y * factor) for x, y in symbol.corners)
    return replace(symbol, corners=(one, two, three, four))


def _qr_shapes(dark: Dark) -> list[Matrix2D]:
    def belong(triple: Triple) -> bool:
        modules = modules_between(triple)
        return modules is not None and stand_apart(dark, triple) and _keeps_time(dark, triple, modules)

    found = []
    for triple in triples_of(find_corners(dark), belong):
        modules = modules_between(triple)
        if modules is not None:
            found.append(Matrix2D("QR Code", _corners_of(*triple, modules), modules, modules))
    return found


def _keeps_time(dark: Dark, triple: Triple, modules: int) -> bool:
    """Whether dark and light modules take turns on the two lines between the corner patterns; one of them may be damaged."""
    middle, one, other = triple
    span = modules - 7.0
    agreeing = []
    for along, across in ((one, other), (other, one)):
        ux, uy = (along.x - middle.x) / span, (along.y - middle.y) / span
        vx, vy = (across.x - middle.x) / span, (across.y - middle.y) / span
        # The line runs through the inner edge of the corner patterns, three modules off their middle.
        steps = np.arange(5, modules - 11)
        xs = np.floor(middle.x + steps * ux + 3.0 * vx).astype(int).clip(0, dark.shape[1] - 1)
        ys = np.floor(middle.y + steps * uy + 3.0 * vy).astype(int).clip(0, dark.shape[0] - 1)
        agreeing.append(float((dark[ys, xs] == (steps % 2 == 1)).mean()))
    return max(agreeing) >= _TIME_KEPT and sum(agreeing) >= 2.0 * _TIME_KEPT_IN_ALL


def _corners_of(middle: Corner, one: Corner, other: Corner, modules: int) -> tuple[Point, Point, Point, Point]:
    """The outer corners, 3.5 modules past the middles of the corner patterns."""
    span = modules - 7
    ux, uy = (one.x - middle.x) / span, (one.y - middle.y) / span
    vx, vy = (other.x - middle.x) / span, (other.y - middle.y) / span
    x, y = middle.x - 3.5 * (ux + vx), middle.y - 3.5 * (uy + vy)
    return as_it_lies(
        [
            (x, y),
            (x + modules * ux, y + modules * uy),
            (x + modules * (ux + vx), y + modules * (uy + vy)),
            (x + modules * vx, y + modules * vy),
        ]
    )


def unreadable_data_matrix(dark: Dark) -> Matrix2D | None:
    """A symbol with two solid sides and two sides that alternate module by module, filling the picture."""
    rows, columns = np.flatnonzero(dark.any(axis=1)), np.flatnonzero(dark.any(axis=0))
    if rows.size < 16 or columns.size < 16:
        return None
    y0, y1, x0, x1 = int(rows[0]), int(rows[-1]) + 1, int(columns[0]), int(columns[-1]) + 1
    if not 0.9 < (x1 - x0) / (y1 - y0) < 1.1:
        return None
    for turn in range(4):
        part = np.rot90(dark[y0:y1, x0:x1], turn)
        inset = max(1, part.shape[0] // 300)
        if min(part[:, inset].mean(), part[-1 - inset].mean()) < _FRAME_RIGHT - 0.05:
            continue
        for side in _DATA_MATRIX_SIDES:
            if min(part.shape) < 2 * side:
                break
            if _has_frame(part, side):
                corners = ((x0, y0), (x1, y0), (x1, y1), (x0, y1))
                return Matrix2D("Data Matrix", corners, side, side)
    return None


def _has_frame(part: Dark, side: int) -> bool:
    height, width = part.shape
    ys = np.floor((np.arange(side) + 0.5) * height / side).astype(int)
    xs = np.floor((np.arange(side) + 0.5) * width / side).astype(int)
    alternating = np.arange(side) % 2 == 0
    agreeing = np.concatenate(
        [
            part[ys, xs[0]],
            part[ys[-1], xs],
            part[ys[0], xs] == alternating,
            part[ys[::-1], xs[-1]] == alternating,
        ]
    )
    return float(agreeing.mean()) >= _FRAME_RIGHT


def sampled(light: npt.NDArray[np.float32], symbol: Matrix2D, threshold: float) -> Dark:
    """The symbol module by module, dark where the middle of a module is, as a camera makes it out; dots are modules, too."""
    one, two, _, four = symbol.corners
    steps = [(place + 0.5 + off) for place in range(symbol.across) for off in (-0.2, 0.0, 0.2)]
    down = [(place + 0.5 + off) for place in range(symbol.down) for off in (-0.2, 0.0, 0.2)]
    u, v = np.meshgrid(np.array(steps) / symbol.across, np.array(down) / symbol.down)
    xs = np.clip(np.floor(one[0] + u * (two[0] - one[0]) + v * (four[0] - one[0])).astype(int), 0, light.shape[1] - 1)
    ys = np.clip(np.floor(one[1] + u * (two[1] - one[1]) + v * (four[1] - one[1])).astype(int), 0, light.shape[0] - 1)
    means = light[ys, xs].reshape(symbol.down, 3, symbol.across, 3).mean(axis=(1, 3))
    dark: Dark = means < threshold
    return dark


def clear_round(dark: Dark, symbol: Matrix2D, most: float) -> dict[str, float]:
    """How many modules it is clear on each side as seen on the page, at most ``most``."""
    one, two, _, four = symbol.corners
    reach = math.ceil((most + 1.0) * symbol.module)
    x0, y0, x1, y1 = symbol.box
    left, top = max(0, math.floor(x0) - reach), max(0, math.floor(y0) - reach)
    right, bottom = min(dark.shape[1], math.ceil(x1) + reach), min(dark.shape[0], math.ceil(y1) + reach)
    ys, xs = np.nonzero(dark[top:bottom, left:right])
    x, y = xs + left + 0.5 - one[0], ys + top + 0.5 - one[1]
    ax, ay = (two[0] - one[0]) / symbol.across, (two[1] - one[1]) / symbol.across
    bx, by = (four[0] - one[0]) / symbol.down, (four[1] - one[1]) / symbol.down
    size = ax * by - ay * bx
    if size == 0.0:
        return dict.fromkeys(SIDES, 0.0)
    u, v = (x * by - y * bx) / size, (y * ax - x * ay) / size
    # From the pixel's middle to its near side.
    half = 0.5 / symbol.module
    away = {"left": -u - half, "top": -v - half, "right": u - symbol.across - half, "bottom": v - symbol.down - half}
    beside = np.maximum(away["left"], away["right"])
    above = np.maximum(away["top"], away["bottom"])
    clear = {}
    for side in SIDES:
        other = above if side in ("left", "right") else beside
        clear[side] = _least(away[side][(other <= 0.0) & (away[side] > _EDGE_MODULES)], most)
    past = np.maximum(beside, above)
    clear["corners"] = _least(past[(beside > 0.0) & (above > 0.0) & (past > _EDGE_MODULES)], most)
    return clear


def _least(near: npt.NDArray[Any], most: float) -> float:
    if near.size <= _SPECKS:
        return most
    return min(most, float(np.partition(near, _SPECKS)[_SPECKS]))
