"""What is laid over a page's drawing besides the boxes: how far a place is from the trim, and the outline of too much ink.

Lengths in mm of trim space; ``px`` is one pixel of the drawing as shown.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from preflight.report.docket import Place
from preflight.report.words import length, number
from preflight.units import TOLERANCE_MM, Box

#: A patch with less room than its label gets the label beside it; of many patches the largest are labelled.
_LABEL_PX = (58.0, 14.0)
_MOST_LABELS = 12
#: Where along a place's side its lines start, in turn.
_PARTS = (0.5, 0.25, 0.75)


@dataclass(frozen=True)
class Reach:
    """A line from a place to one edge of the trim; ``near``: the nearer of two opposite edges."""

    edge: str
    start: tuple[float, float]
    end: tuple[float, float]
    said: str
    at: tuple[float, float]
    near: bool


@dataclass(frozen=True)
class Outline:
    """The line around one patch of too much ink as an SVG path, its label and where that stands (None: not labelled)."""

    path: str
    said: str
    at: tuple[float, float] | None
    number: int


def reaches_of(box: Box, trim: Box, view: Box, px: float, turn: int = 0) -> tuple[Reach, ...]:
    """The distances from a place to the edges of the trim that it lies inside of.

    ``turn`` moves the lines of neighbours apart, which would else lie on one another where places are centred.
    """
    gaps = {
        "left": box.x0 - trim.x0,
        "right": trim.x1 - box.x1,
        "top": box.y0 - trim.y0,
        "bottom": trim.y1 - box.y1,
    }
    part = _PARTS[turn % len(_PARTS)]
    across = min(max(box.x0 + box.width * part, view.x0), view.x1)
    down = min(max(box.y0 + box.height * part, view.y0), view.y1)
    ends = {
        "left": ((trim.x0, down), (box.x0, down)),
        "right": ((box.x1, down), (trim.x1, down)),
        "top": ((across, trim.y0), (across, box.y0)),
        "bottom": ((across, box.y1), (across, trim.y1)),
    }
    nearer = {"left": "right", "right": "left", "top": "bottom", "bottom": "top"}
    reaches = []
    for edge, gap in gaps.items():
        if gap <= TOLERANCE_MM:
            continue
        other = gaps[nearer[edge]]
        (x0, y0), (x1, y1) = ends[edge]
        middle_x = min(max((x0 + x1) / 2, view.x0 + 20 * px), view.x1 - 20 * px)
        middle_y = min(max((y0 + y1) / 2, view.y0 + 12 * px), view.y1 - 4 * px)
        at = (middle_x, middle_y - 3 * px) if edge in ("left", "right") else (middle_x, middle_y + 4 * px)
        near = gap < other or (gap == other and edge in ("left", "top")) or other <= TOLERANCE_MM
        reaches.append(Reach(edge, _rounded(x0, y0), _rounded(x1, y1), length(gap), _rounded(*at), near))
    return tuple(reaches)


def outlines_of(places: Iterable[Place], page: int, view: Box, px: float) -> tuple[Outline, ...]:
    """The outlines of too much ink that the findings of a page carry, with the size of each patch in mm2."""
    found = []
    for place in places:
        if place.finding.page != page:
            continue
        patches = _listed(place.finding.details.get("patches"))
        whole = place.finding.details.get("area_mm2")
        for patch in patches:
            rings = [_points(ring) for ring in _listed(patch.get("rings_mm") if isinstance(patch, dict) else None)]
            rings = [ring for ring in rings if len(ring) > 2]
            area = patch.get("area_mm2") if isinstance(patch, dict) else None
            if len(patches) == 1 and isinstance(whole, (int, float)):
                area = whole  # measured in pixels, finer than the cells that the line is drawn around
            if rings and isinstance(area, (int, float)):
                found.append((float(area), rings, place.number))
    found.sort(key=lambda patch: -patch[0])
    outlines = []
    for turn, (area, rings, finding) in enumerate(found):
        said = f"{number(area, 0 if area >= 10 else 1)} mm²"
        at = _label_at(rings, view, px) if turn < _MOST_LABELS else None
        outlines.append(Outline("".join(_path(ring) for ring in rings), said, at, finding))
    return tuple(outlines)


def _label_at(rings: list[list[tuple[float, float]]], view: Box, px: float) -> tuple[float, float]:
    """Where a patch has room for its label, as near its middle as can be; else just under it, inside what is shown."""
    wide, high = (side * px for side in _LABEL_PX)
    x0, x1 = min(x for x, _ in rings[0]), max(x for x, _ in rings[0])
    y0, y1 = min(y for _, y in rings[0]), max(y for _, y in rings[0])
    middle = (x0 + x1) / 2, (y0 + y1) / 2
    spots = [(x0 + (x1 - x0) * across / 8, y0 + (y1 - y0) * down / 8) for across in range(1, 8) for down in range(1, 8)]
    for x, y in sorted(spots, key=lambda spot: math.hypot(spot[0] - middle[0], spot[1] - middle[1])):
        if _has_room(rings, Box(x - wide / 2, y - high / 2, x + wide / 2, y + high / 2).grow(2 * px)):
            return _rounded(x, y + high / 3)
    down = y1 + high if y1 + high < view.y1 else y0 - 4 * px
    across = min(max(middle[0], view.x0 + wide / 2), view.x1 - wide / 2)
    return _rounded(across, min(max(down, view.y0 + high), view.y1))


def _has_room(rings: list[list[tuple[float, float]]], label: Box) -> bool:
    """Whether a box lies inside a patch and no line runs through it."""
    for ring in rings:
        for (xa, ya), (xb, yb) in zip(ring, [*ring[1:], ring[0]], strict=True):
            beside = max(xa, xb) < label.x0 or min(xa, xb) > label.x1
            if not beside and not (max(ya, yb) < label.y0 or min(ya, yb) > label.y1):
                return False
    # No line touches it, so one corner speaks for all of it.
    return sum(_is_inside(ring, label.x0, label.y0) for ring in rings) % 2 == 1


def _is_inside(ring: list[tuple[float, float]], x: float, y: float) -> bool:
    inside = False
    for (xa, ya), (xb, yb) in zip(ring, [*ring[1:], ring[0]], strict=True):
        if (ya > y) != (yb > y) and x < (xb - xa) * (y - ya) / (yb - ya) + xa:
            inside = not inside
    return inside


def _path(ring: list[tuple[float, float]]) -> str:
    return "M" + "L".join(f"{number(x, 2)} {number(y, 2)}" for x, y in ring) + "Z"


def _points(ring: Any) -> list[tuple[float, float]]:
    points = []
    for point in _listed(ring):
        pair = _listed(point)
        if len(pair) == 2 and all(isinstance(value, (int, float)) for value in pair):
            points.append((float(pair[0]), float(pair[1])))
    return points


def _listed(value: Any) -> list[Any]:
    return list(value) if isinstance(value, (list, tuple)) else []


def _rounded(x: float, y: float) -> tuple[float, float]:
    return round(x, 3), round(y, 3)
