"""Which part of PDF/X a file says it is.

ISO 15930 has a part, and each part a version string, for each kind of exchange. A claim written in a form that no part has (``PDF/X-4:2010``)
is still taken for the part that was meant; that it is written wrongly is a break of its own (``identification``).
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Literal

from preflight.inventory.model import ClaimFacts

Kind = Literal["1a", "3", "4", "6"]


@dataclass(frozen=True)
class Part:
    """One version of PDF/X: its name, what the file must say, and the standard that asks."""

    name: str
    kind: Kind
    standard: str
    #: The version string (GTS_PDFXVersion), and whether it stands in the document information or in the metadata.
    version: str
    said_in: Literal["info", "xmp"]
    #: GTS_PDFXConformance, where the part asks for it.
    conformance: str | None = None
    #: The profile of the printing condition may lie outside the file.
    profile_outside: bool = False


PARTS = (
    Part("PDF/X-1a:2001", "1a", "ISO 15930-1:2001", "PDF/X-1:2001", "info", conformance="PDF/X-1a:2001"),
    Part("PDF/X-1a:2003", "1a", "ISO 15930-4:2003", "PDF/X-1a:2003", "info"),
    Part("PDF/X-3:2002", "3", "ISO 15930-3:2002", "PDF/X-3:2002", "info"),
    Part("PDF/X-3:2003", "3", "ISO 15930-6:2003", "PDF/X-3:2003", "info"),
    Part("PDF/X-4", "4", "ISO 15930-7:2010", "PDF/X-4", "xmp"),
    Part("PDF/X-4p", "4", "ISO 15930-7:2010", "PDF/X-4p", "xmp", profile_outside=True),
    Part("PDF/X-6", "6", "ISO 15930-9:2020", "PDF/X-6", "xmp"),
    Part("PDF/X-6p", "6", "ISO 15930-9:2020", "PDF/X-6p", "xmp", profile_outside=True),
    Part("PDF/X-6n", "6", "ISO 15930-9:2020", "PDF/X-6n", "xmp", profile_outside=True),
)
#: Parts for exchanges that leave something out on purpose; nothing here is held against them.
_OTHER = re.compile(r"PDF/X-(?:1:\d{4}|2(?::\d{4})?|5(?:n|g|pg)?)", re.IGNORECASE)
_MEANT = re.compile(r"PDF/X-(1a|3|4p|4|6p|6n|6)(?::?\s*(\d{4}))?", re.IGNORECASE)
_USUAL_YEAR = {"1a": "2003", "3": "2003"}


def part_of(claim: ClaimFacts) -> Part | None:
    """The part that a file claims; None for a part that is not held against here, or a version that none has."""
    said = (claim.claim or "").strip()
    if said == "PDF/X-1:2001":
        # The version of PDF/X-1 and X-1a alike; only the conformance tells them apart. Nobody makes X-1.
        return PARTS[0] if claim.info_conformance in (None, "PDF/X-1a:2001") else None
    return _meant(said)


def is_other_part(claim: ClaimFacts) -> bool:
    """Whether it claims a part of PDF/X that is not held against here."""
    return part_of(claim) is None and _OTHER.fullmatch((claim.claim or "").strip()) is not None


def says_the_same(one: str, other: str) -> bool:
    """Whether two version strings mean one part; ``PDF/X-1:2001`` is that of PDF/X-1a:2001 too."""
    first, second = (PARTS[0] if text.strip() == "PDF/X-1:2001" else _meant(text.strip()) for text in (one, other))
    return one.strip() == other.strip() or (first is not None and first == second)


def _meant(said: str) -> Part | None:
    found = _MEANT.fullmatch(said)
    if found is None:
        return None
    kind, year = found[1].lower(), found[2]
    year = year or _USUAL_YEAR.get(kind)
    wanted = f"PDF/X-{kind}:{year}" if year and kind in _USUAL_YEAR else f"PDF/X-{kind}"
    return next((part for part in PARTS if part.name == wanted), None)
