"""The plates of a page as pixels, as the platesetter would see them: overprint, transparency and spot inks honoured.

Rendered by the engine as separations, without anti-aliasing (with it, abutting tiles read 179 % instead of 240 %), for the output
"Print" (layers and annotations that print), into the press condition's own colour space. The pixel grid is laid on the trim: a
pixel's corner lies exactly on the trim's top left corner, so edges there are edges of pixels. At 6 pixels a millimetre an edge is
placed to half a pixel (0.083 mm) and lines thinner than a pixel are one pixel wide.

Known: pictures and shadings in a colour space Separation /None paint white in the engine, where ISO 32000-2 (8.6.6.4) says no mark
(``settling`` sees to the rest); fills in an indexed space over a spot are mixed into the process inks; transfer functions are not
applied; a tint is cut to the next lower of 255 steps.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from contextlib import contextmanager, nullcontext
from dataclasses import dataclass, field
from typing import Any
from weakref import WeakKeyDictionary

import numpy as np
import numpy.typing as npt
from pymupdf import mupdf

from preflight.errors import ToolFault
from preflight.inventory.glyph_colours import keep_glyph_colours_apart
from preflight.inventory.knocked_out import overprint_off
from preflight.inventory.model import PROCESS_INKS
from preflight.inventory.press import PressCondition, press_condition
from preflight.inventory.see_through import may_see_through, mended
from preflight.inventory.separations import SpotCache, SpotGroup, spot_groups
from preflight.units import PIXELS_PER_MM, Box, Matrix, PageFrame

Plane = npt.NDArray[np.uint8]

#: Pixels rendered at once; larger pages go in bands (the engine refuses "overly large" pictures at about 1 m2).
BAND_BYTES = 80_000_000
#: Above this, all planes together, a page cannot be held at this resolution.
MOST_BYTES = 1_500_000_000

Looks = tuple[tuple[int, int, int], ...]


@dataclass
class _LookedUp:
    """What was looked up in an open document: spots and see-through art of shared objects, looks of spots by page."""

    spots: SpotCache = field(default_factory=SpotCache)
    see_through: dict[int, int] = field(default_factory=dict)
    looks: dict[tuple[int, tuple[str, ...]], Looks] = field(default_factory=dict)


_LOOKED_UP: WeakKeyDictionary[Any, _LookedUp] = WeakKeyDictionary()


#: Without anti-aliasing the engine drops the pixel an edge ends in, as if its place were rounded down, and files round coordinates
#: to a few decimals. With half a pixel added, edges go to the nearest pixel: one meant to lie on the grid does, lengths come
#: out right on all four sides. (With anti-aliasing it shares out the pixel truly.)
_NUDGE_PX = 0.5

_SHARP, _SMOOTH = 0, 8


@dataclass(frozen=True)
class PlatePixels:
    """The plates of a region: one plane of bytes an ink (255 = 100 %), rows from the top, all of one size.

    ``origin_mm`` is the corner of pixel (row 0, column 0) in trim space. ``looks``: each spot at 100 % on
    white paper (8-bit RGB), for pictures. ``faults``: errors the engine met and drew on after.
    """

    inks: tuple[str, ...]
    planes: tuple[Plane, ...]
    origin_mm: tuple[float, float]
    pixels_per_mm: float
    press: PressCondition
    looks: Looks = ()
    faults: int = 0

    @property
    def box_mm(self) -> Box:
        rows, columns = self.planes[0].shape
        x, y = self.origin_mm
        return Box(x, y, x + columns / self.pixels_per_mm, y + rows / self.pixels_per_mm)

    def pixel_box(self, box_mm: Box) -> tuple[int, int, int, int]:
        """The whole pixels nearest to a box: first row, end row, first column, end column, inside what was rendered."""
        rows, columns = self.planes[0].shape
        x, y = self.origin_mm

        def nearest(value_mm: float, start_mm: float, limit: int) -> int:
            return min(limit, max(0, math.floor((value_mm - start_mm) * self.pixels_per_mm + 0.5)))

        return (
            nearest(box_mm.y0, y, rows),
            nearest(box_mm.y1, y, rows),
            nearest(box_mm.x0, x, columns),
            nearest(box_mm.x1, x, columns),
        )

    def mm_of(self, top: int, bottom: int, left: int, right: int) -> Box:
        """The box of whole pixels in trim space (rows ``top`` to ``bottom``, columns ``left`` to ``right``, ends excluded)."""
        x, y = self.origin_mm
        step = 1.0 / self.pixels_per_mm
        return Box(x + left * step, y + top * step, x + right * step, y + bottom * step)


def render_plates(
    artwork_document: Any,
    page: Any,
    frame: PageFrame,
    region_mm: Box,
    pixels_per_mm: float = PIXELS_PER_MM,
    overprint: bool = True,
    *,
    press: PressCondition | None = None,
    band_bytes: int = BAND_BYTES,
) -> PlatePixels:
    """Renders a region of a page (``mupdf.PdfPage``, its CropBox set to the MediaBox before it was loaded).

    The region is widened to whole pixels. Planes are Cyan, Magenta, Yellow, Black, then every spot that the page's resources can
    paint with. Without ``overprint`` it is the knocked-out view: the same planes, with everything set to overprint knocking out.
    """
    press = press or press_condition(artwork_document)
    left, top = (math.floor(value * pixels_per_mm + 1e-6) for value in (region_mm.x0, region_mm.y0))
    right, bottom = (math.ceil(value * pixels_per_mm - 1e-6) for value in (region_mm.x1, region_mm.y1))
    columns, rows = max(1, right - left), max(1, bottom - top)
    origin_mm = (left / pixels_per_mm, top / pixels_per_mm)
    to_pixels = _to_pixels(page, frame, origin_mm, pixels_per_mm)
    known = _LOOKED_UP.setdefault(artwork_document, _LookedUp())
    see_through = may_see_through(page, known.see_through)
    groups = spot_groups(page, known.spots)
    count = len(PROCESS_INKS) + sum(len(group.names) for group in groups)
    if rows * columns * count > MOST_BYTES:
        raise ToolFault(f"{rows} x {columns} pixels of {count} plates are more than can be held")
    process: list[Plane] = []
    spots: list[Plane] = []
    faults = 0
    with nullcontext() if overprint else overprint_off(page):
        for group in groups:
            run = _Run(page, to_pixels, press.space, group.separations, rows, columns, band_bytes, see_through)
            planes = run.planes(len(PROCESS_INKS) + len(group.names))
            faults = max(faults, run.faults)
            process = _joined(process, spots, planes)
            spots += planes[len(PROCESS_INKS) :]
    inks = (*PROCESS_INKS, *(name for group in groups for name in group.names))
    number = mupdf.pdf_to_num(page.obj())
    for group in groups:
        if (number, group.names) not in known.looks:
            known.looks[number, group.names] = _looks(group)
    looks = tuple(look for group in groups for look in known.looks[number, group.names])
    return PlatePixels(inks, (*process, *spots), origin_mm, pixels_per_mm, press, looks, faults)


def _joined(process: list[Plane], spots: list[Plane], planes: list[Plane]) -> list[Plane]:
    """The process plates of two renderings that hold different spots.

    The engine mixes a spot that a rendering does not hold into the process inks. So where spots of one rendering lie, its own
    process plates are right; where spots of both lie, the lower of the two.
    """
    count = len(PROCESS_INKS)
    if not process:
        return planes[:count]
    before, now = _any_ink(spots), _any_ink(planes[count:])
    return [
        np.where(now, np.where(before, np.minimum(old, new), new), old)
        for old, new in zip(process, planes[:count], strict=True)
    ]


def _any_ink(planes: list[Plane]) -> npt.NDArray[np.bool_]:
    marked: npt.NDArray[np.bool_] = np.maximum.reduce(planes) > 0
    return marked


@dataclass
class _Run:
    """One run of a page into pixels, band by band."""

    page: Any
    to_pixels: Matrix
    space: Any
    separations: Any
    rows: int
    columns: int
    band_bytes: int
    see_through: bool
    faults: int = 0

    def planes(self, count: int) -> list[Plane]:
        keep_glyph_colours_apart(self.page)
        sharp = self._drawn(count, _SHARP)
        return mended(sharp, self._drawn(count, _SMOOTH)) if self.see_through else sharp

    def _drawn(self, count: int, smoothing: int) -> list[Plane]:
        result = [np.empty((self.rows, self.columns), dtype=np.uint8) for _ in range(count)]
        height = max(1, min(self.rows, self.band_bytes // (self.columns * count)))
        nudge_px = _NUDGE_PX if smoothing == _SHARP else 0.0
        ctm = mupdf.FzMatrix(*self.to_pixels.then(Matrix(e=nudge_px, f=nudge_px)))
        with smoothed(smoothing):
            for first in range(0, self.rows, height):
                end = min(self.rows, first + height)
                # The memory is the pixmap's: it must live until the planes are copied.
                pixmap = self._band(first, end, ctm)
                samples = np.frombuffer(mupdf.ll_fz_pixmap_samples_memoryview(pixmap.m_internal), dtype=np.uint8)
                samples = samples.reshape(end - first, self.columns, count)
                for index, plane in enumerate(result):
                    plane[first:end] = samples[:, :, index]
                del samples, pixmap
        return result

    def _band(self, first: int, end: int, ctm: Any) -> Any:
        area = mupdf.FzIrect(0, first, self.columns, end)
        pixmap = mupdf.fz_new_pixmap_with_bbox(self.space, area, self.separations, 0)
        mupdf.fz_clear_pixmap_with_value(pixmap, 0xFF)
        device = mupdf.fz_new_draw_device(mupdf.FzMatrix(), pixmap)
        cookie = mupdf.FzCookie()
        mupdf.pdf_run_page_with_usage(self.page, device, ctm, "Print", cookie)
        mupdf.fz_close_device(device)
        self.faults = max(self.faults, int(cookie.m_internal.errors))
        return pixmap


@contextmanager
def smoothed(level: int) -> Iterator[None]:
    """Anti-aliasing of paths at a level, none for type; the engine's switch is process-wide, so it is put back."""
    graphics, text = mupdf.fz_graphics_aa_level(), mupdf.fz_text_aa_level()
    mupdf.fz_set_graphics_aa_level(level)
    mupdf.fz_set_text_aa_level(_SHARP)
    try:
        yield
    finally:
        mupdf.fz_set_graphics_aa_level(graphics)
        mupdf.fz_set_text_aa_level(text)


