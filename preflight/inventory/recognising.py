"""What a file is, by its content and never by its name.

PDF: ``%PDF-`` within the first 1024 bytes (reading practice after ISO 32000-1, Annex H, 3.4.1); pictures and everything else by the
first bytes that their own formats fix. Kinds of the trade that cannot be read here are told apart from files that are no
artwork at all: the first are this tool's limit, the second the customer's to send again.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

#: Bytes of the file that are looked at.
HEAD_BYTES = 1024


@dataclass(frozen=True)
class Recognised:
    """``kind`` as in reports (``pdf``, ``tiff`` ... ``unknown``); for ``unknown``, what it is in words, and whose limit that is."""

    kind: str
    words: str = ""
    #: A kind that shops do take, and this tool cannot read.
    of_the_trade: bool = False
    #: PDF: bytes before the header.
    offset: int = 0


_PICTURES = (
    (b"II*\x00", "tiff"), (b"MM\x00*", "tiff"), (b"II+\x00", "tiff"), (b"MM\x00+", "tiff"),
    (b"\xff\xd8\xff", "jpeg"), (b"\x89PNG\r\n\x1a\n", "png"),
)  # fmt: skip
_TRADE = (
    (b"%!PS", "PostScript or EPS"), (b"\xc5\xd0\xd3\xc6", "EPS"),
    (b"\x00\x00\x00\x0cjP  ", "JPEG 2000"), (b"\xff\x4f\xff\x51", "JPEG 2000"),
)  # fmt: skip
_STRANGERS = (
    (b"PK\x03\x04", "a zip archive or an office document"), (b"PK\x05\x06", "an empty zip archive"),
    (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", "an office document"), (b"{\\rtf", "a text document (RTF)"),
    (b"GIF8", "a GIF picture"), (b"BM", "a BMP picture"), (b"\x1f\x8b", "a gzip archive"), (b"7z\xbc\xaf\x27\x1c", "a 7z archive"),
    (b"Rar!", "a rar archive"), (b"\x00\x00\x01\x00", "an icon"), (b"\x7fELF", "a program"), (b"MZ", "a program"),
)  # fmt: skip
_WEB_PAGE = re.compile(
    rb"^[\s\xef\xbb\xbf]*(?:<!--.*?-->\s*)*<(?:!doctype\s+html|html|head|body)", re.IGNORECASE | re.DOTALL
)
_SVG = re.compile(rb"^[\s\xef\xbb\xbf]*(?:<\?xml.*?\?>\s*)?(?:<!.*?>\s*)*<svg", re.IGNORECASE | re.DOTALL)
_XML = re.compile(rb"^[\s\xef\xbb\xbf]*<\?xml", re.IGNORECASE)


def recognise(head: bytes) -> Recognised:
    """What a file is that starts with ``head`` (its first ``HEAD_BYTES``, or all of it)."""
    for start, kind in _PICTURES:
        if head.startswith(start):
            return Recognised(kind)
    if head.startswith(b"8BPS"):
        if head[4:6] == b"\x00\x02":
            return Recognised("unknown", "large picture document (PSB)", of_the_trade=True)
        return Recognised("psd")
    if head.startswith(b"RIFF") and head[8:12] == b"WEBP":
        return Recognised("webp")
    for start, words in _TRADE:
        if head.startswith(start):
            return Recognised("unknown", words, of_the_trade=True)
    for start, words in _STRANGERS:
        if head.startswith(start) and not head.startswith((b"BM ", b"MZ ")):
            return Recognised("unknown", words)
    if head[4:8] == b"ftyp":
        return Recognised("unknown", "a phone picture or a video")
    if _WEB_PAGE.match(head):
        return Recognised("unknown", "a web page (HTML)")
    header = head.find(b"%PDF-")
    if header >= 0:
        return Recognised("pdf", offset=header)
    if _SVG.match(head):
        return Recognised("unknown", "an SVG drawing")
    if _XML.match(head):
        return Recognised("unknown", "an XML file")
    if _is_text(head):
        return Recognised("unknown", "plain text")
    return Recognised("unknown", "of no kind known here")


def _is_text(head: bytes) -> bool:
    return bool(head) and not any(byte < 9 or 13 < byte < 32 for byte in head)
