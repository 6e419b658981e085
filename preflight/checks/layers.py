"""Layers that print although they do not show, or show and do not print.

What it looks at
    Every layer of the file: whether it shows on a screen and whether it prints, by the default configuration and what its usage says;
    whether anything is drawn in it.
Why it matters on press
    Plates are made from what prints. The customer approved what shows: a hidden language version on the plates, or a price that is
    not, is found by the reader.
How it is measured
    Print state against view state of the default configuration. Left alone: layers with both states equal, processing steps (cutting,
    folding, varnish ...), and layers in which nothing is drawn, where that is known: no page refers to it, or it prints and
    left nothing on any page. Where things show by a membership of a layer (OCMD), such as just where it is off, being named is enough.
What to ask the customer for
    A file in which the layers that show are those that are to print.
Source
    ISO 32000-2, 8.11.4 (Tables 98 to 101, usage and configuration); processing steps: ISO 19593-1:2018.
"""

from __future__ import annotations

from collections.abc import Iterator

from preflight.checking import Answer, Check, Kind, NoLimits
from preflight.findings import Found, Stage
from preflight.inventory.model import Inventory, Layer
from preflight.ticket import Job


def check_file(inventory: Inventory, job: Job, limits: NoLimits) -> Iterator[Answer]:
    """Compares both states of each layer in which something is drawn."""
    for layer in inventory.document.layers:
        if layer.shown is None or layer.printed is None or layer.shown == layer.printed or layer.processing_step:
            continue
        pages = [page.number for page in inventory.pages if layer.name in page.layers_used]
        if _is_unused(layer, pages, inventory):
            continue
        # What does not print leaves nothing on any page: the file's structure tells where it is.
        pages = pages or list(layer.pages)
        states = "prints, but does not show on a screen" if layer.printed else "shows on a screen, but does not print"
        yield Found(
            kind="print-differs",
            page=pages[0] if pages else None,
            subject=f"{layer.name} ({layer.object_number})" if _has_twin(layer, inventory) else layer.name,
            groups=False,
            values={"layer": layer.name, "states": states},
            details={"layer": layer.name, "shown": layer.shown, "printed": layer.printed}
            | ({"pages": pages} if pages else {}),
        )


def _is_unused(layer: Layer, pages: list[int], inventory: Inventory) -> bool:
    """Only a layer that prints can be missed on the plates; one that does not is told by the file's structure alone."""
    if layer.used is not None:
        return not layer.used
    all_read = not inventory.missing and len(inventory.pages) == inventory.document.pages
    return bool(layer.printed) and not layer.has_members and all_read and not pages


def _has_twin(layer: Layer, inventory: Inventory) -> bool:
    return sum(other.name == layer.name for other in inventory.document.layers) > 1


CHECK = Check(
    name="layers",
    limits=NoLimits,
    needs=frozenset({"layers"}),
    on_file=check_file,
    kinds={
        "print-differs": Kind(
            Stage.INTAKE,
            "The layer {layer} {states}.",
            "One layer of your file ({layer}) {states}. Please tell us whether it belongs in print, or send a file that shows "
            "exactly what is to be printed.",
        ),
    },
)
