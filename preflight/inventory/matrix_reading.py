"""Matrix codes at one place of a page: found in the first light that shows one, decoded, and measured.

Red light first, then plate by plate, dark on light and light on dark; the tones told are always those of red light. A QR code whose
modules are dots is read from the middles of its modules, as a camera makes it out. What has the corners of a QR code or
the frame of a Data Matrix and does not decode is told as damaged.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from preflight.inventory.bar_codes import threshold_of
from preflight.inventory.bar_reading import INK_FROM_PERCENT, MOST_CLEAR, bars_at
from preflight.inventory.code_decoder import PAD_PX, Read, decode, on_white
from preflight.inventory.code_places import CodePlace
from preflight.inventory.fine_view import FineView
from preflight.inventory.matrix_codes import (
    SIDES,
    Matrix2D,
    as_it_lies,
    clear_round,
    modules_of,
    sampled,
    unreadable_data_matrix,
    unreadable_qr,
)
from preflight.inventory.model import BarcodeSeen
from preflight.inventory.red_light import Light
from preflight.product_numbers import has_right_number

_MEASURED = ("QR Code", "Micro QR Code", "Data Matrix")


def matrix_at(place: CodePlace, view: FineView) -> list[BarcodeSeen]:
    """Matrix codes, and bar codes in small pictures, in the first view that shows one."""
    top, bottom, left, right = view.pixels.pixel_box(place.box_mm.grow(0.5))
    rows, columns = slice(top, bottom), slice(left, right)
    tried: set[bytes] = set()
    doubtful: list[BarcodeSeen] = []
    for light, reversed_out in view.views(rows, columns):
        part = light[rows, columns]
        threshold = threshold_of(part)
        if threshold is None:
            continue
        dark = part < threshold
        known = np.packbits(dark).tobytes()
        if known in tried:
            continue
        tried.add(known)
        codes = []
        for read in decode(on_white(dark), "all"):
            code = _matrix_seen(read, view, light, threshold, (top, left), reversed_out=reversed_out)
            codes += [code] if code is not None else []
        if codes:
            return codes
        shapes = unreadable_qr(dark) or [shape for shape in [unreadable_data_matrix(dark)] if shape]
        found = [
            _read_by_module(_moved(shape, left, top), view, light, threshold, reversed_out=reversed_out)
            for shape in shapes
        ]
        if any(code.decoded for code in found):
            return found
        doubtful = doubtful or found
    return doubtful


def _read_by_module(
    symbol: Matrix2D, view: FineView, light: Light, threshold: float, *, reversed_out: bool
) -> BarcodeSeen:
    """A symbol known by its shape, decoded from the middles of its modules if that can be done."""
    code = _measured_matrix(symbol, view, light, threshold, reversed_out=reversed_out)
    modules = np.kron(sampled(light, symbol, threshold), np.ones((4, 4), dtype=np.bool_))
    for read in decode(on_white(modules), "all"):
        if read.symbology == symbol.symbology:
            sure = has_right_number(read.symbology, read.text)
            return replace(code, text=read.text, decoded=True, fault="", check_digit_ok=sure)
    return code


def _moved(symbol: Matrix2D, dx: float, dy: float) -> Matrix2D:
    one, two, three, four = ((x + dx, y + dy) for x, y in symbol.corners)
    return replace(symbol, corners=(one, two, three, four))


def _matrix_seen(
    read: Read, view: FineView, light: Light, threshold: float, corner: tuple[int, int], *, reversed_out: bool
) -> BarcodeSeen | None:
    top, left = corner
    points = [(x - PAD_PX + left, y - PAD_PX + top) for x, y in read.corners]
    xs, ys = zip(*points, strict=True)
    if read.is_linear:
        box = view.pixels.mm_of(math.floor(min(ys)), math.ceil(max(ys)), math.floor(min(xs)), math.ceil(max(xs)))
        level = read.orientation % 180 != 0
        found = bars_at(CodePlace(box, "bars", level), view, level=level)
        return found[0] if found else None
    modules = modules_of(read.version, read.symbology)
    if read.symbology in _MEASURED and modules is not None:
        shape = Matrix2D(read.symbology, as_it_lies(points), *modules)
        return replace(
            _measured_matrix(shape, view, light, threshold, reversed_out=reversed_out),
            text=read.text,
            decoded=True,
            fault="",
            check_digit_ok=has_right_number(read.symbology, read.text),
        )
    box = view.pixels.mm_of(math.floor(min(ys)), math.ceil(max(ys)), math.floor(min(xs)), math.ceil(max(xs)))
    return BarcodeSeen(box, read.symbology, read.text, None, decoded=True, reversed_out=reversed_out)


def _measured_matrix(
    symbol: Matrix2D, view: FineView, light: Light, threshold: float, *, reversed_out: bool
) -> BarcodeSeen:
    """A matrix code with its module, its clear margin and its tones; not decoded so far."""
    dark = light < threshold
    clear = clear_round(dark, symbol, MOST_CLEAR)
    x0, y0, x1, y1 = symbol.box
    trim = view.trim_px
    room = dict(zip(SIDES, (x0 - trim[2], y0 - trim[0], trim[3] - x1, trim[1] - y1), strict=True))
    clear |= {side: max(0.0, min(clear[side], room[side] / symbol.module)) for side in SIDES}
    rows = slice(max(0, math.floor(y0)), math.ceil(y1))
    columns = slice(max(0, math.floor(x0)), math.ceil(x1))
    inside = dark[rows, columns]
    seen = view.light[rows, columns]
    inks = {}
    for index in view.planes:
        plane = view.pixels.planes[index][rows, columns]
        if inside.any() and not inside.all():
            squares, between = (float(np.median(plane[part])) / 2.55 for part in (inside, ~inside))
            if squares - between >= INK_FROM_PERCENT:
                inks[view.pixels.inks[index]] = round(squares, 1)
    one, _, _, four = symbol.corners
    return BarcodeSeen(
        box_mm=view.pixels.mm_of(
            math.floor(y0 + 0.5), math.floor(y1 + 0.5), math.floor(x0 + 0.5), math.floor(x1 + 0.5)
        ),
        symbology=symbol.symbology,
        text=None,
        x_dimension_mm=symbol.module * view.step_mm,
        quiet_modules=clear,
        inks=tuple(inks),
        reflectance_bar=float(np.median(seen[inside])) if inside.any() else None,
        reflectance_ground=float(np.median(seen[~inside])) if not inside.all() else None,
        reversed_out=reversed_out,
        height_mm=math.dist(one, four) * view.step_mm,
        inks_percent=inks,
        fault="damaged",
    )
