"""Switches overprint off for a while: the page as everybody sees it who looks at it without overprint.

Overprint is only ever switched on by the entries OP and op of graphics states (ISO 32000-2, Table 57), so in the drawing engine's
memory they are set to false wherever the page can reach them, and put back afterwards. Both views are then drawn the same way, ink by
ink: whatever differs between them is the work of overprint alone.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any

from pymupdf import mupdf

_KEYS = ("OP", "op")
#: Forms within forms within patterns ...: deeper than any program writes.
_DEEPEST = 24


@contextmanager
def overprint_off(page: Any) -> Iterator[None]:
    """While it lasts, nothing on a page (``mupdf.PdfPage``) overprints."""
    states = _States()
    states.look_through(page)
    try:
        for state, key, _ in states.found:
            mupdf.pdf_dict_put_bool(state, mupdf.pdf_new_name(key), 0)
        if states.in_patterns:
            # The engine keeps the cells of patterns as it drew them.
            mupdf.fz_empty_store()
        yield
    finally:
        for state, key, value in states.found:
            mupdf.pdf_dict_puts(state, key, value)
        if states.in_patterns:
            mupdf.fz_empty_store()


@dataclass
class _States:
    """The graphics states of a page that switch overprint on: dictionary, key and the value that stands there."""

    found: list[tuple[Any, str, Any]] = field(default_factory=list)
    in_patterns: bool = False
    _seen: set[int] = field(default_factory=set)

    def look_through(self, page: Any) -> None:
        self._resources(mupdf.pdf_page_resources(page), 0, in_pattern=False)
        annotations = mupdf.pdf_dict_gets(page.obj(), "Annots")
        for index in range(mupdf.pdf_array_len(annotations)):
            shown = mupdf.pdf_dict_gets(mupdf.pdf_dict_gets(mupdf.pdf_array_get(annotations, index), "AP"), "N")
            for form in (shown, *_values(shown)):
                self._thing(form, 0, in_pattern=False)

    def _resources(self, resources: Any, depth: int, *, in_pattern: bool) -> None:
        if depth > _DEEPEST or not mupdf.pdf_is_dict(resources):
            return
        for state in _values(mupdf.pdf_dict_gets(resources, "ExtGState")):
            self._state(state, depth, in_pattern=in_pattern)
        for category in ("XObject", "Font"):
            for thing in _values(mupdf.pdf_dict_gets(resources, category)):
                self._thing(thing, depth, in_pattern=in_pattern)
        for pattern in _values(mupdf.pdf_dict_gets(resources, "Pattern")):
            self._thing(pattern, depth, in_pattern=True)

    def _state(self, state: Any, depth: int, *, in_pattern: bool) -> None:
        for key in _KEYS:
            value = mupdf.pdf_dict_gets(state, key)
            if mupdf.pdf_to_bool(value):
                self.found.append((state, key, value))
                self.in_patterns = self.in_patterns or in_pattern
        mask = mupdf.pdf_dict_gets(mupdf.pdf_dict_gets(state, "SMask"), "G")
        self._thing(mask, depth, in_pattern=in_pattern)

    def _thing(self, thing: Any, depth: int, *, in_pattern: bool) -> None:
        """A form, pattern, Type 3 font or appearance: the resources it draws with."""
        number = mupdf.pdf_to_num(thing)
        if number:
            if number in self._seen:
                return
            self._seen.add(number)
        if mupdf.pdf_is_dict(thing):
            self._resources(mupdf.pdf_dict_gets(thing, "Resources"), depth + 1, in_pattern=in_pattern)


def _values(thing: Any) -> list[Any]:
    return [mupdf.pdf_dict_get_val(thing, index) for index in range(mupdf.pdf_dict_len(thing))]
