"""Where on a page a bar or matrix code may be, so that only such places are redrawn finely.

Two witnesses: what is painted (rows of thin bars, swarms of small squares, pictures, large type: a bar code may be a font) says where to
look at all; the plates say whether anything there looks like a code: stripes that stay the same from one row to the next, the
corner patterns of a QR code, two tones in quick turn. Pages of text and large areas are passed by. Lengths in millimetres.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
import numpy.typing as npt

from preflight.clusters import touching
from preflight.inventory.finder_patterns import find_corners, squares_of_corners
from preflight.inventory.model import Painted
from preflight.inventory.red_light import red_light
from preflight.units import Box, mm_from_pt

if TYPE_CHECKING:
    from preflight.inventory.render import PlatePixels

#: A bar is at most four modules of the largest size (1.016 mm) wide, and at least so long.
_BAR_WIDEST_MM = 4.5
_BAR_SHORTEST_MM = 3.0
_LEAST_BARS = 8
#: A path of so many pieces may be a whole code.
_LEAST_PIECES = 8
#: Type lower than this holds no bars that a scanner could cross.
_TYPE_LOWEST_MM = 4.0
_PICTURE_LEAST_MM = 2.5
#: Sides of a matrix code; larger ones are found by their corners, or as one path.
_MATRIX_MM = (2.0, 100.0)
_SQUARE_LARGEST_MM = 6.0
_LEAST_SQUARES = 20
_SQUARES_APART_MM = 0.8
_LONGEST_SIDE = 1.5
#: Words in the names of bar code fonts, letters only.
_FONT_WORDS = (
    "barcode",
    "strichcode",
    "codebarre",
    "code128",
    "code39",
    "code3of9",
    "3of9",
    "2of5",
    "ean13",
    "ean8",
    "upca",
    "itf14",
)

#: Stripes: rows this far apart are looked at, each with one a little lower, along stretches of this length; two rows in turn must
#: show them, which type does not.
_ROW_STEP_MM = 1.34
_ROW_PARTNER_MM = 0.67
_STRETCH_MM = 6.0
_STEP_FROM = 26
_SAME_PART = 0.9
_LEAST_STEPS = 16
_STEPS_A_STRETCH = 4
#: The share of ink in a matrix code, and in a picture of one with its margin.
_SQUARES_INK = (0.18, 0.75)
_PICTURE_INK = (0.1, 0.9)


@dataclass(frozen=True)
class CodePlace:
    """A place to look at closely. ``level``: bars that lie, so that the code reads up or down."""

    box_mm: Box
    kind: Literal["bars", "squares"]
    level: bool = False
    #: A bar code font says itself that there is a code.
    font: str = ""


@dataclass
class _Seen:
    """What the paint list has to say."""

    bars: list[Box] = field(default_factory=list)
    regions: list[Box] = field(default_factory=list)
    squares: list[Box] = field(default_factory=list)
    swarms: list[Box] = field(default_factory=list)
    pictures: list[Box] = field(default_factory=list)
    fonts: list[tuple[Box, str]] = field(default_factory=list)


def find_places(painted: tuple[Painted, ...], pixels: PlatePixels, planes: list[int], within: Box) -> list[CodePlace]:
    """The places on a page, what looks most like a code first. ``planes`` are those of printing inks."""
    seen = _look_through(painted, within, pixels.box_mm)
    places = [CodePlace(box, "bars", font=name) for box, name in seen.fonts]
    regions = seen.regions + seen.pictures
    if len(seen.bars) >= _LEAST_BARS:
        regions.append(_around(seen.bars))
    for region in _joined(regions):
        places += _stripes_in(region, pixels, planes)
    for picture in _joined(seen.pictures):
        places += _corners_in(picture, pixels, planes)
    swarms = list(seen.swarms)
    if len(seen.squares) >= _LEAST_SQUARES:
        for group in touching(seen.squares, _SQUARES_APART_MM):
            if len(group) >= _LEAST_SQUARES:
                swarms.append(_around([seen.squares[index] for index in group]))
    places += [
        CodePlace(box, "squares")
        for box in swarms
        if _is_matrix_sized(box) and _is_two_toned(box, pixels, planes, _SQUARES_INK)
    ]
    places += [
        CodePlace(box, "squares")
        for box in seen.pictures
        if _is_matrix_sized(box) and _is_two_toned(box, pixels, planes, _PICTURE_INK)
    ]
    return _each_once(places)


def _look_through(painted: tuple[Painted, ...], within: Box, paper: Box) -> _Seen:
    seen = _Seen()
    for thing in painted:
        kind = thing.kind
        if kind in ("group", "mask") or not thing.is_visible or thing.visible_mm is None:
            continue
        box = thing.visible_mm
        if "soft-mask" in thing.inside or not within.meets(box):
            continue
        width, height = box.width, box.height
        low, high = (width, height) if width < height else (height, width)
        if thing.text is not None:
            if thing.text.inked_glyphs and low >= _TYPE_LOWEST_MM:
                seen.regions.append(box)
            if thing.text.inked_glyphs >= 3 and _is_bar_code_font(thing.text.font):
                seen.fonts.append((box, thing.text.font))
        elif kind in ("image", "image-mask"):
            if low >= _PICTURE_LEAST_MM:
                seen.pictures.append(box)
        elif thing.shape is not None and thing.shape.parts >= _LEAST_PIECES:
            _note_pieces(seen, box)
        elif thing.stroke is not None:
            _note_stroke(seen, thing, box)
        elif _is_clipped(thing, box, paper) and low >= _BAR_SHORTEST_MM:
            _note_pieces(seen, box)
        elif low <= _BAR_WIDEST_MM and high >= _BAR_SHORTEST_MM:
            seen.bars.append(box)
            if thing.stroke is not None or (
                thing.shape is not None and thing.shape.is_rectangle and high <= _SQUARE_LARGEST_MM
            ):
                seen.squares.append(box)
        elif high <= _SQUARE_LARGEST_MM and low > 0.0 and thing.shape is not None:
            is_dot = abs(width - height) <= 0.02 * high
            seen.squares += [box] if thing.shape.is_rectangle or is_dot else []
    return seen


def _is_clipped(thing: Painted, box: Box, paper: Box) -> bool:
    """Whether a clip leaves only part of a thing: bars may be cut out of it."""
    whole = thing.box_mm.intersect(paper)
    return box.width < whole.width - 0.5 or box.height < whole.height - 0.5


def _note_pieces(seen: _Seen, box: Box) -> None:
    """One path in many pieces: bars, squares, or outlined type."""
    if min(box.width, box.height) >= _BAR_SHORTEST_MM:
        seen.regions.append(box)
    seen.swarms.append(box)


def _note_stroke(seen: _Seen, thing: Painted, box: Box) -> None:
    """A dashed line as thick as a code is high, a comb of lines in one path, or a single bar."""
    stroke = thing.stroke
    if stroke is None:
        return
    comb = stroke.length_mm > 2.0 * max(box.width, box.height)
    if comb or len(thing.parts_mm) >= _LEAST_PIECES or stroke.dashed:
        if min(box.width, box.height) >= _BAR_SHORTEST_MM:
            seen.regions.append(box)
        seen.swarms.append(box)
    elif mm_from_pt(stroke.width_pt) <= _BAR_WIDEST_MM:
        seen.bars.append(box)
        if max(box.width, box.height) <= _SQUARE_LARGEST_MM:
            seen.squares.append(box)


def _is_bar_code_font(name: str) -> bool:
    letters = "".join(sign for sign in name.casefold() if sign.isalnum())
    return any(word in letters for word in _FONT_WORDS)


def _around(boxes: list[Box]) -> Box:
    return Box(
        min(box.x0 for box in boxes),
        min(box.y0 for box in boxes),
        max(box.x1 for box in boxes),
        max(box.y1 for box in boxes),
    )


def _joined(boxes: list[Box]) -> list[Box]:
    """Boxes that meet as one, so that no place is looked at twice."""
    return [_around([boxes[index] for index in group]) for group in touching(boxes)] if boxes else []


def _is_matrix_sized(box: Box) -> bool:
    low, high = sorted((box.width, box.height))
    return _MATRIX_MM[0] <= low and high <= _MATRIX_MM[1] and high <= _LONGEST_SIDE * low


# --- on the plates ---------------------------------------------------------------------------------------------------


def _stripes_in(region: Box, pixels: PlatePixels, planes: list[int]) -> list[CodePlace]:
    top, bottom, left, right = pixels.pixel_box(region.grow(0.5))
    places = []
    for index in planes:
        part = pixels.planes[index][top:bottom, left:right]
        for level in (False, True):
            for r0, r1, c0, c1 in stripes(part.T if level else part, pixels.pixels_per_mm):
                rows, columns = ((c0, c1), (r0, r1)) if level else ((r0, r1), (c0, c1))
                box = pixels.mm_of(top + rows[0], top + rows[1], left + columns[0], left + columns[1])
                places.append(CodePlace(box, "bars", level=level))
    return places


def stripes(plane: npt.NDArray[np.uint8], pixels_per_mm: float) -> list[tuple[int, int, int, int]]:
    """Places with upright stripes: first row, end row, first column, end column.

    Every so often a row is held against one a little lower. Stripes have many steps of tone, and both rows the same ones.
    """
    step, partner = max(1, round(_ROW_STEP_MM * pixels_per_mm)), max(1, round(_ROW_PARTNER_MM * pixels_per_mm))
    stretch = max(8, round(_STRETCH_MM * pixels_per_mm))
    rows = np.arange(min(partner, plane.shape[0] // 2), plane.shape[0] - partner, step)
    if not rows.size or plane.shape[1] <= stretch:
        return []
    row = plane[rows].astype(np.int16)
    if not row.any():
        return []
    busy = np.zeros(row.shape, dtype=np.int32)
    busy[:, 1:] = np.abs(np.diff(row, axis=1)) >= _STEP_FROM
    steps = np.cumsum(busy, axis=1, dtype=np.int32)
    dense = steps[:, stretch:] - steps[:, :-stretch] >= _STEPS_A_STRETCH
    wanted = np.flatnonzero(dense.any(axis=1))
    if not wanted.size:
        return []
    row, steps, dense = row[wanted], steps[wanted], dense[wanted]
    lower = plane[rows[wanted] + partner].astype(np.int16)
    same = np.cumsum(np.abs(row - lower) <= _STEP_FROM, axis=1, dtype=np.int32)
    good = dense & (same[:, stretch:] - same[:, :-stretch] >= _SAME_PART * stretch)
    found: list[tuple[int, int, int, int]] = []
    rows = rows[wanted]
    for line in np.flatnonzero(good.any(axis=1)):
        ends = np.flatnonzero(np.diff(np.concatenate(([0], good[line].astype(np.int8), [0]))))
        for first, last in zip(ends[::2], ends[1::2], strict=True):
            start, stop = int(first), min(int(last) + stretch, plane.shape[1] - 1)
            if int(steps[line, stop] - steps[line, start]) >= _LEAST_STEPS:
                marked = np.flatnonzero(np.diff(steps[line, start : stop + 1]))
                at = int(rows[line])
                _add(found, (at, at + partner + 1, start + int(marked[0]), start + int(marked[-1]) + 2), step)
    return [place for place in found if place[1] - place[0] > partner + 1]


def _add(found: list[tuple[int, int, int, int]], place: tuple[int, int, int, int], step: int) -> None:
    """Adds a stretch to the stripes it continues, or as new ones."""
    r0, r1, c0, c1 = place
    for index, (top, bottom, left, right) in enumerate(found):
        shared = min(right, c1) - max(left, c0)
        if r0 - bottom <= step and shared >= 0.6 * min(right - left, c1 - c0):
            found[index] = (top, max(bottom, r1), min(left, c0), max(right, c1))
            return
    found.append(place)


def _corners_in(picture: Box, pixels: PlatePixels, planes: list[int]) -> list[CodePlace]:
    """QR codes in pictures, by their corner patterns: dark for red light, or dark in any ink."""
    top, bottom, left, right = pixels.pixel_box(picture)
    if bottom - top < 10 or right - left < 10:
        return []
    rows, columns = slice(top, bottom), slice(left, right)
    light = red_light(pixels, planes, rows, columns)
    most = np.maximum.reduce([pixels.planes[index][rows, columns] for index in planes])
    places = []
    for dark in (light < 0.5, light >= 0.5, most >= 128):
        for x0, y0, x1, y1 in squares_of_corners(find_corners(dark)):
            places.append(CodePlace(pixels.mm_of(top + y0, top + y1, left + x0, left + x1), "squares"))
    return places


def _is_two_toned(box: Box, pixels: PlatePixels, planes: list[int], share: tuple[float, float]) -> bool:
    """Whether a plate shows two tones there, each a good part of it, in quick turn both ways."""
    top, bottom, left, right = pixels.pixel_box(box)
    for index in planes:
        part = pixels.planes[index][top:bottom, left:right]
        if part.size < 100:
            continue
        low, high = int(part.min()), int(part.max())
        if high - low < _STEP_FROM:
            continue
        dark = part > (low + high) / 2.0
        part_dark = float(dark.mean())
        if not share[0] <= part_dark <= share[1]:
            continue
        near = (high - low) * 0.25
        tones = float(((part <= low + near) | (part >= high - near)).mean())
        if tones >= _tones_from(box, pixels) and min(_turns(dark), _turns(dark.T)) >= _least_turns(box, pixels):
            return True
    return False


def _tones_from(box: Box, pixels: PlatePixels) -> float:
    """A code has two tones; small modules blur at this resolution, which those of large codes do not."""
    if pixels.pixels_per_mm < 6:
        return 0.3
    return 0.75 if min(box.width, box.height) > 20.0 else 0.5


def _least_turns(box: Box, pixels: PlatePixels) -> float:
    """A matrix code of ten modules and more turns at least four times a row; very small ones blur at this resolution."""
    return min(4.0, 0.2 * min(box.width, box.height) * pixels.pixels_per_mm)


def _turns(dark: npt.NDArray[Any]) -> float:
    """How often a row changes its tone, on average over rows that hold any."""
    turns = (dark[:, 1:] != dark[:, :-1]).sum(axis=1)
    turns = turns[turns > 0]
    return float(turns.mean()) if turns.size else 0.0


def _each_once(places: list[CodePlace]) -> list[CodePlace]:
    """Without places that lie in another of their kind, as one symbol is found on several plates."""
    kept: list[CodePlace] = []
    for place in places:
        for index, other in enumerate(kept):
            shared = place.box_mm.intersect(other.box_mm)
            small = min(place.box_mm.area, other.box_mm.area)
            if (
                place.kind == other.kind
                and place.level == other.level
                and not shared.is_empty
                and shared.area > 0.5 * small
            ):
                kept[index] = CodePlace(
                    other.box_mm.union(place.box_mm), other.kind, other.level, other.font or place.font
                )
                break
        else:
            kept.append(place)
    return kept
