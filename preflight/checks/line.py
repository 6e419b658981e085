"""Lines too thin to hold on the plate, and thin lines that several inks or a screen would have to build.

What it looks at
    Every visible stroked line, and every filled shape that is thin: rules, frames and the fine parts of drawn letters. Through forms,
    patterns, glyph procedures, uneven scales and user unit.
Why it matters on press
    A line of one device dot shows on a screen and a desk printer and is gone on the plate. A thin line from several inks gets
    coloured edges as soon as the sheet moves by a tenth of a millimetre; one from a tint breaks up into dots; one of paper in a
    ground of ink fills in.
How it is measured
    Thickness in points across the line as drawn (under an uneven scale level and upright lines differ); of a filled shape between
    two edges that face each other over at least 0.5 mm. Tolerance 0.005 pt. A line gets one answer: hairline, else thin from many
    inks, else thin. Converted colours (RGB, Lab, with a profile) count by the inks the plates show. Left alone: filled text, clipping
    paths, invisible and covered strokes, paper-coloured lines on paper, lines on a ground of their own colour, a rim around a fill of
    the same colour, slices of an area, the inside of letters, finishing inks, and marks in the registration colour outside the trim.
What to ask the customer for
    Lines of 0.25 pt or more; from one solid ink below 0.5 pt; reversed lines of 0.5 pt or more.
Source
    0.25 pt advised, never under 0.2 pt (0.07 mm), 0.5 pt reversed or from two and more inks, no tint below it (printers' public
    pages); width 0 is one device dot, 0.03 pt at 2400 dpi (ISO 32000-2, 8.4.3.2, and arithmetic).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from preflight.checking import Answer, Check, Kind
from preflight.findings import Found, Stage
from preflight.ground import BESIDE_MM, Ground, is_white, leaves_ink, named_inks
from preflight.inks import REGISTRATION
from preflight.inventory.model import DocumentFacts, Page, Painted
from preflight.ticket import Job
from preflight.units import TOLERANCE_INK_PERCENT, Box, is_below


@dataclass(frozen=True)
class LineLimits:
    """Thickness in points, ink in percent."""

    hairline_below_pt: float
    thin_below_pt: float
    thin_many_inks_below_pt: float
    solid_from_percent: float
    ink_counts_from_percent: float
    ground_from_percent: float


def check_page(page: Page, document: DocumentFacts, job: Job, limits: LineLimits) -> Iterator[Answer]:
    """Judges each thin thing once, by the worst that can be said of it."""
    ground = Ground(page, limits.ground_from_percent)
    for thing in page.painted:
        thickness = thickness_of(thing)
        if thickness is None or not is_below(thickness, limits.thin_many_inks_below_pt, "pt"):
            continue
        if not leaves_ink(thing) or _is_mark(thing, page) or _is_finishing(thing, job):
            continue
        made = _made_of(thing, ground, limits)
        if made is None:
            continue
        if is_below(thickness, limits.hairline_below_pt, "pt"):
            yield _found("hairline", page, thing, thickness, limits.hairline_below_pt, made)
        elif made.is_delicate:
            yield _found("thin-many-inks", page, thing, thickness, limits.thin_many_inks_below_pt, made)
        elif is_below(thickness, limits.thin_below_pt, "pt"):
            yield _found("thin", page, thing, thickness, limits.thin_below_pt, made)


def thickness_of(thing: Painted) -> float | None:
    """How thick a line is, in points; None for what is no line."""
    if thing.kind in ("stroke", "text-stroke") and thing.stroke is not None:
        return None if thing.stroke.rims_fill else thing.stroke.width_pt
    if thing.kind == "fill" and thing.shape is not None and not thing.shape.is_slice:
        return thing.shape.thickness_pt
    return None


@dataclass(frozen=True)
class _Made:
    """What a line is made of, in words, and whether that asks for more thickness."""

    words: str
    inks: tuple[str, ...]
    is_delicate: bool


def _made_of(thing: Painted, ground: Ground, limits: LineLimits) -> _Made | None:
    """None for a line that cannot be seen: of paper on paper, of its ground's own colour, or white that lets the ground through."""
    colour = thing.colour
    if colour is None:
        return _Made("a pattern or gradient", (), is_delicate=False)
    if colour.family == "none":
        return None
    if is_white(colour):
        under = ground.under(thing)
        if not under or _lets_through(thing):
            return None
        return _Made("paper in a ground of ink", tuple(under), is_delicate=True)
    if _is_lost_in(thing, ground):
        return None
    inks = ground.inks_of(thing, limits.ink_counts_from_percent)
    names = tuple(inks)
    if len(inks) > 1:
        return _Made(f"{len(inks)} inks", names, is_delicate=True)
    tint = max(inks.values(), default=0.0) * thing.alpha
    if tint < limits.solid_from_percent:
        return _Made(f"a tint of {round(tint)} %", names, is_delicate=True)
    return _Made("one solid ink", names, is_delicate=False)


