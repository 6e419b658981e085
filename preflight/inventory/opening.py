"""Opens a customer's file, whatever it turns out to be, with both engines, and says what kind of file it is.

The file is only read. It is recognised by content; a PDF is opened for its structure (qpdf through pikepdf) and for drawing (MuPDF), and both
must agree on the number of pages. In the drawing engine's memory, and nowhere else, four things are set so that plates are what a
press would get: each page's crop box is its media box (content outside the crop box prints too), the press condition stands where
the file brings none, each layer has its print state, and colours without ink paint nothing. Pictures are wrapped into a PDF of their printed size.

What is wrong with the file is a fact (``DocumentFacts``); only a file that cannot be read from disk raises (``ToolFault``).
"""

from __future__ import annotations

import hashlib
import os
from collections import deque
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path
from types import TracebackType
from typing import Any, Self

import pikepdf
from pymupdf import mupdf

from preflight.errors import ToolFault
from preflight.inventory.layers import read_layers, settle_layers
from preflight.inventory.model import DocumentFacts, Layer
from preflight.inventory.objects import clean_text
from preflight.inventory.page_tree import PageEntry, PageTreeFault, pages_of
from preflight.inventory.press import press_condition
from preflight.inventory.recognising import HEAD_BYTES, recognise
from preflight.inventory.repairs import Repairs
from preflight.inventory.settling import PageSettler
from preflight.inventory.warnings import classify_warnings, take_warnings
from preflight.ticket import Job

__all__ = ["Artwork", "classify_warnings", "open_artwork", "take_warnings"]

_CHUNK_BYTES = 1 << 20
#: An end marker must lie in the last bytes (ISO 32000-1, Annex H, 3.4.4: the last 1024).
_TAIL_BYTES = 2048
_REBUILT = "the cross-reference table was missing or wrong and was rebuilt"


class Artwork:
    """One open file: its facts, its structure (``pdf``) and its drawing engine's document (``document``).

    ``pdf`` and ``document`` are ``None`` where the file cannot be opened; then ``facts`` say why. Use it in a ``with`` statement.
    """

    def __init__(self, path: Path, name: str, opened: DocumentFacts, job: Job) -> None:
        self.path = path
        self.name = name
        self.job = job
        #: What opening alone has told.
        self.opened = opened
        self.pdf: pikepdf.Pdf | None = None
        self.document: Any = None
        self.pages: list[PageEntry] = []
        self.repairs = Repairs()
        #: What both engines said while opening, as they said it.
        self.warnings: list[str] = []
        #: Image files: how each page's picture is placed (``imagefile.PlacedPicture``).
        self.pictures: tuple[Any, ...] = ()
        #: Image files: the picture whose pixels the engine was handed (``held_picture.HeldPicture``).
        self.held_picture: Any = None
        #: Image files: frames whose data is damaged, by page.
        self.broken_frames: dict[int, str] = {}
        #: Results kept because objects are shared by pages: what is wrong with a stream, by object number.
        self.stream_faults: dict[int, Any] = {}
        #: The same for font programs.
        self.font_faults: dict[int, str | None] = {}
        #: Parts that objects name and the file does not hold, by object number.
        self.missing_parts: dict[int, tuple[str, ...]] = {}
        #: The resources used by the page looked at last, and its number.
        self.last_uses: tuple[int, Any] | None = None
        #: Whether it says that it is PDF/X, once looked at.
        self.makes_claim: bool | None = None
        #: What was seen in a picture's pixels, by what it is made of and the part that shows.
        self.looked_pictures: dict[Any, Any] = {}
        self._page_settler: PageSettler | None = None
        self._facts: DocumentFacts | None = None
        self._file: int | None = None

    @property
    def facts(self) -> DocumentFacts:
        """The facts of the file as a whole, read when first asked for."""
        if self._facts is None:
            from preflight.inventory.document import read_document

            self._facts = read_document(self)
        return self._facts

    def page(self, number: int) -> PageEntry:
        """A page's entry in the structure; pages count from 1."""
        return self.pages[number - 1]

    def mupdf_page(self, number: int) -> Any:
        """A page for drawing (``mupdf.PdfPage``), its crop box set to its media box and drawn at a unit that has a size; from 1."""
        page = mupdf.pdf_lookup_page_obj(self.document, number - 1)
        media = mupdf.pdf_dict_gets_inheritable(page, "MediaBox")
        if mupdf.pdf_is_array(media) and mupdf.pdf_array_len(media) == 4:
            mupdf.pdf_dict_puts(page, "CropBox", mupdf.pdf_copy_array(media))
        unit = mupdf.pdf_dict_gets(page, "UserUnit")
        if mupdf.pdf_is_number(unit) and mupdf.pdf_to_real(unit) <= 0.0:
            mupdf.pdf_dict_dels(page, "UserUnit")
        self._settler().settle(page)
        return mupdf.pdf_load_page(self.document, number - 1)

    def _settler(self) -> PageSettler:
        if self._page_settler is None:
            printed = {layer.object_number: layer.printed for layer in self.layers}
            self._page_settler = PageSettler(self.document, printed)
        return self._page_settler

    @cached_property
    def layers(self) -> tuple[Layer, ...]:
        """The layers, read once: whether one is in use may take a look through the whole file."""
        return read_layers(self.pdf) if self.pdf is not None else ()

    def take_structure_warnings(self) -> None:
        """Sorts in what the structure reader has said since the last time."""
        if self.pdf is not None:
            for warning in self.pdf.get_warnings():
                self.warnings.append(str(warning))
                self.repairs.add(str(warning))

    def before_parts_are_drawn(self) -> None:
        """To be called before less than a whole page is drawn: the engine then has its pictures from the file."""
        if self.held_picture is not None:
            held, self.held_picture = self.held_picture, None
            held.give_back(self.document)

    def close(self) -> None:
        """Lets go of the file."""
        if self.held_picture is not None:
            self.held_picture.let_go()
            self.held_picture = None
        self.document = None
        self._page_settler = None
        self.pages = []
        self.last_uses = None
        if self.pdf is not None:
            self.pdf.close()
            self.pdf = None
        if self._file is not None:
            os.close(self._file)
            self._file = None

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, fault: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()


