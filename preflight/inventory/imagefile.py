"""Pictures supplied as files: header first, within a budget of memory, then wrapped into a PDF of their printed size.

TIFF (a page a frame), JPEG, PNG, PSD and WebP, as far as Pillow reads them. Nothing is unpacked before the header has said how large it
will be. JPEG data is taken over as it stands, everything else as bare pixels; transparency is ignored and noted, 16 bits are cut
to 8, colours from a palette become RGB. The press profile that a CMYK picture brings becomes the output intent of its pages, so that
its numbers reach the plates unchanged. A kind that cannot be read here is ``not_supported``; data that is cut is the file's fault.
"""

from __future__ import annotations

import logging
import os
import tempfile
import warnings
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pikepdf
from pymupdf import mupdf

from preflight.errors import ToolFault
from preflight.inventory.held_picture import DrawnAt, HeldPicture, hold_picture
from preflight.inventory.model import ImageFileFacts, OutputIntent
from preflight.inventory.page_tree import pages_of
from preflight.inventory.picture_book import PictureBook, StoredImage
from preflight.inventory.picture_header import FrameHeader, read_header, tiff_is_reduced
from preflight.inventory.picture_kinds import size_words, unread_jpeg, unread_psd, unread_tiff
from preflight.inventory.picture_layout import PlacedPicture, place_picture
from preflight.inventory.picture_pixels import NotSupported, store_pixels
from preflight.inventory.press import press_condition
from preflight.inventory.recognising import HEAD_BYTES
from preflight.inventory.warnings import take_warnings

if TYPE_CHECKING:
    from preflight.inventory.opening import Artwork

_FORMATS = {"tiff": ["TIFF"], "jpeg": ["JPEG", "MPO"], "png": ["PNG"], "psd": ["PSD"], "webp": ["WEBP"]}
_MOST_FRAMES = 2000
#: Without a limit from outside. Both engines and the plates need room beside the pixels.
_USUAL_LIMIT_BYTES = 2 << 30
_SHARE_FOR_PIXELS = 0.75
#: Bytes a pixel that Pillow takes, by mode; one byte for each bilevel or gray pixel, four for anything in colour.
_PILLOW_BYTES = {"1": 1, "L": 1, "P": 1, "I;16": 2, "I;16B": 2, "I;16L": 2}
#: Not in every build of the decoder.
_RARE_COMPRESSIONS = frozenset(
    ("webp", "zstd", "lzma", "jpeg2000", "tiff_thunderscan", "tiff_sgilog", "tiff_sgilog24", "lerc")
)


def open_picture(artwork: Artwork, memory_limit_bytes: int | None) -> None:
    """Reads a recognised picture file and gives the artwork its pages."""
    budget = int((memory_limit_bytes or _USUAL_LIMIT_BYTES) * _SHARE_FOR_PIXELS)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # what Pillow mutters about odd tags
            _wrap(artwork, budget)
    except NotSupported as reason:
        artwork.opened = replace(artwork.opened, pages=None, not_supported=str(reason))


def _wrap(artwork: Artwork, budget: int) -> None:
    from PIL import Image

    Image.MAX_IMAGE_PIXELS = None  # the budget below takes its place
    _read_spare_channels()
    logging.getLogger("PIL").propagate = False
    kind = artwork.opened.kind
    head = _head(artwork.path)
    _refuse_by_header(kind, artwork.path)
    try:
        image = Image.open(artwork.path, formats=_FORMATS[kind])
    except MemoryError:
        raise
    except Exception:
        _cannot_identify(artwork, kind)
        return
    with tempfile.NamedTemporaryFile(suffix=".pdf", delete=False) as file:
        wrapped = Path(file.name)
        try:
            with image:
                written = _write_book(artwork, image, kind, head, file, budget)
            # What it has unpacked is let go before the engine unpacks its own.
            image.close()
            file.close()
            if written is not None:
                _open_wrapped(artwork, wrapped, written)
        except OSError as fault:
            raise ToolFault(f"the picture cannot be unpacked to a temporary file: {fault.strerror or fault}") from fault
        finally:
            wrapped.unlink(missing_ok=True)


