"""Bar codes at one place of a page: found in the first light that shows them, measured, and decoded.

Red light first, then plate by plate, dark on light and light on dark; the tones told are always those of red light. A symbol is cut out at
its own bars and put on white to be decoded, so that a missing quiet zone does not hide it. What has the shape of a code and
does not decode is told as damaged.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import numpy.typing as npt

from preflight.inventory.bar_codes import ANY_KIND, Bars, find_bars, find_damaged, threshold_of
from preflight.inventory.code_decoder import PAD_PX, Read, decode, on_white
from preflight.inventory.code_places import CodePlace
from preflight.inventory.fine_view import FineView
from preflight.inventory.model import BarcodeSeen
from preflight.inventory.turned_bars import TurnedView, angle_of_bars, strongest_ink, turned
from preflight.product_numbers import has_right_check_digit, has_right_number
from preflight.units import Box

#: No symbology asks for more clear modules.
MOST_CLEAR = 12.0
#: An ink makes the bars if they carry so much more of it than the ground between them, in percent.
INK_FROM_PERCENT = 8.0
#: Bars run so far without a change, or are the same ones at so many of the heights where they are read (grain changes every row).
_RUN_FROM_MM = 1.5
_SAME_AT = 3


def bars_at(place: CodePlace, view: FineView, *, level: bool) -> list[BarcodeSeen]:
    """Bar codes of one dimension, in the first view that shows them whole; else what looks most like one."""
    top, bottom, left, right = view.pixels.pixel_box(place.box_mm)
    columns = view.light.shape[1]
    trim = view.trim_px
    if level:
        # Turned a quarter to the left: a row is then a column from the right.
        area, limits = (columns - right, columns - left, top, bottom), (trim[0], trim[1])
    else:
        area, limits = (top, bottom, left, right), (trim[2], trim[3])
    tried: set[bytes] = set()
    doubtful: list[BarcodeSeen] = []
    for light, reversed_out in view.views(slice(top, bottom), slice(left, right)):
        upright = np.rot90(light) if level else light
        found = find_bars(upright, area, view.pixels.pixels_per_mm, limits, tried)
        codes = [_seen(bars, view, level=level, reversed_out=reversed_out) for bars in found]
        whole = [code for code in codes if code is not None]
        if found and not whole:
            left_over = find_damaged(upright, area, view.pixels.pixels_per_mm, limits)
            codes = [_seen(bars, view, level=level, reversed_out=reversed_out) for bars in left_over]
            whole = [code for code in codes if code is not None]
        if any(code.decoded or code.fault == "check digit" for code in whole):
            return whole
        doubtful = doubtful or whole
    return doubtful


def turned_bars_at(place: CodePlace, view: FineView) -> list[BarcodeSeen]:
    """Bar codes at an angle: read in the picture turned until they stand."""
    angle, upright = 0.0, TurnedView(view, 0.0, (0.0, 0.0))
    # An angle is told the better the smaller it is: once from the picture as it is, once more from the turned one.
    for rest in (place.turn_deg, 0.0):
        around = upright.box_in_picture(place.box_mm)
        tone = strongest_ink(upright.view.pixels, view.planes, around)
        angle += angle_of_bars(tone, view.pixels.pixels_per_mm) or rest
        upright = turned(view, angle)
    around = upright.box_in_picture(place.box_mm)
    codes = bars_at(CodePlace(around, "bars"), upright.view, level=False)
    return [replace(code, box_mm=upright.box_on_page(code.box_mm)) for code in codes]


def _seen(bars: Bars, view: FineView, *, level: bool, reversed_out: bool) -> BarcodeSeen | None:
    """One bar code as a fact; None where neither its shape nor its content is certain."""
    if not _runs_through(bars, view.step_mm):
        return None
    read = _decoded(bars)
    if read is None and bars.match is not None and not _is_sure(bars):
        return None
    symbology, text = bars.symbology, read.text if read else None
    if text is not None and symbology == "EAN-13" and text.startswith("0"):
        symbology, text = "UPC-A", text[1:]
    fault = ""
    if read is None or not read.valid:
        fault = "damaged"
        digits = (read.text if read else None) or (bars.match.digits if bars.match else None)
        if digits and has_right_check_digit(digits) is False:
            fault, text = "check digit", digits
    dark, ground, inks = _tones(bars, view, level=level)
    step = view.step_mm
    sized = symbology != ANY_KIND
    clear = [min(MOST_CLEAR, max(0.0, pixels) / bars.module) for pixels in bars.clear]
    first, second = reversed(clear) if bars.is_backwards else clear
    return BarcodeSeen(
        box_mm=_box_of(bars, view, level=level),
        symbology=symbology,
        text=text,
        x_dimension_mm=bars.module * step * math.cos(math.atan(bars.slant)) if sized else None,
        quiet_modules={"left": first, "right": second} if sized else {},
        decoded=not fault,
        check_digit_ok=False if fault == "check digit" else has_right_number(symbology, text) if text else None,
        inks=tuple(inks),
        reflectance_bar=dark,
        reflectance_ground=ground,
        reversed_out=reversed_out,
        height_mm=_extent(bars)[1] * step,
        inks_percent=inks,
        fault=fault,
    )


def _runs_through(bars: Bars, step_mm: float) -> bool:
    """Whether there are bars at all: a row of dots or of letters holds widths of every code now and then, and the next row others."""
    return (bars.bottom - bars.top) * step_mm >= _RUN_FROM_MM or len(bars.profiles) >= _SAME_AT


def _is_sure(bars: Bars) -> bool:
    """Whether what does not decode has the shape of a code all the same.

    Code 39 and Interleaved 2 of 5 have too little shape for that, without content.
    """
    match = bars.match
    return (
        match is not None
        and match.symbology in ("EAN-13", "EAN-8", "Code 128")
        and match.sound_characters >= 0.7 * match.characters
    )


def _tones(bars: Bars, view: FineView, *, level: bool) -> tuple[float, float, dict[str, float]]:
    """Red light given back by bars and by the ground between them, and the inks that tell them apart."""
    middle = np.clip(np.arange(bars.row - 3, bars.row + 4), bars.top, max(bars.top, bars.bottom - 1))

    def mean_of(plane: npt.NDArray[Any], columns: tuple[int, ...]) -> npt.NDArray[Any]:
        upright = np.rot90(plane) if level else plane
        means: npt.NDArray[Any] = upright[np.ix_(middle, np.asarray(columns))].mean(axis=0)
        return means

    dark, ground = (float(np.median(mean_of(view.light, columns))) for columns in (bars.bars, bars.spaces))
    inks = {}
    for index in view.planes:
        plane = view.pixels.planes[index]
        in_bars, between = (float(np.median(mean_of(plane, columns))) / 2.55 for columns in (bars.bars, bars.spaces))
        if abs(in_bars - between) >= INK_FROM_PERCENT and (in_bars > between):
            inks[view.pixels.inks[index]] = round(in_bars, 1)
    return dark, ground, inks


def _extent(bars: Bars) -> tuple[float, float]:
    """Width and height of a symbol along its own axes, in pixels. Rows that cross all bars are fewer than it is high where it leans."""
    lean = math.atan(bars.slant)
    width = (bars.right - bars.left) * math.cos(lean)
    return width, (bars.bottom - bars.top + width * abs(math.sin(lean))) / math.cos(lean)


def _box_of(bars: Bars, view: FineView, *, level: bool) -> Box:
    lean = abs(math.atan(bars.slant))
    width, height = _extent(bars)
    across = (width * math.cos(lean) + height * math.sin(lean)) / 2.0
    down = (width * math.sin(lean) + height * math.cos(lean)) / 2.0
    middle_row = (bars.top + bars.bottom) / 2.0
    middle = (bars.left + bars.right) / 2.0 + bars.slant * (middle_row - bars.row)
    left, right = math.floor(middle - across + 0.01), math.ceil(middle + across - 0.01)
    top, bottom = math.floor(middle_row - down + 0.01), math.ceil(middle_row + down - 0.01)
    columns = view.light.shape[1]
    if level:
        return view.pixels.mm_of(left, right, columns - bottom, columns - top)
    return view.pixels.mm_of(top, bottom, left, right)


def other_codes_at(place: CodePlace, view: FineView) -> list[BarcodeSeen]:
    """Kinds of bar codes whose shape is not known here; only those with a check of their own, or stripes would do."""
    top, bottom, left, right = view.pixels.pixel_box(place.box_mm.grow(0.3))
    for light, reversed_out in ((view.light, False), (1.0 - view.light, True)):
        part = light[top:bottom, left:right]
        threshold = threshold_of(part)
        if threshold is None:
            continue
        found = []
        for read in decode(on_white(part < threshold), "checked"):
            xs, ys = zip(*((x - PAD_PX + left, y - PAD_PX + top) for x, y in read.corners), strict=True)
            box = view.pixels.mm_of(math.floor(min(ys)), math.ceil(max(ys)), math.floor(min(xs)), math.ceil(max(xs)))
            found.append(BarcodeSeen(box, read.symbology, read.text, None, decoded=True, reversed_out=reversed_out))
        if found:
            return found
    return []


def _decoded(bars: Bars) -> Read | None:
    """What the rows that were read hold: the first answer that is right, else one with a wrong check digit."""
    wrong: Read | None = None
    for profile in bars.profiles:
        pad = max(PAD_PX, round(12.0 * bars.module))
        line = np.pad(np.where(profile, np.uint8(0), np.uint8(255)), pad, constant_values=255)
        for read in decode(np.tile(line, (24, 1)), bars.symbology, errors=True):
            if read.valid and read.text:
                return read
            if read.text and has_right_check_digit(read.text) is False:
                wrong = wrong or read
    return wrong
