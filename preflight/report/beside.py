"""A second picture beside a finding's own, where one picture does not tell the fault: two views to compare.

``overprint``: the same place with nothing overprinting, as most screens show it. ``trap``: the middle of the edge at 30 pixels a
millimetre with one ink moved by the rules' misregister, so that the paper shows that would show on the sheet.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from preflight.findings import Found
from preflight.units import Box

if TYPE_CHECKING:
    from preflight.inventory.plates import PlatePixels, Preview
    from preflight.inventory.reading import Draw, PageReading

#: What is shown of an edge out of register, and how finely: a tenth of a millimetre is three pixels.
CLOSE_MM = (8.0, 6.0)
CLOSE_PIXELS_PER_MM = 30.0


def second_picture(reading: PageReading, check: str, found: Found, near: Preview) -> tuple[str, bytes] | None:
    """The key in the finding's details and the picture, for a finding that has one; ``near``: the composite its own is cut from."""
    if reading.draw is None or found.box_mm is None:
        return None
    try:
        if check == "overprint":
            return "picture_without_overprint", _without_overprint(reading, reading.draw, found, near)
        if check == "trap" and "at_mm" in found.details:
            return "picture_out_of_register", _out_of_register(reading, reading.draw, found)
    except MemoryError:
        raise
    except Exception:  # a picture less is no answer less
        return None
    return None


def _without_overprint(reading: PageReading, draw: Draw, found: Found, near: Preview) -> bytes:
    from preflight.inventory.plates import preview_rgb
    from preflight.report.pictures import finding_picture, picture_box_mm, window_mm

    place = found.box_mm or picture_box_mm(*near)
    sharp = reading.pixels.pixels_per_mm if reading.pixels is not None else near.pixels_per_mm
    drawn = draw(window_mm(place, picture_box_mm(*near)), sharp, False)
    boxes = found.details.get("boxes_mm", ())
    seen = preview_rgb(drawn, scale=min(1.0, near.pixels_per_mm / sharp))
    return finding_picture(*seen, place, reading.page.trim_mm, boxes)


def _out_of_register(reading: PageReading, draw: Draw, found: Found) -> bytes:
    from preflight.inventory.plates import preview_rgb
    from preflight.report.pictures import close_picture

    shift_mm = float(found.details["misregister_mm"])
    (x, y), (width, height) = found.details["at_mm"], CLOSE_MM
    shown = Box(x - width / 2, y - height / 2, x + width / 2, y + height / 2)
    if reading.geometry is not None:
        shown = shown.intersect(reading.geometry.media_mm)
    # A rim, so that what is moved has something to come in from.
    drawn = draw(shown.grow(2 * shift_mm), CLOSE_PIXELS_PER_MM, True)
    one, other = (set(side.split(" + ")) for side in found.details["inks"])
    moved = moved_plates(drawn, other - one, found.details["towards"], shift_mm)
    return close_picture(preview_rgb(moved, shown).rgb)


def moved_plates(plates: PlatePixels, inks: set[str], towards: list[int], by_mm: float) -> PlatePixels:
    """The plates with some inks moved along an axis; what comes in at the rim is what stood there."""
    step = max(1, math.floor(by_mm * plates.pixels_per_mm + 0.5))
    across, down = (step * direction for direction in towards)
    planes = []
    for ink, plane in zip(plates.inks, plates.planes, strict=True):
        if ink in inks:
            wide = np.pad(plane, step, mode="edge")
            rows, columns = plane.shape
            top, left = step - down, step - across
            plane = wide[top : top + rows, left : left + columns]  # noqa: PLW2901
        planes.append(plane)
    return replace(plates, planes=tuple(planes))
