"""Black type and lines from several inks, black that cuts holes into colour, and large black areas of one ink.

What it looks at
    Visible type under 12 pt and lines under 1 pt that look black; in black ink alone also what lies under them; black areas of
    one ink over 400 mm2.
Why it matters on press
    Black from four inks needs perfect register, else type gets coloured fringes. Black that knocks out a coloured ground leaves paper
    showing at its edges as soon as the sheet moves by a tenth of a millimetre. A large solid of black alone looks grey.
How it is measured
    Size after every matrix in points, tolerance 0.005 pt; thin filled bars and frames are lines. Looks black: L* under 25 and C*
    under 10, worked out from the inks on coated paper (mean error 2.6), from RGB as sRGB. Inks by the colour's own numbers, tints
    under 3 % left out; of a converted colour (RGB, Lab, with a profile) as the plates show them. A ground is what was painted
    earlier and the plates show, other inks than black. ``details.cause`` tells why it is erased: ``no-overprint``;
    ``overprint-mode-0`` (zeros of CMYK erase); ``gray-erases`` (gray set to overprint); ``converted-erases``;
    ``named-at-zero``. Area in mm2 of the shape, no more than its visible box; it counts where the plates show a square of black
    alone in it, as wide as an area has to be: not for the bars of a code, nor where ink that comes later enriches it.
What to ask the customer for
    Small text and fine lines in pure black (0/0/0/100), set to overprint; large black areas as the shop wants them enriched.
Source
    ISO 32000-2, Table 146 (OPM 1 keeps zeros of DeviceCMYK given directly, never of DeviceGray); black text under 12 pt overprints
    (common practice, from memory; printer's public page "overprint black text"); small type of one ink (printers' public pages);
    400 mm2 and the width from which black is an area are common practice. Lightness: FOGRA39 characterisation data.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from preflight.checking import Answer, Check, Kind
from preflight.findings import Found, Stage
from preflight.ground import Ground, erased, named_inks, printing_things
from preflight.inventory.model import PROCESS_INKS, Colour, DocumentFacts, Page, Painted
from preflight.press_colour import Lab, chroma, lab_of, lab_of_tints
from preflight.ticket import Job
from preflight.units import is_above, is_below, mm_from_pt


@dataclass(frozen=True)
class BlackLimits:
    """Sizes in points, area in mm2, looks in CIE L* and C*, inks in percent."""

    text_below_pt: float
    line_below_pt: float
    looks_black_lightness_below: float
    looks_black_chroma_below: float
    thin_solid_above_mm2: float
    thin_solid_wider_than_mm: float
    solid_from_percent: float
    ink_counts_from_percent: float
    ground_from_percent: float


def check_page(page: Page, document: DocumentFacts, job: Job, limits: BlackLimits) -> Iterator[Answer]:
    """Judges small type and lines that look black, then large areas of black alone."""
    ground = Ground(page, limits.ground_from_percent)
    looks: dict[int, bool] = {}
    for thing in printing_things(page, job):
        if thing.colour is None or thing.alpha < 0.95:
            continue
        size = _fine_size(thing, limits)
        if size is None and not _may_be_solid(thing, limits):
            continue
        # Things of one colour share it; the page keeps them all alive.
        at = id(thing.colour)
        if at not in looks:
            looks[at] = _looks_black(thing.colour, limits)
        if not looks[at]:
            continue
        if size is None:
            yield from _thin_solid(page, thing, ground, job, limits)
            continue
        inks = ground.inks_of(thing, limits.ink_counts_from_percent)
        if len(inks) > 1:
            if "All" not in thing.colour.inks:
                yield _many_inks(page, thing, size, inks)
        elif "Black" in inks:
            gone, cause = erased(thing, ground.under(thing), inks)
            if gone:
                yield _knocks_out(page, thing, size, gone, cause)


@dataclass(frozen=True)
class FineSize:
    """How large a piece of type or how thick a line is, and the size below which it is fine."""

    what: str
    measured_pt: float
    limit_pt: float


def _fine_size(thing: Painted, limits: BlackLimits) -> FineSize | None:
    """The size of small type or of a thin line; None for anything larger."""
    if thing.text is not None:
        size = FineSize("Type", thing.text.size_pt, limits.text_below_pt)
    elif thing.kind == "stroke" and thing.stroke is not None and not thing.stroke.rims_fill:
        size = FineSize("A line", thing.stroke.width_pt, limits.line_below_pt)
    elif thing.kind == "fill" and thing.shape is not None and thing.shape.thickness_pt is not None:
        if thing.shape.direction is None and not thing.shape.is_rectangle and not thing.shape.is_frame:
            return None
        size = FineSize("A line", thing.shape.thickness_pt, limits.line_below_pt)
    else:
        return None
    return size if is_below(size.measured_pt, size.limit_pt, "pt") else None


def _may_be_solid(thing: Painted, limits: BlackLimits) -> bool:
    box = thing.visible_mm
    return box is not None and thing.text is None and box.area > limits.thin_solid_above_mm2


def _looks_black(colour: Colour, limits: BlackLimits) -> bool:
    tints = named_inks(colour, 0.0)
    # How a spot ink changes a black is not known; on black it cannot make it light.
    lab: Lab | None = lab_of(colour)
    if tints is not None:
        lab = lab_of_tints({ink: tint for ink, tint in tints.items() if ink in PROCESS_INKS})
    if lab is None:
        return False
    return lab[0] < limits.looks_black_lightness_below and chroma(lab) < limits.looks_black_chroma_below


def _many_inks(page: Page, thing: Painted, size: FineSize, inks: dict[str, float]) -> Found:
    return _found("many-inks", page, thing, size, list(inks), {"inks": {ink: round(inks[ink], 1) for ink in inks}})


def _knocks_out(page: Page, thing: Painted, size: FineSize, gone: dict[str, float], cause: str) -> Found:
    found = _found(
        "knocks-out",
        page,
        thing,
        size,
        list(gone),
        {
            "cause": cause,
            "erased_inks": {ink: round(gone[ink], 1) for ink in gone},
            "overprint": thing.overprint,
            "overprint_mode": thing.overprint_mode,
            "family": thing.colour.family if thing.colour else None,
        },
    )
    found.values["why"] = _WHY[cause]
    return found


_WHY = {
    "no-overprint": "it is not set to overprint",
    "overprint-mode-0": "it is set to overprint, but with overprint mode 0 its zeros erase",
    "gray-erases": "it is gray set to overprint, which still erases the process inks",
    "converted-erases": "it is set to overprint, but its colour is converted, and that still erases the process inks",
    "named-at-zero": "its colour names the inks of the ground at zero, which erases them",
}


def _found(kind: str, page: Page, thing: Painted, size: FineSize, inks: list[str], details: dict[str, object]) -> Found:
    return Found(
        kind=kind,
        page=page.number,
        box_mm=thing.visible_mm,
        measured=size.measured_pt,
        limit=size.limit_pt,
        unit="pt",
        values={"what": size.what, "inks": ", ".join(inks)},
        details=details | {"what": "type" if thing.text is not None else "line", "inside": list(thing.inside)},
    )


def _thin_solid(page: Page, thing: Painted, ground: Ground, job: Job, limits: BlackLimits) -> Iterator[Found]:
    """A large area of full black alone, with nothing under or over it that enriches it."""
    if thing.kind not in ("fill", "image-mask", "stroke") or thing.visible_mm is None or thing.colour is None:
        return
    tints = named_inks(thing.colour, 0.0) or {}
    if set(tints) != {"Black"} or tints["Black"] < limits.solid_from_percent:
        return
    width = min(thing.visible_mm.width, thing.visible_mm.height)
    if thing.shape is not None:
        area = min(thing.shape.area_mm2, thing.visible_mm.area)
    elif thing.stroke is not None:
        width = min(width, mm_from_pt(thing.stroke.width_pt))
        area = min(mm_from_pt(thing.stroke.width_pt) * thing.stroke.length_mm, thing.visible_mm.area)
    else:
        return
    if width < limits.thin_solid_wider_than_mm:
        return
    if not is_above(area, limits.thin_solid_above_mm2, "mm2") or not _can_be_enriched(page, job):
        return
    below = ground.under(thing)
    kept = set(below) - set(erased(thing, below, tints)[0]) - {"Black"}
    if kept or thing.blend not in ("Normal", "Compatible"):
        return
    # What is painted later may enrich it (overprint, a blend mode); one path of many bars or letters is no area.
    shown = ground.has_solid_alone(
        "Black", thing.visible_mm, limits.solid_from_percent, limits.thin_solid_wider_than_mm
    )
    if shown is False:
        return
    yield Found(
        kind="thin-solid",
        page=page.number,
        box_mm=thing.visible_mm,
        measured=area,
        limit=limits.thin_solid_above_mm2,
        unit="mm2",
        worse="high",
        source=thing.object_key,
        details={"black_percent": round(tints["Black"], 1)},
    )


def _can_be_enriched(page: Page, job: Job) -> bool:
    """Not where the order has no other process ink for this page."""
    ordered = job.order.inks_of(page.number)
    return ordered is None or any(ink.casefold() in ("cyan", "magenta", "yellow", "c", "m", "y") for ink in ordered)


CHECK = Check(
    name="black",
    limits=BlackLimits,
    needs=frozenset({"paint", "plates"}),
    on_page=check_page,
    kinds={
        "many-inks": Kind(
            Stage.PRESS,
            "{what} of {measured} pt looks black and prints from {inks}; under {limit} pt black is one ink.",
            "Some small black text or fine black lines are mixed from several printing colours and may get coloured edges. Please "
            "use plain black (black 100 %, no other colour) for them.",
        ),
        "thin-solid": Kind(
            Stage.PRESS,
            "A solid of black alone, {measured} mm2: it prints thinner than a black enriched with other inks.",
            "A large black area is made of black ink alone and may look dark grey in print. If you want a deeper black, please ask us "
            "for a mix that suits this paper.",
        ),
        "knocks-out": Kind(
            Stage.PRESS,
            "{what} of {measured} pt in black knocks out {inks}: {why}. Black under {limit} pt should overprint.",
            "Some small black text or fine lines on a coloured ground cut a hole into the colour, and white edges may show. Please set "
            "plain black text and lines to 'overprint' in your layout program.",
        ),
    },
)
