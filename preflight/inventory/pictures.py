"""Looks at the pixels of each picture that shows: was it blown up, printed before, packed hard, scanned askew or on tinted paper.

Each picture is looked at once however often it is placed in the file, and only the part of it that shows. Never the whole of it is
computed with: a handful of tiles of 512 pixels, the busiest ones, are. The pixels are the ones that the engine has just unpacked
to draw the page, so this reader comes after the plates. Lengths in pixels of the picture unless named otherwise; ppi and lpi are for
the placement with the fewest pixels to the inch.

To add a measurement: a function on ``picture_view.PicturePixels`` called in ``_look``, its answer kept in ``Look`` (in terms of pixels, so that it
holds for every placement), and turned into ``PictureFacts`` in ``_facts``.
"""

from __future__ import annotations

import hashlib
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, overload

import numpy as np
from numpy.typing import NDArray
from pymupdf import mupdf as m

from preflight.inventory.halftone import Screen, halftone
from preflight.inventory.jpeg_ends import ends_early, ends_in_one_colour
from preflight.inventory.jpeg_traces import packed_quality
from preflight.inventory.model import ImageUse, Painted, PictureFacts, ScreenSeen
from preflight.inventory.opening import Artwork
from preflight.inventory.picture_view import LEAST_PX, MOST_PIXELS, PicturePixels, PixelBox, busiest_tiles, unpacked
from preflight.inventory.scans import ScanLook, scan_look
from preflight.inventory.spectrum import true_resolution
from preflight.units import MM_PER_INCH, Box, Matrix

#: What is looked at on one page, the largest in print first: so many different pictures, unpacked to so many pixels together.
MOST_PICTURES = 150
MOST_PIXELS_A_PAGE = 800_000_000
#: What may be dots, so that agreement of frequencies tells nothing.
_DOTS_FROM = 0.2


@dataclass(frozen=True)
class Look:
    """What was seen in one picture, in terms of its pixels."""

    detail_share: float | None = None
    detail_confidence: float | None = None
    screens: tuple[Screen, ...] = ()
    #: The quality that the packed data was made at.
    jpeg_quality: float | None = None
    scan: ScanLook = field(default_factory=ScanLook)
    #: Why nothing was looked at.
    not_looked: str | None = None


def read_pictures(
    artwork: Artwork,
    images: tuple[tuple[str, Any], ...],
    painted: tuple[Painted, ...],
    *,
    size_known: bool = True,
    ignore_smaller_mm: float = 0.0,
) -> tuple[PictureFacts, ...]:
    """The facts of each picture that shows on a page, in order of painting. ``images`` come from ``trace_page``.

    Pictures placed smaller than ``ignore_smaller_mm`` on both sides everywhere are left out. Where a page has too many, the
    facts of the smallest say that they were not looked at.
    """
    engine = dict(images)
    placements: dict[str, list[Painted]] = {}
    for thing in painted:
        if thing.kind == "image" and thing.image is not None and thing.is_visible and thing.object_key in engine:
            placements.setdefault(thing.object_key, []).append(thing)
    wanted: dict[str, tuple[PixelBox, ...]] = {}
    for key, things in placements.items():
        if size_known and all(_is_small(thing, ignore_smaller_mm) for thing in things):
            continue
        boxes = _visible_boxes(things)
        if boxes:
            wanted[key] = boxes
    within = _affordable({key: placements[key] for key in wanted})
    facts = []
    for key, boxes in wanted.items():
        if key in within:
            look = _looked(artwork, engine[key], boxes)
            facts.append(_facts(key, placements[key], look, size_known=size_known))
        else:
            facts.append(PictureFacts(key, not_looked="the page has too many pictures"))
    return tuple(facts)


def _is_small(thing: Painted, limit_mm: float) -> bool:
    return thing.image is not None and max(thing.image.placed_mm) < limit_mm


def _affordable(placements: dict[str, list[Painted]]) -> set[str]:
    """The pictures that can be looked at on one page, the largest in print first."""

    def printed_mm2(key: str) -> float:
        return max(thing.image.placed_mm[0] * thing.image.placed_mm[1] for thing in placements[key] if thing.image)

    within: set[str] = set()
    pixels = 0
    for key in sorted(placements, key=printed_mm2, reverse=True):
        image = placements[key][0].image
        assert image is not None
        pixels += min(image.width_px * image.height_px, MOST_PIXELS)
        if len(within) == MOST_PICTURES or (pixels > MOST_PIXELS_A_PAGE and within):
            break
        within.add(key)
    return within


