"""How a drawn path lies on the page: its corners, its length, and how thick a stroked line really is.

Points are in trim space (millimetres); widths in points, measured across the line as drawn. A line of width w drawn in
direction v under the matrix M is w x |det M| x |M^-1 v| / |v| thick (plain geometry; ISO 32000-2, 8.4.3.2 strokes in user
space, so that an uneven scale thins level and upright lines differently). Curves are cut into chords that leave them by at
most 0.002 mm, where the thickness of a filled shape hangs on them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import Any, Literal

from pymupdf import mupdf as m

from preflight.inventory.model import Stroke
from preflight.units import MM_PER_PT, Box

Point = tuple[float, float]
#: a, b, c, d, e, f as in ``units.Matrix``; a bare tuple, since there may be one for each of many thousand paths.
Numbers = tuple[float, float, float, float, float, float]

CHORD_MM = 0.002
STROKE_CHORD_MM = 0.02
MOST_CHORDS = 64
#: Two ends closer than this are one point; a line rising less over its length is level.
SAME_MM = 0.002
LEVEL_SLOPE = 0.001
EMPTY = Box(math.inf, math.inf, -math.inf, -math.inf)


@dataclass(slots=True)
class Subpath:
    """One run of the pen, curves cut into chords."""

    points: list[Point]
    closed: bool = False
    curved: bool = False


class PathReader(m.FzPathWalker2):  # type: ignore[misc]
    """Reads the engine's paths, which have no other door."""

    def __init__(self) -> None:
        super().__init__()
        for name in ("moveto", "lineto", "curveto", "closepath", "rectto"):
            getattr(self, f"use_virtual_{name}")()
        self.steps: list[tuple[float, ...]] = []

    def moveto(self, _context: Any, *to: float) -> None:
        self.steps.append((0.0, *to))

    def lineto(self, _context: Any, *to: float) -> None:
        self.steps.append((1.0, *to))

    def curveto(self, _context: Any, *to: float) -> None:
        self.steps.append((2.0, *to))

    def closepath(self, _context: Any) -> None:
        self.steps.append((3.0,))

    def rectto(self, _context: Any, *to: float) -> None:
        self.steps.append((4.0, *to))

    def read(self, path: Any, matrix: Numbers, chord_mm: float) -> list[Subpath]:
        """The path's runs in the space ``matrix`` leads to; a mere move draws nothing and is left out."""
        self.steps = []
        internal = self.m_internal
        m.ll_fz_walk_path(path, internal, internal)
        runs = subpaths(self.steps, matrix, chord_mm)
        return (
            runs
            if all(len(run.points) > 1 for run in runs)
            else [run for run in runs if len(run.points) > 1 or run.closed]
        )


def subpaths(steps: list[tuple[float, ...]], matrix: Numbers, chord_mm: float) -> list[Subpath]:
    """Moves, lines, curves (2), closings (3) and rectangles (4) as runs of points."""
    a, b, c, d, e, f = matrix
    result: list[Subpath] = []
    points: list[Point] = []
    run = Subpath(points)
    for step in steps:
        kind = step[0]
        if kind == 1.0:
            if run.closed:
                points = [points[0]]
                run = Subpath(points)
                result.append(run)
            x, y = step[1], step[2]
            points.append((a * x + c * y + e, b * x + d * y + f))
        elif kind == 0.0:
            x, y = step[1], step[2]
            points = [(a * x + c * y + e, b * x + d * y + f)]
            run = Subpath(points)
            result.append(run)
        elif kind == 2.0:
            if run.closed:
                points = [points[0]]
                run = Subpath(points)
                result.append(run)
            one, two, end = [(a * x + c * y + e, b * x + d * y + f) for x, y in (step[1:3], step[3:5], step[5:7])]
            if not points:
                points.append(one)
            _chords(points, one, two, end, chord_mm)
            run.curved = True
        elif kind == 3.0:
            run.closed = True
        else:
            x0, y0, x1, y1 = step[1:]
            points = [(a * x + c * y + e, b * x + d * y + f) for x, y in ((x0, y0), (x1, y0), (x1, y1), (x0, y1))]
            run = Subpath(points, closed=True)
            result.append(run)
    return result