def open_artwork(
    path: Path,
    *,
    name: str | None = None,
    job: Job,
    memory_limit_bytes: int | None = None,
    known: DocumentFacts | None = None,
) -> Artwork:
    """Opens a file and says what it is. ``name`` is what reports call it.

    Where the file is ``known`` from an earlier opening, it is not read through once more for its hash. Raises ``ToolFault`` where
    it cannot be read from disk or has another size than it had, and ``MemoryError`` where memory runs out.
    """
    shown = clean_text(name if name is not None else path.name)
    first = _first_look(path) if known is None or known.sha256 is None else _look_again(path, known.sha256)
    if known is not None and known.bytes is not None and known.bytes != first.size:
        raise ToolFault(f"{clean_text(str(path))} was changed while it was read")
    found = recognise(first.head)
    facts = DocumentFacts(name=shown, kind=found.kind, bytes=first.size, sha256=first.sha256, pages=None)
    artwork = Artwork(path, shown, facts, job)
    try:
        if first.size == 0:
            artwork.opened = replace(facts, kind="unknown", unreadable="the file is empty (0 bytes)")
        elif found.kind == "pdf":
            _open_pdf(artwork, first, found.offset)
        elif found.kind == "unknown" and found.of_the_trade:
            artwork.opened = replace(facts, not_supported=f"kind not supported: {found.words}")
        elif found.kind == "unknown":
            artwork.opened = replace(facts, unreadable=f"this is no PDF and no picture; it is {found.words}")
        else:
            from preflight.inventory.imagefile import open_picture

            open_picture(artwork, memory_limit_bytes)
    except BaseException:
        artwork.close()
        raise
    return artwork


@dataclass(frozen=True)
class _FirstLook:
    """What one pass over the bytes gives."""

    size: int
    sha256: str
    head: bytes
    tail: bytes


def _first_look(path: Path) -> _FirstLook:
    digest = hashlib.sha256()
    size = 0
    head = b""
    last: deque[bytes] = deque(maxlen=2)
    try:
        with path.open("rb") as file:
            while chunk := file.read(_CHUNK_BYTES):
                digest.update(chunk)
                size += len(chunk)
                head = head or chunk[:HEAD_BYTES]
                last.append(chunk)
    except OSError as fault:
        raise _cannot_be_read(path, fault) from fault
    return _FirstLook(size, digest.hexdigest(), head, b"".join(last)[-_TAIL_BYTES:])


def _look_again(path: Path, sha256: str) -> _FirstLook:
    """The same from the ends of a file whose hash is known."""
    try:
        with path.open("rb") as file:
            head = file.read(HEAD_BYTES)
            size = file.seek(0, os.SEEK_END)
            file.seek(max(0, size - _TAIL_BYTES))
            return _FirstLook(size, sha256, head, file.read())
    except OSError as fault:
        raise _cannot_be_read(path, fault) from fault


def _cannot_be_read(path: Path, fault: OSError) -> ToolFault:
    return ToolFault(f"{clean_text(str(path))} cannot be read: {fault.strerror or fault}")


