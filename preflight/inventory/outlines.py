"""The outlines of a filled path taken apart: which enclose ink, which are holes in it, which are drowned in other ink.

Trim space, millimetres, curves already cut into chords. By the path's own fill rule (ISO 32000-2, 8.5.3.3): an outline bounds ink
when there is ink just inside and none just outside its longest edge, a hole the other way round.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from preflight.inventory.paint_paths import Point, Subpath
from preflight.inventory.regions import NO_EDGES, Floats, edges_of, is_inside

#: Paths of more outlines are not taken apart: each is then a part of its own.
MOST_OUTLINES = 3000
#: An outline with less area than this to its length (mm) has none.
FLAT_MM = 1e-4
#: Just beside an edge; outlines nearer than this touch.
NEAR_MM = 1e-3


@dataclass(slots=True)
class Part:
    """A connected inked area: its outer ring first, then its holes."""

    rings: list[list[Point]]
    area: float = 0.0
    length: float = 0.0
    #: Four corners with ink along a long side: a slice of something larger.
    is_joined: bool = False

    @property
    def mean_thickness(self) -> float:
        """Of a strip of this area and outline: solves area = w l, outline = 2 (w + l)."""
        half = self.length / 2.0
        return (half - math.sqrt(max(0.0, half * half - 4.0 * self.area))) / 2.0


def inked_parts(runs: list[Subpath], *, even_odd: bool) -> list[Part]:
    """The inked parts of a path: each outline with the holes in it. Outlines drowned in other ink are no edge at all."""
    rings = [ring for run in runs if len(ring := _ring(run.points)) > 1]
    if len(rings) == 1:
        return [_part(rings)]
    boxes = np.array([ring_bounds(ring) for ring in rings]) if rings else np.empty((0, 4))
    if len(rings) > MOST_OUTLINES:
        return [_part([ring]) for ring in rings]
    alone = _stands_alone(boxes)
    if alone.all():
        return [_part([ring]) for ring in rings]
    edges = [NO_EDGES if alone[index] else edges_of([ring]) for index, ring in enumerate(rings)]
    outer: list[tuple[float, int, list[int]]] = []
    holes: list[tuple[int, Point]] = []
    joined: set[int] = set()
    for index, ring in enumerate(rings):
        size = abs(ring_area(ring))
        if alone[index]:
            outer.append((size, index, []))
            continue
        if size <= FLAT_MM * ring_length(ring):
            (x0, y0), (x1, y1) = ring[0], ring[1]
            if not _inked(boxes, edges, ((x0 + x1) / 2, (y0 + y1) / 2), even_odd=even_odd, but=index):
                outer.append((size, index, []))
            continue
        (inside, outside), *others = _beside(ring)
        filled_in = _inked(boxes, edges, inside, even_odd=even_odd)
        filled_out = _inked(boxes, edges, outside, even_odd=even_odd)
        if filled_in and not filled_out:
            outer.append((size, index, []))
            if any(_inked(boxes, edges, point, even_odd=even_odd) for _, point in others):
                joined.add(index)
        elif filled_out and not filled_in:
            holes.append((index, outside))
    outer.sort()
    for hole, point in holes:
        for _, index, inner in outer:  # the smallest outline that holds the hole's rim
            x0, y0, x1, y1 = boxes[index]
            if x0 <= point[0] <= x1 and y0 <= point[1] <= y1 and is_inside(edges[index], *point, even_odd=True):
                inner.append(hole)
                break
    parts = []
    for _, index, inner in outer:
        part = _part([rings[index], *(rings[hole] for hole in inner)])
        part.is_joined = index in joined
        parts.append(part)
    return parts


def _stands_alone(boxes: Floats) -> NDArray[np.bool_]:
    """Which boxes touch no other one."""
    x0, y0, x1, y1 = boxes.T
    result = np.empty(len(boxes), dtype=bool)
    for index in range(len(boxes)):
        near = (x0 <= x1[index] + NEAR_MM) & (x1 >= x0[index] - NEAR_MM)
        near &= (y0 <= y1[index] + NEAR_MM) & (y1 >= y0[index] - NEAR_MM)
        result[index] = np.count_nonzero(near) == 1
    return result


def _part(rings: list[list[Point]]) -> Part:
    area = abs(ring_area(rings[0])) - sum(abs(ring_area(ring)) for ring in rings[1:])
    return Part(rings, max(0.0, area), sum(map(ring_length, rings)))


def _ring(points: list[Point]) -> list[Point]:
    """Without points that repeat, the closing one included."""
    ring = [point for index, point in enumerate(points) if index == 0 or point != points[index - 1]]
    while len(ring) > 1 and math.dist(ring[0], ring[-1]) < 1e-6:
        ring.pop()
    return ring


def ring_bounds(ring: list[Point]) -> tuple[float, float, float, float]:
    xs, ys = [x for x, _ in ring], [y for _, y in ring]
    return min(xs), min(ys), max(xs), max(ys)


def ring_area(ring: list[Point]) -> float:
    x_last, y_last = ring[-1]
    total = 0.0
    for x, y in ring:
        total += x_last * y - x * y_last
        x_last, y_last = x, y
    return total / 2.0


def ring_length(ring: list[Point]) -> float:
    return math.dist(ring[-1], ring[0]) + sum(map(math.dist, ring, ring[1:]))


def _beside(ring: list[Point]) -> list[tuple[Point, Point]]:
    """Points just inside and just outside, at the middle of the longest edge; of four corners also of the one across."""
    count = len(ring)
    longest = max(range(count), key=lambda index: math.dist(ring[index - 1], ring[index]))
    way = 1.0 if ring_area(ring) > 0 else -1.0
    result = []
    for index in (longest, (longest + 2) % count) if count == 4 else (longest,):
        (x0, y0), (x1, y1) = ring[index - 1], ring[index]
        size = math.hypot(x1 - x0, y1 - y0)
        if size == 0.0:
            continue
        nx, ny = -(y1 - y0) / size * NEAR_MM * way, (x1 - x0) / size * NEAR_MM * way
        x, y = (x0 + x1) / 2, (y0 + y1) / 2
        result.append(((x + nx, y + ny), (x - nx, y - ny)))
    return result


def _inked(boxes: Floats, edges: list[Floats], point: Point, *, even_odd: bool, but: int = -1) -> bool:
    x, y = point
    near = np.flatnonzero((boxes[:, 0] <= x) & (boxes[:, 2] >= x) & (boxes[:, 1] <= y) & (boxes[:, 3] >= y))
    around = [edges[index] for index in near if index != but]
    return bool(around) and is_inside(np.vstack(around), x, y, even_odd=even_odd)
