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

from preflight.inventory.model import Shape
from preflight.inventory.outlines import FLAT_MM, Part, inked_parts
from preflight.inventory.paint_paths import Point, Subpath, direction_of, rectangle_of
from preflight.inventory.thin_run import RUN_MM, thin_run
from preflight.units import MM_PER_PT, Box

#: A shape that is thicker than this on average is not searched for thin stretches; nor is one of more edges.
SEARCH_BELOW_MM = 1.0
MOST_EDGES = 4000
#: Shapes searched on one page; beyond it only exact ones are measured (a few seconds' worth).
MOST_SEARCHES = 8000


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
        for part in inked_parts(runs, even_odd=even_odd):
            area += part.area
            thickness = self._thickness(part)
            if thickness is not None:
                found.append(thickness)
        return (min(found) if found else None), area

    def _thickness(self, part: Part) -> float | None:
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


def _likeness(rings: list[list[Point]]) -> tuple[tuple[int, int], ...]:
    """The same for the same shape elsewhere on the page (to 0.001 mm)."""
    x0, y0 = rings[0][0]
    return tuple([(round((x - x0) * 1000.0), round((y - y0) * 1000.0)) for ring in rings for x, y in ring])
