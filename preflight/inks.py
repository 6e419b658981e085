"""Which inks leave a mark, which of them are ordered, and when two names mean one tin of ink.

Colour separations go by name: ``Fern Green`` and ``FERN GREEN`` give two plates. Names are a stranger's text and may hold any
characters; case, spaces, punctuation and the finish suffixes of the shop rules do not tell inks apart. The process plates
go by their exact names. Coverage in percent.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable

from preflight.inventory.model import PROCESS_INKS, PageSummary, Plate, SpotRecipe
from preflight.ticket import SideInks, Ticket, fold_ink_name

#: Colorants that are no ink of their own (ISO 32000-2, 8.6.6.4): every plate, and no plate.
REGISTRATION = "All"
NOT_INKS = (REGISTRATION, "None")

_PROCESS = frozenset(ink.casefold() for ink in PROCESS_INKS)
_SHORT_NAMES = {"c": "cyan", "m": "magenta", "y": "yellow", "k": "black", "key": "black"}
#: Between words. Bytes that are no text (lone surrogates) are kept: they tell two names apart.
_NO_LETTERS = re.compile(r"(?:[^\w\ud800-\udfff]|_)+")


def ink_core(ink: str, suffixes: Iterable[str] = ()) -> str:
    """A name without case, spaces, punctuation, a process ink's ``Process`` and finish suffixes: equal for one tin of ink.

    A suffix only counts as a word of its own, or straight after a digit (``PMS 356C``), and never as the whole name.
    """
    words = [word for word in _NO_LETTERS.split(ink.casefold()) if word]
    if len(words) > 1 and words[0] == "process" and words[1] in _PROCESS:
        words = words[1:]
    ends = frozenset(suffixes)
    while len(words) > 1 and words[-1] in ends:
        words = words[:-1]
    if words:
        glued = re.fullmatch(r"(.*\d)([^\W\d_]+)", words[-1])
        if glued and glued[2] in ends:
            words[-1] = glued[1]
    return "".join(words) or ink


def ordered_core(ink: str, suffixes: Iterable[str] = ()) -> str:
    """The same for a name on a ticket, where C, M, Y and K stand for the process inks."""
    return _SHORT_NAMES.get(fold_ink_name(ink)) or ink_core(ink, suffixes)


def is_process(ink: str) -> bool:
    """Whether a colorant is one of the four process plates: they go by their exact names."""
    return ink in PROCESS_INKS


#: The pages of a file, each with the plates that leave a mark on it.
Marking = list[tuple[PageSummary, list[Plate]]]


def marking_plates(pages: Iterable[PageSummary], from_percent: float) -> Marking:
    """The plates of each page with a cell of at least ``from_percent``: declared inks that mark nothing are none."""
    return [
        (
            page,
            [
                plate
                for plate in page.plates
                if plate.ink not in NOT_INKS and plate.marked_mm2 > 0.0 and plate.highest_cell_percent >= from_percent
            ],
        )
        for page in pages
    ]


def unordered_inks(
    marking: Marking, order: Ticket, suffixes: Iterable[str]
) -> dict[str, list[tuple[PageSummary, Plate]]]:
    """Inks that mark without being ordered for that side, by name; without ordered inks, all that are not process inks.

    The finishing inks of the ticket are left alone; so are other finishing plates where inks are ordered (``finishing.unordered``).
    """
    ends = tuple(suffixes)
    finishing = {ink_core(ink, ends) for ink in order.finishing_inks}
    found: dict[str, list[tuple[PageSummary, Plate]]] = defaultdict(list)
    for page, plates in marking:
        ordered = order.inks_of(page.number)
        cores = None if ordered is None else {ordered_core(ink, ends) for ink in ordered}
        for plate in plates:
            core = ink_core(plate.ink, ends)
            ordinary = is_process(plate.ink) if cores is None else core in cores or plate.kind == "finishing"
            if core not in finishing and not ordinary:
                found[plate.ink].append((page, plate))
    return dict(found)


def missing_inks(marking: Marking, order: Ticket, suffixes: Iterable[str]) -> list[tuple[str, str]]:
    """Ordered inks that mark nothing, with the side they are ordered for (``front``, ``back`` or nothing).

    A side is only judged where it has pages and all of them were measured: what an unknown page carries is not missing. Inks ordered
    for finishing are judged there.
    """
    ends = tuple(suffixes)
    finishing = {ink_core(ink, ends) for ink in order.finishing_inks}
    sides: list[tuple[str, tuple[str, ...], int | None]]
    if isinstance(order.inks, SideInks):
        sides = [("front", order.inks.front, 1), ("back", order.inks.back, 0)]
    else:
        sides = [("", order.inks or (), None)]
    missing = []
    for side, inks, odd in sides:
        pages = [(page, plates) for page, plates in marking if odd is None or page.number % 2 == odd]
        if not pages or any(page.blank_trim is None for page, _ in pages):
            continue
        there = {ink_core(plate.ink, ends) for _, plates in pages for plate in plates}
        there |= finishing
        missing += [(ink, side) for ink in dict.fromkeys(inks) if ordered_core(ink, ends) not in there]
    return missing


def doubled_names(marking: Marking, suffixes: Iterable[str]) -> list[dict[str, list[int]]]:
    """Inks that mark under more than one spelling: for each, its spellings with their pages."""
    ends = tuple(suffixes)
    spellings: dict[str, dict[str, list[int]]] = defaultdict(lambda: defaultdict(list))
    for page, plates in marking:
        for plate in plates:
            spellings[ink_core(plate.ink, ends)][plate.ink].append(page.number)
    return [dict(names) for names in spellings.values() if len(names) > 1]


def recipes_that_differ(
    recipes: Iterable[SpotRecipe], marking: Marking, from_percent: float
) -> dict[str, list[SpotRecipe]]:
    """Spot inks that mark and are built in more than one way, with the first recipe and those that differ from it."""
    used = {plate.ink for _, plates in marking for plate in plates}
    built: dict[str, list[SpotRecipe]] = defaultdict(list)
    for recipe in recipes:
        if recipe.ink in used and not is_process(recipe.ink):
            mine = built[recipe.ink]
            if all(_differ(recipe, other, from_percent) for other in mine):
                mine.append(recipe)
    return {ink: each for ink, each in built.items() if len(each) > 1}


def _differ(one: SpotRecipe, other: SpotRecipe, from_percent: float) -> bool:
    if one.alternate != other.alternate or len(one.full) != len(other.full):
        return True
    # Lab values run to 100; tints of the other spaces from 0 to 1.
    step = from_percent if "lab" in one.alternate.casefold() else from_percent / 100.0
    pairs = [*zip(one.full, other.full, strict=True), *zip(one.half, other.half, strict=False)]
    return any(abs(first - second) >= step for first, second in pairs)
