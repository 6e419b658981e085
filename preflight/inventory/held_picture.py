"""Hands the engine the pixels of a supplied picture unpacked, once: from its file it would hold them twice, packed and unpacked.

A picture file of one page is one picture that fills it. Its bare pixels go straight from the wrapped file into the engine's memory,
where its store gives them out as that page's picture, while plates are made and the picture is looked at. The wrapped file holds them
as well, and the engine reads them there whenever the store does not have them. Only pictures are held of which the engine would draw
the same plates from the file, to the last pixel: it halves what is far too fine before it scales it, and of what is cut it scales only
the part that shows.
"""

from __future__ import annotations

from dataclasses import dataclass
from io import FileIO
from typing import Any

from pymupdf import mupdf

from preflight.inventory.paint_colour import address_of
from preflight.inventory.picture_book import StoredImage
from preflight.inventory.picture_layout import PlacedPicture
from preflight.inventory.picture_view import KEPT_BELOW_BYTES
from preflight.inventory.plates import LOOK_FURTHER_MM, resolution_for

#: What held pictures take in their files, by the address of the engine's image, which does not tell it itself.
_HELD_BYTES: dict[int, int] = {}


class HeldPicture:
    """A picture that stays in the engine's store until it is let go; from then on the engine reads it from the wrapped file."""

    def __init__(self, name: Any, image: Any, stored_bytes: int) -> None:
        self._name = name
        self._image = image
        self._stored_bytes = stored_bytes
        self._address = address_of(image.m_internal)
        _HELD_BYTES[self._address] = stored_bytes

    def let_go(self) -> None:
        del _HELD_BYTES[self._address]
        self._image = None
        # The store would give it out as long as it lasts.
        mupdf.fz_empty_store()

    def give_back(self, document: Any) -> None:
        """Lets go of it and leaves the engine's store as it is after the engine has drawn the picture itself.

        Of one that is there unpacked it scales the whole for any part of a page, of another only what that part shows.
        """
        self.let_go()
        if self._stored_bytes < KEPT_BELOW_BYTES:
            image = mupdf.pdf_load_image(document, self._name)
            made = mupdf.ll_fz_get_pixmap_from_image(image.m_internal, None, None)
            mupdf.ll_fz_drop_pixmap(made[0] if isinstance(made, (tuple, list)) else made)


def held_bytes(image: Any) -> int | None:
    """The bytes that a picture (``fz_image``) takes in its file, if it is a held one."""
    return _HELD_BYTES.get(address_of(image)) if _HELD_BYTES else None


def hold_picture(document: Any, stored: StoredImage, drawn: DrawnAt, file: FileIO) -> HeldPicture | None:
    """Reads the bare pixels of a wrapped picture into the engine's memory; ``None`` where the engine had better do so itself."""
    if not stored.is_bare or not drawn.as_one_whole(stored.size_px):
        return None
    name = mupdf.pdf_new_indirect(document, stored.number, 0)
    space = mupdf.pdf_load_colorspace(mupdf.pdf_dict_gets(name, "ColorSpace"))
    pixmap = mupdf.fz_new_pixmap(space, *stored.size_px, mupdf.FzSeparations(), 0)
    samples = mupdf.ll_fz_pixmap_samples_memoryview(pixmap.m_internal)
    file.seek(stored.start)
    if len(samples) != stored.length or file.readinto(samples) != stored.length:
        return None
    image = mupdf.fz_new_image_from_pixmap(pixmap, mupdf.FzImage())
    # Not counted as the store's own: what is held cannot be thrown out to make room.
    mupdf.ll_pdf_store_item(name.m_internal, image.m_internal, 1)
    return HeldPicture(name, image, stored.length)


@dataclass(frozen=True)
class DrawnAt:
    """How a page's plates show the picture that fills it."""

    #: The lengths that the picture's rows and columns have on the page.
    sides_mm: tuple[float, float]
    #: What of each edge lies outside the plates.
    cut_mm: float = 0.0

    @classmethod
    def of(cls, placed: PlacedPicture, orientation: int, bleed_mm: float) -> DrawnAt:
        sides_mm = placed.width_mm, placed.height_mm
        return cls(sides_mm[::-1] if orientation >= 5 else sides_mm, placed.margin_mm - bleed_mm - LOOK_FURTHER_MM)

    @property
    def pixels_per_mm(self) -> float:
        """What plates of such a page are rendered at."""
        return resolution_for(self.sides_mm[0] * self.sides_mm[1])

    def as_one_whole(self, size_px: tuple[int, int]) -> bool:
        """Whether the engine would unpack all of the picture, not halve it, and make it smaller for the plates."""
        drawn_px = [side * self.pixels_per_mm for side in self.sides_mm]
        is_smaller = all(drawn <= stored for drawn, stored in zip(drawn_px, size_px, strict=True))
        is_halved = all(int(drawn) <= stored // 2 for drawn, stored in zip(drawn_px, size_px, strict=True))
        return self.cut_mm <= 0.0 and is_smaller and not is_halved