def _read_spare_channels() -> None:
    """Lets Pillow leave out a transparency channel beside four inks, as it does with a spot channel."""
    from PIL import TiffImagePlugin

    for order in (b"II", b"MM"):
        for kind in (1, 2):
            layout = (order, 5, (1,), 1, (8,) * 5, (kind,))
            TiffImagePlugin.OPEN_INFO.setdefault(layout, ("CMYK", "CMYKX"))


def _head(path: Path) -> bytes:
    with path.open("rb") as file:
        return file.read(HEAD_BYTES)


def _refuse_by_header(kind: str, path: Path) -> None:
    """Kinds that no decoder here reads, told before one stumbles over them."""
    words = {"psd": unread_psd, "jpeg": unread_jpeg}[kind](path) if kind in ("psd", "jpeg") else None
    if words is not None:
        raise NotSupported(f"kind not supported: {words}")


def _cannot_identify(artwork: Artwork, kind: str) -> None:
    """A file that starts like a picture and cannot be opened: an unusual kind of it, or damage."""
    if kind == "tiff":
        words = unread_tiff(artwork.path)
        if words is not None:
            raise NotSupported(f"kind not supported: {words}")
    artwork.opened = replace(
        artwork.opened, unreadable=f"damaged beyond repair: the header of this {kind.upper()} cannot be read"
    )


@dataclass(frozen=True)
class _Written:
    """The frames that became pages, and their images as they stand in the wrapped file."""

    headers: list[FrameHeader]
    images: list[StoredImage]


def _write_book(artwork: Artwork, image: Any, kind: str, head: bytes, file: Any, budget: int) -> _Written | None:
    """Writes all frames as pages; ``None`` where the whole picture is unreadable (the facts then say so)."""
    book = PictureBook(file)
    headers: list[FrameHeader] = []
    placed: list[PlacedPicture] = []
    images: list[StoredImage] = []
    profiles: dict[str, int] = {}
    inverted: bool | None = None
    for frame in _frames(artwork, image, kind):
        try:
            header = read_header(frame, kind, head)
        except Exception:
            _no_more_frames(artwork, len(headers))
            break
        _check_budget(header, budget)
        place = place_picture(*header.turned_px, *header.turned_ppi, artwork.job)
        number = len(headers) + 1
        headers.append(header)
        placed.append(place)
        try:
            stored, looks_inverted = store_pixels(book, frame, header, kind, artwork.path, profiles)
        except MemoryError:
            raise
        except NotSupported as reason:
            raise NotSupported(f"{reason}; {_size_of(header)}") from reason
        except Exception as fault:
            if isinstance(fault, OSError) and fault.errno is not None:
                raise
            if header.compression in _RARE_COMPRESSIONS:
                raise NotSupported(
                    f"kind not supported: TIFF with {header.compression} compression; {_size_of(header)}"
                ) from fault
            artwork.broken_frames[number] = "the picture's data is cut or damaged"
            book.page(place, None)
            continue
        inverted = looks_inverted if inverted is None else inverted or bool(looks_inverted)
        images.append(stored)
        book.page(place, stored, header.orientation)
    if not headers:
        return None
    if len(artwork.broken_frames) == len(headers):
        artwork.opened = replace(
            artwork.opened, unreadable="damaged beyond repair: the picture's data is cut or damaged"
        )
        return None
    book.finish()
    artwork.pictures = tuple(placed)
    artwork.opened = replace(artwork.opened, pages=len(headers), image_file=_facts(headers, inverted))
    return _Written(headers, images)


def _size_of(header: FrameHeader) -> str:
    return size_words(*header.turned_px, *header.turned_ppi)


def _frames(artwork: Artwork, image: Any, kind: str) -> Iterator[Any]:
    """The frames that are pages: all full-size ones of a TIFF, the first of anything else."""
    if kind != "tiff":
        yield image
        return
    for index in range(_MOST_FRAMES):
        try:
            image.seek(index)
        except EOFError:
            return
        except Exception:
            _no_more_frames(artwork, index)
            return
        if index == 0 or not tiff_is_reduced(image):
            yield image


