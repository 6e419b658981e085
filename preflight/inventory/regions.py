"""Areas on a page: the inside of a filled path, a picture's outline, a clip; and which of two areas lies in the other.

Trim space, millimetres. A rectangle is its box; any other area is its rings, filled by the rule they were painted with
(nonzero or even-odd, ISO 32000-2, 8.5.3.3). Answers err to the side of "does not hold": a box is held only if no edge runs
through it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from preflight.inventory.paint_paths import Point, Subpath, rectangle_of
from preflight.units import Box

Floats = NDArray[np.float64]
#: Edges may miss each other by this much, through rounding, and still be taken for the same line.
SLACK_MM = 0.01


@dataclass(slots=True)
class Region:
    """An area: its box, and its rings unless it is the box itself."""

    box: Box
    rings: list[list[Point]] | None = None
    even_odd: bool = False
    _edges: Any = field(default=None, repr=False)
    _masks: dict[int, Any] = field(default_factory=dict, repr=False)

    @property
    def is_rectangle(self) -> bool:
        return self.rings is None

    @property
    def edges(self) -> Floats:
        """One row an edge: x0, y0, x1, y1; rings closed."""
        if self._edges is None:
            self._edges = edges_of(self.rings or [])
        return self._edges  # type: ignore[no-any-return]

    def holds(self, box: Box) -> bool:
        """Whether a box lies wholly inside."""
        if not self.box.contains(box, SLACK_MM):
            return False
        if self.rings is None:
            return True
        inner = Box(
            min(box.x0 + SLACK_MM, (box.x0 + box.x1) / 2),
            min(box.y0 + SLACK_MM, (box.y0 + box.y1) / 2),
            max(box.x1 - SLACK_MM, (box.x0 + box.x1) / 2),
            max(box.y1 - SLACK_MM, (box.y0 + box.y1) / 2),
        )
        return not _any_edge_in(self.edges, inner) and self.has_point(
            (inner.x0 + inner.x1) / 2, (inner.y0 + inner.y1) / 2
        )

    def has_point(self, x: float, y: float) -> bool:
        """Whether a point lies inside, by the area's own fill rule."""
        if self.rings is None:
            return self.box.x0 <= x <= self.box.x1 and self.box.y0 <= y <= self.box.y1
        return is_inside(self.edges, x, y, even_odd=self.even_odd)

    def mask(self, lattice: Lattice) -> tuple[slice, slice, NDArray[np.bool_] | None]:
        """Rows and columns of a lattice that the box holds, and which of those points lie inside (None: all)."""
        rows, columns = lattice.slices(self.box)
        if self.rings is None or rows.stop <= rows.start or columns.stop <= columns.start:
            return rows, columns, None
        kept = self._masks.get(id(lattice))
        if kept is None:
            kept = _scan(self.edges, lattice, rows, columns, even_odd=self.even_odd)
            self._masks[id(lattice)] = kept
        return rows, columns, kept


@dataclass(frozen=True, slots=True)
class Lattice:
    """Points a step apart over a box: the middle of each cell."""

    box: Box
    step_mm: float
    rows: int
    columns: int

    @classmethod
    def over(cls, box: Box, step_mm: float, most: int) -> Lattice:
        """A lattice of at most ``most`` points; the step grows until that holds."""
        width, height = max(box.width, step_mm), max(box.height, step_mm)
        step = max(step_mm, math.sqrt(width * height / most))
        return cls(box, step, max(1, math.ceil(height / step)), max(1, math.ceil(width / step)))

    def slices(self, box: Box) -> tuple[slice, slice]:
        """Rows and columns whose points lie in a box (maybe none)."""
        step = self.step_mm
        row0 = math.ceil((box.y0 - self.box.y0) / step - 0.5)
        row1 = math.floor((box.y1 - self.box.y0) / step - 0.5) + 1
        column0 = math.ceil((box.x0 - self.box.x0) / step - 0.5)
        column1 = math.floor((box.x1 - self.box.x0) / step - 0.5) + 1
        return (
            slice(min(max(row0, 0), self.rows), min(max(row1, 0), self.rows)),
            slice(min(max(column0, 0), self.columns), min(max(column1, 0), self.columns)),
        )

    def cell(self, x: float, y: float) -> tuple[int, int]:
        """Row and column of the cell a point lies in, held inside the lattice."""
        row, column = int((y - self.box.y0) / self.step_mm), int((x - self.box.x0) / self.step_mm)
        return min(max(row, 0), self.rows - 1), min(max(column, 0), self.columns - 1)