def let_go(images: tuple[tuple[str, Any], ...]) -> None:
    """Drops the engine's images that ``trace_page`` kept; once only."""
    for _, image in images:
        m.ll_fz_drop_image(image)


def _visible_boxes(things: list[Painted]) -> tuple[PixelBox, ...]:
    """The parts of a picture that show in its placements, large enough to tell anything."""
    boxes: list[PixelBox] = []
    for thing in things:
        box = _visible_box(thing)
        if min(box.x1 - box.x0, box.y1 - box.y0) < LEAST_PX:
            continue
        if not any(_holds(other, box) for other in boxes):
            boxes = [other for other in boxes if not _holds(box, other)] + [box]
    return tuple(boxes)


def _holds(one: PixelBox, other: PixelBox) -> bool:
    return one.x0 <= other.x0 and one.y0 <= other.y0 and one.x1 >= other.x1 and one.y1 >= other.y1


def _visible_box(thing: Painted) -> PixelBox:
    image = thing.image
    assert image is not None
    width, height = image.width_px, image.height_px
    whole = PixelBox(0, 0, width, height)
    if image.matrix_mm is None or thing.visible_mm is None or "pattern" in thing.inside or "type3" in thing.inside:
        return whole
    try:
        shown = Matrix(*image.matrix_mm).inverted().box(thing.visible_mm).intersect(Box(0.0, 0.0, 1.0, 1.0))
    except (ZeroDivisionError, OverflowError):
        return whole
    if shown.is_empty or not all(math.isfinite(side) for side in shown):
        return whole if shown != shown else PixelBox(0, 0, 0, 0)  # noqa: PLR0124 - not a number
    # A pixel that is cut counts as showing.
    return PixelBox(
        math.floor(shown.x0 * width + 0.01),
        math.floor(shown.y0 * height + 0.01),
        math.ceil(shown.x1 * width - 0.01),
        math.ceil(shown.y1 * height - 0.01),
    )


