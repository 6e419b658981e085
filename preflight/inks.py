"""When two ink names mean one tin of ink: case, spaces and finish suffixes, process inks and output conditions by name.

Colour separations go by name: ``Fern Green`` and ``FERN GREEN`` give two plates. Names are a stranger's text and may hold any
characters. Suffixes come from the shop rules; printing conditions are compared by their registered identifiers
(ISO 32000-2, 14.11.5: ``OutputConditionIdentifier``), such as ``FOGRA39`` in ``Coated FOGRA39 (ISO 12647-2:2004)``.
"""

from __future__ import annotations

import re
from collections.abc import Iterable

from preflight.inventory.model import PROCESS_INKS
from preflight.ticket import fold_ink_name

#: Colorants that are no ink of their own (ISO 32000-2, 8.6.6.4): every plate, and no plate.
REGISTRATION = "All"
NOT_INKS = (REGISTRATION, "None")

_PROCESS = frozenset(ink.casefold() for ink in PROCESS_INKS)
_SHORT_NAMES = {"c": "cyan", "m": "magenta", "y": "yellow", "k": "black", "key": "black"}
#: Between words. Bytes that are no text (lone surrogates) are kept: they tell two names apart.
_NO_LETTERS = re.compile(r"(?:[^\w\ud800-\udfff]|_)+")
_CONDITION = re.compile(r"(?:fogra|ifra)\d+|tr\d{3}|jc\d{4,}|crpc\d|jmpa\d*|swop\d{4}")


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


def conditions_named(text: str | None) -> tuple[str, ...]:
    """The registered printing conditions that a text names, folded: ``Coated FOGRA39L VIGC 300`` gives ``("fogra39",)``."""
    return tuple(dict.fromkeys(_CONDITION.findall(_folded(text or ""))))


def names_condition(text: str | None, condition: str) -> bool:
    """Whether a text names a printing condition: ``FOGRA39`` is in ``FOGRA39L`` and not in ``FOGRA390``."""
    wanted = _folded(condition)
    wanted = wanted.removeprefix("cgats") or wanted
    if not wanted or not text:
        return False
    return re.search(rf"{re.escape(wanted)}(?!\d)", _folded(text)) is not None


def _folded(text: str) -> str:
    """Letters and figures only; figures that stood apart stay apart."""
    apart = re.sub(r"(?<=\d)[\W_]+(?=\d)", "\0", text.casefold())
    return re.sub(r"[^\w\0]+|_", "", apart)
