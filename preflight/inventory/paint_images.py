"""How many pixels a picture has for the size it prints: along its own two axes, after every matrix.

Pixels an inch: 25.4 x pixels / length of the picture's axis in millimetres (ISO 32000-2, 8.9.5: a picture fills the unit
square). Pixels are only looked at (flat colour, nothing but rectangles) where that can matter: pictures coarser than a limit
of the caller's, and never more than 36 million of them at once.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray
from pymupdf import mupdf as m

from preflight.inventory.held_picture import held_bytes
from preflight.inventory.model import Colour, ImageUse
from preflight.inventory.paint_colour import ColourReader, address_of
from preflight.inventory.paint_paths import Numbers, Point
from preflight.units import MM_PER_INCH

MOST_PIXELS = 36_000_000
#: Larger contone pictures are looked at in a reduced size, which the decoder makes cheaply.
WHOLE_BELOW_PIXELS = 4_000_000
#: Values of one flat colour differ by no more than this of 255 (JPEG noise).
FLAT_WITHIN = 3
_SAMPLE_EVERY = 16
_FILTERS = {
    "FZ_IMAGE_JPEG": "DCTDecode",
    "FZ_IMAGE_JPX": "JPXDecode",
    "FZ_IMAGE_FAX": "CCITTFaxDecode",
    "FZ_IMAGE_JBIG2": "JBIG2Decode",
    "FZ_IMAGE_FLATE": "FlateDecode",
    "FZ_IMAGE_LZW": "LZWDecode",
    "FZ_IMAGE_RLD": "RunLengthDecode",
}
_FILTER_OF = {getattr(m, constant): name for constant, name in _FILTERS.items() if hasattr(m, constant)}


@dataclass(slots=True)
class Picture:
    """One picture as the engine holds it; kept alive while the page is traced."""

    engine: Any
    key: str
    width: int
    height: int
    bits: int
    parts: int
    is_mask: bool
    colour: Colour | None
    #: Whether parts of it let the ground through (a soft or stencil mask, or a colour key).
    has_holes: bool
    mask: Picture | None
    stored_bytes: int | None
    filter: str | None
    interpolate: bool
    #: Whether it is placed itself, not only the mask of another.
    is_named: bool = False
    looked: bool = False
    flat: bool | None = None
    #: Of a flat one, its strongest part (0 to 255).
    strength: int | None = None
    same_along: Literal["x", "y"] | None = None
    only_rectangles: bool | None = None

    @property
    def one_bit(self) -> bool:
        """Whether its pixels are of two tones."""
        return self.bits == 1 and self.parts <= 1


class ImageReader:
    """Reads pictures while one page is traced; ``close`` lets go of the engine's objects."""

    def __init__(self, colours: ColourReader, look_below_ppi: float) -> None:
        self.colours = colours
        self.look_below_ppi = look_below_ppi
        self.pictures: dict[int, Picture] = {}

    def held(self) -> tuple[tuple[str, Any], ...]:
        """The engine's images by object key, each kept once more: whoever takes them drops them."""
        return tuple([(picture.key, m.ll_fz_keep_image(picture.engine)) for picture in self.pictures.values()])

    def close(self) -> None:
        for picture in self.pictures.values():
            m.ll_fz_drop_image(picture.engine)
        self.pictures.clear()

    def picture(self, image: Any) -> Picture:
        """The picture behind one of the engine's images."""
        address = address_of(image)
        known = self.pictures.get(address)
        if known is not None:
            return known
        kept = m.ll_fz_keep_image(image)
        mask = image.mask
        stored, encoding = _stored(image)
        picture = Picture(
            engine=kept,
            key=f"image {len(self.pictures) + 1}",
            width=image.w,
            height=image.h,
            bits=image.bpc,
            parts=image.n,
            is_mask=bool(image.imagemask),
            colour=None if image.imagemask else self.colours.space_of(image.colorspace),
            has_holes=bool(mask) or bool(image.use_colorkey),
            mask=self.picture(mask) if mask else None,
            stored_bytes=stored,
            filter=encoding,
            interpolate=bool(image.interpolate),
        )
        self.pictures[address] = picture
        return picture

    def is_masked_away(self, picture: Picture) -> bool:
        """Whether a picture's mask lets nothing of it through, anywhere."""
        mask = picture.mask
        if mask is None:
            return False
        _look(mask)
        return mask.flat is True and mask.strength == 0

    def use(self, picture: Picture, matrix: Numbers, *, visible: bool) -> ImageUse:
        """One placement; ``matrix`` leads from the unit square to the page in millimetres."""
        a, b, c, d, _, _ = matrix
        width_mm, height_mm = math.hypot(a, b), math.hypot(c, d)
        picture.is_named = True
        mask = picture.mask
        use = ImageUse(
            width_px=picture.width,
            height_px=picture.height,
            bits=picture.bits,
            x_ppi=_ppi(picture.width, width_mm),
            y_ppi=_ppi(picture.height, height_mm),
            placed_mm=(width_mm, height_mm),
            stored_bytes=picture.stored_bytes,
            mask_px=(mask.width, mask.height) if mask else None,
            mask_ppi=(_ppi(mask.width, width_mm), _ppi(mask.height, height_mm)) if mask else None,
            mask_bits=mask.bits if mask else None,
            interpolate=picture.interpolate,
            filter=picture.filter,
            matrix_mm=matrix,
        )
        if visible and (picture.one_bit or min(use.x_ppi, use.y_ppi) < self.look_below_ppi):
            _look(picture)
            use = replace(
                use, flat=picture.flat, same_along=picture.same_along, only_rectangles=picture.only_rectangles
            )
        if visible and mask and use.mask_ppi and (mask.one_bit or min(use.mask_ppi) < self.look_below_ppi):
            _look(mask)
            plain = None if mask.flat is None else mask.flat or bool(mask.only_rectangles)
            use = replace(use, mask_plain=plain, mask_same_along=mask.same_along)
        return use


