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
#: Forms within forms within patterns ...: deeper than any program writes, and an end to cycles of direct objects.
_DEEPEST = 24

_NOT_SPOTS = frozenset((*PROCESS_INKS, "All", "None"))


@dataclass
class SpotCache:
    """What was looked up in one document: pages share their resources."""

    #: Spaces with spots below an indirect object, by its number: pairs of space object and the names of its colorants.
    by_object: dict[int, tuple[tuple[Any, tuple[str, ...]], ...]] = field(default_factory=dict)


@dataclass(frozen=True)
class SpotGroup:
    """Spots that are rendered together: the engine's separations object, all switched to plates, and their names in its order."""

    separations: Any
    names: tuple[str, ...]


def spot_groups(page: Any, cache: SpotCache | None = None) -> list[SpotGroup]:
    """The spots of a page in groups that one rendering holds; mostly one group, never none.

    Without a separations object the engine does not overprint at all, so a page without spots has an empty group.
    """
    spaces = _spaces_by_ink(page, cache or SpotCache())
    try:
        separations = mupdf.fz_page_separations(page.super())
    except mupdf.FzErrorBase:
        # More than the engine's own list holds.
        separations = None
    if separations is not None and not separations.m_internal:
        separations = mupdf.fz_new_separations(1)
    known = _names(separations) if separations is not None else ()
    missed = [ink for ink in spaces if ink not in known]
    if separations is not None and len(known) + len(missed) <= MOST_SPOTS_AT_ONCE:
        return [_group(separations, missed, spaces)]
    unknown = [ink for ink in known if ink not in spaces]
    if unknown:
        raise ToolFault(
            f"more than {MOST_SPOTS_AT_ONCE} spot inks on one page, and no colour space of {unknown[0]} to be found"
        )
    inks = list(spaces)
    return [
        _group(mupdf.fz_new_separations(1), inks[first : first + MOST_SPOTS_AT_ONCE], spaces)
        for first in range(0, len(inks), MOST_SPOTS_AT_ONCE)
    ]


def _group(separations: Any, added: list[str], spaces: dict[str, tuple[Any, int]]) -> SpotGroup:
    for ink in added:
        space, channel = spaces[ink]
        mupdf.fz_add_separation(separations, ink, mupdf.pdf_load_colorspace(space), channel)
    names = _names(separations)
    for index in range(len(names)):
        mupdf.fz_set_separation_behavior(separations, index, mupdf.FZ_SEPARATION_SPOT)
    return SpotGroup(separations, names)


def _names(separations: Any) -> tuple[str, ...]:
    return tuple(
        mupdf.fz_separation_name(separations, index) for index in range(mupdf.fz_count_separations(separations))
    )


def _spaces_by_ink(page: Any, cache: SpotCache) -> dict[str, tuple[Any, int]]:
    """For each spot the first colour space that has it, and its place in that."""
    found: dict[str, tuple[Any, int]] = {}
    for space, inks in _spaces_of_page(page, cache):
        for channel, ink in enumerate(inks):
            if ink not in _NOT_SPOTS:
                found.setdefault(ink, (space, channel))
    return found


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
    if not _NOT_SPOTS.issuperset(names):
        yield space, names


def _get(thing: Any, key: str) -> Any:
    return mupdf.pdf_dict_gets(thing, key)


def _values(thing: Any) -> Iterator[Any]:
    for index in range(mupdf.pdf_dict_len(thing)):
        yield mupdf.pdf_dict_get_val(thing, index)
