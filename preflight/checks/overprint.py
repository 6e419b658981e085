"""Things that vanish, and colours that change, because they are set to overprint.

What it looks at
    Everything visible that is set to overprint (fills, lines, type, stencils, pictures, in any nesting) where other ink lies under
    it, on the plates and in the knocked-out view that most screens and office printers show. Left alone: type and lines under 1 pt in black alone,
    finishing inks, traps (a rim of up to 0.5 mm that overlaps the ground), and overprint that changes nothing, such as white on bare paper.
Why it matters on press
    White that overprints is not printed at all: the ground goes on where the customer saw a white logo. Other colours mix
    with what lies under them. The customer's screen and proof show neither.
How it is measured
    Both views are drawn at 6 pixels a millimetre and compared pixel by pixel, ink by ink. ``vanishes``: a thing in white shows paper in the
    knocked-out view and other ink on the plates (ΔE above a limit, over more than a least area); or a coloured thing would stand
    out in that view, and the plates look the same without its inks. ``changes``: connected areas where the two views differ in look (ΔE of
    1976, reckoned from FOGRA39 data, spots by their equivalent colour; pixels of 0.17 mm, areas to 2 percent) over more than a least
    area; what vanishes is not told again. Where a thing lies is told by the pixels that differ.
What to ask the customer for
    Overprint switched off for everything but small black type and lines; or a word that the mixing is wanted.
Source
    ISO 32000-2, Table 146 (what overprint keeps) and Table 57 (OP, op, OPM). The invisible white is the classic of printers' public pages;
    the limits are common practice.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from preflight.checking import Answer, Check, Kind
from preflight.findings import Found, Stage
from preflight.inventory.model import DocumentFacts, OverprintChange, Page, Painted
from preflight.ticket import Job


@dataclass(frozen=True)
class OverprintLimits:
    """Differences in look as ΔE (CIE 1976), areas in mm2."""

    vanishes_above_delta_e: float
    vanishes_above_mm2: float
    changes_above_delta_e: float
    changes_above_mm2: float


def check_page(page: Page, document: DocumentFacts, job: Job, limits: OverprintLimits) -> Iterator[Answer]:
    """Tells every change the page's two views show."""
    things = {thing.order: thing for thing in page.painted}
    for change in page.overprint_changes:
        thing = things.get(change.object_order) if change.object_order is not None else None
        if change.effect == "vanishes":
            yield _vanishes(page, change, thing)
        elif change.area_mm2 > limits.changes_above_mm2:
            yield _changes(page, change, thing, limits)


def _vanishes(page: Page, change: OverprintChange, thing: Painted | None) -> Found:
    white = not change.inks or not change.meant_percent
    return Found(
        kind="vanishes",
        page=page.number,
        box_mm=change.box_mm,
        values={
            "what": _what(thing),
            "colour": "white" if white else ", ".join(change.inks),
            "ground": _inks(change.plates_percent),
        },
        details=_details(change, thing),
    )


def _changes(page: Page, change: OverprintChange, thing: Painted | None, limits: OverprintLimits) -> Found:
    return Found(
        kind="changes",
        page=page.number,
        box_mm=change.box_mm,
        measured=change.area_mm2,
        limit=limits.changes_above_mm2,
        unit="mm2",
        worse="high",
        subject=", ".join(change.inks),
        values={
            "what": _what(thing),
            "colour": ", ".join(change.inks) or "a converted colour",
            "delta_e": f"{change.delta_e:.0f}",
            "meant": _inks(change.meant_percent),
            "plates": _inks(change.plates_percent),
        },
        details=_details(change, thing),
    )


def _details(change: OverprintChange, thing: Painted | None) -> dict[str, object]:
    return {
        "delta_e": round(change.delta_e, 1),
        "area_mm2": round(change.area_mm2, 1),
        "without_overprint_percent": change.meant_percent,
        "on_the_plates_percent": change.plates_percent,
        "what": _what(thing).lower(),
        "inside": list(thing.inside) if thing else [],
        "overprint_mode": thing.overprint_mode if thing else None,
        "family": thing.colour.family if thing and thing.colour else None,
    }


_WHAT = {"image": "A picture", "image-mask": "A stencil", "shading": "A gradient", "stroke": "A line"}


def _what(thing: Painted | None) -> str:
    if thing is None:
        return "Something"
    return "Type" if thing.text is not None else _WHAT.get(thing.kind, "An area")


def _inks(percent: dict[str, float]) -> str:
    return ", ".join(f"{ink} {round(tint)} %" for ink, tint in percent.items()) or "bare paper"


CHECK = Check(
    name="overprint",
    limits=OverprintLimits,
    needs=frozenset({"paint", "plates", "overprint"}),
    on_page=check_page,
    kinds={
        "vanishes": Kind(
            Stage.PLATES,
            "{what} in {colour} is set to overprint and leaves no mark: {ground} prints there instead.",
            "Something on this page, often a white text or logo, will not be there in print, because it is set to overprint. Please select it, "
            "switch 'overprint' off in your layout program, and export the PDF again.",
        ),
        "changes": Kind(
            Stage.PLATES,
            "{what} in {colour} overprints: {measured} mm2 print {plates} instead of {meant} (ΔE {delta_e}).",
            "A coloured object on this page is set to overprint and mixes with the colours below it, so it will look different in "
            "print than on your screen. If that is not wanted, please switch 'overprint' off for it and export again.",
        ),
    },
)
