"""What is made of the rules is made once a run: the files of a run are held against the same ones, and there are hundreds."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, TypeVar

T = TypeVar("T")

#: So many sets of rules are remembered: those with and without a ticket, and a few to spare.
_MOST = 4


def once_per_rules(make: Callable[[Mapping[str, Any]], T]) -> Callable[[Mapping[str, Any]], T]:
    """Remembers what was made of rules, by the very values they hold: what only equals them is made anew.

    (1 equals true, and is written in another way.)
    """
    held: tuple[tuple[dict[str, Any], T], ...] = ()

    def of(values: Mapping[str, Any]) -> T:
        nonlocal held
        for former, made in held:
            if _are_the_very_same(former, values):
                return made
        made = make(values)
        held = (*held[1 - _MOST :], (dict(values), made))
        return made

    return of


def _are_the_very_same(former: dict[str, Any], values: Mapping[str, Any]) -> bool:
    return len(former) == len(values) and all(
        key == other and value is same
        for (key, value), (other, same) in zip(former.items(), values.items(), strict=True)
    )
