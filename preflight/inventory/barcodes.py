"""Bar and matrix codes of a page as a scanner would meet them: found on the plates, measured in millimetres, decoded.

Places that may hold a code (``code_places``) are redrawn at 24 pixels a millimetre, large ones at fewer, and read there (``bar_reading``, ``matrix_reading``).
Where codes are ordered and not among those found, the decoder looks over the whole page, too. Only codes that reach into
the trim count: others are the printer's or the customer's notes.

Edges are placed to half a pixel (0.02 mm); a module is measured over the whole symbol. A page on which nothing is like a code is drawn
only once.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from preflight.inventory.bar_reading import bars_at, other_codes_at, turned_bars_at
from preflight.inventory.code_decoder import decode
from preflight.inventory.code_places import CodePlace, find_places
from preflight.inventory.fine_view import FineView
from preflight.inventory.matrix_reading import matrix_at
from preflight.inventory.model import BarcodeSeen, Painted
from preflight.inventory.objects import clean_text
from preflight.inventory.red_light import printing_planes, red_light
from preflight.inventory.render import PlatePixels, render_plates
from preflight.product_numbers import mean_the_same
from preflight.units import Box

if TYPE_CHECKING:
    from preflight.inventory.boxes import Geometry
    from preflight.inventory.opening import Artwork
    from preflight.ticket import Job

FINE_PX_PER_MM = 24.0
_COARSER = (FINE_PX_PER_MM, 12.0, 6.0, 3.0, 1.0)
#: So many pixels are drawn at once.
_MOST_PIXELS = 3_000_000
#: More places than this are not looked at: then the page's codes are unknown.
MOST_PLACES = 150
#: In files with no more pages the whole page is drawn anew for the decoder to look over, unless it is very large.
_SHORT_FILE = 4
_WHOLE_PAGE_PX_PER_MM = 12.0
_WHOLE_PAGE_PIXELS = 30_000_000


class TooManyPlacesError(Exception):
    """More of a page looks like codes than can be looked at closely."""


def read_barcodes(
    artwork: Artwork, page: Any, geometry: Geometry, pixels: PlatePixels, painted: tuple[Painted, ...], job: Job
) -> tuple[BarcodeSeen, ...]:
    """The codes of a page, from the top. Raises ``TooManyPlacesError``, and what drawing raises."""
    planes = printing_planes(pixels, job)
    trim = Box(0.0, 0.0, *geometry.trim_mm) if geometry.trim_mm is not None else geometry.frame.media_mm

    def draw(region: Box, pixels_per_mm: float) -> FineView:
        artwork.before_parts_are_drawn()
        drawn = render_plates(artwork.document, page, geometry.frame, region, pixels_per_mm, press=pixels.press)
        inked = printing_planes(drawn, job)
        whole = slice(None)
        return FineView(drawn, inked, red_light(drawn, inked, whole, whole), trim)

    places = [place for place in find_places(painted, pixels, planes, trim) if place.box_mm.meets(trim)]
    limit = geometry.media_mm.intersect(geometry.zone_mm.union(trim))
    codes = _looked_at(places, draw, limit)
    if _asks_for_more(codes, job):
        short = (artwork.facts.pages or 0) <= _SHORT_FILE
        missed = _whole_page(pixels, planes, trim, draw if short else None)
        codes = _each_once(codes + _looked_at([place for place in missed if not _is_known(place, codes)], draw, limit))
    if geometry.trim_mm is None:
        # Without a printed size there are no millimetres.
        codes = [replace(code, x_dimension_mm=None, height_mm=None) for code in codes]
    return tuple(sorted(codes, key=lambda code: (code.box_mm.y0, code.box_mm.x0)))


def _looked_at(places: list[CodePlace], draw: Callable[[Box, float], FineView], limit: Box) -> list[BarcodeSeen]:
    if len(places) > MOST_PLACES:
        raise TooManyPlacesError(f"{len(places)} places look like bar codes, more than are looked at")
    codes: list[BarcodeSeen] = []
    for region, members in _regions(places, limit):
        view = draw(region, _resolution(region))
        for place in members:
            codes += [code for code in _codes_at(place, view) if code.box_mm.intersect(view.trim).area > 0.0]
    return _each_once(codes)


def _asks_for_more(codes: list[BarcodeSeen], job: Job) -> bool:
    """Whether a code that is ordered is not among those found, or a pack that surely has one shows none."""
    texts = [code.text for code in codes if code.text]
    wanted = job.order.barcodes
    if any(not any(mean_the_same(number, text) for text in texts) for number in wanted):
        return True
    return job.order.food_label and not codes


def _is_known(place: CodePlace, codes: list[BarcodeSeen]) -> bool:
    return any(
        place.box_mm.intersect(code.box_mm).area > 0.3 * min(place.box_mm.area, code.box_mm.area)
        for code in codes
        if place.box_mm.meets(code.box_mm)
    )


def _codes_at(place: CodePlace, view: FineView) -> list[BarcodeSeen]:
    if place.turn_deg:
        return turned_bars_at(place, view)
    codes: list[BarcodeSeen] = []
    if place.kind == "bars":
        turns = (False, True) if place.font else (place.level,)
        for level in turns:
            codes += bars_at(place, view, level=level)
        if not codes:
            codes = other_codes_at(place, view)
    else:
        codes = matrix_at(place, view)
    if not codes and place.font:
        codes = [BarcodeSeen(place.box_mm, f"font {clean_text(place.font)}", None, None, fault="font")]
    return codes


# --- what is drawn together ------------------------------------------------------------------------------------------


def _regions(places: list[CodePlace], limit: Box) -> list[tuple[Box, list[CodePlace]]]:
    """Places with room for their quiet zones, neighbours in one picture where that saves drawing."""
    regions: list[tuple[Box, list[CodePlace]]] = []
    for place in places:
        box = _with_room(place).intersect(limit)
        if box.is_empty:
            continue
        for index, (region, members) in enumerate(regions):
            union = region.union(box)
            shared = region.meets(box) and union.area <= 1.2 * (region.area + box.area)
            if shared and union.area * FINE_PX_PER_MM**2 <= _MOST_PIXELS:
                regions[index] = (union, [*members, place])
                break
        else:
            regions.append((box, [place]))
    return regions


def _with_room(place: CodePlace) -> Box:
    box = place.box_mm
    if place.turn_deg:
        return box.grow(max(box.width, box.height) / 3.5 + 1.0)
    if place.kind == "squares":
        return box.grow(0.25 * max(box.width, box.height) + 1.0)
    # The shortest symbol has some forty modules, of which up to eleven are to be clear beside it.
    along = (box.height if place.level else box.width) / 3.5 + 1.0
    across = 4.5  # the line of digits
    x, y = (across, along) if place.level else (along, across)
    return Box(box.x0 - x, box.y0 - y, box.x1 + x, box.y1 + y)


def _resolution(region: Box) -> float:
    return next((step for step in _COARSER if region.area * step * step <= _MOST_PIXELS), _COARSER[-1])


def _whole_page(
    pixels: PlatePixels, planes: list[int], trim: Box, draw: Callable[[Box, float], FineView] | None
) -> list[CodePlace]:
    """Places where the decoder finds something on the whole page, drawn anew where there is a way to."""
    fine = draw is not None and trim.area * _WHOLE_PAGE_PX_PER_MM**2 <= _WHOLE_PAGE_PIXELS
    if draw is not None and fine:
        view = draw(trim, _WHOLE_PAGE_PX_PER_MM)
        pixels, light, top, left = view.pixels, view.light, 0, 0
    else:
        top, bottom, left, right = pixels.pixel_box(trim)
        light = red_light(pixels, planes, slice(top, bottom), slice(left, right))
    places = []
    for read in decode((light * 255.0).astype(np.uint8), "all"):
        xs, ys = zip(*read.corners, strict=True)
        box = pixels.mm_of(
            top + math.floor(min(ys)), top + math.ceil(max(ys)), left + math.floor(min(xs)), left + math.ceil(max(xs))
        )
        if box.area > 0.0:
            places.append(CodePlace(box, "squares"))
    return places


def _each_once(codes: list[BarcodeSeen]) -> list[BarcodeSeen]:
    """Each symbol once: what is decoded before what is not."""
    kept: list[BarcodeSeen] = []
    for code in sorted(codes, key=lambda code: (not code.decoded, code.fault != "check digit", -code.box_mm.area)):
        for other in kept:
            shared = code.box_mm.intersect(other.box_mm)
            if not shared.is_empty and shared.area > 0.3 * min(code.box_mm.area, other.box_mm.area):
                break
        else:
            kept.append(code)
    return kept
