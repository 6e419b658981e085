"""Whether each page says where it is cut, and is cut to the size that was ordered.

What it looks at
    The page boxes as they stand in the file (trim, art, bleed, crop, media) and the trim that follows from them, after rotation and
    user unit; against the ordered size where there is one, else page against page.
Why it matters on press
    Imposition places pages by their trim. A wrong, missing or turned trim box puts the cut in the wrong place, or the whole form has
    to be made again.
How it is measured
    Width and height in millimetres, compared with the ordered size in the orientation that fits better; a side may differ by
    the tolerance of the rules (0.5 mm: rounding gives 0.01 to 0.1 mm). Boxes are compared with 0.05 mm of slack. A page
    of the ordered size lying on its side is turned, not of a wrong size; a page of twice the ordered width is a spread. One
    finding for all pages with the same fault and size.
What to ask the customer for
    A PDF of single pages in the ordered size, exported with the page size of the layout as trim box and bleed around it.
Source
    ISO 32000-2, Table 31 and 14.11.2: trim and bleed box default to the crop box and are not inherited; nesting of the boxes as
    in the PDF/X application notes; the tolerance is common practice, well inside that of ISO 216 (1.5 to 3 mm).
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from preflight.checking import Answer, Check, Kind
from preflight.findings import Found, NotJudged, Stage, Unchecked
from preflight.inventory.model import Inventory, PageBoxes, PageSummary
from preflight.sizes import Size, deviation, rounded, size_words, upright_deviation, worse_side
from preflight.ticket import Job
from preflight.units import TOLERANCE_MM, Box, mm_from_pt

#: Stored coordinates are rounded; a side that differs by the tolerance to the printed digit passes.
ROUNDING_MM = 0.005


@dataclass(frozen=True)
class TrimLimits:
    """How far a side may differ from the ordered one, in millimetres; for a spread, twice that across its width."""

    tolerance_mm: float


def check_file(inventory: Inventory, job: Job, limits: TrimLimits) -> Iterator[Answer]:
    """Judges the boxes and sizes of all pages together, so that one fault of all pages is one answer."""
    document = inventory.document
    if not inventory.pages:
        return
    for page in inventory.pages:
        if document.kind == "pdf" and page.boxes is None:
            yield Unchecked("trim", page.number, "the boxes of the page could not be read")
    ordered = _ordered(job, is_picture=document.kind != "pdf")
    sized = [page for page in inventory.pages if page.trim_mm is not None]
    if document.kind == "pdf":
        yield from _undefined(sized, ordered, limits)
        yield from _boxes_crossed(sized)
        yield from _scaled(inventory.pages)
    if ordered is None:
        yield from _mixed(sized, limits)
        yield NotJudged("trim", "no trim size ordered: the size of the pages is not compared with the order")
        return
    yield from _against_the_order(sized, ordered, job, limits)
    if document.kind != "pdf" and len(sized) < len(inventory.pages):
        yield NotJudged("trim", "size in print unknown: not compared with the order")


def _ordered(job: Job, *, is_picture: bool) -> Size | None:
    if is_picture and job.order.printed_size_mm:
        return job.order.printed_size_mm
    return job.order.trim_mm


# --- boxes -----------------------------------------------------------------------------------------------------------


def _undefined(pages: Iterable[PageSummary], ordered: Size | None, limits: TrimLimits) -> Iterator[Found]:
    groups: dict[tuple[bool, str], list[PageSummary]] = defaultdict(list)
    for page in pages:
        if page.boxes is None or page.boxes.trim is not None or page.boxes.art is not None:
            continue
        fits = ordered is not None and deviation(_size(page), ordered) <= limits.tolerance_mm + ROUNDING_MM
        groups[fits, page.trim_from].append(page)
    for (fits, trim_from), members in groups.items():
        taken = "the ordered size, centred in the page," if trim_from == "ticket" else "the crop box"
        if trim_from != "ticket" and members[0].boxes is not None and members[0].boxes.crop is None:
            taken = "the media box"
        compared = "which is the ordered size" if fits else "which is not the ordered size"
        if trim_from == "ticket":
            compared = "with the same margin on all sides"
        yield _of_pages(
            "undefined",
            members,
            mild=fits,
            values={
                "taken": taken,
                "size": size_words(_size(members[0])),
                "compared": compared if ordered else "unproved",
            },
            details={"taken": trim_from, "is_ordered_size": fits if ordered else None},
        )


def _boxes_crossed(pages: Iterable[PageSummary]) -> Iterator[Found]:
    groups: dict[tuple[str, bool], list[tuple[PageSummary, float]]] = defaultdict(list)
    for page in pages:
        if page.boxes is not None:
            for what, mild, past_mm in _crossings(page.boxes):
                groups[what, mild].append((page, past_mm))
    for (what, mild), members in groups.items():
        worst = max(past_mm for _, past_mm in members)
        yield _of_pages(
            "boxes-crossed",
            [page for page, _ in members],
            mild=mild,
            measured=worst or None,
            limit=0.0 if worst else None,
            subject=what,
            details={"what": what},
        )


def _crossings(boxes: PageBoxes) -> Iterator[tuple[str, bool, float]]:
    """What crosses what on a page, whether that is the milder case, and by how many millimetres (0: none to tell)."""
    mm = mm_from_pt(boxes.user_unit)
    cut = boxes.trim or boxes.art
    if cut is not None:
        if (past := _past(cut, boxes.media) * mm) > TOLERANCE_MM:
            yield "the trim lies outside the media box", False, past
        if boxes.bleed is not None and (past := _past(cut, boxes.bleed) * mm) > TOLERANCE_MM:
            yield "the bleed box is smaller than the trim", False, past
    if boxes.bleed is not None:
        if (past := _past(boxes.bleed, boxes.media) * mm) > TOLERANCE_MM:
            yield "the bleed box reaches past the media box", True, past
        shown = boxes.bleed.intersect(boxes.media)
        if boxes.crop is not None and (past := _past(shown, boxes.crop) * mm) > TOLERANCE_MM:
            yield "the crop box is smaller than the bleed box", True, past
    if boxes.trim is not None and boxes.art is not None:
        yield "there is an art box beside the trim box", True, 0.0


def _past(inner: Box, outer: Box) -> float:
    """How far a box reaches past the one it should lie in, on the worst side; negative where it lies within."""
    return max(outer.x0 - inner.x0, outer.y0 - inner.y0, inner.x1 - outer.x1, inner.y1 - outer.y1)


def _scaled(pages: Iterable[PageSummary]) -> Iterator[Found]:
    groups: dict[float, list[PageSummary]] = defaultdict(list)
    for page in pages:
        if page.user_unit != 1.0:
            groups[page.user_unit].append(page)
    for unit, members in groups.items():
        yield _of_pages(
            "scaled", members, measured=unit, limit=1.0, subject=f"{unit:g}", values={"factor": f"{unit:g}"}
        )


# --- sizes -----------------------------------------------------------------------------------------------------------


def _against_the_order(pages: list[PageSummary], ordered: Size, job: Job, limits: TrimLimits) -> Iterator[Found]:
    wrong: dict[str, list[PageSummary]] = defaultdict(list)
    turned, spreads = [], []
    allowed = limits.tolerance_mm + ROUNDING_MM
    for page in pages:
        size = _size(page)
        if deviation(size, ordered) > allowed:
            wrong[size_words(size)].append(page)
        elif upright_deviation(size, ordered) > allowed:
            turned.append(page)
        across = abs(size[0] - 2.0 * ordered[0])
        if job.order.part != "cover" and across <= 2.0 * allowed and abs(size[1] - ordered[1]) <= allowed:
            spreads.append(page)
    for members in wrong.values():
        yield _wrong_size(members, ordered, limits)
    if turned:
        values = {"size": size_words(_size(turned[0])), "against": f"the order is for {size_words(ordered)}"}
        yield _of_pages("turned", turned, values=values, details=_both(turned[0], ordered))
    if spreads:
        width = _size(spreads[0])[0]
        yield _of_pages(
            "spread",
            spreads,
            measured=width,
            limit=ordered[0],
            values={"size": size_words(_size(spreads[0])), "ordered": size_words(ordered)},
            details=_both(spreads[0], ordered),
        )


def _wrong_size(members: list[PageSummary], ordered: Size, limits: TrimLimits) -> Found:
    size = _size(members[0])
    measured, limit = worse_side(size, ordered)
    return _of_pages(
        "wrong-size",
        members,
        measured=measured,
        limit=limit,
        subject=size_words(size),
        values={"size": size_words(size), "ordered": size_words(ordered), "tolerance": f"{limits.tolerance_mm:g}"},
        details=_both(members[0], ordered),
    )


def _mixed(pages: list[PageSummary], limits: TrimLimits) -> Iterator[Found]:
    """Sizes and orientations that differ within the file, against those most pages have (of two, the first page's)."""
    allowed = limits.tolerance_mm + ROUNDING_MM
    classes: list[list[PageSummary]] = []
    for page in pages:
        home = next((members for members in classes if deviation(_size(page), _size(members[0])) <= allowed), None)
        classes.append([page]) if home is None else home.append(page)
    if not classes:
        return
    usual = max(classes, key=len)
    for members in classes:
        upright = Counter(_is_wide(page, allowed) for page in members if _is_wide(page, allowed) is not None)
        if len(upright) > 1:
            common = max(upright, key=lambda wide: upright[wide])
            odd = [page for page in members if _is_wide(page, allowed) is (not common)]
            against = f"most pages of this size are {'landscape' if common else 'portrait'}"
            yield _of_pages(
                "turned",
                odd,
                subject=size_words(_size(odd[0])),
                values={"size": size_words(_size(odd[0])), "against": against},
            )
        if members is not usual:
            size, other = _size(members[0]), _size(usual[0])
            measured, limit = worse_side(size, other)
            yield _of_pages(
                "mixed-sizes",
                members,
                measured=measured,
                limit=limit,
                subject=size_words(size),
                values={"size": size_words(size), "usual": size_words(other)},
                details={"trim_mm": rounded(size), "usual_mm": rounded(other), "pages_of_usual_size": len(usual)},
            )


def _is_wide(page: PageSummary, allowed: float) -> bool | None:
    """Landscape, portrait, or (square) neither."""
    width, height = _size(page)
    return None if abs(width - height) <= allowed else width > height


def _size(page: PageSummary) -> Size:
    assert page.trim_mm is not None
    return page.trim_mm


# --- words -----------------------------------------------------------------------------------------------------------


def _of_pages(
    kind: str,
    pages: list[PageSummary],
    *,
    mild: bool = False,
    measured: float | None = None,
    limit: float | None = None,
    subject: str = "",
    values: dict[str, str] | None = None,
    details: dict[str, object] | None = None,
) -> Found:
    """One answer for all pages with the same fault, on the first of them, around its trim."""
    first = pages[0]
    count = len(pages)
    in_mm = measured is not None and kind != "scaled"
    return Found(
        kind=kind,
        page=first.number,
        box_mm=Box(0.0, 0.0, *first.trim_mm) if first.trim_mm else None,
        measured=measured,
        limit=limit,
        unit="mm" if in_mm else None,
        mild=mild,
        subject=subject,
        count=count,
        values={"pages": "1 page" if count == 1 else f"{count} pages", **(values or {})},
        details={"pages": [page.number for page in pages], **(details or {})},
    )


def _both(page: PageSummary, ordered: Size) -> dict[str, object]:
    return {"trim_mm": rounded(_size(page)), "ordered_mm": rounded(ordered)}


CHECK = Check(
    name="trim",
    limits=TrimLimits,
    needs=frozenset({"boxes"}),
    on_file=check_file,
    mild_kinds=frozenset({"undefined", "boxes-crossed"}),
    kinds={
        "undefined": Kind(
            Stage.INTAKE,
            "No trim box on {pages}; {taken} ({size}) is taken for it, {compared}.",
            "The file does not say where the page is cut. Please export it again with the final page size set as the trim (in most "
            "programs: export as a PDF for print, with bleed), or confirm that {size} is the finished size.",
        ),
        "wrong-size": Kind(
            Stage.INTAKE,
            "The trim is {size} on {pages}; ordered is {ordered}, within {tolerance} mm.",
            "The finished size of your pages is {size}, but the order is for {ordered}. Please set up the document in the ordered "
            "size and send it again, or tell us if the order should change.",
        ),
        "mixed-sizes": Kind(
            Stage.INTAKE,
            "The trim is {size} on {pages}, where the usual size in this file is {usual}.",
            "Your pages do not all have the same size: some are {size}, most are {usual}. Please tell us whether that is meant, or "
            "send all pages in one size.",
        ),
        "turned": Kind(
            Stage.INTAKE,
            "{pages} of {size} on the side: {against}.",
            "Some pages lie on their side compared with the rest or with the order. Please turn them, or tell us that they "
            "are meant to be turned.",
        ),
        "boxes-crossed": Kind(
            Stage.INTAKE,
            "On {pages} {subject}.",
            "The page frames stored in the file contradict each other. Please export the PDF again with the standard settings for "
            "print, and do not crop it afterwards.",
        ),
        "scaled": Kind(
            Stage.INTAKE,
            "{pages} set in a user unit of {factor}: sizes are read with it, programs that ignore it get another size.",
            "The page is stored in a scale of its own. Nothing needs to be done; we print it at its full size.",
        ),
        "spread": Kind(
            Stage.BINDERY,
            "The trim is {size} on {pages}, twice the ordered width ({ordered}): spreads instead of single pages.",
            "Left and right pages are joined into double pages. Please export the document again as single pages.",
        ),
    },
)  # fmt: skip
