"""Edges of two inks with nothing in common and no overlap.

What it looks at
    Edges on the plates where two inks meet that share no ink: drawn areas, lines and type; not pictures, finishing inks, nor black alone on either side.
Why it matters on press
    Sheets stretch and plates are never in perfect register. Where two inks only touch, a shift of 0.1 mm shows a thin white line of paper on one
    side. An overlap (a trap), or an ink that both sides have, hides the shift.
How it is measured
    On the plates drawn at 24 pixels a millimetre: pixels of either side touch, or bare paper narrower than the misregister lies between. An ink
    counts from a least tint on; where both sides have one of them in common nothing shows. The length is that of all edges of the same
    two inks in one place, in mm (2 percent); the picture shows them out of register.
What to ask the customer for
    Nothing, where the shop traps the plates itself; else a common ink on both sides, or an overlap of the rules' trap width.
Source
    Trap width 0.08 mm at 150 lines an inch, 0.15 mm on a web, 0.127 mm on newsprint (published typical values); half a screen row to one.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from preflight.checking import Answer, Check, Kind
from preflight.findings import Found, Stage
from preflight.inventory.model import DocumentFacts, Page
from preflight.ticket import Job


@dataclass(frozen=True)
class TrapLimits:
    """Lengths in millimetres, tints in percent."""

    shortest_mm: float
    misregister_mm: float
    width_mm: float
    common_ink_from_percent: float


def check_page(page: Page, document: DocumentFacts, job: Job, limits: TrapLimits) -> Iterator[Answer]:
    """Tells every edge that is long enough to be seen."""
    for edge in page.trap_edges:
        if edge.length_mm <= limits.shortest_mm:
            continue
        one, other = edge.inks
        yield Found(
            kind="gap",
            page=page.number,
            box_mm=edge.box_mm,
            measured=edge.length_mm,
            limit=limits.shortest_mm,
            unit="mm",
            worse="high",
            subject=" / ".join(sorted(edge.inks)),
            values={
                "one": one,
                "other": other,
                "misregister": f"{limits.misregister_mm:g}",
                "width": f"{limits.width_mm:g}",
            },
            details={
                "inks": [one, other],
                "common_ink_percent": round(edge.common_percent, 1),
                "misregister_mm": limits.misregister_mm,
                "at_mm": [round(value, 3) for value in edge.at_mm],
                "towards": list(edge.towards),
            },
        )


CHECK = Check(
    name="trap",
    limits=TrapLimits,
    needs=frozenset({"paint", "plates", "trap"}),
    on_page=check_page,
    kinds={
        "gap": Kind(
            Stage.PRESS,
            "{one} and {other} meet along {measured} mm with no ink in common and no overlap: {misregister} mm of misregister shows paper. "
            "Trap by {width} mm.",
            "Two colours on this page touch without overlapping; the slightest shift on press shows a thin white line between them. We "
            "widen such edges a little ourselves where we can, and nothing needs to be done; if you want to do it, let them overlap by "
            "{width} mm.",
        ),
    },
)
