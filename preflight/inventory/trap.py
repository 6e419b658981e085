"""Edges of two inks with no overlap, where the least misregister on press shows a line of bare paper.

First the trace tells whether things without an ink in common are painted near each other at all; then the plates as drawn show where such
inks meet; those places are drawn again at 24 pixels a millimetre, where a usual trap of 0.08 mm is two pixels wide, and measured.
Black is left out (it overprints, or hides what lies under it), finishing plates too, and so are pictures: their pixels meet everywhere.
Lengths in mm. The work is bounded: of a page strewn with such edges the largest places are drawn again, and the others of the same
inks are taken for the same.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from preflight.inventory.model import Colour, Painted, TrapEdge
from preflight.inventory.render import PlatePixels, render_plates
from preflight.inventory.trap_edges import BLACK, InkSets, Meetings, edges_of, joined, length_mm, meetings
from preflight.ticket import Job
from preflight.units import Box, PageFrame

Mask = npt.NDArray[np.bool_]

PIXELS_PER_MM = 24
#: Places are drawn again in tiles of this side, so much in all, and in so many pieces at most.
_TILE_MM = 6.0
_MOST_DRAWN_MM2 = 4_000.0
_MOST_PIECES = 32
#: On a page of many things each piece costs: so many things are run through in all.
_MOST_RUN = 200_000
_LEAST_PIECES = 4
#: Around a piece, so that edges on its rim are seen with what lies beside them.
_RIM_MM = 0.25
#: Where not all places could be drawn again: the part of those that were, which must be confirmed.
_CONFIRMED = 0.5
_DIRECT = ("cmyk", "separation", "device-n")
_FEW_CLASSES = 60


def read_trap(
    document: Any,
    page: Any,
    frame: PageFrame,
    painted: tuple[Painted, ...],
    plates: PlatePixels,
    zone_mm: Box,
    job: Job,
) -> tuple[TrapEdge, ...]:
    """The edges on one page (``mupdf.PdfPage``), longest first. ``plates`` are its plates as drawn."""
    limits = job.limits["trap"]
    region = _where_inks_may_meet(painted, zone_mm.intersect(plates.box_mm), limits.common_ink_from_percent)
    if region is None:
        return ()
    inks = tuple(
        ink
        for ink, plane in zip(plates.inks, plates.planes, strict=True)
        if not job.is_finishing(ink) and (ink == BLACK or plane.any())
    )
    if len(inks) - (BLACK in inks) < 2:
        return ()
    # The engine cuts a tint to the next lower of 255 steps.
    sets = InkSets(inks, int(2.55 * limits.common_ink_from_percent) - 1)
    pictures = _Pictures(painted)
    near = _part(plates, region)
    suspects = meetings(near, sets, limits.misregister_mm, flat=False, skip=pictures.on(near))
    if not len(suspects):
        return ()
    pieces, left = _pieces(suspects, len(painted))
    seen = []
    for piece in pieces:
        drawn = render_plates(document, page, frame, piece.grow(_RIM_MM), PIXELS_PER_MM, press=plates.press)
        found = meetings(drawn, sets, limits.misregister_mm, flat=True, skip=pictures.on(drawn))
        seen.append(found.picked(_inside(found, piece)))
    confirmed = joined(seen, 1.0 / PIXELS_PER_MM)
    lots = [confirmed, _taken_for_the_same(suspects, left, confirmed)]
    return tuple(sorted(edges_of(lots, sets), key=lambda edge: (-edge.length_mm, edge.box_mm)))


# --- where to look ------------------------------------------------------------------------------------------------------


def _where_inks_may_meet(painted: tuple[Painted, ...], zone: Box, from_percent: float) -> Box | None:
    """The box in which drawn things (not pictures) with no ink in common may touch; None where there are none."""
    classes: dict[Any, Box] = {}
    known: dict[int, Any] = {}
    for thing in painted:
        if not thing.is_visible or thing.visible_mm is None or thing.kind in ("image", "group", "mask"):
            continue
        # Things of one colour share it; the page keeps them all alive.
        at = id(thing.colour)
        if at not in known:
            known[at] = _inks_of(thing.colour, from_percent)
        # Of a gradient or a converted colour any ink may be there: each is a class of its own.
        key = ("gradient", thing.order) if thing.kind == "shading" else known[at]
        if not key:
            continue
        classes[key] = classes[key].union(thing.visible_mm) if key in classes else thing.visible_mm
        if len(classes) > _FEW_CLASSES:
            return zone
    result: Box | None = None
    keys = list(classes)
    for index, one in enumerate(keys):
        for other in keys[:index]:
            if isinstance(one, frozenset) and isinstance(other, frozenset) and one & other:
                continue
            shared = classes[one].grow(1.0).intersect(classes[other].grow(1.0)).intersect(zone)
            if not shared.is_empty:
                result = shared if result is None else result.union(shared)
    return result


def _inks_of(colour: Colour | None, from_percent: float) -> frozenset[str] | tuple[object, ...]:
    """The inks of a colour that count, black apart; where they are not known by its numbers, what tells it from others."""
    if colour is None:
        return ("unknown",)
    if colour.family in ("gray", "none"):
        return frozenset()
    tints = colour.tints_percent() if colour.family in _DIRECT else None
    if tints is None or "All" in tints:
        return colour.space, colour.values
    return frozenset(ink for ink, tint in tints.items() if tint >= from_percent and ink != BLACK)


class _Pictures:
    """Where pictures lie, as far as no drawn thing lies over them: pixels there are not looked at."""

    def __init__(self, painted: tuple[Painted, ...]) -> None:
        self.boxes: list[Box] = []
        self.hides: list[bool] = []
        for thing in painted:
            if thing.visible_mm is None or not thing.is_visible:
                continue
            if _is_picture(thing) or (self.boxes and _fills_its_box(thing)):
                self.boxes.append(thing.visible_mm)
                self.hides.append(_is_picture(thing))
        self._edges = np.array(self.boxes, dtype=np.float64).reshape(len(self.boxes), 4).T

    def on(self, pixels: PlatePixels) -> Mask | None:
        """The pixels of pictures; None where there are none."""
        whole = pixels.box_mm
        x0, y0, x1, y1 = self._edges
        near = np.flatnonzero((x0 < whole.x1) & (x1 > whole.x0) & (y0 < whole.y1) & (y1 > whole.y0))
        if not any(self.hides[index] for index in near):
            return None
        mask = np.zeros(pixels.planes[0].shape, dtype=bool)
        for index in near:
            # The rim of a picture goes with it, wherever its edge falls on the grid.
            box = self.boxes[index].grow(1.0 / pixels.pixels_per_mm if self.hides[index] else 0.0)
            top, bottom, left, right = pixels.pixel_box(box)
            mask[top:bottom, left:right] = self.hides[index]
        return mask


def _is_picture(thing: Painted) -> bool:
    return thing.kind == "image" and thing.image is not None and thing.image.bits > 1 and thing.image.flat is not True


def _fills_its_box(thing: Painted) -> bool:
    """Whether most of a thing's box is its own, so that an edge in it is likely the thing's."""
    if thing.text is not None:
        return True
    if thing.shape is None or thing.kind != "fill":
        return False
    return thing.shape.is_rectangle or thing.shape.area_mm2 >= 0.5 * thing.box_mm.area


def _part(pixels: PlatePixels, box: Box) -> PlatePixels:
    """The plates of a box alone."""
    top, bottom, left, right = pixels.pixel_box(box)
    corner = pixels.mm_of(top, bottom, left, right)
    return PlatePixels(
        pixels.inks,
        tuple(plane[top:bottom, left:right] for plane in pixels.planes),
        (corner.x0, corner.y0),
        pixels.pixels_per_mm,
        pixels.press,
        pixels.looks,
        pixels.faults,
    )


# --- drawing again ------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Tiles:
    """Which tiles of the page hold suspects, and how many each."""

    counts: dict[tuple[int, int], int]

    def rectangles(self) -> Iterator[tuple[Box, int]]:
        """Rectangles of whole tiles that hold them all: stretches of rows, those above each other put together."""
        open_runs: dict[tuple[int, int], tuple[int, int, int]] = {}
        rows = sorted({row for row, _ in self.counts})
        for row in [*rows, rows[-1] + 2]:
            runs = {run: self._held(row, run) for run in self._runs(row)}
            for run, (first, last, held) in list(open_runs.items()):
                if run in runs and last == row - 1:
                    open_runs[run] = (first, row, held + runs.pop(run))
                else:
                    yield _box(first, last, run), held
                    del open_runs[run]
            open_runs |= {run: (row, row, held) for run, held in runs.items()}

    def _runs(self, row: int) -> Iterator[tuple[int, int]]:
        columns = sorted(column for at, column in self.counts if at == row)
        start = None
        for index, column in enumerate(columns):
            start = column if start is None else start
            if index + 1 == len(columns) or columns[index + 1] != column + 1:
                yield start, column
                start = None

    def _held(self, row: int, run: tuple[int, int]) -> int:
        return sum(self.counts[row, column] for column in range(run[0], run[1] + 1))


def _box(first: int, last: int, run: tuple[int, int]) -> Box:
    return Box(run[0] * _TILE_MM, first * _TILE_MM, (run[1] + 1) * _TILE_MM, (last + 1) * _TILE_MM)


def _pieces(suspects: Meetings, things: int) -> tuple[list[Box], npt.NDArray[np.bool_]]:
    """What to draw again, and which suspects are left out for want of time: the places with most suspects come first."""
    rows = np.floor(suspects.y_mm / _TILE_MM).astype(int)
    columns = np.floor(suspects.x_mm / _TILE_MM).astype(int)
    tiles, counts = np.unique(np.stack([rows, columns], axis=1), axis=0, return_counts=True)
    held = {(int(row), int(column)): int(count) for (row, column), count in zip(tiles, counts, strict=True)}
    most = max(_LEAST_PIECES, min(_MOST_PIECES, _MOST_RUN // max(1, things)))
    pieces: list[Box] = []
    area = 0.0
    for piece, _ in sorted(_Tiles(held).rectangles(), key=lambda item: -item[1]):
        if len(pieces) < most and (not pieces or area + piece.area <= _MOST_DRAWN_MM2):
            pieces += _cut(piece)
            area += min(piece.area, _MOST_DRAWN_MM2)
    left = np.ones(len(suspects), dtype=bool)
    for piece in pieces:
        left &= ~_inside(suspects, piece)
    return pieces, left


def _cut(piece: Box) -> list[Box]:
    """A piece no larger than what is drawn in all."""
    if piece.area <= _MOST_DRAWN_MM2:
        return [piece]
    return [Box(piece.x0, piece.y0, piece.x1, piece.y0 + _MOST_DRAWN_MM2 / piece.width)]


def _inside(found: Meetings, box: Box) -> npt.NDArray[np.bool_]:
    inside: npt.NDArray[np.bool_] = (found.x_mm >= box.x0) & (found.x_mm < box.x1)
    inside &= (found.y_mm >= box.y0) & (found.y_mm < box.y1)
    return inside


def _taken_for_the_same(suspects: Meetings, left: npt.NDArray[np.bool_], confirmed: Meetings) -> Meetings:
    """Suspects that were not drawn again, of inks whose other places turned out to have no overlap."""
    drawn, rest = suspects.picked(~left), suspects.picked(left)
    taken = np.zeros(len(rest), dtype=bool)
    for pair in np.unique(rest.pairs):
        asked = length_mm(drawn.picked(drawn.pairs == pair))
        sure = length_mm(confirmed.picked(confirmed.pairs == pair))
        if not asked:  # none of these inks was drawn again: all together tell
            asked, sure = length_mm(drawn), length_mm(confirmed)
        taken |= (rest.pairs == pair) & (sure >= _CONFIRMED * asked)
    return rest.picked(taken)
