"""What a file says about itself: its PDF/X claim, in both places where it may stand, and the facts such a claim is held against.

Read, not judged: the document information (ISO 32000-2, 14.3.3), the XMP metadata (14.3.2; namespace ``pdfx`` and ``pdfxid``), the header and the trailer.
A claim is the XMP's where there is one (PDF/X-4 and later), else that of the document information.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any
from xml.etree import ElementTree as ET

from preflight.inventory.model import ClaimFacts
from preflight.inventory.objects import entry, is_array, is_stream, name_of, one_or_more, text_of

if TYPE_CHECKING:
    from preflight.inventory.opening import Artwork

_PDFX = "http://ns.adobe.com/pdfx/1.3/"
_PDFX_ID = "http://www.npes.org/pdfx/ns/id/"
_PDF = "http://ns.adobe.com/pdf/1.3/"
_XMP = "http://ns.adobe.com/xap/1.0/"
_DC = "http://purl.org/dc/elements/1.1/"
_RDF = "http://www.w3.org/1999/02/22-rdf-syntax-ns#"
_MOST_XMP_BYTES = 16 << 20
#: Objects looked at for filters; more are not counted (``details`` says so).
_MOST_OBJECTS = 200_000
_DATE = re.compile(r"(\d{4})\D?(\d{2})?\D?(\d{2})?\D?(\d{2})?\D?(\d{2})?\D?(\d{2})?")


def read_claim(artwork: Artwork) -> ClaimFacts:
    """The claim and its facts. Filters and object streams are only looked for where there is a claim."""
    assert artwork.pdf is not None
    trailer = artwork.pdf.trailer
    info = entry(trailer, "/Info")
    details: dict[str, str] = {}
    xmp = _xmp_of(artwork.pdf.Root, details)
    info_version = text_of(entry(info, "/GTS_PDFXVersion"))
    xmp_version = xmp.get("version")
    claim = xmp_version or info_version
    filters: tuple[str, ...] = ()
    object_streams = None
    if claim is not None:
        filters, object_streams = _streams_of(artwork, details)
    file_id = entry(trailer, "/ID")
    return ClaimFacts(
        claim=claim,
        info_version=info_version,
        info_conformance=text_of(entry(info, "/GTS_PDFXConformance")),
        xmp_version=xmp_version,
        header_version=str(artwork.pdf.pdf_version),
        trapped=name_of(entry(info, "/Trapped")) or text_of(entry(info, "/Trapped")) or xmp.get("trapped"),
        has_title=bool(text_of(entry(info, "/Title")) or xmp.get("title")),
        has_creation_date=bool(text_of(entry(info, "/CreationDate")) or xmp.get("created")),
        has_modification_date=bool(text_of(entry(info, "/ModDate")) or xmp.get("modified")),
        has_file_id=is_array(file_id) and len(file_id) == 2,
        has_object_streams=object_streams,
        filters=filters,
        xmp_matches_info=_agree(info, xmp) if xmp else None,
        details=details,
    )


def read_makers(artwork: Artwork) -> tuple[str | None, str | None]:
    """The programs that made the file: producer and creator."""
    info = entry(artwork.pdf.trailer if artwork.pdf else None, "/Info")
    return text_of(entry(info, "/Producer")), text_of(entry(info, "/Creator"))


def _xmp_of(root: Any, details: dict[str, str]) -> dict[str, str]:
    """The few XMP properties that a claim needs, wherever in the packet they stand."""
    stream = entry(root, "/Metadata")
    if not is_stream(stream):
        return {}
    try:
        data = bytes(stream.read_bytes())
        if len(data) > _MOST_XMP_BYTES or b"<!ENTITY" in data or b"<!DOCTYPE" in data:
            details["xmp"] = "too large, or holds definitions of its own"
            return {}
        tree = ET.fromstring(data[data.find(b"<") :].strip(b"\0"))  # noqa: S314 - no entities, checked above
    except MemoryError:
        raise
    except Exception as fault:
        details["xmp"] = f"cannot be read ({type(fault).__name__})"
        return {}
    wanted = {
        "version": (f"{{{_PDFX_ID}}}GTS_PDFXVersion", f"{{{_PDFX}}}GTS_PDFXVersion"),
        "trapped": (f"{{{_PDF}}}Trapped",),
        "title": (f"{{{_DC}}}title",),
        "created": (f"{{{_XMP}}}CreateDate",),
        "modified": (f"{{{_XMP}}}ModifyDate",),
        "producer": (f"{{{_PDF}}}Producer",),
        "creator": (f"{{{_XMP}}}CreatorTool",),
    }
    values: dict[str, str] = {}
    for key, names in wanted.items():
        for name in names:
            value = _property(tree, name)
            if value:
                values.setdefault(key, value)
    return values


def _property(tree: ET.Element, name: str) -> str | None:
    """A property written as an element, as an attribute, or as a list of alternatives."""
    for element in tree.iter():
        if element.tag == name:
            item = element.find(f".//{{{_RDF}}}li")
            text = "".join((item if item is not None else element).itertext()).strip()
            if text:
                return text
        if element.get(name):
            return element.get(name)
    return None


def _agree(info: Any, xmp: dict[str, str]) -> bool:
    """Whether what stands in both places is the same; dates by their first twelve figures (to the minute, zone apart)."""
    for key, name in (("/Title", "title"), ("/Producer", "producer"), ("/Creator", "creator")):
        told = text_of(entry(info, key))
        if told and name in xmp and told.strip() != xmp[name].strip():
            return False
    for key, name in (("/CreationDate", "created"), ("/ModDate", "modified")):
        told = text_of(entry(info, key))
        if told and name in xmp and _minutes(told) != _minutes(xmp[name]):
            return False
    return True


def _minutes(date: str) -> str:
    found = _DATE.search(date)
    return "".join(part or "" for part in found.groups()[:5]) if found else date


def _streams_of(artwork: Artwork, details: dict[str, str]) -> tuple[tuple[str, ...], bool | None]:
    from pymupdf import mupdf

    assert artwork.pdf is not None
    filters: set[str] = set()
    for count, thing in enumerate(artwork.pdf.objects, 1):
        if count > _MOST_OBJECTS:
            details["filters"] = f"only the first {_MOST_OBJECTS} objects were looked at"
            break
        if is_stream(thing):
            filters.update(name for each in one_or_more(entry(thing, "/Filter")) if (name := name_of(each)))
    in_streams = any(
        mupdf.ll_pdf_get_xref_entry_no_null(artwork.document.m_internal, number).type in ("o", ord("o"))
        for number in range(1, min(mupdf.pdf_xref_len(artwork.document), _MOST_OBJECTS))
    )
    return tuple(sorted(filters)), in_streams
