"""How far apart two builds of ink look: colour differences of many pixels at once, spot inks included.

The process inks are reckoned as ``press_colour`` does it (FOGRA39 data, Neugebauer's equations), here for whole rows of pixels; a spot
takes from the light what its equivalent colour takes, as a filter over them. Differences are ΔE (CIE 1976) in L*a*b*. As good as the
equivalents of the spots; no measurement of colour.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache

import numpy as np
import numpy.typing as npt

from preflight.inventory.model import PROCESS_INKS
from preflight.inventory.render import Looks, Plane
from preflight.press_colour import DOT_GAIN, SOLIDS, WHITE_D50, YULE_NIELSEN, xyz_of_rgb

Floats = npt.NDArray[np.float32]

#: Pixels reckoned at once.
_AT_ONCE = 250_000
#: Steps of light for which the response of the eye is worked out once.
_STEPS = 1 << 15


def delta_e(ones: Sequence[Plane], others: Sequence[Plane], looks: Looks) -> Floats:
    """ΔE of pixels given as rows of bytes, one row an ink: the four process inks, then spots, each with its look in full."""
    count = ones[0].size
    result = np.zeros(count, dtype=np.float32)
    for first in range(0, count, _AT_ONCE):
        part = slice(first, first + _AT_ONCE)
        difference = _labs([plane[part] for plane in ones], looks) - _labs([plane[part] for plane in others], looks)
        result[part] = np.sqrt((difference * difference).sum(axis=-1))
    return result


def _labs(planes: list[Plane], looks: Looks) -> Floats:
    process = len(PROCESS_INKS)
    packed = np.zeros(planes[0].shape, dtype=np.uint32)
    for plane in planes[:process]:
        packed = packed << np.uint32(8) | plane
    # Flat art has few builds: each is reckoned once.
    builds, which = np.unique(packed, return_inverse=True)
    light = _light(builds)[which.reshape(packed.shape)]
    for plane, look in zip(planes[process:], looks, strict=True):
        left = np.array(xyz_of_rgb(*(part / 255.0 for part in look))) / np.array(WHITE_D50)
        light *= 1.0 - (plane / np.float32(255.0))[:, None] * (1.0 - left).astype(np.float32)
    x, y, z = (_response()[(light[:, axis] * _STEPS + 0.5).astype(np.int32)] for axis in range(3))
    return np.stack([116.0 * y - 16.0, 500.0 * (x - y), 200.0 * (y - z)], axis=-1)


def _light(builds: npt.NDArray[np.uint32]) -> Floats:
    """XYZ of builds of four bytes, as parts of the white's."""
    roots, gain = _tables()
    areas = [gain[builds >> np.uint32(8 * place) & np.uint32(255)] for place in (3, 2, 1, 0)]
    weights = np.ones((1, len(builds)), dtype=np.float32)
    for area in areas:
        # Each ink halves every field: without it, and with it.
        weights = np.concatenate([weights * (1.0 - area), weights * area])
    light: Floats = np.power(weights.T @ roots, np.float32(YULE_NIELSEN))
    return light


@cache
def _tables() -> tuple[Floats, Floats]:
    """Roots of each overprint's light in the order of ``_light``, and the dot that each of 256 bytes prints as."""
    bits = [tuple(place >> ink & 1 for ink in range(len(PROCESS_INKS))) for place in range(1 << len(PROCESS_INKS))]
    light = np.array([SOLIDS[inks[0], inks[1], inks[2], inks[3]] for inks in bits]) / np.array(WHITE_D50)
    tint = np.arange(256) / 255.0
    gain = np.minimum(1.0, tint + 4.0 * DOT_GAIN * tint * (1.0 - tint))
    return np.power(light, 1.0 / YULE_NIELSEN).astype(np.float32), gain.astype(np.float32)


@cache
def _response() -> Floats:
    ratios = np.arange(_STEPS + 2) / _STEPS
    bent = np.where(ratios > 216.0 / 24389.0, np.cbrt(ratios), (24389.0 / 27.0 * ratios + 16.0) / 116.0)
    return bent.astype(np.float32)
