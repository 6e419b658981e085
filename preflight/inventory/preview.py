"""The plates put back together as a picture for reports: what will print, overprint and spot inks included.

Process inks go through the press profile by the engine's own conversion; each spot is then laid over them as its equivalent colour,
multiplied. It shows where things are; it is no proof of colour.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
from pymupdf import mupdf

from preflight.inventory.model import PROCESS_INKS
from preflight.inventory.render import PlatePixels
from preflight.units import Box

#: Larger composites are made at half, a third ... of the pixels: A3 and smaller stay whole.
MOST_PIXELS = 5_000_000
#: A picture this close to the size wanted is not resized once more.
NEARLY = 0.9


class Preview(NamedTuple):
    """A composite: rows x columns x red, green, blue bytes; the corner of its first pixel in trim space."""

    rgb: npt.NDArray[np.uint8]
    origin_mm: tuple[float, float]
    pixels_per_mm: float


def preview_rgb(
    pixels: PlatePixels, box_mm: Box | None = None, most_pixels: int = MOST_PIXELS, scale: float = 1.0
) -> Preview:
    """The composite of all plates, or of the part of them in ``box_mm``; means of squares where there would be too many pixels.

    ``scale`` under 1 makes it smaller. Plates are made smaller before they are put together, which is most of the work.
    """
    return composite(made_smaller(pixels, box_mm, most_pixels, scale))


def made_smaller(
    pixels: PlatePixels, box_mm: Box | None = None, most_pixels: int = MOST_PIXELS, scale: float = 1.0
) -> PlatePixels:
    """The plates, or the part of them in ``box_mm``, with fewer pixels: each the mean of those it stands for."""
    top, bottom, left, right = pixels.pixel_box(box_mm or pixels.box_mm)
    bottom, right = max(bottom, top + 1), max(right, left + 1)
    factor = max(1, int(1.0 / scale))
    while (bottom - top) * (right - left) > most_pixels * factor * factor:
        factor += 1
    # What is nearly small enough stays as it is: a second pass is seen by nobody.
    rest = scale * factor if scale * factor < NEARLY else 1.0
    rows, columns = (max(1, side // factor) for side in (bottom - top, right - left))
    size = (max(1, round(columns * rest)), max(1, round(rows * rest)))
    area = slice(top, top + rows * factor), slice(left, left + columns * factor)
    corner = pixels.mm_of(top, top, left, left)
    return replace(
        pixels,
        planes=tuple(_smaller(plane[area], factor, size) for plane in pixels.planes),
        origin_mm=(corner.x0, corner.y0),
        pixels_per_mm=pixels.pixels_per_mm / factor * size[1] / rows,
    )


def composite(pixels: PlatePixels) -> Preview:
    """All plates put together, pixel by pixel."""
    rgb = _process_rgb(pixels, pixels.planes[: len(PROCESS_INKS)])
    for plane, look in zip(pixels.planes[len(PROCESS_INKS) :], pixels.looks, strict=False):
        rows, columns = np.asarray(plane.any(axis=1)), np.asarray(plane.any(axis=0))
        if not rows.any():
            continue
        area = (slice(*_ends(rows)), slice(*_ends(columns)))
        for channel, light in enumerate(look):
            # What a full layer of the ink leaves of the light, for each amount of it.
            left_over = np.rint(255.0 - np.arange(256) * (255 - light) / 255.0).astype(np.uint16)
            mixed = rgb[area][..., channel] * left_over[plane[area]] // 255
            rgb[area][..., channel] = mixed.astype(np.uint8)
    return Preview(rgb, pixels.origin_mm, pixels.pixels_per_mm)


def solid_looks(pixels: PlatePixels) -> list[tuple[int, int, int]]:
    """Each ink at 100 % on white paper, in the order of the plates, as the press profile and the file's recipes have it."""
    count = len(PROCESS_INKS)
    solids = 255 * np.eye(count, dtype=np.uint8)
    rgb = _process_rgb(pixels, [solids[index : index + 1] for index in range(count)])
    return [(int(red), int(green), int(blue)) for red, green, blue in rgb[0]] + list(pixels.looks)


def _process_rgb(pixels: PlatePixels, planes: Sequence[npt.NDArray[np.uint8]]) -> npt.NDArray[np.uint8]:
    rows, columns = planes[0].shape
    if not any(plane.any() for plane in planes):
        return np.full((rows, columns, 3), 255, dtype=np.uint8)
    area = mupdf.FzIrect(0, 0, columns, rows)
    inks = mupdf.fz_new_pixmap_with_bbox(pixels.press.space, area, mupdf.FzSeparations(), 0)
    samples = np.frombuffer(mupdf.ll_fz_pixmap_samples_memoryview(inks.m_internal), dtype=np.uint8)
    samples = samples.reshape(rows, columns, len(planes))
    for index, plane in enumerate(planes):
        samples[:, :, index] = plane
    light = mupdf.fz_convert_pixmap(
        inks,
        mupdf.fz_device_rgb(),
        mupdf.FzColorspace(),
        mupdf.FzDefaultColorspaces(),
        mupdf.FzColorParams(),
        0,
    )
    # A copy: the memory is the pixmap's.
    rgb = np.frombuffer(mupdf.ll_fz_pixmap_samples_memoryview(light.m_internal), dtype=np.uint8).copy()
    return rgb.reshape(rows, columns, 3)


def _smaller(plane: npt.NDArray[np.uint8], factor: int, size: tuple[int, int]) -> npt.NDArray[np.uint8]:
    """A plate with means of squares of ``factor`` pixels, then (columns, rows) of ``size``, each the mean of what it covers."""
    from PIL import Image

    if factor == 1 and size == plane.shape[::-1]:
        return plane
    if not plane.any():
        return np.zeros(size[::-1], dtype=np.uint8)
    image = Image.fromarray(np.ascontiguousarray(plane))
    if factor > 1:
        image = image.reduce(factor)
    return np.asarray(image if image.size == size else image.resize(size, Image.Resampling.BOX))


def _ends(marked: npt.NDArray[np.bool_]) -> tuple[int, int]:
    places = np.flatnonzero(marked)
    return int(places[0]), int(places[-1]) + 1
