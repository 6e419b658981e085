"""Which visible things of a page are in a colour space that has to be converted before print, and what part of it they are.

Pictures, vectors, soft masks and blend spaces are told apart, since each is changed in another place of the customer's program. A
group blends in its own space only where something shows in it; white RGB as such leaves no ink. CMYK with a profile is as good
as plain CMYK where the profile is the output intent's (ISO 32000-2, 8.6.5.5).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from functools import reduce
from itertools import islice, takewhile

from preflight.conditions import conditions_named, names_condition
from preflight.inventory.model import Colour, OutputIntent, Page, Painted
from preflight.units import Box

RGB = ("rgb", "cal-rgb", "icc-rgb")
LAB = ("lab", "icc-lab", "cal-gray")
BLEND_SPACES = "blend spaces"
SOFT_MASKS = "soft masks"
#: So many things after a group are asked whether they show in it.
MEMBERS_LOOKED_AT = 2000

#: Things with what shows of them, by kind (``rgb``, ``lab``, ``other-cmyk``) and by part of the artwork.
InUse = dict[tuple[str, str], list[tuple[Painted, Box]]]


def foreign_colours(page: Page, intents: tuple[OutputIntent, ...], accepted: tuple[str, ...] | None = None) -> InUse:
    """Everything visible on a page that is not in CMYK, gray or a spot ink as the press takes them.

    An image file has no output intent: its own profile is one, and ``accepted`` names the conditions it may be for.
    """
    found: InUse = defaultdict(list)
    for index, thing in enumerate(page.painted):
        if thing.colour is None or thing.visible_mm is None or not thing.is_visible or "alpha-mask" in thing.inside:
            continue  # a mask of strength alone takes no colour from what is in it (ISO 32000-2, 11.5.2)
        kind = _kind_of(thing.colour, intents, accepted)
        if kind and not _is_white(thing.colour) and (thing.kind != "group" or _blends(page.painted, index)):
            shown = _blended(page.painted, index) if thing.kind == "group" else thing.visible_mm
            found[kind, _part(thing)].append((thing, shown))
    return dict(found)


def _kind_of(colour: Colour, intents: tuple[OutputIntent, ...], accepted: tuple[str, ...] | None) -> str | None:
    if colour.family in RGB:
        return "rgb"
    if colour.family in LAB:
        return "lab"
    if colour.family != "icc-cmyk":
        return None
    if accepted is None:
        fits = any(_is_intent_profile(colour, intent) for intent in intents)
    else:
        named = conditions_named(colour.profile_description)
        fits = not (named and accepted) or any(
            names_condition(colour.profile_description, condition) for condition in accepted
        )
    return None if fits else "other-cmyk"


def _is_intent_profile(colour: Colour, intent: OutputIntent) -> bool:
    """The same profile; where the intent brings none, a profile that names the intent's condition."""
    if intent.profile_md5 is not None:
        return colour.profile_md5 == intent.profile_md5
    named = conditions_named(intent.identifier)
    return any(names_condition(colour.profile_description, condition) for condition in named)


def _is_white(colour: Colour) -> bool:
    """Paper-white RGB; pictures, shadings and groups have no single value."""
    return colour.family in RGB and len(colour.values) == 3 and min(colour.values) >= 1.0


def _part(thing: Painted) -> str:
    """The part of the artwork that has to be changed for it."""
    if thing.kind == "mask" or "soft-mask" in thing.inside:
        return SOFT_MASKS
    if thing.kind == "group":
        return BLEND_SPACES
    return "images" if thing.kind == "image" else "vectors"


def _blends(painted: Sequence[Painted], index: int) -> bool:
    """Whether anything that shows is blended in a group: its members follow it in the order of painting."""
    group = painted[index]
    return any(
        thing.is_visible and "group" in thing.inside and group.box_mm.meets(thing.box_mm)
        for thing in islice(painted, index + 1, index + 1 + MEMBERS_LOOKED_AT)
    )


def _blended(painted: Sequence[Painted], index: int) -> Box:
    """Where things show that are blended in a group; its own box may be the whole page."""
    group = painted[index]
    whole = group.visible_mm or group.box_mm
    members = list(
        takewhile(lambda thing: "group" in thing.inside, islice(painted, index + 1, index + 1 + MEMBERS_LOOKED_AT))
    )
    boxes = [
        thing.visible_mm
        for thing in members
        if thing.is_visible and thing.visible_mm is not None and thing.kind not in ("group", "mask")
    ]
    if not boxes or len(members) == MEMBERS_LOOKED_AT:
        return whole  # in doubt all of it
    shown = whole.intersect(reduce(Box.union, boxes))
    return whole if shown.is_empty else shown
