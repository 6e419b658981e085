"""Pictures for reports: each page, each of its plates, and each finding cut out of it with its place boxed.

Made from the composite of the plates (8-bit RGB, rows from the top), so they show what will print. A page is about 900 pixels
high, each of its plates 540, a finding at least 12 mm of ground around its box. Boxes are drawn as a light line inside a dark one,
which shows on any ground. JPEG; a page keeps under 110 kB, a plate under 24 kB and a finding under 45 kB, so that 64 pages stay a
file one can mail.
"""

from __future__ import annotations

import io
from collections.abc import Iterable, Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw

from preflight.units import Box

Rgb = NDArray[np.uint8]

PAGE_HEIGHT_PX = 900
PAGE_WIDTH_PX = 1300
PAGE_BYTES = 110_000
PLATE_HEIGHT_PX = 540
PLATE_WIDTH_PX = 780
PLATE_BYTES = 24_000
FINDING_LONG_PX = 640
FINDING_SHORT_PX = 220
FINDING_BYTES = 45_000
CONTEXT_MM = 12.0
LEAST_SIDE_SHARE = 0.3
#: Smaller boxes are drawn as large as this, so that a hairline's frame does not cover it.
_LEAST_BOX_PX = 14
_DARK, _LIGHT, _OUTLINE = (20, 20, 24), (255, 255, 255), (156, 20, 80)


def rgb_of(path: Path) -> Rgb:
    """A written picture as pixels again. Raises ``OSError`` where it cannot be read."""
    with Image.open(path) as image:
        return np.asarray(image.convert("RGB"))


def picture_box_mm(rgb: Rgb, origin_mm: Sequence[float], pixels_per_mm: float) -> Box:
    """What a composite shows, in trim space; ``origin_mm`` is its top left corner."""
    x, y = origin_mm
    return Box(x, y, x + rgb.shape[1] / pixels_per_mm, y + rgb.shape[0] / pixels_per_mm)


def page_scale(rows: int, columns: int) -> float:
    """How much smaller than its plates a page's picture is."""
    return min(1.0, PAGE_HEIGHT_PX / rows, PAGE_WIDTH_PX / columns)


def page_picture(rgb: Rgb) -> bytes:
    """The whole page as JPEG, without any lines: the report lays trim, cut and marks over it."""
    return _jpeg(_scaled(rgb, page_scale(*rgb.shape[:2])), PAGE_BYTES)


def plate_picture(plane: NDArray[np.uint8]) -> bytes:
    """One plate of a whole page as a gray JPEG, black where it is full of ink; small, since a page has four and more."""
    image = Image.fromarray(255 - plane)
    scale = min(1.0, PLATE_HEIGHT_PX / image.height, PLATE_WIDTH_PX / image.width)
    if scale < 1.0:
        size = (max(1, round(image.width * scale)), max(1, round(image.height * scale)))
        image = image.resize(size, Image.Resampling.BOX)
    return _jpeg(image, PLATE_BYTES, qualities=(60, 45, 30))


def finding_picture(
    rgb: Rgb,
    origin_mm: Sequence[float],
    pixels_per_mm: float,
    box_mm: Sequence[float],
    trim_mm: Sequence[float] | None,
    boxes_mm: Iterable[Sequence[float]] = (),
    rings_mm: Iterable[Sequence[Sequence[float]]] = (),
) -> bytes:
    """A finding's place as JPEG: its box and at least 12 mm around it.

    ``boxes_mm`` are its single places where it has several, ``rings_mm`` lines around what it is about.
    """
    whole = picture_box_mm(rgb, origin_mm, pixels_per_mm)
    place = Box(*box_mm)
    shown = window_mm(place, whole)
    rows, columns = (
        slice(*_pixels(start, end, first, pixels_per_mm, limit))
        for start, end, first, limit in (
            (shown.y0, shown.y1, whole.y0, rgb.shape[0]),
            (shown.x0, shown.x1, whole.x0, rgb.shape[1]),
        )
    )
    part = rgb[rows, columns]
    shown = picture_box_mm(
        part, (whole.x0 + columns.start / pixels_per_mm, whole.y0 + rows.start / pixels_per_mm), pixels_per_mm
    )
    long, short = max(part.shape[:2]), min(part.shape[:2])
    # Long strips may get thinner than the least; a picture wider than the column of a report helps nobody.
    scale = min(FINDING_LONG_PX / long, max(1.0, FINDING_SHORT_PX / short, 0.75 * FINDING_LONG_PX / long))
    image = _scaled(part, scale)
    canvas = _Canvas(image, shown)
    if trim_mm is not None:
        canvas.dashed(Box(0.0, 0.0, trim_mm[0], trim_mm[1]))
    for ring in rings_mm:
        canvas.outlined(ring)
    single = [Box(*box) for box in boxes_mm]
    for box in single:
        canvas.framed(box, thin=True)
    if not single:
        canvas.framed(place)
    return _jpeg(image, FINDING_BYTES)


