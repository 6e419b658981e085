"""Where on a page a bar or matrix code may be, so that only such places are redrawn finely.

Two witnesses: what is painted (rows of thin bars, swarms of small squares, pictures, large type: a bar code may be a font) says where to
look at all; the plates say whether anything there looks like a code: stripes that stay the same from one row to the next, the
corner patterns of a QR code, two tones in quick turn. Pages of text and large areas are passed by. Lengths in millimetres.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

from preflight.clusters import touching
from preflight.inventory.code_signs import PICTURE_INK, SQUARES_INK, is_two_toned, signs_in, stripes_in
from preflight.inventory.model import Painted
from preflight.inventory.turned_bars import angle_of_bars, is_turned, strongest_ink
from preflight.units import Box, mm_from_pt

if TYPE_CHECKING:
    from preflight.inventory.render import PlatePixels

#: A bar is at most four modules of the largest size (1.016 mm) wide, and at least so long.
_BAR_WIDEST_MM = 4.5
_BAR_SHORTEST_MM = 3.0
_LEAST_BARS = 8
#: Bars at an angle: how far those of one code are apart, the least and the largest box of one, and how much is looked at in all.
_BARS_APART_MM = 4.0
_TURNED_LEAST_MM = 5.0
_TURNED_MOST_MM = 110.0
_TURNED_LOOKED_MM2 = 20_000.0
#: A path of so many pieces may be a whole code.
_LEAST_PIECES = 8
#: Type lower than this holds no bars that a scanner could cross.
_TYPE_LOWEST_MM = 5.0
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


@dataclass(frozen=True)
class CodePlace:
    """A place to look at closely. ``level``: bars that lie, so that the code reads up or down."""

    box_mm: Box
    kind: Literal["bars", "squares"]
    level: bool = False
    #: A bar code font says itself that there is a code.
    font: str = ""
    #: Bars at an angle (``turned_bars``), in degrees.
    turn_deg: float = 0.0


@dataclass
class _Seen:
    """What the paint list has to say."""

    bars: list[Box] = field(default_factory=list)
    #: Narrow areas that neither stand nor lie.
    slanted: list[Box] = field(default_factory=list)
    regions: list[Box] = field(default_factory=list)
    squares: list[Box] = field(default_factory=list)
    swarms: list[Box] = field(default_factory=list)
    pictures: list[Box] = field(default_factory=list)
    fonts: list[tuple[Box, str]] = field(default_factory=list)


def find_places(painted: tuple[Painted, ...], pixels: PlatePixels, planes: list[int], within: Box) -> list[CodePlace]:
    """The places on a page, what looks most like a code first. ``planes`` are those of printing inks."""
    seen = _look_through(painted, within, pixels.box_mm)
    places = [CodePlace(box, "bars", font=name) for box, name in seen.fonts]
    regions = list(seen.regions)
    if len(seen.bars) >= _LEAST_BARS:
        regions.append(_around(seen.bars))
    for region in _joined(regions):
        places += [CodePlace(box, "bars", level) for box, level in stripes_in(region, pixels, planes)]
    for picture in _joined(seen.pictures):
        bars, squares = signs_in(picture, pixels, planes)
        places += [CodePlace(box, "bars", level) for box, level in bars]
        places += [CodePlace(box, "squares") for box in squares]
    swarms = list(seen.swarms)
    if len(seen.squares) >= _LEAST_SQUARES:
        for group in touching(seen.squares, _SQUARES_APART_MM):
            if len(group) >= _LEAST_SQUARES:
                swarms.append(_around([seen.squares[index] for index in group]))
    places += [
        CodePlace(box, "squares")
        for box in swarms
        if _is_matrix_sized(box) and is_two_toned(box, pixels, planes, SQUARES_INK)
    ]
    places += [
        CodePlace(box, "squares")
        for box in seen.pictures
        if _is_matrix_sized(box) and is_two_toned(box, pixels, planes, PICTURE_INK)
    ]
    turned = _turned(seen, pixels, planes)
    places = [place for place in places if not any(_says_the_same(place, box) for box in turned)]
    return [*_each_once(places), *(CodePlace(box, "bars", turn_deg=angle) for box, angle in turned.items())]


def _says_the_same(place: CodePlace, turned: Box) -> bool:
    """Whether a place is nothing but bars that lie at an angle: what goes one way is no matrix code."""
    if place.font or not place.box_mm.meets(turned):
        return False
    return place.kind == "bars" or place.box_mm.intersect(turned).area > 0.7 * max(place.box_mm.area, turned.area)


def _turned(seen: _Seen, pixels: PlatePixels, planes: list[int]) -> dict[Box, float]:
    """Boxes filled with bars at an angle, and that angle as well as it can be told."""
    boxes = [*_joined(seen.regions), *seen.pictures]
    for narrow in (seen.bars, seen.slanted):
        if len(narrow) >= _LEAST_BARS:
            groups = touching(narrow, _BARS_APART_MM)
            boxes += [_around([narrow[index] for index in group]) for group in groups if len(group) >= _LEAST_BARS]
    found: dict[Box, float] = {}
    looked_mm2 = 0.0
    for box in sorted(set(boxes), key=lambda box: -box.area):
        low, high = sorted((box.width, box.height))
        if low < _TURNED_LEAST_MM or high > _TURNED_MOST_MM or any(box.meets(other) for other in found):
            continue
        looked_mm2 += box.area
        if looked_mm2 > _TURNED_LOOKED_MM2:
            break
        angle = angle_of_bars(strongest_ink(pixels, planes, box), pixels.pixels_per_mm)
        if angle is not None and is_turned(angle):
            found[box] = angle
    return found


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
        elif thing.shape is not None and high > _SQUARE_LARGEST_MM:
            # A bar's area over its length is its width.
            if thing.shape.area_mm2 <= _BAR_WIDEST_MM * math.hypot(low, high) and high <= _TURNED_MOST_MM:
                seen.slanted.append(box)
        elif low > 0.0 and thing.shape is not None:
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