def _no_more_frames(artwork: Artwork, read: int) -> None:
    """The list of frames cannot be followed any further: frames may be lost."""
    words = "damaged beyond repair: the header of the picture cannot be read"
    if read:
        artwork.repairs.of_file[f"the list of frames is damaged after frame {read}: more may be lost"] = None
        artwork.opened = replace(artwork.opened, repairs=tuple(artwork.repairs.of_file))
    else:
        artwork.opened = replace(artwork.opened, unreadable=words)


def _check_budget(header: FrameHeader, budget: int) -> None:
    need = header.width_px * header.height_px * _PILLOW_BYTES.get(header.mode, 4)
    if need > budget:
        raise NotSupported(
            f"{header.width_px} x {header.height_px} pixels need {need / 1e9:.1f} GB of memory, "
            f"{budget / 1e9:.1f} GB may be used for it"
        )


def _facts(headers: list[FrameHeader], inverted: bool | None) -> ImageFileFacts:
    first = headers[0]
    width, height = first.turned_px
    x_ppi, y_ppi = first.turned_ppi
    differing = {
        f"frame {number}": f"{header.mode}, {header.turned_px[0]} x {header.turned_px[1]} pixels"
        for number, header in enumerate(headers, 1)
        if (header.mode, header.turned_px) != (first.mode, first.turned_px)
    }
    marker = (
        {} if first.adobe_marker is None or first.mode != "CMYK" else {"adobe_marker": str(first.adobe_marker).lower()}
    )
    return ImageFileFacts(
        mode=first.mode,
        frames=max(len(headers), first.animation_frames),
        width_px=width,
        height_px=height,
        bits=first.bits,
        channels=first.channels,
        x_ppi=x_ppi,
        y_ppi=y_ppi,
        ppi_from=first.ppi_from,
        palette=first.mode in ("P", "PA"),
        alpha=any(header.alpha for header in headers),
        extra_channels=tuple(dict.fromkeys(name for header in headers for name in header.extra_channels)),
        layers=first.layers,
        profile_description=first.profile.description if first.profile else None,
        profile_fits=first.profile_fits,
        compression=first.compression,
        jpeg_quality=first.jpeg_quality,
        orientation=int(first.details.get("orientation", first.orientation)),
        looks_inverted=inverted,
        details={**differing, **marker},
    )


def _open_wrapped(artwork: Artwork, wrapped: Path, written: _Written) -> None:
    headers = written.headers
    take_warnings()
    artwork.pdf = pikepdf.open(wrapped)
    artwork.pages = pages_of(artwork.pdf)
    artwork.document = mupdf.pdf_open_document(os.fspath(wrapped))
    press_condition(artwork.document, artwork.job.press.profile)
    # Of several pages the engine holds the picture of the one it draws, no others.
    if len(headers) == len(written.images) == 1:
        artwork.held_picture = _held(artwork, wrapped, written)
    take_warnings()
    press = next((header.profile for header in headers if header.mode == "CMYK" and header.profile_fits), None)
    if press is not None:
        intent = OutputIntent(
            subtype="picture",
            identifier=press.description,
            profile_description=press.description,
            profile_components=press.components,
            profile_md5=press.md5,
            profile_bytes=press.bytes,
        )
        artwork.opened = replace(artwork.opened, output_intents=(intent,))


def _held(artwork: Artwork, wrapped: Path, written: _Written) -> HeldPicture | None:
    """The picture of the only page, where the engine can be handed its pixels."""
    (header,), (stored,), (placed,) = written.headers, written.images, artwork.pictures
    drawn = DrawnAt.of(placed, header.orientation, artwork.job.bleed_mm)
    try:
        with wrapped.open("rb", buffering=0) as file:
            return hold_picture(artwork.document, stored, drawn, file)
    except Exception:
        # Then the engine reads them from the wrapped file, and says what is amiss.
        return None
