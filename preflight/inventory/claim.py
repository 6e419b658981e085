"""What a file says about itself: its PDF/X claim, in both places where it may stand, and the facts such a claim is held against.

Read, not judged: the document information (ISO 32000-2, 14.3.3), the XMP metadata (14.3.2; namespace ``pdfx`` and ``pdfxid``), the header and the trailer.
A claim is the XMP's where there is one (PDF/X-4 and later), else that of the document information.
"""

from __future__ import annotations

import re
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any
from xml.etree import ElementTree as ET

from preflight.inventory.claim_details import MOST_OBJECTS
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
#: What a claim asks for by name, and what the metadata call it.
_INFO_KEYS = {"/Title": "title", "/CreationDate": "created", "/ModDate": "modified", "/Trapped": "trapped"}
_MOST_XMP_BYTES = 16 << 20
_DATE = re.compile(
    r"(\d{4})-?(\d{2})?-?(\d{2})?T?(\d{2})?:?(\d{2})?(?::?\d{2}(?:\.\d+)?)?(?:([-+Z])(\d{2})?[:']?(\d{2})?)?"
)


def read_claim(artwork: Artwork) -> ClaimFacts:
    """The claim and its facts. Filters and object streams are only looked for where there is a claim."""
    assert artwork.pdf is not None
    trailer = artwork.pdf.trailer
    info = entry(trailer, "/Info")
    details: dict[str, str] = {}
    xmp = _xmp_of(artwork.pdf.Root, details)
    info_version = text_of(entry(info, "/GTS_PDFXVersion"))
    if "xmp" in details and info_version is None and _speaks_of_pdfx(artwork.pdf.Root):
        raise ValueError("the metadata speak of PDF/X and cannot be read")
    xmp_version = xmp.get("pdfxid version") or xmp.get("pdfx version")
    claim = xmp_version or info_version
    differs = _differences(info, xmp)
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
        xmp_trapped=xmp.get("trapped"),
        has_title=bool(text_of(entry(info, "/Title")) or xmp.get("title")),
        has_creation_date=bool(text_of(entry(info, "/CreationDate")) or xmp.get("created")),
        has_modification_date=bool(text_of(entry(info, "/ModDate")) or xmp.get("modified")),
        has_file_id=is_array(file_id) and len(file_id) == 2,
        has_object_streams=object_streams,
        filters=filters,
        xmp_matches_info=not differs if xmp else None,
        xmp_differs=differs,
        in_info=tuple(key[1:] for key in _INFO_KEYS if text_of(entry(info, key))),
        in_xmp=tuple(key[1:] for key, name in _INFO_KEYS.items() if xmp.get(name)),
        xmp_version_in=tuple(space for space in ("pdfxid", "pdfx") if xmp.get(f"{space} version")),
        details=details,
    )


def makes_claim(artwork: Artwork) -> bool:
    """Whether the file says that it is PDF/X; asked for every page, so it looks once."""
    if artwork.makes_claim is None:
        root = artwork.pdf.Root if artwork.pdf else None
        info = entry(artwork.pdf.trailer if artwork.pdf else None, "/Info")
        xmp = _xmp_of(root, {})
        said = (text_of(entry(info, "/GTS_PDFXVersion")), xmp.get("pdfxid version"), xmp.get("pdfx version"))
        artwork.makes_claim = any(said)
    return artwork.makes_claim


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
        "pdfxid version": (f"{{{_PDFX_ID}}}GTS_PDFXVersion",),
        "pdfx version": (f"{{{_PDFX}}}GTS_PDFXVersion",),
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


def _speaks_of_pdfx(root: Any) -> bool:
    """Whether metadata that cannot be taken apart hold the name of a claim."""
    try:
        data = bytes(entry(root, "/Metadata").read_bytes()).replace(b"\0", b"")
    except MemoryError:
        raise
    except Exception:
        return False
    return b"GTS_PDFXVersion" in data


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


def _differences(info: Any, xmp: dict[str, str]) -> tuple[str, ...]:
    """What stands in both places and differs; dates to the minute."""
    found = []
    for key, name in (("/Title", "title"), ("/Producer", "producer"), ("/Creator", "creator")):
        told = text_of(entry(info, key))
        if told and name in xmp and told.strip() != xmp[name].strip():
            found.append(key[1:])
    for key, name in (("/CreationDate", "created"), ("/ModDate", "modified")):
        told = text_of(entry(info, key))
        if told and name in xmp and not _same_moment(told, xmp[name]):
            found.append(key[1:])
    return tuple(found)


def _same_moment(one: str, other: str) -> bool:
    """Whether two dates are the same to the minute; a zone counts only where both state one."""
    first, second = _moment(one), _moment(other)
    if first is None or second is None:
        return re.sub(r"\D", "", one) == re.sub(r"\D", "", other)
    if first[1] is not None and second[1] is not None:
        return first[0] - second[0] == first[1] - second[1]
    return first[0] == second[0]


def _moment(text: str) -> tuple[datetime, timedelta | None] | None:
    """A date to the minute, and how far its clock is ahead of universal time, where stated; None for what is no date."""
    found = _DATE.search(text)
    if found is None:
        return None
    year, month, day, hour, minute, zone, hours, minutes = found.groups()
    try:
        moment = datetime(int(year), int(month or 1), int(day or 1), int(hour or 0), int(minute or 0))
    except ValueError:  # a day that never was
        return None
    if zone is None:
        return moment, None
    ahead = timedelta(hours=int(hours or 0), minutes=int(minutes or 0))
    return moment, -ahead if zone == "-" else ahead


def _streams_of(artwork: Artwork, details: dict[str, str]) -> tuple[tuple[str, ...], bool | None]:
    from pymupdf import mupdf

    assert artwork.pdf is not None
    filters: set[str] = set()
    for count, thing in enumerate(artwork.pdf.objects, 1):
        if count > MOST_OBJECTS:
            details["filters"] = f"only the first {MOST_OBJECTS} objects were looked at"
            break
        if is_stream(thing):
            filters.update(name for each in one_or_more(entry(thing, "/Filter")) if (name := name_of(each)))
    in_streams = name_of(entry(artwork.pdf.trailer, "/Type")) == "XRef" or any(
        mupdf.ll_pdf_get_xref_entry_no_null(artwork.document.m_internal, number).type in ("o", ord("o"))
        for number in range(1, min(mupdf.pdf_xref_len(artwork.document), MOST_OBJECTS))
    )
    return tuple(sorted(filters)), in_streams
