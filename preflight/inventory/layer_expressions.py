"""Whether something is there that layers show by an expression: And, Or and Not over layers and further expressions.

By ISO 32000-2, 8.11.2.2 (VE). An expression is told in plain lists, such as ``["And", 12, ["Not", 14]]``, a layer by the number of its
object; both engines' arrays are turned into that.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import pikepdf

from preflight.inventory.objects import is_array, items_of, name_of, object_number

#: Expressions within expressions: deeper than any program writes.
DEEPEST = 32

#: An operator's name, a layer's object number, a list of an operator and what it works on, or None: nothing that has a meaning.
Expression = list[Any] | str | int | None


def expression_of(thing: pikepdf.Object | None, depth: int = 0) -> Expression:
    """An expression as the structure holds it."""
    if depth > DEEPEST:
        return None
    if is_array(thing):
        return [expression_of(item, depth + 1) for item in items_of(thing)]
    return name_of(thing) or object_number(thing)


def as_expression(groups: list[Any], policy: str) -> Expression:
    """The plain form of a membership, by its policy (P; AnyOn where it says nothing). Layers that are not there do not count."""
    layers = [group for group in groups if group is not None]
    if not layers:
        return None
    operator = "And" if policy in ("AllOn", "AllOff") else "Or"
    return [operator, *(["Not", layer] if policy in ("AllOff", "AnyOff") else layer for layer in layers)]


def is_on(expression: Expression, states: Mapping[int, bool | None]) -> bool | None:
    """What an expression comes to with each layer in this state; None where that cannot be told."""
    if isinstance(expression, int):
        return states.get(expression)
    if not isinstance(expression, list) or len(expression) < 2:
        return None
    operator, *operands = expression
    values = [is_on(operand, states) for operand in operands]
    if None in values:
        return None
    if operator == "Not":
        return not values[0] if len(values) == 1 else None
    return {"And": all(values), "Or": any(values)}.get(operator) if isinstance(operator, str) else None
