"""Layers: which show on a screen, which print, and which only guide the finishing.

States by the default configuration (ISO 32000-2, 8.11.4): base state, then ON, then OFF, then what its usage applications (AS)
say for the event View or Print. The drawing engine looks at a layer's print state without asking AS, and cannot switch a layer on for
print (tried); so its copy in memory is given the print states plainly. ISO 19593-1 marks processing steps in a layer's
``GTS_Metadata``.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pikepdf
from pymupdf import mupdf

from preflight.inventory.model import Layer
from preflight.inventory.objects import (
    entries_of,
    entry,
    is_array,
    is_dictionary,
    items_of,
    name_of,
    number_of,
    object_number,
    one_or_more,
    text_of,
)

#: Objects, and members of one membership dictionary, that are looked at for layers in use.
MOST_OBJECTS = 200_000
MOST_MEMBERS = 10_000
#: Usage categories that give a state, by key of the state (Table 100).
_STATES = {"View": "ViewState", "Print": "PrintState", "Export": "ExportState"}


def read_layers(pdf: pikepdf.Pdf) -> tuple[Layer, ...]:
    """All layers in the file's order."""
    properties = entry(pdf.Root, "/OCProperties")
    layers = []
    for group in items_of(entry(properties, "/OCGs")):
        number = object_number(group)
        if number is None:
            continue
        layers.append(
            Layer(
                name=text_of(entry(group, "/Name")) or "",
                object_number=number,
                shown=_state(group, number, entry(properties, "/D"), "View"),
                printed=_state(group, number, entry(properties, "/D"), "Print"),
                processing_step=_processing_step(group),
            )
        )
    if all(layer.shown == layer.printed for layer in layers):
        return tuple(layers)  # nobody will ask, and looking through the whole file costs
    named = _named_in_content(pdf)
    if named is None:
        return tuple(layers)
    return tuple(layer if layer.object_number in named else replace(layer, used=False) for layer in layers)


def settle_layers(document: Any, pdf: pikepdf.Pdf, layers: tuple[Layer, ...]) -> None:
    """Gives the drawing engine's copy in memory the print state of each layer, where it would go by its own reading."""
    if not layers or not _needs_settling(pdf):
        return
    properties = mupdf.pdf_dict_gets(mupdf.pdf_dict_gets(mupdf.pdf_trailer(document), "Root"), "OCProperties")
    configuration = mupdf.pdf_dict_gets(properties, "D")
    for key in ("BaseState", "ON", "AS"):
        mupdf.pdf_dict_dels(configuration, key)
    off = mupdf.pdf_new_array(document, len(layers))
    for layer in layers:
        group = mupdf.pdf_new_indirect(document, layer.object_number, 0)
        mupdf.pdf_dict_dels(group, "Usage")
        if layer.printed is False:
            mupdf.pdf_array_push(off, group)
    mupdf.pdf_dict_puts(configuration, "OFF", off)


def _needs_settling(pdf: pikepdf.Pdf) -> bool:
    """Whether a layer has what the engine reads in its own way: usage, and intents (which it does not look at)."""
    groups = items_of(entry(pdf.Root, "/OCProperties", "/OCGs"))
    return any(entry(group, key) is not None for group in groups for key in ("/Usage", "/Intent"))


def _state(group: Any, number: int, configuration: Any, event: str) -> bool:
    intents = [name_of(intent) for intent in one_or_more(entry(group, "/Intent"))] or ["View"]
    if not {"View", "All"}.intersection(intents):
        return True
    on = name_of(entry(configuration, "/BaseState")) != "OFF"
    on = on or number in _numbers(entry(configuration, "/ON"))
    on = on and number not in _numbers(entry(configuration, "/OFF"))
    said: set[str] = set()
    for application in items_of(entry(configuration, "/AS")):
        if name_of(entry(application, "/Event")) == event and number in _numbers(entry(application, "/OCGs")):
            categories = [name_of(category) or "" for category in one_or_more(entry(application, "/Category"))]
            said.update(_usage_says(entry(group, "/Usage"), category) for category in categories)
    if "OFF" in said:
        return False
    return True if "ON" in said else on


def _usage_says(usage: Any, category: str) -> str:
    if category == "Zoom":
        # At 1:1, the only size a print has.
        low = number_of(entry(usage, "/Zoom", "/min")) or 0.0
        high = number_of(entry(usage, "/Zoom", "/max"))
        return "ON" if low <= 1.0 and (high is None or high > 1.0) else "OFF"
    return name_of(entry(usage, f"/{category}", f"/{_STATES[category]}")) or "" if category in _STATES else ""


def _named_in_content(pdf: pikepdf.Pdf) -> set[int | None] | None:
    """The layers that any page, form, picture or annotation names (8.11.3): by /OC, or under /Properties of its resources.

    A layer named nowhere holds nothing; one that is named may. None where the file has too many objects to look at.
    """
    found: set[int | None] = set()
    for count, thing in enumerate(pdf.objects):
        if count >= MOST_OBJECTS:
            return None
        waiting = [thing]
        while waiting:
            holder = waiting.pop()
            if is_array(holder):
                waiting += [item for item in items_of(holder) if object_number(item) is None]
                continue
            if not is_dictionary(holder):
                continue
            for key, value in entries_of(holder):
                if key == "/OC":
                    found.update(groups_of(value))
                elif key == "/Properties" and is_dictionary(value):
                    for _, member in entries_of(value):
                        found.update(groups_of(member))
                elif object_number(value) is None and (is_dictionary(value) or is_array(value)):
                    waiting.append(value)
    return found


def groups_of(thing: Any) -> set[int | None]:
    """A layer itself, or those of a membership dictionary (OCMD), its visibility expression included."""
    found = {object_number(thing)}
    waiting = [entry(thing, "/OCGs"), entry(thing, "/VE")]
    for _ in range(MOST_MEMBERS):
        if not waiting:
            break
        member = waiting.pop()
        found.add(object_number(member))
        waiting += items_of(member)
    return found


def _numbers(array: Any) -> set[int | None]:
    return {object_number(item) for item in items_of(array)}


def _processing_step(group: Any) -> str | None:
    metadata = entry(group, "/GTS_Metadata")
    step_group = text_of(entry(metadata, "/GTS_ProcStepsGroup"))
    step = text_of(entry(metadata, "/GTS_ProcStepsType"))
    return "/".join(part for part in (step_group, step) if part) or None
