"""Colours that put down no ink: Separation /None, and DeviceN of nothing but /None, leave no mark (ISO 32000-2, 8.6.6.4 and 8.6.6.5).

The drawing engine paints them as white instead, which erases what lies under it (seen: cyan of 100 % under it came out bare). In its
memory such a space is therefore made a pattern space without a pattern, in which it paints nothing: neither plates nor paint trace
then hold what no plate will ever show.
"""

from __future__ import annotations

from typing import Any

from pymupdf import mupdf

#: Forms within forms within patterns ...: deeper than any program writes.
_DEEPEST = 24


def settle_no_ink(document: Any, page: Any, seen: set[int]) -> None:
    """Settles all such spaces that a page object's resources name. ``seen``: numbers of objects that were looked at already."""
    _resources(document, mupdf.pdf_dict_gets_inheritable(page, "Resources"), seen, 0)
    annotations = mupdf.pdf_dict_gets(page, "Annots")
    for index in range(mupdf.pdf_array_len(annotations)):
        shown = mupdf.pdf_dict_gets(mupdf.pdf_dict_gets(mupdf.pdf_array_get(annotations, index), "AP"), "N")
        for form in (shown, *_values(shown)):
            _holder(document, form, seen, 0)


def _holder(document: Any, thing: Any, seen: set[int], depth: int) -> None:
    """A form, pattern, Type 3 font or appearance: the resources it draws with."""
    number = mupdf.pdf_to_num(thing)
    if number in seen:
        return
    if number:
        seen.add(number)
    if mupdf.pdf_is_dict(thing):
        _resources(document, mupdf.pdf_dict_gets(thing, "Resources"), seen, depth + 1)


def _resources(document: Any, resources: Any, seen: set[int], depth: int) -> None:
    if depth > _DEEPEST or not mupdf.pdf_is_dict(resources):
        return
    number = mupdf.pdf_to_num(resources)
    if number in seen:
        return
    if number:
        seen.add(number)
    spaces = mupdf.pdf_dict_gets(resources, "ColorSpace")
    for index in range(mupdf.pdf_dict_len(spaces)):
        if _is_no_ink(mupdf.pdf_dict_get_val(spaces, index)):
            pattern = mupdf.pdf_new_array(document, 1)
            mupdf.pdf_array_push(pattern, mupdf.pdf_new_name("Pattern"))
            mupdf.pdf_dict_put(spaces, mupdf.pdf_dict_get_key(spaces, index), pattern)
    for category in ("XObject", "Pattern", "Font"):
        for thing in _values(mupdf.pdf_dict_gets(resources, category)):
            _holder(document, thing, seen, depth)
    for state in _values(mupdf.pdf_dict_gets(resources, "ExtGState")):
        _holder(document, mupdf.pdf_dict_gets(mupdf.pdf_dict_gets(state, "SMask"), "G"), seen, depth)


def _is_no_ink(space: Any) -> bool:
    family, named = (mupdf.pdf_array_get(space, place) for place in (0, 1))
    if mupdf.pdf_to_name(family) == "Separation":
        return str(mupdf.pdf_to_name(named)) == "None"
    inks = {mupdf.pdf_to_name(mupdf.pdf_array_get(named, place)) for place in range(mupdf.pdf_array_len(named))}
    return str(mupdf.pdf_to_name(family)) == "DeviceN" and inks == {"None"}


def _values(thing: Any) -> list[Any]:
    return [mupdf.pdf_dict_get_val(thing, index) for index in range(mupdf.pdf_dict_len(thing))]
