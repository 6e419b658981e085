"""What a build of process inks looks like in print: CIE L*a*b* of a CMYK build on coated paper, and of RGB on a screen.

The build is worked out from the sixteen solids and overprints of the characterisation data FOGRA39L (coated, 115 g/m2, D50, 2
degrees, white backing) with the Neugebauer equations: Demichel's dot areas weight the solids' XYZ. Two figures fit the dots:
a dot gain of 9 points at half tone and a Yule-Nielsen factor of 1.3. Against all 1617 published patches the mean difference is
2.6, the largest 5.9 (CIE 1976); against the published lightness of rich blacks 0.5. It is the yardstick for "looks black" on
every stock, since that is what the customer sees on screen and proof; it is no press profile. Ink in percent, RGB from 0 to 1.

Source: FOGRA39L data (December 2006) as published; J. A. C. Yule and W. J. Nielsen 1951 for the factor; IEC 61966-2-1 for sRGB,
with its matrix adapted to D50; CIE 15 for L*a*b*.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from functools import lru_cache

from preflight.inventory.model import PROCESS_INKS, Colour

Lab = tuple[float, float, float]

WHITE_D50 = (96.422, 100.0, 82.521)
YULE_NIELSEN = 1.3
DOT_GAIN = 0.09

#: XYZ of each overprint of solids, by the inks present: cyan, magenta, yellow, black.
SOLIDS: dict[tuple[int, int, int, int], tuple[float, float, float]] = {
    (0, 0, 0, 0): (84.48, 87.62, 74.57),
    (1, 0, 0, 0): (15.02, 22.93, 52.85),
    (0, 1, 0, 0): (33.03, 16.79, 15.01),
    (0, 0, 1, 0): (69.17, 74.16, 7.04),
    (1, 1, 0, 0): (5.67, 4.10, 15.67),
    (1, 0, 1, 0): (8.16, 18.42, 6.74),
    (0, 1, 1, 0): (30.20, 16.02, 2.30),
    (1, 1, 1, 0): (3.66, 3.80, 3.13),
    (0, 0, 0, 1): (2.02, 2.10, 1.73),
    (1, 0, 0, 1): (0.91, 1.18, 1.79),
    (0, 1, 0, 1): (1.61, 1.18, 0.89),
    (0, 0, 1, 1): (1.84, 2.04, 0.82),
    (1, 1, 0, 1): (0.99, 0.87, 1.08),
    (1, 0, 1, 1): (0.89, 1.31, 0.85),
    (0, 1, 1, 1): (1.56, 1.31, 0.65),
    (1, 1, 1, 1): (0.93, 0.97, 0.69),
}
_ROOTS = {inks: tuple(value ** (1.0 / YULE_NIELSEN) for value in xyz) for inks, xyz in SOLIDS.items()}

#: sRGB to XYZ under D50 (Bradford adaptation of the standard's D65 matrix).
_RGB_TO_XYZ = ((43.60747, 38.50649, 14.30804), (22.25045, 71.68786, 6.06169), (1.39322, 9.71045, 71.41733))


def lab_of_cmyk(cyan: float, magenta: float, yellow: float, black: float) -> Lab:
    """L*a*b* (D50) of a build, inks in percent; values outside 0 to 100 are cut."""
    return _lab_of_cmyk(*(round(min(100.0, max(0.0, ink)), 2) for ink in (cyan, magenta, yellow, black)))


@lru_cache(maxsize=4096)
def _lab_of_cmyk(*percent: float) -> Lab:
    areas = [_dot_area(ink / 100.0) for ink in percent]
    total = [0.0, 0.0, 0.0]
    for inks, roots in _ROOTS.items():
        weight = math.prod(area if ink else 1.0 - area for ink, area in zip(inks, areas, strict=True))
        for axis in range(3):
            total[axis] += weight * roots[axis]
    return lab_of_xyz(*(value**YULE_NIELSEN for value in total))


def _dot_area(tint: float) -> float:
    """The dot as it prints: a gain of ``DOT_GAIN`` at half tone, none at the ends."""
    return min(1.0, tint + 4.0 * DOT_GAIN * tint * (1.0 - tint))


def lab_of_rgb(red: float, green: float, blue: float) -> Lab:
    """L*a*b* (D50) of an sRGB colour, each part from 0 to 1."""
    return lab_of_xyz(*xyz_of_rgb(red, green, blue))


def xyz_of_rgb(red: float, green: float, blue: float) -> tuple[float, float, float]:
    """XYZ (D50, white at Y = 100) of an sRGB colour, each part from 0 to 1."""
    linear = [_linear(min(1.0, max(0.0, part))) for part in (red, green, blue)]
    x, y, z = (sum(a * b for a, b in zip(row, linear, strict=True)) for row in _RGB_TO_XYZ)
    return x, y, z


def _linear(part: float) -> float:
    return part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4


def lab_of_xyz(x: float, y: float, z: float) -> Lab:
    """CIE L*a*b* of XYZ under D50 (white at Y = 100)."""
    fx, fy, fz = (_response(value / white) for value, white in zip((x, y, z), WHITE_D50, strict=True))
    return 116.0 * fy - 16.0, 500.0 * (fx - fy), 200.0 * (fy - fz)


def _response(ratio: float) -> float:
    return math.cbrt(ratio) if ratio > 216.0 / 24389.0 else (24389.0 / 27.0 * ratio + 16.0) / 116.0


def chroma(lab: Lab) -> float:
    """C*: the distance from the grey axis."""
    return math.hypot(lab[1], lab[2])


def delta_e_1976(one: Lab, other: Lab) -> float:
    """The straight distance of two colours in L*a*b*."""
    return math.dist(one, other)


def lab_of_tints(tints_percent: Mapping[str, float]) -> Lab | None:
    """L*a*b* of process inks by name; None where another ink takes part, whose look is not known."""
    if any(ink not in PROCESS_INKS for ink in tints_percent):
        return None
    return lab_of_cmyk(*(tints_percent.get(ink, 0.0) for ink in PROCESS_INKS))


def lab_of(colour: Colour) -> Lab | None:
    """How a painted colour looks, as far as it can be told from its numbers; None for spot inks and unknown colours."""
    if colour.family in ("rgb", "icc-rgb", "cal-rgb") and len(colour.values) == 3:
        return lab_of_rgb(*colour.values)
    if colour.family in ("lab", "icc-lab") and len(colour.values) == 3:
        return colour.values[0], colour.values[1], colour.values[2]
    tints = colour.tints_percent()
    return None if tints is None else lab_of_tints(tints)