def _to_pixels(page: Any, frame: PageFrame, origin_mm: tuple[float, float], pixels_per_mm: float) -> Matrix:
    """The engine's own page space to pixels: its page matrix is undone and ours put in place, so origin, turn and user unit fit."""
    media, engine = mupdf.FzRect(), mupdf.FzMatrix()
    mupdf.pdf_page_transform(page, media, engine)
    back = Matrix(engine.a, engine.b, engine.c, engine.d, engine.e, engine.f).inverted()
    left, top = (-value * pixels_per_mm for value in origin_mm)
    to_pixels = Matrix(pixels_per_mm, 0.0, 0.0, pixels_per_mm, left, top)
    return back.then(frame.to_trim_mm).then(to_pixels)


def _looks(group: SpotGroup) -> Looks:
    """Each spot at 100 % on white paper, as the engine would mix it for a screen."""
    count = len(group.names)
    if not count:
        return ()
    area = mupdf.FzIrect(0, 0, count, 1)
    patches = mupdf.fz_new_pixmap_with_bbox(mupdf.fz_device_cmyk(), area, group.separations, 0)
    samples = np.frombuffer(mupdf.ll_fz_pixmap_samples_memoryview(patches.m_internal), dtype=np.uint8)
    samples = samples.reshape(count, len(PROCESS_INKS) + count)
    samples[:] = 0
    samples[:, len(PROCESS_INKS) :] = np.eye(count, dtype=np.uint8) * 255
    mixed = mupdf.fz_clone_pixmap_area_with_different_seps(
        patches,
        area,
        mupdf.fz_device_rgb(),
        mupdf.FzSeparations(),
        mupdf.FzColorParams(),
        mupdf.FzDefaultColorspaces(),
    )
    light = bytes(mupdf.ll_fz_pixmap_samples_memoryview(mixed.m_internal))
    return tuple((light[3 * place], light[3 * place + 1], light[3 * place + 2]) for place in range(count))
