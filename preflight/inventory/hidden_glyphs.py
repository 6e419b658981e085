"""Takes drawn glyphs on hidden layers out of the drawing engine's copy of a page.

The engine keeps back everything on a layer that does not print but the glyphs of Type 3 fonts that bring their own colours: those it draws
at once, without asking for the layer (seen: such a glyph between BDC and EMC of a layer that is off was on the plates). So, on a
page with such a font, hidden stretches of its content lose what shows text in one, and what calls forms, which may. State set in a
stretch stays; what follows in the same text object as a hidden glyph moves up by its width.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pikepdf
from pymupdf import mupdf

from preflight.inventory.objects import plain_key

_SHOWS = ("Tj", "TJ")


def hide_glyphs(document: Any, holder: Any, key: str | None, resources: Any, is_hidden: Callable[[Any], bool]) -> None:
    """Rewrites the content of a page object (``key`` its Contents) or of a form, where a stretch of it is hidden."""
    properties = mupdf.pdf_dict_gets(resources, "Properties")
    hidden = {name for name, layer in _entries(properties) if is_hidden(layer)}
    if not hidden:
        return
    drawn = {
        name
        for name, font in _entries(mupdf.pdf_dict_gets(resources, "Font"))
        if str(mupdf.pdf_to_name(mupdf.pdf_dict_gets(font, "Subtype"))) == "Type3"
    }
    content = mupdf.pdf_dict_gets(holder, key) if key else holder
    parts = [mupdf.pdf_array_get(content, place) for place in range(mupdf.pdf_array_len(content))] or [content]
    try:
        data = b"\n".join(bytes(mupdf.fz_buffer_extract_copy(mupdf.pdf_load_stream(part))) for part in parts)
        changed = without_hidden(data, hidden, drawn)
    except (pikepdf.PdfError, mupdf.FzErrorBase):
        return  # damage is told where the page is drawn
    if changed is None:
        return
    fresh = mupdf.fz_new_buffer_from_copied_data(changed)
    if key:
        mupdf.pdf_dict_puts(holder, key, mupdf.pdf_add_stream(document, fresh, mupdf.PdfObj(), 0))
    else:
        mupdf.pdf_update_stream(document, holder, fresh, 0)


def without_hidden(data: bytes, hidden: set[str], drawn: set[str]) -> bytes | None:
    """Content without what is drawn on hidden layers by glyphs of the fonts ``drawn`` and by forms; None where nothing is."""
    pdf = pikepdf.Pdf.new()
    kept: list[Any] = []
    stretches: list[bool] = []
    font, saved, changed = "", [""], False
    for instruction in pikepdf.parse_content_stream(pikepdf.Stream(pdf, data)):
        operator, operands = str(instruction.operator), instruction.operands
        if operator in ("BMC", "BDC"):
            is_layer = operator == "BDC" and len(operands) == 2 and str(operands[0]) == "/OC"
            stretches.append(
                is_layer and isinstance(operands[1], pikepdf.Name) and plain_key(str(operands[1])) in hidden
            )
        elif operator == "EMC" and stretches:
            stretches.pop()
        elif operator == "Tf" and operands:
            font = plain_key(str(operands[0]))
        elif operator == "q":
            saved.append(font)
        elif operator == "Q" and len(saved) > 1:
            font = saved.pop()
        elif any(stretches) and (operator == "Do" or (font in drawn and operator in _SHOWS)):
            changed = True
            continue
        kept.append(instruction)
    return pikepdf.unparse_content_stream(kept) if changed else None


def _entries(dictionary: Any) -> list[tuple[str, Any]]:
    return [
        (str(mupdf.pdf_to_name(mupdf.pdf_dict_get_key(dictionary, place))), mupdf.pdf_dict_get_val(dictionary, place))
        for place in range(mupdf.pdf_dict_len(dictionary))
    ]