def corners_of(matrix: Numbers) -> list[Point]:
    """The corners of the placed unit square, in turn."""
    a, b, c, d, e, f = matrix
    return [(e, f), (a + e, b + f), (a + c + e, b + d + f), (c + e, d + f)]


def _ppi(pixels: int, length_mm: float) -> float:
    """Zero where a picture is squeezed to nothing: it cannot be seen then, and infinity is no figure."""
    return pixels * MM_PER_INCH / length_mm if length_mm > 0.0 else 0.0


def _stored(image: Any) -> tuple[int | None, str | None]:
    """Bytes as they stand in the file, and how they are packed; unknown for what the engine unpacked at once."""
    try:
        packed = m.ll_fz_compressed_image_buffer(image)
        if not packed:
            return held_bytes(image), None
        size = m.ll_fz_buffer_storage(packed.buffer)[0]
        return int(size), _FILTER_OF.get(packed.params.type)
    except Exception:
        return None, None


def _look(picture: Picture) -> None:
    """Looks at the pixels once: all the same, or (one bit) nothing but upright rectangles."""
    if picture.looked:
        return
    picture.looked = True
    if picture.width * picture.height > MOST_PIXELS:
        return
    try:
        if held_bytes(picture.engine) is not None and not _a_sample_is_flat(picture):
            picture.flat = False
            return
        pixels = _pixels(picture, whole=picture.one_bit)
    except Exception:  # a picture that cannot be decoded is told by the engine's warnings; here it is not looked at
        return
    if pixels is None:
        return
    # A few pixels tell most pictures from a flat one; only where they are alike are all of them looked at.
    picture.flat = _is_flat(pixels[::_SAMPLE_EVERY, ::_SAMPLE_EVERY]) and _is_flat(pixels)
    if picture.flat:
        picture.strength = int(pixels.max(initial=0))
    else:
        picture.same_along = _same_along(pixels)
    if picture.one_bit:
        picture.only_rectangles = is_rectangles(_tones(pixels))


def _tones(pixels: NDArray[np.uint8]) -> NDArray[np.bool_]:
    """Which pixels are of the other tone than the first: a palette may tell its two apart in any part of the colour."""
    told_apart = next((part for part in range(pixels.shape[-1]) if np.ptp(pixels[..., part]) > 0), 0)
    plane = pixels[..., told_apart]
    other: NDArray[np.bool_] = plane != plane.flat[0] if plane.size else plane > 0
    return other


