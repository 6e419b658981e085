"""Sheets that creep out of a stitched booklet, and the spine of a cover that must fit its book.

What it looks at
    Saddle stitch: text near the face (outer) edge of each page, and how far the page's sheet is pushed out by the sheets around
    it. A cover: the spine the artwork was made for, against the thickness of the book.
Why it matters on press
    Sheets folded into one another stick out at the face, the innermost most, and all are cut flush: on inner sheets
    the cut comes closer to the text. A spine of the wrong width puts front, back and title off centre, after binding.
How it is measured
    Push-out of the innermost sheet = (pages / 4) x caliper; of a sheet farther out in proportion (the outermost of n sheets has one
    n-th of it). Text margin to the face edge minus push-out, in millimetres, against the safety. Spine = (pages / 2) x caliper
    + 2 x cover caliper, against the spine of the ticket, plus what the file is wider than the ordered flat cover. Tolerance
    0.05 mm. Without a caliper nothing is judged, and the report says so.
What to ask the customer for
    Text on the inner pages moved towards the spine (not the whole page: the printer makes up for creep when pages are laid out
    on the sheet); the cover made for the spine width given.
Source
    Creep (pages / 4) x caliper (printers' forum; the nested model gives one caliper less); face margin 3/8 in for thick stitched
    books (printer's public page); spine formula and examples from printers' public pages: 128 pages of 0.0039 in give
    0.2496 in, 200 pages of 0.005 in give 0.5 in; the cover's part and the tolerance are common practice.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from preflight.bindery import Creep, face_edge, spine_width_mm
from preflight.checking import Answer, Check, Kind
from preflight.findings import Found, NotJudged, Stage
from preflight.frames import distances_inside
from preflight.ground import Ground, is_white, printing_things
from preflight.inventory.model import DocumentFacts, Inventory, Page
from preflight.ticket import Job, Ticket
from preflight.units import TOLERANCE_MM, Box, is_above, is_below


@dataclass(frozen=True)
class BindingLimits:
    """Distances and thicknesses in millimetres."""

    near_face_below_mm: float
    creep_note_above_mm: float
    spine_differs_above_mm: float
    cover_caliper_at_most_mm: float
    ground_from_percent: float


def check_page(page: Page, document: DocumentFacts, job: Job, limits: BindingLimits) -> Iterator[Answer]:
    """Text that comes too close to the face edge because of creep, and not before."""
    creep = _creep(job.order, document.pages)
    if creep is None or page.trim_mm is None:
        return
    push = creep.push_out_mm(page.number)
    edge = face_edge(page.number)
    trim = Box(0.0, 0.0, *page.trim_mm)
    ground = Ground(page, limits.ground_from_percent)
    for thing in printing_things(page, job):
        box = thing.visible_mm
        if thing.text is None or box is None or not box.meets(trim):
            continue
        margin = distances_inside(box, trim)[edge]
        if not _is_harmed(margin, push, limits) or (is_white(thing.colour) and not ground.under(thing)):
            continue
        yield Found(
            kind="creep",
            page=page.number,
            box_mm=box,
            measured=max(0.0, margin - push),
            limit=limits.near_face_below_mm,
            unit="mm",
            subject=edge,
            values={
                "push": _figure(push),
                "situation": f"text {_figure(margin)} mm from the {edge} trim is left with {_figure(max(0.0, margin - push))} mm, "
                f"the safety is {_figure(limits.near_face_below_mm)} mm",
                "advice": "On this page some text comes too close to the outer edge. Please move it a little towards the fold.",
            },
            details=_creep_details(creep)
            | {
                "edge": edge,
                "margin_mm": round(margin, 2),
                "push_out_mm": round(push, 3),
                "sheet": creep.sheet_of(page.number),
            },
        )


def _is_harmed(margin_mm: float, push_mm: float, limits: BindingLimits) -> bool:
    """Whether creep brings text too close; what was too close before (``margins``) counts only where creep is a matter."""
    if margin_mm < -TOLERANCE_MM or not is_below(margin_mm - push_mm, limits.near_face_below_mm, "mm"):
        return False
    was_clear = not is_below(margin_mm, limits.near_face_below_mm, "mm")
    return was_clear or is_above(push_mm, limits.creep_note_above_mm, "mm")


def check_file(inventory: Inventory, job: Job, limits: BindingLimits) -> Iterator[Answer]:
    """Creep that hurts nothing, the spine of a cover, and what the ticket gives no figure for."""
    order = job.order
    if job.ticket is None or order.binding is None:
        why = "no ticket" if job.ticket is None else "no binding in the ticket"
        yield NotJudged("binding", f"{why}: neither creep nor spine is known")
    if order.part == "cover" and order.binding in (None, "perfect"):
        yield from _spine(inventory, order, limits)
    if order.binding == "saddle-stitch" and order.part != "cover":
        creep = _creep(order, inventory.document.pages)
        if creep is None:
            lacking = "caliper_mm" if order.caliper_mm is None else "page count"
            yield NotJudged("binding", f"no {lacking} in the ticket: creep is not known")
        elif is_above(creep.total_mm, limits.creep_note_above_mm, "mm") and not _hurts(inventory, creep, limits):
            yield Found(
                kind="creep",
                page=None,
                measured=creep.total_mm,
                limit=limits.creep_note_above_mm,
                unit="mm",
                mild=True,
                worse="high",
                values={
                    "push": _figure(creep.total_mm),
                    "situation": "no text comes too close to the face edge by it",
                    "advice": "Your text stays clear of the cut. Nothing needs to be done.",
                },
                details=_creep_details(creep),
            )


def _hurts(inventory: Inventory, creep: Creep, limits: BindingLimits) -> bool:
    """Whether any text ends up too close, whatever brought it there."""
    for page in inventory.pages:
        if page.text_margins_mm is None:
            continue
        margin = page.text_margins_mm[2 if face_edge(page.number) == "right" else 0]
        if is_below(margin - creep.push_out_mm(page.number), limits.near_face_below_mm, "mm"):
            return True
    return False


def _creep(order: Ticket, pages: int | None) -> Creep | None:
    pages = order.pages or pages
    if order.binding != "saddle-stitch" or order.part == "cover" or order.caliper_mm is None or not pages:
        return None
    return Creep(pages, order.caliper_mm)


def _creep_details(creep: Creep) -> dict[str, object]:
    return {
        "sheets": creep.sheets,
        "booklet_pages": creep.pages,
        "caliper_mm": creep.caliper_mm,
        "total_push_out_mm": round(creep.total_mm, 3),
    }


# --- spine -----------------------------------------------------------------------------------------------------------


def _spine(inventory: Inventory, order: Ticket, limits: BindingLimits) -> Iterator[Answer]:
    wanted = {"spine_mm": order.spine_mm, "pages": order.pages, "caliper_mm": order.caliper_mm}
    lacking = [name for name, value in wanted.items() if value is None]
    if order.spine_mm is None or order.pages is None or order.caliper_mm is None:
        yield NotJudged("binding", f"no {' and no '.join(lacking)} in the ticket: the spine is not checked")
        return
    spine = order.spine_mm + _wider_than_ordered(inventory, order)
    least = spine_width_mm(order.pages, order.caliper_mm, order.cover_caliper_mm or 0.0)
    if order.cover_caliper_mm is None:
        # A cover of unknown thickness adds something between nothing and the thickest board in use.
        most = spine_width_mm(order.pages, order.caliper_mm, limits.cover_caliper_at_most_mm)
        yield NotJudged("binding", "no cover_caliper_mm in the ticket: the spine is checked roughly only")
    else:
        most = least
    nearest = min(max(spine, least), most)
    if not is_above(abs(spine - nearest), limits.spine_differs_above_mm, "mm"):
        return
    yield Found(
        kind="spine-width",
        page=inventory.pages[0].number if inventory.pages else None,
        box_mm=_spine_box(inventory, spine),
        measured=spine,
        limit=nearest,
        unit="mm",
        values={
            "pages": order.pages,
            "caliper": _figure(order.caliper_mm),
            "tolerance": _figure(limits.spine_differs_above_mm),
        },
        details={
            "spine_mm": round(spine, 3),
            "needed_mm": round(nearest, 3),
            "difference_mm": round(spine - nearest, 3),
            "may_differ_mm": limits.spine_differs_above_mm,
            "booklet_pages": order.pages,
            "caliper_mm": order.caliper_mm,
            "cover_caliper_mm": order.cover_caliper_mm,
        },
    )


def _wider_than_ordered(inventory: Inventory, order: Ticket) -> float:
    """A file of the ordered height that is a little wider or narrower was made for another spine."""
    size = inventory.pages[0].trim_mm if inventory.pages else None
    if size is None or order.trim_mm is None or order.spine_mm is None:
        return 0.0
    wider = size[0] - order.trim_mm[0]
    same_height = abs(size[1] - order.trim_mm[1]) <= 0.5
    return wider if same_height and abs(wider) < order.spine_mm else 0.0


def _spine_box(inventory: Inventory, spine_mm: float) -> Box | None:
    size = inventory.pages[0].trim_mm if inventory.pages else None
    if size is None:
        return None
    middle = size[0] / 2.0
    return Box(middle - spine_mm / 2.0, 0.0, middle + spine_mm / 2.0, size[1])


def _figure(value: float) -> str:
    return f"{value:.3f}".rstrip("0").rstrip(".")


CHECK = Check(
    name="binding",
    limits=BindingLimits,
    needs=frozenset({"boxes", "paint"}),
    on_page=check_page,
    on_file=check_file,
    mild_kinds=frozenset({"creep"}),
    kinds={
        "creep": Kind(
            Stage.BINDERY,
            "Creep pushes the sheet out by {push} mm: {situation}.",
            "In a thick stitched booklet the inner sheets stick out and are cut shorter. {advice}",
        ),
        "spine-width": Kind(
            Stage.BINDERY,
            "The cover has a spine of {measured} mm; {pages} pages of {caliper} mm need {limit} mm (may differ by {tolerance} mm).",
            "The spine of this cover is {measured} mm wide, but your book will be {limit} mm thick. Please change the cover to a "
            "spine of {limit} mm, so that front and back sit right.",
        ),
    },
)
