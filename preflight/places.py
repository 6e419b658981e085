"""Painted things that lie together are one place on the page: boxes within 2 mm, or the same object placed again.

Boxes are in trim space (millimetres). The area of a place is that of all its boxes together, overlaps counted once. On a picture whose
printed size nobody knows there are no millimetres: places are told in its pixels, from the top left corner as it is seen.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from itertools import pairwise

from preflight.findings import Found
from preflight.inventory.model import Page
from preflight.units import Box

TOGETHER_WITHIN_MM = 2.0
#: A page with more places than this is strewn with them: they are one.
MOST_PLACES = 50
#: The area of more boxes than this is not worked out piece by piece.
MOST_BOXES = 300


@dataclass
class Place:
    """One place under construction: the box around it, what lies in it, and the objects it comes from."""

    box_mm: Box
    boxes: list[Box]
    sources: set[str]

    @property
    def area_mm2(self) -> float:
        return min(self.box_mm.area, covered_area(self.boxes))


def gather(things: Iterable[tuple[Box, str]]) -> list[Place]:
    """The places that boxes (each with the key of its object, or nothing) form, in the order they were met."""
    places: list[Place] = []
    for box, source in things:
        fresh = Place(box, [box], {source} if source else set())
        rest = []
        for place in places:
            if place.box_mm.meets(fresh.box_mm, within=TOGETHER_WITHIN_MM) or (source and source in place.sources):
                # The longer list takes the other in, so that strewn pages do not cost the square of their things.
                big, small = (place, fresh) if len(place.boxes) >= len(fresh.boxes) else (fresh, place)
                big.boxes.extend(small.boxes)
                fresh = Place(place.box_mm.union(fresh.box_mm), big.boxes, place.sources | fresh.sources)
            else:
                rest.append(place)
        places = [*rest, fresh]
        if len(places) > MOST_PLACES:
            whole = places[0].box_mm
            for place in places[1:]:
                whole = whole.union(place.box_mm)
            places = [Place(whole, [one for place in places for one in place.boxes], set())]
    return places


def covered_area(boxes: list[Box]) -> float:
    """The area under any of the boxes; for very many, their sum (never less than the truth)."""
    boxes = list(dict.fromkeys(boxes))
    if len(boxes) > MOST_BOXES:
        return sum(box.area for box in boxes)
    total = 0.0
    for left, right in pairwise(sorted({x for box in boxes for x in (box.x0, box.x1)})):
        reach = float("-inf")
        height = 0.0
        for y0, y1 in sorted((box.y0, box.y1) for box in boxes if box.x0 <= left and box.x1 >= right):
            height += max(0.0, y1 - max(y0, reach))
            reach = max(reach, y1)
        total += height * (right - left)
    return total


def in_pixels(found: Found, page: Page) -> Found:
    """What was found on a picture of unknown size, placed by its pixels; anything else as it is."""
    if page.trim_mm is not None or found.box_mm is None:
        return found
    scales = [
        thing.image.width_px / math.hypot(*thing.image.matrix_mm[:2])
        for thing in page.painted
        if thing.image is not None and thing.image.matrix_mm is not None and any(thing.image.matrix_mm[:2])
    ]
    box = found.box_mm
    pixels = [round(edge * scales[0]) for edge in (box.x0, box.y0, box.x1, box.y1)] if scales else None
    return replace(found, box_mm=None, details={**found.details, "box_px": pixels})
