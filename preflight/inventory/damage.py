"""What on a page is missing or cannot be decoded, and what had to be mended to draw it.

Three witnesses: the drawing engine's words (``warnings``), the structure (names without a resource, references to objects that are not in
the file, stream lengths), and the data itself (``streams``). Only what the page uses counts: a resource that is listed and not used may
be broken. By ISO 32000-2, 7.3.10 a reference to a missing object is no error in itself; for a part that makes the print
(a mask, a colour space, a font's widths) it means that the file has lost something.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING, Any

from pymupdf import mupdf

from preflight.inventory.fonts import program_is_lost
from preflight.inventory.objects import clean_text, is_stream, object_number
from preflight.inventory.resources import Use, uses_of
from preflight.inventory.streams import stream_fault
from preflight.inventory.warnings import classify_warnings

if TYPE_CHECKING:
    from preflight.inventory.opening import Artwork

_WORDS = {
    "XObject": "picture or form", "Mask": "mask", "Font": "font", "Content": "", "Profile": "profile of", "Shading": "blend", "Pattern": "pattern",
    "ColorSpace": "colour space",
}  # fmt: skip
#: What the engine says of data in general, where the structure names the very stream.
_GENERAL_WORDS = (
    "a picture's JPEG data is cut or damaged", "a picture's data ends too early", "compressed data is cut",
    "compressed data is damaged", "a picture cannot be decoded", "a picture or form is missing",
)  # fmt: skip
#: What the engine also stumbles over where page content is missing or cut.
_FOLLOWS_FROM_LOST_CONTENT = (
    "object is not a stream",
    "save and restore in the page content do not match",
    "a syntax fault",
)
_CUT_WORDS = "compressed data is cut"
_CHECKSUM_WORDS = "the checksum of compressed data does not fit it"
#: Entries that make no difference to the print, or that are looked at elsewhere (fonts, OPI, layers).
_NO_PART = frozenset((
    "Parent", "P", "Metadata", "PieceInfo", "StructParent", "StructParents", "Resources", "OC", "OPI", "Ref", "ToUnicode", "Alternates",
    "FontDescriptor", "FontFile", "FontFile2", "FontFile3", "Thumb", "Measure", "PtData", "AF", "CIDSet", "Length", "CharProcs",
))  # fmt: skip
_PARTS = {
    "SMask": "transparency mask", "Mask": "mask", "ColorSpace": "colour space", "Function": "tint function", "Shading": "blend",
    "G": "mask drawing", "Widths": "table of widths", "Encoding": "encoding", "DescendantFonts": "letters",
}  # fmt: skip
_DEEPEST = 8


def page_damage(
    artwork: Artwork, number: int, said: list[str], refused: Iterable[str] = (), faults: int = 0
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """``(broken, other)`` in plain words, each once.

    ``said`` is what the engine said while the page was drawn; ``refused`` why it would not draw it: that is damage where
    the words are known as such, else a fault of the engine's. ``faults`` counts the errors it met and drew on after.
    """
    broken, other = (dict.fromkeys(words) for words in classify_warnings(said))
    broken |= dict.fromkeys(classify_warnings(list(refused))[0])
    if number in artwork.broken_frames:
        broken[artwork.broken_frames[number]] = None
    lost: dict[str, None] = {}
    mended: dict[str, None] = {}
    for words, is_broken in _seen_in_structure(artwork, number):
        (lost if is_broken else mended)[words] = None
    if lost:
        broken = {words: None for words in broken if words not in _GENERAL_WORDS}
    elif any(words == "" or "checksum" in words for words in mended):
        # A stream without data, or without its checksum, is all that the engine means.
        broken.pop(_CUT_WORDS, None)
    if any("checksum" in words for words in mended):
        other.pop(_CHECKSUM_WORDS, None)
    mended.pop("", None)
    if any(words.startswith("page content") for words in broken | lost):
        other = {words: None for words in other if words not in _FOLLOWS_FROM_LOST_CONTENT}
    if faults and not said:
        other["the page was drawn with a fault that the engine does not name"] = None
    return tuple(broken | lost), tuple(other | mended)


def _seen_in_structure(artwork: Artwork, number: int) -> Iterator[tuple[str, bool]]:
    if artwork.pdf is None or artwork.opened.kind != "pdf":
        return
    uses = uses_of(artwork, number)
    told = set(artwork.repairs.of_file)
    artwork.take_structure_warnings()
    yield from ((words, False) for words in artwork.repairs.of_file if words not in told)
    yield from ((words, True) for words in uses.faults)
    if _content_is_missing(artwork, number):
        yield "page content is missing", True
    for use in uses.uses:
        if use.thing is None:
            yield f"{_WORDS.get(use.category, use.category)} {use.name} is missing", True
            continue
        if is_stream(use.thing) and use.category in _WORDS and not _is_form(use):
            fault = stream_fault(artwork, use.thing)
            if fault is not None:
                yield (f"{_named(use)}: {fault.words}" if fault.words else ""), fault.broken
        object_no = object_number(use.thing)
        if object_no is not None:
            yield from ((words, False) for words in artwork.repairs.of_object.get(object_no, ()))
            yield from ((f"{_named(use)}: its {part} is missing", True) for part in _missing_parts(artwork, object_no))
        if use.category == "Font" and program_is_lost(artwork, use.thing):
            yield f"{_named(use)}: its font program is missing", True
    yield from ((words, True) for words in _missing_in_place(artwork, number, uses.uses))


def _named(use: Use) -> str:
    return f"{_WORDS.get(use.category, use.category)} {use.name}".strip()


def _is_form(use: Use) -> bool:
    """Forms are looked at as content."""
    return use.category == "XObject" and use.thing.get("/Subtype") == "/Form"


def _missing_parts(artwork: Artwork, object_no: int) -> tuple[str, ...]:
    """The parts that an object names and the file does not hold."""
    if object_no not in artwork.missing_parts:
        thing = mupdf.pdf_new_indirect(artwork.document, object_no, 0)
        artwork.missing_parts[object_no] = tuple(dict.fromkeys(_missing_below(artwork.document, thing, 0)))
    return artwork.missing_parts[object_no]


def _missing_below(document: Any, thing: Any, depth: int) -> Iterator[str]:
    """Looks through a dictionary or array as far as it is written in one piece; references are tried, not followed."""
    if depth > _DEEPEST:
        return
    if mupdf.pdf_is_dict(thing):
        for index in range(mupdf.pdf_dict_len(thing)):
            key = clean_text(mupdf.pdf_to_name(mupdf.pdf_dict_get_key(thing, index)))
            if key in _NO_PART:
                continue
            yield from _missing_at(document, mupdf.pdf_dict_get_val(thing, index), _PARTS.get(key, key), depth)
    elif mupdf.pdf_is_array(thing):
        for index in range(min(mupdf.pdf_array_len(thing), 256)):
            yield from _missing_at(document, mupdf.pdf_array_get(thing, index), "colour space or part", depth)


def _missing_at(document: Any, value: Any, words: str, depth: int) -> Iterator[str]:
    if mupdf.pdf_is_indirect(value):
        if not mupdf.pdf_object_exists(document, mupdf.pdf_to_num(value)):
            yield words
    else:
        yield from _missing_below(document, value, depth + 1)


def _content_is_missing(artwork: Artwork, number: int) -> bool:
    contents = mupdf.pdf_dict_gets(mupdf.pdf_lookup_page_obj(artwork.document, number - 1), "Contents")
    if not contents.m_internal:
        return False
    return next(_missing_at(artwork.document, contents, "content", 0), None) is not None


def _missing_in_place(artwork: Artwork, number: int, uses: list[Use]) -> Iterator[str]:
    """The same for resources that are written straight into the page's resource dictionary."""
    resources = mupdf.pdf_dict_gets_inheritable(mupdf.pdf_lookup_page_obj(artwork.document, number - 1), "Resources")
    for use in uses:
        if use.thing is None or use.inside or object_number(use.thing) is not None or use.category not in (
            "ExtGState", "ColorSpace", "Shading", "Pattern", "Font",
        ):  # fmt: skip
            continue
        category = mupdf.pdf_dict_gets(resources, use.category)
        thing = mupdf.pdf_dict_gets(category, use.name)
        if thing.m_internal and not mupdf.pdf_is_indirect(thing):
            yield from (f"{_named(use)}: its {part} is missing" for part in _missing_below(artwork.document, thing, 0))
