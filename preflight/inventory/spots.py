"""How each spot colour is built from its stand-in colours, sampled at 100 and 50 %, so that two recipes can be compared.

ISO 32000-2, 8.6.6.4: a Separation space carries a tint transform into an alternate space. Inks of a DeviceN space count where the space
lists their own Separation spaces (Colorants, Table 71); its own transform is a preview of the mixture and no recipe.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pikepdf

from preflight.inventory.functions import FunctionFault, evaluate
from preflight.inventory.model import PROCESS_INKS, SpotRecipe
from preflight.inventory.objects import items_of, name_of, object_number
from preflight.inventory.resources import PageUses

_NO_SPOTS = frozenset((*PROCESS_INKS, "All", "None"))
#: Values of the alternate space that can be told apart in print: half a percent.
_DIGITS = 3


class SpotRecipes:
    """Collects the recipes in use, page by page: one entry for each ink and recipe."""

    def __init__(self) -> None:
        self._pages: dict[SpotRecipe, set[int]] = {}
        self._known: dict[int, SpotRecipe | None] = {}

    def add(self, number: int, uses: PageUses) -> None:
        """Takes in what one page uses."""
        for use in uses.of("ColorSpace"):
            recipe = self._recipe_of(use.thing)
            if recipe is not None:
                self._pages.setdefault(recipe, set()).add(number)

    def all(self) -> tuple[SpotRecipe, ...]:
        """All recipes with their pages."""
        return tuple(replace(recipe, pages=tuple(sorted(pages))) for recipe, pages in self._pages.items())

    def _recipe_of(self, space: Any) -> SpotRecipe | None:
        number = object_number(space)
        if number is None:
            return _recipe(space)
        if number not in self._known:
            self._known[number] = _recipe(space)
        return self._known[number]


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
