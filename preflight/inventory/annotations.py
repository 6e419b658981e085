"""Notes, stamps and form fields that would be printed along with a page.

ISO 32000-2, 12.5.3 (Table 167): printed are those flagged Print and not Hidden, with what their appearance paints; links and popups never
mark the sheet. Whether the plates include one is asked of the drawing engine, which also makes up an appearance where a note has none; one that
paints nothing (an empty form field, a layer that is off) is left out, unless the file asks readers to redraw its filled fields.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from pymupdf import mupdf

from preflight.inventory.model import Annotation
from preflight.inventory.objects import entry, is_dictionary, items_of, name_of, number_of, object_number
from preflight.inventory.resources import appearance_of, will_print
from preflight.inventory.settling import HIDDEN_FLAG
from preflight.units import Box, PageFrame

if TYPE_CHECKING:
    from preflight.inventory.opening import Artwork

_NO_MARK = ("Link", "Popup")
_PRINT_FLAG = 4


def read_annotations(artwork: Artwork, number: int, frame: PageFrame) -> tuple[Annotation, ...]:
    """The annotations of a page (from 1) that would print, in the order of the file."""
    page = artwork.page(number)
    listed = items_of(entry(page.dictionary, "/Annots"))
    candidates = [
        (place, annotation)
        for place, annotation in enumerate(listed)
        if will_print(annotation) and name_of(entry(annotation, "/Subtype")) not in _NO_MARK
    ]
    if not candidates:
        return ()
    marking = _marking(artwork.mupdf_page(number), listed)
    redraws = entry(artwork.pdf.Root if artwork.pdf else None, "/AcroForm", "/NeedAppearances") is True
    found = []
    for place, annotation in candidates:
        box = _rectangle(annotation)
        object_no = object_number(annotation)
        marks = marking.get(place)
        filled = redraws and entry(annotation, "/V") is not None
        if box is None or (marks is None and appearance_of(annotation) is None) or (marks is False and not filled):
            continue
        found.append(
            Annotation(
                subtype=name_of(entry(annotation, "/Subtype")) or "unknown",
                box_mm=frame.box_mm(box),
                prints=True,
                hidden=False,
                on_plates=marks,
                object_number=object_no,
            )
        )
    return tuple(found)


def _rectangle(annotation: Any) -> Box | None:
    corners = [number_of(item) for item in items_of(entry(annotation, "/Rect"))]
    if len(corners) != 4 or any(corner is None for corner in corners):
        return None
    return Box.normal([corner for corner in corners if corner is not None])


def _marking(page: Any, listed: list[Any]) -> dict[int, bool]:
    """Whether the drawing engine paints anything for an annotation or form field, by its place in the page's list.

    Most have an object number. Those written into the list itself have none and are told by their order, if the engine knows as many.
    """
    marking: dict[int, bool] = {}
    for first, following, fields in (
        (mupdf.pdf_first_annot, mupdf.pdf_next_annot, False),
        (mupdf.pdf_first_widget, mupdf.pdf_next_widget, True),
    ):
        numbered: dict[int, bool] = {}
        direct: list[bool] = []
        annotation = first(page)
        while annotation.m_internal:
            thing = mupdf.pdf_annot_obj(annotation)
            marks = _leaves_mark(annotation, thing)
            if number := mupdf.pdf_to_num(thing):
                numbered[number] = marks
            else:
                direct.append(marks)
            annotation = following(annotation)
        marking |= {
            place: numbered[number] for place, item in enumerate(listed) if (number := object_number(item)) in numbered
        }
        unnumbered = [place for place, item in enumerate(listed) if _is_direct(item) and _is_field(item) is fields]
        if len(unnumbered) == len(direct):
            marking |= dict(zip(unnumbered, direct, strict=True))
    return marking


def _is_direct(annotation: Any) -> bool:
    known = is_dictionary(annotation) and name_of(entry(annotation, "/Subtype")) not in _NO_MARK
    return known and object_number(annotation) is None


def _is_field(annotation: Any) -> bool:
    return name_of(entry(annotation, "/Subtype")) == "Widget"


def _leaves_mark(annotation: Any, thing: Any) -> bool:
    flags = mupdf.pdf_dict_get_int(thing, mupdf.pdf_new_name("F"))
    if flags & HIDDEN_FLAG:
        return False
    # The engine runs a single annotation as for a screen: one that only prints (NoView) is shown to it as plainly visible.
    mupdf.pdf_dict_puts(thing, "F", mupdf.pdf_new_int(_PRINT_FLAG))
    rect = mupdf.FzRect(mupdf.FzRect.Fixed_EMPTY)
    device = mupdf.fz_new_bbox_device(rect)
    try:
        mupdf.pdf_run_annot(annotation, device, mupdf.FzMatrix(), mupdf.FzCookie())
        mupdf.fz_close_device(device)
    finally:
        mupdf.pdf_dict_puts(thing, "F", mupdf.pdf_new_int(flags))
    return not mupdf.fz_is_empty_rect(rect)
