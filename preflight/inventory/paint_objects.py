"""Which objects of the file a shown font or picture is: the font's full name, its program, and object numbers.

The engine keeps a font's name to 31 bytes and does not tell where fonts and pictures came from; the page's resources (and those
of its forms, patterns, glyph procedures and annotations) do. What it has shown it hands out again as the same object. ISO
32000-2, Tables 120 and 124: embedded is a font with FontFile, FontFile2 or FontFile3 in its descriptor (of the descendant, for
composite fonts).
"""

from __future__ import annotations

import re
from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from pymupdf import mupdf as m

from preflight.inventory.paint_colour import address_of
from preflight.inventory.paint_images import Picture
from preflight.inventory.paint_text import Face

#: Resource dictionaries looked into on one page at most: a file may nest them without end.
MOST_DICTIONARIES = 5000
_NAME_BYTES = 31


@dataclass(frozen=True, slots=True)
class FontObject:
    """A font dictionary of the file; ``number`` None for one that is no object of its own."""

    name: str
    number: int | None
    embedded: bool | None


def find_fonts(page: Any, faces: dict[int, Face]) -> dict[int, FontObject]:
    """The font dictionaries of the fonts shown, by the engine's address. Those that cannot be found are left out."""
    wanted = {address for address, face in faces.items()}
    if not wanted:
        return {}
    document = page.doc()
    found: dict[int, FontObject] = {}
    for address, face in faces.items():
        if face.type3:
            found[address] = _type3(face)
    shown_names = {face.name for face in faces.values()}
    later: list[Any] = []
    seen: set[int] = set()
    for font in _resources(page, "Font"):
        if wanted <= found.keys():
            return found
        number = m.pdf_to_num(font)
        if _is_type3(font) or (number and number in seen):
            continue
        seen.add(number)
        if _name_of(font).encode(errors="replace")[:_NAME_BYTES].decode(errors="replace") in shown_names:
            _match(document, font, wanted, found)
        else:
            later.append(font)
    # The engine's stand-in for a font that is not embedded has a name of its own; so has one for a broken program.
    for font in sorted(later, key=lambda font: bool(_is_embedded(font))):
        if wanted <= found.keys():
            break
        _match(document, font, wanted, found)
    return found


def _type3(face: Face) -> FontObject:
    """The engine names Type 3 fonts by their object: ``Type3 (12 0 R)``."""
    number = re.search(r"\((\d+) \d+ R\)", face.name)
    return FontObject(face.name, int(number[1]) or None if number else None, embedded=True)


def _match(document: Any, font: Any, wanted: set[int], found: dict[int, FontObject]) -> None:
    """Asks the engine for the font: one it has shown already comes back as the same object."""
    try:
        loaded = m.ll_pdf_load_font(document.m_internal, None, font.m_internal)
    except Exception:  # a broken font: the engine has warned, and shows something else in its place
        return
    try:
        address = address_of(loaded.font)
        if address in wanted and address not in found:
            found[address] = FontObject(_name_of(font), m.pdf_to_num(font) or None, _is_embedded(font))
    finally:
        m.ll_pdf_drop_font(loaded)


def _name_of(font: Any) -> str:
    name = str(m.pdf_to_name(m.pdf_dict_gets(font, "BaseFont")) or "")
    return name or str(m.pdf_to_name(m.pdf_dict_gets(font, "Name")) or "")


def _is_type3(font: Any) -> bool:
    return bool(m.pdf_to_name(m.pdf_dict_gets(font, "Subtype")) == "Type3")


def _is_embedded(font: Any) -> bool | None:
    if _is_type3(font):
        return True
    holder = font
    descendants = m.pdf_dict_gets(font, "DescendantFonts")
    if m.pdf_is_array(descendants):
        holder = m.pdf_array_get(descendants, 0)
    descriptor = m.pdf_dict_gets(holder, "FontDescriptor")
    if not m.pdf_is_dict(descriptor):
        return False
    return any(m.pdf_is_stream(m.pdf_dict_gets(descriptor, key)) for key in ("FontFile", "FontFile2", "FontFile3"))


def find_pictures(page: Any, pictures: dict[int, Picture]) -> dict[str, int]:
    """Object numbers of the pictures shown, by their keys; those that stand in the contents themselves are left out."""
    wanted = {address: picture for address, picture in pictures.items() if picture.is_named}
    found: dict[str, int] = {}
    document = page.doc()
    for stream in _resources(page, "XObject"):
        if not wanted:
            break
        size = m.pdf_to_int(m.pdf_dict_gets(stream, "Width")), m.pdf_to_int(m.pdf_dict_gets(stream, "Height"))
        number = m.pdf_to_num(stream)
        # Only what looks like one of them is asked for: unpacking others may cost, or fail.
        if not number or not any((picture.width, picture.height) == size for picture in wanted.values()):
            continue
        picture = wanted.pop(_address_of_image(document, stream), None)
        if picture is not None:
            found[picture.key] = number
    return found


def _address_of_image(document: Any, stream: Any) -> int:
    try:
        image = m.ll_pdf_load_image(document.m_internal, stream.m_internal)
    except Exception:  # a broken picture that is not shown
        return 0
    address = address_of(image)
    m.ll_fz_drop_image(image)
    return address


def _resources(page: Any, category: str) -> Iterator[Any]:
    """Every font dictionary, or every picture, in reach of a page."""
    queue = deque([m.pdf_dict_gets_inheritable(page.obj(), "Resources")])
    annotations = m.pdf_dict_gets(page.obj(), "Annots")
    for index in range(m.pdf_array_len(annotations)):
        queue += _streams(m.pdf_dict_gets(m.pdf_dict_gets(m.pdf_array_get(annotations, index), "AP"), "N"))
    seen: set[int] = set()
    count = 0
    while queue and count < MOST_DICTIONARIES:
        holder = queue.popleft()
        if not m.pdf_is_dict(holder):
            continue
        number = m.pdf_to_num(holder)
        if number:
            if number in seen:
                continue
            seen.add(number)
        count += 1
        inner = m.pdf_dict_gets(holder, "Resources")
        if m.pdf_is_dict(inner):
            queue.append(inner)
        for font in _values(m.pdf_dict_gets(holder, "Font")):
            if m.pdf_is_dict(font):
                if category == "Font":
                    yield font
                queue.append(font)
        for thing in _values(m.pdf_dict_gets(holder, "XObject")):
            if m.pdf_to_name(m.pdf_dict_gets(thing, "Subtype")) == "Image":
                if category == "XObject":
                    yield thing
            elif m.pdf_is_stream(thing):
                queue.append(thing)
        queue += [thing for thing in _values(m.pdf_dict_gets(holder, "Pattern")) if m.pdf_is_stream(thing)]
        for state in _values(m.pdf_dict_gets(holder, "ExtGState")):
            group = m.pdf_dict_gets(m.pdf_dict_gets(state, "SMask"), "G")
            if m.pdf_is_stream(group):
                queue.append(group)


def _values(holder: Any) -> list[Any]:
    return (
        [m.pdf_dict_get_val(holder, index) for index in range(m.pdf_dict_len(holder))] if m.pdf_is_dict(holder) else []
    )


def _streams(appearance: Any) -> list[Any]:
    """An appearance, or each state of one."""
    if m.pdf_is_stream(appearance):
        return [appearance]
    return [thing for thing in _values(appearance) if m.pdf_is_stream(thing)]