def _same_along(pixels: NDArray[np.uint8]) -> Literal["x", "y"] | None:
    """The axis along which all pixels are alike; a few of them tell most pictures from such a strip."""
    axes: tuple[tuple[int, Literal["x", "y"]], ...] = ((1, "x"), (0, "y"))
    for axis, name in axes:
        few = pixels[:, ::_SAMPLE_EVERY] if axis else pixels[::_SAMPLE_EVERY]
        if all((np.ptp(some, axis=axis) <= FLAT_WITHIN).all() for some in (few, pixels)):
            return name
    return None


def _is_flat(pixels: NDArray[np.uint8]) -> bool:
    if not pixels.size:
        return True
    return bool((np.ptp(pixels.reshape(-1, pixels.shape[-1]), axis=0) <= FLAT_WITHIN).all())


def _reduced_size(picture: Picture) -> tuple[float, float] | None:
    """The size in which a large picture is looked at; ``None``: its own."""
    if picture.width * picture.height <= WHOLE_BELOW_PIXELS:
        return None
    shrink = math.sqrt(picture.width * picture.height / WHOLE_BELOW_PIXELS)
    return picture.width / shrink, picture.height / shrink


def _halvings(picture: Picture) -> int:
    """How often the engine halves a picture for that size: it never makes it smaller."""
    size = _reduced_size(picture)
    times = 0
    while size is not None and all(
        side >> (times + 1) >= int(wanted) + 2
        for side, wanted in zip((picture.width, picture.height), size, strict=True)
    ):
        times += 1
    return times


def _a_sample_is_flat(picture: Picture) -> bool:
    """Of a picture that the engine holds unpacked, and so does not reduce itself: some of the squares it would put together."""
    side = 1 << _halvings(picture)
    with _unpacked(picture, None) as data:
        if data is None:
            return True
        whole = data[: len(data) // side * side, : data.shape[1] // side * side]
        sums = sum(
            whole[y :: _SAMPLE_EVERY * side, x :: _SAMPLE_EVERY * side].astype(np.uint32)
            for y in range(side)
            for x in range(side)
        )
        return _is_flat(np.asarray(sums) // side**2)


def _pixels(picture: Picture, *, whole: bool) -> NDArray[np.uint8] | None:
    """Rows, columns, colour parts; in a reduced size for large pictures unless asked for whole."""
    size = None if whole else _reduced_size(picture)
    with _unpacked(picture, size) as data:
        return None if data is None else data.copy()


@contextmanager
def _unpacked(picture: Picture, size: tuple[float, float] | None) -> Iterator[NDArray[np.uint8] | None]:
    """The engine's own pixels while they are looked at, not much larger than ``size`` where it can reduce them cheaply."""
    matrix = None if size is None else m.ll_fz_make_matrix(size[0], 0.0, 0.0, size[1], 0.0, 0.0)
    made = m.ll_fz_get_pixmap_from_image(picture.engine, None, matrix)
    pixmap = made[0] if isinstance(made, (tuple, list)) else made
    if not pixmap:
        yield None
        return
    try:
        if size is not None and held_bytes(picture.engine) is not None and _halvings(picture):
            whole, pixmap = pixmap, m.ll_fz_clone_pixmap(pixmap)
            m.ll_fz_drop_pixmap(whole)
            m.ll_fz_subsample_pixmap(pixmap, _halvings(picture))
        parts, stride = m.ll_fz_pixmap_components(pixmap), m.ll_fz_pixmap_stride(pixmap)
        width, height = m.ll_fz_pixmap_width(pixmap), m.ll_fz_pixmap_height(pixmap)
        data = np.frombuffer(m.ll_fz_pixmap_samples_memoryview(pixmap), dtype=np.uint8)[: stride * height]
        yield data.reshape(height, stride)[:, : width * parts].reshape(height, width, parts)
    finally:
        m.ll_fz_drop_pixmap(pixmap)


def is_rectangles(pixels: NDArray[np.bool_]) -> bool:
    """Whether one of the two tones lies in nothing but upright rectangles that do not touch.

    Such a tone has no inner corner: nowhere do three of four neighbouring pixels, or two across a corner, belong to it.
    """
    a, b, c, d = pixels[:-1, :-1], pixels[:-1, 1:], pixels[1:, :-1], pixels[1:, 1:]
    if a.size == 0:
        return True
    count = a.astype(np.uint8) + b + c + d
    across = (a & d & ~b & ~c) | (b & c & ~a & ~d)
    if across.any():
        return False
    return not (count == 3).any() or not (count == 1).any()