def _open_pdf(artwork: Artwork, first: _FirstLook, offset: int) -> None:
    take_warnings()
    path = _engine_path(artwork)
    try:
        # Attributes are not pushed down to the pages: boxes are read as they stand, and the page tree is walked with care first.
        artwork.pdf = pikepdf.open(path, suppress_warnings=True, inherit_page_attributes=False)
    except pikepdf.PasswordError:
        artwork.opened = replace(artwork.opened, locked=True, encrypted=True)
        return
    except MemoryError:
        raise
    except Exception as fault:
        _cannot_open(artwork, str(fault))
        return
    try:
        artwork.pages = pages_of(artwork.pdf)
    except PageTreeFault as fault:
        _unreadable(artwork, f"damaged beyond repair: {fault}")
        return
    artwork.take_structure_warnings()
    if not artwork.pages:
        _unreadable(artwork, "the file has no pages")
        return
    try:
        artwork.document = mupdf.pdf_open_document(path)
        drawable = mupdf.pdf_count_pages(artwork.document)
    except Exception as fault:
        _cannot_draw(artwork, fault)
        return
    said = take_warnings()
    artwork.warnings += said
    if mupdf.pdf_needs_password(artwork.document):
        artwork.opened = replace(artwork.opened, locked=True, encrypted=True)
        return
    broken, other = classify_warnings(said)
    if mupdf.pdf_was_repaired(artwork.document):
        # What else it stumbled over on the way follows from that.
        other = (_REBUILT,)
    artwork.repairs.of_file |= dict.fromkeys((*broken, *other))
    _note_oddities(artwork, first, offset)
    artwork.opened = replace(
        artwork.opened,
        pages=len(artwork.pages),
        missing_pages=tuple(number for number, page in enumerate(artwork.pages, 1) if page.dictionary is None),
        **_permissions(artwork.pdf),
    )
    if drawable != len(artwork.pages):
        _disagree(artwork, drawable)
        return
    press_condition(artwork.document, artwork.job.press.profile)
    settle_layers(artwork.document, artwork.pdf, artwork.layers)
    take_warnings()


def _engine_path(artwork: Artwork) -> str:
    """A path that both engines take: names that are no UTF-8 are opened through a file descriptor."""
    path = str(artwork.path)
    try:
        path.encode("utf-8")
    except UnicodeEncodeError:
        artwork._file = os.open(artwork.path, os.O_RDONLY)
        return f"/dev/fd/{artwork._file}"
    return path


def _permissions(pdf: pikepdf.Pdf) -> dict[str, Any]:
    """Encryption and the permissions to print (ISO 32000-2, Table 22: bit 3, and bit 12 for high quality)."""
    if not pdf.is_encrypted:
        return {}
    allow = pdf.allow
    return {"encrypted": True, "may_print": bool(allow.print_lowres), "may_print_high": bool(allow.print_highres)}


def _note_oddities(artwork: Artwork, first: _FirstLook, offset: int) -> None:
    repairs = artwork.repairs
    if offset:
        repairs.oddities[f"{offset} bytes before the PDF header"] = None
        if list(repairs.of_file) == [_REBUILT] and _counted_from_start(artwork.path, first.tail):
            del repairs.of_file[_REBUILT]
            repairs.oddities["places in the file are counted from before the header"] = None
    if b"%%EOF" not in first.tail:
        if repairs.of_file:
            repairs.of_file["the file has no end marker: it may be cut"] = None
        else:
            repairs.oddities["no end marker"] = None


def _counted_from_start(path: Path, tail: bytes) -> bool:
    """Whether the cross-reference table lies where ``startxref`` says, counted from the first byte of the file."""
    try:
        place = int(tail.rpartition(b"startxref")[2].split()[0])
        with path.open("rb") as file:
            file.seek(place)
            start = file.read(20)
    except (ValueError, IndexError, OSError):
        return False
    return start.startswith(b"xref") or b" obj" in start


def _cannot_open(artwork: Artwork, message: str) -> None:
    words = message.lower()
    if "encrypt" in words or "password" in words or "security handler" in words:
        artwork.opened = replace(artwork.opened, locked=True, encrypted=True)
    elif "loop detected in /pages" in words:
        _unreadable(artwork, "damaged beyond repair: the list of pages runs in a circle")
    else:
        _unreadable(artwork, "damaged beyond repair: the file cannot be opened, not even by rebuilding it")


def _cannot_draw(artwork: Artwork, fault: Exception) -> None:
    """The structure could be read, the drawing engine gave up: damage where there is a sign of it, else our limit."""
    artwork.warnings += take_warnings()
    artwork.document = None
    if artwork.repairs.of_file or "invalid number of pages" in str(fault).lower():
        _unreadable(artwork, "damaged beyond repair: its pages cannot be drawn")
    else:
        artwork.opened = replace(
            artwork.opened, not_supported=f"the drawing engine cannot open this PDF ({clean_text(str(fault))[:120]})"
        )


def _disagree(artwork: Artwork, drawable: int) -> None:
    """The two engines count different numbers of pages: no page can be trusted."""
    words = f"{len(artwork.pages)} pages by the list of pages, {drawable} by the count stated in it"
    if artwork.repairs.of_file:
        _unreadable(artwork, f"damaged beyond repair: {words}")
        return
    artwork.opened = replace(
        artwork.opened,
        pages=None,
        unknown={**artwork.opened.unknown, "document": f"the number of pages is not certain: {words}"},
    )


def _unreadable(artwork: Artwork, words: str) -> None:
    artwork.close()
    artwork.opened = replace(artwork.opened, pages=None, unreadable=words)
