"""How each spot colour is built from its stand-in colours, sampled at 100 and 50 %, so that two recipes can be compared.

ISO 32000-2, 8.6.6.4: a Separation space carries a tint transform into an alternate space. Inks of a DeviceN space count where the space
lists their own Separation spaces (Colorants, Table 71); its own transform is a preview of the mixture and no recipe.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pikepdf

from preflight.inventory.functions import FunctionFault, evaluate
from preflight.inventory.model import PROCESS_INKS, SpotRecipe
from preflight.inventory.objects import items_of, name_of, object_number
from preflight.inventory.resources import all_uses_of

if TYPE_CHECKING:
    from preflight.inventory.opening import Artwork

_NO_SPOTS = frozenset((*PROCESS_INKS, "All", "None"))
#: Values of the alternate space that can be told apart in print: half a percent.
_DIGITS = 3


def read_spot_recipes(artwork: Artwork) -> tuple[SpotRecipe, ...]:
    """The recipes in use: one entry for each ink and recipe, with the pages that use it."""
    pages: dict[SpotRecipe, set[int]] = {}
    known: dict[int, SpotRecipe | None] = {}
    for number, page in enumerate(artwork.pages, 1):
        if page.dictionary is None:
            continue
        for use in all_uses_of(artwork, number).of("ColorSpace"):
            object_no = object_number(use.thing)
            if object_no is None or object_no not in known:
                recipe = _recipe(use.thing)
                if object_no is not None:
                    known[object_no] = recipe
            else:
                recipe = known[object_no]
            if recipe is not None:
                pages.setdefault(recipe, set()).add(number)
    return tuple(
        SpotRecipe(recipe.ink, recipe.alternate, recipe.full, recipe.half, tuple(sorted(where)))
        for recipe, where in pages.items()
    )


def _recipe(space: Any) -> SpotRecipe | None:
    parts = items_of(space)
    if len(parts) < 4 or name_of(parts[0]) != "Separation":
        return None
    ink = name_of(parts[1])
    if ink is None or ink in _NO_SPOTS:
        return None
    alternate = name_of(parts[2]) or (name_of(items_of(parts[2])[0]) if items_of(parts[2]) else None)
    return SpotRecipe(ink, alternate or "unknown", _tint(parts[3], 1.0), _tint(parts[3], 0.5))


def _tint(transform: Any, amount: float) -> tuple[float, ...]:
    """The alternate values of an amount of ink; none where the transform cannot be read."""
    try:
        values = evaluate(transform, [amount])
    except (FunctionFault, pikepdf.PdfError):
        return ()
    return tuple(round(value, _DIGITS) for value in values)