def _chords(points: list[Point], one: Point, two: Point, end: Point, chord_mm: float) -> None:
    """Adds a cubic curve from the last point, with as many chords as its bend asks for."""
    x0, y0 = points[-1]
    (x1, y1), (x2, y2), (x3, y3) = one, two, end
    bend = max(math.hypot(x0 - 2 * x1 + x2, y0 - 2 * y1 + y2), math.hypot(x1 - 2 * x2 + x3, y1 - 2 * y2 + y3))
    # |B''| <= 6 bend, and a chord over 1/n of the parameter leaves the curve by at most |B''| / (8 n^2).
    count = min(MOST_CHORDS, max(1, math.ceil(math.sqrt(0.75 * bend / chord_mm)))) if math.isfinite(bend) else 1
    for index in range(1, count):
        t = index / count
        s = 1.0 - t
        p, q, r, w = s * s * s, 3 * s * s * t, 3 * s * t * t, t * t * t
        points.append((p * x0 + q * x1 + r * x2 + w * x3, p * y0 + q * y1 + r * y2 + w * y3))
    points.append(end)


def box_of(runs: list[Subpath]) -> Box:
    """The upright box around the points; ``EMPTY`` for none."""
    xs = [x for run in runs for x, _ in run.points]
    if not xs:
        return EMPTY
    ys = [y for run in runs for _, y in run.points]
    return Box(min(xs), min(ys), max(xs), max(ys))


def direction_of(runs: list[Subpath]) -> Literal["level", "upright"] | None:
    """Whether every piece is level, or every piece upright."""
    found: Literal["level", "upright"] | None = None
    for run in runs:
        for (x0, y0), (x1, y1) in _pieces(run):
            dx, dy = abs(x1 - x0), abs(y1 - y0)
            if dx <= SAME_MM and dy <= SAME_MM:
                continue
            one: Literal["level", "upright"]
            if dy <= max(SAME_MM, LEVEL_SLOPE * dx):
                one = "level"
            elif dx <= max(SAME_MM, LEVEL_SLOPE * dy):
                one = "upright"
            else:
                return None
            if found not in (None, one):
                return None
            found = one
    return found


def _pieces(run: Subpath) -> list[tuple[Point, Point]]:
    points = run.points
    pieces = list(pairwise(points))
    if run.closed and len(points) > 1 and points[-1] != points[0]:
        pieces.append((points[-1], points[0]))
    return pieces


def rectangle_of(run: Subpath) -> Box | None:
    """The upright rectangle a closed run goes round, None for any other run. Four corners; the first may be repeated."""
    points = run.points
    if len(points) == 5 and _same(points[0], points[4]):
        points = points[:4]
    elif len(points) != 4:
        return None
    (ax, ay), (bx, by), (cx, cy), (dx, dy) = points
    level_first = (
        abs(ay - by) <= SAME_MM and abs(bx - cx) <= SAME_MM and abs(cy - dy) <= SAME_MM and abs(dx - ax) <= SAME_MM
    )
    level_last = (
        abs(ax - bx) <= SAME_MM and abs(by - cy) <= SAME_MM and abs(cx - dx) <= SAME_MM and abs(dy - ay) <= SAME_MM
    )
    if not (level_first or level_last):
        return None
    return Box(min(ax, cx), min(ay, cy), max(ax, cx), max(ay, cy))


def _same(one: Point, other: Point) -> bool:
    return abs(one[0] - other[0]) <= SAME_MM and abs(one[1] - other[1]) <= SAME_MM


def outline_of(runs: list[Subpath]) -> tuple[tuple[Point, ...], ...]:
    """The rings of a path that encloses something, for comparing; a ring that ends where it starts is told once."""
    rings = []
    for run in runs:
        points = [(round(x, 3), round(y, 3)) for x, y in run.points]
        if len(points) > 1 and points[0] == points[-1]:
            points.pop()
        if len(points) > 2:
            rings.append(tuple(points))
    return tuple(rings)


@dataclass(slots=True)
class StrokeStyle:
    """How a path is stroked, in the path's own space."""

    width: float
    dashed: bool = False
    #: Round or projecting ends: a line of no length still leaves a dot,
    #: and its ends reach past the path by half the width.
    capped: bool = False


@dataclass(slots=True)
class StrokeMeasured:
    """A stroked path: what the inventory keeps, its boxes with and without the pen, the corners of a single straight line."""

    stroke: Stroke
    box: Box
    path_box: Box
    corners: list[Point] | None
    marks: bool