def _is_lost_in(thing: Painted, ground: Ground) -> bool:
    """Whether a line lies wholly on a ground of its own colour: the plates show that colour there, beside it too, and no other."""
    box, own, plates = thing.visible_mm, named_inks(thing.colour, 0.0), ground.page.plates
    if box is None or plates is None or not own or not set(own) <= set(thing.ground_inks or ()):
        return False
    shown = {plate.ink: ground.percent(plate.ink, box.grow(BESIDE_MM)) for plate in plates.plates}
    if any(percent is None for percent in shown.values()):
        return False
    tints = {ink: tint * thing.alpha for ink, tint in own.items()}
    return all(
        abs((shown.get(ink) or 0.0) - tints.get(ink, 0.0)) <= TOLERANCE_INK_PERCENT
        for ink in shown.keys() | tints.keys()
    )


def _lets_through(thing: Painted) -> bool:
    """White that is set to overprint leaves no mark (ISO 32000-2, Table 146); ``overprint`` has its own check."""
    if not thing.overprint or thing.colour is None:
        return False
    return thing.colour.family in ("separation", "device-n") or (
        thing.colour.family == "cmyk" and thing.overprint_mode == 1
    )


def _is_mark(thing: Painted, page: Page) -> bool:
    """A line in the registration colour that stays outside the trim is a mark, and meant to be thin."""
    if (
        thing.colour is None
        or REGISTRATION not in thing.colour.inks
        or page.trim_mm is None
        or thing.visible_mm is None
    ):
        return False
    return not thing.visible_mm.meets(Box(0.0, 0.0, *page.trim_mm))


def _is_finishing(thing: Painted, job: Job) -> bool:
    """A die line or the like: it prints nothing."""
    tints = thing.colour.tints_percent() if thing.colour else None
    return bool(tints) and all(job.is_finishing(ink) for ink in tints or ())


def _found(kind: str, page: Page, thing: Painted, thickness: float, limit: float, made: _Made) -> Found:
    zero = thing.stroke is not None and thing.stroke.zero
    return Found(
        kind=kind,
        page=page.number,
        box_mm=thing.visible_mm,
        measured=thickness,
        limit=limit,
        unit="pt",
        values={
            "what": {"stroke": "A line", "text-stroke": "An outline around type"}.get(thing.kind, "A filled shape"),
            "thickness": "width 0 (one device dot)" if zero else f"{thickness:.2f} pt",
            "made": made.words,
        },
        details={
            "width_zero": zero,
            "filled": thing.kind == "fill",
            "made_of": made.words,
            "inks": list(made.inks),
            "inside": list(thing.inside),
        },
    )


CHECK = Check(
    name="line",
    limits=LineLimits,
    needs=frozenset({"paint"}),
    on_page=check_page,
    kinds={
        "hairline": Kind(
            Stage.PLATES,
            "{what} of {thickness}, {made}: below {limit} pt it may not hold on the plate.",
            "Some lines here are so thin that they may break up or vanish in print. Please set them to 0.25 pt or more.",
        ),
        "thin": Kind(
            Stage.PLATES,
            "{what} of {thickness}, {made}; {limit} pt and more are safe.",
            "Some lines here are very thin. They may print weakly; 0.25 pt or more is safe. Please make them a little thicker, "
            "or tell us that they may print as they are.",
        ),
        "thin-many-inks": Kind(
            Stage.PRESS,
            "{what} of {thickness} made of {made}; below {limit} pt that needs one solid ink on paper.",
            "Some thin lines here are in a mixed or light colour, or white on a colour. They may get coloured edges, break up or "
            "fill in. Please make them 0.5 pt or thicker, or give them one full colour such as plain black.",
        ),
    },
)
