"""The pixels of a placed picture, as the engine unpacked them, and the few parts of them that are computed with.

Never the whole picture: the busiest tiles of 512 pixels in what shows. Of pictures over 60 million pixels the middle alone is unpacked.
Lightness 0 (black) to 255, of three colours as ITU-R BT.601 weighs them; inks take from it what they cover.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray
from pymupdf import mupdf as m

TILE_PX = 512
MOST_TILES = 5
#: Smaller parts tell nothing.
LEAST_PX = 96
#: Of larger pictures the middle of what shows is looked at.
MOST_PIXELS = 60_000_000
MIDDLE_PX = 4096
#: Twice as much does not fit into the engine's store.
KEPT_BELOW_BYTES = 128 << 20
_MOST_CANDIDATES = 8
#: Mean step between neighbours, in levels of 255, below which a tile is flat.
_FLAT_STEP = 0.12
#: The engine's kinds of colour space (``fz_colorspace_type``), by number.
_FAMILIES = {1: "gray", 2: "rgb", 3: "rgb", 4: "cmyk", 5: "lab"}
#: JPEG and eyes weigh light like this (ITU-R BT.601).
_LUMA = (np.float32(0.299), np.float32(0.587), np.float32(0.114))


class PixelBox(NamedTuple):
    """A part of a picture: columns ``x0`` to ``x1``, rows ``y0`` to ``y1``."""

    x0: int
    y0: int
    x1: int
    y1: int


@dataclass(frozen=True)
class PicturePixels:
    """A picture's pixels while they are looked at: a view into the engine's memory, rows x columns x parts, 8 bits."""

    data: NDArray[np.uint8]
    #: ``gray``, ``rgb``, ``cmyk``, ``lab`` or ``inks``.
    family: str
    #: The parts that show.
    boxes: tuple[PixelBox, ...]

    def gray(self, rows: slice, columns: slice) -> NDArray[np.float32]:
        """Lightness of a part, 0 to 255."""
        part = self.data[rows, columns]
        if self.family in ("rgb", "cmyk"):
            light = part[..., 0] * _LUMA[0]
            light += part[..., 1] * _LUMA[1]
            light += part[..., 2] * _LUMA[2]
            return light if self.family == "rgb" else _white_under(light, part[..., 3])
        if self.family == "inks":
            return np.asarray(np.maximum(255.0 - part.sum(axis=2, dtype=np.float32), 0.0), dtype=np.float32)
        return part[..., 0].astype(np.float32)

    def planes(self, rows: slice, columns: slice) -> NDArray[np.float32]:
        """All parts of a part, as they stand."""
        return self.data[rows, columns].astype(np.float32)


def _white_under(ink: NDArray[np.float32], black: NDArray[np.uint8]) -> NDArray[np.float32]:
    """The lightness that is left under three inks and black; written over ``ink``."""
    ink += black
    np.subtract(np.float32(255.0), ink, out=ink)
    np.maximum(ink, np.float32(0.0), out=ink)
    return ink


@contextmanager
def unpacked(image: Any, boxes: tuple[PixelBox, ...]) -> Iterator[PicturePixels | None]:
    """The pixels of one of the engine's images, held while they are looked at; ``None`` where they cannot be had.

    A picture that cannot be decoded is told by the engine's warnings; here it is not looked at.
    """
    area = None
    if image.w * image.h > MOST_PIXELS:
        box = boxes[0]
        x, y = (box.x0 + box.x1 - MIDDLE_PX) // 2, (box.y0 + box.y1 - MIDDLE_PX) // 2
        box = PixelBox(max(box.x0, x), max(box.y0, y), min(box.x1, x + MIDDLE_PX), min(box.y1, y + MIDDLE_PX))
        area = m.ll_fz_make_irect(*box)
        boxes = (box,)
    bare = _bare_pixels(image)
    if bare is not None:
        yield _pixels_of(bare, _family(image.colorspace), boxes)
        return
    pixmap = None
    try:
        made = m.ll_fz_get_pixmap_from_image(image, area, None)
        pixmap = made[0] if isinstance(made, (tuple, list)) else made
    except Exception as fault:
        if "alloc" in str(fault) or "memory" in str(fault):
            raise MemoryError(str(fault)) from fault
    if not pixmap:
        yield None
        return
    size = m.ll_fz_pixmap_width(pixmap), m.ll_fz_pixmap_height(pixmap)
    if size != (image.w, image.h):
        # The part alone; where the engine had the whole at hand, it gives the whole.
        boxes = (PixelBox(0, 0, *size),)
    try:
        yield _pixels(pixmap, boxes)
    finally:
        m.ll_fz_drop_pixmap(pixmap)


def _bare_pixels(image: Any) -> NDArray[np.uint8] | None:
    """The bytes of a large picture that is stored as it is unpacked, where the engine has them: a second copy would hold the same.

    A smaller one the engine unpacks and keeps for when it is drawn again, which may be at another size.
    """
    packed = m.ll_fz_compressed_image_buffer(image)
    if not packed or packed.params.type != m.FZ_IMAGE_RAW or image.bpc != 8 or not image.colorspace:
        return None
    if image.imagemask or image.use_decode or image.use_colorkey or image.mask:
        return None
    if m.ll_fz_colorspace_is_indexed(image.colorspace):
        return None
    data = np.frombuffer(m.ll_fz_buffer_storage_memoryview(packed.buffer, False), dtype=np.uint8)
    size = image.h * image.w * image.n
    if size < KEPT_BELOW_BYTES or len(data) < size:
        return None
    return data[:size].reshape(image.h, image.w, image.n)


def _family(space: Any) -> str:
    return _FAMILIES.get(m.ll_fz_colorspace_type(space), "inks")


def _pixels(pixmap: Any, boxes: tuple[PixelBox, ...]) -> PicturePixels | None:
    parts, stride = m.ll_fz_pixmap_components(pixmap), m.ll_fz_pixmap_stride(pixmap)
    width, height = m.ll_fz_pixmap_width(pixmap), m.ll_fz_pixmap_height(pixmap)
    if min(width, height, parts) < 1:
        return None
    flat = np.frombuffer(m.ll_fz_pixmap_samples_memoryview(pixmap), dtype=np.uint8)[: stride * height]
    data = flat.reshape(height, stride)[:, : width * parts].reshape(height, width, parts)
    colours = parts - int(pixmap.alpha)
    if pixmap.alpha:
        data = data[..., :colours] if colours else data
    return _pixels_of(data, _family(pixmap.colorspace) if pixmap.colorspace else "gray", boxes)


def _pixels_of(data: NDArray[np.uint8], family: str, boxes: tuple[PixelBox, ...]) -> PicturePixels | None:
    height, width = data.shape[:2]
    inside = (PixelBox(max(0, box.x0), max(0, box.y0), min(width, box.x1), min(height, box.y1)) for box in boxes)
    large = tuple(box for box in inside if min(box.x1 - box.x0, box.y1 - box.y0) >= LEAST_PX)
    return PicturePixels(data, family, large) if large else None


def busiest_tiles(pixels: PicturePixels, most: int = MOST_TILES) -> list[tuple[slice, slice]]:
    """The tiles with most going on, all of one size; empty where all is flat."""
    side = [min(TILE_PX, *(box[axis + 2] - box[axis] for box in pixels.boxes)) for axis in (0, 1)]
    found = []
    for box in pixels.boxes:
        for top in _spread(box.y0, box.y1, side[1]):
            for left in _spread(box.x0, box.x1, side[0]):
                rows, columns = slice(top, top + side[1]), slice(left, left + side[0])
                sample = pixels.gray(slice(top + side[1] // 64, top + side[1], max(1, side[1] // 16)), columns)
                step = float(np.minimum(np.abs(np.diff(sample, axis=1)), 64.0).mean())
                found.append((step, rows, columns))
    found.sort(key=lambda tile: -tile[0])
    return [(rows, columns) for step, rows, columns in found[:most] if step >= _FLAT_STEP]


def _spread(start: int, stop: int, side: int) -> list[int]:
    """Where tiles begin, evenly over a length and at most so many."""
    count = min(_MOST_CANDIDATES, max(1, (stop - start) // side))
    if count == 1:
        return [(start + stop - side) // 2]
    return [start + (stop - side - start) * index // (count - 1) for index in range(count)]
