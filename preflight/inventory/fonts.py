"""Which fonts a page uses, whether each brings its letters along, and whether these can be read.

Embedded means that a font program hangs on the font's descriptor (ISO 32000-2, Table 120: FontFile, FontFile2, FontFile3), for composite
fonts on the descendant's; a Type 3 font is its own program. A program that the drawing engine's font library refuses, or whose
tables reach past its end, is faulty: the engine would set other letters in its place. Names are a stranger's text, without the tag
of a subset (9.9.2). What is visible, and what of it is missing, comes from the paint trace.
"""

from __future__ import annotations

import re
import struct
from collections.abc import Iterable
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from preflight.inventory.model import FontFact, Painted, TextRun
from preflight.inventory.objects import clean_text, entry, is_stream, items_of, name_of, object_number, text_of
from preflight.inventory.resources import all_uses_of
from preflight.inventory.streams import stream_fault

if TYPE_CHECKING:
    from preflight.inventory.opening import Artwork

_TAG = re.compile(r"^([A-Z]{6})\+(.+)$", re.DOTALL)
_TYPE_3_NAME = re.compile(r"^Type3 \((\d+) \d+ R\)$")
#: Where a font program hangs, and what it makes of the font.
_PROGRAMS = {"/FontFile": "Type 1", "/FontFile2": "TrueType", "/FontFile3": "compact"}
_KINDS = {
    ("Type1", "/FontFile3"): "Type 1 (compact)", ("Type1", "/FontFile"): "Type 1", ("MMType1", ""): "Type 1 (multiple master)",
    ("CIDFontType0", "/FontFile3"): "composite (compact)", ("CIDFontType2", "/FontFile2"): "composite TrueType",
    ("TrueType", "/FontFile2"): "TrueType",
}  # fmt: skip
_PLAIN = {
    "Type1": "Type 1",
    "MMType1": "Type 1",
    "TrueType": "TrueType",
    "CIDFontType0": "composite",
    "CIDFontType2": "composite TrueType",
}
#: The engine keeps 31 bytes of a name (fitz/font-imp.h).
_CUT_NAME = 25
#: How the programs of TrueType and OpenType fonts begin.
_SFNT = (b"\x00\x01\x00\x00", b"true", b"OTTO", b"typ1")


def read_fonts(artwork: Artwork, number: int) -> tuple[FontFact, ...]:
    """The fonts that a page's content names, each once, in order of name."""
    facts = [
        _fact(artwork, use.name, use.thing) for use in all_uses_of(artwork, number).of("Font") if use.thing is not None
    ]
    return tuple(sorted(dict.fromkeys(facts), key=lambda fact: (fact.name, fact.tag, fact.object_number or 0)))


def merge_font_use(fonts: tuple[FontFact, ...], painted: Iterable[Painted]) -> tuple[FontFact, ...]:
    """The same fonts with what the paint trace says of their use. A font that only the trace knows is added, unproved."""
    merged = [replace(font, used_visibly=False) for font in fonts]
    nameless: list[tuple[Painted, TextRun]] = []
    for thing in painted:
        run = thing.text
        if run is None or run.inked_glyphs == 0 or not thing.is_visible:
            continue
        found = _places_of(run, merged)
        if not found and not run.font:
            nameless.append((thing, run))
        if not found and run.font:
            tag, name = split_tag(clean_text(run.font))
            kind = "Type 3" if run.type3 else "unknown"
            embedded = True if run.type3 else run.embedded
            if embedded is None and "annotation" in thing.inside:
                # The engine made up an appearance, in a font of its own: the file holds none.
                embedded = False
            merged.append(FontFact(name, kind, embedded, tag=tag, used_visibly=False))
            found = [len(merged) - 1]
        for place in found:
            merged[place] = _with_use(merged[place], thing, run)
    unseen = [place for place, font in enumerate(merged) if not font.used_visibly]
    for thing, run in nameless:
        if not unseen:
            merged.append(FontFact("", "unknown", run.embedded, used_visibly=False))
            unseen = [len(merged) - 1]
        for place in _likely_places(run, merged, unseen):
            merged[place] = _with_use(merged[place], thing, run)
    return tuple(merged)


def _likely_places(run: TextRun, fonts: list[FontFact], unseen: list[int]) -> list[int]:
    """Which fonts a run may be set in that the engine has no name for: it does so where a font's dictionary is broken, or names none.

    It is one that no other run is set in: one with as much of a program as the engine knows of, else one without.
    """
    program = bool(run.embedded)
    return [place for place in unseen if bool(fonts[place].embedded) is program] or unseen


def split_tag(name: str) -> tuple[str, str]:
    """The tag of a subset and the name proper: ``ABCDEF+Fern-Bold`` gives ``("ABCDEF", "Fern-Bold")``."""
    found = _TAG.match(name)
    return (found[1], found[2]) if found else ("", name)


def _places_of(run: TextRun, fonts: list[FontFact]) -> list[int]:
    """Which of the fonts a run is set in: by object number, by name with tag, by name alone."""
    named = _TYPE_3_NAME.match(run.font)
    number = run.font_object or (int(named[1]) if named else None)
    if number is not None:
        places = [place for place, font in enumerate(fonts) if font.object_number == number]
        if places:
            return places
    tag, name = split_tag(clean_text(run.font))
    places = [place for place, font in enumerate(fonts) if (font.tag, font.name) == (tag, name)]
    places = places or [place for place, font in enumerate(fonts) if font.name == name]
    places = places or [place for place, font in enumerate(fonts) if _folded(font.name) == _folded(name)]
    if not places and len(run.font) >= _CUT_NAME:
        # The engine cuts long names.
        places = [
            place for place, font in enumerate(fonts) if f"{font.tag}+{font.name}".lstrip("+").startswith(run.font)
        ]
    return places


