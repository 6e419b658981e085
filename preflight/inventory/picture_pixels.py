"""The pixels of a supplied picture, strip by strip, in the form and the colour space they are wrapped in.

JPEG data is taken over as it stands; everything else is unpacked and stored as bare pixels, a strip of a megabyte at a time. Programs write
CMYK into JPEG upside down, with or without the marker that says so; whether a CMYK picture still looks inverted is told
from a sample of its pixels.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

from preflight.inventory.picture_book import LAB, PictureBook, StoredImage
from preflight.inventory.picture_header import FrameHeader

#: Unpacked pixels go through the processor's own memory; packed data is only copied.
_STRIP_BYTES = 1 << 20
_PIECE_BYTES = 1 << 20
#: Of a sample of pixels for the whole of them, in both directions.
_EVERY = 4
_INVERTED = "/Decode [1 0 1 0 1 0 1 0]"
#: Looks inverted: more than half of it over 300 % ink (a positive never is).
_INVERTED_INK_PERCENT = 300.0
_INVERTED_SHARE = 0.5


class NotSupported(Exception):
    """A picture of a kind that cannot be read here, or too large for the memory allowed; the message says it."""


def store_pixels(
    book: PictureBook, frame: Any, header: FrameHeader, kind: str, path: Path, profiles: dict[str, int]
) -> tuple[StoredImage, bool | None]:
    """Stores one frame's image; gives it as stored and whether it looks inverted (CMYK only)."""
    if kind == "jpeg" and header.bits == 8 and header.mode in ("L", "RGB", "CMYK"):
        space = _space(book, header, profiles, header.mode)
        # Programs write CMYK into JPEG upside down, with or without the marker that says so.
        entries = "/Filter /DCTDecode" + (f" {_INVERTED}" if header.mode == "CMYK" else "")
        size = header.width_px, header.height_px
        inverted = _looks_inverted(_reduced(frame)) if header.mode == "CMYK" else None
        return book.image(size, 8, space, _pieces(path), path.stat().st_size, entries), inverted
    frame.load()
    mode = _stored_mode(frame.mode)
    width, height = frame.size
    row = {"1": (width + 7) // 8, "L": width, "CMYK": 4 * width}.get(mode, 3 * width)
    space = _space(book, header, profiles, mode)
    rows = _Rows(frame, mode, header.bits)
    stored = book.image((width, height), 1 if mode == "1" else 8, space, rows, row * height)
    return stored, rows.looks_inverted if mode == "CMYK" else None


def _stored_mode(mode: str) -> str:
    if mode in ("1", "L", "RGB", "CMYK", "LAB"):
        return mode
    if mode in ("LA", "La") or mode.startswith("I;16"):
        return "L"
    if mode in ("P", "PA", "RGBA", "RGBa", "RGBX", "YCbCr"):
        return "RGB"
    raise NotSupported(f"kind not supported: pixels of the form {mode}")


def _space(book: PictureBook, header: FrameHeader, profiles: dict[str, int], mode: str) -> str:
    """The colour space of the stored pixels; a press profile becomes the output intent, an RGB profile the space."""
    if mode == "LAB":
        return LAB
    profile, data = header.profile, header.profile_data
    if profile is not None and data is not None and header.profile_fits and mode in ("CMYK", "RGB"):
        number = profiles.get(profile.md5)
        if number is None:
            number = profiles[profile.md5] = book.profile(data, 4 if mode == "CMYK" else 3)
        if mode == "RGB":
            return f"[/ICCBased {number} 0 R]"
        book.output_intent(number, profile.description or "profile of the picture")
    return {"CMYK": "/DeviceCMYK", "RGB": "/DeviceRGB"}.get(mode, "/DeviceGray")


class _Rows:
    """The pixels of an unpacked frame, strip by strip from the top, in the form they are stored in."""

    def __init__(self, frame: Any, mode: str, bits: int | None) -> None:
        self.frame = frame
        self.mode = mode
        #: Bits too many: 12-bit values come in 16-bit words.
        self.shift = max(0, min(16, bits or 16) - 8)
        self._heavy = 0
        self._seen = 0

    @property
    def looks_inverted(self) -> bool | None:
        return None if not self._seen else self._heavy > self._seen * _INVERTED_SHARE

    def __iter__(self) -> Iterator[bytes]:
        width, height = self.frame.size
        rows = max(1, _STRIP_BYTES // max(1, 4 * width * _EVERY)) * _EVERY
        for top in range(0, height, rows):
            strip = self.frame.crop((0, top, width, min(height, top + rows)))
            yield self._packed(strip)

    def _packed(self, strip: Any) -> bytes:
        import numpy as np

        if strip.mode.startswith("I;16"):
            return (np.asarray(strip).astype(np.uint16) >> self.shift).astype(np.uint8).tobytes()
        if strip.mode == "LAB":
            # Pillow gives a and b as signed bytes; the PDF counts from -128.
            return (np.asarray(strip) ^ np.array([0, 128, 128], np.uint8)).tobytes()
        if strip.mode != self.mode:
            strip = strip.getchannel("L") if strip.mode in ("LA", "La") else strip.convert(self.mode)
        if self.mode == "CMYK":
            heavy, seen = _heavy_pixels(strip)
            self._heavy += heavy
            self._seen += seen
        packed: bytes = strip.tobytes()
        return packed


def _heavy_pixels(image: Any) -> tuple[int, int]:
    """How many of a sample of pixels carry more ink than a positive ever does, and how many were looked at."""
    import numpy as np

    sample = np.asarray(image)[::_EVERY, ::_EVERY].astype(np.uint16).sum(axis=2)
    return int((sample > _INVERTED_INK_PERCENT / 100.0 * 255.0).sum()), int(sample.size)


def _looks_inverted(image: Any) -> bool:
    heavy, seen = _heavy_pixels(image)
    return heavy > seen * _INVERTED_SHARE


def _reduced(frame: Any) -> Any:
    """The picture at an eighth of its size: quick for JPEG."""
    frame.draft(None, (max(1, frame.width // 8), max(1, frame.height // 8)))
    frame.load()
    return frame


def _pieces(path: Path) -> Iterator[bytes]:
    with path.open("rb") as file:
        while piece := file.read(_PIECE_BYTES):
            yield piece
