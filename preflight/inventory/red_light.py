"""A page as the red light of a bar code scanner sees it: black and cyan are dark, magenta, yellow and red are as good as paper.

Reflectance of a place is the product of what each ink lets back, 1 on bare paper; a tint grows by the dot gain of ``press_colour``.
Process inks: the red of their solids by FOGRA39 (printed sheet against bare paper), which fits the 620 to 680 nm of scanners
(ISO/IEC 15416). A spot ink has the red of its own recipe. Finishing plates are no ink.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from preflight.inventory.model import PROCESS_INKS
from preflight.press_colour import DOT_GAIN

if TYPE_CHECKING:
    from preflight.inventory.render import PlatePixels
    from preflight.ticket import Job

Light = npt.NDArray[np.float32]

#: What a solid gives back of the red light that paper gives back.
SOLID_RED = {"Cyan": 0.05, "Magenta": 0.80, "Yellow": 1.0, "Black": 0.02}


def printing_planes(pixels: PlatePixels, job: Job) -> list[int]:
    """The plates that put ink on the sheet."""
    return [index for index, ink in enumerate(pixels.inks) if not job.is_finishing(ink)]


def red_light(pixels: PlatePixels, planes: list[int], rows: slice, columns: slice) -> Light:
    """Reflectance under red light of a part of the plates, 1 for paper."""
    whole: Light = np.ones(pixels.planes[0][rows, columns].shape, dtype=np.float32)
    for index in planes:
        part = pixels.planes[index][rows, columns]
        if part.any():
            whole *= _steps(solid_red(pixels, index))[part]
    return whole


def solid_red(pixels: PlatePixels, index: int) -> float:
    """What a solid of a plate gives back of the red light that paper gives back."""
    ink = pixels.inks[index]
    if ink in SOLID_RED:
        return SOLID_RED[ink]
    place = index - len(PROCESS_INKS)
    if not 0 <= place < len(pixels.looks):
        return 0.0
    red = pixels.looks[place][0] / 255.0
    return float(red / 12.92 if red <= 0.04045 else ((red + 0.055) / 1.055) ** 2.4)


def _steps(solid: float) -> Light:
    """What each of the 256 amounts of an ink gives back."""
    tint = np.arange(256, dtype=np.float32) / 255.0
    dot = np.minimum(1.0, tint + 4.0 * DOT_GAIN * tint * (1.0 - tint))
    steps: Light = (1.0 - dot * (1.0 - solid)).astype(np.float32)
    return steps
