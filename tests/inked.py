"""Plates and painted things written by hand, for checks that ask what lies under a thing.

The cells are filled from boxes, each with the ink that the plates are to show there (millimetres in trim space; percent).
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
from by_hand import page_of, painted

from preflight.inventory.model import (
    PROCESS_INKS,
    CellGrid,
    Colour,
    ImageUse,
    Page,
    Painted,
    Plate,
    Plates,
    Shape,
    Stroke,
    TextRun,
)
from preflight.units import Box, mm_from_pt

Spread = dict[str, list[tuple[tuple[float, float, float, float], float]]]
CELL_MM = 0.5

K100 = Colour("cmyk", inks=PROCESS_INKS, values=(0.0, 0.0, 0.0, 1.0))
WHITE = Colour("cmyk", inks=PROCESS_INKS, values=(0.0, 0.0, 0.0, 0.0))
GRAY_BLACK = Colour("gray", inks=("Black",), values=(0.0,))
RICH_BLACK = Colour("cmyk", inks=PROCESS_INKS, values=(0.6, 0.4, 0.4, 1.0))
RGB_BLACK = Colour("rgb", space="DeviceRGB", values=(0.0, 0.0, 0.0))
CYAN_70 = Colour("cmyk", inks=PROCESS_INKS, values=(0.7, 0.0, 0.0, 0.0))
GREEN = Colour("cmyk", inks=PROCESS_INKS, values=(0.8, 0.0, 1.0, 0.0))
K_GROUND = Colour("cmyk", inks=PROCESS_INKS, values=(0.0, 0.0, 0.0, 0.5))


def cmyk(*percent: float) -> Colour:
    return Colour("cmyk", inks=PROCESS_INKS, values=tuple(value / 100.0 for value in percent))


def spot(name: str, percent: float = 100.0) -> Colour:
    return Colour("separation", space=f"Separation(DeviceCMYK,{name})", inks=(name,), values=(percent / 100.0,))


def plates_of(spread: Spread, zone: Box = Box(-3.0, -3.0, 103.0, 83.0)) -> Plates:
    """Plates whose cells show the boxes given for each ink; a cell partly in a box has that part of the ink."""
    columns, rows = round(zone.width / CELL_MM), round(zone.height / CELL_MM)
    inks = [*PROCESS_INKS, *(ink for ink in spread if ink not in PROCESS_INKS)]
    data = np.zeros((len(inks), rows, columns))
    for plane, ink in enumerate(inks):
        for (x0, y0, x1, y1), percent in spread.get(ink, []):
            across = _share(x0 - zone.x0, x1 - zone.x0, columns)
            down = _share(y0 - zone.y0, y1 - zone.y0, rows)
            data[plane] = np.maximum(data[plane], np.outer(down, across) * percent / 100.0)
    return Plates(
        plates=tuple(
            Plate(ink, "process" if ink in PROCESS_INKS else "spot", 100 * float(plane.mean()), 0.0, 0.0, 0.0)
            for ink, plane in zip(inks, data, strict=True)
        ),
        zone_mm=zone,
        max_total_percent=None,
        window_mm2=15.0,
        ink_areas=(),
        edges=(),
        cells=CellGrid(
            len(inks), rows, columns, (zone.x0, zone.y0), CELL_MM, (data * 255 + 0.5).astype(np.uint8).tobytes()
        ),
        fingerprint="",
        profile_from="built-in",
        profile_name="",
        blank_trim=False,
    )


def _share(start_mm: float, stop_mm: float, count: int) -> np.ndarray[Any, Any]:
    """How much of each cell along one side lies between two places."""
    low = np.arange(count) * CELL_MM
    return np.clip(np.minimum(low + CELL_MM, stop_mm) - np.maximum(low, start_mm), 0.0, CELL_MM) / CELL_MM


def page_with(*things: Painted, spread: Spread | None = None, **facts: Any) -> Page:
    """A page with its things in the order they are given, and plates where a spread is given."""
    zone = facts.get("zone_mm", Box(-3.0, -3.0, 103.0, 83.0))
    plates = plates_of(spread, zone) if spread is not None else None
    return page_of(*(replace(thing, order=index) for index, thing in enumerate(things)), plates=plates, **facts)


def text(
    colour: Colour | None = K100,
    box: tuple[float, float, float, float] = (20.0, 20.0, 50.0, 23.0),
    *,
    size_pt: float = 8.0,
    x_height_mm: float | None = None,
    inked: int = 20,
    embedded: bool = True,
    **facts: Any,
) -> Painted:
    run = TextRun("Garden-Sans", size_pt, 20, inked, x_height_mm=x_height_mm, embedded=embedded)
    return painted(colour, box, kind=facts.pop("kind", "text"), text=run, **facts)


def area(colour: Colour | None, box: tuple[float, float, float, float], **facts: Any) -> Painted:
    """A filled rectangle."""
    width, height = box[2] - box[0], box[3] - box[1]
    thin = min(width, height) / mm_from_pt(1.0)
    facts.setdefault("shape", Shape(thin if thin < 10 else None, width * height, is_rectangle=True))
    return painted(colour, box, **facts)


def line(
    colour: Colour | None,
    box: tuple[float, float, float, float],
    width_pt: float,
    *,
    is_frame: bool = False,
    **facts: Any,
) -> Painted:
    """A stroked line whose box is given, its thickness included."""
    width, height = box[2] - box[0], box[3] - box[1]
    length = 2 * (width + height) if is_frame else max(width, height)
    direction = facts.pop("direction", None if is_frame else ("level" if width >= height else "upright"))
    stroke = Stroke(width_pt, length_mm=facts.pop("length_mm", length), direction=direction, is_frame=is_frame)  # type: ignore[arg-type]
    return painted(colour, box, kind="stroke", stroke=stroke, **facts)


def picture(box: tuple[float, float, float, float], colour: Colour | None = None, **facts: Any) -> Painted:
    use = ImageUse(1200, 800, 8, 300.0, 300.0, (box[2] - box[0], box[3] - box[1]))
    return painted(colour or Colour("cmyk", inks=PROCESS_INKS), box, kind="image", image=use, **facts)
