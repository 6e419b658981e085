"""Settles what a page draws with, in the drawing engine's memory, where the engine would draw other than the plates are.

Five things, each looked for in the resources of the page and of whatever it draws with:

- Colours that put down no ink: Separation /None, and DeviceN of nothing but /None, leave no mark (ISO 32000-2, 8.6.6.4 and
  8.6.6.5). The engine paints them as white, which erases what lies under it (seen: cyan of 100 % under it came out bare). Such
  a space is made a pattern space without a pattern, in which it paints nothing.
- Memberships of several layers (8.11.2.2): the engine does not work out expressions (VE), and takes "all on" for "any on" (tried).
  A membership is made one that is always or never there, by the layers' print states.
- Glyphs of Type 3 fonts on layers that do not print (``hidden_glyphs``).
- Overprint in a blend mode that leaves everything under paper as it is (Multiply): the inks that a colour does not name stay anyway, yet
  the engine blends the ground with itself (seen: black set so on cyan of 60 % came out with cyan of 84 %, in another renderer 60).
  A graphics state that asks for both at once is left the blend mode alone.
- Signature fields without an appearance: nothing shows of them in print; the engine makes up a sticker. They are hidden.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from pymupdf import mupdf

from preflight.inventory.hidden_glyphs import hide_glyphs
from preflight.inventory.layer_expressions import DEEPEST, Expression, as_expression, is_on

#: Blend modes that leave the ground as it is where they paint no ink (11.3.5.2).
_LEAVE_THE_GROUND = ("Multiply", "ColorBurn")
#: Annotations so flagged never show (12.5.3).
HIDDEN_FLAG = 2
#: Forms within forms within patterns ...: deeper than any program writes.
_DEEPEST = 24


@dataclass
class PageSettler:
    """Settles the pages of one document (``mupdf.PdfDocument``); what pages share is settled once."""

    document: Any
    #: Whether each layer prints, by object number.
    printed: Mapping[int, bool | None]
    _seen: set[int] = field(default_factory=set)
    #: Forms met on the way, and whether any Type 3 font was.
    _forms: list[Any] = field(default_factory=list)
    _draws_glyphs: bool = False

    def settle(self, page: Any) -> None:
        """Settles a page object's resources and annotations, before it is drawn."""
        resources = mupdf.pdf_dict_gets_inheritable(page, "Resources")
        self._resources(resources, 0)
        annotations = mupdf.pdf_dict_gets(page, "Annots")
        for index in range(mupdf.pdf_array_len(annotations)):
            annotation = mupdf.pdf_array_get(annotations, index)
            self._membership(mupdf.pdf_dict_gets(annotation, "OC"))
            _without_sticker(annotation)
            shown = mupdf.pdf_dict_gets(mupdf.pdf_dict_gets(annotation, "AP"), "N")
            for form in (shown, *_values(shown)):
                self._holder(form, 0)
        if self._draws_glyphs and not all(self.printed.values()):
            hide_glyphs(self.document, page, "Contents", resources, self._is_hidden)
            for form in self._forms:
                hide_glyphs(self.document, form, None, mupdf.pdf_dict_gets(form, "Resources"), self._is_hidden)
            self._forms.clear()

    def _is_hidden(self, layer: Any) -> bool:
        """Whether a layer, or a membership as it is settled, keeps things from print."""
        if str(mupdf.pdf_to_name(mupdf.pdf_dict_gets(layer, "Type"))) == "OCMD":
            return self._state_of(layer) is False
        return self.printed.get(mupdf.pdf_to_num(layer)) is False

    def _holder(self, thing: Any, depth: int) -> None:
        """A form, picture, pattern, Type 3 font or appearance."""
        if not mupdf.pdf_is_dict(thing) or self._was_here(thing):
            return
        self._membership(mupdf.pdf_dict_gets(thing, "OC"))
        self._draws_glyphs |= str(mupdf.pdf_to_name(mupdf.pdf_dict_gets(thing, "Subtype"))) == "Type3"
        resources = mupdf.pdf_dict_gets(thing, "Resources")
        if mupdf.pdf_is_stream(thing) and mupdf.pdf_is_dict(resources):
            self._forms.append(thing)
        self._resources(resources, depth + 1)

    def _resources(self, resources: Any, depth: int) -> None:
        if depth > _DEEPEST or not mupdf.pdf_is_dict(resources) or self._was_here(resources):
            return
        spaces = mupdf.pdf_dict_gets(resources, "ColorSpace")
        for index in range(mupdf.pdf_dict_len(spaces)):
            if _is_no_ink(mupdf.pdf_dict_get_val(spaces, index)):
                pattern = mupdf.pdf_new_array(self.document, 1)
                mupdf.pdf_array_push(pattern, mupdf.pdf_new_name("Pattern"))
                mupdf.pdf_dict_put(spaces, mupdf.pdf_dict_get_key(spaces, index), pattern)
        for membership in _values(mupdf.pdf_dict_gets(resources, "Properties")):
            self._membership(membership)
        for category in ("XObject", "Pattern", "Font"):
            for thing in _values(mupdf.pdf_dict_gets(resources, category)):
                self._holder(thing, depth)
        for state in _values(mupdf.pdf_dict_gets(resources, "ExtGState")):
            _without_overprint(state)
            self._holder(mupdf.pdf_dict_gets(mupdf.pdf_dict_gets(state, "SMask"), "G"), depth)

    def _state_of(self, membership: Any) -> bool | None:
        """Whether what belongs to it prints; None where that cannot be told, or does not depend on layers."""
        expression = mupdf.pdf_dict_gets(membership, "VE")
        if mupdf.pdf_is_array(expression):
            return is_on(_plain(expression, 0), self.printed)
        groups = _plain(mupdf.pdf_dict_gets(membership, "OCGs"), 0)
        policy = str(mupdf.pdf_to_name(mupdf.pdf_dict_gets(membership, "P")))
        return is_on(as_expression(groups if isinstance(groups, list) else [groups], policy), self.printed)

    def _membership(self, membership: Any) -> None:
        if str(mupdf.pdf_to_name(mupdf.pdf_dict_gets(membership, "Type"))) != "OCMD":
            return
        on = self._state_of(membership)
        if on is None:
            return
        for key in ("VE", "OCGs", "P"):
            mupdf.pdf_dict_dels(membership, key)
        if not on:
            # There is a layer, else nothing could be worked out: it is there where that one is not as it is.
            number, printed = next(iter(self.printed.items()))
            mupdf.pdf_dict_puts(membership, "OCGs", mupdf.pdf_new_indirect(self.document, number, 0))
            mupdf.pdf_dict_puts(membership, "P", mupdf.pdf_new_name("AllOff" if printed else "AnyOn"))

    def _was_here(self, thing: Any) -> bool:
        number = mupdf.pdf_to_num(thing)
        if number in self._seen:
            return True
        if number:
            self._seen.add(number)
        return False


