"""Whether the ink at a place is an estimate: RGB or Lab that was separated without the artwork's or the shop's press profile.

Told from the paint list: what lies there, from the top down to the first thing that hides the rest. Where matter of known ink
(CMYK, gray, spots) could carry the excess by itself, it is no estimate: in doubt the figure counts.
"""

from __future__ import annotations

from collections.abc import Iterable

from preflight.inventory.model import Painted
from preflight.units import Box

CONVERTED = frozenset({"rgb", "cal-rgb", "icc-rgb", "lab", "icc-lab"})
#: Share of a place that a thing must cover to count for it.
_LEAST_SHARE = 0.2


def any_converted(painted: Iterable[Painted]) -> bool:
    """Whether anything visible is painted in a colour that had to be converted to ink."""
    return any(thing.is_visible and thing.colour is not None and thing.colour.family in CONVERTED for thing in painted)


def rests_on_converted(place_mm: Box, above_percent: float, painted: Iterable[Painted]) -> bool:
    """Whether ink over ``above_percent`` at a place comes from converted colours only."""
    converted = False
    known_percent = 0.0
    for thing in sorted(painted, key=lambda thing: -thing.order):
        box, colour = thing.visible_mm, thing.colour
        if box is None or colour is None or not thing.is_visible or thing.kind in ("group", "mask"):
            continue
        common = box.intersect(place_mm)
        if common.is_empty or common.area < _LEAST_SHARE * place_mm.area:
            continue
        if colour.family in CONVERTED:
            converted = True
        else:
            tints = (
                colour.tints_percent()
                if thing.kind in ("fill", "stroke", "text", "text-stroke", "image-mask")
                else None
            )
            # Pictures and shadings of known ink may hold anything.
            known_percent += sum(tints.values()) if tints is not None else above_percent + 1.0
        if known_percent > above_percent:
            return False
        if _hides(thing, box, place_mm):
            break
    return converted


def _hides(thing: Painted, box: Box, place_mm: Box) -> bool:
    whole = (thing.kind == "fill" and thing.shape is not None and thing.shape.is_rectangle) or (
        thing.kind == "image" and thing.image is not None and thing.image.mask_px is None
    )
    opaque = thing.alpha >= 1.0 and thing.blend == "Normal" and not thing.overprint
    return whole and opaque and box.contains(place_mm, slack=0.1)
