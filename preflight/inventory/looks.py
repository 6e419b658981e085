"""How far apart two builds of ink look: colour differences of many pixels at once, spot inks included.

Both are put together as the report's pictures are (process inks through the press profile, each spot laid over them as its equivalent
colour) and compared in CIE L*a*b* (ΔE of 1976). As good as the equivalents of the spots; no measurement of colour.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import numpy.typing as npt

from preflight.inventory.preview import preview_rgb
from preflight.inventory.render import Plane, PlatePixels
from preflight.press_colour import labs_of_rgb

#: Pixels converted at once.
_AT_ONCE = 1_000_000


def delta_e(pixels: PlatePixels, ones: Sequence[Plane], others: Sequence[Plane]) -> npt.NDArray[np.float32]:
    """ΔE of pixels given as rows of bytes, one row an ink of ``pixels`` (which brings the press profile and the spots' looks)."""
    count = ones[0].size
    result = np.zeros(count, dtype=np.float32)
    for first in range(0, count, _AT_ONCE):
        part = slice(first, first + _AT_ONCE)
        difference = _labs(pixels, [plane[part] for plane in ones]) - _labs(pixels, [plane[part] for plane in others])
        result[part] = np.sqrt((difference * difference).sum(axis=-1))
    return result


def _labs(pixels: PlatePixels, planes: list[Plane]) -> npt.NDArray[Any]:
    row = replace(pixels, planes=tuple(plane.reshape(1, -1) for plane in planes), origin_mm=(0.0, 0.0))
    return labs_of_rgb(preview_rgb(row).rgb[0])