def _without_sticker(annotation: Any) -> None:
    """Hides a signature field that nobody has given a look."""
    if str(mupdf.pdf_to_name(mupdf.pdf_dict_gets_inheritable(annotation, "FT"))) != "Sig":
        return
    if not mupdf.pdf_is_dict(mupdf.pdf_dict_gets(mupdf.pdf_dict_gets(annotation, "AP"), "N")):
        flags = mupdf.pdf_to_int(mupdf.pdf_dict_gets(annotation, "F"))
        mupdf.pdf_dict_put_int(annotation, mupdf.pdf_new_name("F"), flags | HIDDEN_FLAG)


def _without_overprint(state: Any) -> None:
    """Takes overprint from a graphics state that has a blend mode which does the same."""
    blend = mupdf.pdf_dict_gets(state, "BM")
    if mupdf.pdf_is_array(blend):
        blend = mupdf.pdf_array_get(blend, 0)
    if str(mupdf.pdf_to_name(blend)) not in _LEAVE_THE_GROUND:
        return
    for key in ("OP", "op"):
        if mupdf.pdf_is_bool(mupdf.pdf_dict_gets(state, key)):
            mupdf.pdf_dict_put_bool(state, mupdf.pdf_new_name(key), 0)


def _is_no_ink(space: Any) -> bool:
    family, named = (mupdf.pdf_array_get(space, place) for place in (0, 1))
    if mupdf.pdf_to_name(family) == "Separation":
        return str(mupdf.pdf_to_name(named)) == "None"
    inks = {mupdf.pdf_to_name(mupdf.pdf_array_get(named, place)) for place in range(mupdf.pdf_array_len(named))}
    return str(mupdf.pdf_to_name(family)) == "DeviceN" and inks == {"None"}


def _plain(thing: Any, depth: int) -> Expression:
    if depth > DEEPEST:
        return None
    if mupdf.pdf_is_array(thing):
        return [_plain(mupdf.pdf_array_get(thing, place), depth + 1) for place in range(mupdf.pdf_array_len(thing))]
    return str(mupdf.pdf_to_name(thing)) if mupdf.pdf_is_name(thing) else int(mupdf.pdf_to_num(thing)) or None


def _values(thing: Any) -> list[Any]:
    return [mupdf.pdf_dict_get_val(thing, index) for index in range(mupdf.pdf_dict_len(thing))]