def _folded(name: str) -> str:
    return re.sub(r"[^a-z0-9]", "", name.casefold())


def _with_use(font: FontFact, thing: Painted, run: TextRun) -> FontFact:
    box = thing.visible_mm
    if font.box_mm is not None and box is not None:
        box = font.box_mm.union(box)
    ppi = [value for value in (font.bitmap_ppi, run.bitmap_ppi) if value is not None]
    return replace(
        font,
        used_visibly=True,
        notdef_shown=font.notdef_shown + run.missing_glyphs,
        bitmap_ppi=min(ppi, default=None),
        box_mm=box or font.box_mm,
    )


def _fact(artwork: Artwork, resource_name: str, font: Any) -> FontFact:
    number = object_number(font)
    subtype = name_of(entry(font, "/Subtype")) or ""
    full_name = name_of(entry(font, "/BaseFont"))
    if subtype == "Type3":
        own = name_of(entry(font, "/Name")) or text_of(entry(font, "/FontDescriptor", "/FontName"))
        return FontFact(own or resource_name, "Type 3", embedded=True, object_number=number)
    holder = font
    if subtype == "Type0":
        descendants = items_of(entry(font, "/DescendantFonts"))
        holder = descendants[0] if descendants else None
        subtype = name_of(entry(holder, "/Subtype")) or "CIDFontType2"
    descriptor = entry(holder, "/FontDescriptor")
    full_name = full_name or name_of(entry(holder, "/BaseFont")) or name_of(entry(descriptor, "/FontName"))
    tag, name = split_tag(full_name or resource_name)
    key, program = _program(descriptor)
    return FontFact(
        name=name,
        kind=_KINDS.get((subtype, key)) or _PLAIN.get(subtype) or clean_text(subtype) or "unknown",
        embedded=program is not None,
        subset=bool(tag),
        object_number=number,
        faulty=None if program is None else _fault(artwork, program, full_name or resource_name),
        tag=tag,
        program_lost=program is None and program_is_lost(artwork, font),
    )


def program_is_lost(artwork: Artwork, font: Any) -> bool:
    """Whether a font names a descriptor, or that a program, which the file does not hold: damage, not a font left out on purpose.

    The drawing engine is asked: the structure reader drops references to what is not there.
    """
    from pymupdf import mupdf

    number = object_number(font)
    if number is None or artwork.document is None:
        return False
    holder = mupdf.pdf_new_indirect(artwork.document, number, 0)
    descendants = mupdf.pdf_dict_gets(holder, "DescendantFonts")
    if mupdf.pdf_is_array(descendants):
        holder = mupdf.pdf_array_get(descendants, 0)

    def is_lost(thing: Any) -> bool:
        return mupdf.pdf_is_indirect(thing) and not mupdf.pdf_object_exists(artwork.document, mupdf.pdf_to_num(thing))

    descriptor = mupdf.pdf_dict_gets(holder, "FontDescriptor")
    if not mupdf.pdf_is_dict(descriptor):
        return bool(is_lost(descriptor))
    named = [mupdf.pdf_dict_gets(descriptor, key.removeprefix("/")) for key in _PROGRAMS]
    return any(map(is_lost, named)) and not any(mupdf.pdf_is_stream(program) for program in named)


def _program(descriptor: Any) -> tuple[str, Any]:
    for key in _PROGRAMS:
        program = entry(descriptor, key)
        if is_stream(program):
            return key, program
    return "", None


def _fault(artwork: Artwork, program: Any, name: str) -> str | None:
    """Why a font program cannot be read; ``None`` for a good one. Looked at once for each program."""
    number = object_number(program)
    if number is None:
        return _program_fault(artwork, program, name)
    if number not in artwork.font_faults:
        artwork.font_faults[number] = _program_fault(artwork, program, name)
    return artwork.font_faults[number]


def _program_fault(artwork: Artwork, program: Any, name: str) -> str | None:
    from pymupdf import mupdf

    fault = stream_fault(artwork, program)
    if fault is not None and fault.broken:
        return f"its font program is damaged: {fault.words}"
    try:
        data = bytes(program.read_bytes())
    except MemoryError:
        raise
    except Exception:
        return "its font program cannot be decoded"
    if not data:
        return "its font program is empty"
    if _is_cut(data):
        return "its font program is cut"
    try:
        buffer = mupdf.fz_new_buffer_from_copied_data(data)
        mupdf.fz_new_font_from_buffer(name.encode("ascii", "replace").decode()[:30], buffer, 0, 0)
    except Exception:
        return "its font program cannot be read"
    return None


def _is_cut(data: bytes) -> bool:
    """Whether a table of a TrueType or OpenType program reaches past its end (ISO/IEC 14496-22, 4.5: the table directory)."""
    if data[:4] not in _SFNT or len(data) < 12:
        return False
    (tables,) = struct.unpack_from(">H", data, 4)
    for index in range(tables):
        at = 12 + 16 * index
        if at + 16 > len(data):
            return True
        offset, length = struct.unpack_from(">II", data, at + 8)
        if offset + length > len(data) + 3:  # padding of the last table may be left out
            return True
    return False
