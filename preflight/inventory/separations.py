"""Which spot plates a page needs: every named ink its resources can paint with, wherever it is nested.

The engine's own list looks into colour spaces, shadings, forms and pictures. It leaves out tiling patterns, Type 3 glyphs and
the appearances of annotations, and an ink it does not know is mixed into the process plates. So those are looked up here. Cyan,
Magenta, Yellow and Black are process plates under any space; All and None are no inks of their own (ISO 32000-2, 8.6.6.4).
Names are a stranger's bytes; those that are no UTF-8 arrive as lone surrogates and stay so.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

from pymupdf import mupdf

from preflight.errors import ToolFault
from preflight.inventory.model import PROCESS_INKS

#: Planes of one rendering: the engine holds 32, four of them process inks.
MOST_SPOTS_AT_ONCE = int(mupdf.FZ_MAX_COLORS) - len(PROCESS_INKS)
MOST_SPOTS = int(mupdf.FZ_MAX_SEPARATIONS)
#: Forms within forms within patterns ...: deeper than any program writes, and an end to cycles of direct objects.
_DEEPEST = 24

_NOT_SPOTS = frozenset((*PROCESS_INKS, "All", "None"))


@dataclass
class SpotCache:
    """What was looked up in one document: pages share their resources."""

    #: Spaces with spots below an indirect object, by its number: pairs of space object and its spots' names.
    by_object: dict[int, tuple[tuple[Any, tuple[str, ...]], ...]] = field(default_factory=dict)


def page_separations(page: Any, cache: SpotCache | None = None) -> tuple[Any, tuple[str, ...]]:
    """The engine's separations object for a page, and the spots' names in its order; nothing switched to plates yet.

    Never empty-handed: without a separations object the engine does not overprint at all.
    """
    separations = mupdf.fz_page_separations(page.super())
    if not separations.m_internal:
        separations = mupdf.fz_new_separations(1)
    count = mupdf.fz_count_separations(separations)
    known = {mupdf.fz_separation_name(separations, index) for index in range(count)}
    for space_object, names in _spaces_of_page(page, cache or SpotCache()):
        if known.issuperset(names):
            continue
        space = mupdf.pdf_load_colorspace(space_object)
        for channel in range(mupdf.fz_colorspace_n(space)):
            name = mupdf.fz_colorspace_colorant(space, channel)
            if name is None or name in known or name in _NOT_SPOTS:
                continue
            if len(known) >= MOST_SPOTS:
                raise ToolFault(f"more than {MOST_SPOTS} spot inks on one page")
            mupdf.fz_add_separation(separations, name, space, channel)
            known.add(name)
    count = mupdf.fz_count_separations(separations)
    return separations, tuple(mupdf.fz_separation_name(separations, index) for index in range(count))


def passes_for(separations: Any, count: int) -> Iterator[tuple[int, ...]]:
    """Switches as many spots to plates as one rendering holds, and yields their positions; again until all had their turn.

    The engine ties some positions together beyond the sixteenth, so what a switch did is read back, not assumed.
    """
    left = set(range(count))
    if not left:
        yield ()
    while left:
        for index in range(count):
            mupdf.fz_set_separation_behavior(separations, index, mupdf.FZ_SEPARATION_DISABLED)
        on: set[int] = set()
        if count <= MOST_SPOTS_AT_ONCE:
            for index in range(count):
                mupdf.fz_set_separation_behavior(separations, index, mupdf.FZ_SEPARATION_SPOT)
            on = _switched_on(separations, count)
        else:
            for index in range(count):
                mupdf.fz_set_separation_behavior(separations, index, mupdf.FZ_SEPARATION_SPOT)
                tried = _switched_on(separations, count)
                if len(tried) > MOST_SPOTS_AT_ONCE or not (tried - on) & left:
                    mupdf.fz_set_separation_behavior(separations, index, mupdf.FZ_SEPARATION_DISABLED)
                on = _switched_on(separations, count)
        if not on & left:
            raise ToolFault("the engine could not separate all spot inks of this page")
        left -= on
        yield tuple(sorted(on))


def _switched_on(separations: Any, count: int) -> set[int]:
    return {
        index
        for index in range(count)
        if mupdf.fz_separation_current_behavior(separations, index) == mupdf.FZ_SEPARATION_SPOT
    }


# --- looking through resources --------------------------------------------------------------------------------------


def _spaces_of_page(page: Any, cache: SpotCache) -> Iterator[tuple[Any, tuple[str, ...]]]:
    yield from _below(mupdf.pdf_page_resources(page), cache, frozenset(), 0)
    annotations = _get(page.obj(), "Annots")
    for index in range(mupdf.pdf_array_len(annotations)):
        normal = _get(_get(mupdf.pdf_array_get(annotations, index), "AP"), "N")
        if mupdf.pdf_is_stream(normal):
            yield from _below(_get(normal, "Resources"), cache, frozenset(), 0)
        else:
            for state in _values(normal):
                yield from _below(_get(state, "Resources"), cache, frozenset(), 0)


def _below(
    resources: Any, cache: SpotCache, above: frozenset[int], depth: int
) -> Iterator[tuple[Any, tuple[str, ...]]]:
    """Spaces with spots in a resource dictionary and in whatever it draws with."""
    if depth > _DEEPEST or not mupdf.pdf_is_dict(resources):
        return
    number = mupdf.pdf_to_num(resources) if mupdf.pdf_is_indirect(resources) else 0
    if number in above:
        return
    above = above | {number} if number else above
    for space in _values(_get(resources, "ColorSpace")):
        yield from _space(space)
    for shading in _values(_get(resources, "Shading")):
        yield from _space(_get(shading, "ColorSpace"))
    for name, inner in (("Pattern", "Resources"), ("XObject", "Resources"), ("Font", "Resources")):
        for thing in _values(_get(resources, name)):
            yield from _cached(thing, inner, cache, above, depth)


def _cached(
    thing: Any, inner: str, cache: SpotCache, above: frozenset[int], depth: int
) -> Iterator[tuple[Any, tuple[str, ...]]]:
    """What a form, picture, pattern or Type 3 font brings, looked up once in a document."""
    number = mupdf.pdf_to_num(thing)
    if number in above:
        return
    if number and number in cache.by_object:
        yield from cache.by_object[number]
        return
    found = [
        *_space(_get(thing, "ColorSpace")),
        *_space(_get(_get(thing, "Shading"), "ColorSpace")),
        *_below(_get(thing, inner), cache, above | {number} if number else above, depth + 1),
    ]
    if number:
        cache.by_object[number] = tuple(found)
    yield from found


def _space(space: Any) -> Iterator[tuple[Any, tuple[str, ...]]]:
    """A colour space object, where it names spots; an indexed or pattern space by its base."""
    if not mupdf.pdf_is_array(space):
        return
    family = mupdf.pdf_to_name(mupdf.pdf_array_get(space, 0))
    if family in ("Indexed", "I", "Pattern"):
        yield from _space(mupdf.pdf_array_get(space, 1))
        return
    if family not in ("Separation", "DeviceN"):
        return
    named = mupdf.pdf_array_get(space, 1)
    if family == "DeviceN":
        names = tuple(mupdf.pdf_to_name(mupdf.pdf_array_get(named, i)) for i in range(mupdf.pdf_array_len(named)))
    else:
        names = (mupdf.pdf_to_name(named),)
    spots = tuple(name for name in names if name not in _NOT_SPOTS)
    if spots:
        yield space, spots


def _get(thing: Any, key: str) -> Any:
    return mupdf.pdf_dict_gets(thing, key)


def _values(thing: Any) -> Iterator[Any]:
    for index in range(mupdf.pdf_dict_len(thing)):
        yield mupdf.pdf_dict_get_val(thing, index)
