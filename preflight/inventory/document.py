"""Reads what a file says as a whole, before any page is drawn: intents, layers, spot recipes, claim, what acts, what is attached.

Each fact is read on its own; one that cannot be read is named in ``unknown`` with its reason. Only what pages use counts, see ``resources``.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from preflight.inventory.actions import read_actions, read_attachments
from preflight.inventory.claim import read_claim, read_makers
from preflight.inventory.claim_details import StructureSights
from preflight.inventory.intents import read_intents, read_page_intents
from preflight.inventory.layer_expressions import expression_of, is_on
from preflight.inventory.layers import groups_of
from preflight.inventory.model import ClaimFacts, DocumentFacts, ForeignSetting
from preflight.inventory.objects import clean_text, entry, is_dictionary, name_of
from preflight.inventory.resources import PageUses, all_uses_of
from preflight.inventory.settings import settings_on
from preflight.inventory.spots import SpotRecipes

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
        "output_intents": ask("intents", lambda: read_intents(pdf), ()),
        "page_intents": ask("intents", lambda: read_page_intents(artwork.pages), ()),
        "layers": ask("layers", lambda: artwork.layers, ()),
        "claim": ask("claim", lambda: read_claim(artwork), ClaimFacts()),
        "producer": makers[0],
        "creator": makers[1],
    }
    claim: ClaimFacts = facts["claim"]
    sights = StructureSights() if claim.claim is not None else None
    used = _UsedOnPages({layer.object_number: layer.printed for layer in facts["layers"]}, sights)
    for fact in ("document", "spots", "layers", *(("claim",) if sights else ())):
        # One look through all pages gives all of them; where it cannot be finished none is certain.
        ask(fact, lambda: used.look(artwork), None)
    if sights is not None:
        facts["claim"] = ask("claim", lambda: replace(claim, sights=sights.all_of(artwork, claim.filters)), claim)
    facts |= {"foreign_settings": tuple(used.settings), "spot_recipes": used.spots.all()}
    facts["layers"] = tuple(
        replace(
            layer,
            pages=tuple(used.layers.get(layer.object_number, ())),
            has_members=layer.object_number in used.in_memberships,
        )
        for layer in facts["layers"]
    )
    if used.expression is not None:
        unknown.setdefault("layers", used.expression)
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


class _UsedOnPages:
    """What the pages use of things that concern the whole file; looked through once, however often it is asked."""

    def __init__(self, printed: dict[int, bool | None], sights: StructureSights | None) -> None:
        self.settings: list[ForeignSetting] = []
        self.spots = SpotRecipes()
        #: The pages whose content names a layer, by the layer's object number.
        self.layers: dict[int | None, list[int]] = {}
        #: Layers that content belongs to by a membership dictionary (OCMD).
        self.in_memberships: set[int | None] = set()
        #: Why what prints on layers is not known.
        self.expression: str | None = None
        #: What a PDF/X claim is held against; None where the file makes none.
        self.sights = sights
        self._printed = printed
        self._fault: Exception | None = None
        self._looked = False

    def look(self, artwork: Artwork) -> None:
        """Looks through all pages; raises what went wrong, the first time and every time."""
        if not self._looked:
            self._looked = True
            try:
                for number, page in enumerate(artwork.pages, 1):
                    if page.dictionary is not None:
                        self._add(number, page.dictionary, all_uses_of(artwork, number))
            except MemoryError:
                raise
            except Exception as fault:
                self._fault = fault
        if self._fault is not None:
            raise self._fault

    def _add(self, number: int, dictionary: Any, uses: PageUses) -> None:
        self.settings += settings_on(number, uses).values()
        self.spots.add(number, uses)
        if self.sights is not None:
            self.sights.add_page(number, dictionary, uses)
        if not self._printed:
            return
        members = list(_memberships(uses))
        for group in set[int | None]().union(*map(groups_of, members)):
            self.layers.setdefault(group, []).append(number)
        of_several = (member for member in members if name_of(entry(member, "/Type")) == "OCMD")
        self.in_memberships.update(*map(groups_of, of_several))
        expressions = (entry(member, "/VE") for member in members)
        if any(found is not None and is_on(expression_of(found), self._printed) is None for found in expressions):
            self.expression = self.expression or f"page {number} shows layers by an expression that makes no sense"


def _memberships(uses: PageUses) -> Iterator[Any]:
    """What a page's content and the things it draws name as layers, or as memberships of layers (8.11.2)."""
    for use in uses.of("Properties", "XObject"):
        member = use.thing if use.category == "Properties" else entry(use.thing, "/OC")
        if member is not None:
            yield member
