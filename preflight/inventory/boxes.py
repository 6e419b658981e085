"""The boxes of a page as they stand in the file, and the trim that follows from them.

Boxes: ISO 32000-2, Table 31 and 14.11.2. Media and crop box, rotation and (here only) resources are inherited; trim, bleed and art box are
not, and a box found further up the page tree counts for nothing. Corners come in any order (7.9.5). Boxes are cut to the media box.

The trim: the trim box, else the art box; else, where the order gives a size, that size centred in the page if it leaves the same
margin all round (1 to 10 mm, the four sides within 0.5 mm of each other) or none (the page is the ordered size within
0.5 mm), in either orientation; else the crop box. Lengths are millimetres in trim space, after rotation and user unit.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from preflight.inventory.model import PageBoxes
from preflight.inventory.objects import is_array, items_of, number_of, object_number
from preflight.units import Box, PageFrame, pt_from_mm

if TYPE_CHECKING:
    from preflight.inventory.opening import Artwork
    from preflight.inventory.page_tree import PageEntry
    from preflight.ticket import Job

#: What readers take where a page states no size (612 x 792 points, US Letter).
_LETTER = Box(0.0, 0.0, 612.0, 792.0)
#: Nothing that is printed is larger (in points; 350 m).
_LARGEST_PT = 1_000_000.0

LEAST_MARGIN_MM = 1.0
MOST_MARGIN_MM = 10.0
EVEN_WITHIN_MM = 0.5


class BoxesUncertain(Exception):
    """The two engines see different boxes, or the page is not there: nothing can be measured on it."""


@dataclass(frozen=True)
class Geometry:
    """How a page lies: its frame, the trim and where it was taken from, and what is on offer around it (trim space, mm).

    ``trim_mm`` is ``None`` for a picture of unknown size; the frame then places it at 72 pixels to the inch, for drawing only.
    """

    frame: PageFrame
    trim_from: str
    trim_mm: tuple[float, float] | None
    bleed_mm: tuple[float, float, float, float] | None
    media_mm: Box
    crop_mm: Box | None
    zone_mm: Box


def read_boxes(artwork: Artwork, number: int) -> PageBoxes:
    """The boxes of a page (from 1). Raises ``BoxesUncertain`` where the page is missing or the engines disagree."""
    page = artwork.page(number)
    if page.dictionary is None:
        raise BoxesUncertain("the page is named in the file but not in it")
    faults: list[str] = []
    filled_in = object_number(page.dictionary) in artwork.repairs.without_media_box
    media = None if filled_in else _box(page, "MediaBox", faults)
    if media is None:
        faults.append("the page states no usable size (media box); 612 x 792 pt is taken")
    boxes = PageBoxes(
        media=media or _LETTER,
        crop=_box(page, "CropBox", faults),
        bleed=_box(page, "BleedBox", faults),
        trim=_box(page, "TrimBox", faults),
        art=_box(page, "ArtBox", faults),
        rotation=_rotation(page, faults),
        user_unit=_user_unit(page, faults),
        faults=tuple(faults),
        size_from=artwork.pictures[number - 1].size_from if artwork.pictures else "",
    )
    _compare(artwork, number, media)
    return boxes


def settle_geometry(boxes: PageBoxes, job: Job) -> Geometry:
    """Settles what the trim is, and what lies around it."""
    media = boxes.media
    crop = _cut(boxes.crop, media)
    trim, trim_from = _cut(boxes.trim, media), "trim-box"
    if boxes.size_from:
        trim_from = boxes.size_from
    if trim is None:
        trim, trim_from = _cut(boxes.art, media), "art-box"
    if trim is None and not boxes.size_from:
        trim, trim_from = _from_order(boxes, crop or media, job), "ticket"
    if trim is None:
        trim, trim_from = crop or media, boxes.size_from or "crop-box"
    frame = PageFrame(media, trim, boxes.rotation, boxes.user_unit)
    media_mm = frame.media_mm
    trim_mm = frame.trim_mm
    offered = frame.box_mm(_cut(boxes.bleed, media) or media)
    known = boxes.size_from != "unknown"
    bleed_mm = (
        max(0.0, -offered.x0),
        max(0.0, -offered.y0),
        max(0.0, offered.x1 - trim_mm.x1),
        max(0.0, offered.y1 - trim_mm.y1),
    )
    return Geometry(
        frame=frame,
        trim_from=trim_from,
        trim_mm=(trim_mm.width, trim_mm.height) if known else None,
        bleed_mm=bleed_mm if known else None,
        media_mm=media_mm,
        crop_mm=frame.box_mm(crop) if crop is not None else None,
        zone_mm=trim_mm.grow(job.bleed_mm).intersect(media_mm) if known else media_mm,
    )


def ordered_box_mm(page_mm: tuple[float, float], order_mm: tuple[float, float]) -> tuple[float, float] | None:
    """The ordered size (in the orientation that fits) if a page is that size, or larger by an even margin; else ``None``.

    A page of the ordered size, within the tolerance, is itself the answer.
    """
    for width, height in (order_mm, order_mm[::-1]):
        over = page_mm[0] - width, page_mm[1] - height
        if max(abs(side) for side in over) <= EVEN_WITHIN_MM:
            return page_mm
        margins = over[0] / 2.0, over[1] / 2.0
        even = abs(margins[0] - margins[1]) <= EVEN_WITHIN_MM
        least, most = LEAST_MARGIN_MM - EVEN_WITHIN_MM, MOST_MARGIN_MM + EVEN_WITHIN_MM
        if even and all(least <= margin <= most for margin in margins):
            return width, height
    return None


def _from_order(boxes: PageBoxes, page: Box, job: Job) -> Box | None:
    """The ordered size, centred in the page, in PDF user space."""
    if job.order.trim_mm is None:
        return None
    frame = PageFrame(boxes.media, page, boxes.rotation, boxes.user_unit)
    size_mm = ordered_box_mm((frame.trim_mm.width, frame.trim_mm.height), job.order.trim_mm)
    if size_mm is None:
        return None
    if boxes.rotation % 180:
        size_mm = size_mm[::-1]
    width, height = (pt_from_mm(side) / boxes.user_unit for side in size_mm)
    x, y = (page.x0 + page.x1) / 2.0, (page.y0 + page.y1) / 2.0
    return Box(x - width / 2.0, y - height / 2.0, x + width / 2.0, y + height / 2.0)


def _cut(box: Box | None, media: Box) -> Box | None:
    """A box cut to the media box (14.11.2); one that lies wholly outside it is none."""
    if box is None:
        return None
    cut = box.intersect(media)
    return cut if cut.width > 0.0 and cut.height > 0.0 else None


def _box(page: PageEntry, name: str, faults: list[str]) -> Box | None:
    value = page.value(f"/{name}")
    if value is None:
        return None
    box = _rectangle(value)
    if box is None:
        faults.append(f"{name} is no rectangle with an area and was left out")
    return box


def _rectangle(value: Any) -> Box | None:
    numbers = [number_of(item) for item in items_of(value)[:5]] if is_array(value) else []
    if len(numbers) != 4 or any(number is None or abs(number) > _LARGEST_PT for number in numbers):
        return None
    box = Box.normal([number for number in numbers if number is not None])
    return box if box.width > 0.0 and box.height > 0.0 else None


def _rotation(page: PageEntry, faults: list[str]) -> int:
    value = page.value("/Rotate")
    if value is None:
        return 0
    turn = number_of(value)
    if turn is None:
        faults.append("Rotate is no number and was left out")
        return 0
    if turn % 90:
        faults.append(f"Rotate is {turn:g}, no multiple of 90; the nearest is taken")
    return 90 * int((turn % 360 + 45) // 90) % 360


def _user_unit(page: PageEntry, faults: list[str]) -> float:
    value = page.value("/UserUnit")
    if value is None:
        return 1.0
    unit = number_of(value)
    if unit is None or unit <= 0.0:
        faults.append("UserUnit is no positive number; 1 is taken")
        return 1.0
    return unit


def _compare(artwork: Artwork, number: int, media: Box | None) -> None:
    """Both engines must see the same media box, or their measures cannot be laid over each other."""
    from pymupdf import mupdf

    page = mupdf.pdf_lookup_page_obj(artwork.document, number - 1)
    value = mupdf.pdf_dict_gets_inheritable(page, "MediaBox")
    seen = None
    if mupdf.pdf_is_array(value) and mupdf.pdf_array_len(value) == 4:
        seen = Box.normal([float(mupdf.pdf_to_real(mupdf.pdf_array_get(value, index))) for index in range(4)])
        seen = seen if seen.width > 0.0 and seen.height > 0.0 else None
    alike = (media is None) == (seen is None)
    if media is not None and seen is not None:
        alike = all(abs(one - other) <= max(0.01, abs(one) * 1e-6) for one, other in zip(media, seen, strict=True))
    if not alike:
        raise BoxesUncertain("the page has two different sizes (media boxes), depending on who reads it")
