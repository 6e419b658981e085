"""Thin frames that run along the trim on all four sides, however they are drawn.

One stroked rectangle (corners may be round), one filled ring, four lines or filled bars (or more, end to end, also of one path), or a filled rectangle
on which a smaller one leaves a thin rim. Millimetres in trim space.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import NamedTuple

from preflight.ground import is_white
from preflight.inventory.model import EDGES, Edge, Painted
from preflight.units import Box, mm_from_pt

#: A stroke around a rectangle is as long as its box is round; round corners take some of it.
ROUND_FROM, ROUND_TO = 0.88, 1.02
#: Bars this near the trim are looked at, wherever the limit is; a frame farther in is nobody's worry.
LOOK_MM = 10.0
#: Lines drawn this far outside the trim still belong to a frame that is cut in half.
OUTSIDE_MM = 0.5


@dataclass(frozen=True)
class Frame:
    """A frame: its box, how far its outer edge stays inside the trim on each side, and what it is drawn with."""

    box_mm: Box
    distances_mm: dict[Edge, float]
    parts: tuple[Painted, ...]


def frames_along(things: list[Painted], trim: Box, thick_mm: float, covers_percent: float) -> Iterator[Frame]:
    """Frames whose lines are no thicker than ``thick_mm``; four lines each cover so much of their side of the trim."""
    for thing in things:
        box = thing.visible_mm
        if box is not None and _goes_round(thing, thick_mm):
            away = distances_inside(box, trim)
            if _inside(away):
                yield Frame(box, away, (thing,))
    yield from _of_bars(things, trim, thick_mm, covers_percent)
    yield from _of_areas(things, trim, thick_mm)


def _goes_round(thing: Painted, thick_mm: float) -> bool:
    if thing.stroke is not None and thing.kind == "stroke":
        if mm_from_pt(thing.stroke.width_pt) > thick_mm or thing.stroke.rims_fill:
            return False
        if thing.stroke.is_frame:
            return True
        around = 2.0 * (thing.box_mm.width + thing.box_mm.height)
        no_line = thing.stroke.direction is None and min(thing.box_mm.width, thing.box_mm.height) > 2.0 * thick_mm
        return no_line and ROUND_FROM * around <= thing.stroke.length_mm <= ROUND_TO * around
    shape = thing.shape
    return shape is not None and shape.is_frame and _ring_mm(thing.box_mm, shape.area_mm2) <= thick_mm


def _ring_mm(box: Box, area_mm2: float) -> float:
    """How thick a ring of this area is: area = 2 t (w + h) - 4 t2."""
    half = box.width + box.height
    return (half - math.sqrt(max(0.0, half * half - 4.0 * area_mm2))) / 4.0


def _of_bars(things: list[Painted], trim: Box, thick_mm: float, covers_percent: float) -> Iterator[Frame]:
    """Lines and bars, level ones along top and bottom, upright ones along left and right."""
    sides: dict[Edge, list[Bar]] = {edge: [] for edge in EDGES}
    for thing in things:
        if thing.kind not in ("stroke", "fill"):
            continue
        for box in _pieces(thing, thick_mm):
            away = distances_inside(box, trim)
            for edge in ("top", "bottom") if box.width >= box.height else ("left", "right"):
                if -OUTSIDE_MM <= away[edge] <= LOOK_MM:
                    sides[edge].append(Bar(thing, box, away[edge]))
    chosen: dict[Edge, list[Bar]] = {}
    for edge, bars in sides.items():
        needed = (trim.width if edge in ("top", "bottom") else trim.height) * covers_percent / 100.0
        line = _outermost_line(bars, edge, trim, needed, thick_mm)
        if not line:
            return
        chosen[edge] = line
    parts = [bar for line in chosen.values() for bar in line]
    whole = parts[0].box
    for bar in parts[1:]:
        whole = whole.union(bar.box)
    away = {edge: min(bar.away for bar in line) for edge, line in chosen.items()}
    yield Frame(whole, away, tuple({bar.thing.order: bar.thing for bar in parts}.values()))


class Bar(NamedTuple):
    """A thin piece along an edge of the trim, and how far inside that edge its outer side is."""

    thing: Painted
    box: Box
    away: float


def _pieces(thing: Painted, thick_mm: float) -> Iterator[Box]:
    """The thin pieces of a path, or the thin thing itself."""
    shown = thing.visible_mm
    if shown is None or (thing.shape is not None and not thing.shape.is_rectangle and not thing.parts_mm):
        return
    for piece in thing.parts_mm or (shown,):
        box = piece.intersect(shown)
        if not box.is_empty and min(box.width, box.height) <= thick_mm:
            yield box


def _outermost_line(bars: list[Bar], edge: Edge, trim: Box, needed_mm: float, thick_mm: float) -> list[Bar]:
    """The pieces of the outermost line along an edge that together cover enough of it; none where there is no such line."""
    level = edge in ("top", "bottom")
    bars = sorted(bars, key=lambda bar: bar.away)
    for step in range(math.ceil((LOOK_MM + OUTSIDE_MM) / thick_mm * 2.0)):
        start = step * thick_mm / 2.0 - OUTSIDE_MM
        line = [bar for bar in bars if start <= bar.away <= start + thick_mm]
        spans = sorted(
            (max(box.x0, trim.x0), min(box.x1, trim.x1)) if level else (max(box.y0, trim.y0), min(box.y1, trim.y1))
            for _, box, _ in line
        )
        covered, reach = 0.0, float("-inf")
        for low, high in spans:
            covered += max(0.0, high - max(low, reach))
            reach = max(reach, high)
        if covered >= needed_mm:
            return line
    return []


def _of_areas(things: list[Painted], trim: Box, thick_mm: float) -> Iterator[Frame]:
    """A large filled rectangle, and the next large one or picture on it that leaves a thin rim of it on all sides."""
    large = [
        (thing, thing.visible_mm)
        for thing in things
        if thing.visible_mm is not None
        and (thing.kind == "image" or (thing.shape is not None and thing.shape.is_rectangle))
        and thing.visible_mm.width > trim.width / 2.0
        and thing.visible_mm.height > trim.height / 2.0
    ]
    for at, (lower, outer) in enumerate(large):
        if lower.kind == "image" or is_white(lower.colour):
            continue
        for upper, inner in large[at + 1 :]:
            rim = distances_inside(inner, outer.intersect(trim))
            # A rim of hardly anything is a rounding of two areas that were meant to meet.
            if all(0.1 <= side <= thick_mm for side in rim.values()) and lower.colour != upper.colour:
                away = distances_inside(outer, trim)
                inner_away = distances_inside(inner, trim)
                # What bleeds is cut: the rim's inner edge is what the eye compares with the cut.
                seen = {edge: away[edge] if away[edge] > 0.0 else inner_away[edge] for edge in EDGES}
                yield Frame(outer.intersect(trim), seen, (lower, upper))
                break


def _inside(away: dict[Edge, float]) -> bool:
    return all(distance >= -OUTSIDE_MM for distance in away.values())


def distances_inside(box: Box, trim: Box) -> dict[Edge, float]:
    """How far inside each edge of the trim a box stays; negative where it runs through."""
    return {
        "left": box.x0 - trim.x0,
        "top": box.y0 - trim.y0,
        "right": trim.x1 - box.x1,
        "bottom": trim.y1 - box.y1,
    }