def close_picture(rgb: Rgb) -> bytes:
    """A few millimetres so close that single pixels are seen, as JPEG without any lines drawn in."""
    factor = max(1, FINDING_LONG_PX // max(rgb.shape[:2]))
    return _jpeg(Image.fromarray(np.repeat(np.repeat(rgb, factor, axis=0), factor, axis=1)), FINDING_BYTES)


def window_mm(place: Box, whole: Box) -> Box:
    """What to show of a composite: the place and its ground, moved inside where the place lies beyond it."""
    # A wide place needs more ground to be recognised.
    margin = max(CONTEXT_MM, 0.1 * max(place.width, place.height))
    wanted = place.grow(margin)
    # Of a long strip, such as an edge, so much that one sees what it is the edge of.
    least = LEAST_SIDE_SHARE * max(wanted.width, wanted.height)
    x0, x1 = _inwards(wanted.x0, wanted.x1, least, whole.x0 + whole.x1)
    y0, y1 = _inwards(wanted.y0, wanted.y1, least, whole.y0 + whole.y1)
    wanted = Box(x0, y0, x1, y1)
    x0 = min(max(wanted.x0, whole.x0), max(whole.x0, whole.x1 - 2 * CONTEXT_MM))
    y0 = min(max(wanted.y0, whole.y0), max(whole.y0, whole.y1 - 2 * CONTEXT_MM))
    x1 = max(min(wanted.x1, whole.x1), min(whole.x1, whole.x0 + 2 * CONTEXT_MM))
    y1 = max(min(wanted.y1, whole.y1), min(whole.y1, whole.y0 + 2 * CONTEXT_MM))
    return Box(x0, y0, x1, y1)


def _inwards(low: float, high: float, least: float, ends: float) -> tuple[float, float]:
    """A range made as long as ``least``, towards the middle of the whole; ``ends`` is the sum of the whole's ends."""
    short = max(0.0, least - (high - low))
    return (low, high + short) if low + high < ends else (low - short, high)


def _pixels(start: float, end: float, first: float, pixels_per_mm: float, limit: int) -> tuple[int, int]:
    low = min(limit - 1, max(0, int((start - first) * pixels_per_mm)))
    high = min(limit, max(low + 1, int((end - first) * pixels_per_mm + 0.999)))
    return low, high


def _scaled(rgb: Rgb, scale: float) -> Image.Image:
    factor = int(1.0 / scale)
    if factor >= 2:
        # Averaged in bands first: a poster's composite is not copied whole into the picture library.
        rgb = _averaged(rgb, factor)
        scale *= factor
    image = Image.fromarray(np.ascontiguousarray(rgb))
    size = (max(1, round(image.width * scale)), max(1, round(image.height * scale)))
    if size == image.size:
        return image
    return image.resize(size, Image.Resampling.BICUBIC if scale > 1.0 else Image.Resampling.LANCZOS)


def _averaged(rgb: Rgb, factor: int) -> Rgb:
    """Means of squares of ``factor`` pixels; fewer than that at the right and the bottom are dropped."""
    height, width = (max(1, side // factor) for side in rgb.shape[:2])
    result = np.empty((height, width, 3), dtype=np.uint8)
    for row in range(height):
        band = rgb[row * factor : (row + 1) * factor, : width * factor]
        deep = band.mean(axis=0, dtype=np.float32)
        result[row] = deep.reshape(width, -1, 3).mean(axis=1) + 0.5
    return result


class _Canvas:
    """Draws boxes of trim space on a picture that shows ``shown``."""

    def __init__(self, image: Image.Image, shown: Box) -> None:
        self.draw = ImageDraw.Draw(image)
        self.size = image.size
        self.x_scale = image.width / max(shown.width, 1e-6)
        self.y_scale = image.height / max(shown.height, 1e-6)
        self.shown = shown

    def place(self, box: Box) -> tuple[int, int, int, int]:
        far = 4 * max(self.size)
        values = (
            (box.x0 - self.shown.x0) * self.x_scale,
            (box.y0 - self.shown.y0) * self.y_scale,
            (box.x1 - self.shown.x0) * self.x_scale,
            (box.y1 - self.shown.y0) * self.y_scale,
        )
        x0, y0, x1, y1 = (round(min(max(value, -far), far)) for value in values)
        return x0, y0, x1, y1

    def framed(self, box: Box, *, thin: bool = False) -> None:
        """A dark line with a light one inside it, just around a box; pulled in where the box leaves the picture."""
        x0, y0, x1, y1 = self.place(box)
        if not thin:
            x0, x1 = _at_least(x0, x1, _LEAST_BOX_PX)
            y0, y1 = _at_least(y0, y1, _LEAST_BOX_PX)
        width, height = self.size
        x0, y0 = min(max(x0 - 4, 2), width - 10), min(max(y0 - 4, 2), height - 10)
        x1, y1 = max(min(x1 + 4, width - 3), x0 + 7), max(min(y1 + 4, height - 3), y0 + 7)
        lines = ((0, _DARK, 1), (1, _LIGHT, 1)) if thin else ((-2, _DARK, 2), (0, _LIGHT, 3), (3, _DARK, 2))
        for inset, colour, line in lines:
            corners = (x0 + inset, y0 + inset, x1 - inset, y1 - inset)
            if corners[2] - corners[0] >= 2 * line and corners[3] - corners[1] >= 2 * line:
                self.draw.rectangle(corners, outline=colour, width=line)

    def outlined(self, ring: Sequence[Sequence[float]]) -> None:
        """A closed line, dark inside light."""
        points = [self.place(Box(x, y, x, y))[:2] for x, y in ring]
        for colour, width in ((_LIGHT, 3), (_OUTLINE, 1)):
            self.draw.line([*points, *points[:2]], fill=colour, width=width)

    def dashed(self, box: Box) -> None:
        """A thin line of dark and light dashes."""
        x0, y0, x1, y1 = self.place(box)
        corners = ((x0, y0), (x1, y0), (x1, y1), (x0, y1))
        for index, start in enumerate(corners):
            self._dashes(start, corners[(index + 1) % 4])

    def _dashes(self, start: tuple[int, int], end: tuple[int, int]) -> None:
        along = 0 if start[1] == end[1] else 1
        low, high = sorted((start[along], end[along]))
        low, high = max(low, -1), min(high, self.size[along])
        across = start[1 - along]
        for index, position in enumerate(range(low, high, 6)):
            stop = min(position + 5, high)
            points = ((position, across), (stop, across)) if along == 0 else ((across, position), (across, stop))
            self.draw.line(points, fill=_LIGHT if index % 2 else _DARK, width=1)


def _at_least(low: int, high: int, least: int) -> tuple[int, int]:
    spare = max(0, least - (high - low) + 1) // 2
    return low - spare, high + spare


def _jpeg(image: Image.Image, most_bytes: int, qualities: tuple[int, ...] = (86, 78, 68, 56)) -> bytes:
    """The picture as JPEG: as good as ``most_bytes`` allow, smaller where even a rough one would be larger."""
    while True:
        skip = False
        for quality in qualities:
            # Each step saves about a sixth: what is far too large is not tried at the next.
            if skip and quality != qualities[-1]:
                skip = False
                continue
            file = io.BytesIO()
            image.save(file, "JPEG", quality=quality)
            if file.tell() <= most_bytes:
                return file.getvalue()
            skip = file.tell() > 1.4 * most_bytes
        if min(image.size) < 64:
            return file.getvalue()
        image = image.resize((image.width * 3 // 4, image.height * 3 // 4), Image.Resampling.LANCZOS)
