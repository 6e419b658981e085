"""Keeps the colours of Type 3 glyphs on their own plates.

The engine draws a Type 3 glyph once into a small picture in the process colours and then sets that down: a spot ink in a glyph
procedure is mixed into cyan, magenta, yellow and black (seen: a glyph in a spot ink left nothing on its plate), and overprint
in it is lost (seen: white that overprints knocked out; another interpreter keeps the ground). A glyph that is flagged as not to be
kept is drawn anew each time with everything else, and its inks stay apart. The flag belongs to the font as loaded, so it is set
straight before a page is drawn, and only where Type 3 fonts are there at all.
"""

from __future__ import annotations

import ctypes
from typing import Any

from pymupdf import mupdf

_COLOURED = int(mupdf.FZ_DEVFLAG_COLOR)
_ALWAYS_DRAWN = int(mupdf.FZ_DEVFLAG_UNCACHEABLE)
#: A Type 3 font has at most so many glyphs (one a code).
_GLYPHS = 256
_DEEPEST = 24


class _Flagger(mupdf.FzDevice2):  # type: ignore[misc]
    """Sees the fonts of a page and flags their coloured glyphs."""

    def __init__(self) -> None:
        super().__init__()
        for name in ("fill_text", "stroke_text", "clip_text", "clip_stroke_text", "ignore_text"):
            getattr(self, f"use_virtual_{name}")()

    def fill_text(self, _context: Any, text: Any, *_: Any) -> None:
        _flag(text)

    def stroke_text(self, _context: Any, text: Any, *_: Any) -> None:
        _flag(text)

    def clip_text(self, _context: Any, text: Any, *_: Any) -> None:
        _flag(text)

    def clip_stroke_text(self, _context: Any, text: Any, *_: Any) -> None:
        _flag(text)

    def ignore_text(self, _context: Any, text: Any, *_: Any) -> None:
        _flag(text)


def _flag(text: Any) -> None:
    span = text.head
    while span:
        flags = span.font.t3flags
        if flags:
            glyphs = (ctypes.c_ushort * _GLYPHS).from_address(int(flags))
            for index, flag in enumerate(glyphs):
                if flag & _COLOURED:
                    glyphs[index] = flag | _ALWAYS_DRAWN
        span = span.next


def keep_glyph_colours_apart(page: Any) -> None:
    """Flags the coloured glyphs of a page (``mupdf.PdfPage``); to be called straight before it is drawn into plates."""
    resources = mupdf.pdf_page_resources(page)
    if _has_type3(resources, set(), 0):
        mupdf.pdf_run_page_with_usage(page, _Flagger(), mupdf.FzMatrix(), "Print", mupdf.FzCookie())


def _has_type3(resources: Any, seen: set[int], depth: int) -> bool:
    """Whether a resource dictionary, or one of what it draws with, brings a Type 3 font. ``seen``: what was looked at already."""
    if depth > _DEEPEST or not mupdf.pdf_is_dict(resources):
        return False
    for font in _values(mupdf.pdf_dict_gets(resources, "Font")):
        if mupdf.pdf_to_name(mupdf.pdf_dict_gets(font, "Subtype")) == "Type3":
            return True
    for category in ("XObject", "Pattern"):
        for thing in _values(mupdf.pdf_dict_gets(resources, category)):
            number = mupdf.pdf_to_num(thing)
            if number in seen:
                continue
            if number:
                seen.add(number)
            if _has_type3(mupdf.pdf_dict_gets(thing, "Resources"), seen, depth + 1):
                return True
    return False


def _values(thing: Any) -> list[Any]:
    return [mupdf.pdf_dict_get_val(thing, index) for index in range(mupdf.pdf_dict_len(thing))]
