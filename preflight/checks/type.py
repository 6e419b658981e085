"""Type too small to print clean: in one ink, in several, reversed out, and below what the law asks on food.

What it looks at
    Every visible piece of live text at the size it prints, after every matrix; the inks it prints in; for white type the inks of
    the ground it stands out of; on a food label its x-height. Type turned into outlines is a matter of lines.
Why it matters on press
    Small type of one ink fills or breaks up. In two inks every letter needs register to a few hundredths of a millimetre, else it
    doubles. White type out of a solid closes as the ink spreads, out of several inks even sooner.
How it is measured
    Font size in points after every matrix, the smaller axis; tolerance 0.005 pt. Inks by the colour's own numbers, tints under
    3 % left out; a converted colour (RGB, Lab, with a profile) by what the plates show. Reversed is type of no ink, or of a trace (20 %
    in all), that erases a stronger ground, which something painted earlier and the plates both show. x-height in millimetres from the glyph
    outlines, tolerance 0.05 mm; where it cannot be measured and the size leaves it in doubt, the answer is unchecked. Black
    that overprints is one ink, whatever lies under it.
What to ask the customer for
    Larger type; small type in black alone; reversed type larger and bolder; on food labels the height the law asks for.
Source
    4 pt in one ink (printer's public page), 5 pt floor, 8 pt in several inks, 6 and 8 pt reversed: common practice. Newsprint: 10
    and 14 pt reversed, colour type larger (newspapers' public guides). Regulation (EU) 1169/2011, Article 13 and Annex IV: x-height
    1.2 mm, 0.9 mm where the largest surface is under 80 cm2.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from preflight.checking import Answer, Check, Kind
from preflight.findings import Found, Stage, Unchecked
from preflight.ground import Ground, erased, is_white, printing_things
from preflight.inventory.model import DocumentFacts, Page, Painted, TextRun
from preflight.ticket import Job
from preflight.units import MM_PER_PT, is_below


@dataclass(frozen=True)
class TypeLimits:
    """Type sizes in points, x-heights in millimetres, surface in square centimetres, inks in percent."""

    small_black_below_pt: float
    small_one_ink_below_pt: float
    small_many_inks_below_pt: float
    reversed_one_ink_below_pt: float
    reversed_many_inks_below_pt: float
    reversed_ink_at_most_percent: float
    x_height_below_mm: float
    x_height_small_pack_below_mm: float
    small_pack_below_cm2: float
    ink_counts_from_percent: float
    ground_from_percent: float


#: The smallest x-height of any text face, as a part of its size: type of which this much is enough needs no measuring.
LEAST_X_HEIGHT = 0.35


def check_page(page: Page, document: DocumentFacts, job: Job, limits: TypeLimits) -> Iterator[Answer]:
    """Judges each piece of text by its size and inks; on a food label also by its x-height."""
    ground = Ground(page, limits.ground_from_percent)
    least_x = _legal_x_height(job, limits)
    unmeasured: set[str] = set()
    largest = max(
        limits.small_black_below_pt,
        limits.small_one_ink_below_pt,
        limits.small_many_inks_below_pt,
        limits.reversed_one_ink_below_pt,
        limits.reversed_many_inks_below_pt,
    )
    for thing in printing_things(page, job):
        text = thing.text
        if text is None:
            continue
        if text.size_pt < largest:
            yield from _by_size(page, thing, text, ground, limits)
        if least_x is not None and _shows(thing, ground):
            if text.x_height_mm is None or text.embedded is False:
                if text.size_pt * MM_PER_PT * LEAST_X_HEIGHT < least_x:
                    unmeasured.add(text.font)
            elif is_below(text.x_height_mm, least_x, "mm"):
                yield _found("legal-minimum", page, thing, text, text.x_height_mm, least_x, "mm")
    if unmeasured:
        fonts = ", ".join(sorted(unmeasured)[:5])
        yield Unchecked(
            "type", page.number, f"the x-height could not be measured, so the legal minimum is open: {fonts}"
        )


def _legal_x_height(job: Job, limits: TypeLimits) -> float | None:
    if not job.order.food_label:
        return None
    surface = job.order.label_surface_cm2
    small = surface is not None and surface < limits.small_pack_below_cm2
    return limits.x_height_small_pack_below_mm if small else limits.x_height_below_mm


def _shows(thing: Painted, ground: Ground) -> bool:
    return not is_white(thing.colour) or bool(ground.under(thing))


def _by_size(page: Page, thing: Painted, text: TextRun, ground: Ground, limits: TypeLimits) -> Iterator[Found]:
    inks = ground.inks_of(thing, limits.ink_counts_from_percent)
    below = _stands_out_of(thing, inks, ground, limits)
    if below:
        limit = limits.reversed_one_ink_below_pt if len(below) == 1 else limits.reversed_many_inks_below_pt
        if is_below(text.size_pt, limit, "pt"):
            yield _found("small-reversed", page, thing, text, text.size_pt, limit, "pt", below)
        return
    if not inks:
        return
    if len(inks) > 1:
        kind, limit = "small-many-inks", limits.small_many_inks_below_pt
    else:
        black = "Black" in inks
        kind, limit = "small", limits.small_black_below_pt if black else limits.small_one_ink_below_pt
    if is_below(text.size_pt, limit, "pt"):
        yield _found(kind, page, thing, text, text.size_pt, limit, "pt", inks)


def _stands_out_of(thing: Painted, inks: dict[str, float], ground: Ground, limits: TypeLimits) -> dict[str, float]:
    """The inks of a ground that light type is reversed out of; none for anything else.

    White that overprints what it lies on is not reversed: it vanishes, which is another check's matter.
    """
    own = sum(inks.values())
    if own > limits.reversed_ink_at_most_percent or not (inks or is_white(thing.colour)):
        return {}
    below = ground.under(thing)
    if thing.alpha >= 1.0:
        gone, _ = erased(thing, below, inks)
        below = {ink: percent for ink, percent in below.items() if ink in gone or (gone and ink in inks)}
    return below if sum(below.values()) > 2.0 * own else {}


def _found(
    kind: str,
    page: Page,
    thing: Painted,
    text: TextRun,
    measured: float,
    limit: float,
    unit: str,
    inks: dict[str, float] | None = None,
) -> Found:
    details: dict[str, object] = {"font": text.font, "size_pt": round(text.size_pt, 2), "glyphs": text.inked_glyphs}
    if inks:
        details["inks"] = {ink: round(percent, 1) for ink, percent in inks.items()}
    if text.x_height_mm is not None:
        details["x_height_mm"] = round(text.x_height_mm, 3)
    if thing.inside:
        details["inside"] = list(thing.inside)
    return Found(
        kind=kind,
        page=page.number,
        box_mm=thing.visible_mm,
        measured=measured,
        limit=limit,
        unit=unit,
        values={"inks": ", ".join(inks or ()), "count_of_inks": len(inks or ())},
        details=details,
    )


CHECK = Check(
    name="type",
    limits=TypeLimits,
    needs=frozenset({"paint", "plates"}),
    on_page=check_page,
    kinds={
        "small": Kind(
            Stage.PRESS,
            "Type of {measured} pt in {inks}; under {limit} pt it fills or breaks up.",
            "Some text on this page is set in {measured} points only and may not be readable in print. Please make it at least "
            "{limit} points.",
        ),
        "small-many-inks": Kind(
            Stage.PRESS,
            "Type of {measured} pt from {count_of_inks} inks ({inks}); under {limit} pt it shows every misregister.",
            "Some small text ({measured} points) is mixed from several printing colours and will look blurred if they shift "
            "by a hair. Please use plain black or one single colour for it, or make it at least {limit} points.",
        ),
        "small-reversed": Kind(
            Stage.PRESS,
            "White type of {measured} pt out of {inks}; under {limit} pt it closes up.",
            "Some white text on a coloured ground is set in {measured} points only and may fill up with ink. Please make it at "
            "least {limit} points, or bolder, or put it on a plain light ground.",
        ),
        "legal-minimum": Kind(
            Stage.INTAKE,
            "x-height {measured} mm on a food label, {limit} mm asked for mandatory particulars (EU 1169/2011); the local authority decides.",
            "On a food label the small letters of mandatory information must be at least {limit} mm high; some here have {measured} "
            "mm. Please make that text larger if it is mandatory. What applies to your product is for your local food authority to say.",
        ),
    },
)