def _looked(artwork: Artwork, image: Any, boxes: tuple[PixelBox, ...]) -> Look:
    """What is seen in a picture, from what was seen before where it is the same picture and part."""
    # The part is rounded: a hair's breadth more or less of it shows the same.
    step = max(16, max(image.w, image.h) // 32)
    parts = tuple(PixelBox(*(round(side / step) for side in box)) for box in boxes)
    # Of an image file each page is a picture of its own.
    made_of = None if artwork.pictures else _fingerprint(image)
    if made_of is None:
        return _look(image, boxes)
    key = (made_of, image.w, image.h, image.n, parts)
    if key not in artwork.looked_pictures:
        artwork.looked_pictures[key] = _look(image, boxes)
    known: Look = artwork.looked_pictures[key]
    return known


def _fingerprint(image: Any) -> bytes | None:
    """What a picture's stored bytes are; ``None`` where the engine does not have them any more."""
    try:
        packed = m.ll_fz_compressed_image_buffer(image)
        if not packed:
            return None
        data = m.ll_fz_buffer_storage_memoryview(packed.buffer, False)
        return hashlib.blake2b(data, digest_size=16).digest()
    except Exception:
        return None


def _packed_quality(image: Any) -> float | None:
    """The quality a picture was packed at; ``None`` where it is not packed as JPEG."""
    try:
        packed = m.ll_fz_compressed_image_buffer(image)
        return packed_quality(m.ll_fz_buffer_storage_memoryview(packed.buffer, False)) if packed else None
    except Exception:
        return None


def _is_cut(image: Any, pixels: PicturePixels) -> bool:
    if len(pixels.data) != image.h or not ends_in_one_colour(pixels.data):
        return False
    packed = m.ll_fz_compressed_image_buffer(image)
    return ends_early(m.ll_fz_buffer_storage_memoryview(packed.buffer, False))


class _OnDemand(Sequence[NDArray[np.float32]]):
    """Tiles that are read from the picture when they are asked for: most pictures are told by the first two."""

    def __init__(self, read: Callable[[slice, slice], NDArray[np.float32]], places: list[tuple[slice, slice]]) -> None:
        self._read = read
        self._places = places
        self._kept: dict[int, NDArray[np.float32]] = {}

    def __len__(self) -> int:
        return len(self._places)

    @overload
    def __getitem__(self, index: int) -> NDArray[np.float32]: ...
    @overload
    def __getitem__(self, index: slice) -> list[NDArray[np.float32]]: ...
    def __getitem__(self, index: int | slice) -> NDArray[np.float32] | list[NDArray[np.float32]]:
        if isinstance(index, slice):
            return [self[place] for place in range(*index.indices(len(self)))]
        if index not in self._kept:
            self._kept[index] = self._read(*self._places[index])
        return self._kept[index]


def _look(image: Any, boxes: tuple[PixelBox, ...]) -> Look:
    one_bit = image.bpc == 1 and image.n <= 1
    with unpacked(image, boxes) as pixels:
        if pixels is None:
            return Look()
        quality = _packed_quality(image)
        if quality is not None and _is_cut(image, pixels):
            return Look(not_looked="JPEG data ends before the last row of the picture")
        places = busiest_tiles(pixels)
        if not places:
            return Look(jpeg_quality=quality)
        tiles = _OnDemand(pixels.gray, places)
        screens = halftone(tiles)
        # Dots agree with their own echoes; what was printed before is no matter of pixels any more.
        dots = any(screen.confidence >= _DOTS_FROM for screen in screens)
        share = None if one_bit or dots else true_resolution(tiles)
        if screens and pixels.family in ("rgb", "cmyk", "inks") and pixels.data.shape[2] > 1:
            screens = halftone(_OnDemand(pixels.planes, places)) or screens
        part, sure = share or (None, None)
        # A stencil has no paper of its own.
        scan = ScanLook() if image.imagemask else scan_look(pixels, one_bit=one_bit, dots=dots)
        return Look(part, sure, tuple(screens), quality, scan)


def _facts(key: str, things: list[Painted], look: Look, *, size_known: bool) -> PictureFacts:
    if look.not_looked is not None:
        return PictureFacts(key, not_looked=look.not_looked)
    uses = [thing.image for thing in things if thing.image is not None]
    use = min(uses, key=lambda image: min(image.x_ppi, image.y_ppi))
    stated = min(use.x_ppi, use.y_ppi) if size_known else None
    share = look.detail_share
    screens = tuple(_on_page(screen, use.matrix_mm, use.width_px, use.height_px) for screen in look.screens)
    if not size_known:
        screens = tuple(replace(screen, lpi=None) for screen in screens)
    first = screens[0] if screens else None
    return PictureFacts(
        object_key=key,
        detail_share=share,
        one_bit=use.bits == 1,
        screens=screens,
        true_ppi=None if share is None or stated is None else share * stated,
        stated_ppi=stated,
        upsampled_confidence=look.detail_confidence,
        screen_lpi=first.lpi if first else None,
        screen_angle_deg=first.angle_deg if first else None,
        screen_confidence=first.confidence if first else None,
        jpeg_quality=look.jpeg_quality,
        **_scan_facts(look.scan, use),
    )


def _scan_facts(scan: ScanLook, use: ImageUse) -> dict[str, Any]:
    drawing = scan.drawing
    one_bit = use.bits == 1
    return {
        "blocking": scan.blocking_percent,
        "details": {} if scan.quality is None else {"quality_in_pixels": scan.quality},
        "is_line_art": drawing is not None and scan.is_neutral and (one_bit or drawing.is_soft),
        "is_scan": drawing is not None and (one_bit or drawing.has_grain),
        "tilt_deg": _tilt_on_page(scan.tilt_deg, use),
        "paper_percent": None if drawing is None or one_bit else round(drawing.paper_percent, 1),
    }


def _tilt_on_page(tilt: float | None, use: ImageUse) -> float | None:
    """The tilt that is left on the page: a placement may set a scan straight; one turned on purpose is not askew for that."""
    if tilt is None or use.matrix_mm is None:
        return tilt
    a, b, c, d, _, _ = use.matrix_mm
    x, y = math.cos(math.radians(tilt)) / use.width_px, -math.sin(math.radians(tilt)) / use.height_px
    turned = math.degrees(math.atan2(b * x + d * y, a * x + c * y))
    left = (turned + 45.0) % 90.0 - 45.0
    return tilt if abs(left) > abs(tilt) else left


def _on_page(
    screen: Screen, matrix: tuple[float, float, float, float, float, float] | None, width: int, height: int
) -> ScreenSeen:
    """A lattice as it lies on the page: a wave of so many cycles a pixel, carried over by the placement."""
    seen = ScreenSeen(screen.frequency, screen.angle_deg, screen.confidence)
    if matrix is None:
        return seen
    a, b, c, d, _, _ = matrix
    det = a * d - b * c
    if det == 0.0:
        return seen
    # Cycles along the unit square's sides, then on the page: the inverse, transposed.
    along, down = screen.x * width, screen.y * height
    x, y = (d * along - b * down) / det, (a * down - c * along) / det
    return ScreenSeen(
        screen.frequency,
        math.degrees(math.atan2(y, x)) % 90.0,
        screen.confidence,
        math.hypot(x, y) * MM_PER_INCH,
    )
