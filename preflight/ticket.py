"""The job as ordered (the ticket), and the job as settled: ticket and shop limits together, fixed before a file is opened."""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace
from datetime import date
from typing import Any, Literal

from preflight.findings import Severity
from preflight.inventory.model import PROCESS_INKS, Edge

Binding = Literal["none", "saddle-stitch", "perfect", "wire", "fold"]
Fold = Literal["letter", "gate", "roll", "accordion"]
Process = Literal["die-cut", "foil", "emboss", "varnish", "crease", "perforation", "white", "other"]


@dataclass(frozen=True)
class Finishing:
    """One finishing process ordered, and the ink its plate is named by in the artwork."""

    process: Process
    ink: str


@dataclass(frozen=True)
class SideInks:
    """Inks ordered for front (odd pages) and back (even pages)."""

    front: tuple[str, ...]
    back: tuple[str, ...] = ()


@dataclass(frozen=True)
class Waive:
    """A finding somebody accepts: by whom, when and why; on one page, or for a finding without a page."""

    id: str
    by: str
    on: date
    why: str
    page: int | None = None
    key: str | None = None
    sha256: str | None = None
    #: The value accepted, for a waiver that should outlive a resubmission with no worse value.
    measured: float | None = None


@dataclass(frozen=True)
class Ticket:
    """What was ordered. None or empty: the ticket gives no figure, so nothing is judged against it."""

    job: str | None = None
    customer: str | None = None
    title: str | None = None
    trim_mm: tuple[float, float] | None = None
    pages: int | None = None
    bleed_mm: float | None = None
    inks: tuple[str, ...] | SideInks | None = None
    binding: Binding | None = None
    fold: Fold | None = None
    panels_mm: tuple[float, ...] = ()
    part: Literal["body", "cover"] | None = None
    spine_mm: float | None = None
    stock: str | None = None
    caliper_mm: float | None = None
    cover_caliper_mm: float | None = None
    blank_pages: tuple[int, ...] = ()
    quantity: int | None = None
    finishing: tuple[Finishing, ...] = ()
    printed_size_mm: tuple[float, float] | None = None
    food_label: bool = False
    label_surface_cm2: float | None = None
    barcodes: tuple[str, ...] = ()
    waive: tuple[Waive, ...] = ()

    def inks_of(self, page: int | None) -> tuple[str, ...] | None:
        """The inks ordered for a page (front inks: odd pages), for the file where ``page`` is None; None if not given."""
        if not isinstance(self.inks, SideInks):
            return self.inks
        if page is None:
            return tuple(dict.fromkeys(self.inks.front + self.inks.back))
        return self.inks.front if page % 2 else self.inks.back

    @property
    def finishing_inks(self) -> frozenset[str]:
        return frozenset(item.ink for item in self.finishing)

    def spine_edge(self, page: int) -> Edge | None:
        """The edge of a page that lies in the spine: left of odd pages, right of even ones; None where nothing is bound."""
        if self.binding not in ("saddle-stitch", "perfect", "wire") or self.part == "cover":
            return None
        return "left" if page % 2 else "right"


@dataclass(frozen=True)
class Press:
    """The printing condition: ruling, the output conditions this stock prints to, and the shop's own press profile."""

    screen_lpi: float
    intents: tuple[str, ...] = ()
    #: Path of an ICC profile that stands in where a file has no output intent; empty: the engine's built-in profile.
    profile: str = ""
    ink_key_zones: int = 0
    #: The inks as the sheet meets them on its way through the press; others follow.
    ink_order: tuple[str, ...] = ()


@dataclass(frozen=True)
class Job:
    """Rules and ticket settled into one frozen object; each value remembers the file it came from.

    ``limits`` maps a check's name to its limits; ``severity`` a check's name to severities by kind (``kind-mild`` for the
    milder case); ``origins`` ``table.key`` to the file a value comes from.
    """

    ticket: Ticket | None
    press: Press
    limits: dict[str, Any]
    severity: dict[str, dict[str, Severity]]
    sources: dict[str, str] = field(default_factory=dict)
    origins: dict[str, str] = field(default_factory=dict)
    values: dict[str, dict[str, Any]] = field(default_factory=dict)
    rules_name: str = ""
    rules_title: str = ""
    rules_sha256: str = ""
    ticket_sha256: str = ""
    changed_severities: tuple[str, ...] = ()
    shop: dict[str, Any] = field(default_factory=dict)
    cost: dict[str, Any] = field(default_factory=dict)
    #: Words that make a spot ink a finishing plate by its name (rules: ``[inks] finishing_words``), lower case.
    finishing_words: tuple[str, ...] = ()

    @property
    def order(self) -> Ticket:
        """The ticket, or an empty one where none was given."""
        return self.ticket or Ticket()

    @property
    def to_check_by(self) -> Job:
        """The job for a child, which answers by it and writes no report: three quarters of it are tables that only reports show."""
        return replace(self, sources={}, origins={}, values={})

    @property
    def bleed_mm(self) -> float:
        """The bleed ordered: the ticket's, else the shop's."""
        if self.order.bleed_mm is not None:
            return self.order.bleed_mm
        return float(self.limits["bleed"].ordered_mm)

    def severity_of(self, check: str, kind: str, *, mild: bool = False) -> Severity:
        """What the shop's rules say about a kind, or about its milder case."""
        table = self.severity[check]
        return table.get(f"{kind}-mild", table[kind]) if mild else table[kind]

    def is_enabled(self, check: str) -> bool:
        """Whether any kind of a check is switched on."""
        return any(severity is not Severity.OFF for severity in self.severity.get(check, {}).values())

    def is_finishing(self, ink: str) -> bool:
        """Whether an ink is a finishing plate: named by the ticket first, else by common words of the trade.

        An ink that the ticket orders among its printing inks is never one.
        """
        if ink in PROCESS_INKS:
            return False
        folded = fold_ink_name(ink)
        if any(fold_ink_name(name) == folded for name in self.order.finishing_inks):
            return True
        if any(fold_ink_name(name) == folded for name in self.order.inks_of(None) or ()):
            return False
        words = re.split(r"[^a-zà-öø-ÿ]+", ink.casefold())
        joined = " ".join(word for word in words if word)
        return any(re.search(rf"\b{re.escape(word)}\b", joined) for word in self.finishing_words)


def fold_ink_name(ink: str) -> str:
    """An ink's name without case, spaces and punctuation, so that two spellings of one ink compare equal."""
    return re.sub(r"[\W_]+", "", ink.casefold())