def region_of(runs: list[Subpath], box: Box, *, even_odd: bool) -> Region:
    """The inside of a filled path."""
    if len(runs) == 1 and (rectangle := rectangle_of(runs[0])) is not None:
        return Region(rectangle)
    return Region(box, [run.points for run in runs if len(run.points) > 2], even_odd)


def region_of_corners(corners: list[Point]) -> Region:
    """A parallelogram given by its corners in turn: a placed picture, a straight line's bar."""
    rectangle = rectangle_of(Subpath(corners, closed=True))
    if rectangle is not None:
        return Region(rectangle)
    xs, ys = [x for x, _ in corners], [y for _, y in corners]
    return Region(Box(min(xs), min(ys), max(xs), max(ys)), [corners])


NO_EDGES: Floats = np.empty((0, 4))


def edges_of(rings: list[list[Point]]) -> Floats:
    """One row an edge: x0, y0, x1, y1; rings closed."""
    rings = [ring for ring in rings if ring]
    if not rings:
        return NO_EDGES
    points = np.array([point for ring in rings for point in ring], dtype=np.float64)
    ends = np.cumsum([len(ring) for ring in rings])
    following = np.arange(1, len(points) + 1)
    following[ends - 1] = ends - [len(ring) for ring in rings]
    return np.hstack([points, points[following]])


def is_inside(edges: Floats, x: float, y: float, *, even_odd: bool) -> bool:
    """Counts the edges to the right of a point, by their direction."""
    if not len(edges):
        return False
    x0, y0, x1, y1 = edges.T
    up, down = (y0 <= y) & (y1 > y), (y1 <= y) & (y0 > y)
    side = (x1 - x0) * (y - y0) - (x - x0) * (y1 - y0)
    winding = int(np.count_nonzero(up & (side > 0))) - int(np.count_nonzero(down & (side < 0)))
    crossings = int(np.count_nonzero(up & (side > 0))) + int(np.count_nonzero(down & (side < 0)))
    return bool(crossings % 2) if even_odd else winding != 0


def _any_edge_in(edges: Floats, box: Box) -> bool:
    """Whether any edge touches a box (clipping each edge to it, Liang and Barsky's way)."""
    x0, y0, x1, y1 = edges.T
    near = (np.maximum(x0, x1) >= box.x0) & (np.minimum(x0, x1) <= box.x1)
    near &= (np.maximum(y0, y1) >= box.y0) & (np.minimum(y0, y1) <= box.y1)
    if not near.any():
        return False
    x0, y0, x1, y1 = edges[near].T
    low, high = np.zeros(len(x0)), np.ones(len(x0))
    for start, delta, least, most in ((x0, x1 - x0, box.x0, box.x1), (y0, y1 - y0, box.y0, box.y1)):
        with np.errstate(divide="ignore", invalid="ignore"):
            one, other = (least - start) / delta, (most - start) / delta
        moving = delta != 0.0
        low = np.where(moving, np.maximum(low, np.minimum(one, other)), low)
        high = np.where(moving, np.minimum(high, np.maximum(one, other)), high)
    return bool((low <= high).any())


def _scan(edges: Floats, lattice: Lattice, rows: slice, columns: slice, *, even_odd: bool) -> NDArray[np.bool_]:
    """Which lattice points of a window lie inside, row by row (all edges at once)."""
    height, width = rows.stop - rows.start, columns.stop - columns.start
    x0, y0, x1, y1 = edges.T
    step = lattice.step_mm
    top, left = lattice.box.y0 + (rows.start + 0.5) * step, lattice.box.x0 + (columns.start + 0.5) * step
    sign = np.where(y1 > y0, 1, -1)
    low, high = np.minimum(y0, y1), np.maximum(y0, y1)
    first = np.clip(np.ceil((low - top) / step), 0, height).astype(np.int64)
    last = np.clip(np.ceil((high - top) / step), 0, height).astype(np.int64)
    counts = last - first
    which = np.repeat(np.arange(len(edges)), counts)
    row = np.arange(len(which)) - np.repeat(np.cumsum(counts) - counts, counts) + first[which]
    at = top + row * step
    x = x0[which] + (at - y0[which]) * (x1[which] - x0[which]) / (y1[which] - y0[which])
    column = np.clip(np.ceil((x - left) / step), 0, width).astype(np.int64)
    change = np.zeros((height, width + 1), dtype=np.int32)
    np.add.at(change, (row, column), sign[which])
    winding = np.cumsum(change[:, :width], axis=1)
    inside: NDArray[np.bool_] = winding % 2 != 0 if even_odd else winding != 0
    return inside
