"""Printing conditions by name: which registered one an output intent stands for, and whether the shop prints to it.

A condition goes by its registered identifier (ISO 32000-2, 14.11.5: ``OutputConditionIdentifier``), such as ``FOGRA39``; people
also write it into the intent's information and into the profile's description: ``Coated FOGRA39 (ISO 12647-2:2004)``. Case, spaces
and punctuation tell nothing apart.
"""

from __future__ import annotations

import re
from collections.abc import Iterable

from preflight.inventory.model import DocumentFacts, OutputIntent

_CONDITION = re.compile(r"(?:fogra|ifra)\d+|tr\d{3}|jc\d{4,}|crpc\d|swop\d{4}")


def intents_on(number: int, document: DocumentFacts) -> tuple[OutputIntent, ...]:
    """The output intents that hold on a page: its own where it has any for a press, else the file's."""
    own = tuple(intent for intent in document.page_intents if number in intent.pages)
    return own if for_press(own) else document.output_intents


def for_press(intents: Iterable[OutputIntent]) -> list[OutputIntent]:
    """The intents that speak of a press: an RGB one (as archives ask for) only where it claims to be for print."""
    return [intent for intent in intents if intent.profile_components != 3 or intent.subtype == "GTS_PDFX"]


def is_accepted(intent: OutputIntent, accepted: Iterable[str]) -> bool:
    """Whether an intent is for one of the shop's conditions.

    Its identifier decides where it names a condition, else its information and its profile; a profile that names another
    condition refutes them all.
    """
    texts = (intent.identifier, intent.info, intent.profile_description)
    conditions = tuple(accepted)
    fits = [any(names_condition(text, condition) for condition in conditions) for text in texts]
    if conditions_named(intent.profile_description) and not fits[2]:
        return False
    named = [fit for text, fit in zip(texts, fits, strict=True) if conditions_named(text)]
    return named[0] if named else any(fits)


def intent_name(intent: OutputIntent) -> str:
    """What an intent calls itself."""
    names = (intent.identifier, intent.info, intent.profile_description)
    return " - ".join(dict.fromkeys(name for name in names if name)) or "without a name"


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
