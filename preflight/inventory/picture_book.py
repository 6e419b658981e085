"""Wraps pictures into a PDF, one a page, so that the same measuring serves them: straight to disk, a strip at a time.

Pixels are kept as they are (no resampling, no compression anew); JPEG data is taken over as it stands. Only what is needed of
ISO 32000-2 is written: catalogue, pages, image XObjects, an output intent for the press profile a picture brings.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import BinaryIO

from preflight.inventory.picture_layout import PlacedPicture
from preflight.units import pt_from_mm

#: From the unit square to the page (width w, height h), for each EXIF orientation (EXIF 2.32, tag 274).
_TURNS = {
    1: "{w} 0 0 {h} 0 0", 2: "-{w} 0 0 {h} {w} 0", 3: "-{w} 0 0 -{h} {w} {h}", 4: "{w} 0 0 -{h} 0 {h}",
    5: "0 -{h} -{w} 0 {w} {h}", 6: "0 -{h} {w} 0 0 {h}", 7: "0 {h} {w} 0 0 0", 8: "0 {h} -{w} 0 {w} 0",
}  # fmt: skip
LAB = "[/Lab << /WhitePoint [0.9642 1 0.8249] /Range [-128 127 -128 127] >>]"
_PAGES = 1
_CATALOGUE = 2


@dataclass(frozen=True)
class StoredImage:
    """An image as it stands in the file: its object number, its size as stored, where its data begins and how long it is."""

    number: int
    size_px: tuple[int, int]
    start: int
    length: int
    #: Nothing but the pixels, a byte for each part of each.
    is_bare: bool


class PictureBook:
    """A PDF being written to an open file; call ``finish`` when all pages are in."""

    def __init__(self, file: BinaryIO) -> None:
        self._file = file
        self._places: dict[int, int] = {}
        #: Where the data of each stream begins.
        self._starts: dict[int, int] = {}
        self._last = _CATALOGUE
        self._pages: list[int] = []
        self._intent: int | None = None
        self._write(b"%PDF-1.7\n")

    def profile(self, data: bytes, components: int) -> int:
        """Stores an ICC profile; gives its object number."""
        return self._stream(f"/N {components}", [data], len(data))

    def output_intent(self, profile: int, description: str) -> None:
        """Makes a CMYK profile the press condition of all pages."""
        if self._intent is None:
            name = "".join(letter for letter in description if (letter.isascii() and letter.isalnum()) or letter == " ")
            self._intent = self._object(
                f"<< /Type /OutputIntent /S /GTS_PDFX /OutputConditionIdentifier ({name}) /DestOutputProfile {profile} 0 R >>"
            )

    def image(
        self, size_px: tuple[int, int], bits: int, space: str, rows: Iterable[bytes], length: int, entries: str = ""
    ) -> StoredImage:
        """Stores an image from its rows (``length`` bytes together)."""
        width, height = size_px
        head = f"/Type /XObject /Subtype /Image /Width {width} /Height {height} /BitsPerComponent {bits} /ColorSpace {space} {entries}"
        number = self._stream(head, rows, length)
        is_bare = bits == 8 and space != LAB and not entries
        return StoredImage(number, size_px, self._starts[number], length, is_bare)

    def page(self, placed: PlacedPicture, image: StoredImage | None, orientation: int = 1) -> None:
        """A page of the picture's size with its trim; without an image it stays blank."""
        width, height = (f"{pt_from_mm(side):.4f}" for side in (placed.width_mm, placed.height_mm))
        margin = pt_from_mm(placed.margin_mm)
        trim = (margin, margin, pt_from_mm(placed.width_mm) - margin, pt_from_mm(placed.height_mm) - margin)
        content = b""
        if image is not None:
            content = f"q {_TURNS[orientation].format(w=width, h=height)} cm /Picture Do Q".encode()
        contents = self._stream("", [content], len(content))
        resources = f"<< /XObject << /Picture {image.number} 0 R >> >>" if image is not None else "<< >>"
        self._pages.append(
            self._object(
                f"<< /Type /Page /Parent {_PAGES} 0 R /MediaBox [0 0 {width} {height}] "
                f"/TrimBox [{' '.join(f'{side:.4f}' for side in trim)}] /Resources {resources} /Contents {contents} 0 R >>"
            )
        )

    def finish(self) -> None:
        """Writes the list of pages, the catalogue and the cross-reference table."""
        kids = " ".join(f"{page} 0 R" for page in self._pages)
        self._object(f"<< /Type /Pages /Count {len(self._pages)} /Kids [{kids}] >>", _PAGES)
        intents = f" /OutputIntents [{self._intent} 0 R]" if self._intent is not None else ""
        self._object(f"<< /Type /Catalog /Pages {_PAGES} 0 R{intents} >>", _CATALOGUE)
        start = self._file.tell()
        self._write(f"xref\n0 {self._last + 1}\n0000000000 65535 f \n".encode())
        for number in range(1, self._last + 1):
            self._write(f"{self._places[number]:010} 00000 n \n".encode())
        self._write(
            f"trailer << /Size {self._last + 1} /Root {_CATALOGUE} 0 R >>\nstartxref\n{start}\n%%EOF\n".encode()
        )
        self._file.flush()

    def _write(self, data: bytes) -> None:
        self._file.write(data)

    def _begin(self, number: int | None) -> int:
        if number is None:
            self._last += 1
            number = self._last
        self._places[number] = self._file.tell()
        return number

    def _object(self, body: str, number: int | None = None) -> int:
        number = self._begin(number)
        self._write(f"{number} 0 obj\n{body}\nendobj\n".encode())
        return number

    def _stream(self, entries: str, pieces: Iterable[bytes], length: int) -> int:
        number = self._begin(None)
        self._write(f"{number} 0 obj\n<< {entries} /Length {length} >>\nstream\n".encode())
        self._starts[number] = self._file.tell()
        for piece in pieces:
            self._write(piece)
        self._write(b"\nendstream\nendobj\n")
        return number
