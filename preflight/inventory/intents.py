"""Which printing condition a file says it was made for: its output intents.

ISO 32000-2, 14.11.5 (Table 401): the identifier names a condition known to a registry, or the profile beside it describes one. What is
set in the drawing engine's memory is never read here.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pikepdf

from preflight.inventory.icc import read_profile
from preflight.inventory.model import OutputIntent
from preflight.inventory.objects import (
    entry,
    is_dictionary,
    is_stream,
    items_of,
    name_of,
    number_of,
    object_number,
    text_of,
)
from preflight.inventory.page_tree import PageEntry


def read_intents(pdf: pikepdf.Pdf) -> tuple[OutputIntent, ...]:
    """All output intents of the file, in its order."""
    return tuple(_intent(item) for item in items_of(entry(pdf.Root, "/OutputIntents")) if is_dictionary(item))


def read_page_intents(pages: list[PageEntry]) -> tuple[OutputIntent, ...]:
    """Output intents that pages bring themselves (ISO 32000-2, Table 31), each once with its pages."""
    found: dict[OutputIntent, list[int]] = {}
    known: dict[int, OutputIntent] = {}
    for number, page in enumerate(pages, 1):
        for item in items_of(entry(page.dictionary, "/OutputIntents")):
            if not is_dictionary(item):
                continue
            own = object_number(item)
            intent = known[own] if own in known else _intent(item)
            if own is not None:
                known[own] = intent
            found.setdefault(intent, []).append(number)
    return tuple(replace(intent, pages=tuple(dict.fromkeys(numbers))) for intent, numbers in found.items())


def _intent(item: Any) -> OutputIntent:
    stream = entry(item, "/DestOutputProfile")
    profile = None
    size = None
    if is_stream(stream):
        try:
            data = stream.read_bytes()
        except MemoryError:
            raise
        except Exception:
            data = b""
        size = len(data)
        profile = read_profile(data)
    stated = number_of(entry(stream, "/N"))
    return OutputIntent(
        subtype=name_of(entry(item, "/S")) or "",
        identifier=text_of(entry(item, "/OutputConditionIdentifier")),
        info=text_of(entry(item, "/Info")) or text_of(entry(item, "/OutputCondition")),
        registry=text_of(entry(item, "/RegistryName")),
        profile_description=profile.description if profile else None,
        profile_components=profile.components if profile else (int(stated) if stated else None),
        profile_md5=profile.md5 if profile else None,
        profile_bytes=size,
        profile_class=profile.device_class if profile else None,
        profile_space=profile.space if profile else None,
        profile_version=profile.version if profile else None,
        profile_stated=int(stated) if stated else None,
        profile_outside=is_dictionary(entry(item, "/DestOutputProfileRef")),
    )
