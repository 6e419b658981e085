"""Points, millimetres, pixels per inch, rectangles and matrices: the only place where coordinates are converted.

Two coordinate systems are used, and only here is one turned into the other:

* *PDF user space* of a page: units of 1/72 inch times UserUnit, y up, any origin, before /Rotate (ISO 32000-2, 8.3).
* *Trim space*: millimetres from the top left corner of the trim box as a reader sees the page (after /Rotate and
  UserUnit), x to the right, y down. Every ``_mm`` box in the inventory and in a report is in trim space.

Tolerances are stated once, here: a value exactly at a limit passes, and so does one that misses it by less than
the tolerance (contract: 0.05 mm, 0.5 ppi, 0.005 pt, 2 percent points of ink).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import NamedTuple

MM_PER_INCH = 25.4
PT_PER_INCH = 72.0
MM_PER_PT = MM_PER_INCH / PT_PER_INCH

#: Plates are measured at this resolution: whole pixels to a 0.5 mm cell (152.4 ppi).
PIXELS_PER_MM = 6
#: Cells of the coarse grid, in millimetres and in pixels.
CELL_MM = 0.5
CELL_PX = 3

TOLERANCE_MM = 0.05
TOLERANCE_PPI = 0.5
TOLERANCE_PT = 0.005
TOLERANCE_INK_PERCENT = 2.0
#: Trim sizes are compared with their own, wider tolerance, which the rules file holds (``[trim] tolerance_mm``).

TOLERANCES = {"mm": TOLERANCE_MM, "ppi": TOLERANCE_PPI, "pt": TOLERANCE_PT, "percent": TOLERANCE_INK_PERCENT}


def mm_from_pt(value_pt: float) -> float:
    """Millimetres of a length in points (1 pt = 1/72 inch)."""
    return value_pt * MM_PER_PT


def pt_from_mm(value_mm: float) -> float:
    """Points of a length in millimetres."""
    return value_mm / MM_PER_PT


def is_below(value: float, limit: float, unit: str) -> bool:
    """Whether a value misses a lower limit by more than the tolerance of its unit (``mm``, ``ppi``, ``pt``, ``percent``)."""
    return value < limit - TOLERANCES.get(unit, 0.0)


def is_above(value: float, limit: float, unit: str) -> bool:
    """Whether a value exceeds an upper limit by more than the tolerance of its unit."""
    return value > limit + TOLERANCES.get(unit, 0.0)


class Box(NamedTuple):
    """An upright rectangle; the unit and the space are those of the name it is stored under."""

    x0: float
    y0: float
    x1: float
    y1: float

    @property
    def width(self) -> float:
        return self.x1 - self.x0

    @property
    def height(self) -> float:
        return self.y1 - self.y0

    @property
    def area(self) -> float:
        return max(0.0, self.width) * max(0.0, self.height)

    @property
    def is_empty(self) -> bool:
        """Whether it holds no point at all; a level or upright line (no width or no height) is not empty."""
        return self.x1 < self.x0 or self.y1 < self.y0

    def intersect(self, other: Box) -> Box:
        return Box(max(self.x0, other.x0), max(self.y0, other.y0), min(self.x1, other.x1), min(self.y1, other.y1))

    def union(self, other: Box) -> Box:
        return Box(min(self.x0, other.x0), min(self.y0, other.y0), max(self.x1, other.x1), max(self.y1, other.y1))

    def grow(self, by: float) -> Box:
        return Box(self.x0 - by, self.y0 - by, self.x1 + by, self.y1 + by)

    def moved(self, dx: float, dy: float) -> Box:
        return Box(self.x0 + dx, self.y0 + dy, self.x1 + dx, self.y1 + dy)

    def contains(self, other: Box, slack: float = 0.0) -> bool:
        return (
            self.x0 - slack <= other.x0
            and self.y0 - slack <= other.y0
            and self.x1 + slack >= other.x1
            and self.y1 + slack >= other.y1
        )

    def meets(self, other: Box, within: float = 0.0) -> bool:
        """Whether two boxes touch, overlap, or lie no farther apart than ``within`` on both axes."""
        return not (
            self.x0 > other.x1 + within
            or other.x0 > self.x1 + within
            or self.y0 > other.y1 + within
            or other.y0 > self.y1 + within
        )

    def rounded(self, digits: int = 2) -> list[float]:
        return [round(float(value), digits) for value in self]

    @classmethod
    def normal(cls, values: tuple[float, ...] | list[float]) -> Box:
        """A rectangle given by any two opposite corners (ISO 32000-2, 7.9.5)."""
        a, b, c, d = values
        return cls(min(a, c), min(b, d), max(a, c), max(b, d))


class Matrix(NamedTuple):
    """A PDF matrix ``[a b c d e f]``: x' = a x + c y + e, y' = b x + d y + f."""

    a: float = 1.0
    b: float = 0.0
    c: float = 0.0
    d: float = 1.0
    e: float = 0.0
    f: float = 0.0

    def then(self, after: Matrix) -> Matrix:
        """The matrix that first does this one, then ``after``."""
        return Matrix(
            self.a * after.a + self.b * after.c,
            self.a * after.b + self.b * after.d,
            self.c * after.a + self.d * after.c,
            self.c * after.b + self.d * after.d,
            self.e * after.a + self.f * after.c + after.e,
            self.e * after.b + self.f * after.d + after.f,
        )

    def point(self, x: float, y: float) -> tuple[float, float]:
        return self.a * x + self.c * y + self.e, self.b * x + self.d * y + self.f

    def box(self, box: Box) -> Box:
        """The upright box around the image of a box."""
        corners = [self.point(x, y) for x in (box.x0, box.x1) for y in (box.y0, box.y1)]
        xs, ys = zip(*corners, strict=True)
        return Box(min(xs), min(ys), max(xs), max(ys))

    def inverted(self) -> Matrix:
        """The opposite matrix. Raises ``ZeroDivisionError`` where there is none."""
        det = self.determinant
        a, b, c, d = self.d / det, -self.b / det, -self.c / det, self.a / det
        return Matrix(a, b, c, d, -(self.e * a + self.f * c), -(self.e * b + self.f * d))

    @property
    def determinant(self) -> float:
        return self.a * self.d - self.b * self.c

    @property
    def x_scale(self) -> float:
        """Length of the image of the unit vector along x."""
        return math.hypot(self.a, self.b)

    @property
    def y_scale(self) -> float:
        return math.hypot(self.c, self.d)

    @property
    def least_scale(self) -> float:
        """The smaller singular value: the factor across which a line is thinned most."""
        total = self.a**2 + self.b**2 + self.c**2 + self.d**2
        root = math.sqrt(max(0.0, total**2 - 4.0 * self.determinant**2))
        return math.sqrt(max(0.0, (total - root) / 2.0))


@dataclass(frozen=True)
class PageFrame:
    """How one page's PDF user space lies in trim space.

    ``media`` and ``trim`` are in PDF user space (normalised), ``rotation`` is 0, 90, 180 or 270 clockwise.
    """

    media: Box
    trim: Box
    rotation: int = 0
    user_unit: float = 1.0

    @property
    def to_trim_mm(self) -> Matrix:
        """PDF user space to trim space."""
        scale = self.user_unit * MM_PER_PT
        turned = _TURNS[self.rotation % 360]
        flipped = Matrix(scale, 0.0, 0.0, -scale).then(turned)
        corner = flipped.box(self.trim)
        return flipped.then(Matrix(1.0, 0.0, 0.0, 1.0, -corner.x0, -corner.y0))

    def box_mm(self, box: Box) -> Box:
        """A PDF user space box in trim space."""
        return self.to_trim_mm.box(box)

    @property
    def trim_mm(self) -> Box:
        """The trim in trim space: ``(0, 0, width, height)``."""
        return self.box_mm(self.trim)

    @property
    def media_mm(self) -> Box:
        return self.box_mm(self.media)


#: Clockwise turns in a space whose y points down.
_TURNS = {
    0: Matrix(1.0, 0.0, 0.0, 1.0),
    90: Matrix(0.0, 1.0, -1.0, 0.0),
    180: Matrix(-1.0, 0.0, 0.0, -1.0),
    270: Matrix(0.0, -1.0, 1.0, 0.0),
}


def ppi_of(pixels: int, length_mm: float) -> float | None:
    """Pixels per inch over a length; ``None`` where the length is nothing."""
    if length_mm <= 0.0:
        return None
    return pixels * MM_PER_INCH / length_mm
