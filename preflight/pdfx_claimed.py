"""A file held against the PDF/X part that it claims, and the things that break it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field

from preflight.conditions import conditions_named
from preflight.inventory.model import ClaimFacts, ClaimSight, DocumentFacts, Inventory, OutputIntent, SightKind
from preflight.pdfx_parts import Part
from preflight.units import Box


@dataclass(frozen=True)
class Break:
    """One thing that breaks a requirement: what it is, on which page and where."""

    words: str
    page: int | None = None
    box_mm: Box | None = None
    object_number: int | None = None


@dataclass(frozen=True)
class Claimed:
    """A file with the part it claims."""

    inventory: Inventory
    part: Part
    _by_kind: dict[str, list[ClaimSight]] = field(default_factory=dict, compare=False)

    def __post_init__(self) -> None:
        sights = [*self.claim.sights, *(sight for page in self.inventory.pages for sight in page.claim_sights)]
        for sight in sorted(sights, key=lambda sight: sight.page or 0):
            self._by_kind.setdefault(sight.what, []).append(sight)

    @property
    def document(self) -> DocumentFacts:
        return self.inventory.document

    @property
    def claim(self) -> ClaimFacts:
        return self.inventory.document.claim

    @property
    def intents(self) -> list[OutputIntent]:
        """The output intents that PDF/X speaks of."""
        return [intent for intent in self.document.output_intents if intent.subtype == "GTS_PDFX"]

    def sights(self, *kinds: SightKind) -> Iterator[ClaimSight]:
        """What was seen of some kinds, in order of pages."""
        for kind in kinds:
            yield from self._by_kind.get(kind, ())


def seen(words: str, sight: ClaimSight) -> Break:
    """A break at the place of what was seen."""
    return Break(words, sight.page, sight.box_mm, sight.object_number)


def named(sight: ClaimSight) -> str:
    """What was seen, with the object it was seen in."""
    return f"{sight.name} ({sight.thing})" if sight.thing else sight.name


def is_registered(intent: OutputIntent) -> bool:
    """Whether an intent names a condition that a registry describes."""
    return bool(conditions_named(intent.identifier)) or "color.org" in (intent.registry or "")


def pages_of(breaks: Iterable[Break]) -> list[int]:
    """The pages concerned, each once."""
    return sorted({each.page for each in breaks if each.page is not None})
