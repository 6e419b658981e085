"""Plates for finishing: die lines, creases, perforations, foil, embossing, varnish and the like.

What it looks at
    The finishing processes the ticket orders, each with its ink; inks that are finishing plates by their name; layers marked as
    processing steps. On every page what is painted in those inks: how, in which tints, and over what.
Why it matters on press
    These plates go to the die maker and the finisher, never onto the sheet as ink. A missing one is noticed when the printed sheets
    are at the die. One that does not overprint cuts its shape out of the art: a white line where the carton is creased, bare
    paper under the varnish. A foil die cannot hold tints; a die is bent after a line, not after dots.
How it is measured
    A plate is there where a cell of 0.5 mm of it is marked above a least percentage inside trim and bleed. It knocks out what was
    painted under it in printing inks (by area, to 0.25 mm), or what it hides wholly, unless it overprints or multiplies. Tints in percent
    by the colour's own numbers, thinned by its opacity; varnish and white may have any. Names compare without case, spaces
    and punctuation; what is in the ticket goes before what a name sounds like.
What to ask the customer for
    Each finishing process in a spot colour of its own, named as ordered, in solid vector shapes (die lines as strokes), set to
    overprint.
Source
    One spot separation a process, vector, solid, overprinting: common practice of carton and label printers. Processing steps:
    ISO 19593-1:2018; its names of steps from memory. What overprint keeps: ISO 32000-2, Table 146.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, replace

from preflight.checking import Answer, Check, Kind
from preflight.findings import Found, NotJudged, Stage
from preflight.ground import Ground, erased, hides, leaves_ink, named_inks
from preflight.inks import Marking, marking_plates
from preflight.inventory.model import DocumentFacts, Inventory, Layer, Page, PageSummary, Painted, Plate
from preflight.ticket import Job, Process, fold_ink_name

#: Processes whose plate is a line, and those whose plate is a solid area.
LINES: frozenset[Process] = frozenset({"die-cut", "crease", "perforation"})
SOLIDS: frozenset[Process] = frozenset({"foil", "emboss"})
#: What a processing step (ISO 19593-1, without its group) is ordered as; steps that only inform are not here.
_STEPS: dict[str, tuple[Process, ...]] = {
    "cutting": ("die-cut",),
    "partialcutting": ("die-cut",),
    "reversepartialcutting": ("die-cut",),
    "creasing": ("crease",),
    "reversecreasing": ("crease",),
    "cuttingcreasing": ("die-cut", "crease"),
    "reversecuttingcreasing": ("die-cut", "crease"),
    "partialcuttingcreasing": ("die-cut", "crease"),
    "reversepartialcuttingcreasing": ("die-cut", "crease"),
    "perforating": ("perforation",),
    "foilstamping": ("foil",),
    "coldfoilstamping": ("foil",),
    "embossing": ("emboss",),
    "debossing": ("emboss",),
    "varnish": ("varnish",),
    "white": ("white",),
    "braille": ("other", "emboss"),
    "drilling": ("other", "die-cut"),
    "punching": ("other", "die-cut"),
    "gluing": ("other",),
}
_PLAIN = ("Normal", "Compatible")


@dataclass(frozen=True)
class FinishingLimits:
    """Percentages of ink, and words that tell what kind of plate a name means."""

    marks_from_percent: float
    solid_from_percent: float
    ground_from_percent: float
    knocks_out_from_opacity_percent: float
    line_words: tuple[str, ...]
    solid_words: tuple[str, ...]


# --- page by page ----------------------------------------------------------------------------------------------------


def check_page(page: Page, document: DocumentFacts, job: Job, limits: FinishingLimits) -> Iterator[Answer]:
    """Judges what is painted in finishing inks on one page."""
    plates: dict[str, list[Painted]] = defaultdict(list)
    for thing in page.painted:
        inks = _finishing_inks(thing, job)
        for ink in inks:
            plates[ink].append(thing)
    if not plates:
        return
    ground = Ground(page, limits.ground_from_percent)
    for thing in {thing.order: thing for things in plates.values() for thing in things}.values():
        yield from _knocks_out(page, thing, ground, job, limits)
    for ink, things in plates.items():
        processes = _processes_of(ink, job, limits)
        if processes & (LINES | SOLIDS) and not processes - LINES - SOLIDS:
            yield from _tinted(page, ink, things, limits, lines=bool(processes & LINES))


def _finishing_inks(thing: Painted, job: Job) -> tuple[str, ...]:
    """The inks of a thing that is painted in finishing inks alone; none for anything else."""
    colour = thing.colour
    if colour is None or colour.family not in ("separation", "device-n") or not leaves_ink(thing):
        return ()
    tints = colour.tints_percent()
    # Pictures and shadings may use every ink of their space.
    inks = tuple(tints) if tints is not None else tuple(ink for ink in colour.inks if ink != "None")
    return inks if inks and all(job.is_finishing(ink) for ink in inks) else ()


def _processes_of(ink: str, job: Job, limits: FinishingLimits) -> frozenset[Process]:
    """What an ink is for, by the ticket, else by its name; empty where neither tells."""
    folded = fold_ink_name(ink)
    ordered = frozenset(item.process for item in job.order.finishing if fold_ink_name(item.ink) == folded)
    if ordered:
        return ordered
    words = _words(ink)
    for named, processes in ((limits.line_words, LINES), (limits.solid_words, SOLIDS)):
        if any(f" {' '.join(_words(word))} " in f" {' '.join(words)} " for word in named):
            return processes
    return frozenset()


def _words(name: str) -> list[str]:
    return "".join(sign if sign.isalpha() else " " for sign in name.casefold()).split()


def _knocks_out(page: Page, thing: Painted, ground: Ground, job: Job, limits: FinishingLimits) -> Iterator[Found]:
    if thing.blend not in _PLAIN or 100.0 * thing.alpha < limits.knocks_out_from_opacity_percent:
        return
    colour = thing.colour
    own = named_inks(colour, 0.0) or dict.fromkeys(colour.inks if colour else (), 100.0)
    under = _printing_ground(page, thing, ground, job)
    gone, cause = erased(replace(thing, alpha=1.0), under, own)
    if not gone:
        return
    inks = ", ".join(own)
    yield Found(
        kind="knocks-out",
        page=page.number,
        box_mm=thing.visible_mm,
        subject=inks,
        source=thing.object_key,
        values={"ink": inks, "erased": ", ".join(gone)},
        details={
            "ink": inks,
            "erased_inks": list(gone),
            "cause": cause,
            "overprint": thing.overprint,
            "overprint_mode": thing.overprint_mode,
            "opacity": round(thing.alpha, 3),
            "inside": list(thing.inside),
        },
    )


def _printing_ground(page: Page, thing: Painted, ground: Ground, job: Job) -> dict[str, float]:
    """The printing inks under a thing: as the reader of the page has looked under it, else by boxes and plates; and what it hides."""
    looked = thing.ground_inks
    found = ground.under(thing) if looked is None else dict.fromkeys(looked, 100.0)
    if not found and not thing.overprint:
        found = _hidden_under(page, thing)
    return {ink: percent for ink, percent in found.items() if not job.is_finishing(ink)}


def _hidden_under(page: Page, thing: Painted) -> dict[str, float]:
    """Inks of type and other matter that lies wholly under a thing, with nothing between them that hides it as well."""
    box = thing.visible_mm
    if box is None:
        return {}
    found: dict[str, float] = {}
    for lower in page.painted:
        if lower.order >= thing.order:
            break
        if not lower.covered or lower.visible_mm is None or not box.contains(lower.visible_mm, slack=0.02):
            continue
        if lower.text is not None and not lower.text.inked_glyphs:
            continue
        named = named_inks(lower.colour, 1.0)
        if not named or lower.kind in ("group", "mask") or _hidden_before(page, lower, thing):
            continue
        found |= named
    return found


def _hidden_before(page: Page, lower: Painted, thing: Painted) -> bool:
    return any(
        lower.order < other.order < thing.order
        and hides(other)
        and other.visible_mm is not None
        and lower.visible_mm is not None
        and other.visible_mm.contains(lower.visible_mm, slack=0.02)
        for other in page.painted
    )


def _tinted(page: Page, ink: str, things: list[Painted], limits: FinishingLimits, *, lines: bool) -> Iterator[Found]:
    """Tints and pictures on a plate that can hold neither; areas where a die line should be a stroke."""
    for thing in things:
        tint = _tint_of(thing, ink)
        if thing.image is not None:
            yield _not_solid(page, thing, ink, "a picture", None, limits)
        elif thing.kind == "shading":
            yield _not_solid(page, thing, ink, "a gradient", None, limits)
        elif tint is not None and tint < limits.solid_from_percent:
            yield _not_solid(page, thing, ink, f"a tint of {tint:.0f} %", tint, limits)
    if lines and not any(thing.stroke is not None and thing.kind == "stroke" for thing in things):
        for thing in things:
            if thing.kind == "fill":
                yield _not_solid(page, thing, ink, "a filled shape, not a line", None, limits)


def _tint_of(thing: Painted, ink: str) -> float | None:
    tints = thing.colour.tints_percent() if thing.colour else None
    return None if tints is None else tints.get(ink, 0.0) * thing.alpha


def _not_solid(page: Page, thing: Painted, ink: str, what: str, tint: float | None, limits: FinishingLimits) -> Found:
    return Found(
        kind="tinted",
        page=page.number,
        box_mm=thing.visible_mm,
        measured=tint,
        limit=None if tint is None else 100.0,
        unit=None if tint is None else "percent",
        subject=ink,
        source=thing.object_key,
        values={"ink": ink, "what": what},
        details={"ink": ink, "what": what, "inside": list(thing.inside)},
    )


# --- the whole file --------------------------------------------------------------------------------------------------


def check_file(inventory: Inventory, job: Job, limits: FinishingLimits) -> Iterator[Answer]:
    """Holds the plates of all pages against what is ordered."""
    if job.ticket is None:
        yield NotJudged("finishing", "no ticket: neither missing finishing plates nor plates too many are judged")
        return
    if not inventory.pages:
        return
    marking = marking_plates(inventory.pages, limits.marks_from_percent)
    yield from _missing(inventory, marking, job)
    unordered = _unordered_inks(marking, job)
    for ink, places in unordered.items():
        yield _unordered_ink(ink, places)
    processes = [_processes_of(ink, job, limits) for ink in unordered]
    for layer in inventory.document.layers:
        yield from _unordered_layer(layer, inventory.pages, job, processes)


def _missing(inventory: Inventory, marking: Marking, job: Job) -> Iterator[Found]:
    """Ordered plates that mark no page; nothing is missing that a page not measured may carry."""
    if inventory.missing or any(page.blank_trim is None for page in inventory.pages):
        return
    there = {fold_ink_name(plate.ink) for _, plates in marking for plate in plates}
    for item in job.order.finishing:
        if fold_ink_name(item.ink) in there:
            continue
        steps = {layer.name for layer in inventory.document.layers if item.process in _ordered_as(layer)}
        yield Found(
            kind="plate-missing",
            page=None,
            measured=0.0,
            unit="percent",
            subject=item.ink,
            values={"process": item.process, "ink": item.ink},
            details={"process": item.process, "ink": item.ink, "layers": sorted(steps)},
        )


def _unordered_inks(marking: Marking, job: Job) -> dict[str, list[tuple[PageSummary, Plate]]]:
    ordered = {fold_ink_name(ink) for ink in job.order.finishing_inks}
    found: dict[str, list[tuple[PageSummary, Plate]]] = defaultdict(list)
    for page, plates in marking:
        for plate in plates:
            if job.is_finishing(plate.ink) and fold_ink_name(plate.ink) not in ordered:
                found[plate.ink].append((page, plate))
    return found


def _unordered_ink(ink: str, places: list[tuple[PageSummary, Plate]]) -> Found:
    first, plate = places[0]
    pages = [page.number for page, _ in places]
    return Found(
        kind="unordered",
        page=first.number,
        box_mm=plate.box_mm,
        measured=max(each.coverage_percent for _, each in places),
        unit="percent",
        worse="high",
        subject=ink,
        values={"what": f"The ink {ink} looks like a finishing plate"},
        details={"ink": ink, "pages": pages},
    )


def _unordered_layer(
    layer: Layer, pages: tuple[PageSummary, ...], job: Job, told: list[frozenset[Process]]
) -> Iterator[Found]:
    """A processing step that is used and not ordered; not again where its ink has been told."""
    processes = _ordered_as(layer)
    used = [page.number for page in pages if layer.name in page.layers_used]
    if layer.has_members and layer.printed:
        # What belongs to it by a membership bears no layer's name: the file's structure tells where it is.
        used = used or list(layer.pages)
    if not processes or not (used or layer.used):
        return
    if any(item.process in processes for item in job.order.finishing) or any(set(processes) & each for each in told):
        return
    yield Found(
        kind="unordered",
        page=used[0] if used else None,
        subject=layer.name,
        groups=False,
        values={"what": f"The layer {layer.name} is a processing step ({layer.processing_step})"},
        details={"layer": layer.name, "step": layer.processing_step} | ({"pages": used} if used else {}),
    )


def _ordered_as(layer: Layer) -> tuple[Process, ...]:
    """What a layer's processing step is ordered as; nothing for an ordinary layer, or a step that only informs."""
    step = (layer.processing_step or "").casefold()
    return _STEPS.get(step.rpartition("/")[2], ())


CHECK = Check(
    name="finishing",
    limits=FinishingLimits,
    needs=frozenset({"paint", "plates", "layers"}),
    on_page=check_page,
    on_file=check_file,
    kinds={
        "plate-missing": Kind(
            Stage.BINDERY,
            "The ticket orders {process} in the ink {ink}; that plate marks no page.",
            "You have ordered {process}, and the file has nothing in the colour {ink} that shows where. Please add it as a spot "
            "colour of that name, or tell us what it is called in your file.",
        ),
        "knocks-out": Kind(
            Stage.PRESS,
            "The finishing plate {ink} knocks out {erased} under it.",
            "The shapes in {ink} cut a hole into the printed picture under them. Please set everything in this colour to overprint.",
        ),
        "tinted": Kind(
            Stage.BINDERY,
            "The finishing plate {ink} holds {what}; it needs solid vector shapes.",
            "The shapes in {ink} must be solid vector drawings (cutting and creasing: lines), without tints, gradients or "
            "pictures. Please draw them so.",
        ),
        "unordered": Kind(
            Stage.BINDERY,
            "{what} and is not ordered.",
            "Your file has something that looks like a finishing process which is not ordered ({subject}). Please tell us whether it "
            "is wanted, or take it out.",
        ),
    },
)
