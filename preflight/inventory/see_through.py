"""Mends the plates where see-through fills and strokes lie in an open group.

Without anti-aliasing the engine takes the share of a see-through path for whole where it lies in a non-isolated group, and every
path with a blend mode of its own is one: K 100 at 60 %, Multiply, over K 10 reads 95 instead of 64 % (ISO 32000-2, 11.3.6, and
another renderer). With anti-aliasing it is right, but abutting edges are not. So a page that may hold such paths is drawn both ways; where
the two differ over an area, and not just along an edge, the smooth one is taken.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
import numpy.typing as npt
from pymupdf import mupdf

Plane = npt.NDArray[np.uint8]

_SEE_THROUGH, _BLENDS, _OPEN_GROUP = 1, 2, 4
#: Bytes by which two ways of drawing one flat tint never differ.
_SAME = 4
_DEEPEST = 24


def may_see_through(page: Any, cache: dict[int, int]) -> bool:
    """Whether a page's resources hold an opacity under 1 together with a blend mode or a non-isolated group.

    ``cache`` keeps what was looked up in the document, by object number.
    """
    seen = _of_resources(mupdf.pdf_page_resources(page), cache, frozenset(), 0)
    annotations = mupdf.pdf_dict_gets(page.obj(), "Annots")
    for index in range(mupdf.pdf_array_len(annotations)):
        shown = mupdf.pdf_dict_gets(mupdf.pdf_dict_gets(mupdf.pdf_array_get(annotations, index), "AP"), "N")
        for form in (shown, *_values(shown)):
            seen |= _of_thing(form, cache, frozenset(), 0)
    return bool(seen & _SEE_THROUGH) and bool(seen & (_BLENDS | _OPEN_GROUP))


def mended(sharp: list[Plane], smooth: list[Plane]) -> list[Plane]:
    """The sharp planes, with the smooth ones where both differ over an area of at least 3 x 3 pixels, and two pixels around it."""
    differs = np.zeros(sharp[0].shape, dtype=bool)
    for one, other in zip(sharp, smooth, strict=True):
        # Unsigned, so the larger of the two must come first.
        differs |= np.maximum(one, other) - np.minimum(one, other) > _SAME
    if not differs.any():
        return sharp
    solid = _each_way(differs, 1, shrink=True)
    if not solid.any():
        return sharp
    taken = _each_way(solid, 3, shrink=False)
    return [np.where(taken, other, one) for one, other in zip(sharp, smooth, strict=True)]


def _each_way(mask: npt.NDArray[np.bool_], by: int, *, shrink: bool) -> npt.NDArray[np.bool_]:
    """A mask grown, or shrunk, by some pixels on all sides."""
    join = np.logical_and if shrink else np.logical_or
    padded = np.pad(mask, by)
    rows = join.reduce([padded[step : step + mask.shape[0]] for step in range(2 * by + 1)])
    moved: npt.NDArray[np.bool_] = join.reduce([rows[:, step : step + mask.shape[1]] for step in range(2 * by + 1)])
    return moved


def _of_resources(resources: Any, cache: dict[int, int], above: frozenset[int], depth: int) -> int:
    if depth > _DEEPEST or not mupdf.pdf_is_dict(resources):
        return 0
    seen = 0
    for state in _values(mupdf.pdf_dict_gets(resources, "ExtGState")):
        seen |= _of_state(state, cache, above, depth)
    for category in ("XObject", "Pattern", "Font"):
        for thing in _values(mupdf.pdf_dict_gets(resources, category)):
            seen |= _of_thing(thing, cache, above, depth)
    return seen


def _of_state(state: Any, cache: dict[int, int], above: frozenset[int], depth: int) -> int:
    seen = 0
    for key in ("ca", "CA"):
        opacity = mupdf.pdf_dict_gets(state, key)
        if mupdf.pdf_is_number(opacity) and mupdf.pdf_to_real(opacity) < 1.0:
            seen |= _SEE_THROUGH
    blend = mupdf.pdf_dict_gets(state, "BM")
    if mupdf.pdf_is_array(blend):
        blend = mupdf.pdf_array_get(blend, 0)
    if mupdf.pdf_is_name(blend) and mupdf.pdf_to_name(blend) not in ("Normal", "Compatible"):
        seen |= _BLENDS
    mask = mupdf.pdf_dict_gets(mupdf.pdf_dict_gets(state, "SMask"), "G")
    return seen | _of_thing(mask, cache, above, depth)


def _of_thing(thing: Any, cache: dict[int, int], above: frozenset[int], depth: int) -> int:
    """A form, pattern, picture or font: its own group, and what it draws with."""
    if not mupdf.pdf_is_dict(thing):
        return 0
    number = mupdf.pdf_to_num(thing)
    if number in above:
        return 0
    if number and number in cache:
        return cache[number]
    seen = 0
    group = mupdf.pdf_dict_gets(thing, "Group")
    if mupdf.pdf_is_dict(group) and not mupdf.pdf_to_bool(mupdf.pdf_dict_gets(group, "I")):
        seen |= _OPEN_GROUP
    inner = mupdf.pdf_dict_gets(thing, "Resources")
    seen |= _of_resources(inner, cache, above | {number} if number else above, depth + 1)
    if number:
        cache[number] = seen
    return seen


def _values(thing: Any) -> Iterator[Any]:
    for index in range(mupdf.pdf_dict_len(thing)):
        yield mupdf.pdf_dict_get_val(thing, index)
