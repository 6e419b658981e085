"""A part of a page, finely drawn: its plates, how red light sees it, and every other light in which a code may show."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from preflight.inventory.red_light import Light
from preflight.inventory.render import PlatePixels
from preflight.units import Box

#: Tones closer than this (1 is all of the light) are one.
LEAST_CONTRAST = 0.03


@dataclass(frozen=True)
class FineView:
    """The plates of the part, which of them print, red light on them, and the trim of the page."""

    pixels: PlatePixels
    planes: list[int]
    light: Light
    trim: Box

    @property
    def step_mm(self) -> float:
        return 1.0 / self.pixels.pixels_per_mm

    def views(self, rows: slice, columns: slice) -> Iterator[tuple[Light, bool]]:
        """The part in red light, then plate by plate; each also with light and dark exchanged (True)."""
        yield self.light, False
        yield 1.0 - self.light, True
        for index in self.planes:
            plane = self.pixels.planes[index]
            part = plane[rows, columns]
            if part.size and int(part.max()) - int(part.min()) >= 255 * LEAST_CONTRAST:
                light = (255 - plane).astype(np.float32) / 255.0
                yield light, False
                yield 1.0 - light, True

    @property
    def trim_px(self) -> tuple[float, float, float, float]:
        """The trim in rows and columns: top, bottom, left, right."""
        x, y = self.pixels.origin_mm
        scale = self.pixels.pixels_per_mm
        trim = self.trim
        return (trim.y0 - y) * scale, (trim.y1 - y) * scale, (trim.x0 - x) * scale, (trim.x1 - x) * scale
