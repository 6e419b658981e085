"""What overprint changes on a page: things that leave no mark because of it, and areas that look different.

The plates are held against the knocked-out view of the same place: same pixels, same inks, nothing overprints (``knocked_out``). Where
both agree overprint does nothing, whatever is set: white on bare paper, black on black. The second view is drawn only of places where
something overprints that has foreign ink in its box. Left alone: type and thin lines in black alone, narrow overlaps along a thing's rim
(traps), and whatever is in finishing inks. Limits are the rules' (``[overprint]``, and ``[black]`` for what is thin); differences in
look are ΔE (CIE 1976), areas mm2 at the resolution of the plates.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from preflight.inventory.model import OverprintChange, Painted
from preflight.inventory.overprint_views import PAPER, BothViews, Thing, pixels_of, views_of
from preflight.inventory.render import PlatePixels, render_plates
from preflight.ticket import Job
from preflight.units import Box, PageFrame

#: Beyond so many things that overprint they are not asked one by one whether there is foreign ink in their box.
_MOST_ASKED = 500


def read_overprint(
    document: Any,
    page: Any,
    frame: PageFrame,
    painted: tuple[Painted, ...],
    plates: PlatePixels,
    zone_mm: Box,
    job: Job,
) -> tuple[OverprintChange, ...]:
    """The changes on one page (``mupdf.PdfPage``), things that vanish first. ``plates`` are its plates as drawn."""
    painted = tuple([thing for thing in painted if thing.overprint])
    if not painted:
        return ()
    zone = zone_mm.intersect(plates.box_mm)
    overprinting = list(_overprinting(painted, zone, job))
    asked = overprinting[:_MOST_ASKED]
    things = [thing for thing in asked if _has_foreign_ink(thing, plates, job)] + overprinting[_MOST_ASKED:]
    if not things:
        return ()
    region = things[0].box
    for thing in things[1:]:
        region = region.union(thing.box)
    # At least a pixel: a level line has no height.
    region = region.grow(1.0 / plates.pixels_per_mm).intersect(plates.box_mm)
    off = render_plates(document, page, frame, region, plates.pixels_per_mm, overprint=False, press=plates.press)
    views = views_of(plates, off, job)
    if views is None:
        return ()
    alone = [thing for thing in _within(painted, zone) if _is_fine_black(thing, job)]
    both = BothViews(views, things, alone, job.limits["overprint"])
    return (*both.vanished(), *both.changed())


def _overprinting(painted: tuple[Painted, ...], zone: Box, job: Job) -> Iterator[Thing]:
    """What shows of things that overprint; not black type and thin lines, nor what is in finishing inks alone."""
    finishing: dict[tuple[str, ...], bool] = {}
    for thing in _within(painted, zone):
        if _is_fine_black(thing, job):
            continue
        colour = thing.painted.colour
        if colour is not None and colour.family in ("separation", "device-n"):
            if colour.inks not in finishing:
                finishing[colour.inks] = all(job.is_finishing(ink) for ink in colour.inks)
            if finishing[colour.inks]:
                continue
        yield thing


def _is_fine_black(thing: Thing, job: Job) -> bool:
    return thing.is_fine_black(job.limits["black"].line_below_pt)


def _within(painted: tuple[Painted, ...], zone: Box) -> Iterator[Thing]:
    """Matter that may show in the zone, with what of its box lies there."""
    for thing in painted:
        if not thing.is_visible or thing.kind in ("group", "mask") or "soft-mask" in thing.inside:
            continue
        if thing.visible_mm is None or (thing.text is not None and not thing.text.inked_glyphs):
            continue
        box = thing.visible_mm.intersect(zone)
        if not box.is_empty:
            yield Thing(thing, box)


def _has_foreign_ink(thing: Thing, plates: PlatePixels, job: Job) -> bool:
    """Whether the plates hold any ink in its box that is not its own."""
    own = thing.own_inks or ()
    rows, columns = pixels_of(thing.box, plates)
    return any(
        ink not in own and not job.is_finishing(ink) and bool((plane[rows, columns] > PAPER).any())
        for ink, plane in zip(plates.inks, plates.planes, strict=True)
    )
