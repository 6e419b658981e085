"""Reads what a file says as a whole, before any page is drawn: intents, layers, spot recipes, claim, what acts, what is attached.

Each fact is read on its own; one that cannot be read is named in ``unknown`` with its reason. Only what pages use counts, see ``resources``.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from preflight.inventory.actions import read_actions, read_attachments
from preflight.inventory.claim import read_claim, read_makers
from preflight.inventory.intents import read_intents
from preflight.inventory.layers import read_layers
from preflight.inventory.model import ClaimFacts, DocumentFacts
from preflight.inventory.objects import clean_text, entry, is_dictionary
from preflight.inventory.resources import uses_of
from preflight.inventory.settings import read_settings
from preflight.inventory.spots import read_spot_recipes

if TYPE_CHECKING:
    from preflight.inventory.opening import Artwork


def read_document(artwork: Artwork) -> DocumentFacts:
    """The facts of an open artwork; for a file that could not be opened, or a picture, what opening told."""
    opened = artwork.opened
    pdf = artwork.pdf
    if pdf is None or artwork.document is None or opened.kind != "pdf":
        return opened
    unknown = dict(opened.unknown)

    def ask(fact: str, read: Callable[[], Any], otherwise: Any) -> Any:
        try:
            return read()
        except MemoryError:
            raise
        except Exception as fault:
            unknown.setdefault(
                fact, f"{fact} could not be read ({type(fault).__name__}: {clean_text(str(fault))[:120]})"
            )
            return otherwise

    makers = ask("document", lambda: read_makers(artwork), (None, None))
    facts: dict[str, Any] = {
        "active": ask("actions", lambda: read_actions(artwork), ()),
        "attachments": ask("document", lambda: read_attachments(artwork), ()),
        "preseparated_pages": ask("document", lambda: _preseparated(artwork), ()),
        "foreign_settings": ask("document", lambda: read_settings(artwork), ()),
        "output_intents": ask("intents", lambda: read_intents(pdf), ()),
        "layers": ask("layers", lambda: read_layers(pdf), ()),
        "spot_recipes": ask("spots", lambda: read_spot_recipes(artwork), ()),
        "claim": ask("claim", lambda: read_claim(artwork), ClaimFacts()),
        "producer": makers[0],
        "creator": makers[1],
    }
    ask("layers", lambda: _look_for_layer_expressions(artwork, unknown), None)
    artwork.take_structure_warnings()
    return replace(
        opened,
        repairs=tuple(artwork.repairs.of_file),
        oddities=tuple(artwork.repairs.oddities),
        unknown=unknown,
        **facts,
    )


def _preseparated(artwork: Artwork) -> tuple[int, ...]:
    """Pages that are one plate of a page (ISO 32000-1, 14.11.4: SeparationInfo)."""
    return tuple(
        number
        for number, page in enumerate(artwork.pages, 1)
        if is_dictionary(entry(page.dictionary, "/SeparationInfo"))
    )


def _look_for_layer_expressions(artwork: Artwork, unknown: dict[str, str]) -> None:
    """The drawing engine does not evaluate visibility expressions of layers (tried): what prints is then not known."""
    if not entry(artwork.pdf.Root if artwork.pdf else None, "/OCProperties"):
        return
    for number, page in enumerate(artwork.pages, 1):
        if page.dictionary is None:
            continue
        for use in uses_of(artwork, number).of("Properties", "XObject"):
            group = use.thing if use.category == "Properties" else entry(use.thing, "/OC")
            if entry(group, "/VE") is not None:
                unknown.setdefault(
                    "layers", f"page {number} shows layers by an expression, which is not understood here"
                )
                return
