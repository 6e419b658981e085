"""How thin a filled shape is: rules, frames and hairlines are often filled areas, not stroked lines.

Thickness in points, area in mm2. Rectangles and four-cornered shapes are measured exactly (the least distance between two
parallels that hold them); shorter than 0.5 mm they are specks, no lines. Of any other shape only a piece that keeps its
thickness counts: at least 0.5 mm and eight times its thickness long, changing by no more than a sixteenth, between two edges
that face each other; a point that tapers is no line. What is measured is the inked side: the inside of a letter is paper. A
shape without any area prints as one row of device dots: thickness 0.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from preflight.inventory.model import Shape
from preflight.inventory.paint_paths import Point, Subpath, direction_of, rectangle_of
from preflight.inventory.regions import NO_EDGES, Floats, edges_of, is_inside
from preflight.units import MM_PER_PT, Box

#: A shape that is thicker than this on average is not searched for thin pieces.
SEARCH_BELOW_MM = 1.0
RUN_MM = 0.5
RUN_THICKNESSES = 8.0
RUN_CHANGE = 1.06
#: Nothing thicker is called thin (0.85 pt).
THIN_MM = 0.3
#: Edges face each other when their directions differ by no more than this.
FACING_SINE = math.sin(math.radians(10.0))
SAMPLES = 300
LEAST_SAMPLES = 4
SAMPLE_MM = 0.1
MOST_EDGES = 4000
MOST_PIECES = 3000
#: Shapes searched on one page; beyond it only exact ones are measured (two seconds' worth).
MOST_SEARCHES = 8000
FLAT_MM = 1e-4
#: Just beside an edge; outlines nearer than this touch.
NEAR_MM = 1e-3


@dataclass
class ShapeMeasurer:
    """Measures the filled shapes of one page; remembers those it met, for letters drawn as areas repeat."""

    searches: int = 0
    _known: dict[tuple[tuple[int, int], ...], float | None] = field(default_factory=dict)

    def measure(self, runs: list[Subpath], *, even_odd: bool) -> Shape:
        """One filled path as the inventory keeps it."""
        runs = [run for run in runs if len(run.points) > 1]
        if len(runs) == 1:
            rectangle = rectangle_of(runs[0])
            if rectangle is not None:
                return _rectangle(rectangle)
        thinnest, area = self._thinnest(runs, even_odd=even_odd)
        is_frame = _is_frame(runs)
        return Shape(
            thickness_pt=None if thinnest is None else thinnest / MM_PER_PT,
            area_mm2=area,
            parts=len(runs),
            direction=_lie(runs) if thinnest is not None and not is_frame else None,
            is_frame=is_frame,
        )

    def _thinnest(self, runs: list[Subpath], *, even_odd: bool) -> tuple[float | None, float]:
        found: list[float] = []
        area = 0.0
        for part in _parts(runs, even_odd=even_odd):
            area += part.area
            thickness = self._thickness(part)
            if thickness is not None:
                found.append(thickness)
        return (min(found) if found else None), area

    def _thickness(self, part: _Part) -> float | None:
        """The least thickness of one connected part in millimetres; None where it is nowhere thin."""
        outer = part.rings[0]
        if part.is_joined:
            return None
        if part.area <= FLAT_MM * part.length:
            return 0.0 if part.length > 2 * RUN_MM else None
        if part.length < 2 * RUN_MM:
            return None  # a speck
        if len(part.rings) == 1 and len(outer) == 4 and _is_convex(outer):
            return _least_width(outer)
        if part.mean_thickness > SEARCH_BELOW_MM or sum(map(len, part.rings)) > MOST_EDGES:
            return None
        key = _likeness(part.rings)
        if key in self._known:
            return self._known[key]
        if self.searches >= MOST_SEARCHES:
            return None
        self.searches += 1
        self._known[key] = thin_run(part.rings)
        return self._known[key]


@dataclass(slots=True)
class _Part:
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


def _rectangle(box: Box) -> Shape:
    thin = min(box.width, box.height)
    direction = None
    if box.width != box.height:
        direction = "level" if box.width > box.height else "upright"
    return Shape(
        thickness_pt=None if max(box.width, box.height) < RUN_MM else (0.0 if thin <= FLAT_MM else thin) / MM_PER_PT,
        area_mm2=box.area,
        is_rectangle=True,
        direction=direction,  # type: ignore[arg-type]
    )


def _lie(runs: list[Subpath]) -> Any:
    """How a thin shape lies: by the rectangles it is made of, or by its only direction."""
    boxes = [rectangle_of(run) for run in runs]
    if all(boxes):
        lies = {"level" if box.width > box.height else "upright" for box in boxes if box}
        return lies.pop() if len(lies) == 1 else None
    return direction_of(runs)


def _is_frame(runs: list[Subpath]) -> bool:
    """A ring between two rectangles, or four rectangles along the sides of one: a frame drawn as an area."""
    boxes = [box for run in runs if (box := rectangle_of(run)) is not None]
    if len(boxes) != len(runs):
        return False
    if len(boxes) == 2:
        large, small = sorted(boxes, key=lambda box: -box.area)
        return large.contains(small) and small.area > 0.5 * large.area
    if len(boxes) == 4:
        whole = boxes[0].union(boxes[1]).union(boxes[2].union(boxes[3]))
        reach = [(box.width > 0.9 * whole.width, box.height > 0.9 * whole.height) for box in boxes]
        return sorted(reach) == [(False, True), (False, True), (True, False), (True, False)]
    return False


# --- connected parts -------------------------------------------------------------------------------------------------


def _parts(runs: list[Subpath], *, even_odd: bool) -> list[_Part]:
    """The inked parts of a path: each outline with the holes in it. Outlines drowned in other ink are no edge at all."""
    rings = [ring for run in runs if len(ring := _ring(run.points)) > 1]
    if len(rings) == 1:
        return [_part(rings)]
    boxes = np.array([_bounds(ring) for ring in rings]) if rings else np.empty((0, 4))
    if len(rings) > MOST_PIECES:
        return [_part([ring]) for ring in rings]
    alone = _stands_alone(boxes)
    if alone.all():
        return [_part([ring]) for ring in rings]
    edges = [NO_EDGES if alone[index] else edges_of([ring]) for index, ring in enumerate(rings)]
    outer: list[tuple[float, int, list[int]]] = []
    holes: list[tuple[int, Point]] = []
    joined: set[int] = set()
    for index, ring in enumerate(rings):
        size = abs(_area(ring))
        if alone[index]:
            outer.append((size, index, []))
            continue
        if size <= FLAT_MM * _length(ring):
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


def _part(rings: list[list[Point]]) -> _Part:
    area = abs(_area(rings[0])) - sum(abs(_area(ring)) for ring in rings[1:])
    return _Part(rings, max(0.0, area), sum(map(_length, rings)))


def _ring(points: list[Point]) -> list[Point]:
    """Without points that repeat, the closing one included."""
    ring = [point for index, point in enumerate(points) if index == 0 or point != points[index - 1]]
    while len(ring) > 1 and math.dist(ring[0], ring[-1]) < 1e-6:
        ring.pop()
    return ring


def _bounds(ring: list[Point]) -> tuple[float, float, float, float]:
    xs, ys = [x for x, _ in ring], [y for _, y in ring]
    return min(xs), min(ys), max(xs), max(ys)


def _area(ring: list[Point]) -> float:
    x_last, y_last = ring[-1]
    total = 0.0
    for x, y in ring:
        total += x_last * y - x * y_last
        x_last, y_last = x, y
    return total / 2.0


def _length(ring: list[Point]) -> float:
    return math.dist(ring[-1], ring[0]) + sum(map(math.dist, ring, ring[1:]))


def _beside(ring: list[Point]) -> list[tuple[Point, Point]]:
    """Points just inside and just outside, at the middle of the longest edge; of four corners also of the one across."""
    count = len(ring)
    longest = max(range(count), key=lambda index: math.dist(ring[index - 1], ring[index]))
    way = 1.0 if _area(ring) > 0 else -1.0
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


# --- four corners ----------------------------------------------------------------------------------------------------


def _is_convex(ring: list[Point]) -> bool:
    turns = [
        (bx - ax) * (cy - by) - (by - ay) * (cx - bx)
        for (ax, ay), (bx, by), (cx, cy) in zip(ring, ring[1:] + ring[:1], ring[2:] + ring[:2], strict=True)
    ]
    return all(turn >= 0 for turn in turns) or all(turn <= 0 for turn in turns)


def _least_width(ring: list[Point]) -> float:
    """The least distance between two parallels along an edge that hold all corners."""
    widths = []
    for (x0, y0), (x1, y1) in zip(ring, ring[1:] + ring[:1], strict=True):
        size = math.hypot(x1 - x0, y1 - y0)
        if size > 0.0:
            widths.append(max(abs((x1 - x0) * (y - y0) - (x - x0) * (y1 - y0)) for x, y in ring) / size)
    return min(widths)


# --- any shape -------------------------------------------------------------------------------------------------------


def thin_run(rings: list[list[Point]], most_mm: float = THIN_MM) -> float | None:
    """The thickness in millimetres of the thinnest piece that keeps its thickness; None where there is none.

    Walks along each outline, looks straight across the ink to the nearest edge, and keeps what it sees where that edge faces
    the one it stands on.
    """
    edges = edges_of([_turned(ring, hole=index > 0) for index, ring in enumerate(rings)])
    spans = np.hypot(edges[:, 2] - edges[:, 0], edges[:, 3] - edges[:, 1])
    edges, spans = edges[spans > 0], spans[spans > 0]
    total = float(spans.sum())
    count = min(SAMPLES, max(24, int(total / SAMPLE_MM)))
    step = total / count
    at = (np.arange(count) + 0.5) * step
    ends = np.cumsum(spans)
    which = np.minimum(np.searchsorted(ends, at), len(spans) - 1)
    along = (at - (ends[which] - spans[which]))[:, None]
    unit = (edges[:, 2:] - edges[:, :2]) / spans[:, None]
    stand = edges[which, :2] + unit[which] * along
    inward = np.stack([-unit[which, 1], unit[which, 0]], axis=1)
    seen = _look_across(stand, inward, unit[which], edges, unit)
    return _shortest_steady(seen, step, most_mm)


def _turned(ring: list[Point], *, hole: bool) -> list[Point]:
    """So that ink lies to the left of its edges, in the sense of (-dy, dx)."""
    return ring if (_area(ring) > 0) != hole else ring[::-1]


def _look_across(stand: Floats, inward: Floats, facing: Floats, edges: Floats, unit: Floats) -> Floats:
    """Distance from each point to the nearest edge straight across, infinite where that edge does not face it."""
    seen = np.full(len(stand), np.inf)
    block = max(1, 400_000 // len(edges))
    start, run = edges[:, :2], edges[:, 2:] - edges[:, :2]
    for first in range(0, len(stand), block):
        part = slice(first, first + block)
        gap = start[None, :, :] - stand[part, None, :]
        ray = inward[part, None, :]
        cross = ray[..., 0] * run[None, :, 1] - ray[..., 1] * run[None, :, 0]
        with np.errstate(divide="ignore", invalid="ignore"):
            distance = (gap[..., 0] * run[None, :, 1] - gap[..., 1] * run[None, :, 0]) / cross
            place = (gap[..., 0] * ray[..., 1] - gap[..., 1] * ray[..., 0]) / cross
        hit = (cross != 0) & (distance > 1e-6) & (place >= -1e-9) & (place <= 1 + 1e-9)
        distance = np.where(hit, distance, np.inf)
        nearest = np.argmin(distance, axis=1)
        found = distance[np.arange(len(nearest)), nearest]
        there, here = unit[nearest], facing[part]
        sine = np.abs(here[:, 0] * there[:, 1] - here[:, 1] * there[:, 0])
        against = here[:, 0] * there[:, 0] + here[:, 1] * there[:, 1] < 0
        seen[part] = np.where((sine <= FACING_SINE) & against, found, np.inf)
    return seen


def _shortest_steady(seen: Floats, step: float, most_mm: float) -> float | None:
    """The least thickness that holds over a long enough stretch of neighbouring points."""
    count = len(seen)
    thin = np.flatnonzero(seen <= most_mm)
    done = np.zeros(count, dtype=bool)
    for index in thin[np.argsort(seen[thin])].tolist():
        if done[index]:
            continue
        least = float(seen[index])
        need = max(RUN_MM, RUN_THICKNESSES * least)
        if need > count * step / 2.0:
            need = count * step * 0.3  # a shape too short for a run of its own: most of its length must be as thin
            if least * 4.0 > need:
                continue
        most = least * RUN_CHANGE
        low = high = index
        while high - low + 1 < count and least <= seen[(high + 1) % count] <= most:
            high += 1
        while high - low + 1 < count and least <= seen[(low - 1) % count] <= most:
            low -= 1
        stretch = np.arange(low, high + 1) % count
        if len(stretch) >= LEAST_SAMPLES and len(stretch) * step >= need:
            return float(np.median(seen[stretch]))
        done[stretch[seen[stretch] <= least * 1.01]] = True
    return None


def _likeness(rings: list[list[Point]]) -> tuple[tuple[int, int], ...]:
    """The same for the same shape elsewhere on the page (to 0.001 mm)."""
    x0, y0 = rings[0][0]
    return tuple([(round((x - x0) * 1000.0), round((y - y0) * 1000.0)) for ring in rings for x, y in ring])