def measure_stroke(runs: list[Subpath], matrix: Numbers, style: StrokeStyle) -> StrokeMeasured:
    """Width, length and box of a stroked path."""
    a, b, c, d, _, _ = matrix
    det = a * d - b * c
    if len(runs) == 1 and len(runs[0].points) == 2 and not style.capped and det != 0.0:
        line = _straight_line(runs[0].points, matrix, det, style)
        if line is not None:
            return line
    even = abs(a * a + b * b - c * c - d * d) + abs(a * c + b * d) <= 1e-4 * (a * a + b * b + c * c + d * d)
    width_mm = style.width * math.sqrt(abs(det)) if even else math.inf
    length = 0.0
    for run in runs:
        for (x0, y0), (x1, y1) in _pieces(run):
            vx, vy = x1 - x0, y1 - y0
            span = math.hypot(vx, vy)
            length += span
            if not even and span > 0.0:
                width_mm = min(width_mm, _thickness(style.width, matrix, det, vx, vy, span))
    dot = length <= 0.0
    if math.isinf(width_mm):  # a dot under an uneven scale
        width_mm = style.width * least_scale(matrix)
    path_box = box_of(runs)
    reach_x, reach_y = 0.5 * style.width * math.hypot(a, c), 0.5 * style.width * math.hypot(b, d)
    box = Box(path_box.x0 - reach_x, path_box.y0 - reach_y, path_box.x1 + reach_x, path_box.y1 + reach_y)
    is_frame = len(runs) == 1 and rectangle_of(runs[0]) is not None and _goes_round(runs[0])
    stroke = Stroke(
        width_pt=width_mm / MM_PER_PT,
        zero=style.width == 0.0,
        length_mm=length,
        dashed=style.dashed,
        direction=None if is_frame else direction_of(runs),
        is_frame=is_frame,
    )
    return StrokeMeasured(stroke, box, path_box, None, marks=bool(runs) and (not dot or style.capped))


def _goes_round(run: Subpath) -> bool:
    return run.closed or (len(run.points) == 5 and _same(run.points[0], run.points[4]))


def _thickness(width: float, matrix: Numbers, det: float, vx: float, vy: float, span: float) -> float:
    """Across a line of direction (vx, vy) as drawn."""
    a, b, c, d, _, _ = matrix
    # M^-1 v times det
    return width * math.hypot(d * vx - c * vy, a * vy - b * vx) / span if det else 0.0


def least_scale(matrix: Numbers) -> float:
    a, b, c, d, _, _ = matrix
    total, det = a * a + b * b + c * c + d * d, a * d - b * c
    return math.sqrt(max(0.0, (total - math.sqrt(max(0.0, total * total - 4.0 * det * det))) / 2.0))


def _straight_line(points: list[Point], matrix: Numbers, det: float, style: StrokeStyle) -> StrokeMeasured | None:
    """One straight line with butt ends, by far the most frequent stroke: exactly its own four corners."""
    a, b, c, d, _, _ = matrix
    (x0, y0), (x1, y1) = points
    vx, vy = x1 - x0, y1 - y0
    span = math.sqrt(vx * vx + vy * vy)
    if span == 0.0:
        return None
    # The line's direction in its own space, a quarter turned and half the pen long, brought back: half the line's side.
    ux, uy = (d * vx - c * vy) / det, (a * vy - b * vx) / det
    size = math.sqrt(ux * ux + uy * uy)
    half = style.width / (2.0 * size)
    nx, ny = half * (c * ux - a * uy), half * (d * ux - b * uy)
    across, along = abs(vx), abs(vy)
    direction: Literal["level", "upright"] | None = None
    if along <= max(SAME_MM, LEVEL_SLOPE * across):
        direction = "level"
    elif across <= max(SAME_MM, LEVEL_SLOPE * along):
        direction = "upright"
    width_mm = style.width * abs(det) * size / span
    stroke = Stroke(width_mm / MM_PER_PT, style.width == 0.0, span, style.dashed, direction=direction)
    path_box = Box(x0 if x0 < x1 else x1, y0 if y0 < y1 else y1, x1 if x0 < x1 else x0, y1 if y0 < y1 else y0)  # noqa: FURB136
    dx, dy = abs(nx), abs(ny)
    box = Box(path_box.x0 - dx, path_box.y0 - dy, path_box.x1 + dx, path_box.y1 + dy)
    corners = [(x0 + nx, y0 + ny), (x1 + nx, y1 + ny), (x1 - nx, y1 - ny), (x0 - nx, y0 - ny)]
    return StrokeMeasured(stroke, box, path_box, corners, marks=True)
